/* The concave log-likelihood of readings some of which are only bounds (censored_row.h), in
 * coordinates of its own, and Newton's steps up it, free or along one linear condition.
 *
 * Columns are made orthonormal, so that what the information leaves of a direction can be told. The
 * block columns at the end are replaced by one column a block where they span the same: a reading
 * lies in one block, the second derivatives are an arrow, and a step costs what the other columns
 * cost (elimination by blocks: Golub & Van Loan 2013, Matrix Computations, 3.2). Where they do not,
 * as with boards across sessions, all columns are taken alike.
 *
 * theta: the columns' coefficients over the scatter, blocks first, then 1 over the scatter (tau).
 */
#ifndef PL_FIT_CENSORED_SYSTEM_H
#define PL_FIT_CENSORED_SYSTEM_H

#include <stddef.h>

#include <gsl/gsl_matrix.h>
#include <gsl/gsl_permutation.h>

#include "base/arena.h"
#include "base/diag.h"
#include "fit/censored_row.h"

typedef struct pl_censored_system {
    pl_law law;
    size_t n, nblock, p; /* readings, block columns, other columns */
    const int *block;    /* n: 0 .. nblock - 1 */
    const double *size;  /* nblock: what a block's column holds in its rows; elsewhere 0 */
    double *z;           /* n x stride, row-major: the p other columns */
    size_t stride;
    const double *low, *high; /* n: equal: exact; infinite: open */
} pl_censored_system;

/* The orthonormal columns Q of n x p columns X = Q R, the last q of which are blocks. */
typedef struct pl_censored_frame {
    pl_censored_system system;   /* without readings */
    double *R, *factor, *turned; /* p x p; factors of R and of its transpose */
    size_t *swaps, *turned_swaps;
    size_t count; /* p */
} pl_censored_frame;

/* X: n x p row-major. spare: columns for which room is left in z behind the others. *dependent: the
 * first column that depends on those before it, p when there is none; the frame is then of no use.
 * PL_ENOMEM. */
pl_code pl_censored_frame_make(pl_arena *a, const double *X, size_t n, size_t p, size_t q,
                               size_t spare, pl_censored_frame *out, size_t *dependent,
                               pl_diags *d);
/* b <- R^-1 b and b <- R'^-1 b: from coefficients of Q to those of X; from a functional of those of
 * X to one of those of Q. */
void pl_censored_frame_solve(const pl_censored_frame *f, double *b);
void pl_censored_frame_solve_turned(const pl_censored_frame *f, double *b);

/* Numbers of theta. */
static inline size_t pl_censored_count(const pl_censored_system *s)
{
    return s->nblock + s->p + 1;
}
/* Doubles of the second derivatives, of their factors, and of a climb's desk. */
size_t pl_censored_second(const pl_censored_system *s);
size_t pl_censored_desk(const pl_censored_system *s);

/* Log-likelihood at theta; its slope g and minus the second derivatives H when not NULL.
 * -INFINITY where nothing is likely. */
double pl_censored_at(const pl_censored_system *s, const double *theta, double *g, double *H);
/* Minus the second derivative by theta j and k. */
double pl_censored_entry(const pl_censored_system *s, const double *H, size_t j, size_t k);
/* Cholesky's factors of H + ridge (as a share of its diagonal) less `less` on the diagonal; false:
 * not positive. */
bool pl_censored_factor(const pl_censored_system *s, const double *H, double ridge, double less,
                        double *factors);
/* x = H^-1 b; x may be b. */
void pl_censored_back(const pl_censored_system *s, const double *H, const double *factors,
                      const double *b, double *x);

/* Goes up from theta, along directions without a part in `condition` (NULL: all), until a step
 * gains less than gain_least. Returns the log-likelihood there. */
double pl_censored_climb(const pl_censored_system *s, double *theta, const double *condition,
                         double gain_least, double *desk);
/* Beyond this tau the fit is exact: the scatter has run to nothing. */
#define PL_CENSORED_TAU_MOST 1e7

#endif
