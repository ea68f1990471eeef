/* Restricted maximum likelihood with random factors eliminated, never dense. What the columns mean
 * is linear_mixed.c's; tests and degrees of freedom are reml_test.c's. */
#include "fit/reml.h"

#include <math.h>
#include <string.h>

#include "fit/reml_inner.h"

/* Of a step, over the ratio it changes: below this the ratio stands. */
#define STEP_TOL 1e-13

/* ------------------------------------------------------------ evaluation --- */

/* In place: lower Cholesky factor; the log determinant, or NAN when not positive. */
double pl_reml_cholesky(double *c, size_t k)
{
    double log_det = 0;

    for (size_t j = 0; j < k; j++) {
        double d = c[j * k + j], inv;

        for (size_t l = 0; l < j; l++)
            d -= c[j * k + l] * c[j * k + l];
        if (!(d > 0))
            return NAN;
        log_det += log(d);
        c[j * k + j] = sqrt(d);
        inv = 1 / c[j * k + j];
        for (size_t i = j + 1; i < k; i++) {
            double s = c[i * k + j];

            for (size_t l = 0; l < j; l++)
                s -= c[i * k + l] * c[j * k + l];
            c[i * k + j] = s * inv;
        }
    }
    return log_det;
}

/* The inverse of L L', symmetric, into out. */
void pl_reml_invert(const double *l, size_t k, double *out, double *room)
{
    for (size_t c = 0; c < k; c++) { /* columns of the inverse of L */
        for (size_t i = 0; i < k; i++) {
            double s = i == c ? 1 : 0;

            for (size_t j = c; j < i; j++)
                s -= l[i * k + j] * room[j * k + c];
            room[i * k + c] = i < c ? 0 : s / l[i * k + i];
        }
    }
    for (size_t i = 0; i < k; i++)
        for (size_t j = 0; j <= i; j++) {
            double s = 0;

            for (size_t c = i; c < k; c++)
                s += room[c * k + i] * room[c * k + j];
            out[i * k + j] = out[j * k + i] = s;
        }
}

/* Products of the columns weighted by V0^-1, and log |V0|: the lead factor alone. */
static double weigh_alone(const pl_reml_work *w, double ratio, double *s)
{
    size_t mm = w->m * w->m;
    double log_det = 0;

    memcpy(s, w->within, mm * sizeof *s);
    for (size_t g = 0; g < w->nsize; g++) {
        double big = 1 + ratio * w->size[g], f = 1 / (w->size[g] * big);
        const double *b = w->between + g * mm;

        log_det += w->many[g] * log(big);
        for (size_t j = 0; j < mm; j++)
            s[j] += f * b[j];
    }
    return log_det;
}

/* The same with further factors: N = Z2'V1^-1 Z2, E = Z2'V1^-1 [Q y], K = D (I + D N D)^-1 D with
 * D the roots of their ratios; products - E'K E. */
static double weigh_all(pl_reml_work *w, const double *ratio, double *s)
{
    size_t m = w->m, r = w->nrest;
    double log_det = 0, more;

    memcpy(s, w->within, m * m * sizeof *s);
    memcpy(w->N, w->rest_count, r * r * sizeof *w->N);
    memcpy(w->E, w->rest_q, r * m * sizeof *w->E);
    for (size_t l = 0; l < w->nlead; l++) {
        double big = 1 + ratio[w->lead] * w->count[l], f = 1 / (w->count[l] * big);
        const double *t = w->sum + l * m;

        log_det += log(big);
        for (size_t j = 0; j < m; j++)
            for (size_t k = 0; k < m; k++)
                s[j * m + k] += f * t[j] * t[k];
        for (size_t i = w->start[l]; i < w->start[l + 1]; i++) {
            double ft = f * w->times[i];

            for (size_t k = w->start[l]; k < w->start[l + 1]; k++)
                w->N[w->met[i] * r + w->met[k]] += ft * w->times[k];
            for (size_t j = 0; j < m; j++)
                w->E[w->met[i] * m + j] += ft * t[j];
        }
    }
    for (size_t i = 0; i < r; i++)
        for (size_t k = 0; k < r; k++)
            w->M[i * r + k] = (i == k) + w->root[i] * w->N[i * r + k] * w->root[k];
    more = pl_reml_cholesky(w->M, r);
    for (size_t i = 0; i < r; i++) /* L^-1 D E */
        for (size_t j = 0; j < m; j++) {
            double e = w->root[i] * w->E[i * m + j];

            for (size_t k = 0; k < i; k++)
                e -= w->M[i * r + k] * w->LE[k * m + j];
            w->LE[i * m + j] = e / w->M[i * r + i];
        }
    for (size_t i = 0; i < r; i++)
        for (size_t j = 0; j < m; j++)
            for (size_t k = 0; k < m; k++)
                s[j * m + k] -= w->LE[i * m + j] * w->LE[i * m + k];
    return log_det + more;
}

static void set_roots(pl_reml_work *w, const pl_reml_data *d, const double *ratio)
{
    for (size_t k = 0; k < d->nfactor; k++)
        for (size_t l = 0; k != w->lead && l < d->nlevel[k]; l++)
            w->root[w->offset[k] + l] = sqrt(ratio[k]);
}

/* -2 log-likelihood but for constants, with the residual variance at its best. Leaves products in
 * w->S, the factor of their x part in w->A and gamma (coefficients of what is left of y) in w->g.
 */
static double evaluate(pl_reml_work *w, const pl_reml_data *d, const double *ratio)
{
    size_t m = w->m, p = w->p;
    double log_det, log_a, rest;

    set_roots(w, d, ratio);
    log_det = w->nrest ? weigh_all(w, ratio, w->S) : weigh_alone(w, ratio[w->lead], w->S);
    for (size_t j = 0; j < p; j++)
        memcpy(w->A + j * p, w->S + j * m, p * sizeof *w->A);
    log_a = pl_reml_cholesky(w->A, p);
    rest = w->S[p * m + p];
    for (size_t j = 0; j < p; j++) { /* forward, then back */
        w->g[j] = w->S[p * m + j];
        for (size_t k = 0; k < j; k++)
            w->g[j] -= w->A[j * p + k] * w->g[k];
        w->g[j] /= w->A[j * p + j];
        rest -= w->g[j] * w->g[j];
    }
    for (size_t j = p; j-- > 0;) {
        for (size_t k = j + 1; k < p; k++)
            w->g[j] -= w->A[k * p + j] * w->g[k];
        w->g[j] /= w->A[j * p + j];
    }
    w->rss = rest;
    return (double)(w->n - p) * log(rest) + log_det + log_a;
}

/* ----------------------------------------------------------- derivatives --- */

/* out += f R'B R with R = [I, -gamma; 0, 1]: the products of x and of the residual of y. */
static void turn(const pl_reml_work *w, const double *b, double f, double *out)
{
    size_t m = w->m, p = w->p;
    double last = 0;

    for (size_t j = 0; j < p; j++) {
        double cross = b[j * m + p];

        for (size_t k = 0; k < p; k++) {
            out[j * m + k] += f * b[j * m + k];
            cross -= b[j * m + k] * w->g[k];
        }
        out[j * m + p] += f * cross;
        out[p * m + j] += f * cross;
        last -= w->g[j] * (b[j * m + p] + cross);
    }
    out[p * m + p] += f * (b[p * m + p] + last);
}

static void moments_alone(const pl_reml_data *d, pl_reml_work *w, const double *ratio)
{
    size_t mm = w->m * w->m;

    (void)d;
    w->trace[0] = w->square[0] = 0;
    memset(w->P[0], 0, mm * sizeof(double));
    memset(w->H[0], 0, mm * sizeof(double));
    for (size_t g = 0; g < w->nsize; g++) {
        double s = w->size[g], f = 1 / (1 + ratio[w->lead] * s);

        w->trace[0] += w->many[g] * s * f;
        w->square[0] += w->many[g] * s * s * f * f;
        turn(w, w->between + g * mm, f * f, w->P[0]);
        turn(w, w->between + g * mm, s * f * f * f, w->H[0]);
    }
}

/* y := L'^-1 L^-1 between the roots: K v for each of `cols` columns of v (r x cols). */
static void apply_k(const pl_reml_work *w, const double *v, size_t cols, double *out)
{
    size_t r = w->nrest;

    for (size_t c = 0; c < cols; c++) {
        for (size_t i = 0; i < r; i++) {
            double s = w->root[i] * v[i * cols + c];

            for (size_t k = 0; k < i; k++)
                s -= w->M[i * r + k] * out[k * cols + c];
            out[i * cols + c] = s / w->M[i * r + i];
        }
        for (size_t i = r; i-- > 0;) {
            double s = out[i * cols + c];

            for (size_t k = i + 1; k < r; k++)
                s -= w->M[k * r + i] * out[k * cols + c];
            out[i * cols + c] = s / w->M[i * r + i];
        }
        for (size_t i = 0; i < r; i++)
            out[i * cols + c] *= w->root[i];
    }
}

/* out (k x c) += f a'b, a: n x k, b: n x c */
static void add_product(double *out, double f, const double *a, size_t k, const double *b, size_t c,
                        size_t n)
{
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < k; j++)
            for (size_t l = 0; l < c; l++)
                out[j * c + l] += f * a[i * k + j] * b[i * c + l];
}

/* Columns of one factor among the rest. */
typedef struct span {
    size_t from, n;
} span;

static span span_of(const pl_reml_work *w, const pl_reml_data *d, size_t k)
{
    return (span){ w->offset[k], d->nlevel[k] };
}

/* What the lead levels see: U1 = F (t - c'L) and their products with H. G, GD: F'F and F'D F over
 * the rest; FU = F'U1, FDU = F'D U1. */
static void lead_part(pl_reml_work *w, const double *ratio)
{
    size_t m = w->m, r = w->nrest, i0 = w->lead;
    double *u = w->u;

    memset(w->G, 0, r * r * sizeof *w->G);
    memset(w->GD, 0, r * r * sizeof *w->GD);
    memset(w->FU, 0, r * m * sizeof *w->FU);
    w->trace[i0] = w->square[i0 * w->K + i0] = 0;
    memset(w->P[i0], 0, m * m * sizeof(double));
    memset(w->H[i0 * w->K + i0], 0, m * m * sizeof(double));
    for (size_t l = 0; l < w->nlead; l++) {
        double n = w->count[l], f = 1 / (1 + ratio[i0] * n), D = n * f;
        const double *t = w->sum + l * m;

        for (size_t j = 0; j < m; j++)
            u[j] = t[j];
        for (size_t i = w->start[l]; i < w->start[l + 1]; i++)
            for (size_t j = 0; j < m; j++)
                u[j] -= w->times[i] * w->KE[w->met[i] * m + j];
        for (size_t j = 0; j < w->p; j++)
            u[w->p] -= w->g[j] * u[j];
        for (size_t j = 0; j < m; j++)
            u[j] *= f;
        w->trace[i0] += D;
        w->square[i0 * w->K + i0] += D * D;
        add_product(w->P[i0], 1, u, m, u, m, 1);
        add_product(w->H[i0 * w->K + i0], D, u, m, u, m, 1);
        for (size_t i = w->start[l]; i < w->start[l + 1]; i++) {
            double ft = f * w->times[i];

            for (size_t k = w->start[l]; k < w->start[l + 1]; k++) {
                w->G[w->met[i] * r + w->met[k]] += ft * f * w->times[k];
                w->GD[w->met[i] * r + w->met[k]] += D * ft * f * w->times[k];
            }
            for (size_t j = 0; j < m; j++)
                w->FU[w->met[i] * m + j] += ft * u[j];
        }
    }
}

/* Columns of the rest: J = I - K N, U2 = J'E, turned as u is. */
static void rest_part(pl_reml_work *w)
{
    size_t m = w->m, r = w->nrest;

    apply_k(w, w->N, r, w->J);
    for (size_t i = 0; i < r; i++)
        for (size_t k = 0; k < r; k++)
            w->J[i * r + k] = (i == k) - w->J[i * r + k];
    memset(w->U2, 0, r * m * sizeof *w->U2);
    add_product(w->U2, 1, w->J, r, w->E, m, r);
    for (size_t i = 0; i < r; i++)
        for (size_t j = 0; j < w->p; j++)
            w->U2[i * m + w->p] -= w->g[j] * w->U2[i * m + j];
    memset(w->NJ, 0, r * r * sizeof *w->NJ);
    add_product(w->NJ, 1, w->N, r, w->J, r, r); /* N is symmetric */
}

/* What H loses in the lead factor's own block: D - F K F'. */
static void lead_squares(pl_reml_work *w)
{
    size_t m = w->m, r = w->nrest, at = w->lead * w->K + w->lead;
    double *KG = w->room, *KFU = w->room2;

    apply_k(w, w->G, r, KG);
    for (size_t i = 0; i < r; i++) {
        w->trace[w->lead] -= KG[i * r + i];
        for (size_t k = 0; k < r; k++)
            w->square[at] += KG[i * r + k] * KG[k * r + i];
    }
    apply_k(w, w->FU, m, KFU);
    for (size_t i = 0; i < r; i++)
        for (size_t j = 0; j < m; j++)
            for (size_t k = 0; k < m; k++)
                w->H[at][j * m + k] -= w->FU[i * m + j] * KFU[i * m + k];
    apply_k(w, w->GD, r, KG);
    for (size_t i = 0; i < r; i++)
        w->square[at] -= 2 * KG[i * r + i];
}

static void moments_all(const pl_reml_data *d, pl_reml_work *w, const double *ratio)
{
    size_t m = w->m, r = w->nrest, K = w->K;

    apply_k(w, w->E, m, w->KE);
    lead_part(w, ratio);
    rest_part(w);
    lead_squares(w);
    for (size_t k = 0; k < K; k++) {
        span s = span_of(w, d, k);
        double lead_sq = 0;

        if (k == w->lead)
            continue;
        w->trace[k] = 0;
        memset(w->P[k], 0, m * m * sizeof(double));
        add_product(w->P[k], 1, w->U2 + s.from * m, m, w->U2 + s.from * m, m, s.n);
        for (size_t l = 0; l < K; l++) {
            span o = span_of(w, d, l);
            double *H = w->H[k * K + l], sq = 0;

            if (l == w->lead)
                continue;
            memset(H, 0, m * m * sizeof(double));
            for (size_t i = s.from; i < s.from + s.n; i++)
                for (size_t j = o.from; j < o.from + o.n; j++) {
                    double h = w->NJ[i * r + j];

                    sq += h * h;
                    add_product(H, h, w->U2 + i * m, m, w->U2 + j * m, m, 1);
                }
            w->square[k * K + l] = sq;
        }
        for (size_t i = s.from; i < s.from + s.n; i++)
            w->trace[k] += w->NJ[i * r + i];
        /* with the lead: |F J|^2 = tr(J'G J), and U1'F J U2 */
        memset(w->room, 0, r * sizeof(double));
        memset(w->H[w->lead * K + k], 0, m * m * sizeof(double));
        for (size_t j = s.from; j < s.from + s.n; j++) {
            for (size_t i = 0; i < r; i++) {
                double gj = 0;

                for (size_t c = 0; c < r; c++)
                    gj += w->G[i * r + c] * w->J[c * r + j];
                lead_sq += gj * w->J[i * r + j];
                add_product(w->H[w->lead * K + k], w->J[i * r + j], w->FU + i * m, m, w->U2 + j * m,
                            m, 1);
            }
        }
        w->square[w->lead * K + k] = w->square[k * K + w->lead] = lead_sq;
        for (size_t i = 0; i < m; i++)
            for (size_t j = 0; j < m; j++)
                w->H[k * K + w->lead][j * m + i] = w->H[w->lead * K + k][i * m + j];
    }
}

/* tr(C B) over the x parts, C symmetric. */
static double trace_c(const pl_reml_work *w, const double *b)
{
    double s = 0;

    for (size_t j = 0; j < w->p; j++)
        for (size_t k = 0; k < w->p; k++)
            s += w->C[j * w->p + k] * b[k * w->m + j];
    return s;
}

/* C B for the x part of B, and C times its residual column. */
static void times_c(const pl_reml_work *w, const double *b, double *cb, double *cg)
{
    for (size_t j = 0; j < w->p; j++) {
        double g = 0;

        for (size_t k = 0; k < w->p; k++) {
            double s = 0;

            for (size_t l = 0; l < w->p; l++)
                s += w->C[j * w->p + l] * b[l * w->m + k];
            cb[j * w->p + k] = s;
            g += w->C[j * w->p + k] * b[k * w->m + w->p];
        }
        cg[j] = g;
    }
}

/* First and second derivatives of the log-likelihood at the point evaluated last, and tr(P V_k P
 * V_l). */
static void derive(pl_reml_work *w, const pl_reml_data *d, const double *ratio)
{
    size_t K = w->K, p = w->p, m = w->m;
    double df = (double)(w->n - p);

    if (w->nrest)
        moments_all(d, w, ratio);
    else
        moments_alone(d, w, ratio);
    pl_reml_invert(w->A, p, w->C, w->room3);
    for (size_t k = 0; k < K; k++) {
        times_c(w, w->P[k], w->CP[k], w->Cg[k]);
        w->tr[k] = w->trace[k] - trace_c(w, w->P[k]);
        w->gg[k] = w->P[k][p * m + p];
        w->slope[k] = -0.5 * (w->tr[k] - df * w->gg[k] / w->rss);
    }
    for (size_t k = 0; k < K; k++)
        for (size_t l = 0; l < K; l++) {
            double both = 0, h = w->H[k * K + l][p * m + p];

            for (size_t i = 0; i < p; i++) {
                for (size_t j = 0; j < p; j++)
                    both += w->CP[k][i * p + j] * w->CP[l][j * p + i];
                h -= w->P[k][i * m + p] * w->Cg[l][i];
            }
            w->trtr[k * K + l] = w->square[k * K + l] - 2 * trace_c(w, w->H[k * K + l]) + both;
            w->bend[k * K + l] = 0.5 * w->trtr[k * K + l] -
                                 df * (h / w->rss - 0.5 * w->gg[k] * w->gg[l] / (w->rss * w->rss));
        }
}

/* --------------------------------------------------------------- search ---- */

/* The Newton step over the ratios that are free; where the surface bends the wrong way, the
 * expected bend (half tr(P V P V) less the residual's share) instead. */
static bool newton(pl_reml_work *w, const bool *held, double *step)
{
    size_t K = w->K, n = 0, at[PL_REML_FACTORS_MOST];
    double df = (double)(w->n - w->p), l[PL_REML_FACTORS_MOST * PL_REML_FACTORS_MOST];

    for (size_t k = 0; k < K; k++)
        if (!held[k])
            at[n++] = k;
    for (int expected = 0; expected < 2; expected++) {
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++) {
                size_t k = at[i] * K + at[j];

                l[i * n + j] = expected ? 0.5 * (w->trtr[k] - w->tr[at[i]] * w->tr[at[j]] / df)
                                        : -w->bend[k];
            }
        if (!isnan(pl_reml_cholesky(l, n)))
            break;
        if (expected)
            return false;
    }
    memset(step, 0, K * sizeof *step);
    for (size_t i = 0; i < n; i++) {
        double s = w->slope[at[i]];

        for (size_t j = 0; j < i; j++)
            s -= l[i * n + j] * step[at[j]];
        step[at[i]] = s / l[i * n + i];
    }
    for (size_t i = n; i-- > 0;) {
        double s = step[at[i]];

        for (size_t j = i + 1; j < n; j++)
            s -= l[j * n + i] * step[at[j]];
        step[at[i]] = s / l[i * n + i];
    }
    return true;
}

/* Best point of a grid: 0, 0.1, 1 and 10 for each ratio (all alike from four factors on). */
static void start(pl_reml_work *w, const pl_reml_data *d, double *ratio)
{
    static const double steps[] = { 0, 0.1, 1, 10 };
    size_t points = 1;
    double best = INFINITY, try[PL_REML_FACTORS_MOST] = { 0 };

    for (size_t k = 0; k < w->K && w->K < 4; k++)
        points *= 4;
    points = w->K < 4 ? points : 4;
    for (size_t i = 0; i < points; i++) {
        double value;

        for (size_t k = 0, left = i; k < w->K; k++, left /= w->K < 4 ? 4 : 1)
            try[k] = steps[left % 4];
        value = evaluate(w, d, try);
        if (value < best) {
            best = value;
            memcpy(ratio, try, w->K * sizeof *ratio);
        }
    }
}

/* Goes `step` or a part of it; false when no part of it gains and the ratios stand. */
static bool advance(pl_reml_work *w, const pl_reml_data *d, double *ratio, const double *step,
                    double *value, int *small)
{
    double try[PL_REML_FACTORS_MOST] = { 0 }, change = 0, part = 1;

    for (int cut = 0; cut < 17; cut++, part /= 4) { /* down to 1e-10 of it */
        double got;

        change = 0;
        for (size_t k = 0; k < w->K; k++) {
            /* never to 0 at one go from a ratio that may be small but not nothing */
            double low = part > 0.5 ? 0 : ratio[k] / 16;

            try[k] = fmax(ratio[k] + part * step[k], step[k] < 0 ? low : 0);
            if (ratio[k] > 0 && try[k] > 50 * ratio[k] + 1)
                try[k] = 50 * ratio[k] + 1;
            change = fmax(change, fabs(try[k] - ratio[k]) / fmax(ratio[k], 1e-6));
        }
        got = evaluate(w, d, try);
        if (got <= *value + 1e-12 * fabs(*value) || change < 1e-9) {
            *value = got;
            memcpy(ratio, try, w->K * sizeof *ratio);
            if (change < 1e-8)
                *small += 1;
            return change > STEP_TOL && *small < 2;
        }
    }
    (void)evaluate(w, d, ratio);
    return false;
}

static bool search(pl_reml_work *w, const pl_reml_data *d, double *ratio, unsigned *steps)
{
    double value, step[PL_REML_FACTORS_MOST];
    bool held[PL_REML_FACTORS_MOST];
    int small = 0; /* steps too small to matter: Newton doubles the digits, so two are enough */

    start(w, d, ratio);
    value = evaluate(w, d, ratio);
    for (*steps = 0; *steps < PL_REML_STEPS; ++*steps) {
        bool any = false;

        derive(w, d, ratio);
        for (size_t k = 0; k < w->K; k++) {
            held[k] = ratio[k] <= 0 && w->slope[k] <= 0;
            any = any || !held[k];
        }
        if (!any)
            return true;
        if (!newton(w, held, step))
            return false;
        if (!advance(w, d, ratio, step, &value, &small)) {
            derive(w, d, ratio);
            return true;
        }
    }
    return false;
}

/* ------------------------------------------------------------- the whole --- */

pl_code pl_reml_fit(pl_arena *a, const pl_reml_data *d, pl_reml *out, pl_diags *diags)
{
    pl_reml_work w;
    double ratio[PL_REML_FACTORS_MOST] = { 0 }, df = (double)(d->n - d->p), value;
    pl_code rc = pl_reml_prepare(a, d, &w, diags);

    if (rc || !w.S)
        return rc;
    *out = (pl_reml){ .n = d->n, .p = d->p, .nfactor = d->nfactor };
    out->converged = search(&w, d, ratio, &out->steps);
    value = evaluate(&w, d, ratio);
    derive(&w, d, ratio);
    out->log_likelihood = -0.5 * (value + df * (1 + log(2 * M_PI) - log(df)));
    for (size_t k = 0; k < d->nfactor; k++) {
        out->variance[k] = ratio[k] * w.rss / df;
        out->at_zero[k] = ratio[k] <= 0;
    }
    out->variance[d->nfactor] = w.rss / df;
    return pl_reml_adjust(a, &w, ratio, out, diags);
}
