/* Equicoordinate points of the multivariate t of contrasts among independent
 * means. Derivation: docs/methods/probability.md. Which contrasts to take is the
 * caller's business. */
#include "base/prob.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_qrng.h>
#include <math.h>
#include <string.h>

#include "base/prob_inner.h"
#include "base/stream.h"

/* The contrasts are unit vectors a_i in the p dimensions they span. With Z
 * standard normal there, R = |Z|, S = chi/sqrt(df) and T_i = a_i.Z / S, the
 * directions where T_i is the largest form a convex cone around a_i. Seen from
 * a_i, let V be the direction of Z across a_i, uniform on a sphere of p - 1
 * dimensions, and psi the angle between Z and a_i: the cone reaches from psi = 0
 * to psi_i(V), cot psi_i = max_j b_j.V / (1 - rho_ij), b_j the part of a_j across
 * a_i, and
 *
 *   P(max T > d) = sum over i of E_V[ K(psi_i(V)) ],
 *   K(psi) = integral from 0 to psi of H(d / cos u) sin(u)^(p-2) du / B(1/2, (p-1)/2),
 *   H(r) = P(R/S > r), a central F(p, df) tail.
 *
 * Radius, spread and the angle psi are integrated exactly; only V is sampled. */

#define COPIES 8        /* randomly turned: their spread gives the error */
#define FIRST_POINTS 64 /* per copy and contrast, to begin with */
#define WORK_MOST 3e9   /* multiply-adds before giving up: about a second */
#define BLOCK 8         /* points taken together */
#define CELLS 256       /* of the angle; cubic within one */
#define SAME_CONTRAST 1e-12
#define RANK_LEAST 1e-10
#define POINT_SEED 20090101 /* any fixed number */

/* Angles are kept as g = 1/(1 + cot psi), 0 to 1. Per contrast, copy and cell of g: sums of
 * 1, e, e^2, e^3 over the angles that fell there, e in [0, 1] across the cell;
 * enough to integrate any cubic. */
typedef double cell_sums[CELLS][4];

/* A block of directions side by side, in pairs that every 64-bit machine takes
 * at once; where it does not, the compiler takes them apart, with the same result. */
typedef double pair __attribute__((vector_size(16), aligned(8)));
typedef long long pair_mask __attribute__((vector_size(16), aligned(8)));
#define PAIRS (BLOCK / 2)

typedef struct multi {
    size_t m, p, q; /* contrasts kept, their rank, q = p - 1 */
    double *a;      /* m x p unit vectors */
    double df;
    bool two_sided;
    double *V;       /* blocks of q x BLOCK */
    double *B;       /* m x q, rows b_j / (1 - rho) */
    double *kappa;   /* m: (1 - rho) / (1 + rho) */
    cell_sums *sums; /* m x COPIES */
    cell_sums *all;  /* their sum */
    size_t points;   /* per copy and contrast so far, mirrored ones not counted */
} multi;

static double dot(const double *x, const double *y, size_t n)
{
    double s = 0;

    for (size_t i = 0; i < n; i++)
        s += x[i] * y[i];
    return s;
}

/* Takes the parts along rows 0..n-1 of Q (orthonormal, stride p) out of x, twice
 * for orthogonality; returns the length left. */
static double sweep_out(double *x, const double *Q, size_t n, size_t p)
{
    for (int twice = 0; twice < 2; twice++)
        for (size_t i = 0; i < n; i++) {
            double s = dot(x, Q + i * p, p);

            for (size_t k = 0; k < p; k++)
                x[k] -= s * Q[i * p + k];
        }
    return sqrt(dot(x, x, p));
}

/* Unit vectors c_ik sqrt(w_k), scaled; PL_EDOM for a row of zeros. */
static pl_code unit_rows(double *u, const double *c, const double *weight, size_t n, size_t K)
{
    for (size_t i = 0; i < n; i++) {
        double length;

        for (size_t k = 0; k < K; k++)
            u[i * K + k] = c[i * K + k] * sqrt(weight[k]);
        length = sqrt(dot(u + i * K, u + i * K, K));
        if (!(length > 0) || isinf(length))
            return PL_EDOM;
        for (size_t k = 0; k < K; k++)
            u[i * K + k] /= length;
    }
    return PL_OK;
}

/* Drops contrasts that repeat an earlier one; returns how many are left. */
static size_t drop_repeats(double *u, size_t n, size_t K, bool two_sided)
{
    size_t m = 0;

    for (size_t i = 0; i < n; i++) {
        bool repeat = false;

        for (size_t j = 0; j < m && !repeat; j++) {
            double rho = dot(u + i * K, u + j * K, K);

            repeat = 1 - (two_sided ? fabs(rho) : rho) < SAME_CONTRAST;
        }
        if (!repeat)
            memmove(u + m++ * K, u + i * K, K * sizeof *u);
    }
    return m;
}

/* Coordinates in an orthonormal basis of the row space; NULL without memory. */
static double *in_own_space(pl_arena *A, const double *u, size_t m, size_t K, size_t *rank)
{
    double *Q = PL_NEWN(A, K * K, double), *x = PL_NEWN(A, K, double), *a;
    size_t p = 0;

    if (!Q || !x)
        return NULL;
    while (p < K) {
        double longest = RANK_LEAST;
        size_t best = m;

        for (size_t i = 0; i < m; i++) {
            memcpy(x, u + i * K, K * sizeof *x);
            double length = sweep_out(x, Q, p, K);

            if (length > longest) {
                longest = length;
                best = i;
            }
        }
        if (best == m)
            break;
        memcpy(x, u + best * K, K * sizeof *x);
        sweep_out(x, Q, p, K);
        for (size_t k = 0; k < K; k++)
            Q[p * K + k] = x[k] / longest;
        p++;
    }
    a = PL_NEWN(A, m * p, double);
    for (size_t i = 0; a && i < m; i++)
        for (size_t k = 0; k < p; k++)
            a[i * p + k] = dot(u + i * K, Q + k * K, K);
    *rank = p;
    return a;
}

/* ------------------------------------------------------------- directions --- */

/* Adds points first..last-1 of the set to V: Sobol numbers with one fixed shift,
 * through normals onto the sphere; on the circle an angle in half a turn, since
 * mirrored directions are taken too. */
static pl_code more_directions(pl_arena *A, multi *M, size_t first, size_t last)
{
    gsl_qrng *qr = NULL;
    double u[40], shift[40];
    pl_stream s;

    if (M->q > 1 && !(qr = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)M->q)))
        return PL_ENOMEM;
    M->V = pl_arena_grow(A, M->V, first * M->q, last * M->q, sizeof *M->V);
    pl_stream_init(&s, POINT_SEED, PL_FOR_PROBABILITY, 0);
    for (size_t k = 0; k < M->q; k++)
        shift[k] = pl_stream_unit(&s);
    for (size_t i = 0; M->V && i < last; i++) {
        double *v = M->V + (i / BLOCK) * BLOCK * M->q + i % BLOCK, length = 0;

        memset(u, 0, sizeof u);
        if (qr && i > 0) /* GSL leaves out the first point, which is 0 */
            gsl_qrng_get(qr, u);
        if (i < first)
            continue;
        for (size_t k = 0; k < M->q; k++) {
            u[k] = u[k] + shift[k] < 1 ? u[k] + shift[k] : u[k] + shift[k] - 1;
            if (M->q > 2)
                u[k] = gsl_cdf_ugaussian_Pinv(u[k]);
        }
        if (M->q == 2) {
            double angle = M_PI * u[0];

            u[0] = cos(angle);
            u[1] = sin(angle);
        }
        if (M->q == 1)
            u[0] = 1;
        length = sqrt(dot(u, u, M->q));
        for (size_t k = 0; k < M->q; k++)
            v[k * BLOCK] = u[k] / length;
    }
    gsl_qrng_free(qr);
    return M->V ? PL_OK : PL_ENOMEM;
}

/* B and kappa as seen from contrast i, in a randomly turned frame across a_i. */
static void look_from(multi *M, size_t i, size_t copy, double *frame)
{
    const size_t p = M->p;
    const double *ai = M->a + i * p;
    pl_stream s;

    pl_stream_init(&s, POINT_SEED, PL_FOR_PROBABILITY, 1 + copy * M->m + i);
    memcpy(frame, ai, p * sizeof *frame);
    for (size_t k = 1; k < p; k++) {
        double *x = frame + k * p, length;

        do {
            for (size_t l = 0; l < p; l++)
                x[l] = pl_stream_normal(&s);
            length = sweep_out(x, frame, k, p);
        } while (length < 1e-3); /* a poor draw; would cost digits */
        for (size_t l = 0; l < p; l++)
            x[l] /= length;
    }
    for (size_t j = 0; j < M->m; j++) {
        const double *aj = M->a + j * p;
        double rho = dot(ai, aj, p);

        M->kappa[j] = (1 - rho) / (1 + rho);
        for (size_t k = 1; k < p; k++)
            M->B[j * M->q + k - 1] = dot(aj, frame + k * p, p) / (1 - rho);
    }
}

static void put_angle(cell_sums sums, double cot)
{
    double at = CELLS / (1 + cot), e;
    size_t cell = at < CELLS ? (size_t)at : CELLS - 1;
    double *w = sums[cell];

    e = at - (double)cell;
    w[0] += 1;
    w[1] += e;
    w[2] += e * e;
    w[3] += e * e * e;
}

static inline pair greater(pair x, pair y)
{
    pair_mask x_is = x > y;

    return (pair)((x_is & (pair_mask)x) | (~x_is & (pair_mask)y));
}

/* One block of directions and their mirrors, seen from contrast i. cot = 0, a
 * right angle, is where T_i falls to 0. */
static void take_block(const multi *M, size_t i, const pair *V, cell_sums sums)
{
    pair here[PAIRS] = { 0 }, mirror[PAIRS] = { 0 };

    for (size_t j = 0; j < M->m; j++) {
        const double *b = M->B + j * M->q, kappa = M->kappa[j];
        pair t[PAIRS] = { 0 };

        if (j == i)
            continue;
        for (size_t k = 0; k < M->q; k++) {
#pragma GCC unroll 4
            for (int l = 0; l < PAIRS; l++)
                t[l] += b[k] * V[k * PAIRS + (size_t)l];
        }
#pragma GCC unroll 4
        for (int l = 0; l < PAIRS; l++) {
            here[l] = greater(t[l], here[l]);
            mirror[l] = greater(-t[l], mirror[l]);
        }
        if (!M->two_sided)
            continue;
#pragma GCC unroll 4
        for (int l = 0; l < PAIRS; l++) {
            here[l] = greater(-t[l] * kappa, here[l]);
            mirror[l] = greater(t[l] * kappa, mirror[l]);
        }
    }
    for (int l = 0; l < BLOCK; l++) {
        put_angle(sums, here[l / 2][l % 2]);
        put_angle(sums, mirror[l / 2][l % 2]);
    }
}

static pl_code sample(pl_arena *A, multi *M, size_t upto, double *frame)
{
    pl_code rc = more_directions(A, M, M->points, upto);

    if (rc)
        return rc;
    for (size_t copy = 0; copy < COPIES; copy++)
        for (size_t i = 0; i < M->m; i++) {
            look_from(M, i, copy, frame);
            for (size_t at = M->points; at < upto; at += BLOCK)
                take_block(M, i, (const pair *)(M->V + at * M->q), M->sums[i * COPIES + copy]);
        }
    M->points = upto;
    memset(M->all, 0, sizeof *M->all);
    for (size_t s = 0; s < M->m * COPIES; s++)
        for (size_t i = 0; i < CELLS; i++)
            for (size_t k = 0; k < 4; k++)
                (*M->all)[i][k] += M->sums[s][i][k];
    return PL_OK;
}

/* ------------------------------------------------------------------ tails --- */

/* dK/dg times the width of a cell, g = sin/(sin + cos): dpsi/dg = (sin + cos)^2. */
static double cell_slope(const multi *M, double d, double g, double scale)
{
    double r = sqrt(g * g + (1 - g) * (1 - g)), c = (1 - g) / r, p = (double)M->p;

    if (c < 1e-8)
        return 0;
    return scale * pow(g / r, p - 2) * pl_f_upper(d / c * (d / c) / p, p, M->df) / (r * r);
}

/* K over every cell at d: value at its left end, slope there, and the two
 * coefficients that make it the cubic through values and slopes at both ends; the
 * step of K is integrated by Simpson's rule. Scaled so that a dot product with
 * the sums of one contrast and copy gives that contrast's share of P(max T > d). */
static void cell_cubics(const multi *M, double d, cell_sums cubic)
{
    double q = (double)M->q, width = 1.0 / CELLS, K = 0;
    double per = (M->two_sided ? 2 : 1) / (2 * (double)M->points);
    double scale = per * width * exp(lgamma((q + 1) / 2) - lgamma(q / 2)) / sqrt(M_PI);
    double left = cell_slope(M, d, 0, scale);

    for (size_t i = 0; i < CELLS; i++) {
        double middle = cell_slope(M, d, ((double)i + 0.5) * width, scale);
        double right = cell_slope(M, d, ((double)i + 1) * width, scale);
        double rise = (left + 4 * middle + right) / 6;

        cubic[i][0] = K;
        cubic[i][1] = left;
        cubic[i][2] = 3 * rise - 2 * left - right;
        cubic[i][3] = left + right - 2 * rise;
        K += rise;
        left = right;
    }
}

static double share(const cell_sums sums, const cell_sums cubic)
{
    return dot(sums[0], cubic[0], CELLS * 4);
}

/* P(max T > d), mean of the copies. */
static double tail_at(const multi *M, double d)
{
    cell_sums cubic;

    cell_cubics(M, d, cubic);
    return share(*M->all, cubic) / COPIES;
}

/* Every contrast and copy has its own turned frame, so the errors of the shares
 * are independent: their variances add, each from COPIES values, which makes
 * the sum far steadier than the spread of the copies' totals. */
static double tail_se(const multi *M, double d)
{
    cell_sums cubic;
    double variance = 0;

    cell_cubics(M, d, cubic);
    for (size_t i = 0; i < M->m; i++) {
        double value[COPIES], mean = 0;

        for (size_t r = 0; r < COPIES; r++) {
            value[r] = share(M->sums[i * COPIES + r], cubic);
            mean += value[r] / COPIES;
        }
        for (size_t r = 0; r < COPIES; r++)
            variance += (value[r] - mean) * (value[r] - mean) / (COPIES * (COPIES - 1));
    }
    return sqrt(variance);
}

/* Secant steps on the log of the tail, inside the bracket of one contrast alone
 * and of Bonferroni's inequality. */
static double solve_point(const multi *M, double alpha, double start, double tol, double *se)
{
    double sides = M->two_sided ? 2 : 1, m = (double)M->m;
    double low = pl_t_quantile(1 - alpha / sides, M->df);
    double high = -pl_t_quantile(alpha / (sides * m), M->df), d = start, slope = 0;

    if (!(d > low && d < high))
        d = (low + high) / 2;
    for (int i = 0; i < 40; i++) {
        double f = log(tail_at(M, d) / alpha), h = 1e-4 * d, next;

        slope = (log(tail_at(M, d + h) / alpha) - f) / h;
        if (f > 0)
            low = d;
        else
            high = d;
        next = d - f / slope;
        if (!(next >= low && next <= high))
            next = (low + high) / 2;
        if (fabs(next - d) < fmin(tol, 1e-3) * 1e-2) { /* the next step is far smaller */
            d = next;
            break;
        }
        d = next;
    }
    *se = tail_se(M, d) / (alpha * -slope);
    return d;
}

/* -------------------------------------------------------------- the points --- */

static pl_code set_up(pl_arena *A, multi *M, const double *c, const double *weight, size_t n,
                      size_t K)
{
    double *u = PL_NEWN(A, n * K, double);
    pl_code rc;

    if (!u)
        return PL_ENOMEM;
    if ((rc = unit_rows(u, c, weight, n, K)))
        return rc;
    M->m = drop_repeats(u, n, K, M->two_sided);
    M->a = in_own_space(A, u, M->m, K, &M->p);
    if (!M->a)
        return PL_ENOMEM;
    M->q = M->p - 1;
    M->B = PL_NEWN(A, M->m * (M->q + 1), double);
    M->kappa = PL_NEWN(A, M->m, double);
    M->sums = PL_NEWN(A, M->m * COPIES, cell_sums);
    M->all = PL_NEW(A, cell_sums);
    return M->B && M->kappa && M->sums && M->all ? PL_OK : PL_ENOMEM;
}

/* More points until the error is small enough. Mirrored pairs are all there is
 * when two dimensions are spanned: nothing is left to sample. */
static pl_code refine(pl_arena *A, multi *M, double alpha, double tol, pl_real *out)
{
    double *frame = PL_NEWN(A, M->p * M->p, double), se, d = 0;
    double cost = (double)COPIES * (double)(M->m * M->m * M->q);

    if (!frame)
        return PL_ENOMEM;
    for (size_t upto = FIRST_POINTS;;) {
        pl_code rc = sample(A, M, upto, frame);
        double more;

        if (rc)
            return rc;
        d = solve_point(M, alpha, d, M->q == 1 ? 1e-8 : tol, &se);
        *out = (pl_real){ d, fmax(3 * se / d, 1e-9) };
        if (se <= tol || M->q == 1)
            return PL_OK;
        /* the error falls about as points^-0.8; in whole blocks */
        more = fmin(fmax(1.1 * pow(se / tol, 1.25), 1.25), 4) * (double)upto;
        if (cost * more > WORK_MOST)
            return PL_EPREC;
        upto = ((size_t)more + BLOCK - 1) / BLOCK * BLOCK;
    }
}

static bool fits(const double *weight, size_t n, size_t K, double df, double alpha, double tol)
{
    if (n < 1 || K < 1 || K > 41 || !(df > 0) || !(alpha > 0 && alpha < 0.5) || !(tol > 0))
        return false;
    for (size_t k = 0; k < K; k++)
        if (!(weight[k] > 0) || isinf(weight[k]))
            return false;
    return true;
}

static pl_code point(pl_arena *a, const double *c, const double *weight, size_t n, size_t K,
                     double df, double alpha, double tol, bool two_sided, pl_real *out)
{
    multi M = { .df = df, .two_sided = two_sided };
    pl_mark mark;
    pl_code rc;

    if (!fits(weight, n, K, df, alpha, tol))
        return PL_EDOM;
    mark = pl_arena_mark(a);
    rc = set_up(a, &M, c, weight, n, K);
    if (!rc && M.p == 1) /* one contrast, alone or with its opposite */
        *out = (pl_real){ -pl_t_quantile(two_sided || M.m == 2 ? alpha / 2 : alpha, df), 1e-12 };
    else if (!rc)
        rc = refine(a, &M, alpha, tol, out);
    pl_arena_reset(a, mark);
    return rc;
}

pl_code pl_mvt_upper_point(pl_arena *a, const double *c, const double *weight, size_t n, size_t K,
                           double df, double alpha, double tol, pl_real *out)
{
    return point(a, c, weight, n, K, df, alpha, tol, false, out);
}

pl_code pl_mvt_two_sided_point(pl_arena *a, const double *c, const double *weight, size_t n,
                               size_t K, double df, double alpha, double tol, pl_real *out)
{
    return point(a, c, weight, n, K, df, alpha, tol, true, out);
}
