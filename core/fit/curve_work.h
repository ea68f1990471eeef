/* One curve on one scale against one set of rows: its best fit, and its best fit when the
 * onset or the end of the range is held at a place.
 *
 * Searches run in the basis A + D h(u) of model/curve.h, so that lines and steps are
 * ordinary points. Derivations: docs/methods/curves-and-onset.md. */
#ifndef PL_FIT_CURVE_WORK_H
#define PL_FIT_CURVE_WORK_H

#include "fit/curve_rows.h"
#include "model/curve.h"

/* One shape number tried: the factors of its fit. */
typedef struct pl_curve_point {
    double s;
    double r12, r22, q2;  /* second row of the 2 x 2 triangle and its part of z */
    double ss;            /* residual sum of squares */
    double h_low, h_high; /* h at the ends of the range */
} pl_curve_point;

/* Sums over the distinct u left of a knee (linear-plateau); see curve_segments.c. */
typedef struct pl_curve_left {
    long double pp, pv, vv, p1, v1, pz, vz;
} pl_curve_left;

typedef struct pl_curve_work {
    const pl_curve *curve;
    const pl_curve_rows *rows;
    bool log_x, floor_fixed;
    double floor, x1;
    double *u; /* rows->m, rising */
    pl_curve_span span;
    double u_low, u_high; /* the range of levels, in u */
    double share;
    size_t p;   /* columns: 1 + nlinear for powers; 2; 1 when flat or the floor is fixed */
    double *zc; /* rows: z less a fixed floor, less its part along the constant */
    double *q1; /* rows: unit vector along the constant; unused when the floor is fixed */
    double r11, qz1;
    double ss_nothing; /* sum of squares with no curve at all (a fixed floor taken off) */
    double *h, *th;    /* scratch: m, rows */
    size_t ngrid;
    double *grid;                       /* search coordinates */
    pl_curve_point *points;             /* at the grid */
    double *trial;                      /* scratch: ngrid */
    double *fine, *fine_trial;          /* scratch of the free search */
    pl_curve_left *left;                /* m, linear-plateau only */
    double shape[PL_CURVE_SHAPES_MOST]; /* of a wide curve: what the next try is about */
    double *columns;                    /* scratch of a wide curve: m x nlinear */
    long double z1, zz, one_one;
} pl_curve_work;

typedef struct pl_curve_best {
    double s;    /* shape number; NAN without one */
    double A, D; /* m(u) = A + D h(u); not for polynomials of degree 2 and up */
    double ss;
    const char *limit; /* "line", "step", "reciprocal"; NULL inside */
} pl_curve_best;

/* low_x, high_x: the range of levels. x1: the lowest x above zero (log_x). rows is kept by
 * reference. For curves with a rise, and flat. PL_NOMEM only. */
pl_code pl_curve_work_make(pl_arena *a, const pl_curve *curve, const pl_curve_rows *rows,
                           bool log_x, double x1, double low_x, double high_x, double share,
                           const double *floor, pl_curve_work *out, pl_diags *d);

/* It has the basis A + D h: flat and powers have not, nor has a wide curve that may turn. */
bool pl_curve_work_goes_one_way(const pl_curve_work *w);

/* u of an x, and back. */
double pl_curve_u(const pl_curve_work *w, double x);
double pl_curve_x(const pl_curve_work *w, double u);

/* h at one u for shape s (a wide curve: for w->shape). */
double pl_curve_rise_at(const pl_curve_work *w, double s, double u);

/* Fits for a given shape number. */
void pl_curve_try(pl_curve_work *w, double s, pl_curve_point *out);

/* The global optimum. */
void pl_curve_search(pl_curve_work *w, pl_curve_best *out);

/* What is held when a place t (in u, inside the range) is asked about. */
typedef enum pl_curve_held {
    PL_HELD_ONSET, /* t is the lowest place where m >= share * its largest value in the range */
    PL_HELD_END    /* t is the highest such place */
} pl_curve_held;

/* Least residual sum of squares under the condition; INFINITY when no curve of the kind can
 * meet it. */
double pl_curve_ss_held(pl_curve_work *w, pl_curve_held held, double t);

/* Onset (lowest) and end (highest place) of m = A + D h in the range, in u. NAN when the largest
 * mean is not above zero. */
void pl_curve_reach(const pl_curve_work *w, const pl_curve_best *b, double *onset, double *end);

/* Inner: the part of ray_ss for a wide curve (curve_wide.c): least sum of squares at w->shape
 * with t held. */
double pl_curve_ray_ss(pl_curve_work *w, pl_curve_held held, double t);

/* Inner: linear-plateau, segment by segment (curve_segments.c). */
pl_code pl_curve_segments_make(pl_arena *a, pl_curve_work *w, pl_diags *d);
double pl_curve_segments_best(const pl_curve_work *w); /* the knee */
double pl_curve_segments_held(const pl_curve_work *w, pl_curve_held held, double t);

/* Minimum of f over [low, high] by Brent's method (Brent 1973, ch. 5), to tol in the argument;
 * *at is the place. */
typedef double (*pl_curve_f)(void *self, double z);
double pl_curve_minimum(pl_curve_f f, void *self, double low, double high, double tol, double *at);
/* The least value of f over a rising grid whose values are in trial, refined to tol in every
 * valley: the deepest may lie between two points of which neither looks it. */
double pl_curve_valley_minimum(pl_curve_f f, void *self, const double *grid, const double *trial,
                               size_t n, double tol, double *at);

#endif
