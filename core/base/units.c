/* Units of the trade on udunits2: which units each quantity takes, how they
 * are written here, and their way to SI and back. */
#include "base/units.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include <udunits2.h>

#include "base/text.h"

static const struct {
    const char *name, *si, *examples;
} kinds[PL_Q_COUNT] = {
    [PL_Q_NONE] = { "a number", "1", "0.1, 10 %" },
    [PL_Q_LENGTH] = { "a length", "m", "mm, cm, in" },
    [PL_Q_AREA] = { "an area", "m2", "mm2, cm2, in2" },
    [PL_Q_FORCE] = { "a force", "N", "N, kN, lbf" },
    [PL_Q_PRESSURE] = { "a pressure", "Pa", "N/mm2, bar, psi" },
    [PL_Q_TIME] = { "a time", "s", "s, min, h, d" },
    [PL_Q_MASS] = { "a mass", "kg", "g, kg, lb" },
    [PL_Q_TEMPERATURE] = { "a temperature", "K", "degC, degF" },
    [PL_Q_SPREAD] = { "a spread", "kg/m2", "g/m2, lb/1000 ft2" },
    [PL_Q_TORQUE] = { "a torque", "N.m", "N.m, ft.lbf" },
    [PL_Q_VOLTAGE] = { "a voltage", "V", "V, mV" },
    [PL_Q_CURRENT] = { "a current", "A", "mA, A" },
    [PL_Q_DENSITY] = { "a density", "kg/m3", "kg/m3, g/cm3, lb/ft3" },
    [PL_Q_FORCE_RATE] = { "a rate of force", "N/s", "N/s, kN/min, lbf/min" },
    [PL_Q_PRESSURE_RATE] = { "a rate of pressure", "Pa/s", "MPa/s, N/mm2/min" },
    [PL_Q_SPEED] = { "a speed", "m/s", "mm/min, in/min" },
};

/* The allow-list. expr is what udunits2 reads where it differs from the name:
 * its own ounce is cut after seven digits and its "oz" is a volume, so that
 * ounces are sixteenths of its pound. also: other spellings, compared after
 * tidy(). */
typedef struct unit_row {
    pl_quantity_kind kind;
    const char *name, *expr;
    const char *also[4];
} unit_row;

static const unit_row rows[] = {
    { PL_Q_NONE, "%", "0.01", { 0 } },
    { PL_Q_LENGTH, "mm", NULL, { 0 } },
    { PL_Q_LENGTH, "cm", NULL, { 0 } },
    { PL_Q_LENGTH, "m", NULL, { 0 } },
    { PL_Q_LENGTH, "um", NULL, { "micron" } },
    { PL_Q_LENGTH, "in", NULL, { "inch", "inches" } },
    { PL_Q_LENGTH, "ft", NULL, { "foot", "feet" } },
    { PL_Q_LENGTH, "mil", "0.001 in", { 0 } },
    { PL_Q_AREA, "mm2", NULL, { 0 } },
    { PL_Q_AREA, "cm2", NULL, { 0 } },
    { PL_Q_AREA, "m2", NULL, { 0 } },
    { PL_Q_AREA, "in2", NULL, { "sqin" } },
    { PL_Q_AREA, "ft2", NULL, { "sqft" } },
    { PL_Q_FORCE, "N", NULL, { 0 } },
    { PL_Q_FORCE, "daN", NULL, { 0 } },
    { PL_Q_FORCE, "kN", NULL, { 0 } },
    { PL_Q_FORCE, "MN", NULL, { 0 } },
    { PL_Q_FORCE, "lbf", NULL, { 0 } },
    { PL_Q_FORCE, "kip", "1000 lbf", { "kips" } },
    { PL_Q_FORCE, "kgf", NULL, { 0 } },
    { PL_Q_PRESSURE, "Pa", NULL, { 0 } },
    { PL_Q_PRESSURE, "kPa", NULL, { 0 } },
    { PL_Q_PRESSURE, "MPa", NULL, { 0 } },
    { PL_Q_PRESSURE, "GPa", NULL, { 0 } },
    { PL_Q_PRESSURE, "N/mm2", NULL, { 0 } },
    { PL_Q_PRESSURE, "N/cm2", NULL, { 0 } },
    { PL_Q_PRESSURE, "N/m2", NULL, { 0 } },
    { PL_Q_PRESSURE, "kN/m2", NULL, { 0 } },
    { PL_Q_PRESSURE, "bar", NULL, { 0 } },
    { PL_Q_PRESSURE, "mbar", NULL, { 0 } },
    { PL_Q_PRESSURE, "bar gauge", "bar", { "barg", "bar(g)" } },
    { PL_Q_PRESSURE, "psi", NULL, { "lbf/in2" } },
    { PL_Q_PRESSURE, "psig", "psi", { "psi(g)", "psigauge" } },
    { PL_Q_PRESSURE, "ksi", "1000 psi", { 0 } },
    { PL_Q_PRESSURE, "kgf/cm2", NULL, { 0 } },
    { PL_Q_PRESSURE, "atm", NULL, { 0 } },
    { PL_Q_TIME, "s", NULL, { "sec", "second", "seconds" } },
    { PL_Q_TIME, "ms", NULL, { 0 } },
    { PL_Q_TIME, "min", NULL, { "minute", "minutes" } },
    { PL_Q_TIME, "h", NULL, { "hr", "hour", "hours" } },
    { PL_Q_TIME, "d", NULL, { "day", "days" } },
    { PL_Q_TIME, "week", NULL, { "weeks" } },
    { PL_Q_MASS, "kg", NULL, { 0 } },
    { PL_Q_MASS, "g", NULL, { 0 } },
    { PL_Q_MASS, "mg", NULL, { 0 } },
    { PL_Q_MASS, "t", "1000 kg", { "tonne", "tonnes" } },
    { PL_Q_MASS, "lb", NULL, { "lbs" } },
    { PL_Q_MASS, "oz", "lb/16", { 0 } },
    { PL_Q_TEMPERATURE, "degC", NULL, { 0 } },
    { PL_Q_TEMPERATURE, "degF", NULL, { 0 } },
    { PL_Q_TEMPERATURE, "K", NULL, { 0 } },
    { PL_Q_SPREAD, "g/m2", NULL, { 0 } },
    { PL_Q_SPREAD, "kg/m2", NULL, { 0 } },
    { PL_Q_SPREAD, "lb/1000 ft2", "lb/(1000 ft2)", { "lb/(1000ft2)", "lb/1000sqft" } },
    { PL_Q_SPREAD, "oz/ft2", "lb/(16 ft2)", { "oz/sqft" } },
    { PL_Q_TORQUE, "N.m", NULL, { "Nm", "N*m" } },
    { PL_Q_TORQUE, "N.mm", NULL, { "Nmm", "N*mm" } },
    { PL_Q_TORQUE, "kN.m", NULL, { "kNm", "kN*m" } },
    { PL_Q_TORQUE, "ft.lbf", NULL, { "ft-lbf", "ftlbf", "lbf.ft" } },
    { PL_Q_TORQUE, "in.lbf", NULL, { "in-lbf", "inlbf", "lbf.in" } },
    { PL_Q_VOLTAGE, "V", NULL, { 0 } },
    { PL_Q_VOLTAGE, "mV", NULL, { 0 } },
    { PL_Q_VOLTAGE, "uV", NULL, { 0 } },
    { PL_Q_CURRENT, "A", NULL, { 0 } },
    { PL_Q_CURRENT, "mA", NULL, { 0 } },
    { PL_Q_DENSITY, "kg/m3", NULL, { 0 } },
    { PL_Q_DENSITY, "g/cm3", NULL, { 0 } },
    { PL_Q_DENSITY, "lb/ft3", NULL, { 0 } },
    { PL_Q_FORCE_RATE, "N/s", NULL, { 0 } },
    { PL_Q_FORCE_RATE, "kN/s", NULL, { 0 } },
    { PL_Q_FORCE_RATE, "N/min", NULL, { 0 } },
    { PL_Q_FORCE_RATE, "kN/min", NULL, { 0 } },
    { PL_Q_FORCE_RATE, "lbf/s", NULL, { 0 } },
    { PL_Q_FORCE_RATE, "lbf/min", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "Pa/s", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "kPa/s", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "MPa/s", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "MPa/min", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "N/mm2/s", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "N/mm2/min", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "bar/s", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "psi/s", NULL, { 0 } },
    { PL_Q_PRESSURE_RATE, "psi/min", NULL, { 0 } },
    { PL_Q_SPEED, "mm/min", NULL, { 0 } },
    { PL_Q_SPEED, "mm/s", NULL, { 0 } },
    { PL_Q_SPEED, "m/s", NULL, { 0 } },
    { PL_Q_SPEED, "in/min", NULL, { 0 } },
};
#define NROWS (sizeof rows / sizeof *rows)

/* Slips that deserve a word of their own. */
static const struct {
    pl_quantity_kind kind;
    const char *unit, *advice;
} slips[] = {
    { PL_Q_FORCE, "lb", "lb is a mass; lbf is the force" },
    { PL_Q_FORCE, "lbs", "lb is a mass; lbf is the force" },
    { PL_Q_FORCE, "kg", "kg is a mass; kgf is the force" },
    { PL_Q_FORCE, "ton", "ton stands for several forces; write kN, kgf or lbf" },
    { PL_Q_FORCE, "t", "t is a mass; write kN or kgf" },
    { PL_Q_MASS, "ton", "ton stands for several masses; t is 1000 kg" },
    { PL_Q_PRESSURE, "kg/cm2", "kg is a mass; kgf/cm2 is the pressure" },
    { PL_Q_PRESSURE, "lb/in2", "lb is a mass; psi is the pressure" },
    { PL_Q_PRESSURE, "psia", "an absolute pressure; a dial shows psi above the room's air" },
    { PL_Q_PRESSURE, "bara", "an absolute pressure; a dial shows bar above the room's air" },
    { PL_Q_TORQUE, "ft.lb", "lb is a mass; ft.lbf is the torque" },
    { PL_Q_TORQUE, "ft-lb", "lb is a mass; ft.lbf is the torque" },
    { PL_Q_TORQUE, "in.lb", "lb is a mass; in.lbf is the torque" },
    { PL_Q_TORQUE, "in-lb", "lb is a mass; in.lbf is the torque" },
    { PL_Q_TEMPERATURE, "C", "degrees Celsius are written degC" },
    { PL_Q_TEMPERATURE, "F", "degrees Fahrenheit are written degF" },
};
#define NSLIPS (sizeof slips / sizeof *slips)

const char *pl_quantity_name(pl_quantity_kind k)
{
    return kinds[k].name;
}

const char *pl_quantity_si(pl_quantity_kind k)
{
    return kinds[k].si;
}

const char *pl_quantity_examples(pl_quantity_kind k)
{
    return kinds[k].examples;
}

const char *pl_quantity_trade(pl_quantity_kind k)
{
    switch (k) {
    case PL_Q_LENGTH:
        return "mm";
    case PL_Q_AREA:
        return "mm2";
    case PL_Q_PRESSURE:
        return "bar";
    case PL_Q_CURRENT:
        return "mA";
    default:
        return kinds[k].si;
    }
}

const char *const *pl_units_known(pl_arena *a, pl_quantity_kind kind)
{
    const char **names = PL_NEWN(a, NROWS + 1, const char *);
    size_t n = 0;

    for (size_t i = 0; names && i < NROWS; i++)
        if (rows[i].kind == kind)
            names[n++] = rows[i].name;
    return names;
}

/* ------------------------------------------------------------ spelling ---- */

#define TIDY_MOST 40 /* longer than any unit here */

/* The unit in one spelling: no blanks, plain digits for superscripts, "." for
 * a raised dot, "deg" for the degree sign, u for micro. False when it does not
 * fit, and then it is no unit of ours. */
static bool tidy(const char *s, char out[TIDY_MOST])
{
    static const struct {
        const char *from, *to;
    } signs[] = { { "²", "2" },
                  { "³", "3" },
                  { "·", "." },
                  { "⋅", "." },
                  { "°", "deg" },
                  { "µ", "u" } /* U+00B5 */,
                  { "μ", "u" } /* U+03BC */,
                  { "\xc2\xa0", "" } /* no-break blank */,
                  { " ", "" },
                  { "^", "" },
                  { "**", "" } };
    size_t n = 0;

    while (*s) {
        const char *to = NULL;
        size_t from = 1;

        for (size_t i = 0; i < sizeof signs / sizeof *signs && !to; i++) {
            size_t length = strlen(signs[i].from);

            if (!strncmp(s, signs[i].from, length)) {
                to = signs[i].to;
                from = length;
            }
        }
        if (n + 4 > TIDY_MOST)
            return false;
        if (!to)
            out[n++] = *s;
        else
            for (; *to; to++)
                out[n++] = *to;
        s += from;
    }
    out[n] = '\0';
    return true;
}

typedef int compare(const char *, const char *);

static bool row_has(const unit_row *row, const char *tidied, compare *same)
{
    char name[TIDY_MOST];

    if (tidy(row->name, name) && !same(name, tidied))
        return true;
    for (size_t i = 0; i < 4 && row->also[i]; i++)
        if (!same(row->also[i], tidied))
            return true;
    return false;
}

/* Row of a tidied unit; NROWS when there is none. kind PL_Q_COUNT: any. */
static size_t find(const char *tidied, pl_quantity_kind kind, compare *same)
{
    for (size_t i = 0; i < NROWS; i++)
        if ((kind == PL_Q_COUNT || rows[i].kind == kind) && row_has(&rows[i], tidied, same))
            return i;
    return NROWS;
}

/* Why a unit is not of this kind, in words. */
static const char *unit_why(pl_arena *a, const char *unit, const char *tidied,
                            pl_quantity_kind kind)
{
    size_t other = find(tidied, PL_Q_COUNT, strcmp), close = find(tidied, kind, strcasecmp);
    const char *const *known = pl_units_known(a, kind), *nearest;
    size_t n = 0;

    if (!unit[0])
        return pl_arena_printf(a, "%s needs its unit: %s", kinds[kind].name, kinds[kind].examples);
    for (size_t i = 0; i < NSLIPS; i++)
        if (slips[i].kind == kind && !strcmp(slips[i].unit, tidied))
            return slips[i].advice;
    if (close < NROWS)
        return pl_arena_printf(a, "\"%s\" is written %s", unit, rows[close].name);
    if (kind == PL_Q_NONE)
        return pl_arena_printf(a, "\"%s\" is too much: a plain number, or one with %%", unit);
    if (other < NROWS)
        return pl_arena_printf(a, "\"%s\" is %s, not %s (%s)", unit,
                               rows[other].kind == PL_Q_NONE ? "a share"
                                                             : kinds[rows[other].kind].name,
                               kinds[kind].name, kinds[kind].examples);
    while (known && known[n])
        n++;
    nearest = known && tidied[0] ? pl_text_nearest(tidied, known, n) : NULL;
    if (nearest)
        return pl_arena_printf(a, "\"%s\" is not a unit known here; %s is", unit, nearest);
    return pl_arena_printf(a, "\"%s\" is not a unit of %s known here (%s)", unit, kinds[kind].name,
                           kinds[kind].examples);
}

/* -------------------------------------------------------------- scales ---- */

static ut_system *all_units; /* read on first use, then kept for the process */
static struct {
    bool known;
    double scale, offset;
    double parts; /* 1/scale where that is whole and above 1, else 0 */
} scales[NROWS];

/* 18 mm is 18/1000 m, rounded once; 18 * 0.001 is rounded twice and is not the
 * double nearest to 0.018. */
static double whole_inverse(double scale)
{
    double inverse = round(1 / scale);

    return inverse > 1 && inverse < 1e15 && fabs(inverse * scale - 1) < 1e-15 ? inverse : 0;
}

/* si = scale * x + offset through udunits2. One unit has no offset but
 * temperatures; there the slope is taken over a wide span, where the offset
 * costs no digits. */
static bool measure(size_t row)
{
    const double span = 1 << 30;
    const unit_row *u = &rows[row];
    ut_unit *from = ut_parse(all_units, u->expr ? u->expr : u->name, UT_ASCII);
    ut_unit *to = ut_parse(all_units, kinds[u->kind].si, UT_ASCII);
    cv_converter *way = from && to ? ut_get_converter(from, to) : NULL;

    if (way) {
        double zero = cv_convert_double(way, 0);

        scales[row].offset = zero;
        scales[row].scale = zero != 0 ? (cv_convert_double(way, span) - zero) / span
                                      : cv_convert_double(way, 1);
        scales[row].parts = whole_inverse(scales[row].scale);
        scales[row].known = true;
        cv_free(way);
    }
    ut_free(from);
    ut_free(to);
    return way != NULL;
}

static pl_code load(size_t row, const char **why)
{
    if (!all_units) {
        ut_set_error_message_handler(ut_ignore);
        all_units = ut_read_xml(NULL);
        if (!all_units) {
            *why = "the table of units that comes with udunits2 cannot be read";
            return PL_ENOFILE;
        }
    }
    if (!scales[row].known && !measure(row))
        return PL_ENOMEM; /* every row parses: tests/base/test_units.c */
    return PL_OK;
}

/* Finds the unit's row; NROWS with PL_OK for a number without a unit. */
static pl_code look_up(pl_arena *a, const char *unit, pl_quantity_kind kind, size_t *row,
                       const char **why)
{
    char tidied[TIDY_MOST];
    bool fits = tidy(unit, tidied);

    *why = NULL;
    *row = fits ? find(tidied, kind, strcmp) : NROWS;
    if (*row < NROWS)
        return load(*row, why);
    if (kind == PL_Q_NONE && fits && (!tidied[0] || !strcmp(tidied, "1")))
        return PL_OK;
    *why = unit_why(a, unit, fits ? tidied : "", kind);
    return *why ? PL_EUNIT : PL_ENOMEM;
}

pl_code pl_units_scale(pl_arena *a, const char *unit, pl_quantity_kind kind, double *scale,
                       double *offset, const char **why)
{
    size_t row;
    pl_code code = look_up(a, unit, kind, &row, why);

    if (code)
        return code;
    *scale = row < NROWS ? scales[row].scale : 1;
    *offset = row < NROWS ? scales[row].offset : 0;
    return PL_OK;
}

pl_quantity_kind pl_units_kind(pl_arena *a, const char *unit)
{
    char tidied[TIDY_MOST];
    size_t row;

    (void)a;
    if (!tidy(unit, tidied))
        return PL_Q_COUNT;
    if (!tidied[0])
        return PL_Q_NONE;
    row = find(tidied, PL_Q_COUNT, strcmp);
    return row < NROWS ? rows[row].kind : PL_Q_COUNT;
}

/* -------------------------------------------------------------- values ---- */

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Length of the decimal number at s, 0 when there is none. */
static size_t number_length(const char *s)
{
    size_t n = s[0] == '-' || s[0] == '+', whole = 0, part = 0, e;

    while (is_digit(s[n + whole]))
        whole++;
    n += whole;
    if (s[n] == '.')
        while (is_digit(s[n + 1 + part]))
            part++;
    if (!whole && !part)
        return 0;
    n += s[n] == '.' ? 1 + part : 0;
    if (s[n] == 'e' || s[n] == 'E') {
        e = n + 1 + (s[n + 1] == '-' || s[n + 1] == '+');
        if (is_digit(s[e])) {
            while (is_digit(s[e]))
                e++;
            n = e;
        }
    }
    return n;
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

/* What is wrong behind the number, NULL if nothing is. */
static const char *number_why(const char *after)
{
    if (after[0] == ',' && is_digit(after[1]))
        return "write a decimal point, and no comma between thousands";
    if (after[0] == '/' && is_digit(after[1]))
        return "write a fraction as a decimal number: 0.75, not 3/4";
    while (is_blank(*after))
        after++;
    if (is_digit(*after))
        return "one number and then its unit, no blank within the number";
    return NULL;
}

static double to_si(double x, size_t row)
{
    if (row == NROWS)
        return x;
    return (scales[row].parts > 0 ? x / scales[row].parts : x * scales[row].scale) +
           scales[row].offset;
}

pl_code pl_units_read(pl_arena *a, const char *text, pl_quantity_kind kind, pl_dim *out,
                      const char **why)
{
    const char *end = text + strlen(text), *unit;
    size_t n, row;
    double x;
    pl_code code;

    while (is_blank(*text))
        text++;
    while (end > text && is_blank(end[-1]))
        end--;
    text = pl_arena_strn(a, text, (size_t)(end - text));
    *why = NULL;
    if (!text)
        return PL_ENOMEM;
    n = number_length(text);
    if (!n) {
        *why = pl_arena_printf(a, "%s starts with a number: 12.5%s%.*s", kinds[kind].name,
                               kind == PL_Q_NONE ? "" : " ",
                               kind == PL_Q_NONE ? 0 : (int)strcspn(kinds[kind].examples, ","),
                               kinds[kind].examples);
        return *why ? PL_EVALUE : PL_ENOMEM;
    }
    *why = number_why(text + n);
    if (*why)
        return PL_EVALUE;
    for (unit = text + n; is_blank(*unit);)
        unit++;
    code = look_up(a, unit, kind, &row, why);
    if (code)
        return code;
    x = to_si(strtod(text, NULL), row);
    if (!isfinite(x)) {
        *why = "too large a number";
        return PL_EVALUE;
    }
    *out = (pl_dim){ .si = x, .unit = unit, .text = text };
    return PL_OK;
}

double pl_units_from_si(double si, pl_quantity_kind kind, const char *unit)
{
    char tidied[TIDY_MOST];
    const char *why;
    size_t row = tidy(unit, tidied) ? find(tidied, kind, strcmp) : NROWS;

    if (row == NROWS)
        return si;
    if (load(row, &why))
        return NAN;
    si -= scales[row].offset;
    return scales[row].parts > 0 ? si * scales[row].parts : si / scales[row].scale;
}

char *pl_units_text(pl_arena *a, double si, pl_quantity_kind kind, const char *unit, int digits)
{
    char *number = pl_text_number(a, pl_units_from_si(si, kind, unit), digits);

    if (!number || !unit[0])
        return number;
    return pl_arena_printf(a, "%s %s", number, unit);
}

/* "1 in 10": two numbers around the word. */
static bool one_in(const char *text, double *out)
{
    size_t n = number_length(text), m;
    const char *rest = text + n;

    if (!n)
        return false;
    while (is_blank(*rest))
        rest++;
    if (strncmp(rest, "in", 2))
        return false;
    for (rest += 2; is_blank(*rest);)
        rest++;
    m = number_length(rest);
    if (!m || rest[m])
        return false;
    *out = strtod(text, NULL) / strtod(rest, NULL);
    return true;
}

pl_code pl_units_chance(pl_arena *a, const char *text, double *out, const char **why)
{
    pl_dim share;
    double x;
    pl_code code;

    *why = NULL;
    while (is_blank(*text))
        text++;
    if (!one_in(text, &x)) {
        code = pl_units_read(a, text, PL_Q_NONE, &share, why);
        if (code == PL_ENOMEM || code == PL_ENOFILE)
            return code;
        if (code) {
            *why = "a chance is written \"1 in 10\", \"10 %\" or 0.1";
            return PL_EVALUE;
        }
        x = share.si;
    }
    if (!(x > 0 && x < 1)) {
        *why = "a chance lies between 0 and 1, both excluded";
        return PL_EVALUE;
    }
    *out = x;
    return PL_OK;
}
