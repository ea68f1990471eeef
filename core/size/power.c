/* Chances of noticing by F and t tests. Which test a study needs, and how many
 * glue-ups, is size.c's business. */
#include "size/power.h"

#include <math.h>

#include "base/text.h"
#include "size/precision.h"

static pl_code out_of_range(pl_diags *d, const char *name, double found, const char *range)
{
    char *number;

    if (!d)
        return PL_EDOM;
    number = pl_arena_printf(d->arena, "%s = %g", name, found);
    return number ? pl_fail(d, PL_EDOM, "power", .found = number, .expected = range) : pl_nomem(d);
}

static pl_code check_common(double df1, double df2, double alpha, pl_diags *d)
{
    if (!(df1 > 0) || isinf(df1))
        return out_of_range(d, "df1", df1, "more than 0");
    if (!(df2 > 0))
        return out_of_range(d, "df2", df2, "more than 0");
    if (!(alpha > 0 && alpha < 1))
        return out_of_range(d, "alpha", alpha, "between 0 and 1");
    return PL_OK;
}

static pl_code check_lambda(double lambda, pl_diags *d)
{
    if (!(lambda >= 0 && lambda <= PL_NONCENTRAL_MOST))
        return out_of_range(d, "lambda", lambda, "0 to 1e8");
    return PL_OK;
}

pl_code pl_power_ftest(double df1, double df2, double lambda, double alpha, pl_real *out,
                       pl_diags *diags)
{
    pl_code rc = check_common(df1, df2, alpha, diags);

    if (!rc)
        rc = check_lambda(lambda, diags);
    return rc ? rc : pl_ncf_upper(pl_f_quantile_upper(alpha, df1, df2), df1, df2, lambda, out);
}

pl_code pl_power_ttest(double df, double delta, double alpha, int sides, pl_real *out,
                       pl_diags *diags)
{
    pl_code rc = check_common(1, df, alpha, diags);
    pl_tails tails;

    if (!rc)
        rc = check_lambda(delta * delta, diags);
    if (!rc && sides != 1 && sides != 2)
        rc = out_of_range(diags, "sides", sides, "1 or 2");
    if (rc)
        return rc;
    if (sides == 2 && !isinf(df)) /* t squared is F(1, df) */
        return pl_power_ftest(1, df, delta * delta, alpha, out, diags);
    rc = pl_nct(-pl_t_quantile(alpha / sides, df), df, delta, &tails);
    if (rc && rc != PL_EPREC)
        return rc;
    *out = tails.upper;
    if (sides == 2) /* infinite df: add the other side */
        out->value += pl_normal_upper(-pl_normal_quantile(alpha / 2) + delta);
    return rc;
}

/* With w = ln(chi^2/df), k = df/2, the density of w is
 *   sqrt(k / 2 pi) exp(-k (e^w - 1 - w) - stirling(k)),
 * smooth and analytic in |Im w| < pi/2: the trapezoid rule at 0.6 of the smaller
 * of its standard deviation 1/sqrt(k) and 1/3 is good to far below 1e-9. The
 * weights are divided by their own sum, which takes the constant's place. */
#define WEIGHT_LEAST 1e-13 /* of the sum; power is at most 1 */

#define WEIGHT_COARSE 1e-7

size_t pl_pilot_nodes(double pilot_df, bool fine, double ratio[], double weight[])
{
    double k = pilot_df / 2, h = (fine ? 0.6 : 1.2) * fmin(1 / sqrt(k), 1.0 / 3), all = 0;
    double least = fine ? WEIGHT_LEAST : WEIGHT_COARSE;
    size_t n = 0;

    for (int side = 0; side < 2; side++)
        for (int i = side; n < PL_PILOT_NODES; i++) {
            double w = side ? -h * i : h * i, g = exp(-k * (expm1(w) - w));

            ratio[n] = exp(-w / 2);
            weight[n++] = g;
            all += g;
            if (g < least * all * fmin(1, k * h)) /* left: falls as e^(k w) */
                break;
        }
    for (size_t i = 0; i < n; i++)
        weight[i] /= all;
    return n;
}

pl_code pl_assurance_ftest(double df1, double df2, double lambda_at_s, double alpha,
                           double pilot_df, double *out, pl_diags *diags)
{
    double ratio[PL_PILOT_NODES] = { 1 }, weight[PL_PILOT_NODES] = { 1 }, f, sum = 0;
    pl_code rc = check_common(df1, df2, alpha, diags);
    size_t n = 1;
    pl_real p;

    if (!rc)
        rc = check_lambda(lambda_at_s, diags);
    if (!rc && !(pilot_df > 0))
        rc = out_of_range(diags, "pilot_df", pilot_df, "more than 0");
    if (rc)
        return rc;
    f = pl_f_quantile_upper(alpha, df1, df2);
    if (!isinf(pilot_df))
        n = pl_pilot_nodes(pilot_df, true, ratio, weight);
    for (size_t i = 0; i < n; i++) {
        double lambda = fmin(lambda_at_s / (ratio[i] * ratio[i]), PL_NONCENTRAL_MOST);

        rc = pl_ncf_upper(f, df1, df2, lambda, &p);
        if (rc && rc != PL_EPREC) /* EPREC is far finer than this sum needs */
            return rc;
        sum += weight[i] * p.value;
    }
    *out = sum;
    return PL_OK;
}

double pl_power_lambda(double df1, double df2, double alpha, double power)
{
    double low = 0, high = 2 * pl_normal_multiplier(alpha, 2, power);
    double f = pl_f_quantile_upper(alpha, df1, df2);
    pl_real p;

    if (!(power > alpha && power < 1) || isnan(f))
        return NAN;
    for (;; high *= 4) {
        if (high > PL_NONCENTRAL_MOST)
            return NAN;
        pl_ncf_upper(f, df1, df2, high, &p);
        if (p.value >= power)
            break;
        low = high;
    }
    while (high - low > 1e-11 * high) {
        double middle = (low + high) / 2;

        pl_ncf_upper(f, df1, df2, middle, &p);
        *(p.value >= power ? &high : &low) = middle;
    }
    return (low + high) / 2;
}

double pl_sd_upper_limit(double s, double df, double confidence)
{
    if (!(df > 0) || !(confidence > 0 && confidence < 1))
        return NAN;
    return isinf(df) ? s : s * sqrt(df / pl_chisq_quantile(1 - confidence, df));
}
