/* Least squares by Householder factors in twofold numbers. What the columns mean,
 * and which of them form an effect, is linear.c's and the curves' business. */
#include "fit/lsq.h"

#include <math.h>
#include <string.h>

#include "base/text.h"

/* ------------------------------------------------------------ twofold ---- */

typedef struct factors {
    size_t n, p, rank;
    pl_dd *const *x; /* columns; reflectors and R take their place */
    pl_dd *y;
    size_t *kept; /* columns that are not dependent, in order */
    bool *dependent;
    int *shift, y_shift; /* powers of two that bring the largest entry below 1 */
} factors;

static int shift_of(const pl_dd *v, size_t n)
{
    double most = 0;
    int e = 0;

    for (size_t i = 0; i < n; i++)
        most = fmax(most, fabs(v[i].hi));
    if (most > 0)
        (void)frexp(most, &e);
    return e;
}

static void shift_by(pl_dd *v, size_t n, int e)
{
    for (size_t i = 0; e && i < n; i++)
        v[i] = pl_dd_ldexp(v[i], e);
}

static pl_dd dot(const pl_dd *u, const pl_dd *v, size_t from, size_t n)
{
    pl_dd s = pl_dd_of(0);

    for (size_t i = from; i < n; i++)
        s = pl_dd_mac(s, u[i], v[i]);
    return s;
}

/* v -= u (2 u'v / u'u), with half = u'u / 2 */
static void reflect(const pl_dd *u, pl_dd half, pl_dd *v, size_t from, size_t n)
{
    pl_dd s = pl_dd_neg(pl_dd_div(dot(u, v, from, n), half));

    for (size_t i = from; i < n; i++)
        v[i] = pl_dd_mac(v[i], s, u[i]);
}

/* Column j against those before it; its reflector is used at once, so that the column
 * can hold R: u goes into scratch. */
static void take_column(factors *f, size_t j, double length, pl_dd *u)
{
    size_t k = f->rank;
    pl_dd *x = f->x[j];
    pl_dd ss = dot(x, x, k, f->n), r = pl_dd_sqrt(ss), half;

    if (k >= f->n || !(r.hi > PL_LSQ_RANK_TOL * length)) {
        f->dependent[j] = true;
        return;
    }
    if (x[k].hi > 0)
        r = pl_dd_neg(r);
    /* u = x - r e_k; u'u / 2 = r^2 - r x_k: no cancellation, r and x_k differ in sign */
    half = pl_dd_sub(ss, pl_dd_mul(r, x[k]));
    for (size_t i = k; i < f->n; i++)
        u[i] = x[i];
    u[k] = pl_dd_sub(x[k], r);
    for (size_t l = j + 1; l < f->p; l++)
        reflect(u, half, f->x[l], k, f->n);
    reflect(u, half, f->y, k, f->n);
    x[k] = r;
    f->kept[f->rank++] = j;
}

/* W = inverse of R over the kept columns, rank x rank upper, row-major. */
static void invert(const factors *f, pl_dd *W)
{
    size_t m = f->rank;

    for (size_t c = 0; c < m; c++)
        for (size_t i = c + 1; i-- > 0;) {
            pl_dd s = pl_dd_of(i == c ? 1 : 0);

            for (size_t k = i + 1; k <= c; k++)
                s = pl_dd_sub(s, pl_dd_mul(f->x[f->kept[k]][i], W[k * m + c]));
            W[i * m + c] = pl_dd_div(s, f->x[f->kept[i]][i]);
        }
}

typedef struct answers {
    pl_dd *beta, *inverse, *effect_ss;
    double *beta_d, *inverse_d, *effect_d, *fitted, *residuals;
} answers;

static bool answers_new(pl_arena *a, size_t n, size_t p, answers *s)
{
    s->beta = PL_NEWN(a, p, pl_dd);
    s->inverse = pl_arena_get(a, p, p * sizeof(pl_dd));
    s->effect_ss = PL_NEWN(a, p, pl_dd);
    s->beta_d = PL_NEWN(a, p, double);
    s->inverse_d = pl_arena_get(a, p, p * sizeof(double));
    s->effect_d = PL_NEWN(a, p, double);
    s->fitted = PL_NEWN(a, n, double);
    s->residuals = PL_NEWN(a, n, double);
    return s->beta && s->inverse && s->effect_ss && s->beta_d && s->inverse_d && s->effect_d &&
           s->fitted && s->residuals;
}

/* beta = W z and inverse = W W', back in the caller's scale. */
static void solve(const factors *f, const pl_dd *W, answers *s)
{
    size_t m = f->rank, p = f->p;

    for (size_t i = 0; i < m; i++) {
        size_t ji = f->kept[i];
        pl_dd b = pl_dd_of(0);

        for (size_t k = i; k < m; k++)
            b = pl_dd_mac(b, W[i * m + k], f->y[k]);
        s->beta[ji] = pl_dd_ldexp(b, f->y_shift - f->shift[ji]);
        s->effect_ss[ji] = pl_dd_ldexp(pl_dd_mul(f->y[i], f->y[i]), 2 * f->y_shift);
        for (size_t l = 0; l <= i; l++) {
            size_t jl = f->kept[l];
            pl_dd c = pl_dd_of(0);

            for (size_t k = i; k < m; k++)
                c = pl_dd_mac(c, W[i * m + k], W[l * m + k]);
            c = pl_dd_ldexp(c, -f->shift[ji] - f->shift[jl]);
            s->inverse[ji * p + jl] = s->inverse[jl * p + ji] = c;
        }
    }
    for (size_t j = 0; j < p; j++) {
        s->beta_d[j] = pl_dd_value(s->beta[j]);
        s->effect_d[j] = pl_dd_value(s->effect_ss[j]);
        for (size_t l = 0; l < p; l++)
            s->inverse_d[j * p + l] = pl_dd_value(s->inverse[j * p + l]);
    }
}

/* y - X beta from the untouched copies, twofold. */
static pl_dd residuals(const pl_dd *x, const pl_dd *y, size_t n, size_t p, answers *s)
{
    pl_dd ss = pl_dd_of(0);

    for (size_t i = 0; i < n; i++) {
        pl_dd fit = pl_dd_of(0), r;

        for (size_t j = 0; j < p; j++)
            fit = pl_dd_mac(fit, x[j * n + i], s->beta[j]);
        r = pl_dd_sub(y[i], fit);
        s->fitted[i] = pl_dd_value(fit);
        s->residuals[i] = pl_dd_value(r);
        ss = pl_dd_mac(ss, r, r);
    }
    return ss;
}

static void prepare(factors *f, pl_dd *copy, pl_dd *y_copy)
{
    for (size_t j = 0; j < f->p; j++) {
        memcpy(copy + j * f->n, f->x[j], f->n * sizeof *copy);
        f->shift[j] = shift_of(f->x[j], f->n);
        shift_by(f->x[j], f->n, -f->shift[j]);
    }
    memcpy(y_copy, f->y, f->n * sizeof *y_copy);
    f->y_shift = shift_of(f->y, f->n);
    shift_by(f->y, f->n, -f->y_shift);
}

pl_code pl_lsq_factor(pl_arena *a, pl_dd *const *columns, pl_dd *y, size_t n, size_t p,
                      const double *length, pl_lsq *out, pl_diags *diags)
{
    factors f = { .n = n, .p = p, .x = columns, .y = y };
    answers s;
    bool *dependent = PL_NEWN(a, p, bool);
    bool room = answers_new(a, n, p, &s);
    pl_mark mark = pl_arena_mark(a);
    pl_dd *copy = pl_arena_get(a, p, n * sizeof(pl_dd)), *y_copy = PL_NEWN(a, n, pl_dd);
    pl_dd *u = PL_NEWN(a, n, pl_dd), *W = pl_arena_get(a, p, p * sizeof(pl_dd));
    pl_dd rss;

    f.kept = PL_NEWN(a, p, size_t);
    f.shift = PL_NEWN(a, p, int);
    f.dependent = dependent;
    if (!room || !dependent || !copy || !y_copy || !u || !W || !f.kept || !f.shift)
        return pl_nomem(diags);
    prepare(&f, copy, y_copy);
    for (size_t j = 0; j < p; j++) {
        double own = length ? ldexp(length[j], -f.shift[j])
                            : sqrt(dot(f.x[j], f.x[j], 0, n).hi); /* turned, not stretched */

        take_column(&f, j, own, u);
    }
    invert(&f, W);
    solve(&f, W, &s);
    rss = residuals(copy, y_copy, n, p, &s);
    pl_arena_reset(a, mark);
    *out = (pl_lsq){ .n = n,
                     .p = p,
                     .rank = f.rank,
                     .dependent = dependent,
                     .beta = s.beta_d,
                     .inverse = s.inverse_d,
                     .fitted = s.fitted,
                     .residuals = s.residuals,
                     .effect_ss = s.effect_d,
                     .rss = pl_dd_value(rss),
                     .df = n - f.rank,
                     .beta_dd = s.beta,
                     .inverse_dd = s.inverse,
                     .effect_ss_dd = s.effect_ss,
                     .rss_dd = rss };
    return PL_OK;
}

/* ------------------------------------------------------- with findings ---- */

static const char *column_name(pl_diags *d, const char *const *names, size_t j)
{
    return names ? names[j] : pl_arena_printf(d->arena, "column %zu", j + 1);
}

static pl_code check_finite(const double *X, const double *y, size_t n, size_t p,
                            const char *const *names, pl_diags *d)
{
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(y[i]))
            return pl_fail(
                d, PL_EDOM, "least squares", .expected = "finite numbers",
                .found = pl_arena_printf(d->arena, "%g as response of row %zu", y[i], i + 1));
        for (size_t j = 0; j < p; j++)
            if (!isfinite(X[i * p + j]))
                return pl_fail(d, PL_EDOM, "least squares", .expected = "finite numbers",
                               .found = pl_arena_printf(d->arena, "%g in \"%s\" of row %zu",
                                                        X[i * p + j], column_name(d, names, j),
                                                        i + 1));
    }
    return PL_OK;
}

static pl_code name_dependent(const pl_lsq *f, const char *const *names, pl_diags *d)
{
    pl_code rc = PL_OK;

    for (size_t j = 0; j < f->p; j++)
        if (f->dependent[j])
            rc = pl_fail(d, PL_ERANK, "least squares",
                         .found = pl_arena_printf(d->arena,
                                                  "\"%s\" is made up of the columns before it",
                                                  column_name(d, names, j)),
                         .expected = "columns that each add something",
                         .mend = "leave it out, or measure where it goes its own way");
    return rc;
}

pl_code pl_lsq_solve(pl_arena *a, const double *X, const double *y, size_t n, size_t p,
                     const char *const *names, pl_lsq *out, pl_diags *diags)
{
    pl_dd **x, *all, *yy;
    pl_code rc;

    if (n < p)
        return pl_fail(diags, PL_EDATA, "least squares",
                       .found = pl_arena_printf(diags->arena, "%zu rows", n),
                       .expected = pl_arena_printf(
                           diags->arena, "at least %zu, one for each number to estimate", p));
    rc = check_finite(X, y, n, p, names, diags);
    if (rc)
        return rc;
    x = PL_NEWN(a, p, pl_dd *);
    all = pl_arena_get(a, p, n * sizeof *all);
    yy = PL_NEWN(a, n, pl_dd);
    if (!x || !all || !yy)
        return pl_nomem(diags);
    for (size_t j = 0; j < p; j++) {
        x[j] = all + j * n;
        for (size_t i = 0; i < n; i++)
            x[j][i] = pl_dd_of(X[i * p + j]);
    }
    for (size_t i = 0; i < n; i++)
        yy[i] = pl_dd_of(y[i]);
    rc = pl_lsq_factor(a, x, yy, n, p, NULL, out, diags);
    return rc ? rc : name_dependent(out, names, diags);
}
