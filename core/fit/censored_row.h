/* One reading's part of a log-likelihood: known exactly, known to lie above, below or between.
 *
 * A reading y (its logarithm for lognormal and Weibull) is eta/tau + w/tau with w standard normal,
 * or smallest extreme value for Weibull; z = tau y - eta. In (eta, tau) the log-likelihood is
 * concave, whatever is censored: Olsen 1978, Econometrica 46:1211; Burridge 1981, JRSS B 43:41. */
#ifndef PL_FIT_CENSORED_ROW_H
#define PL_FIT_CENSORED_ROW_H

#include <stdbool.h>

typedef enum pl_law { PL_LAW_NORMAL, PL_LAW_LOGNORMAL, PL_LAW_WEIBULL, PL_NLAWS } pl_law;
const char *pl_law_name(pl_law law); /* "normal", "lognormal", "weibull" */
pl_law pl_law_of(const char *name);  /* PL_NLAWS when there is none of that name */
/* The law is that of the logarithm. */
static inline bool pl_law_of_logs(pl_law law)
{
    return law != PL_LAW_NORMAL;
}

/* Standard quantile of w: lower p. */
double pl_law_quantile(pl_law law, double p);

typedef struct pl_row_part {
    double value;         /* log-likelihood */
    double ge, gt;        /* d/d eta, d/d tau */
    double hee, het, htt; /* second derivatives */
} pl_row_part;

/* low == high: exact; low -INFINITY: at or below high; high INFINITY: at or above low. value
 * -INFINITY where the law holds the reading for impossible (far tails of the arithmetic). */
void pl_row_likelihood(pl_law law, double low, double high, double eta, double tau,
                       pl_row_part *out);

#endif
