/* One fitted curve: named parameters with standard errors to the last digits, AICc, lack of
 * fit, and the mean with its variance at any x.
 *
 * The optimum comes from curve_work.c; here the shape number is polished in long double on the
 * named columns (the zero of the derivative of the residual sum of squares, bracketed). Standard
 * errors are s^2 (J'J)^-1 with the full Jacobian (Seber & Wild 1989, Nonlinear Regression,
 * ch. 2); limits by t. At a limit (line, step) the shape number is known and the rest stands
 * given it; what has run away is NAN or infinite. */
#ifndef PL_FIT_CURVE_H
#define PL_FIT_CURVE_H

#include "fit/curve_work.h"
#include "fit/result.h"

#define PL_CURVE_PARAM_MOST (PL_CURVE_LINEAR_MOST + 1)

typedef struct pl_curve_model {
    const pl_curve *curve;
    const pl_curve_rows *rows;
    pl_curve_work work;
    pl_curve_best best;
    bool monotone; /* the basis A + D h serves; false: polynomial of degree 2 and up */
    size_t nmean;  /* mean parameters, shape number included, fixed floor not */
    double df, ss, s2;
    double aicc;   /* NAN when units are too few */
    double weight; /* set by the caller */
    /* In x: lowest and highest place where the mean is a share of its largest value in the range
     * (NAN when that is not above zero), and where it is largest; that value. */
    double onset, end, top_at, height;
    /* The mean is sum beta_j f_j(x) and its variance s2 f' inverse f: f named columns with the
     * shape's derivative, or (1, h) at a limit. */
    bool named;
    size_t nf;
    long double beta[PL_CURVE_PARAM_MOST];
    long double inverse[PL_CURVE_PARAM_MOST * PL_CURVE_PARAM_MOST];
    /* Of a wide curve: its shape numbers, which of them stand at an end of their range, the
     * places of the others (the last nfree of beta), and what held searches start from. */
    double shape[PL_CURVE_SHAPES_MOST];
    bool at_end[PL_CURVE_SHAPES_MOST];
    size_t nfree, free[PL_CURVE_SHAPES_MOST];
    struct pl_curve_wide_search *search;
    struct pl_curve_turn *turn; /* of rise-and-fall: what its searches start from */
} pl_curve_model;

/* Fits. Arguments as pl_curve_work_make. PL_ERANK when columns depend on each other or on
 * blocks, PL_EDATA when no degree of freedom is left over (df 0 is fine), PL_ENOMEM. */
pl_code pl_curve_model_fit(pl_arena *a, const pl_curve *curve, const pl_curve_rows *rows,
                           bool log_x, double x1, double low_x, double high_x, double share,
                           const double *floor, pl_curve_model *out, pl_diags *d);

/* The same curve on other rows (of the same units) with its shape number held where `at` has it.
 * Not for wide curves and rise-and-fall. */
pl_code pl_curve_model_fit_at(pl_arena *a, const pl_curve_model *at, const pl_curve_rows *rows,
                              pl_curve_model *out, pl_diags *d);

/* How the mean at x changes with each of the nf fitted numbers. */
void pl_curve_model_slopes(const pl_curve_model *m, double x, double *out);

/* What a fixed floor adds to it at x; 0 where the floor is free. */
double pl_curve_model_offset(const pl_curve_model *m, double x);

/* Mean at x averaged over blocks, and the variance of that mean (NULL if not wanted). */
double pl_curve_model_mean(const pl_curve_model *m, double x, double *variance);

/* As the caller sees it; pure: the residual of level means and blocks on the same units, df 0
 * when no level is repeated. x: ngrid places for the picture. */
pl_code pl_curve_model_report(pl_arena *a, const pl_curve_model *m, const pl_residual *pure,
                              const double *x, size_t ngrid, pl_curve_fit *out, pl_diags *d);

/* Least residual sum of squares with the onset or the end of the range held at x. Polynomials of
 * degree 2 and up: curve_powers.c. */
double pl_curve_model_held(pl_curve_model *m, pl_curve_held held, double x);

/* Inner: what one fit in long double works on, and a coefficient with its limits. */
typedef struct pl_curve_desk {
    const pl_curve_model *m;
    long double *u;                /* rows->n */
    long double *columns, *slope;  /* n x nlinear */
    long double *X, *y, *residual; /* columns of n; n; n */
} pl_curve_desk;
/* Column j of X from source values by unit, blocks taken out, moved to the front. */
void pl_curve_desk_column(const pl_curve_desk *k, size_t j, const long double *source,
                          size_t stride);
bool pl_curve_desk_make(pl_arena *a, const pl_curve_model *m, pl_curve_desk *k);
/* Half the derivative of the residual sum of squares by the shape number s, with the sign turned:
 * zero at the optimum, falling through it. false: the named columns depend on each other. */
bool pl_curve_desk_descent(const pl_curve_desk *k, long double s, long double *out);
/* Named parameters at s, ss, and the inverse of J'J with the shape's column last. */
bool pl_curve_desk_settle(pl_curve_model *m, const pl_curve_desk *k, long double s);
/* A knee on a point: the derivative jumps there, nothing is to be polished. */
bool pl_curve_on_a_point(const pl_curve_model *m, double s);
/* Burnham & Anderson 2002, Model Selection, 2nd ed., sec. 2.4: N units, K coefficients with
 * blocks, shape numbers and the variance; the normal log-likelihood at its largest. NAN when units
 * are too few. */
double pl_curve_aicc(double ss, double N, double K);
/* Tells a shape number that is a place on a log axis in x. */
void pl_curve_tell_place(const pl_curve_model *m, pl_coef *c);
pl_coef pl_curve_coef(const pl_curve_model *m, const char *name, double estimate, double variance);

/* Inner: wide curves (curve_wide.c). Search and settle: false when no shape numbers serve, or
 * columns depend on each other at the best of them. */
pl_code pl_curve_wide_begin(pl_arena *a, pl_curve_model *m, pl_diags *d);
bool pl_curve_wide_look(pl_curve_model *m, const pl_curve_desk *k);
bool pl_curve_wide_settle(pl_curve_model *m, const pl_curve_desk *k);
long double pl_curve_wide_features(const pl_curve_model *m, double x, long double *f);
void pl_curve_wide_params(const pl_curve_model *m, pl_coef *out);
double pl_curve_wide_held(pl_curve_model *m, pl_curve_held held, double x);

/* Inner: rise-and-fall (curve_turn.c). begin: NULL `turn` when levels lie within blocks, and look
 * is then false. settle: on the basis of the searches, where the named columns do not serve. */
pl_code pl_curve_turn_begin(pl_arena *a, pl_curve_model *m, pl_diags *d);
bool pl_curve_turn_look(pl_curve_model *m);
bool pl_curve_turn_settle(pl_curve_model *m, const pl_curve_desk *k);
long double pl_curve_turn_features(const pl_curve_model *m, long double u, long double *f);
void pl_curve_turn_reach(pl_curve_model *m);
double pl_curve_turn_held(pl_curve_model *m, pl_curve_held held, double x);

/* Inner: polynomials of degree 2 and up (curve_powers.c). */
double pl_curve_powers_held(const pl_curve_model *m, pl_curve_held held, double x);
void pl_curve_powers_reach(pl_curve_model *m);

#endif
