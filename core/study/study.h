/* Study: what a bench tester asks and has, read once and never changed.
 *
 * Every dimensioned value is in SI; the unit as typed is kept beside it to
 * speak in. Absent optional values are NAN, NULL or 0 as each line says; a
 * default that was filled in is listed in `assumed`, so that check can say it
 * aloud. Lives in the arena it was read into. */
#ifndef PL_STUDY_STUDY_H
#define PL_STUDY_STUDY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/json.h"
#include "base/units.h"
#include "study/reading.h"

typedef enum pl_aim {
    PL_AIM_PLATEAU,
    PL_AIM_DIFFERENCE,
    PL_AIM_AS_GOOD_AS,
    PL_AIM_LOW_TAIL,
    PL_NAIMS
} pl_aim;
const char *pl_aim_name(pl_aim aim);

typedef struct pl_level {
    const char *text; /* "0.7 N/mm2", "beech": its name everywhere */
    double si;        /* NAN if the factor is not numeric */
} pl_level;

#define PL_FACTORS_MOST 20

typedef enum pl_set_by { PL_SET_BY_HAND, PL_SET_BY_PRESS, PL_NSET_BY } pl_set_by;

typedef struct pl_factor {
    const char *name;
    pl_level *levels; /* as listed; spaced ones computed, rising */
    size_t nlevel;
    bool numeric;
    pl_quantity_kind kind; /* PL_Q_NONE unless numeric */
    const char *unit;      /* of the first level */
    pl_set_by set_by;      /* press: one closing is one unit for it */
    bool comes_with_board; /* never randomised over boards */
    unsigned hard;         /* to change: 0 no, 1 yes, 2 very: changed less often still */
    const pl_json *at;     /* for findings */
} pl_factor;

typedef struct pl_worth { /* "1.2 N/mm2" or "10 %" */
    double value;         /* SI of the response, or a fraction; NAN if absent */
    bool relative;
    const char *text;
} pl_worth;

typedef struct pl_guess { /* of a curve that rises to a plateau */
    const char *curve;    /* "linear-plateau", ...: one that model knows */
    bool log_x;
    double onset;  /* where its rise ends; SI of the factor asked along */
    double floor;  /* where it starts, as a share of its top */
    double weight; /* against other guesses; above 0 */
} pl_guess;

typedef struct pl_question {
    pl_aim aim;
    int over;     /* place of a numeric factor; -1 if none */
    int for_each; /* place of a factor; -1 if none */
    double share; /* 0.95 */
    pl_worth worth_noticing;
    double miss_at_most, false_alarm; /* chances */
    /* as-good-as: a level of `compared` named beforehand, and what is left of it: 0.95, or a
     * strength that may be missing; -1 with other aims */
    int compared, compare_with;
    pl_worth as_good_as;
    bool both_sides;               /* nor better by more than the margin */
    double percentile, confidence; /* low-tail: 0.05, and how sure its limit is to be */
    pl_worth width_at_most;        /* of the interval; value NAN if absent */
    double within;                 /* plateau: ratio to the true onset, above 1; NAN if absent */
    const pl_guess *guess;         /* nguess of them */
    size_t nguess;
} pl_question;

#define PL_ADHERENDS_MOST 4 /* pieces in one joint */

typedef enum pl_joint_kind {
    PL_LAP,
    PL_DOUBLE_LAP,
    PL_BLOCK_SHEAR,
    PL_BUTT_TENSION,
    PL_JOINT_OTHER,
    PL_NJOINT_KINDS
} pl_joint_kind;
const char *pl_joint_kind_name(pl_joint_kind k);

typedef struct pl_joint {
    pl_joint_kind kind;
    /* The two dimensions the area is made of, by kind: width x overlap,
     * width x height, width x thickness; NAN for `other`. */
    pl_dim size[2];
    const char *size_names[2]; /* "width", "overlap"; NULL for `other` */
    double area_m2;            /* that breaks: 2 x for a double lap */
    double press_area_m2;      /* that the clamping force of one glue-up spreads over */
    pl_dim stated_area;        /* si NAN if absent */
    double tolerance_m;        /* of each dimension; NAN if absent */
    const char *unit;          /* of length, to speak in: "mm" */
    struct {
        double length_m, width_m, thickness_m; /* NAN if absent */
    } adherend;
    unsigned adherends;             /* 2 to PL_ADHERENDS_MOST */
    unsigned specimens_per_glue_up; /* cut from one glue-up later; 1 */
} pl_joint;

typedef struct pl_defect { /* a stretch of a board that is not to be used */
    double from_m, to_m;   /* from its marked end */
} pl_defect;

typedef struct pl_stock { /* boards of one kind */
    const char *species;  /* or the level of whatever comes with the board; "" */
    unsigned count;
    double length_m, width_m, thickness_m; /* NAN if absent */
    const pl_defect *defects;              /* of each of these boards, ndefect of them */
    size_t ndefect;
    unsigned specimens; /* one board holds, computed or stated; 0 = not known */
} pl_stock;

typedef struct pl_cutting {
    double kerf_m, discard_ends_m; /* 0 if absent */
    double spare_joints;           /* fraction, 0 if absent */
} pl_cutting;

typedef struct pl_adhesive {
    const char *kind;    /* "" if absent */
    double spread_kg_m2; /* NAN if absent */
    bool spread_on_both;
    double open_time_s, open_time_limit_s; /* NAN if absent */
    double pot_life_s;                     /* NAN if absent */
} pl_adhesive;

typedef struct pl_rig_ref {
    const char *name;
    const pl_json *written; /* NULL: a rig of the shop */
} pl_rig_ref;

typedef struct pl_press {
    const char *name;
    unsigned stations;          /* each closes by itself; 1 */
    unsigned specimens_at_once; /* separate assemblies in one closing; 1 */
    int *rigs;                  /* places in study->rigs */
    size_t nrig;
    double changeover_s; /* 0 if absent */
} pl_press;

typedef struct pl_breaking {
    int rig;                     /* place in study->rigs; -1: peaks come as forces */
    double expected_strength_Pa; /* NAN if absent: then no check against the rig's limit */
    int press;                   /* whose frame breaks too; -1: none */
    double per_specimen_s;       /* NAN if absent */
} pl_breaking;

#define PL_DAYS_OFF_MOST 400

typedef struct pl_work_hours { /* when somebody is there */
    bool given;
    int from_min[7], to_min[7]; /* minutes after midnight, Monday first; to 0: closed */
    const char *const *off;     /* "2027-05-01", noff of them */
    size_t noff;
} pl_work_hours;

typedef struct pl_times {
    double clamp_s;         /* NAN if absent */
    double cure_at_least_s; /* NAN if absent */
    double hands_on_s;      /* per glue-up, 0 if absent */
    double session_s;       /* length of one sitting; 8 h */
    double cure_at_most_s;  /* NAN if absent */
    pl_work_hours work;
    const char *zone; /* "Europe/Vienna"; NULL: the machine's */
} pl_times;

typedef struct pl_scatter {
    bool unknown;
    double sd_Pa, cv;                /* one of them, the other NAN */
    unsigned glue_ups;               /* it came from; 0 = not said */
    double between_glue_ups, within; /* components, in the same measure; NAN if absent */
    double between_boards, between_sessions, between_stretches; /* beside them; NAN if absent */
    unsigned boards, specimens;                                 /* the pilot had; 0 = not said */
    const char *const *history; /* past studies whose scatter is to be taken; then unknown */
    size_t nhistory;            /* until the book has been asked */
} pl_scatter;

typedef struct pl_invalid { /* a standard's invalid results */
    pl_mode mode;
    double below_Pa;   /* NAN: whatever it held */
    const char *words; /* "wood below 10 N/mm2" */
} pl_invalid;

typedef struct pl_rules {
    double counts_as_wood;     /* fraction, 0.75 */
    const pl_invalid *invalid; /* ninvalid of them */
    size_t ninvalid;
    unsigned scatter_law; /* pl_law (fit/censored_row.h): 0 normal, 1 lognormal, 2 weibull */
} pl_rules;

typedef struct pl_budget {
    double press_s;     /* NAN if absent */
    unsigned specimens; /* 0 if absent */
    /* NAN if absent, all in one currency as typed; NULL: nothing about money */
    double money, glue_up, specimen, board, press_hour, day;
    const char *currency;
} pl_budget;

typedef enum pl_arrangement {
    PL_ARRANGE_AUTO,
    PL_ARRANGE_FULL_FACTORIAL,
    PL_ARRANGE_FRACTION,
    PL_ARRANGE_SCREENING,
    PL_ARRANGE_LATIN,
    PL_ARRANGE_GRAECO_LATIN,
    PL_ARRANGE_COMPLETE_BLOCKS,
    PL_ARRANGE_INCOMPLETE_BLOCKS,
    PL_ARRANGE_ROW_COLUMN,
    PL_ARRANGE_CENTRAL,
    PL_ARRANGE_BOX_BEHNKEN,
    PL_ARRANGE_OPTIMAL,
    PL_ARRANGE_SPLIT_PLOT,
    PL_NARRANGEMENTS
} pl_arrangement;
const char *pl_arrangement_name(pl_arrangement k);

typedef enum pl_axial { /* of the points on the axes of a central composite design */
                        PL_AXIAL_ROTATABLE,
                        PL_AXIAL_FACE_CENTRED,
                        PL_AXIAL_ORTHOGONAL,
                        PL_AXIAL_BLOCKS, /* such that blocks of it drop out */
                        PL_NAXIALS
} pl_axial;

typedef enum pl_criterion {                 /* what an optimal design is to make sure of */
                            PL_CRITERION_D, /* all that is asked, together */
                            PL_CRITERION_I, /* what is predicted, on the average */
                            PL_CRITERION_C, /* the onset */
                            PL_NCRITERIA
} pl_criterion;

typedef enum pl_asks {                 /* of an optimal design */
                       PL_ASKS_SINGLE, /* each factor by itself */
                       PL_ASKS_PAIRS,  /* and joint effects of two */
                       PL_ASKS_CURVED, /* slopes, squares and products of measured factors */
                       PL_NASKS
} pl_asks;

typedef struct pl_arrange {
    pl_arrangement kind;
    const char *because; /* the program chose it, "because ..."; NULL: it was asked for, or AUTO */
    unsigned runs;       /* treatments where not every combination is made; else 0 */
    unsigned resolution; /* asked for, 3 to 5; 0: not asked */
    unsigned centre;     /* runs in the middle, of designs for a curved surface */
    pl_axial axial;
    unsigned corner_blocks; /* of PL_AXIAL_BLOCKS; the points on the axes are one more; else 0 */
    unsigned centre_axes;   /* of centre, those in the block of the points on the axes */
    unsigned set_size;      /* glue-ups of one board of incomplete blocks; 0: as the boards hold */
    bool balanced;          /* only sets in which every two meet equally often will do */
    pl_criterion criterion;
    pl_asks asks;
    double order_limit; /* most rank correlation of the order with any factor; 0: as the program
                           does */
    const uint32_t *generated; /* nfactor: 0, or the factors whose product it follows (bits by
                                  place); NULL: the program chooses */
} pl_arrange;

typedef struct pl_apart {  /* levels that never meet in one joint */
    const bool *const *in; /* nfactor: marks of its levels; NULL: whatever level */
} pl_apart;

typedef struct pl_reference { /* the same joint in every session */
    bool given;
    const int *levels;    /* nfactor: its treatment */
    unsigned per_session; /* glue-ups of it */
} pl_reference;

typedef struct pl_bridging { /* the same pressure made on two rigs, to tell them apart */
    bool given;
    unsigned pairs;   /* for each two rigs; 0: as many as at_most needs */
    pl_worth at_most; /* standard error of the difference; value NAN: half of worth_noticing */
    int level;        /* place of the level they are made at; -1: the program chooses */
} pl_bridging;

typedef struct pl_named_curve {
    const char *curve; /* checked by model */
    bool log_x;
} pl_named_curve;

typedef struct pl_assumed {
    const char *pointer, *words; /* "/question/share", "share 0.95: ..." */
} pl_assumed;

typedef enum pl_response_kind {
    PL_RESPONSE_STRENGTH,
    PL_RESPONSE_FORCE,
    PL_RESPONSE_MASS,
    PL_RESPONSE_PERCENT,
    PL_RESPONSE_LENGTH,
    PL_RESPONSE_COUNT,
    PL_NRESPONSES
} pl_response_kind;

/* What is measured beside strength. */
#define PL_RESPONSES_MOST 6
typedef struct pl_response {
    const char *name;   /* "squeeze-out"; a column of the fit's table */
    const char *column; /* of a form, and the readings' quantity: "squeeze_out" */
    pl_response_kind kind;
    pl_quantity_kind quantity;
    const char *unit; /* to print: "g", "%"; "" for a count */
    double scale;     /* SI (a fraction for percent) = scale * value in unit */
    bool on_glue_up;  /* measured once a glue-up; else on each specimen */
    int better;       /* 1: more is better, -1: less, 0: neither */
} pl_response;

typedef struct pl_study {
    const char *name, *title; /* title "" if absent */
    const char *text;         /* the file, byte for byte */
    size_t length;
    const pl_json *root;
    pl_question question;
    const char *response;       /* "strength" */
    const char *const *show_in; /* units to print the response in, at least one */
    size_t nshow_in;
    const pl_response *others; /* what is measured beside it */
    size_t nother;
    const char *const *covariates; /* names of others, taken along in the analysis of strength */
    size_t ncovariate;
    unsigned glue_ups_per_level; /* 0: size decides */
    pl_factor *factors;
    size_t nfactor;
    pl_joint joint;
    pl_stock *boards;
    size_t nboard_kinds;
    pl_cutting cutting;
    pl_adhesive adhesive;
    pl_rig_ref *rigs;
    size_t nrig;
    pl_press *presses;
    size_t npress;
    pl_breaking breaking;
    pl_times times;
    pl_rules rules;
    pl_scatter scatter;
    pl_budget budget;
    pl_arrange arrangement;
    const pl_apart *apart; /* not_together, napart of them */
    size_t napart;
    pl_reference reference;
    pl_bridging bridging;
    pl_named_curve *curves; /* model.curves; 0: the default set */
    size_t ncurve;
    const char *const *randoms; /* model.random: blocks that are a sample of many */
    size_t nrandom;
    bool in_proportion; /* model.scatter: grows with the mean */
    pl_assumed *assumed;
    size_t nassumed;
} pl_study;

/* Reads and checks a study. All faults in one run. ENOFILE, ESYNTAX, EKEY,
 * EVALUE, EUNIT, ECONFLICT. *out is set on PL_OK only. */
pl_code pl_study_read(pl_arena *a, const char *path, const pl_study **out, pl_diags *d);
pl_code pl_study_parse(pl_arena *a, const char *name, const char *text, size_t length,
                       const pl_study **out, pl_diags *d);

/* Who places the levels of a factor whose spacing is "for the aim": x, its numbers in the
 * factor's unit, the first and last given; false: they stay at a constant ratio or equal steps.
 * The search is design's, above this room; main names it once, before any study is read. */
typedef bool (*pl_place_levels)(pl_arena *a, const pl_study *s, size_t factor, double *x);
void pl_study_place_levels_by(pl_place_levels how);

/* The factor that a press sets (its level is a pressure on the bond), or -1. */
int pl_study_pressed(const pl_study *s);
/* The factor that comes with the board, or -1. */
int pl_study_with_board(const pl_study *s);
/* Layers of glue-ups that factors hard to change make: a stretch is a run of glue-ups for which
 * nothing of its layer or an outer one is changed. Layer 0 is changed least often. A factor that
 * leaves nothing to change inside its stretches makes no layer: it is changed from glue-up to
 * glue-up. pl_study_layer_of: of a factor; pl_study_layers(s) where it changes from glue-up to
 * glue-up, or comes with the board. */
#define PL_LAYERS_MOST 2u
unsigned pl_study_layers(const pl_study *s);
unsigned pl_study_layer_of(const pl_study *s, size_t factor);
/* Specimens that one glue-up holds or yields: at once x per glue-up. */
unsigned pl_study_specimens_per_glue_up(const pl_study *s);
/* Assemblies in one closing: as many as a press takes, or as can be closed within the open time
 * limit when they are spread one after the other (hands_on shared out evenly), at least 1. */
unsigned pl_study_at_once(const pl_study *s);
/* Hands-on work on one glue-up of so many, in seconds; NAN as times.hands_on_s. */
double pl_study_hands_on_s(const pl_study *s);
/* A sitting is no longer than the longest working day. */
double pl_study_sitting_s(const pl_study *s);
/* All combinations, or what the arrangement makes of them. */
size_t pl_study_treatments(const pl_study *s);
/* Product of the levels, less what may not meet. */
size_t pl_study_combinations(const pl_study *s);
/* May these levels (nfactor places) meet in one joint? */
bool pl_study_may_meet(const pl_study *s, const int *levels);
/* Levels of combination t of all of them, the last factor changing fastest. */
void pl_study_combination(const pl_study *s, size_t t, int *levels);
/* Press hours that so many glue-ups take, in seconds: each holds its station for
 * the clamp time and the change-over. NAN without a clamp time. */
double pl_study_press_s(const pl_study *s, size_t glue_ups);
/* 700000 Pa -> "0.7 N/mm2" in the response's first unit, with the second in
 * brackets if there is one: "0.7 N/mm2 (102 psi)". */
char *pl_study_show(pl_arena *a, const pl_study *s, double Pa, int digits);

/* Back in words: one sentence a line, for check. Shop words only. */
char *pl_study_words(pl_arena *a, const pl_study *s);

struct pl_set_points;
/* Doubtful figures, as advice findings: see docs/study-file.md "Advice". points
 * may be NULL (no rigs known): then what needs them is left out. Returns
 * EUNFIT when the study cannot be carried out (a level that no rig makes). */
pl_code pl_study_advise(pl_arena *a, const pl_study *s, const struct pl_set_points *points,
                        pl_diags *d);

#endif
