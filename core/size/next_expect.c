/* What a further round would bring: days drawn from the fitted curves, each fitted with what is
 * there already. The choice of the round is next.c. */
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/stream.h"
#include "size/next.h"

typedef struct days {
    const pl_table *table; /* with the rows of the new round behind those that are there */
    pl_curve_spec spec;
    const pl_plateau *fits;
    size_t nfit, old, response; /* rows that are there; the response's column */
    const size_t *row_group;    /* of the new rows */
    const double *row_x;
    pl_next_curve **curves; /* of each group */
    size_t *ncurve;
    uint64_t seed;
} days;

/* ------------------------------------------------------------------ table ---- */

typedef struct growing {
    pl_arena *a;
    const pl_table *from;
    pl_table *to;
    size_t added;
    bool failed;
} growing;

typedef struct grown_column { /* text NULL: no such column, or it is there already */
    const char **text;
    double *number;
} grown_column;

/* A column with room for the new rows. */
static grown_column add_column(growing *g, const char *name)
{
    const pl_column *old = name ? pl_table_find(g->from, name) : NULL;
    const size_t n = g->from->nrow;
    pl_column *c;
    const char **text;
    double *number;

    if (!old || pl_table_find(g->to, name))
        return (grown_column){ NULL, NULL };
    c = &g->to->columns[g->to->ncol++];
    *c = *old;
    text = PL_NEWN(g->a, g->to->nrow, const char *);
    number = old->number ? PL_NEWN(g->a, g->to->nrow, double) : NULL;
    g->failed = g->failed || !text || (old->number && !number);
    if (g->failed)
        return (grown_column){ NULL, NULL };
    memcpy(text, old->text, n * sizeof *text);
    if (number)
        memcpy(number, old->number, n * sizeof *number);
    c->text = text;
    c->number = number;
    return (grown_column){ text, number };
}

static void set_cell(growing *g, const grown_column *c, size_t row, const char *text, double x)
{
    if (!c->text)
        return;
    c->text[row] = text;
    if (c->number)
        c->number[row] = x;
    g->failed = g->failed || !text;
}

/* One glue-up of the new round: its own unit, in the round's block of every kind. */
static void add_row(growing *g, const pl_curve_spec *s, const grown_column *c, size_t row,
                    const pl_next_place *place, const char *group)
{
    const char *x = pl_arena_printf(g->a, "%.17g", place->x);

    set_cell(g, &c[0], row, "0", 0);
    set_cell(g, &c[1], row, x, place->x);
    set_cell(g, &c[2], row, place->level ? place->level : x, place->x);
    set_cell(g, &c[3], row, pl_arena_printf(g->a, "next round %zu", row), NAN);
    set_cell(g, &c[4], row, group ? group : "", NAN);
    set_cell(g, &c[5], row, "0", 0);
    for (size_t b = 0; b < s->nblock; b++)
        set_cell(g, &c[6 + b], row,
                 group && b == 0 && s->nblock > 1 ? pl_arena_printf(g->a, "next round %s", group)
                                                  : "next round",
                 NAN);
}

static pl_code grow_table(pl_arena *a, const pl_table *table, const pl_next_place *places,
                          size_t nplace, const size_t *counts, days *k, pl_diags *d)
{
    const pl_curve_spec *s = &k->spec;
    const size_t ncol = 6 + s->nblock;
    growing g = { .a = a, .from = table, .to = PL_NEW(a, pl_table) };
    grown_column *c = PL_NEWN(a, ncol, grown_column);
    const char **names;
    size_t *group, row = table->nrow;
    double *x;

    for (size_t i = 0; i < k->nfit * nplace; i++)
        g.added += counts[i];
    group = PL_NEWN(a, g.added, size_t);
    x = PL_NEWN(a, g.added, double);
    if (!g.to || !c || !group || !x)
        return pl_nomem(d);
    *g.to = (pl_table){ .name = table->name, .nrow = row + g.added };
    g.to->columns = PL_NEWN(a, ncol, pl_column);
    names = PL_NEWN(a, g.to->nrow, const char *);
    if (!g.to->columns || !names)
        return pl_nomem(d);
    for (size_t i = 0; i < g.to->nrow; i++)
        names[i] = i < row ? table->row_names[i] : "next round";
    g.to->row_names = names;
    c[0] = add_column(&g, s->response);
    c[1] = add_column(&g, s->over);
    c[2] = add_column(&g, s->planned);
    c[3] = add_column(&g, s->unit);
    c[4] = add_column(&g, s->for_each);
    c[5] = add_column(&g, s->wood);
    for (size_t b = 0; b < s->nblock; b++)
        c[6 + b] = add_column(&g, s->blocks[b]);
    for (size_t i = 0; i < k->nfit && !g.failed; i++)
        for (size_t j = 0; j < nplace; j++)
            for (size_t n = 0; n < counts[i * nplace + j]; n++, row++) {
                add_row(&g, s, c, row, &places[j], k->fits[i].group);
                group[row - table->nrow] = i;
                x[row - table->nrow] = places[j].x;
            }
    k->table = g.to;
    k->old = table->nrow;
    k->row_group = group;
    k->row_x = x;
    return g.failed ? pl_nomem(d) : PL_OK;
}

/* ------------------------------------------------------------------- days ---- */

/* One curve of each group by its weight, its scatter by what its residual leaves open. */
static bool draw_day(const days *k, uint64_t draw, double *y)
{
    gsl_rng *rng = pl_stream_gsl_new(k->seed, PL_FOR_NEXT, draw);

    for (size_t g = 0; rng && g < k->nfit; g++) {
        double left = gsl_rng_uniform_pos(rng), chi2, sd;
        size_t at = 0;

        while (at + 1 < k->ncurve[g] && (left -= k->curves[g][at].weight) > 0)
            at++;
        chi2 = gsl_ran_chisq(rng, k->curves[g][at].df);
        sd = k->curves[g][at].sd * sqrt(k->curves[g][at].df / chi2);
        for (size_t i = 0; i < k->table->nrow - k->old; i++)
            if (k->row_group[i] == g)
                y[k->old + i] = pl_next_mean(&k->curves[g][at], k->row_x[i], NULL) +
                                gsl_ran_gaussian(rng, sd);
    }
    if (rng)
        gsl_rng_free(rng);
    return rng != NULL;
}

/* The group's outcome in one draw. */
typedef struct outcome {
    bool fitted, low_open, high_open, reached;
    double low, high;
} outcome;

/* Draws one day and fits it; out: nfit. What a fit says of a drawn day is nobody's concern. */
static bool try_day(const days *k, uint64_t draw, outcome *out)
{
    pl_arena *a = pl_arena_new(0);
    pl_table table = *k->table;
    pl_plateau *p;
    double *y = a ? PL_NEWN(a, table.nrow, double) : NULL;
    size_t n = 0;
    pl_diags unsaid;
    bool done = false;

    table.columns = y ? PL_NEWN(a, table.ncol, pl_column) : NULL;
    if (table.columns) {
        memcpy(table.columns, k->table->columns, table.ncol * sizeof *table.columns);
        memcpy(y, table.columns[k->response].number, table.nrow * sizeof *y);
        table.columns[k->response].number = y;
        pl_diags_init(&unsaid, a);
        done = draw_day(k, draw, y) && !pl_fit_curves(a, &table, &k->spec, &p, &n, &unsaid) &&
               n == k->nfit;
    }
    for (size_t g = 0; done && g < n; g++)
        out[g] = (outcome){ .fitted = true,
                            .low_open = p[g].onset.low_open,
                            .high_open = p[g].onset.high_open ||
                                         pl_next_need_of(&p[g]) == PL_NEXT_HIGHER,
                            .reached = p[g].state == PL_REACHED,
                            .low = p[g].onset.low,
                            .high = p[g].onset.high };
    if (a)
        pl_arena_free(a);
    return done;
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

static void sum_up(const outcome *all, size_t nfit, size_t g, size_t draws, double *width,
                   pl_next_expected *out)
{
    size_t closed = 0;

    *out = (pl_next_expected){ .width = NAN, .ratio = true };
    for (size_t i = 0; i < draws; i++)
        out->ratio = out->ratio && (!all[i * nfit + g].fitted || all[i * nfit + g].low_open ||
                                    all[i * nfit + g].low > 0);
    for (size_t i = 0; i < draws; i++) {
        const outcome *o = &all[i * nfit + g];

        if (!o->fitted)
            continue;
        out->draws++;
        out->low_open += o->low_open;
        out->high_open += o->high_open;
        out->reached += o->reached;
        if (!o->low_open && !o->high_open)
            width[closed++] = out->ratio ? o->high / o->low : o->high - o->low;
    }
    qsort(width, closed, sizeof *width, rising);
    if (2 * closed >= out->draws && closed)
        out->width = 0.5 * (width[(closed - 1) / 2] + width[closed / 2]);
}

static pl_code find_curves(pl_arena *a, days *k, pl_diags *d)
{
    pl_code rc = PL_OK;

    k->curves = PL_NEWN(a, k->nfit, pl_next_curve *);
    k->ncurve = PL_NEWN(a, k->nfit, size_t);
    if (!k->curves || !k->ncurve)
        return pl_nomem(d);
    for (size_t g = 0; g < k->nfit && !rc; g++) {
        rc = pl_next_curves(a, &k->fits[g], &k->curves[g], &k->ncurve[g], d);
        if (!rc && !k->ncurve[g])
            rc = pl_fail(d, PL_EDATA, k->fits[g].group ? k->fits[g].group : "the fit",
                         .found = "no curve that a further round could be drawn from",
                         .expected = "a fitted curve with some scatter about it",
                         .mend = "repeat the levels there are, and fit again");
    }
    return rc;
}

pl_code pl_next_expect(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                       const pl_plateau *fits, size_t nfit, const pl_next_place *places,
                       size_t nplace, const size_t *counts, size_t draws, uint64_t seed,
                       pl_next_watch *watch, pl_next_expected *out, pl_diags *d)
{
    days k = { .spec = *spec, .fits = fits, .nfit = nfit, .seed = seed };
    outcome *all;
    double *width = PL_NEWN(a, draws, double);
    bool fitted = true;
    pl_code rc;

    k.spec.tie = NULL; /* drawn days are looked at without reference joints */
    if (!draws || draws > PL_NEXT_DRAWS_MOST)
        return pl_fail(d, PL_EUSAGE, "draws", .found = pl_arena_printf(d->arena, "%zu", draws),
                       .expected = pl_arena_printf(d->arena, "1 to %d", PL_NEXT_DRAWS_MOST));
    k.spec.brief = true;
    rc = find_curves(a, &k, d);
    if (!rc)
        rc = grow_table(a, table, places, nplace, counts, &k, d);
    if (rc)
        return rc;
    all = PL_NEWN(a, draws * nfit, outcome);
    if (!all || !width)
        return pl_nomem(d);
    while (strcmp(k.table->columns[k.response].name, spec->response) != 0)
        k.response++;
#pragma omp parallel for schedule(dynamic)
    for (size_t i = 0; i < draws; i++) {
        (void)try_day(&k, i, all + i * nfit); /* a day that cannot be fitted is left out */
        if (!watch)
            continue;
#pragma omp critical(next_watch)
        {
            watch->done += nfit;
            watch->tell(watch->self, (double)watch->done / (double)watch->all);
        }
    }
    for (size_t g = 0; g < nfit; g++) {
        sum_up(all, nfit, g, draws, width, &out[g]);
        fitted = fitted && out[g].draws;
    }
    return fitted ? PL_OK
                  : pl_fail(d, PL_EDATA, table->name,
                            .found = "no drawn day that could be fitted with what is there",
                            .expected = "a fit that stands when a round is added");
}

/* --------------------------------------------------------- neighbours ------ */

/* The rows of one group as a table of its own. */
static pl_code own_table(pl_arena *a, const pl_table *t, const char *factor, const char *group,
                         pl_table **out, pl_diags *d)
{
    const pl_column *by = pl_table_find(t, factor);
    size_t *rows = PL_NEWN(a, t->nrow, size_t), n = 0;
    const char **names;

    *out = PL_NEW(a, pl_table);
    if (!rows || !*out || !by)
        return pl_nomem(d);
    for (size_t i = 0; i < t->nrow; i++)
        if (!strcmp(by->text[i], group))
            rows[n++] = i;
    **out = (pl_table){ .name = t->name, .nrow = n, .ncol = t->ncol };
    (*out)->columns = PL_NEWN(a, t->ncol, pl_column);
    names = PL_NEWN(a, n, const char *);
    if (!(*out)->columns || !names)
        return pl_nomem(d);
    for (size_t i = 0; i < n; i++)
        names[i] = t->row_names[rows[i]];
    (*out)->row_names = names;
    for (size_t c = 0; c < t->ncol; c++) {
        const char **text = PL_NEWN(a, n, const char *);
        double *number = t->columns[c].number ? PL_NEWN(a, n, double) : NULL;

        if (!text || (t->columns[c].number && !number))
            return pl_nomem(d);
        for (size_t i = 0; i < n; i++) {
            text[i] = t->columns[c].text[rows[i]];
            if (number)
                number[i] = t->columns[c].number[rows[i]];
        }
        (*out)->columns[c] = t->columns[c];
        (*out)->columns[c].text = text;
        (*out)->columns[c].number = number;
    }
    return PL_OK;
}

/* A third of the glue-ups to place j, one by one from wherever most are, but never the last. */
static size_t shift(const size_t *count, size_t n, size_t j, size_t *to)
{
    size_t all = 0, moved = 0;

    for (size_t i = 0; i < n; i++) {
        to[i] = count[i];
        all += count[i];
    }
    while (moved < (all + 2) / 3) {
        size_t most = n;

        for (size_t i = 0; i < n; i++)
            if (i != j && to[i] > 1 && (most == n || to[i] > to[most]))
                most = i;
        if (most == n)
            break;
        to[most]--;
        to[j]++;
        moved++;
    }
    return moved;
}

/* Distance from the onset, by ratio where there is one; INFINITY outside the levels made. */
static double distance(const pl_plateau *p, double x)
{
    const double low = pl_next_level_x(&p->levels[0]);
    const double high = pl_next_level_x(&p->levels[p->nlevel - 1]);

    if (!(x >= low && x <= high) || isnan(p->onset.at))
        return INFINITY;
    return low > 0 ? fabs(log(x / p->onset.at)) : fabs(x - p->onset.at);
}

/* Fewer open ends first, then narrower. */
static bool better(const pl_next_expected *a, const pl_next_expected *b)
{
    const size_t open_a = a->low_open + a->high_open, open_b = b->low_open + b->high_open;

    if (isnan(a->width) || isnan(b->width) || open_a > open_b + a->draws / 10 ||
        open_b > open_a + a->draws / 10)
        return open_a < open_b;
    return a->width < b->width;
}

pl_code pl_next_improve(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                        const pl_plateau *p, const pl_next_place *places, size_t nplace,
                        size_t draws, uint64_t seed, pl_next_watch *watch, size_t *count,
                        pl_diags *d)
{
    size_t *trial = PL_NEWN(a, nplace, size_t), *best = PL_NEWN(a, nplace, size_t);
    bool *tried = PL_NEWN(a, nplace, bool);
    pl_curve_spec own = *spec;
    pl_table *rows = NULL;
    pl_next_expected least, e;
    pl_code rc = PL_OK;

    if (!trial || !best || !tried)
        return pl_nomem(d);
    if (spec->for_each)
        rc = own_table(a, table, spec->for_each, p->group, &rows, d);
    own.for_each = NULL;
    if (!rc)
        rc = pl_next_expect(a, rows ? rows : table, &own, p, 1, places, nplace, count, draws, seed,
                            watch, &least, d);
    memcpy(best, count, nplace * sizeof *best);
    for (size_t k = 0; k < PL_NEXT_NEIGHBOURS && !rc; k++) {
        size_t at = nplace;

        for (size_t i = 0; i < nplace; i++)
            if (!tried[i] && isfinite(distance(p, places[i].x)) &&
                (at == nplace || distance(p, places[i].x) < distance(p, places[at].x)))
                at = i;
        if (at == nplace)
            break;
        tried[at] = true;
        if (!shift(count, nplace, at, trial))
            continue;
        rc = pl_next_expect(a, rows ? rows : table, &own, p, 1, places, nplace, trial, draws, seed,
                            watch, &e, d);
        if (!rc && better(&e, &least)) {
            least = e;
            memcpy(best, trial, nplace * sizeof *best);
        }
    }
    memcpy(count, best, nplace * sizeof *count);
    return rc;
}
