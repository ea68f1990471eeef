/* What a fit says some of whose readings are only bounds: words, tables, JSON. */
#include <ctype.h>
#include <math.h>
#include <string.h>

#include "report/details.h"
#include "report/json_parts.h"
#include "report/say.h"

static const char *with_unit(pl_arena *a, const pl_bounds_fit *b, double x, int way)
{
    return pl_arena_printf(a, "%s%s%s", pl_say_bare(a, x, 3, way), b->unit[0] ? " " : "", b->unit);
}

/* "species beech", "larch, 0.8"; "all of them" without factors. */
static const char *who(pl_arena *a, const pl_bounds_level *l)
{
    bool figure = isdigit((unsigned char)l->level[strspn(l->level, "-+.")]);

    return !l->factor[0] ? "all together"
           : figure      ? pl_arena_printf(a, "%s %s", l->factor, l->level)
                         : l->level;
}

static void say_readings(pl_arena *a, const pl_bounds_fit *b, pl_text *t)
{
    const struct {
        size_t n;
        const char *what;
    } kinds[] = { { b->above, "only the least it held" },
                  { b->below, "only the most it held" },
                  { b->between, "known to lie between two marks" } };
    const char *items[3];
    size_t n = 0;

    for (int k = 0; k < 3; k++)
        if (kinds[k].n)
            items[n++] = pl_arena_printf(a, "%zu %s", kinds[k].n, kinds[k].what);
    if (n)
        pl_text_add(t, "Of %zu readings, %zu are known exactly and %s.\n", b->nrow, b->exact,
                    pl_text_list(a, items, n, "and"));
}

static void say_level(pl_arena *a, const pl_bounds_fit *b, const pl_bounds_level *l, pl_text *t)
{
    const pl_bounded *h = &l->holds;

    pl_text_add(t, "%s: ", who(a, l));
    if (!isnan(h->at))
        pl_text_add(t, "%s, between ", with_unit(a, b, h->at, 0));
    if (isnan(h->at) && h->high_open && !h->low_open)
        pl_text_add(t, "at least %s; no upper limit", with_unit(a, b, h->low, -1));
    else if (isnan(h->at) && h->low_open && !h->high_open)
        pl_text_add(t, "at most %s; no lower limit", with_unit(a, b, h->high, 1));
    else if (isnan(h->at))
        pl_text_put(t, "nothing can be told");
    else
        pl_text_add(t, "%s and %s", h->low_open ? "no lower limit" : pl_say_bare(a, h->low, 3, -1),
                    h->high_open ? "no upper limit" : with_unit(a, b, h->high, 1));
    if (!l->known)
        pl_text_add(t, " (not one of its %zu readings shows its own strength)", l->n);
    pl_text_put(t, ".\n");
}

void pl_bounds_words(pl_arena *a, const pl_bounds_fit *b, pl_text *t)
{
    say_readings(a, b, t);
    for (size_t i = 0; i < b->neffect; i++) {
        const pl_bounds_effect *e = &b->effects[i];
        bool together = strstr(e->name, ", ");

        pl_text_add(t, "%s: ", e->name);
        if (e->between)
            pl_text_put(t, "not judged here: blocks lie inside its levels.\n");
        else if (isnan(e->p))
            pl_text_put(t, "nothing can be told of it.\n");
        else if (together)
            pl_text_put(t, e->p <= 0.05 ? "the effect of one depends on the other.\n"
                                        : "no sign that the effect of one depends on the other.\n");
        else
            pl_text_put(t, e->p <= 0.05 ? "makes a difference.\n" : "no difference shows.\n");
    }
    for (size_t i = 0; i < b->nlevel; i++)
        say_level(a, b, &b->levels[i], t);
    pl_text_put(t, "Ranges worked out this way are right about nineteen times in twenty. A reading "
                   "that is only a bound counts as one: whether what hid it also goes with the "
                   "strength it hid, such readings cannot tell.\n");
}

void pl_bounds_details(pl_arena *a, const pl_bounds_fit *b, pl_text *t)
{
    pl_grid *g = pl_grid_new(a), *e = pl_grid_new(a), *l = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "coefficient", NULL);
    pl_details_coef_columns(g);
    for (size_t i = 0; i < b->ncoef; i++) {
        pl_grid_cell(g, b->coefs[i].name);
        pl_details_coef_cells(g, &b->coefs[i]);
    }
    pl_details_add(t, a,
                   b->law == PL_LAW_NORMAL ? "coefficients of strength"
                                           : "coefficients of the natural logarithm of strength",
                   g);
    pl_text_add(t, "Scatter (%s): %s, from %s to %s. Log-likelihood %s.\n", pl_law_name(b->law),
                pl_text_number(a, b->sigma, 6), pl_text_number(a, b->sigma_low, 4),
                pl_text_number(a, b->sigma_high, 4), pl_text_number(a, b->log_likelihood, 10));
    pl_grid_column(e, PL_SIDE_LEFT, "effect", NULL);
    pl_grid_column(e, PL_SIDE_RIGHT, "df", NULL);
    pl_grid_column(e, PL_SIDE_RIGHT, "F by likelihood ratio", NULL);
    pl_grid_column(e, PL_SIDE_RIGHT, "p", NULL);
    for (size_t i = 0; i < b->neffect; i++) {
        pl_grid_cell(e, b->effects[i].name);
        pl_grid_number(e, b->effects[i].df, 6);
        pl_grid_number(e, b->effects[i].f, 6);
        pl_grid_cell(e, pl_say_p(a, b->effects[i].p));
    }
    if (b->neffect)
        pl_details_add(t, a, "effects, each after all others", e);
    pl_grid_column(l, PL_SIDE_LEFT, "factor", NULL);
    pl_grid_column(l, PL_SIDE_LEFT, "level", NULL);
    pl_grid_column(l, PL_SIDE_RIGHT, "rows", NULL);
    pl_grid_column(l, PL_SIDE_RIGHT, "no bounds", NULL);
    pl_grid_column(l, PL_SIDE_RIGHT, b->law == PL_LAW_NORMAL ? "mean" : "median", b->unit);
    pl_grid_column(l, PL_SIDE_RIGHT, "low", b->unit);
    pl_grid_column(l, PL_SIDE_RIGHT, "high", b->unit);
    for (size_t i = 0; i < b->nlevel; i++) {
        const pl_bounds_level *x = &b->levels[i];

        pl_grid_cell(l, x->factor);
        pl_grid_cell(l, x->level);
        pl_grid_cellf(l, "%zu", x->n);
        pl_grid_cellf(l, "%zu", x->known);
        pl_grid_number(l, x->holds.at, 6);
        pl_grid_number(l, x->holds.low, 6);
        pl_grid_number(l, x->holds.high, 6);
    }
    pl_details_add(t, a, "levels", l);
}

static void add_levels(pl_jval *object, const pl_bounds_fit *b)
{
    pl_jval *list = pl_jadd_array(object, "means");

    for (size_t i = 0; i < b->nlevel; i++) {
        const pl_bounds_level *l = &b->levels[i];
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "factor", l->factor);
        pl_jadd_text(o, "level", l->level);
        pl_jadd_whole(o, "rows", (long long)l->n);
        pl_jadd_whole(o, "known", (long long)l->known);
        pl_jadd_number(o, "estimate", l->holds.at);
        pl_jadd_number(o, "low", l->holds.low);
        pl_jadd_number(o, "high", l->holds.high);
        pl_jadd_bool(o, "low_open", l->holds.low_open);
        pl_jadd_bool(o, "high_open", l->holds.high_open);
    }
}

void pl_json_bounds(pl_jval *object, const pl_bounds_fit *b)
{
    pl_jval *o, *list;

    pl_jadd_text(object, "law", pl_law_name(b->law));
    o = pl_jadd_object(object, "readings");
    pl_jadd_whole(o, "rows", (long long)b->nrow);
    pl_jadd_whole(o, "known", (long long)b->exact);
    pl_jadd_whole(o, "above", (long long)b->above);
    pl_jadd_whole(o, "below", (long long)b->below);
    pl_jadd_whole(o, "between", (long long)b->between);
    list = pl_jadd_array(object, "coefficients");
    for (size_t i = 0; i < b->ncoef; i++)
        pl_json_coef(list, &b->coefs[i]);
    o = pl_jadd_object(object, "scatter");
    pl_jadd_number(o, "estimate", b->sigma);
    pl_jadd_number(o, "low", b->sigma_low);
    pl_jadd_number(o, "high", b->sigma_high);
    pl_jadd_number(object, "log_likelihood", b->log_likelihood);
    list = pl_jadd_array(object, "tests");
    for (size_t i = 0; i < b->neffect; i++) {
        const pl_bounds_effect *e = &b->effects[i];

        o = pl_jadd_object(list, NULL);
        pl_jadd_text(o, "name", e->name);
        pl_jadd_number(o, "df", e->df);
        pl_jadd_number(o, "f", e->f);
        pl_jadd_number(o, "error_df", e->error_df);
        pl_jadd_number(o, "p", e->p);
    }
    add_levels(object, b);
}
