/* Pieces that the search grids of several curves share. */
#ifndef PL_MODEL_CURVE_GRID_H
#define PL_MODEL_CURVE_GRID_H

#include "model/curve.h"

/* A shape number has become its limit when what is left of the curve's own form is below this
 * share; fits then agree with the limit's to about the same share. */
#define PL_CURVE_LIMIT_SHARE 1e-9

/* Distance from low to the first u above it. */
double pl_curve_first_gap(const pl_curve_span *span);

/* Adds ln(from), ..., ln(to) in steps of about ln(ratio), wider when `most` points would not
 * do; *n counts what z holds. from and to are both written, from < to. */
void pl_curve_grid_run(double *z, size_t *n, double from, double to, double ratio, size_t most);

/* Adds ln(unit 10^from), ..., ln(unit 10^to) by so many decades. */
void pl_curve_grid_decades(double *z, size_t *n, double unit, int from, int to, int by);

/* Knees: from 1e-8 of the first gap, over every u (at most 200 of them) with points between,
 * up to high; beyond it to 1e12 spans if beyond. */
size_t pl_curve_grid_knees(const pl_curve_span *span, bool beyond, double *z);

/* The rise of a straight line: line and polynomial:1. */
void pl_curve_rise_line(const double *u, size_t n, double low, double high, double s, double *h);
void pl_curve_reach_line(double low, double high, const double *s, const double *part, size_t n,
                         double *u);

#endif
