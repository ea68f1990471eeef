/* Runs chosen from candidates so that what is asked becomes as sure as can be.
 *
 * A run is a candidate in a block. With x = (its block's mark, its row of f) and M the sum of
 * x x' over all runs, made large or small is
 *   D  the determinant of M: all columns together (Fedorov, Theory of Optimal Experiments,
 *      1972, ch. 3);
 *   I  the mean variance of what is predicted over all candidates, made small;
 *   c  the variance of one combination of the columns, aim' M^-1 aim, made small.
 * A run gives way to the candidate that gains most, run after run, until none gains: by
 * rank-one updates of the inverse (Fedorov's exchange), or, with `radix`, to candidates that
 * differ from it in one factor only (coordinate exchange: Meyer & Nachtsheim 1995,
 * Technometrics 37:60), for which many candidates need no table. Several starts; the best is
 * kept.
 *
 * + - * / only; ties go to the lower index; a gain must exceed PL_EXCHANGE_GAIN; the search stops
 * after a counted amount of work. The same on every machine. */
#ifndef PL_DESIGN_EXCHANGE_H
#define PL_DESIGN_EXCHANGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "study/study.h"

#define PL_EXCHANGE_GAIN 1e-9
/* Candidates looked at, times columns: a third of a second or so. */
#define PL_EXCHANGE_WORK ((size_t)100000000)

/* One model, or one guess of it. Columns without the mean: the blocks carry that, unless
 * there is none (no_mean). */
typedef struct pl_view {
    size_t p;
    const double *f;   /* ncand x p */
    const double *aim; /* c: 1 + p, the mean's part first; else NULL */
    double weight;     /* against other views; 1 when alone. D takes one view only */
} pl_view;

/* What a design is chosen from, and what for; shared with weights.h. */
typedef struct pl_region {
    pl_criterion criterion;
    size_t ncand, nview;
    const pl_view *view;
    const bool *may; /* ncand: may be made; NULL: all */
    bool no_mean;    /* neither mean nor blocks: parts of a mixture, curves through zero */
    /* c: runs that count as spread evenly over all that may be made, as a share of all runs, so
     * that a curve other than the guess can still be told. 0 for D and I. */
    double spread;
} pl_region;

typedef struct pl_exchange {
    pl_region of;
    size_t nrun, nfixed;   /* the first nfixed runs stay as given */
    const uint32_t *block; /* nrun: below nblock, none of them empty; NULL: one */
    size_t nblock;
    bool distinct; /* no candidate twice */
    const uint32_t
        *radix; /* nradix, product ncand, the last running fastest; NULL: any candidate */
    size_t nradix, starts; /* at least 1 */
    uint64_t seed;         /* of the starts */
    size_t work;           /* most work; 0: PL_EXCHANGE_WORK */
    uint32_t *run;         /* nrun: the first nfixed given, the others written */
    double value;          /* out. D: p-th root of the determinant within blocks, for one run; I, c:
                              the variance, in sigma^2 */
    size_t moves, starts_done; /* out */
} pl_exchange;

/* PL_ERANK  these columns cannot be told apart, or from the blocks, by any runs tried
 * PL_EUSAGE no candidate may be made, or too few for distinct runs
 * PL_ENOMEM. Nothing is said: the caller knows what the columns are. */
pl_code pl_exchange_search(pl_arena *a, pl_exchange *x, pl_diags *diags);

/* A number too large or small for a double: m * 2^e, 0.5 <= m < 1, or m = 0. */
typedef struct pl_scaled {
    double m;
    long e;
} pl_scaled;
void pl_scaled_times(pl_scaled *x, double by); /* by >= 0 */
double pl_scaled_root(pl_scaled x, size_t n);  /* n-th root, by Newton's rule; n >= 1 */

/* Inverts the symmetric n x n matrix in place. False: a pivot is below PL_INFORMATION_ZERO of its
 * diagonal. det: NULL, or multiplied by the pivots. */
bool pl_symmetric_invert(double *m, size_t n, double *scratch, pl_scaled *det);

#endif
