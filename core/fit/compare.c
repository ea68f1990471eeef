/* Comparisons of many levels. One contrast alone is linear_contrast.c's. */
#include "fit/compare.h"

#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "base/text.h"
#include "fit/linear.h"

#define POINT_TOL 5e-4  /* where points are sampled */
#define ALIKE_TOL 1e-10 /* of covariances that count as equal: rounding */
#define THE_OTHERS "the best of the others"

const char *pl_compare_kind_name(pl_compare_kind k)
{
    static const char *const names[] = { "every-pair", "against-named", "against-best",
                                         "as-good-as" };

    return k < PL_NCOMPARE_KINDS ? names[k] : "";
}

typedef struct work {
    pl_arena *a;
    pl_linear_fit *f;
    const pl_compare *c;
    const pl_levels *l;
    size_t named;
    double *root; /* n x n: cov = root root' */
    pl_diags *d;
} work;

/* Square root of a covariance that may lack rank. */
static void take_root(work *w)
{
    size_t n = w->l->n;
    double most = 0;

    for (size_t i = 0; i < n; i++)
        most = fmax(most, w->l->cov[i * n + i]);
    for (size_t j = 0; j < n; j++) {
        double d = w->l->cov[j * n + j];

        for (size_t k = 0; k < j; k++)
            d -= w->root[j * n + k] * w->root[j * n + k];
        if (!(d > 1e-12 * most))
            continue;
        w->root[j * n + j] = sqrt(d);
        for (size_t i = j + 1; i < n; i++) {
            double s = w->l->cov[i * n + j];

            for (size_t k = 0; k < j; k++)
                s -= w->root[i * n + k] * w->root[j * n + k];
            w->root[i * n + j] = s / w->root[j * n + j];
        }
    }
}

/* What all pairs of levels have for their covariance; NAN when not all the same. */
static double shared_covariance(const pl_levels *l)
{
    double first = l->cov[1], most = 0;

    for (size_t i = 0; i < l->n; i++)
        most = fmax(most, l->cov[i * l->n + i]);
    for (size_t i = 0; i < l->n; i++)
        for (size_t k = 0; k < i; k++)
            if (fabs(l->cov[i * l->n + k] - first) > ALIKE_TOL * most)
                return NAN;
    return first;
}

static double range_point(const work *w, double shared)
{
    const pl_levels *l = w->l;

    for (size_t i = 1; i < l->n; i++)
        if (fabs(l->cov[i * l->n + i] - l->cov[0]) > ALIKE_TOL * (l->cov[0] - shared))
            return NAN;
    return pl_range_quantile_upper(w->c->alpha, (unsigned)l->n, l->df) / sqrt(2);
}

/* Against level `one`: correlations of the differences are products lambda_i lambda_k, lambda^2 the
 * share of that level in the variance of each. */
static double control_point(const work *w, size_t one, double shared, int sides)
{
    const pl_levels *l = w->l;
    double lambda[PL_RANGE_MOST], own = l->cov[one * l->n + one] - shared;
    size_t m = 0;

    for (size_t i = 0; i < l->n; i++)
        if (i != one)
            lambda[m++] = sqrt(own / (own + l->cov[i * l->n + i] - shared));
    return pl_dunnett_quantile_upper(w->c->alpha, lambda, m, l->df, sides);
}

/* The exact point, where there is one: levels with one covariance for all pairs (means of their
 * own, or of blocks that hold every level), all pairs of levels equally sure, or all against one
 * level. Else NAN. */
static double exact_point(const work *w, const size_t *pairs, size_t m, int sides)
{
    size_t n = w->l->n;
    bool first = true, second = true;
    double shared;

    if (n < 2 || n > PL_RANGE_MOST)
        return NAN;
    shared = shared_covariance(w->l);
    for (size_t i = 1; i < m; i++) {
        first = first && pairs[2 * i] == pairs[0];
        second = second && pairs[2 * i + 1] == pairs[1];
    }
    if (isnan(shared))
        return NAN;
    if (m == n - 1 && (first || second))
        return control_point(w, first ? pairs[0] : pairs[1], shared, sides);
    return m == n * (n - 1) / 2 && sides == 2 ? range_point(w, shared) : NAN;
}

/* Simultaneous point of m differences i - k: pairs holds 2 m places. */
static pl_code point_of(work *w, const size_t *pairs, size_t m, int sides, double *out)
{
    size_t n = w->l->n;
    double exact = exact_point(w, pairs, m, sides);
    pl_mark mark = pl_arena_mark(w->a);
    double *c = pl_arena_get(w->a, m, n * sizeof *c), *one = PL_NEWN(w->a, n, double);
    pl_real point = { NAN, 1 };
    pl_code rc;

    if (!c || !one)
        return pl_nomem(w->d);
    *out = pl_t_quantile(1 - w->c->alpha / (double)(m * (size_t)sides), w->l->df);
    if (!isnan(exact))
        *out = exact;
    if (!isnan(exact) || m == 1 || n > PL_COMPARE_LEVELS_SAMPLED)
        return PL_OK;
    for (size_t j = 0; j < n; j++)
        one[j] = 1;
    for (size_t i = 0; i < m; i++)
        for (size_t j = 0; j < n; j++)
            c[i * n + j] = w->root[pairs[2 * i] * n + j] - w->root[pairs[2 * i + 1] * n + j];
    rc = sides == 2
             ? pl_mvt_two_sided_point(w->a, c, one, m, n, w->l->df, w->c->alpha, POINT_TOL, &point)
             : pl_mvt_upper_point(w->a, c, one, m, n, w->l->df, w->c->alpha, POINT_TOL, &point);
    if (rc == PL_ENOMEM)
        return pl_nomem(w->d);
    if (!rc || rc == PL_EPREC) /* the best found is nearer than the shares of the chance */
        *out = point.value;
    pl_arena_reset(w->a, mark);
    return PL_OK;
}

static pl_code difference(work *w, size_t i, size_t k, double of_k, pl_contrast *out)
{
    double *weight = PL_NEWN(w->a, w->l->n, double);

    if (!weight)
        return pl_nomem(w->d);
    weight[i] = 1;
    weight[k] -= of_k;
    return pl_levels_contrast(w->a, w->l, weight, out, w->d);
}

static pl_comparison *add(work *w, const char *level, const char *against)
{
    pl_comparison *c = &w->f->comparisons[w->f->ncomparison++];

    *c = (pl_comparison){ .factor = w->l->factor,
                          .level = level,
                          .against = against,
                          .kind = w->c->kind,
                          .sure = 1 - w->c->alpha,
                          .se = NAN,
                          .df = w->l->df,
                          .p_holm = NAN,
                          .margin = NAN,
                          .tested = true };
    return c;
}

/* p of each alone, as Holm takes them: smallest times m, next times m - 1, never falling. */
static void holm(pl_comparison *c, size_t m)
{
    double last = 0;

    for (size_t rank = 0; rank < m; rank++) {
        pl_comparison *least = NULL;

        for (size_t i = 0; i < m; i++)
            if (c[i].tested && (!least || c[i].p_holm < least->p_holm))
                least = &c[i];
        if (!least)
            break;
        last = fmax(last, fmin(1, least->p_holm * (double)(m - rank)));
        least->p_holm = last;
        least->tested = false; /* taken; set back below */
    }
    for (size_t i = 0; i < m; i++)
        c[i].tested = true;
}

static pl_code differences(work *w, const size_t *pairs, size_t m)
{
    size_t first = w->f->ncomparison;
    double point = NAN;
    pl_code rc = point_of(w, pairs, m, 2, &point);

    for (size_t i = 0; i < m && !rc; i++) {
        pl_comparison *c = add(w, w->l->names[pairs[2 * i]], w->l->names[pairs[2 * i + 1]]);
        pl_contrast one = { 0 };

        rc = difference(w, pairs[2 * i], pairs[2 * i + 1], 1, &one);
        c->estimate = one.estimate;
        c->se = one.se;
        c->df = one.df;
        c->low = one.estimate - point * one.se;
        c->high = one.estimate + point * one.se;
        c->p_holm = one.p;
        c->shown = c->low > 0 || c->high < 0;
    }
    if (!rc)
        holm(w->f->comparisons + first, m);
    return rc;
}

static pl_code compare_pairs(work *w)
{
    size_t n = w->l->n, m = 0, *pairs = PL_NEWN(w->a, n * n, size_t);

    if (!pairs)
        return pl_nomem(w->d);
    for (size_t k = 0; k < n; k++)
        for (size_t i = k + 1; i < n; i++, m++) {
            pairs[2 * m] = i;
            pairs[2 * m + 1] = k;
        }
    return differences(w, pairs, m);
}

static pl_code compare_named(work *w)
{
    size_t n = w->l->n, m = 0, *pairs = PL_NEWN(w->a, 2 * n, size_t);

    if (!pairs)
        return pl_nomem(w->d);
    for (size_t i = 0; i < n; i++)
        if (i != w->named) {
            pairs[2 * m] = i;
            pairs[2 * m++ + 1] = w->named;
        }
    return differences(w, pairs, m);
}

/* Level less the best of the others: with d_i the one-sided point of i against the rest, the upper
 * limit is the least of difference + d_i se, at least 0; the lower one the least of difference -
 * d_k se over those others that may be best, at most 0. */
static pl_code compare_best(work *w)
{
    size_t n = w->l->n, may = 0, first = w->f->ncomparison;
    size_t *pairs = PL_NEWN(w->a, 2 * n, size_t);
    double *d = PL_NEWN(w->a, n, double), way = w->c->less_is_better ? -1 : 1;
    pl_contrast one = { 0 };
    pl_code rc = pairs && d ? PL_OK : pl_nomem(w->d);

    for (size_t i = 0; i < n && !rc; i++) {
        pl_comparison *c = add(w, w->l->names[i], THE_OTHERS);
        size_t m = 0;

        for (size_t k = 0; k < n; k++)
            if (k != i) {
                pairs[2 * m] = i;
                pairs[2 * m++ + 1] = k;
            }
        rc = point_of(w, pairs, m, 1, &d[i]);
        c->estimate = c->high = INFINITY;
        for (size_t k = 0; k < n && !rc; k++) {
            if (k == i)
                continue;
            rc = difference(w, i, k, 1, &one);
            c->estimate = fmin(c->estimate, way * one.estimate);
            c->high = fmin(c->high, way * one.estimate + d[i] * one.se);
        }
        c->high = fmax(0, c->high);
        may += c->high > 0 ? 1 : 0;
    }
    for (size_t i = 0; i < n && !rc; i++) {
        pl_comparison *c = &w->f->comparisons[first + i];

        if (may == 1 && c->high > 0) {
            c->low = 0;
            c->shown = true;
            continue;
        }
        for (size_t k = 0; k < n && !rc; k++) {
            if (k == i || !(w->f->comparisons[first + k].high > 0))
                continue;
            rc = difference(w, i, k, 1, &one);
            c->low = fmin(c->low, way * one.estimate - d[k] * one.se);
        }
        c->shown = c->low >= 0 || c->high <= 0;
    }
    return rc;
}

static bool are_numbers(const pl_levels *l)
{
    double x;

    for (size_t i = 0; i < l->n; i++)
        if (!pl_text_to_number(l->names[i], &x))
            return false;
    return true;
}

/* Level i less its share of the named one, against `alpha`, if the ladder still goes `on`. */
static pl_code step_down(work *w, size_t i, double alpha, bool *on)
{
    pl_comparison *c = add(w, w->l->names[i], w->l->names[w->named]);
    double way = w->c->less_is_better ? -1 : 1;
    pl_contrast one = { 0 };
    pl_code rc = difference(w, i, w->named, 1 - way * w->c->margin, &one);

    c->estimate = way * one.estimate;
    c->se = one.se;
    c->df = one.df;
    c->margin = w->c->margin;
    c->high = NAN;
    c->low = c->estimate - pl_t_quantile(1 - alpha, one.df) * one.se;
    c->tested = *on;
    c->shown = *on && c->low > 0;
    *on = c->shown;
    return rc;
}

/* Levels that are numbers have an order to go down in; names share the chance among them. */
static pl_code climb_down(work *w)
{
    bool on = true;
    pl_code rc = PL_OK;

    if (are_numbers(w->l)) {
        for (size_t i = w->named; i-- > 0 && !rc;)
            rc = step_down(w, i, w->c->alpha, &on);
        return rc;
    }
    for (size_t i = 0; i < w->l->n && !rc; i++) {
        on = true;
        if (i != w->named)
            rc = step_down(w, i, w->c->alpha / (double)(w->l->n - 1), &on);
    }
    return rc;
}

/* Which level is named; else the last of levels that are numbers. */
static pl_code find_named(work *w)
{
    const pl_levels *l = w->l;

    if (w->c->kind == PL_EVERY_PAIR || w->c->kind == PL_AGAINST_BEST)
        return PL_OK;
    w->named = l->n - 1;
    if (!w->c->named && are_numbers(l))
        return PL_OK;
    for (size_t i = 0; w->c->named && i < l->n; i++)
        if (!strcmp(l->names[i], w->c->named)) {
            w->named = i;
            return PL_OK;
        }
    return pl_fail(w->d, PL_EVALUE, l->factor,
                   .found = w->c->named ? pl_arena_printf(w->d->arena, "level \"%s\"", w->c->named)
                                        : "no level named to compare with",
                   .expected = pl_text_list(w->d->arena, l->names, l->n, "or"));
}

static pl_code find_levels(work *w)
{
    const char **names = PL_NEWN(w->a, w->f->nlevels, const char *);

    if (!names)
        return pl_nomem(w->d);
    for (size_t i = 0; i < w->f->nlevels; i++) {
        names[i] = w->f->levels[i].factor;
        if (!strcmp(names[i], w->c->factor))
            w->l = &w->f->levels[i];
    }
    if (!w->l)
        return pl_fail(
            w->d, PL_EVALUE, w->f->response,
            .found = pl_arena_printf(w->d->arena, "a comparison of \"%s\"", w->c->factor),
            .expected = w->f->nlevels ? pl_text_list(w->d->arena, names, w->f->nlevels, "or")
                                      : "an effect of the model");
    if (!(w->l->df > 0) || !(w->l->cov[0] > 0))
        return pl_fail(w->d, PL_EDATA, w->l->factor, .found = "nothing to judge chance by",
                       .expected = "joints made alike, within the blocks");
    return find_named(w);
}

pl_code pl_compare_levels(pl_arena *a, pl_linear_fit *f, const pl_compare *c, pl_diags *diags)
{
    work w = { .a = a, .f = f, .c = c, .d = diags };
    pl_code rc = find_levels(&w);
    size_t n;

    if (rc || !w.l)
        return rc;
    n = w.l->n;
    w.root = pl_arena_get(a, n, n * sizeof *w.root);
    f->comparisons = pl_arena_grow(a, f->comparisons, f->ncomparison,
                                   f->ncomparison + (c->kind == PL_EVERY_PAIR ? n * n : n),
                                   sizeof *f->comparisons);
    if (!w.root || !f->comparisons)
        return pl_nomem(diags);
    take_root(&w);
    switch (c->kind) {
    case PL_EVERY_PAIR:
        return compare_pairs(&w);
    case PL_AGAINST_NAMED:
        return compare_named(&w);
    case PL_AGAINST_BEST:
        return compare_best(&w);
    default:
        return climb_down(&w);
    }
}
