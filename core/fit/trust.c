/* Spread from level to level, single units far off, normal scores. */
#include "fit/trust.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "base/prob.h"

/* ---------------------------------------------------------------- spread --- */

typedef struct group {
    double *v;
    size_t n;
    double mean, ss;
} group;

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

static group *split(pl_arena *a, const double *v, const size_t *level, size_t n, size_t K)
{
    group *g = PL_NEWN(a, K, group);
    double *room = PL_NEWN(a, n, double);

    if (!g || !room)
        return NULL;
    for (size_t k = 0; k < K; k++) {
        g[k].v = room;
        for (size_t i = 0; i < n; i++)
            if (level[i] == k) {
                g[k].v[g[k].n++] = v[i];
                g[k].mean += v[i];
            }
        room += g[k].n;
        g[k].mean /= g[k].n ? (double)g[k].n : 1;
        for (size_t i = 0; i < g[k].n; i++)
            g[k].ss += (g[k].v[i] - g[k].mean) * (g[k].v[i] - g[k].mean);
    }
    return g;
}

static void bartlett(const group *g, size_t K, pl_spread *out)
{
    double ss = 0, df = 0, inverse = 0, logs = 0, M;
    size_t levels = 0;

    for (size_t k = 0; k < K; k++) {
        double one = (double)g[k].n - 1, sd;

        if (g[k].n < 2)
            continue;
        sd = sqrt(g[k].ss / one);
        if (!levels || sd < out->least_sd) {
            out->least = k;
            out->least_sd = sd;
        }
        if (!levels || sd > out->most_sd) {
            out->most = k;
            out->most_sd = sd;
        }
        levels++;
        ss += g[k].ss;
        df += one;
        inverse += 1 / one;
        logs += one * log(g[k].ss / one);
    }
    if (levels < 2 || !isfinite(logs) || !(ss > 0))
        return;
    M = df * log(ss / df) - logs;
    out->bartlett_df = (double)levels - 1;
    out->bartlett = fmax(M / (1 + (inverse - 1 / df) / (3 * out->bartlett_df)), 0);
    out->bartlett_p = pl_chisq_upper(out->bartlett, out->bartlett_df);
}

static double median(double *v, size_t n)
{
    qsort(v, n, sizeof *v, rising);
    return 0.5 * (v[(n - 1) / 2] + v[n / 2]);
}

static void levene(group *g, size_t K, pl_spread *out)
{
    double all = 0, between = 0, within = 0, n = 0;

    for (size_t k = 0; k < K; k++) {
        double middle;

        if (g[k].n < PL_LEVENE_LEAST)
            return;
        middle = median(g[k].v, g[k].n);
        g[k].mean = g[k].ss = 0;
        for (size_t i = 0; i < g[k].n; i++) {
            g[k].v[i] = fabs(g[k].v[i] - middle);
            g[k].mean += g[k].v[i];
        }
        all += g[k].mean;
        n += (double)g[k].n;
        g[k].mean /= (double)g[k].n;
        for (size_t i = 0; i < g[k].n; i++)
            within += (g[k].v[i] - g[k].mean) * (g[k].v[i] - g[k].mean);
    }
    for (size_t k = 0; k < K; k++)
        between += (double)g[k].n * (g[k].mean - all / n) * (g[k].mean - all / n);
    if (K < 2 || !(within > 0))
        return;
    out->levene_df1 = (double)K - 1;
    out->levene_df2 = n - (double)K;
    out->levene = between / out->levene_df1 / (within / out->levene_df2);
    out->levene_p = pl_f_upper(out->levene, out->levene_df1, out->levene_df2);
}

pl_code pl_trust_spread(pl_arena *a, const double *v, const size_t *level, size_t n, size_t K,
                        pl_spread *out, pl_diags *d)
{
    group *g = split(a, v, level, n, K);

    *out = (pl_spread){ .bartlett = NAN,
                        .bartlett_df = NAN,
                        .bartlett_p = NAN,
                        .levene = NAN,
                        .levene_df1 = NAN,
                        .levene_df2 = NAN,
                        .levene_p = NAN,
                        .least_sd = NAN,
                        .most_sd = NAN };
    if (!g)
        return pl_nomem(d);
    bartlett(g, K, out);
    levene(g, K, out);
    return PL_OK;
}

/* --------------------------------------------------------------- far off --- */

pl_far_off pl_trust_far_off(const double *residual, size_t n, double df)
{
    pl_far_off out = { .at = n, .t = NAN, .p = NAN };
    double ss = 0, r2;
    size_t at = 0;

    for (size_t i = 0; i < n; i++) {
        ss += residual[i] * residual[i];
        if (fabs(residual[i]) > fabs(residual[at]))
            at = i;
    }
    if (!(df > 1) || !(ss > 0) || !isfinite(ss))
        return out;
    /* equal leverage 1 - df/n: r^2 = e^2 / (s^2 df/n); never more than df */
    r2 = fmin(residual[at] * residual[at] * (double)n / ss, df);
    out.at = at;
    out.t = copysign(sqrt(r2 * (df - 1) / (df - r2)), residual[at]);
    out.p = fmin((double)n * 2 * pl_t_upper(fabs(out.t), df - 1), 1);
    return out;
}

/* ---------------------------------------------------------------- scores --- */

pl_code pl_trust_scores(pl_arena *a, const double *v, size_t n, const double **out, pl_diags *d)
{
    double *sorted = PL_NEWN(a, n, double), *scores = PL_NEWN(a, n, double);

    if (!sorted || !scores)
        return pl_nomem(d);
    for (size_t i = 0; i < n; i++)
        sorted[i] = v[i];
    qsort(sorted, n, sizeof *sorted, rising);
    for (size_t i = 0; i < n; i++) {
        size_t low = 0, high;

        while (low < n && sorted[low] < v[i])
            low++;
        for (high = low; high + 1 < n && sorted[high + 1] == v[i];)
            high++;
        scores[i] = pl_normal_quantile((0.5 * (double)(low + high) + 1 - 0.375) /
                                       ((double)n + 0.25));
    }
    *out = scores;
    return PL_OK;
}
