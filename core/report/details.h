/* The grids under "Details": the same for terminal and page. */
#ifndef PL_REPORT_DETAILS_H
#define PL_REPORT_DETAILS_H

#include "page/grid.h"
#include "report/answer.h"

pl_grid *pl_details_levels(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p);
pl_grid *pl_details_curves(pl_arena *a, const pl_plateau *p);
pl_grid *pl_details_params(pl_arena *a, const pl_plateau *p);
pl_grid *pl_details_effects(pl_arena *a, const pl_linear_fit *l);
pl_grid *pl_details_means(pl_arena *a, const pl_linear_fit *l);
/* bars: a column of intervals drawn in signs of one width, for the terminal. */
pl_grid *pl_details_comparisons(pl_arena *a, const pl_linear_fit *l, bool bars);

/* The test behind the state, in one or two sentences. */
char *pl_details_state(pl_arena *a, const pl_plateau *p);

/* Parts that tables of coefficients share. */
void pl_details_coef_columns(pl_grid *g);
void pl_details_coef_cells(pl_grid *g, const pl_coef *c);
/* Curves and linear model of an answer, one after the other. */
void pl_details_body(pl_arena *a, const pl_fit_answer *f, pl_text *t);
void pl_details_add(pl_text *t, pl_arena *a, const char *head, const pl_grid *g);

/* All tables of a linear model. */
void pl_linear_details(pl_arena *a, const pl_linear_fit *l, pl_text *t);

/* x with as many decimals as its standard error has with three significant digits. */
void pl_details_beside(pl_grid *g, double x, double se);

#endif
