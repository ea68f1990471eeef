/* What a further round is for, and the places that it may be made at. */
#include <math.h>
#include <string.h>

#include "size/next.h"

pl_next_need pl_next_need_of(const pl_plateau *p)
{
    const bool top_open = p->reason && !strcmp(p->reason, "top-open");
    const bool repeats = p->reason && !strcmp(p->reason, "levels-not-repeated");

    if (p->state == PL_NOT_REACHED || (p->state == PL_UNDECIDED && top_open))
        return PL_NEXT_HIGHER;
    if (p->state == PL_REACHED)
        return PL_NEXT_NARROW;
    return repeats ? PL_NEXT_REPEAT : PL_NEXT_LOWER;
}

const char *pl_next_need_name(pl_next_need n)
{
    static const char *const names[PL_NNEXT_NEEDS] = { "narrow", "higher", "lower", "repeat" };

    return names[n];
}

double pl_next_level_x(const pl_level_mean *l)
{
    return isnan(l->planned) ? l->at : l->planned;
}

/* ----------------------------------------------------------------- places ---- */

static double two_digits(double x)
{
    double unit = x > 0 ? pow(10, floor(log10(x)) - 1) : 1;

    return round(x / unit) * unit;
}

typedef struct place_list {
    pl_next_place *items;
    size_t n, room;
} place_list;

/* In rising order; one that lies where another does is left out. */
static void add_place(place_list *all, double x, const char *level)
{
    size_t at = all->n;

    for (size_t i = 0; i < all->n; i++)
        if (fabs(all->items[i].x - x) <= 1e-9 * fabs(x))
            return;
    if (all->n == all->room || !(x >= 0))
        return;
    for (all->n++; at > 0 && all->items[at - 1].x > x; at--)
        all->items[at] = all->items[at - 1];
    all->items[at] = (pl_next_place){ .x = x, .level = level };
}

/* Between two levels by ratio, or evenly from a level at zero. */
static double between(double low, double high)
{
    return two_digits(low > 0 ? sqrt(low * high) : 0.5 * high);
}

static void add_new_places(place_list *all, const pl_plateau *fits, size_t nfit)
{
    const size_t n = all->n;
    double x[2], low = all->items[0].x, high = all->items[n - 1].x;
    double down = n > 1 && low > 0 ? fmin(all->items[1].x / low, 2) : 2;
    double up = n > 1 && all->items[n - 2].x > 0 ? fmin(high / all->items[n - 2].x, 2) : 2;
    bool lower = false, higher = false;

    for (size_t i = 0; i < nfit; i++) {
        lower = lower || pl_next_need_of(&fits[i]) == PL_NEXT_LOWER || fits[i].onset.low_open;
        higher = higher || pl_next_need_of(&fits[i]) == PL_NEXT_HIGHER;
    }
    for (size_t i = 0; i + 1 < all->n; i++) { /* the list grows behind i: each pair once */
        x[0] = all->items[i].x;
        x[1] = all->items[i + 1].x;
        if (!all->items[i].level || !all->items[i + 1].level)
            continue;
        if (x[0] > 0 && x[1] / x[0] < PL_NEXT_RATIO_LEAST * PL_NEXT_RATIO_LEAST)
            continue;
        if (between(x[0], x[1]) > x[0] && between(x[0], x[1]) < x[1])
            add_place(all, between(x[0], x[1]), NULL);
    }
    if (lower && low > 0)
        add_place(all, two_digits(low / down), NULL);
    if (higher && up > 1) {
        add_place(all, two_digits(high * up), NULL);
        add_place(all, two_digits(high * up * up), NULL);
    }
}

pl_code pl_next_places(pl_arena *a, const pl_plateau *fits, size_t nfit, pl_next_place **out,
                       size_t *n, pl_diags *d)
{
    place_list all = { .room = 3 };

    for (size_t i = 0; i < nfit; i++)
        all.room += 2 * fits[i].nlevel;
    all.items = PL_NEWN(a, all.room, pl_next_place);
    if (!all.items)
        return pl_nomem(d);
    for (size_t i = 0; i < nfit; i++)
        for (size_t l = 0; l < fits[i].nlevel; l++)
            add_place(&all, pl_next_level_x(&fits[i].levels[l]), fits[i].levels[l].level);
    if (all.n)
        add_new_places(&all, fits, nfit);
    *out = all.items;
    *n = all.n;
    return PL_OK;
}
