/* Keys: the one table of what a study file may hold. The reader checks with it,
 * fills the raw structs below from it, and docs/study-file.md is made of it.
 *
 * Internal to core/study but for pl_study_keys_page. */
#ifndef PL_STUDY_KEYS_H
#define PL_STUDY_KEYS_H

#include "study/study.h"

#define PL_LEVELS_MOST 200       /* of one factor: no bench makes more */
#define PL_TREATMENTS_MOST 10000 /* product of all levels */
#define PL_TEXT_MOST 200         /* bytes of a text that is printed on a line */
#define PL_WORD_MOST 60          /* bytes of a name or a level */

typedef enum pl_value_is {
    PL_IS_TEXT,           /* one line, not empty; at most key.high bytes */
    PL_IS_NAME,           /* a-z, 0-9 and hyphen */
    PL_IS_CHANCE,         /* "1 in 10", "10 %" or 0.1 */
    PL_IS_SHARE,          /* "75 %" or 0.75: above 0, at most 1 */
    PL_IS_WORTH,          /* a strength, or a share */
    PL_IS_DIM,            /* a number with a unit of key.quantity */
    PL_IS_WHOLE,          /* low..high */
    PL_IS_CHOICE,         /* one of key.choices */
    PL_IS_TEXTS,          /* a list of low..high texts */
    PL_IS_UNITS,          /* the same, of units of key.quantity */
    PL_IS_OBJECT,         /* key.of */
    PL_IS_OBJECTS,        /* a list of low..high of them */
    PL_IS_WORD_OR_OBJECT, /* one of key.choices, or key.of */
    PL_IS_LEVELS,         /* a list of texts and numbers: read_factors.c */
    PL_IS_APART,          /* a list of objects of factor: level or levels: read_together.c */
    PL_IS_RIGS,           /* a list of names and objects: read_shop.c */
    PL_IS_OPEN, /* an object that is read elsewhere: a plugin's settings, levels by factor */
    PL_NVALUE_IS
} pl_value_is;

typedef struct pl_object pl_object;

typedef struct pl_key {
    const char *name;
    pl_value_is is;
    bool required;
    bool zero_too; /* DIM: 0 is fine; else only what is above 0 */
    bool flag;     /* CHOICE: kept as bool, not as enum */
    pl_quantity_kind quantity;
    long long low, high;
    const char *const *choices; /* ends with NULL; in the order of their enum */
    const pl_object *of;
    const char *preset;    /* used when absent, as one would type it; NULL: none */
    const char *said;      /* what check says when preset is used */
    const char *otherwise; /* for the page, when absence means something else */
    const char *help;
    size_t at, count_at; /* places in the struct; count_at for lists */
} pl_key;

struct pl_object {
    const char *title; /* "factors[]"; "" for the whole file */
    const char *help;
    size_t size; /* of the struct its keys fill */
    const pl_key *keys;
    size_t nkey;
};

/* What stands in the file, before the parts are tied together. */
typedef struct pl_raw_question {
    pl_aim aim;
    const char *over, *for_each;
    double share;
    pl_worth worth_noticing;
    double miss_at_most, false_alarm;
    const char *compare_with;
    pl_worth as_good_as, width_at_most;
    bool both_sides;
    double percentile, confidence;
    const char *within;
    struct pl_raw_guess *guess;
    size_t nguess;
} pl_raw_question;

typedef struct pl_raw_invalid {
    unsigned mode; /* of pl_keys_modes */
    pl_dim below;
} pl_raw_invalid;

typedef struct pl_raw_guess {
    unsigned curve; /* of the choices */
    bool log_x;
    const char *onset;
    double floor;
    unsigned weight;
} pl_raw_guess;

typedef struct pl_raw_response {
    const char *name;
    unsigned kind, better, measured_on; /* of the choices */
    const char *unit, *column;
    const char *const *show_in;
    size_t nshow_in;
} pl_raw_response;

typedef struct pl_raw_factor {
    const char *name;
    const char *from, *to;
    unsigned count, spacing; /* 0: equal steps, 1: constant ratio, 2: for the aim */
    pl_set_by set_by;
    unsigned comes_with;
    unsigned hard;
} pl_raw_factor;

typedef struct pl_raw_joint {
    pl_joint_kind kind;
    pl_dim width, overlap, height, thickness, area, stated_area, tolerance, glue_up_area;
    struct {
        pl_dim length, width, thickness;
    } adherend;
    unsigned adherends, specimens_per_glue_up;
} pl_raw_joint;

typedef struct pl_raw_defect {
    pl_dim from, to;
} pl_raw_defect;

typedef struct pl_raw_board {
    const char *species;
    unsigned count, specimens;
    pl_dim length, width, thickness;
    pl_raw_defect *defects;
    size_t ndefect;
} pl_raw_board;

typedef struct pl_raw_press {
    const char *name;
    unsigned stations, specimens_at_once;
    const char *const *rigs;
    size_t nrig;
    pl_dim changeover;
} pl_raw_press;

typedef struct pl_raw_scatter {
    pl_dim sd;
    double cv;
    unsigned glue_ups, boards, specimens;
    pl_worth between_glue_ups, within, between_boards, between_sessions, between_stretches;
    const char *const *history;
    size_t nhistory;
} pl_raw_scatter;

typedef struct pl_raw_generator {
    const char *factor;
    const char *const *product_of;
    size_t nproduct;
} pl_raw_generator;

typedef struct pl_raw {
    const char *name, *title;
    pl_raw_question question;
    unsigned glue_ups_per_level;
    pl_raw_response *responses;
    size_t nresponse;
    pl_raw_factor *factors;
    size_t nfactor;
    pl_raw_joint joint;
    pl_raw_board *boards;
    size_t nboard;
    struct {
        pl_dim kerf, discard_ends;
        double spare_joints;
    } cutting;
    struct {
        const char *kind;
        pl_dim spread, open_time, open_time_limit, pot_life;
        bool both;
    } adhesive;
    pl_raw_press *presses;
    size_t npress;
    struct {
        const char *rig, *press;
        pl_dim expected_strength, per_specimen;
    } breaking;
    struct {
        pl_dim clamp, hands_on, session;
        struct {
            pl_dim at_least, at_most;
        } cure;
        const char *zone;
    } times;
    struct {
        double counts_as_wood;
        pl_raw_invalid *invalid;
        size_t ninvalid;
        unsigned law;
    } rules;
    pl_raw_scatter scatter;
    struct {
        pl_dim press_hours;
        unsigned specimens;
        const char *money;
        struct {
            const char *glue_up, *specimen, *board, *press_hour, *day;
        } prices;
    } budget;
    struct {
        pl_arrangement kind;
        unsigned runs, resolution, set_size, centre;
        pl_axial axial;
        unsigned centre_axes, centre_for; /* 0: count, 1: even, 2: orthogonal */
        pl_criterion criterion;
        pl_asks asks;
        bool balanced;
        double order_limit;
        pl_raw_generator *generators;
        size_t ngenerator;
    } arrangement;
    struct {
        unsigned per_session;
    } reference_joint;
    struct {
        unsigned pairs;
        pl_worth at_most;
        const char *at;
    } bridging;
    struct {
        pl_named_curve *curves;
        size_t ncurve;
        const char *const *randoms;
        size_t nrandom;
        bool in_proportion;
        const char *const *covariates;
        size_t ncovariate;
    } model;
} pl_raw;

/* The curves that a guess may have, in the order of its choices. */
extern const char *const pl_keys_rises[];
extern const pl_object pl_keys_study; /* fills pl_raw */
extern const pl_object pl_keys_rig;   /* fills pl_raw_rig */

typedef struct pl_raw_point {
    const char *dial, *force;
} pl_raw_point;

typedef struct pl_raw_calibration {
    const char *date, *against, *against_uncertainty;
    pl_raw_point *points;
    size_t npoint;
} pl_raw_calibration;

typedef struct pl_raw_rig {
    const char *name, *kind, *rated;
    pl_raw_calibration *calibrations;
    size_t ncalibration;
    struct {
        const char *unit, *to, *class_of, *marks;
        unsigned pointer;
    } dial;
} pl_raw_rig;

/* All objects of a study file and a rig, for walking; NULL at the end. */
extern const pl_object *const pl_keys_all[];

const pl_key *pl_keys_find(const pl_object *o, const char *name); /* NULL */
/* "a pressure (N/mm2, bar, psi)": what a key takes, in words. */
char *pl_keys_takes(pl_arena *a, const pl_key *k);

/* The reference of the keys as Markdown, one table an object; docs/study-file.md
 * holds it and tests/study/test_keys.c compares. NULL: out of memory. */
char *pl_study_keys_page(pl_arena *a);

#endif
