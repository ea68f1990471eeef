/* What a restricted-likelihood fit says of its coefficients: covariance as Kenward & Roger 1997
 * adjust it, F and degrees of freedom. The fit itself is reml.c's. */
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/reml_inner.h"

/* Everything here is in units of the residual variance and in the orthonormal basis; index K is
 * the residual: sum of theta_k V_k = V gives what has it from what has not. */
typedef struct parts {
    size_t K, p;
    double *P[PL_REML_FACTORS_MOST + 1]; /* p x p: Q'V^-1 V_k V^-1 Q */
    double *sum;                         /* p x p: of w_ij (Q_ij - P_i C P_j) */
} parts;

static double *square(pl_arena *a, size_t p)
{
    return pl_arena_get(a, p ? p : 1, (p ? p : 1) * sizeof(double));
}

/* tr(P V_i P V_j) with the residual's row and column; factored and inverted into w. */
static bool weigh(const pl_reml_work *w, const double *ratio, double *info, double *inverse)
{
    size_t K = w->K, k1 = K + 1;
    double df = (double)(w->n - w->p), trace = df, low[81], room[81];

    for (size_t k = 0; k < K; k++) {
        double e = w->tr[k];

        trace -= ratio[k] * w->tr[k];
        for (size_t l = 0; l < K; l++) {
            info[k * k1 + l] = w->trtr[k * K + l];
            e -= ratio[l] * w->trtr[k * K + l];
        }
        info[k * k1 + K] = info[K * k1 + k] = e;
    }
    for (size_t k = 0; k < K; k++)
        trace -= ratio[k] * info[k * k1 + K];
    info[K * k1 + K] = trace;
    memcpy(low, info, k1 * k1 * sizeof *low);
    for (size_t k = 0; k < k1; k++) { /* scaled, so that a pivot means the same everywhere */
        double s = sqrt(info[k * k1 + k]);

        for (size_t l = 0; l < k1; l++) {
            low[k * k1 + l] /= s;
            low[l * k1 + k] /= s;
        }
    }
    if (isnan(pl_reml_cholesky(low, k1)))
        return false;
    for (size_t k = 0; k < k1; k++)
        if (!(low[k * k1 + k] > 1e-6))
            return false;
    pl_reml_invert(low, k1, inverse, room);
    for (size_t k = 0; k < k1; k++)
        for (size_t l = 0; l < k1; l++)
            inverse[k * k1 + l] /= sqrt(info[k * k1 + k] * info[l * k1 + l]);
    return true;
}

/* out += f a b c, all p x p. */
static void add_triple(double *out, double f, const double *a, const double *b, const double *c,
                       size_t p, double *room)
{
    for (size_t i = 0; i < p; i++)
        for (size_t j = 0; j < p; j++) {
            double s = 0;

            for (size_t k = 0; k < p; k++)
                s += a[i * p + k] * b[k * p + j];
            room[i * p + j] = s;
        }
    for (size_t i = 0; i < p; i++)
        for (size_t j = 0; j < p; j++)
            for (size_t k = 0; k < p; k++)
                out[i * p + j] += f * room[i * p + k] * c[k * p + j];
}

static void copy_x(const pl_reml_work *w, const double *b, double *out)
{
    for (size_t i = 0; i < w->p; i++)
        memcpy(out + i * w->p, b + i * w->m, w->p * sizeof *out);
}

/* out -= f b */
static void take_off(double *out, double f, const double *b, size_t n)
{
    for (size_t i = 0; i < n; i++)
        out[i] -= f * b[i];
}

/* Q_kl for all pairs, the residual's among them: qs, (K+1)^2 tables of p x p. */
static bool fill_q(pl_arena *a, const pl_reml_work *w, const double *ratio, const parts *x,
                   double **qs)
{
    size_t K = w->K, k1 = K + 1, pp = w->p * w->p;

    for (size_t i = 0; i < k1 * k1; i++)
        if (!(qs[i] = square(a, w->p)))
            return false;
    for (size_t k = 0; k < K; k++) {
        for (size_t l = 0; l < K; l++)
            copy_x(w, w->H[k * K + l], qs[k * k1 + l]);
        memcpy(qs[k * k1 + K], x->P[k], pp * sizeof(double));
        for (size_t l = 0; l < K; l++)
            take_off(qs[k * k1 + K], ratio[l], qs[k * k1 + l], pp);
        for (size_t i = 0; i < w->p; i++)
            for (size_t j = 0; j < w->p; j++)
                qs[K * k1 + k][j * w->p + i] = qs[k * k1 + K][i * w->p + j];
    }
    memcpy(qs[K * k1 + K], x->P[K], pp * sizeof(double));
    for (size_t k = 0; k < K; k++)
        take_off(qs[K * k1 + K], ratio[k], qs[k * k1 + K], pp);
    return true;
}

static bool gather(pl_arena *a, const pl_reml_work *w, const double *ratio, const double *inverse,
                   parts *x)
{
    size_t K = w->K, k1 = K + 1, p = w->p, pp = p * p;
    double **qs = PL_NEWN(a, k1 * k1, double *), *room = square(a, p);

    x->K = K;
    x->p = p;
    x->sum = square(a, p);
    for (size_t k = 0; k < k1; k++)
        if (!(x->P[k] = square(a, p)))
            return false;
    if (!qs || !room || !x->sum)
        return false;
    copy_x(w, w->S, x->P[K]);
    for (size_t k = 0; k < K; k++) {
        copy_x(w, w->P[k], x->P[k]);
        take_off(x->P[K], ratio[k], x->P[k], pp);
    }
    if (!fill_q(a, w, ratio, x, qs))
        return false;
    for (size_t i = 0; i < k1; i++)
        for (size_t j = 0; j < k1; j++) {
            take_off(x->sum, -inverse[i * k1 + j], qs[i * k1 + j], pp);
            add_triple(x->sum, -inverse[i * k1 + j], x->P[i], w->C, x->P[j], p, room);
        }
    return true;
}

/* T^-1 B T^-T for T upper: from the orthonormal basis to the columns of x. */
static void to_columns(const double *t, size_t p, double *b)
{
    for (int side = 0; side < 2; side++)
        for (size_t c = 0; c < p; c++)
            for (size_t i = p; i-- > 0;) {
                double *at = side ? &b[c * p + i] : &b[i * p + c];

                for (size_t k = i + 1; k < p; k++)
                    *at -= t[i * p + k] * (side ? b[c * p + k] : b[k * p + c]);
                *at /= t[i * p + i];
            }
}

static bool fill_beta(pl_arena *a, const pl_reml_work *w, pl_reml *out)
{
    size_t p = w->p;
    double *beta = PL_NEWN(a, p, double);

    for (size_t i = p; beta && i-- > 0;) {
        beta[i] = w->qy[i] + w->g[i];
        for (size_t k = i + 1; k < p; k++)
            beta[i] -= w->t[i * p + k] * beta[k];
        beta[i] /= w->t[i * p + i];
    }
    out->beta = beta;
    return beta != NULL;
}

pl_code pl_reml_adjust(pl_arena *a, const pl_reml_work *w, const double *ratio, pl_reml *out,
                       pl_diags *diags)
{
    size_t k1 = w->K + 1, p = w->p;
    double s2 = out->variance[w->K], *inverse = PL_NEWN(a, k1 * k1, double), info[81];
    double *cov = square(a, p), *adjusted = square(a, p), *room = square(a, p);
    parts x = { 0 };

    if (!inverse || !cov || !adjusted || !room || !fill_beta(a, w, out))
        return pl_nomem(diags);
    if (!weigh(w, ratio, info, inverse))
        return pl_fail(diags, PL_ERANK, "random blocks",
                       .found = "random blocks whose scatter cannot be told apart",
                       .expected = "blocks that each group the rows in a way of their own",
                       .mend = "leave one of them out");
    if (!gather(a, w, ratio, inverse, &x))
        return pl_nomem(diags);
    memcpy(cov, w->C, p * p * sizeof *cov);
    memcpy(adjusted, w->C, p * p * sizeof *cov);
    add_triple(adjusted, 4, w->C, x.sum, w->C, p, room);
    to_columns(w->t, p, cov);
    to_columns(w->t, p, adjusted);
    for (size_t i = 0; i < p * p; i++) {
        cov[i] *= s2;
        adjusted[i] *= s2;
    }
    for (size_t i = 0; i < k1 * k1; i++)
        out->information[i] = 0.5 * info[i] / (s2 * s2);
    for (size_t k = 0; k < k1; k++)
        out->pk[k] = x.P[k];
    out->cov = cov;
    out->adjusted = adjusted;
    out->t = w->t;
    out->c0 = w->C;
    out->w = inverse;
    return PL_OK;
}

/* -------------------------------------------------------------- testing ---- */

/* Rows of h in the orthonormal basis: l = T'^-1 h. */
static void to_basis(const pl_reml *r, const double *h, double *l)
{
    for (size_t i = 0; i < r->p; i++) {
        l[i] = h[i];
        for (size_t k = 0; k < i; k++)
            l[i] -= r->t[k * r->p + i] * l[k];
        l[i] /= r->t[i * r->p + i];
    }
}

/* l a l' for a p x p, l q x p: q x q. */
static void sandwich(const double *l, size_t q, const double *a, size_t p, double *out)
{
    for (size_t i = 0; i < q; i++)
        for (size_t j = 0; j < q; j++) {
            double s = 0;

            for (size_t c = 0; c < p; c++) {
                double v = 0;

                for (size_t d = 0; d < p; d++)
                    v += a[c * p + d] * l[j * p + d];
                s += l[i * p + c] * v;
            }
            out[i * q + j] = s;
        }
}

/* v' (L L')^-1 v after v := L^-1 v. */
static double forward(const double *low, size_t q, double *v, size_t stride)
{
    double ss = 0;

    for (size_t i = 0; i < q; i++) {
        double s = v[i * stride];

        for (size_t k = 0; k < i; k++)
            s -= low[i * q + k] * v[k * stride];
        v[i * stride] = s / low[i * q + i];
        ss += v[i * stride] * v[i * stride];
    }
    return ss;
}

/* A1 and A2 of Kenward & Roger: with B_k = L^-1 (l C P_k C l') L'^-1, L L' = l C l', they are sums
 * of 2 w_ij tr(B_i) tr(B_j) and 2 w_ij tr(B_i B_j). */
static bool traces(pl_arena *a, const pl_reml *r, const double *l, size_t q, double *A1, double *A2)
{
    size_t k1 = r->nfactor + 1, p = r->p;
    double *low = square(a, q), *lc = pl_arena_get(a, q, p * sizeof *lc),
           *B[PL_REML_FACTORS_MOST + 1];

    if (!low || !lc)
        return false;
    sandwich(l, q, r->c0, p, low);
    if (isnan(pl_reml_cholesky(low, q)))
        return false;
    for (size_t i = 0; i < q; i++)
        for (size_t j = 0; j < p; j++)
            for (size_t k = 0; k < p; k++)
                lc[i * p + j] += l[i * p + k] * r->c0[k * p + j];
    for (size_t k = 0; k < k1; k++) {
        if (!(B[k] = square(a, q)))
            return false;
        sandwich(lc, q, r->pk[k], p, B[k]);
        for (size_t j = 0; j < q; j++)
            (void)forward(low, q, B[k] + j, q); /* columns, then rows */
        for (size_t j = 0; j < q; j++)
            (void)forward(low, q, B[k] + j * q, 1);
    }
    *A1 = *A2 = 0;
    for (size_t i = 0; i < k1; i++)
        for (size_t j = 0; j < k1; j++) {
            double ti = 0, tj = 0, both = 0;

            for (size_t c = 0; c < q; c++) {
                ti += B[i][c * q + c];
                tj += B[j][c * q + c];
                for (size_t d = 0; d < q; d++)
                    both += B[i][c * q + d] * B[j][d * q + c];
            }
            *A1 += 2 * r->w[i * k1 + j] * ti * tj;
            *A2 += 2 * r->w[i * k1 + j] * both;
        }
    return true;
}

pl_code pl_reml_f(pl_arena *a, const pl_reml *r, const double *h, size_t q, pl_reml_test *out,
                  pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    double *l = pl_arena_get(a, q, r->p * sizeof *l), *cov = square(a, q),
           *v = PL_NEWN(a, q, double);
    double A1, A2, wald, n = (double)q;
    size_t refusals = pl_arena_refusals(a);

    *out = (pl_reml_test){ NAN, n, NAN, NAN, NAN };
    if (!l || !cov || !v)
        return pl_nomem(diags);
    for (size_t i = 0; i < q; i++) {
        to_basis(r, h + i * r->p, l + i * r->p);
        for (size_t j = 0; j < r->p; j++)
            v[i] += h[i * r->p + j] * r->beta[j];
    }
    sandwich(h, q, r->adjusted, r->p, cov);
    if (isnan(pl_reml_cholesky(cov, q)) || !traces(a, r, l, q, &A1, &A2)) {
        pl_arena_reset(a, mark);
        return pl_arena_refusals(a) > refusals ? pl_nomem(diags) : PL_OK;
    }
    wald = forward(cov, q, v, 1) / n;
    if (q == 1) { /* the general formulas come down to this, and divide 0 by 0 at A = 1/2 */
        out->scale = 1;
        out->df2 = 2 / A2;
    } else {
        double B = (A1 + 6 * A2) / (2 * n), g = ((n + 1) * A1 - (n + 4) * A2) / ((n + 2) * A2);
        double under = 3 * n + 2 * (1 - g), E = 1 / (1 - A2 / n);
        double c1 = g / under, c2 = (n - g) / under, c3 = (n + 2 - g) / under;
        double V = 2 / n * (1 + c1 * B) / ((1 - c2 * B) * (1 - c2 * B) * (1 - c3 * B));
        double rho = V / (2 * E * E);

        out->df2 = 4 + (n + 2) / (n * rho - 1);
        out->scale = out->df2 / (E * (out->df2 - 2));
    }
    out->f = out->scale * wald;
    if (out->df2 > 0 && out->f >= 0)
        out->p = pl_f_upper(out->f, n, out->df2);
    else
        out->f = out->df2 = NAN;
    pl_arena_reset(a, mark);
    return PL_OK;
}

pl_code pl_reml_combine(pl_arena *a, const pl_reml *r, const double *h, pl_reml_value *out,
                        pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    double *l = PL_NEWN(a, r->p, double), var, A1, A2;

    *out = (pl_reml_value){ 0, NAN, NAN };
    if (!l)
        return pl_nomem(diags);
    for (size_t j = 0; j < r->p; j++)
        out->value += h[j] * r->beta[j];
    sandwich(h, 1, r->adjusted, r->p, &var);
    to_basis(r, h, l);
    if (var > 0 && traces(a, r, l, 1, &A1, &A2)) {
        out->se = sqrt(var);
        out->df = 2 / A2;
    }
    pl_arena_reset(a, mark);
    return PL_OK;
}
