/* Key tables of the study file: what overrides the program's own choice of plan and curves, and
 * what ties sessions and rigs together. */
#include "study/keys_table.h"

static const char *const arrangements[] = { "auto",
                                            "full-factorial",
                                            "fractional-factorial",
                                            "screening",
                                            "latin-square",
                                            "graeco-latin-square",
                                            "complete-blocks",
                                            "incomplete-blocks",
                                            "row-column",
                                            "central-composite",
                                            "box-behnken",
                                            "optimal",
                                            "split-plot",
                                            NULL };
static const char *const criteria[] = { "D", "I", "c", NULL };
static const char *const asks[] = { "single", "pairs", "curved", NULL };
static const char *const axials[] = { "rotatable", "face-centred", "orthogonal",
                                      "orthogonal-blocks", NULL };
static const char *const middles[] = { "count", "even", "orthogonal", NULL };
static const char *const balances[] = { "as far as can be", "demanded", NULL };

static const pl_key generator_keys[] = {
    { .name = "factor",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      .required = true,
      AT(pl_raw_generator, factor),
      .help = "name of a factor of two levels" },
    { .name = "product_of",
      .is = PL_IS_TEXTS,
      .low = 2,
      .high = 12,
      .required = true,
      LIST(pl_raw_generator, product_of, nproduct),
      .help = "names of the factors that it follows: second level where an even number of them "
              "is at the first" },
};
SHARED(pl_keys_generator, "arrangement.generators[]", pl_raw_generator,
       "A factor whose level follows those of others.", generator_keys);

static const pl_key arrangement_keys[] = {
    { .name = "kind",
      .is = PL_IS_CHOICE,
      .choices = arrangements,
      .preset = "auto",
      AT(pl_raw, arrangement.kind),
      .help = "auto: the program chooses from factors, stock, presses and hours" },
    { .name = "runs",
      .is = PL_IS_WHOLE,
      .low = 4,
      .high = 1024,
      AT(pl_raw, arrangement.runs),
      .otherwise = "as few as the factors need",
      .help = "combinations to make, of a fractional-factorial (4, 8, 16, ...), a screening (a "
              "multiple of 4) or an optimal (glue-ups in all)" },
    { .name = "criterion",
      .is = PL_IS_CHOICE,
      .choices = criteria,
      .preset = "D",
      AT(pl_raw, arrangement.criterion),
      .help = "of an optimal: D makes all effects together as sure as can be, I what is predicted "
              "on the average, c the onset that `question.guess` guesses" },
    { .name = "effects",
      .is = PL_IS_CHOICE,
      .choices = asks,
      AT(pl_raw, arrangement.asks),
      .otherwise = "curved where a measured factor has three levels or more, else pairs",
      .help =
          "of an optimal: each factor by itself (single), also joint effects of two (pairs), or "
          "slopes, squares and products of measured factors (curved)" },
    { .name = "centre_points",
      .is = PL_IS_WHOLE,
      .low = 1,
      .high = 30,
      .preset = "4",
      AT(pl_raw, arrangement.centre),
      .help = "runs with every factor in the middle, of a central-composite or box-behnken; with "
              "orthogonal-blocks: in each block" },
    { .name = "centre_points_axes",
      .is = PL_IS_WHOLE,
      .low = 1,
      .high = 30,
      AT(pl_raw, arrangement.centre_axes),
      .otherwise = "as many as `centre_points`",
      .help = "with orthogonal-blocks: runs in the middle in the block of the points on the axes" },
    { .name = "centre_for",
      .is = PL_IS_CHOICE,
      .choices = middles,
      .preset = "count",
      AT(pl_raw, arrangement.centre_for),
      .help =
          "of a rotatable central-composite: even makes as many middle runs as leave the surface "
          "as sure one step from the middle as in it; orthogonal as many as tell squares from "
          "the mean; count: `centre_points`" },
    { .name = "axial",
      .is = PL_IS_CHOICE,
      .choices = axials,
      .preset = "rotatable",
      AT(pl_raw, arrangement.axial),
      .help = "how far the points on the axes of a central-composite lie: rotatable (as sure in "
              "every direction), face-centred (three levels), orthogonal (squares told apart), "
              "orthogonal-blocks "
              "(corners and axes in blocks of their own, a board each, that drop out)" },
    { .name = "set_size",
      .is = PL_IS_WHOLE,
      .low = 2,
      .high = 200,
      AT(pl_raw, arrangement.set_size),
      .otherwise = "as many as the boards hold",
      .help = "glue-ups of one board, of incomplete-blocks and row-column" },
    { .name = "balance",
      .is = PL_IS_CHOICE,
      .choices = balances,
      .flag = true,
      .preset = "as far as can be",
      AT(pl_raw, arrangement.balanced),
      .help = "demanded: refuse boards on which not every two treatments can meet equally often" },
    { .name = "order_limit",
      .is = PL_IS_SHARE,
      AT(pl_raw, arrangement.order_limit),
      .otherwise =
          "0.3 for the factor that the press sets, or that is asked about, alone; a little "
          "more in small plans",
      .help =
          "how far any factor may go with the order of glueing, as a rank correlation: an order "
          "beyond it is drawn again (at most 1000 times), and so it is in a test that draws "
          "the plan again; 1 takes every order, rising ones too" },
    { .name = "resolution",
      .is = PL_IS_WHOLE,
      .low = 3,
      .high = 5,
      AT(pl_raw, arrangement.resolution),
      .otherwise = "4 for a fractional-factorial without `runs` and `generators`",
      .help = "3: single factors are told apart; 4: also from two-factor effects; 5: these from "
              "one another too" },
    { .name = "generators",
      .is = PL_IS_OBJECTS,
      .of = &pl_keys_generator,
      .low = 1,
      .high = 11,
      LIST(pl_raw, arrangement.generators, arrangement.ngenerator),
      .otherwise = "chosen so that as few short products as can be are mixed up",
      .help = "of a fractional-factorial: which factors follow the product of others" },
};
SHARED(pl_keys_arrangement, "arrangement", pl_raw, "Overrides the design that `plan` would choose.",
       arrangement_keys);

static const pl_key reference_keys[] = {
    { .name = "treatment",
      .is = PL_IS_OPEN,
      .required = true,
      .help = "a level of every factor: {\"pressure\": \"0.8 N/mm2\", \"species\": \"beech\"}" },
    { .name = "per_session",
      .is = PL_IS_WHOLE,
      .low = 1,
      .high = 20,
      .preset = "1",
      AT(pl_raw, reference_joint.per_session),
      .help = "glue-ups of it in every session" },
};
SHARED(pl_keys_reference_joint, "reference_joint", pl_raw,
       "The same joint in every session, to tell sessions from one another.", reference_keys);

static const pl_key bridging_keys[] = {
    { .name = "pairs",
      .is = PL_IS_WHOLE,
      .low = 1,
      .high = 200,
      AT(pl_raw, bridging.pairs),
      .otherwise = "as many as `at_most` needs, within the budget",
      .help = "pairs of glue-ups for each two rigs that share out the levels between them" },
    { .name = "at_most",
      .is = PL_IS_WORTH,
      AT(pl_raw, bridging.at_most),
      .otherwise = "half of what is worth noticing",
      .help = "standard error that the difference between two rigs may be left with" },
    { .name = "at",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      AT(pl_raw, bridging.at),
      .otherwise = "the lowest level that both rigs make",
      .help = "the level that the pairs are made at" },
};
SHARED(pl_keys_bridging, "bridging", pl_raw,
       "Pairs of joints with the same pressure, one on each of two rigs, to tell the rigs apart.",
       bridging_keys);

static const pl_key curve_keys[] = {
    { .name = "curve",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      .required = true,
      AT(pl_named_curve, curve),
      .help = "its name, such as linear-plateau" },
    { .name = "scale",
      .is = PL_IS_CHOICE,
      .choices = pl_keys_scales,
      .flag = true,
      .preset = "x",
      AT(pl_named_curve, log_x),
      .help = "whether it rises in x or in the logarithm of x" },
};
SHARED(pl_keys_curve, "model.curves[]", pl_named_curve, "One curve.", curve_keys);

static const char *const scatters[] = { "even", "in-proportion", NULL };
static const pl_key model_keys[] = {
    { .name = "curves",
      .is = PL_IS_OBJECTS,
      .of = &pl_keys_curve,
      .low = 1,
      .high = 20,
      LIST(pl_raw, model.curves, model.ncurve),
      .otherwise = "the default set",
      .help = "the curves to compare" },
    { .name = "random",
      .is = PL_IS_TEXTS,
      .low = 1,
      .high = 2,
      LIST(pl_raw, model.randoms, model.nrandom),
      .otherwise = "blocks as they are",
      .help = "blocks whose levels are a sample of many: board, session" },
    { .name = "scatter",
      .is = PL_IS_CHOICE,
      .choices = scatters,
      .flag = true,
      .preset = "even",
      AT(pl_raw, model.in_proportion),
      .help = "of the curves: even, or growing in proportion to the mean" },
    { .name = "covariates",
      .is = PL_IS_TEXTS,
      .low = 1,
      .high = PL_RESPONSES_MOST,
      LIST(pl_raw, model.covariates, model.ncovariate),
      .otherwise = "none",
      .help = "further responses that go along when levels are compared in strength; what a level "
              "itself changes must not, and `fit` warns where the readings show that it does" },
};
SHARED(pl_keys_model, "model", pl_raw, "Overrides what `fit` would take.", model_keys);
