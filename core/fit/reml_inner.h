/* What the files of restricted likelihood share; nobody else includes this. */
#ifndef PL_FIT_REML_INNER_H
#define PL_FIT_REML_INNER_H

#include "fit/reml.h"

#define PL_REML_PAIRS (PL_REML_FACTORS_MOST * PL_REML_FACTORS_MOST)

/* Letters: V0 = V over the residual variance; lead factor Z1, the others Z2; m = p + 1 columns, the
 * last is what x leaves of y. H = Z'V0^-1 Z; U = Z'V0^-1 [Q, residual]. */
typedef struct pl_reml_work {
    size_t n, p, m, K;
    double *q, *t, *qy; /* n x m: columns less the lead levels' means once summed; p x p; p */
    size_t lead, nlead, nrest, offset[PL_REML_FACTORS_MOST];
    double *count, *sum, *within; /* of lead levels: rows, totals (nlead x m); m x m */
    size_t nsize;                 /* lead alone: sizes of levels, how many, products of totals */
    double *size, *many, *between;
    size_t *start, *met; /* with others: what each lead level meets, how often */
    double *times, *rest_count, *rest_q;
    /* at the point evaluated last */
    double *S, *A, *C, *g, rss;
    double *root, *N, *M, *E, *LE, *KE, *G, *GD, *J, *NJ, *FU, *U2, *u, *room, *room2, *room3;
    double trace[PL_REML_FACTORS_MOST], square[PL_REML_PAIRS];   /* of H */
    double *P[PL_REML_FACTORS_MOST], *H[PL_REML_PAIRS];          /* U'U and U'H U, m x m */
    double *CP[PL_REML_FACTORS_MOST], *Cg[PL_REML_FACTORS_MOST]; /* C times these */
    double tr[PL_REML_FACTORS_MOST], gg[PL_REML_FACTORS_MOST];   /* tr(P0 V_k), y'P0 V_k P0 y */
    double trtr[PL_REML_PAIRS], slope[PL_REML_FACTORS_MOST], bend[PL_REML_PAIRS];
} pl_reml_work;

/* reml_prepare.c: all of *w that does not depend on the ratios. PL_EDATA, PL_ENOMEM. */
pl_code pl_reml_prepare(pl_arena *a, const pl_reml_data *d, pl_reml_work *w, pl_diags *diags);

double pl_reml_cholesky(double *c, size_t k);
void pl_reml_invert(const double *l, size_t k, double *out, double *room);

/* Coefficients, covariance, its adjustment, information: the rest of *out. */
pl_code pl_reml_adjust(pl_arena *a, const pl_reml_work *w, const double *ratio, pl_reml *out,
                       pl_diags *diags);

#endif
