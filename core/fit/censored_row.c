/* The log-likelihood of one reading with its derivatives. Sums over readings, and where they are
 * largest, are censored.c's. */
#include "fit/censored_row.h"

#include <math.h>
#include <string.h>

#include "base/prob.h"

#define LN_SQRT_2PI 0.91893853320467274178
/* Beyond this erfc runs out of range; the asymptotic series is exact to 1e-16 there. */
#define FAR 26.0
/* Intervals narrower than this (in standard deviations) are summed, not subtracted. */
#define NARROW 1.0

const char *pl_law_name(pl_law law)
{
    static const char *const names[] = { "normal", "lognormal", "weibull" };

    return law < PL_NLAWS ? names[law] : "";
}

pl_law pl_law_of(const char *name)
{
    pl_law law = PL_LAW_NORMAL;

    while (law < PL_NLAWS && strcmp(name, pl_law_name(law)) != 0)
        law++;
    return law;
}

double pl_law_quantile(pl_law law, double p)
{
    return law == PL_LAW_WEIBULL ? log(-log1p(-p)) : pl_normal_quantile(p);
}

/* A logarithm and its first two derivatives in z. */
typedef struct curl {
    double value, first, second;
} curl;

/* log of the normal upper tail. Mills' ratio beyond FAR: Abramowitz & Stegun 26.2.12. */
static curl normal_above(double z)
{
    curl c;
    double hazard;

    if (z > FAR) {
        double v = 1 / (z * z), sum = 1 - v * (1 - 3 * v * (1 - 5 * v * (1 - 7 * v)));

        c.value = -0.5 * z * z - LN_SQRT_2PI - log(z) + log(sum);
        hazard = z / sum;
        c.second = -hazard * z * (1 - sum) / sum;
    } else {
        double upper = 0.5 * erfc(z * M_SQRT1_2);

        c.value = z < -1 ? log1p(-0.5 * erfc(-z * M_SQRT1_2)) : log(upper);
        hazard = exp(-0.5 * z * z - LN_SQRT_2PI - c.value);
        c.second = -hazard * (hazard - z);
    }
    c.first = -hazard;
    return c;
}

static curl extreme_above(double z)
{
    const double w = exp(z);

    return (curl){ -w, -w, -w };
}

/* log(1 - exp(-w)), w = exp(z): its slope r = w/(e^w - 1), and r (1 - w - r). */
static curl extreme_below(double z)
{
    const double w = exp(z);
    curl c = { log(-expm1(-w)), 0, 0 };

    if (w < 1e-2) { /* Bernoulli numbers; the next term is below 1e-15 */
        double b = -w / 2 + w * w / 12 - w * w * w * w / 720;

        c.first = 1 + b;
        c.second = c.first * (-w / 2 - w * w / 12 + w * w * w * w / 720);
        c.value = z + log1p(-w / 2 + w * w / 6 - w * w * w / 24 + w * w * w * w / 120 -
                            w * w * w * w * w / 720 + w * w * w * w * w * w / 5040);
    } else if (w < 700) {
        c.first = w / expm1(w);
        c.second = c.first * (1 - w - c.first);
    }
    return c;
}

static curl above(pl_law law, double z)
{
    return law == PL_LAW_WEIBULL ? extreme_above(z) : normal_above(z);
}

static curl below(pl_law law, double z)
{
    curl c;

    if (law == PL_LAW_WEIBULL)
        return extreme_below(z);
    c = normal_above(-z);
    c.first = -c.first;
    return c;
}

static curl density(pl_law law, double z)
{
    const double w = law == PL_LAW_WEIBULL ? exp(z) : 0;

    return law == PL_LAW_WEIBULL ? (curl){ z - w, 1 - w, -w }
                                 : (curl){ -0.5 * z * z - LN_SQRT_2PI, -z, -1 };
}

/* One end at y. */
static void one_end(const curl *c, double y, pl_row_part *out)
{
    *out = (pl_row_part){ c->value,  -c->first,      c->first * y,
                          c->second, -c->second * y, c->second * y * y };
}

/* Nodes and weights of Gauss and Legendre, 12 points, the positive half: Abramowitz & Stegun,
 * table 25.4. */
static const double node[] = { 0.125233408511468915472, 0.367831498998180193753,
                               0.587317954286617447297, 0.769902674194304687037,
                               0.904117256370474856678, 0.981560634246719250691 };
static const double weight[] = { 0.249147045813402785001, 0.233492536538354808761,
                                 0.203167426723065921749, 0.160078328543346226335,
                                 0.106939325995318430960, 0.047175336386511827195 };

/* The mean of exact readings over [low, high], weighted by their density. */
static void narrow(pl_law law, double low, double high, double eta, double tau, pl_row_part *out)
{
    double y[12], p[12], s[12], e[12], most = -INFINITY, sum = 0;
    double ms = 0, mt = 0, me = 0, met = 0, mtt = 0, vss = 0, vst = 0, vtt = 0;

    for (int k = 0; k < 12; k++) {
        curl c;

        y[k] = 0.5 * (low + high) + 0.5 * (high - low) * (k < 6 ? node[k] : -node[k - 6]);
        c = density(law, tau * y[k] - eta);
        p[k] = c.value;
        s[k] = c.first;
        e[k] = c.second;
        most = fmax(most, c.value);
    }
    for (int k = 0; k < 12; k++) {
        p[k] = weight[k % 6] * exp(p[k] - most);
        sum += p[k];
    }
    for (int k = 0; k < 12; k++) {
        p[k] /= sum;
        ms += p[k] * s[k];
        mt += p[k] * s[k] * y[k];
        me += p[k] * e[k];
        met += p[k] * e[k] * y[k];
        mtt += p[k] * e[k] * y[k] * y[k];
    }
    for (int k = 0; k < 12; k++) {
        double ds = s[k] - ms, dt = s[k] * y[k] - mt;

        vss += p[k] * ds * ds;
        vst += p[k] * ds * dt;
        vtt += p[k] * dt * dt;
    }
    *out = (pl_row_part){ most + log(0.5 * sum * tau * (high - low)),
                          -ms,
                          1 / tau + mt,
                          me + vss,
                          -(met + vst),
                          mtt + vtt - 1 / (tau * tau) };
}

/* log(F(b) - F(a)), from whichever tail loses nothing. */
static double log_between(pl_law law, double a, double b)
{
    double from, to;

    if (law != PL_LAW_WEIBULL && a < 0 && b > 0)
        return log1p(-(pl_normal_upper(b) + pl_normal_lower(a)));
    if (law != PL_LAW_WEIBULL && b <= 0) {
        from = below(law, b).value;
        to = below(law, a).value;
    } else {
        from = above(law, a).value;
        to = above(law, b).value;
    }
    return from + log(-expm1(to - from));
}

static void wide(pl_law law, double low, double high, double eta, double tau, pl_row_part *out)
{
    const double a = tau * low - eta, b = tau * high - eta, D = log_between(law, a, b);
    const curl fa = density(law, a), fb = density(law, b);
    const double ra = exp(fa.value - D), rb = exp(fb.value - D);
    const double aa = -fa.first * ra - ra * ra, ab = ra * rb, bb = fb.first * rb - rb * rb;

    *out = (pl_row_part){ D,
                          ra - rb,
                          rb * high - ra * low,
                          aa + 2 * ab + bb,
                          -(aa * low + ab * (low + high) + bb * high),
                          aa * low * low + 2 * ab * low * high + bb * high * high };
}

void pl_row_likelihood(pl_law law, double low, double high, double eta, double tau,
                       pl_row_part *out)
{
    curl c;

    if (low == high) {
        c = density(law, tau * low - eta);
        one_end(&c, low, out);
        out->value += log(tau);
        out->gt += 1 / tau;
        out->htt -= 1 / (tau * tau);
    } else if (isinf(high)) {
        c = above(law, tau * low - eta);
        one_end(&c, low, out);
    } else if (isinf(low)) {
        c = below(law, tau * high - eta);
        one_end(&c, high, out);
    } else if (tau * (high - low) *
                   fmax(1, fmax(fabs(density(law, tau * low - eta).first),
                                fabs(density(law, tau * high - eta).first))) <
               NARROW) {
        narrow(law, low, high, eta, tau, out);
    } else {
        wide(law, low, high, eta, tau, out);
    }
    if (!isfinite(out->value) || !isfinite(out->ge) || !isfinite(out->gt) || !isfinite(out->hee) ||
        !isfinite(out->htt))
        *out = (pl_row_part){ .value = -INFINITY };
}
