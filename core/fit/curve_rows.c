/* Units with their block effects taken out, in long double and, for searches, in double; and the
 * small least squares on what is left. Curves are core/fit/curve_work.c. */
#include "fit/curve_rows.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fit/units.h"

/* A block column whose part outside the constant and the columns before it is below this share
 * of its length depends on them: block columns hold small whole numbers and their averages, so
 * what is left is either of order 0.01 or rounding. */
#define DEPENDS 1e-9L
/* The same for columns of a fit in long double (1e-19): those that depend leave rounding. */
#define DEPENDS_LONG 1e-15L
/* Apply reflectors instead of a dense T once T would cost more. */
#define DENSE_COST(m, n, q) ((m) * (m) / 2 <= 4 * (n) * (q) || (m) <= 64)

static long double dot(const long double *a, const long double *b, size_t n)
{
    long double s = 0;

    for (size_t i = 0; i < n; i++)
        s += a[i] * b[i];
    return s;
}

/* The level that stands at -1: the last one that is in the even average. */
static size_t base_level(const pl_block_factor *f)
{
    size_t base = f->nlevel ? f->nlevel - 1 : 0;

    while (base && f->apart && f->apart[base])
        base--;
    return base;
}

/* One column of a sum-to-zero coded factor: +1 at level b, -1 at the base unless b stands apart,
 * averaged over the rows of each unit. */
static void block_column(const pl_block_factor *f, size_t b, size_t base, const size_t *unit_of,
                         size_t nrow, const size_t *count, size_t nunit, long double *out)
{
    const bool apart = f->apart && f->apart[b];

    memset(out, 0, nunit * sizeof *out);
    for (size_t i = 0; i < nrow; i++) {
        if (unit_of[i] == PL_NO_UNIT || f->code[i] < 0)
            continue;
        if ((size_t)f->code[i] == b)
            out[unit_of[i]] += 1;
        else if (!apart && (size_t)f->code[i] == base)
            out[unit_of[i]] -= 1;
    }
    for (size_t k = 0; k < nunit; k++)
        if (count[k])
            out[k] /= (long double)count[k];
}

/* Takes the span of the first k orthonormal vectors out of v, twice for safety; true when
 * something independent is left, which then becomes vector k. */
static bool join_basis(long double *basis, size_t k, long double *v, size_t n)
{
    long double length = sqrtl(dot(v, v, n)), rest;

    for (int pass = 0; pass < 2; pass++)
        for (size_t j = 0; j < k; j++) {
            long double s = dot(basis + j * n, v, n);

            for (size_t i = 0; i < n; i++)
                v[i] -= s * basis[j * n + i];
        }
    rest = sqrtl(dot(v, v, n));
    if (!(rest > DEPENDS * length) || length == 0)
        return false;
    for (size_t i = 0; i < n; i++)
        basis[k * n + i] = v[i] / rest;
    return true;
}

pl_code pl_curve_blocks(pl_arena *a, const pl_block_factor *factors, size_t nfactor,
                        const size_t *unit_of, size_t nrow, size_t nunit, const double **out,
                        size_t *ncol, pl_diags *d)
{
    size_t most = 0, kept = 0;
    size_t *count = PL_NEWN(a, nunit, size_t);
    long double *basis, *v = PL_NEWN(a, nunit, long double);
    double *columns, *rows;

    for (size_t f = 0; f < nfactor; f++)
        most += factors[f].nlevel ? factors[f].nlevel - 1 : 0;
    basis = PL_NEWN(a, (most + 1) * nunit, long double);
    columns = PL_NEWN(a, most * nunit, double);
    rows = PL_NEWN(a, most * nunit, double);
    if (!count || !v || !basis || !columns || !rows)
        return pl_nomem(d);
    for (size_t i = 0; i < nrow; i++)
        if (unit_of[i] != PL_NO_UNIT)
            count[unit_of[i]]++;
    for (size_t i = 0; i < nunit; i++)
        v[i] = 1;
    join_basis(basis, 0, v, nunit);
    for (size_t f = 0; f < nfactor; f++)
        for (size_t b = 0, base = base_level(&factors[f]); b < factors[f].nlevel; b++) {
            if (b == base)
                continue;
            block_column(&factors[f], b, base, unit_of, nrow, count, nunit, v);
            for (size_t i = 0; i < nunit; i++)
                columns[kept * nunit + i] = (double)v[i];
            kept += kept + 1 < nunit && join_basis(basis, kept + 1, v, nunit);
        }
    for (size_t i = 0; i < nunit; i++)
        for (size_t j = 0; j < kept; j++)
            rows[i * kept + j] = columns[j * nunit + i];
    *out = rows;
    *ncol = kept;
    return PL_OK;
}

/* The reflector that turns v[from..n) into a multiple of the first axis, scaled so that
 * applying it is x - w (w'x); returns that multiple. Golub 1965. */
static long double reflector(long double *v, size_t from, size_t n)
{
    long double length = sqrtl(dot(v + from, v + from, n - from)), scale;

    memset(v, 0, from * sizeof *v);
    if (length == 0)
        return 0;
    if (v[from] > 0)
        length = -length;
    v[from] -= length;
    scale = sqrtl(2 / dot(v + from, v + from, n - from));
    for (size_t i = from; i < n; i++)
        v[i] *= scale;
    return length;
}

static void reflect(const long double *w, size_t from, size_t n, long double *x)
{
    long double s = dot(w + from, x + from, n - from);

    for (size_t i = from; i < n; i++)
        x[i] -= s * w[i];
}

/* v over a root of the units' covariance. */
static void even_out(const pl_curve_rows *r, long double *v)
{
    const pl_curve_scatter *s = r->scatter;

    if (!s)
        return;
    for (size_t i = 0; i < r->n && s->sd; i++)
        v[i] /= s->sd[i];
    if (s->block) {
        memset(r->room, 0, s->nblock * sizeof *r->room);
        for (size_t i = 0; i < r->n; i++)
            r->room[s->block[i]] += v[i];
        for (size_t i = 0; i < r->n; i++)
            v[i] -= s->shrink[s->block[i]] * r->room[s->block[i]];
    }
    for (size_t i = 0; i < r->n && s->root; i++) {
        const long double *row = s->root + i * r->n;

        for (size_t j = 0; j < i; j++)
            v[i] -= row[j] * v[j];
        v[i] /= row[i];
    }
}

void pl_curve_rows_leave(const pl_curve_rows *r, long double *v)
{
    even_out(r, v);
    for (size_t j = 0; j < r->q; j++)
        reflect(r->reflectors + j * r->n, j, r->n, v);
}

void pl_curve_rows_turn(const pl_curve_rows *r, long double *v, double *z)
{
    for (size_t j = 0; j < r->q; j++)
        reflect(r->reflectors + j * r->n, j, r->n, v);
    if (r->weight) { /* no blocks: units at one x act through their mean */
        memset(z, 0, r->rows * sizeof *z);
        for (size_t i = 0; i < r->n; i++)
            z[r->place[i]] += (double)v[i] / r->weight[r->place[i]];
        return;
    }
    for (size_t k = 0; k < r->rows && r->turns; k++)
        reflect(r->turns + k * r->n + r->q, k, r->left, v + r->q);
    for (size_t k = 0; k < r->rows; k++)
        z[k] = (double)v[r->q + k];
}

void pl_curve_rows_block_part(const pl_curve_rows *r, long double *v)
{
    pl_curve_rows_leave(r, v);
    memset(v + r->q, 0, r->left * sizeof *v);
    for (size_t j = r->q; j-- > 0;)
        reflect(r->reflectors + j * r->n, j, r->n, v);
    for (size_t i = 0; i < r->n && r->scatter && r->scatter->sd; i++)
        v[i] *= r->scatter->sd[i];
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

static void find_distinct(pl_curve_rows *r)
{
    memcpy(r->distinct, r->x, r->n * sizeof *r->x);
    qsort(r->distinct, r->n, sizeof *r->distinct, rising);
    r->m = 0;
    for (size_t i = 0; i < r->n; i++)
        if (!r->m || r->distinct[i] != r->distinct[r->m - 1])
            r->distinct[r->m++] = r->distinct[i];
    for (size_t i = 0; i < r->n; i++) {
        const double *at = bsearch(&r->x[i], r->distinct, r->m, sizeof *r->distinct, rising);

        r->place[i] = (size_t)(at - r->distinct);
    }
}

/* No blocks: units at one x act through their mean. */
static pl_code make_diagonal(pl_arena *a, pl_curve_rows *r, pl_diags *d)
{
    long double *mean = PL_NEWN(a, r->m, long double), *count = PL_NEWN(a, r->m, long double);
    long double rest = 0;

    r->weight = PL_NEWN(a, r->m, double);
    if (!mean || !count || !r->weight)
        return pl_nomem(d);
    for (size_t i = 0; i < r->n; i++) {
        mean[r->place[i]] += r->y[i];
        count[r->place[i]] += 1;
    }
    for (size_t k = 0; k < r->m; k++)
        mean[k] /= count[k];
    for (size_t i = 0; i < r->n; i++) {
        long double e = r->y[i] - mean[r->place[i]];

        rest += e * e;
    }
    for (size_t k = 0; k < r->m; k++) {
        r->weight[k] = (double)sqrtl(count[k]);
        r->z[k] = (double)(sqrtl(count[k]) * mean[k]);
    }
    r->rows = r->m;
    r->rest = (double)rest;
    return PL_OK;
}

/* Few distinct x: the columns "is at this x" are factored once, and T is their triangle. */
static pl_code make_triangle(pl_arena *a, pl_curve_rows *r, pl_diags *d)
{
    const size_t rows = r->m < r->left ? r->m : r->left;
    long double *column = PL_NEWN(a, r->n * r->m, long double);
    long double *z = PL_NEWN(a, r->left, long double);
    long double rest = 0;

    r->T = PL_NEWN(a, rows * r->m, double);
    if (!column || !z || !r->T)
        return pl_nomem(d);
    memcpy(z, r->y_left, r->left * sizeof *z);
    for (size_t i = 0; i < r->n; i++)
        column[r->place[i] * r->n + i] = 1;
    for (size_t k = 0; k < r->m; k++)
        pl_curve_rows_leave(r, column + k * r->n);
    for (size_t k = 0; k < r->m; k++) {
        long double *v = column + k * r->n + r->q;

        for (size_t i = 0; i < (k < rows ? k : rows); i++)
            r->T[i * r->m + k] = (double)v[i];
        if (k >= rows)
            continue;
        r->T[k * r->m + k] = (double)reflector(v, k, r->left);
        for (size_t l = k + 1; l < r->m; l++)
            reflect(v, k, r->left, column + l * r->n + r->q);
        reflect(v, k, r->left, z);
    }
    for (size_t i = 0; i < rows; i++)
        r->z[i] = (double)z[i];
    for (size_t i = rows; i < r->left; i++)
        rest += z[i] * z[i];
    r->rows = rows;
    r->turns = column;
    r->rest = (double)rest;
    return PL_OK;
}

static pl_code make_reflected(pl_arena *a, pl_curve_rows *r, pl_diags *d)
{
    r->quick = PL_NEWN(a, r->n * r->q, double);
    if (!r->quick)
        return pl_nomem(d);
    for (size_t i = 0; i < r->n * r->q; i++)
        r->quick[i] = (double)r->reflectors[i];
    for (size_t i = 0; i < r->left; i++)
        r->z[i] = (double)r->y_left[i];
    r->rows = r->left;
    r->rest = 0;
    return PL_OK;
}

static pl_code make_quick(pl_arena *a, pl_curve_rows *r, pl_diags *d)
{
    double *ones = PL_NEWN(a, r->m, double);
    pl_code rc;

    r->z = PL_NEWN(a, r->n, double);
    r->one = PL_NEWN(a, r->n, double);
    if (!ones || !r->z || !r->one)
        return pl_nomem(d);
    if (!r->q && !r->scatter)
        rc = make_diagonal(a, r, d);
    else if (r->scatter || DENSE_COST(r->m, r->n, r->q))
        rc = make_triangle(a, r, d);
    else
        rc = make_reflected(a, r, d);
    if (rc)
        return rc;
    for (size_t k = 0; k < r->m; k++)
        ones[k] = 1;
    pl_curve_rows_map(r, ones, r->one);
    return PL_OK;
}

pl_code pl_curve_rows_make(pl_arena *a, const double *x, const double *y, size_t n,
                           const double *block, size_t q, const pl_curve_scatter *scatter,
                           pl_curve_rows *out, pl_diags *d)
{
    pl_curve_rows r = { .n = n, .x = x, .y = y, .q = q, .scatter = scatter };
    long double *v;

    if (n <= q)
        return pl_fail(d, PL_EDATA, "",
                       .found = pl_arena_printf(d->arena, "%zu units and %zu block effects", n, q),
                       .expected = "more units than block effects");
    r.left = n - q;
    r.reflectors = PL_NEWN(a, n * q, long double);
    v = PL_NEWN(a, n, long double);
    r.distinct = PL_NEWN(a, n, double);
    r.place = PL_NEWN(a, n, size_t);
    r.scratch = PL_NEWN(a, n, double);
    r.room = PL_NEWN(a, scatter ? scatter->nblock : 0, long double);
    if (!r.room || !r.reflectors || !v || !r.distinct || !r.place || !r.scratch)
        return pl_nomem(d);
    for (size_t j = 0; j < q; j++)
        for (size_t i = 0; i < n; i++)
            r.reflectors[j * n + i] = block[i * q + j];
    for (size_t j = 0; j < q; j++)
        even_out(&r, r.reflectors + j * n);
    for (size_t j = 0; j < q; j++) {
        reflector(r.reflectors + j * n, j, n);
        for (size_t l = j + 1; l < q; l++)
            reflect(r.reflectors + j * n, j, n, r.reflectors + l * n);
    }
    for (size_t i = 0; i < n; i++)
        v[i] = y[i];
    pl_curve_rows_leave(&r, v);
    r.y_left = v + q;
    find_distinct(&r);
    *out = r;
    return make_quick(a, out, d);
}

void pl_curve_rows_map(const pl_curve_rows *r, const double *c, double *out)
{
    if (r->weight) {
        for (size_t k = 0; k < r->m; k++)
            out[k] = r->weight[k] * c[k];
    } else if (r->T) {
        for (size_t i = 0; i < r->rows; i++) {
            const double *row = r->T + i * r->m;
            double s = 0;

            for (size_t k = i; k < r->m; k++)
                s += row[k] * c[k];
            out[i] = s;
        }
    } else {
        double *v = r->scratch;

        for (size_t i = 0; i < r->n; i++)
            v[i] = c[r->place[i]];
        for (size_t j = 0; j < r->q; j++) {
            const double *w = r->quick + j * r->n;
            double s = 0;

            for (size_t i = j; i < r->n; i++)
                s += w[i] * v[i];
            for (size_t i = j; i < r->n; i++)
                v[i] -= s * w[i];
        }
        memcpy(out, v + r->q, r->left * sizeof *out);
    }
}

/* (R'R)^-1 from the triangle whose column j stands above the diagonal of column j, with its
 * diagonal in diag. */
static void invert(const long double *X, const long double *diag, size_t n, size_t p,
                   long double *inverse)
{
    /* column j of R^-1, by back substitution, kept in inverse[.][j] for now */
    for (size_t j = 0; j < p; j++) {
        for (size_t i = 0; i < p; i++)
            inverse[i * p + j] = 0;
        inverse[j * p + j] = 1 / diag[j];
        for (size_t i = j; i-- > 0;) {
            long double s = 0;

            for (size_t k = i + 1; k <= j; k++)
                s += X[k * n + i] * inverse[k * p + j];
            inverse[i * p + j] = -s / diag[i];
        }
    }
    /* rows i <= j of R^-1 R^-T only need rows that come later: in place, from the top */
    for (size_t i = 0; i < p; i++)
        for (size_t j = i; j < p; j++) {
            long double s = 0;

            for (size_t k = j; k < p; k++)
                s += inverse[i * p + k] * inverse[j * p + k];
            inverse[i * p + j] = s;
        }
    for (size_t i = 0; i < p; i++)
        for (size_t j = 0; j < i; j++)
            inverse[i * p + j] = inverse[j * p + i];
}

bool pl_long_lsq(long double *X, long double *y, size_t n, size_t p, long double *beta,
                 long double *inverse, long double *residual, long double *rss)
{
    enum { MOST = 64 };
    long double diag_room[MOST], *diag = diag_room;
    bool full = n >= p;

    if (p > MOST)
        return false;
    for (size_t j = 0; j < p && full; j++) {
        long double *v = X + j * n, above = dot(v, v, j), length;
        long double keep[MOST];

        length = sqrtl(above + dot(v + j, v + j, n - j));
        memcpy(keep, v, j * sizeof *v);
        diag[j] = reflector(v, j, n);
        for (size_t k = j + 1; k < p; k++)
            reflect(v, j, n, X + k * n);
        reflect(v, j, n, y);
        memcpy(v, keep, j * sizeof *v); /* the triangle's entries above the diagonal */
        full = fabsl(diag[j]) > DEPENDS_LONG * length;
    }
    if (!full)
        return false;
    for (size_t j = p; j-- > 0;) {
        beta[j] = y[j];
        for (size_t k = j + 1; k < p; k++)
            beta[j] -= X[k * n + j] * beta[k];
        beta[j] /= diag[j];
    }
    *rss = dot(y + p, y + p, n - p);
    if (residual) {
        memset(residual, 0, p * sizeof *residual);
        memcpy(residual + p, y + p, (n - p) * sizeof *residual);
        for (size_t j = p; j-- > 0;)
            reflect(X + j * n, j, n, residual);
    }
    if (inverse)
        invert(X, diag, n, p, inverse);
    return true;
}
