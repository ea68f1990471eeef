/* Slopes, squares and products of measured factors: the fit, its highest point, and where it may be
 * flat. Effects and their tests are linear.c's. */
#include "fit/surface.h"

#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/units.h"

#define GRID 21          /* places a factor, up to three factors */
#define POINTS 20000     /* beyond */
#define ASCENT_STEPS 400 /* from the best place looked at; each no farther than to a better one */
#define PASSES 3 /* over where it may be flat: each over the box that the one before found */
#define MOST PL_SURFACE_FACTORS_MOST
#define COLUMNS_MOST (1 + MOST + MOST * (MOST + 1) / 2)

typedef struct work {
    pl_arena *a;
    pl_diags *d;
    const pl_study *s;
    pl_units units;
    size_t k, ncol, nblock_col, n; /* factors; columns of the surface; of blocks; rows used */
    double *x;                     /* nunit x k */
    gsl_matrix *design, *cov;
    gsl_vector *y, *beta;
    double radius, df;
} work;

/* ---------------------------------------------------------------- columns -- */

/* 1, x_i, then x_i x_j for j <= i. */
static void columns_at(const work *w, const double *x, double *h)
{
    size_t at = 0;

    h[at++] = 1;
    for (size_t i = 0; i < w->k; i++)
        h[at++] = x[i];
    for (size_t i = 0; i < w->k; i++)
        for (size_t j = 0; j <= i; j++)
            h[at++] = x[i] * x[j];
}

static bool all_measured(const pl_study *s)
{
    for (size_t i = 0; i < s->nfactor; i++)
        if (!s->factors[i].numeric || s->factors[i].nlevel < 3 || s->factors[i].comes_with_board)
            return false;
    return s->nfactor >= 1 && s->nfactor <= MOST;
}

static double coded(const pl_factor *f, double si)
{
    double low = f->levels[0].si, high = f->levels[f->nlevel - 1].si;

    return (2 * si - low - high) / (high - low);
}

static double decoded(const pl_factor *f, double x)
{
    double low = f->levels[0].si, high = f->levels[f->nlevel - 1].si;

    return low + (x + 1) * (high - low) / 2;
}

static const pl_level *level_of(const pl_factor *f, const char *text)
{
    for (size_t l = 0; l < f->nlevel; l++)
        if (!strcmp(f->levels[l].text, text))
            return &f->levels[l];
    return NULL;
}

/* Factors of each unit, coded; the farthest from the middle. */
static pl_code code_units(work *w)
{
    const pl_table *t = w->units.table;

    w->n = w->units.nunit;
    w->x = pl_arena_get(w->a, w->n, w->k * sizeof *w->x);
    if (!w->x)
        return pl_nomem(w->d);
    for (size_t u = 0; u < w->n; u++) {
        double far = 0;

        for (size_t i = 0; i < w->k; i++) {
            const pl_factor *f = &w->s->factors[i];
            const pl_level *l = level_of(f, pl_table_find(t, f->name)->text[u]);

            w->x[u * w->k + i] = l ? coded(f, l->si) : 0;
            far += w->x[u * w->k + i] * w->x[u * w->k + i];
        }
        w->radius = fmax(w->radius, sqrt(far));
    }
    return PL_OK;
}

static void drop_matrix(void *m)
{
    gsl_matrix_free(m);
}

static void drop_vector(void *v)
{
    gsl_vector_free(v);
}

static gsl_matrix *matrix(work *w, size_t rows, size_t cols)
{
    gsl_matrix *m = gsl_matrix_calloc(rows, cols);

    return m ? pl_arena_own(w->a, m, drop_matrix) : NULL;
}

static gsl_vector *vector(work *w, size_t n)
{
    gsl_vector *v = gsl_vector_calloc(n);

    return v ? pl_arena_own(w->a, v, drop_vector) : NULL;
}

/* Blocks coded to sum to zero, so that the rest is an average over them. */
static pl_code fill_design(work *w, const char *const *blocks, size_t nblock)
{
    pl_factor_codes codes[8];
    const double *y = pl_table_find(w->units.table, "strength")->number;
    size_t p = w->ncol;
    double h[COLUMNS_MOST] = { 0 };
    pl_code rc = PL_OK;

    for (size_t b = 0; b < nblock && b < 8 && !rc; b++) {
        rc = pl_table_factor(w->a, w->units.table, blocks[b], &codes[b], w->d);
        p += rc ? 0 : codes[b].nlevel - 1;
    }
    if (rc)
        return rc;
    w->nblock_col = p - w->ncol;
    if (w->n <= p)
        return PL_OK;
    w->design = matrix(w, w->n, p);
    w->cov = matrix(w, p, p);
    w->y = vector(w, w->n);
    w->beta = vector(w, p);
    if (!w->design || !w->cov || !w->y || !w->beta)
        return pl_nomem(w->d);
    for (size_t u = 0; u < w->n; u++) {
        size_t at = w->ncol;

        columns_at(w, w->x + u * w->k, h);
        for (size_t j = 0; j < w->ncol; j++)
            gsl_matrix_set(w->design, u, j, h[j]);
        for (size_t b = 0; b < nblock && b < 8; b++)
            for (size_t l = 0; l + 1 < codes[b].nlevel; l++)
                gsl_matrix_set(w->design, u, at++,
                               (codes[b].code[u] == (int)l) -
                                   (codes[b].code[u] == (int)codes[b].nlevel - 1));
        gsl_vector_set(w->y, u, y[u]);
    }
    return PL_OK;
}

/* Shares of the largest singular value below this count as nothing: blocks inside one another. */
#define SAME 1e-10

static pl_code solve(work *w)
{
    size_t p = w->ncol + w->nblock_col, rank = 0;
    gsl_multifit_linear_workspace *room = gsl_multifit_linear_alloc(w->n, p);
    double chisq;
    int bad;

    if (!room)
        return pl_nomem(w->d);
    bad = gsl_multifit_linear_tsvd(w->design, w->y, SAME, w->beta, w->cov, &chisq, &rank, room);
    gsl_multifit_linear_free(room);
    w->df = bad ? 0 : (double)(w->n - rank);
    return PL_OK;
}

/* ---------------------------------------------------------------- surface -- */

static double height_at(const work *w, const double *x)
{
    double h[COLUMNS_MOST] = { 0 }, y = 0;

    columns_at(w, x, h);
    for (size_t j = 0; j < w->ncol; j++)
        y += h[j] * gsl_vector_get(w->beta, j);
    return y;
}

static double se_at(const work *w, const double *x)
{
    double h[COLUMNS_MOST] = { 0 }, v = 0;

    columns_at(w, x, h);
    for (size_t i = 0; i < w->ncol; i++)
        for (size_t j = 0; j < w->ncol; j++)
            v += h[i] * h[j] * gsl_matrix_get(w->cov, i, j);
    return sqrt(v);
}

/* The slope in direction i is the sum of row i of this over the coefficients. */
static void slope_rows(const work *w, const double *x, double rows[MOST][COLUMNS_MOST])
{
    size_t at = 1 + w->k;

    memset(rows, 0, MOST * sizeof *rows);
    for (size_t i = 0; i < w->k; i++)
        rows[i][1 + i] = 1;
    for (size_t i = 0; i < w->k; i++)
        for (size_t j = 0; j <= i; j++, at++) {
            rows[i][at] += x[j];
            rows[j][at] += x[i];
        }
}

static void slope_at(const work *w, const double *x, double *slope)
{
    double rows[MOST][COLUMNS_MOST];

    slope_rows(w, x, rows);
    for (size_t i = 0; i < w->k; i++) {
        slope[i] = 0;
        for (size_t j = 0; j < w->ncol; j++)
            slope[i] += rows[i][j] * gsl_vector_get(w->beta, j);
    }
}

/* d' V^-1 d / k at x. */
static double flatness(const work *w, const double *x, gsl_matrix *v, gsl_vector *d, gsl_vector *z)
{
    double rows[MOST][COLUMNS_MOST], slope[MOST], f = 0;

    slope_rows(w, x, rows);
    slope_at(w, x, slope);
    for (size_t i = 0; i < w->k; i++) {
        gsl_vector_set(d, i, slope[i]);
        for (size_t j = 0; j < w->k; j++) {
            double c = 0;

            for (size_t p = 0; p < w->ncol; p++)
                for (size_t q = 0; q < w->ncol && rows[i][p] != 0; q++)
                    c += rows[i][p] * rows[j][q] * gsl_matrix_get(w->cov, p, q);
            gsl_matrix_set(v, i, j, c);
        }
    }
    if (gsl_linalg_cholesky_decomp1(v) || gsl_linalg_cholesky_solve(v, d, z))
        return INFINITY;
    for (size_t i = 0; i < w->k; i++)
        f += slope[i] * gsl_vector_get(z, i);
    return f / (double)w->k;
}

/* ----------------------------------------------------------------- places -- */

static bool tried(const work *w, const double *x)
{
    double far = 0;

    for (size_t i = 0; i < w->k; i++) {
        if (fabs(x[i]) > 1)
            return false;
        far += x[i] * x[i];
    }
    return far <= w->radius * w->radius * (1 + 1e-9);
}

static size_t places(const work *w)
{
    size_t n = 1;

    for (size_t i = 0; i < w->k; i++)
        n *= GRID;
    return w->k <= 3 ? n : POINTS;
}

typedef struct box {
    double low[MOST], high[MOST], step[MOST]; /* step: between places looked at */
} box;

/* A grid over the box; beyond three factors the multiples of powers of the root of g^(k+1) = g + 1,
 * less their whole parts, which fill it evenly (a judgement, held against what tests find). */
static void place(const work *w, const box *in, size_t n, double *x)
{
    double g = 1.5, power = 1;

    for (int i = 0; i < 60; i++)
        g = pow(1 + g, 1 / (double)(w->k + 1));
    for (size_t i = 0; i < w->k; i++) {
        double share;

        power /= g;
        share = w->k <= 3 ? (double)(n % GRID) / (GRID - 1)
                          : fmod(0.5 + (double)(n + 1) * power, 1);
        x[i] = in->low[i] + (in->high[i] - in->low[i]) * share;
        n /= w->k <= 3 ? GRID : 1;
    }
}

static void set_steps(const work *w, box *in)
{
    double each = w->k <= 3 ? GRID - 1 : pow(POINTS, 1 / (double)w->k) - 1;

    for (size_t i = 0; i < w->k; i++)
        in->step[i] = (in->high[i] - in->low[i]) / each;
}

static box whole_box(const work *w)
{
    box all = { 0 };

    for (size_t i = 0; i < w->k; i++) {
        all.low[i] = -1;
        all.high[i] = 1;
    }
    set_steps(w, &all);
    return all;
}

/* Uphill from x by halved steps, as long as it stays among what was tried. */
static void climb(const work *w, double *x)
{
    double step = 0.5, best = height_at(w, x);

    for (int n = 0; n < ASCENT_STEPS && step > 1e-7; n++) {
        double slope[MOST], to[MOST], length = 0, far = 0;

        slope_at(w, x, slope);
        for (size_t i = 0; i < w->k; i++)
            length += slope[i] * slope[i];
        length = length > 0 ? sqrt(length) : 1;
        for (size_t i = 0; i < w->k; i++) {
            to[i] = fmin(1, fmax(-1, x[i] + step * slope[i] / length));
            far += to[i] * to[i];
        }
        far = sqrt(far);
        for (size_t i = 0; i < w->k && far > w->radius; i++)
            to[i] *= w->radius / far;
        if (height_at(w, to) > best) {
            best = height_at(w, to);
            memcpy(x, to, w->k * sizeof *x);
        } else {
            step /= 2;
        }
    }
}

/* The flat point, where the surface falls away from it on all sides; false: there is none. */
static bool flat_top(const work *w, double *x)
{
    gsl_matrix *m = gsl_matrix_calloc(w->k, w->k);
    gsl_vector *b = gsl_vector_calloc(w->k), *z = gsl_vector_calloc(w->k);
    double zero[MOST] = { 0 }, slope[MOST], at[MOST] = { 0 };
    bool top = m && b && z;

    slope_at(w, zero, slope);
    for (size_t i = 0; top && i < w->k; i++) { /* -2B: positive definite at a top */
        double one[MOST] = { 0 }, bent[MOST];

        one[i] = 1;
        slope_at(w, one, bent);
        gsl_vector_set(b, i, slope[i]);
        for (size_t j = 0; j < w->k; j++)
            gsl_matrix_set(m, i, j, slope[j] - bent[j]);
    }
    top = top && !gsl_linalg_cholesky_decomp1(m) && !gsl_linalg_cholesky_solve(m, b, z);
    for (size_t i = 0; top && i < w->k; i++)
        at[i] = gsl_vector_get(z, i);
    gsl_matrix_free(m);
    gsl_vector_free(b);
    gsl_vector_free(z);
    top = top && tried(w, at);
    if (top)
        memcpy(x, at, w->k * sizeof *x);
    return top;
}

/* ---------------------------------------------------------------- answers -- */

static void find_top(work *w, pl_surface *out)
{
    double x[MOST], best[MOST] = { 0 }, t = pl_t_quantile(0.975, w->df), se;
    box all = whole_box(w);

    out->inside = flat_top(w, best);
    for (size_t n = 0; n < places(w) && !out->inside; n++) {
        place(w, &all, n, x);
        if (tried(w, x) && height_at(w, x) > height_at(w, best))
            memcpy(best, x, sizeof best);
    }
    if (!out->inside)
        climb(w, best);
    for (size_t i = 0; i < w->k; i++)
        out->axes[i].top_si = decoded(&w->s->factors[i], best[i]);
    se = se_at(w, best);
    out->height = height_at(w, best);
    out->low = out->height - t * se;
    out->high = out->height + t * se;
}

/* Least and largest of each factor over the places of the box that may be flat; what is known of
 * them already stays. False: none yet. */
static bool look(const work *w, const box *in, gsl_matrix *v, gsl_vector *d, gsl_vector *z,
                 bool some, box *seen)
{
    double x[MOST], point = pl_f_quantile_upper(0.05, (double)w->k, w->df);

    for (size_t n = 0; n < places(w); n++) {
        place(w, in, n, x);
        if (!tried(w, x) || flatness(w, x, v, d, z) > point)
            continue;
        for (size_t i = 0; i < w->k; i++) {
            seen->low[i] = some ? fmin(seen->low[i], x[i]) : x[i];
            seen->high[i] = some ? fmax(seen->high[i], x[i]) : x[i];
        }
        some = true;
    }
    return some;
}

/* Half a place outward: the border lies between two that were looked at. */
static void write_axis(const box *in, const box *seen, size_t i, pl_surface_axis *axis)
{
    double low = fmax(-1, seen->low[i] - in->step[i] / 2);
    double high = fmin(1, seen->high[i] + in->step[i] / 2);

    axis->low_si = decoded(axis->factor, low);
    axis->high_si = decoded(axis->factor, high);
    axis->low_open = low <= -1;
    axis->high_open = high >= 1;
}

static pl_code find_flat(work *w, pl_surface *out)
{
    gsl_matrix *v = matrix(w, w->k, w->k);
    gsl_vector *d = vector(w, w->k), *z = vector(w, w->k);
    box in = whole_box(w), seen = { 0 };
    double top[MOST] = { 0 };
    bool some;

    if (!v || !d || !z)
        return pl_nomem(w->d);
    some = flat_top(w, top); /* level as fitted */
    memcpy(seen.low, top, sizeof top);
    memcpy(seen.high, top, sizeof top);
    for (int pass = 0; pass < PASSES; pass++) {
        some = look(w, &in, v, d, z, some, &seen);
        for (size_t i = 0; i < w->k && some && pass + 1 < PASSES; i++) {
            in.low[i] = fmax(-1, seen.low[i] - in.step[i]);
            in.high[i] = fmin(1, seen.high[i] + in.step[i]);
        }
        if (some && pass + 1 < PASSES)
            set_steps(w, &in);
    }
    for (size_t i = 0; i < w->k; i++) {
        out->axes[i].factor = &w->s->factors[i];
        out->axes[i].low_si = out->axes[i].high_si = NAN;
        if (some)
            write_axis(&in, &seen, i, &out->axes[i]);
    }
    return PL_OK;
}

pl_code pl_fit_surface(pl_arena *a, const pl_study *s, const pl_table *t, const char *const *blocks,
                       size_t nblock, const pl_surface **out, pl_diags *d)
{
    work w = { .a = a, .d = d, .s = s, .k = s->nfactor };
    pl_surface *found = PL_NEW(a, pl_surface);
    pl_code rc;

    *out = NULL;
    if (!found)
        return pl_nomem(d);
    if (!all_measured(s))
        return PL_OK;
    w.ncol = 1 + w.k + w.k * (w.k + 1) / 2;
    rc = pl_fit_units(a, t, "glue_up", "strength", &w.units, d);
    if (!rc)
        rc = code_units(&w);
    if (!rc)
        rc = fill_design(&w, blocks, nblock);
    if (rc || !w.design)
        return rc;
    rc = solve(&w);
    if (rc || w.df < 1)
        return rc;
    *found = (pl_surface){ .nfactor = w.k, .df = w.df, .unit = pl_table_find(t, "strength")->unit };
    find_top(&w, found);
    rc = find_flat(&w, found);
    if (!rc)
        *out = found;
    return rc;
}
