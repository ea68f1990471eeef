/* Figures and counts as words. Everything that prints a number for people
 * comes through here. */
#include "report/say.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/units.h"

double pl_round_outward(double x, int digits, int way)
{
    double step, n;

    if (!isfinite(x) || x == 0)
        return x;
    step = pow(10, floor(log10(fabs(x))) + 1 - digits);
    n = x / step;
    /* a figure that already has so few digits stays as it is */
    if (fabs(n - nearbyint(n)) < 1e-9 * fabs(n))
        return nearbyint(n) * step;
    return (way < 0 ? floor(n) : way > 0 ? ceil(n) : nearbyint(n)) * step;
}

/* The study's second unit for pressures and strengths, if `unit` is a pressure
 * and another one is shown too. */
static const char *second_unit(pl_arena *a, const pl_fit_answer *f, const char *unit)
{
    if (!f->study || pl_units_kind(a, unit) != PL_Q_PRESSURE)
        return NULL;
    for (size_t i = 0; i < f->study->nshow_in; i++)
        if (strcmp(f->study->show_in[i], unit))
            return f->study->show_in[i];
    return NULL;
}

/* Two significant digits, three behind a leading 1: never off by more than 5 %. */
static int digits_for(double x)
{
    double lead = fabs(x) / pow(10, floor(log10(fabs(x))));

    return x != 0 && isfinite(x) && lead < 2 ? 3 : 2;
}

char *pl_say_bare(pl_arena *a, double x, int digits, int way)
{
    return pl_text_number(a, pl_round_outward(x, digits, way), digits);
}

/* " (142 psi)" for a figure in `unit` as printed, a limit again outward; "" without a
 * second unit. */
static char *in_other_unit(pl_arena *a, const pl_fit_answer *f, double x, const char *unit, int way)
{
    const char *other = second_unit(a, f, unit), *why;
    double scale, offset;

    if (!other || pl_units_scale(a, unit, PL_Q_PRESSURE, &scale, &offset, &why))
        return pl_arena_str(a, "");
    x = pl_units_from_si(x * scale + offset, PL_Q_PRESSURE, other);
    return pl_arena_printf(a, " (%s %s)", pl_say_bare(a, x, digits_for(x), way), other);
}

char *pl_say(pl_arena *a, const pl_fit_answer *f, double x, const char *unit, int digits, int way)
{
    double shown = pl_round_outward(x, digits, way);

    return pl_arena_printf(a, "%s%s%s%s", pl_text_number(a, shown, digits), unit[0] ? " " : "",
                           unit, in_other_unit(a, f, shown, unit, way));
}

char *pl_say_group(pl_arena *a, const pl_plateau *p)
{
    const char *name = pl_say_first(a, p->group ? p->group : "all joints");

    return strcmp(p->answer, "bond") ? pl_arena_str(a, name)
                                     : pl_arena_printf(a, "%s, the glue line alone", name);
}

char *pl_say_first(pl_arena *a, const char *word)
{
    char *name = pl_arena_str(a, word);

    if (name)
        name[0] = (char)toupper((unsigned char)name[0]);
    return name;
}

char *pl_say_p(pl_arena *a, double p)
{
    if (isnan(p))
        return pl_arena_str(a, "");
    if (p < 0.0001)
        return pl_arena_str(a, "below 0.0001");
    return pl_text_number(a, p, 3);
}

void pl_say_wood(const pl_plateau *p, double from, size_t *wood, size_t *joints)
{
    *wood = *joints = 0;
    for (size_t i = 0; i < p->nlevel; i++) {
        if (p->levels[i].at < from)
            continue;
        *wood += p->levels[i].wood;
        *joints += p->levels[i].specimens;
    }
}
