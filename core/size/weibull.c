/* Weibull by maximum likelihood: one equation for the shape. Its use for numbers of pieces is
 * in low_tail.c. */
#include "size/weibull.h"

#include <gsl/gsl_sf_gamma.h>
#include <math.h>

/* With m the largest log, S_k = sum e^(b (l - m)) (l - m)^k over all and L the mean of l - m
 * over what broke: g(b) = S_1/S_0 - 1/b - L rises in b, and Newton on ln b finds its root. */
static double shape_step(const double *l, size_t n, double m, double L, double b)
{
    double s0 = 0, s1 = 0, s2 = 0, g, slope;

    for (size_t i = 0; i < n; i++) {
        double y = l[i] - m, e = exp(b * y);

        s0 += e;
        s1 += e * y;
        s2 += e * y * y;
    }
    g = s1 / s0 - 1 / b - L;
    slope = s2 / s0 - s1 / s0 * (s1 / s0) + 1 / (b * b);
    return g / (slope * b); /* in ln b */
}

bool pl_weibull_fit(const double *log_x, const bool *censored, size_t n, pl_weibull *out)
{
    double m = -INFINITY, L = 0, squares = 0, b, s0 = 0;
    size_t broke = 0;

    for (size_t i = 0; i < n; i++) {
        m = fmax(m, log_x[i]);
        broke += !(censored && censored[i]);
    }
    for (size_t i = 0; i < n; i++)
        L += censored && censored[i] ? 0 : (log_x[i] - m) / (double)broke;
    for (size_t i = 0; i < n; i++)
        squares += censored && censored[i] ? 0 : pow(log_x[i] - m - L, 2) / (double)broke;
    if (broke < 2 || !(squares > 0))
        return false;
    b = M_PI / sqrt(6 * squares); /* the log of a Weibull value has sd pi/(b sqrt 6) */
    for (int i = 0; i < 100; i++) {
        double step = shape_step(log_x, n, m, L, b);

        b *= exp(-fmax(-1, fmin(1, step)));
        if (fabs(step) < 1e-13)
            break;
    }
    for (size_t i = 0; i < n; i++)
        s0 += exp(b * (log_x[i] - m));
    out->shape = b;
    out->scale = exp(m + log(s0 / (double)broke) / b);
    out->log_likelihood = (double)broke * (log(b) - b * log(out->scale) + (b - 1) * (L + m) - 1);
    return isfinite(b);
}

double pl_weibull_quantile(const pl_weibull *w, double p)
{
    return w->scale * pow(-log1p(-p), 1 / w->shape);
}

/* cv^2 = Gamma(1 + 2/b)/Gamma(1 + 1/b)^2 - 1 falls in b. */
double pl_weibull_shape_of(double cv)
{
    double low = 0.1, high = 1e5;

    if (!(cv > 1e-4 && cv < 10))
        return NAN;
    while (high - low > 1e-12 * low) {
        double b = sqrt(low * high);

        if (expm1(gsl_sf_lngamma(1 + 2 / b) - 2 * gsl_sf_lngamma(1 + 1 / b)) > cv * cv)
            low = b;
        else
            high = b;
    }
    return sqrt(low * high);
}
