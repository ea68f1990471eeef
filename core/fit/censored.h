/* Strengths some of which are only bounds: columns, scatter and blocks by greatest likelihood.
 *
 * The columns are those of any linear model; a reading is exact, at or above a load (broke in the
 * wood, not broken), at or below one (broken in handling), or between two marks of a dial. For
 * lognormal and Weibull the columns are those of log strength.
 *
 * In (beta/sigma, 1/sigma) the log-likelihood is concave (censored_row.h), so Newton's steps reach
 * its top from anywhere, and a condition g'beta + gs sigma = v is one plain linear condition there:
 * limits come from the profile (Venzon & Moolgavkar 1988, Appl. Stat. 37:87), and the onset of a
 * curve is held the same way. Standard errors: observed information.
 *
 * The top may lie at infinity: a cell none of whose joints showed its glue line's strength has no
 * upper limit (Silvapulle & Burridge 1986, JRSS B 48:100). Such directions are found by what the
 * information leaves of them; what depends on them is open on that side, the rest stands. */
#ifndef PL_FIT_CENSORED_H
#define PL_FIT_CENSORED_H

#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "fit/censored_system.h"
#include "fit/result.h"

typedef struct pl_censored_data {
    const char *where; /* table, for findings */
    size_t n, p, q;
    const double *X;          /* n x p row-major; the last q columns are blocks */
    const char *const *names; /* p, for findings; NULL */
    const double *low, *high; /* n, in the response's unit; equal: exact; -INFINITY, INFINITY */
    pl_law law;
} pl_censored_data;

typedef struct pl_censored {
    size_t n, p;
    pl_law law;
    size_t exact, above, below, between; /* readings of each kind */
    double log_likelihood;               /* of the readings in their own unit */
    double *beta;                        /* p */
    double sigma;                        /* of strength or of its logarithm */
    size_t nopen;                        /* directions that run away */
    /* Inner: readings about a first fit and scaled; the top and where the last held search ended.
     */
    pl_censored_frame frame;
    pl_censored_system system;
    double *first, scale, *low, *high, jacobian;
    double *theta, *warm;
    double *H, *factors; /* second derivatives at the top; factors: none where nopen */
    double *open;        /* nopen x count: the open directions */
    double *axes, *bend; /* where nopen: all axes of H, and what H holds of each */
    double *desk, *g;    /* scratch */
} pl_censored;

/* Fits. Everything of *out lives in a; X is not kept.
 *
 * PL_EVALUE  a strength at or below zero with lognormal or Weibull; low above high
 * PL_EDATA   no reading; every reading a bound; fewer exact or between readings than numbers to
 *            estimate; all values equal; the scatter runs to nothing
 * PL_ERANK   a column depends on those before it: named
 * PL_ENOMEM */
pl_code pl_censored_fit(pl_arena *a, const pl_censored_data *data, pl_censored *out, pl_diags *d);

/* Greatest log-likelihood with g'beta + gs sigma = v (g: p values; all 0: sigma = v / gs).
 * -INFINITY when nothing serves. Searches from where the last one ended; pl_censored_rewind: from
 * the top. Uses out's scratch: one thread at a time. */
double pl_censored_held(pl_censored *c, const double *g, double gs, double v);
void pl_censored_rewind(pl_censored *c);

/* g'beta + gs sigma with its standard error (NULL if not wanted; NAN when open). */
double pl_censored_value(pl_censored *c, const double *g, double gs, double *se);
/* Whether it runs away: 1 upward, -1 downward, 0 not. */
int pl_censored_runs(pl_censored *c, const double *g);

/* Where the log-likelihood has fallen by `drop` on either side. at: the estimate, NAN when it
 * runs away; an end is open when the likelihood never falls that far. */
void pl_censored_limits(pl_censored *c, const double *g, double gs, double drop, pl_bounded *out);

/* The drop that a t of df degrees of freedom stands for: (n/2) ln(1 + t^2/df), n the readings that
 * are no mere bounds above. Without censoring and for normal strengths the limits are then
 * exactly those of t. */
double pl_censored_drop(const pl_censored *c, double sure);
/* Exact and between readings less the columns that do not run away, at least 1. */
double pl_censored_df(const pl_censored *c);

#endif
