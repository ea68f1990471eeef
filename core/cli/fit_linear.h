/* The linear model's options of `fit --data`, and the fit they ask for. */
#ifndef PL_CLI_FIT_LINEAR_H
#define PL_CLI_FIT_LINEAR_H

#include "cli/verb.h"
#include "fit/linear.h"
#include "report/answer.h"

typedef struct pl_linear_options {
    pl_texts effects, covariates, blocks, randoms, contrasts, compares;
    const char *compare_with, *best, *as_good_as;
    bool through_zero, power;
    long long randomised, seed; /* draws; 0: none */
} pl_linear_options;

enum {
    PL_KEY_LINEAR = 200, /* keys from here on are these */
    PL_KEY_EFFECT = PL_KEY_LINEAR,
    PL_KEY_COVARIATE,
    PL_KEY_BLOCK,
    PL_KEY_RANDOM,
    PL_KEY_CONTRAST,
    PL_KEY_COMPARE,
    PL_KEY_COMPARE_WITH,
    PL_KEY_BEST,
    PL_KEY_AS_GOOD_AS,
    PL_KEY_ZERO,
    PL_KEY_RANDOMISED,
    PL_KEY_POWER
};

/* clang-format off */
#define PL_LINEAR_OPTIONS \
    { "effect", PL_KEY_EFFECT, "COL[,COL...]", 0, "an effect; with commas their interaction", 0 }, \
    { "covariate", PL_KEY_COVARIATE, "COL", 0, "a column of numbers that goes along", 0 }, \
    { "block", PL_KEY_BLOCK, "COL[,COL...]", 0, \
      "a block: boards, sessions; A,B: B anew inside each A", 0 }, \
    { "random", PL_KEY_RANDOM, "COL[,COL...]", 0, \
      "a block whose levels are a sample of many; A,B as above", 0 }, \
    { "contrast", PL_KEY_CONTRAST, "COL:L=W,...", 0, \
      "a difference between levels, by weights that add up to 0", 0 }, \
    { "compare", PL_KEY_COMPARE, "COL", 0, "every pair of levels of this effect", 0 }, \
    { "compare-with", PL_KEY_COMPARE_WITH, "LEVEL", 0, \
      "instead each level against this one", 0 }, \
    { "best", PL_KEY_BEST, "more|less", 0, "instead each level against the best seen", 0 }, \
    { "as-good-as", PL_KEY_AS_GOOD_AS, "SHARE", 0, \
      "which levels hold this share of --compare-with (else of the highest)", 0 }, \
    { "through-zero", PL_KEY_ZERO, 0, 0, "no intercept", 0 }, \
    { "randomised", PL_KEY_RANDOMISED, "N", 0, \
      "each factor's levels drawn again N times: how often are they as far apart?", \
      0 }, \
    { "power", PL_KEY_POWER, 0, 0, "on which power of the response the levels fit best", 0 },
/* clang-format on */

pl_code pl_linear_take(pl_run *run, int key, const char *arg, pl_linear_options *o);

/* An option given that only a linear model has ("--effect"), or NULL; the same of those that a
 * study has not either. */
const char *pl_linear_asked(const pl_linear_options *o);
const char *pl_linear_of_tables(const pl_linear_options *o);

/* The options as a model; the response and the glue-up's column stay as they are. */
pl_code pl_linear_spec_of(pl_run *run, const pl_linear_options *o, pl_linear_spec *s);

/* Fits and fills f->linear. No option at all: the mean alone. */
pl_code pl_linear_table(pl_run *run, const pl_table *t, const char *response, const char *glue_up,
                        const pl_linear_options *o, pl_fit_answer *f);

#endif
