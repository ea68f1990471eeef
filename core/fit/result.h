/* What a fit gives: plain structs, owned by an arena, read by report.
 *
 * All numbers are in the unit of their column of the table (not SI): the unit
 * stands beside them. */
#ifndef PL_FIT_RESULT_H
#define PL_FIT_RESULT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct pl_coef {
    const char *name; /* "intercept", "slope", "knee", "species=beech", "top[species=beech]" */
    double estimate, se, df, low, high; /* 95 %; se, low, high NAN when undefined */
    bool at_bound;                      /* a shape number at the edge of its range */
} pl_coef;

typedef struct pl_residual {
    double df, ss, sd;
} pl_residual;

typedef enum pl_ss_kind { PL_SS_IN_ORDER, PL_SS_AFTER_ALL_OTHERS, PL_SS_NKINDS } pl_ss_kind;
const char *pl_ss_kind_name(pl_ss_kind k); /* "in-order", "after-all-others" */

typedef struct pl_effect {
    const char *name; /* "species", "species, pressure" (their interaction), "board" */
    pl_ss_kind kind;
    double df, ss, ms, f, p; /* f, p NAN when there is no error for it */
    const char *error;       /* what it is judged against: "residual", "board" */
    double error_df, error_ms;
} pl_effect;

typedef struct pl_mean {
    const char *factor, *level;
    size_t n; /* rows behind it */
    double estimate, se, df, low, high;
} pl_mean;

/* The estimated levels of one factor, or the cells of an interaction, and how they vary
 * together: what contrasts and comparisons are made of. */
typedef struct pl_levels {
    const char *factor; /* "metal", "wool, tension" */
    size_t n;
    const char *const *names; /* "iron"; "A, L" */
    const double *estimate;   /* without an average over blocks (not connected): deviations */
    const double *cov;        /* n x n, of the estimates */
    double df;                /* of the error that their differences are judged against */
    const char *error;        /* its name */
    /* With random blocks: the fit they are from and what of its columns each is made of (n rows),
     * for the degrees of freedom of a contrast; else NULL. */
    const struct pl_reml *reml;
    const double *rows;
} pl_levels;

/* A weighted sum of levels, weights adding up to 0. */
typedef struct pl_contrast {
    const char *name; /* "iron 1, copper -1" */
    const char *factor;
    double estimate, se, df, low, high; /* 95 %, for this one alone */
    double t, p;                        /* against 0, either way; NAN without an error */
    double ss; /* its own sum of squares: t^2 times the error's mean square */
    const char *error;
} pl_contrast;

typedef enum pl_compare_kind {
    PL_EVERY_PAIR,
    PL_AGAINST_NAMED,
    PL_AGAINST_BEST,
    PL_AS_GOOD_AS,
    PL_NCOMPARE_KINDS
} pl_compare_kind;
const char *pl_compare_kind_name(pl_compare_kind k); /* "every-pair", "as-good-as", ... */

/* level less against, with limits that hold for all comparisons of the list together; of
 * as-good-as: level less (1 - margin) times against, low a limit for this one alone, high NAN. */
typedef struct pl_comparison {
    const char *factor, *level, *against; /* against the best seen: "the best of the others" */
    pl_compare_kind kind;
    double estimate, se, df, low, high; /* se NAN against the best seen */
    double sure;                        /* how often all limits of the list hold: 0.95 */
    double p_holm;                      /* NAN where it does not apply */
    double margin;                      /* of as-good-as; else NAN */
    bool tested; /* false: an earlier step of the ladder failed, so this one was not tried */
    bool shown;  /* a difference; against the best: that it is (low 0) or is not (high 0) the best;
                    as good as: that it is */
} pl_comparison;

/* A factor's levels drawn again, within blocks or as the plan drew them (fit/randomise.h). */
typedef struct pl_drawn_again {
    const char *factor, *within; /* "board, species"; "" when nothing holds units apart */
    const char *unit; /* of a plan: what was drawn, "glue_up", "stretch"; NULL: no plan */
    bool narrower;    /* of a plan whose own draw could not be followed: board, session, press */
    size_t lost, otherwise; /* of a plan: glue-ups without a reading; not made at the level drawn */
    size_t units, blocks;
    bool all;               /* every arrangement was counted; else so many were drawn */
    uint64_t draws, as_far; /* as_far: those with a sum of squares no less than ss */
    uint64_t seed;
    double ss, p;   /* between levels, blocks taken out, as made */
    double mc_se;   /* of p, from the draws; 0 when all were counted */
    double p_least; /* that could have come out; NAN: not known */
} pl_drawn_again;

typedef struct pl_variance {
    const char *name; /* a random block, or "residual" */
    double sd;
    size_t levels; /* of the block; rows for the residual */
    bool at_zero;  /* blocks differ no more than chance makes them: the estimate stopped at 0 */
} pl_variance;

/* The same model said another way, beside the answer that leads. */
typedef struct pl_linear_side {
    pl_coef *coefs;
    size_t ncoef;
    pl_effect *effects;
    size_t neffect;
    pl_mean *means;
    size_t nmean;
    pl_levels *levels;
    size_t nlevels;
} pl_linear_side;

typedef struct pl_linear_fit {
    const char *response, *unit;
    size_t nrow;                      /* rows used */
    const size_t *rows;               /* their places in the table */
    const double *fitted, *residuals; /* nrow each */
    pl_coef *coefs;                   /* effects coded sum-to-zero; blocks not listed */
    size_t ncoef;
    pl_effect *effects; /* in-order first, then after-all-others */
    size_t neffect;
    /* Of each factor among the effects, averaged evenly over the rest; of an interaction's cells
     * when one error judges all that they differ by. */
    pl_mean *means;
    size_t nmean;
    pl_levels *levels; /* as means, factor by factor */
    size_t nlevels;
    pl_contrast *contrasts;
    size_t ncontrast;
    pl_comparison *comparisons;
    size_t ncomparison;
    /* With random blocks: their scatter and the residual's by restricted likelihood. One answer
     * takes differences within blocks only, the other recovers what blocks tell between them; the
     * latter leads from 10 degrees of freedom between blocks on. The other stands beside. */
    pl_variance *variance;
    size_t nvariance; /* 0: no random block */
    double log_likelihood;
    pl_linear_side *beside; /* NULL: no random block */
    bool recovered_leads;
    pl_residual residual; /* with all blocks fixed */
    double r_squared;
    pl_effect whole;  /* everything in the model, blocks too, against the mean alone */
    double total_ss;  /* about the mean; about 0 when through zero */
    size_t specimens; /* behind the nrow rows: more when units were averaged */
    size_t left_out;  /* specimens with a gap in a column that is used */
} pl_linear_fit;

typedef struct pl_lack_of_fit {
    double f, df1, df2, p; /* NAN when no level is repeated */
} pl_lack_of_fit;

struct pl_curve; /* model/curve.h */

typedef struct pl_curve_fit {
    const struct pl_curve *curve;
    const char *name; /* "linear-plateau" */
    bool log_x;
    bool averaged;       /* takes part in the averaging */
    double weight, aicc; /* weight 0 when not averaged; aicc NAN when too few units */
    pl_coef *params;
    size_t nparam;
    pl_residual residual;
    pl_lack_of_fit lack_of_fit;
    double shape[3];   /* the optimum */
    const char *limit; /* "line", "step" when a shape number sits at its bound; else NULL */
    double x1;         /* lowest level above zero; log curves run in ln(x/x1) */
    /* A picture's worth: the fitted mean at ngrid places from lowest to highest level, evenly
     * between neighbouring levels and the same for every curve, averaged over blocks, with the
     * band of the mean. */
    size_t ngrid;
    const double *grid_x, *grid_y, *grid_low, *grid_high;
} pl_curve_fit;

typedef enum pl_state {
    PL_REACHED,
    PL_NOT_REACHED,
    PL_UNDECIDED,
    PL_NO_CHANGE,
    PL_FALLING,
    PL_NSTATES
} pl_state;
const char *pl_state_name(pl_state s); /* "reached", "not-reached", "undecided", ... */

typedef struct pl_bounded {
    double at, low, high; /* NAN where open or undefined */
    bool low_open, high_open;
} pl_bounded;

/* One contrast of levels: mean of `upper` levels less mean of `lower` levels. */
typedef struct pl_step {
    size_t lower_from, lower_to, upper_from, upper_to; /* level places, inclusive */
    double difference, se, t, point; /* t against the simultaneous critical point */
} pl_step;

typedef struct pl_level_mean {
    double planned; /* the level's name as a number */
    const char *level;
    double at;    /* mean applied value */
    size_t units; /* glue-ups */
    size_t specimens;
    double mean, se; /* adjusted for blocks */
    size_t wood;     /* specimens that failed in the wood; from the caller's column */
} pl_level_mean;

/* Onset of one group over the onset of another, from curves of their own and one scatter. */
typedef struct pl_onset_ratio {
    const char *group, *against;
    pl_bounded ratio;
} pl_onset_ratio;

/* One curve in all groups with one shape number: floors and tops by group. f, p: whether a shape
 * of its own for each group fits better than chance makes it. */
typedef struct pl_shared_shape {
    const char *name;
    bool log_x;
    const char *limit; /* the shape number ran to a limit: estimates NAN; else NULL */
    double aicc, aicc_own;
    pl_coef *params; /* "floor[species=beech]", "top[species=beech]", ..., the shape's */
    size_t nparam;
    pl_residual residual;
    pl_lack_of_fit own;
} pl_shared_shape;

typedef struct pl_between {
    const char *factor;
    pl_onset_ratio *ratios; /* each group over each named before it */
    size_t nratio;
    pl_shared_shape *shared;
    size_t nshared;
} pl_between;

/* The onset in readings drawn from the fit; stands beside the interval from the profile. */
typedef enum pl_bootstrap_kind {
    PL_BOOTSTRAP_NORMAL,    /* normal scatter of the fit's size */
    PL_BOOTSTRAP_RESIDUALS, /* the units' own residuals, scaled by sqrt(units / df) */
    PL_BOOTSTRAP_BOARDS     /* the same, whole blocks of them */
} pl_bootstrap_kind;
const char *pl_bootstrap_kind_name(pl_bootstrap_kind k); /* "normal", "residuals", "boards" */
typedef struct pl_bootstrap {
    pl_bootstrap_kind kind;
    const char *block;     /* of boards: the column */
    size_t draws, without; /* without: draws that have no onset */
    uint64_t seed;
    pl_bounded onset; /* at: the median */
} pl_bootstrap;

typedef struct pl_plateau {
    const char *response, *unit;      /* "strength", "N/mm2" */
    const char *over, *over_unit;     /* "pressure", "N/mm2" */
    const char *answer;               /* "joint" */
    const char *group_factor, *group; /* NULL, NULL for a single group */
    pl_state state;
    const char *reason;                     /* "top-open", "change-not-excluded"; NULL */
    double height, height_low, height_high; /* largest fitted mean in the range, averaged */
    double share;
    pl_bounded onset, range_end; /* with the rigs' own error, where the spec tells of it */
    pl_bounded onset_itself;     /* without it; the state stands on this */
    const char *doubted_rig;     /* whose error is in the onset; NULL: none */
    double fall_excluded;        /* a fall larger than this is excluded (in unit); NAN */
    double advised;              /* = onset.high; NAN when open or state is not reached */
    pl_step rise, fall;          /* the most telling contrast each way */
    double rise_point;           /* one-sided 2.5 % simultaneous point */
    double error_df, error_sd;   /* between units within levels */
    double change_excluded;      /* largest |simultaneous limit| over the contrasts */
    pl_level_mean *levels;
    size_t nlevel;
    pl_curve_fit *curves;
    size_t ncurve;
    size_t units, specimens, unknown_applied; /* rows without an applied value, not in the curves */
    /* The averaged curve for pictures, at the same places. */
    size_t ngrid;
    const double *grid_x, *grid_y, *grid_low, *grid_high;
    /* Unit values as fitted, for dots and residual pictures. */
    size_t nunit;
    const double *unit_x, *unit_y, *unit_adjusted, *unit_fitted, *unit_residual;
    const size_t *unit_row;        /* a row of the table that belongs to the unit */
    const pl_bootstrap *bootstrap; /* nbootstrap, normal first; NULL: not asked, or not to be had */
    size_t nbootstrap;
    double even_at; /* scatter in proportion to the mean: error_sd and the curves' residuals stand
                       at this mean; 0: alike everywhere */
    /* With random blocks: the answer that does not lead. One takes differences within blocks only,
     * the other recovers what blocks tell between them. */
    const struct pl_plateau *beside;
    bool recovered_leads;
    const pl_variance *variance; /* of the curve of most weight, by restricted likelihood */
    size_t nvariance;
    const pl_between *between; /* of all groups of the fit; NULL for a single one */
} pl_plateau;

#endif
