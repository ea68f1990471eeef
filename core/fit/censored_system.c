/* Columns made orthonormal, the likelihood with its derivatives, and Newton's steps. What is fitted
 * and asked is censored.c's and censored_curve.c's; one reading's part censored_row.c's. */
#include "fit/censored_system.h"

#include <float.h>
#include <math.h>
#include <string.h>

#include <gsl/gsl_linalg.h>

/* What is left of a column after those before it, below this share of its length: it depends on
 * them. Doubles, orthogonalised twice, leave 1e-15. */
#define RANK_TOL 1e-10
#define STEPS_MOST 300
#define LN_SQRT_2PI 0.91893853320467274178

static double dot(const double *a, const double *b, size_t n)
{
    double s = 0;

    for (size_t i = 0; i < n; i++)
        s += a[i] * b[i];
    return s;
}

/* ---- columns ---- */

/* Numbers the rows by what their last q columns hold; their count, at most p + 1. first: room for
 * n. */
static size_t number_blocks(const double *X, size_t n, size_t p, size_t q, int *block,
                            size_t *first)
{
    size_t count = 0;

    for (size_t i = 0; i < n; i++) {
        size_t b = 0;

        while (b < count &&
               (q && memcmp(X + first[b] * p + p - q, X + i * p + p - q, q * sizeof *X) != 0))
            b++;
        if (b == count) {
            if (count == p)
                return p + 1; /* more than the columns can span */
            first[count++] = i;
        }
        block[i] = (int)b;
    }
    return count;
}

/* Takes out of column v (n) its part along the blocks and the k columns kept, twice for safety, and
 * adds the parts up in r (blocks first). */
static void take_out(const pl_censored_system *s, double *const *kept, size_t k, double *v,
                     double *r, double *room)
{
    for (int pass = 0; pass < 2; pass++) {
        memset(room, 0, s->nblock * sizeof *room);
        for (size_t i = 0; i < s->n && s->nblock; i++)
            room[s->block[i]] += v[i] * s->size[s->block[i]];
        for (size_t i = 0; i < s->n && s->nblock; i++)
            v[i] -= room[s->block[i]] * s->size[s->block[i]];
        for (size_t b = 0; b < s->nblock; b++)
            r[b] += room[b];
        for (size_t j = 0; j < k; j++) {
            double part = dot(kept[j], v, s->n);

            r[s->nblock + j] += part;
            for (size_t i = 0; i < s->n; i++)
                v[i] -= part * kept[j][i];
        }
    }
}

/* Orthonormal columns in the order of X, blocks set apart; how many columns there are in all.
 * *dependent: the first of X that adds nothing and has to (p: none). */
static size_t orthogonalise(pl_censored_frame *f, const double *X, double *const *kept,
                            double *room, size_t *dependent)
{
    pl_censored_system *s = &f->system;
    const size_t n = s->n, p = f->count;
    double *r = room + s->nblock;

    *dependent = p;
    s->p = 0;
    for (size_t j = 0; j < p; j++) {
        double *v, length, left;

        if (s->nblock + s->p > p)
            return s->nblock + s->p; /* the blocks hold more than X does */
        v = kept[s->p];
        for (size_t i = 0; i < n; i++)
            v[i] = X[i * p + j];
        length = sqrt(dot(v, v, n));
        memset(r, 0, (s->nblock + s->p) * sizeof *r);
        take_out(s, kept, s->p, v, r, room);
        left = sqrt(dot(v, v, n));
        for (size_t k = 0; k < s->nblock + s->p; k++)
            f->R[k * p + j] = r[k];
        if (left > RANK_TOL * length) {
            if (s->nblock + s->p < p)
                f->R[(s->nblock + s->p) * p + j] = left;
            for (size_t i = 0; i < n; i++)
                v[i] /= left;
            s->p++;
        } else if (*dependent == p) {
            *dependent = j;
        }
    }
    return s->nblock + s->p;
}

/* Factors of the p x p matrix in R, or of its transpose; false: it is singular. */
static bool factor_square(const double *R, size_t p, bool turned, double *factor, size_t *swaps)
{
    gsl_matrix_view m = gsl_matrix_view_array(factor, p, p);
    gsl_permutation order = { p, swaps };
    double least = INFINITY, most = 0;
    int sign;

    for (size_t i = 0; i < p; i++)
        for (size_t j = 0; j < p; j++)
            factor[i * p + j] = turned ? R[j * p + i] : R[i * p + j];
    gsl_linalg_LU_decomp(&m.matrix, &order, &sign);
    for (size_t j = 0; j < p; j++) {
        least = fmin(least, fabs(factor[j * p + j]));
        most = fmax(most, fabs(factor[j * p + j]));
    }
    return least > 1e-3 * RANK_TOL * most;
}

static bool make_room(pl_arena *a, pl_censored_frame *f, size_t n, size_t p, size_t spare)
{
    f->R = PL_NEWN(a, p * p, double);
    f->factor = PL_NEWN(a, p * p, double);
    f->turned = PL_NEWN(a, p * p, double);
    f->swaps = PL_NEWN(a, p, size_t);
    f->turned_swaps = PL_NEWN(a, p, size_t);
    f->system.stride = p + spare;
    f->system.z = PL_NEWN(a, n * f->system.stride, double);
    return f->R && f->factor && f->turned && f->swaps && f->turned_swaps && f->system.z;
}

pl_code pl_censored_frame_make(pl_arena *a, const double *X, size_t n, size_t p, size_t q,
                               size_t spare, pl_censored_frame *out, size_t *dependent, pl_diags *d)
{
    pl_censored_frame f = { .count = p, .system = { .n = n } };
    int *block = PL_NEWN(a, n, int);
    size_t *first = PL_NEWN(a, n, size_t), all;
    double **kept = PL_NEWN(a, p + 1, double *), *size = PL_NEWN(a, n, double),
           *room = PL_NEWN(a, n + 2 * p + 2, double);

    *out = f;
    *dependent = p;
    if (!block || !first || !kept || !size || !room || !make_room(a, &f, n, p, spare))
        return pl_nomem(d);
    for (size_t j = 0; j <= p; j++)
        if (!(kept[j] = PL_NEWN(a, n, double)))
            return pl_nomem(d);
    f.system.block = block;
    f.system.size = size;
    f.system.nblock = number_blocks(X, n, p, q, block, first);
    if (f.system.nblock > p)
        f.system.nblock = 0;
    for (size_t i = 0; i < n && f.system.nblock; i++)
        size[block[i]] += 1;
    for (size_t b = 0; b < f.system.nblock; b++)
        size[b] = 1 / sqrt(size[b]);
    all = orthogonalise(&f, X, kept, room, dependent);
    if (f.system.nblock && (all != p || !factor_square(f.R, p, false, f.factor, f.swaps))) {
        f.system.nblock = 0; /* they span something else */
        memset(f.R, 0, p * p * sizeof *f.R);
        all = orthogonalise(&f, X, kept, room, dependent);
    }
    if (all != p) {
        *out = f;
        return PL_OK;
    }
    *dependent = p;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < f.system.p; j++)
            f.system.z[i * f.system.stride + j] = kept[j][i];
    (void)factor_square(f.R, p, false, f.factor, f.swaps);
    (void)factor_square(f.R, p, true, f.turned, f.turned_swaps);
    *out = f;
    return PL_OK;
}

static void solve_square(double *factor, size_t *swaps, size_t p, double *b)
{
    gsl_matrix_view m = gsl_matrix_view_array(factor, p, p);
    gsl_vector_view v = gsl_vector_view_array(b, p);
    gsl_permutation order = { p, swaps };

    gsl_linalg_LU_svx(&m.matrix, &order, &v.vector);
}

void pl_censored_frame_solve(const pl_censored_frame *f, double *b)
{
    solve_square(f->factor, f->swaps, f->count, b);
}

void pl_censored_frame_solve_turned(const pl_censored_frame *f, double *b)
{
    solve_square(f->turned, f->turned_swaps, f->count, b);
}

/* ---- the likelihood ---- */

/* H: nblock on the blocks' diagonal, nblock x w between blocks and the rest, w x w of the rest (the
 * lower triangle), w = p + 1 with tau last. */
typedef struct arrow {
    double *D, *C, *E;
    size_t w;
} arrow;

static arrow arrow_of(const pl_censored_system *s, double *H)
{
    const size_t w = s->p + 1;

    return (arrow){ H, H + s->nblock, H + s->nblock * (1 + w), w };
}

size_t pl_censored_second(const pl_censored_system *s)
{
    const size_t w = s->p + 1;

    return s->nblock * (1 + w) + w * w;
}

size_t pl_censored_desk(const pl_censored_system *s)
{
    return 2 * pl_censored_second(s) + 5 * pl_censored_count(s);
}

/* An exact reading of a normal law needs no function but the logarithm of tau, known already. */
static void exact_normal(double y, double eta, double tau, double log_tau, pl_row_part *out)
{
    const double e = tau * y - eta;

    *out = (pl_row_part){
        log_tau - 0.5 * e * e - LN_SQRT_2PI, e, 1 / tau - e * y, -1, y, -y * y - 1 / (tau * tau)
    };
}

static void add_second(const pl_censored_system *s, const arrow *h, size_t i, const pl_row_part *r)
{
    const double *z = s->z + i * s->stride;
    const size_t p = s->p;

    for (size_t j = 0; j < p; j++) {
        const double x = r->hee * z[j];

        for (size_t k = 0; k <= j; k++)
            h->E[j * h->w + k] -= x * z[k];
        h->E[p * h->w + j] -= r->het * z[j];
    }
    h->E[p * h->w + p] -= r->htt;
    if (s->nblock) {
        const size_t b = (size_t)s->block[i];
        const double x = s->size[b];
        double *C = h->C + b * h->w;

        h->D[b] -= r->hee * x * x;
        for (size_t j = 0; j < p; j++)
            C[j] -= r->hee * x * z[j];
        C[p] -= r->het * x;
    }
}

double pl_censored_at(const pl_censored_system *s, const double *theta, double *g, double *H)
{
    const size_t n = s->n, B = s->nblock, p = s->p;
    const double tau = theta[B + p], log_tau = tau > 0 ? log(tau) : 0, *delta = theta + B;
    double sum = 0;
    arrow h = { 0 };

    if (!(tau > 0))
        return -INFINITY;
    if (g) {
        memset(g, 0, pl_censored_count(s) * sizeof *g);
        memset(H, 0, pl_censored_second(s) * sizeof *H);
        h = arrow_of(s, H);
    }
    for (size_t i = 0; i < n; i++) {
        const double *z = s->z + i * s->stride;
        double eta = B ? theta[s->block[i]] * s->size[s->block[i]] : 0;
        pl_row_part r;

        for (size_t j = 0; j < p; j++)
            eta += z[j] * delta[j];
        if (s->low[i] == s->high[i] && s->law != PL_LAW_WEIBULL)
            exact_normal(s->low[i], eta, tau, log_tau, &r);
        else
            pl_row_likelihood(s->law, s->low[i], s->high[i], eta, tau, &r);
        if (!isfinite(r.value))
            return -INFINITY;
        sum += r.value;
        if (!g)
            continue;
        if (B)
            g[s->block[i]] += r.ge * s->size[s->block[i]];
        for (size_t j = 0; j < p; j++)
            g[B + j] += r.ge * z[j];
        g[B + p] += r.gt;
        add_second(s, &h, i, &r);
    }
    return isfinite(sum) ? sum : -INFINITY;
}

double pl_censored_entry(const pl_censored_system *s, const double *H, size_t j, size_t k)
{
    const size_t B = s->nblock, w = s->p + 1;

    if (j < k)
        return pl_censored_entry(s, H, k, j);
    if (j < B)
        return j == k ? H[j] : 0;
    return k < B ? H[B + k * w + j - B] : H[B * (1 + w) + (j - B) * w + k - B];
}

/* ---- solving ---- */

bool pl_censored_factor(const pl_censored_system *s, const double *H, double ridge, double less,
                        double *factors)
{
    const size_t B = s->nblock, w = s->p + 1;
    const double *C = H + B, *E = H + B * (1 + w);
    double *D = factors, *S = factors + B;

    for (size_t b = 0; b < B; b++) {
        D[b] = H[b] + ridge * (H[b] + 1e-3) - less;
        if (!(D[b] > DBL_MIN))
            return false;
    }
    for (size_t j = 0; j < w; j++)
        for (size_t k = 0; k <= j; k++)
            S[j * w + k] = E[j * w + k] + (j == k ? ridge * (E[j * w + j] + 1e-3) - less : 0);
    for (size_t b = 0; b < B; b++)
        for (size_t j = 0; j < w; j++) {
            const double x = C[b * w + j] / D[b];

            for (size_t k = 0; k <= j; k++)
                S[j * w + k] -= x * C[b * w + k];
        }
    for (size_t j = 0; j < w; j++)
        for (size_t k = 0; k <= j; k++) {
            double x = S[j * w + k] - dot(S + j * w, S + k * w, k);

            if (j == k && !(x > 1e-14 * E[j * w + j] && x > DBL_MIN))
                return false;
            S[j * w + k] = j == k ? sqrt(x) : x / S[k * w + k];
        }
    return true;
}

void pl_censored_back(const pl_censored_system *s, const double *H, const double *factors,
                      const double *b, double *x)
{
    const size_t B = s->nblock, w = s->p + 1;
    const double *C = H + B, *D = factors, *S = factors + B;
    double *y = x + B;

    for (size_t j = 0; j < w; j++)
        y[j] = b[B + j];
    for (size_t k = 0; k < B; k++) {
        x[k] = b[k] / D[k];
        for (size_t j = 0; j < w; j++)
            y[j] -= C[k * w + j] * x[k];
    }
    for (size_t j = 0; j < w; j++)
        y[j] = (y[j] - dot(S + j * w, y, j)) / S[j * w + j];
    for (size_t j = w; j-- > 0;) {
        for (size_t k = j + 1; k < w; k++)
            y[j] -= S[k * w + j] * y[k];
        y[j] /= S[j * w + j];
    }
    for (size_t k = 0; k < B; k++)
        x[k] -= dot(C + k * w, y, w) / D[k];
}

/* Newton's step, without a part along the condition; what it gains, twice. */
static double newton(const pl_censored_system *s, const double *g, const double *H, double *factors,
                     const double *condition, double *along, double *step)
{
    const size_t m = pl_censored_count(s);
    double ridge = 0, part;

    while (!pl_censored_factor(s, H, ridge, 0, factors) && ridge < 1e6)
        ridge = ridge > 0 ? 10 * ridge : 1e-12;
    pl_censored_back(s, H, factors, g, step);
    if (condition) {
        pl_censored_back(s, H, factors, condition, along);
        part = dot(condition, step, m) / dot(condition, along, m);
        for (size_t j = 0; j < m; j++)
            step[j] -= part * along[j];
        part = dot(condition, step, m) / dot(condition, condition, m); /* rounding */
        for (size_t j = 0; j < m; j++)
            step[j] -= part * condition[j];
    }
    return dot(g, step, m);
}

double pl_censored_climb(const pl_censored_system *s, double *theta, const double *condition,
                         double gain_least, double *desk)
{
    const size_t m = pl_censored_count(s);
    double *g = desk, *H = g + m, *factors = H + pl_censored_second(s),
           *step = factors + pl_censored_second(s), *along = step + m, *next = along + m;
    double value = pl_censored_at(s, theta, g, H);

    for (int turn = 0; turn < STEPS_MOST && isfinite(value); turn++) {
        const double gain = newton(s, g, H, factors, condition, along, step);
        double part = 1, there = -INFINITY;
        int halving = 0;

        if (!isfinite(gain))
            break;
        for (; halving < 60; halving++, part *= 0.5) {
            for (size_t j = 0; j < m; j++)
                next[j] = theta[j] + part * step[j];
            /* most often the whole step serves, and its derivatives are the next ones */
            there = pl_censored_at(s, next, halving ? NULL : g, H);
            if (there >= value - 1e-13 * fabs(value) &&
                (there >= value + 1e-4 * part * gain || gain < 1e-10))
                break;
            there = -INFINITY;
        }
        if (!isfinite(there))
            break;
        memcpy(theta, next, m * sizeof *theta);
        value = halving ? pl_censored_at(s, theta, g, H) : there;
        if (gain < gain_least || theta[m - 1] > PL_CENSORED_TAU_MOST)
            break;
    }
    return value;
}
