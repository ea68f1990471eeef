/* Plan: which specimen gets which treatment, from which board, in which
 * session, in which order it is glued and (separately) broken. Frozen once in
 * the book; changed only by a further revision. */
#ifndef PL_STUDY_PLAN_H
#define PL_STUDY_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "study/set_points.h"
#include "study/study.h"

typedef struct pl_plan_board {
    const char *label; /* "B1": numbered through */
    int stock;         /* place in study->boards; -1 when the study lists none */
    const char *species;
} pl_plan_board;

typedef struct pl_glue_up {
    const char *label;   /* "G1".. in glue order: says nothing of the treatment */
    size_t treatment;    /* row of plan->treatments */
    int board;           /* place in plan->boards; -1 if none */
    unsigned session;    /* from 1 */
    int press;           /* place in study->presses; -1 if none */
    unsigned station;    /* from 1 */
    int rig;             /* place in study->rigs; -1 if none */
    unsigned glue_order; /* from 1, over the whole plan */
    double start_s;      /* hands-on work begins, after the session's beginning; NAN: no times */
    bool spare;          /* unassigned until needed: its treatment names its species only */
    /* From 1: glue-ups of one stretch follow one another, and what is hard to change is not
     * touched between them; the outermost layer first (pl_study_layers). 0: no such layer. */
    unsigned stretch[PL_LAYERS_MOST];
    bool reference; /* the joint that every session holds: it ties sessions, no more */
    unsigned pair;  /* from 1: both glue-ups of a bridging pair have the same treatment, session
                       and board, and two rigs; 0: of none */
    const char *instead; /* label of the lost glue-up that this one makes again; NULL: of none */
} pl_glue_up;

typedef struct pl_specimen {
    const char *id; /* three signs and a check sign, no 0 O 1 I; no meaning */
    size_t glue_up; /* place in plan->glue_ups */
    unsigned place; /* along its board, from 1; 0 if no board */
    /* Labels of its pieces, joint.adherends of them: "K7M3-a", "K7M3-b"; NULL beyond. */
    const char *adherends[PL_ADHERENDS_MOST];
    unsigned break_order; /* from 1; 0 for spares */
    bool spare;
} pl_specimen;

typedef struct pl_allocations { /* how many assignments of treatments there are */
    double mantissa; /* count = mantissa x 10^power, 1 <= mantissa < 10; 0: not counted */
    int power;
    char exact[40]; /* the same in digits; "" where it has more than 38 */
} pl_allocations;
/* What some factors are compared with: how alike units of one kind are that were treated
 * alike. */
typedef struct pl_stratum {
    const char *unit;          /* "board", "stretch", "inner_stretch", "glue_up" */
    const char *const *judges; /* names of the factors compared from one to the next */
    size_t njudge;
    size_t df; /* left of their differences to tell how far they scatter */
} pl_stratum;

typedef struct pl_health {
    double efficiency;       /* of treatment comparisons against no blocks, 0..1 */
    double efficiency_bound; /* best possible; NAN if not known */
    double order_balance;    /* largest |correlation| of glue order with a numeric factor, and with
                                whatever is watched, 0..1 */
    double rig_confounding;  /* share of the level differences that coincide with rigs, 0..1 */
    size_t unit_df;          /* between glue-ups within treatments and blocks */
    const char *const *cannot; /* what the plan cannot estimate, in words */
    size_t ncannot;
    double order_bound;         /* order_balance was held to this; NAN when nothing was */
    unsigned order_draws;       /* orders drawn until one kept the bound */
    const char *const *aliases; /* "pressure = temper x spread": effects of one or two factors
                                   that are one and the same; of fractions */
    size_t nalias;
    unsigned *word_lengths; /* of a fraction: defining words of 3, 4, ... factors */
    size_t nword_length;
    pl_allocations allocations; /* that could have been drawn, before the guard of the order */
    bool allocations_at_most;   /* some counted may never come out of the search for balance */
    double least_p; /* of a test that redraws and looks both ways: 2 / allocations; 1 at most */
    double criterion_efficiency; /* of an optimal design, against what no weights on the same
                                    candidates without blocks can pass; 0: no such design */
    pl_stratum *strata;          /* where not all is compared between glue-ups; else none */
    size_t nstratum;
} pl_health;

/* How often a study comes out as asked, by its number of glue-ups per level: what `size` said
 * when the plan was drawn. */
typedef struct pl_chances {
    const char *asked;           /* what is asked, a sentence in shop words */
    const char *scatter;         /* that it is for: "10 %, found on 8 glue-ups" */
    unsigned glue_ups_per_level; /* that are made */
    double enough;               /* the chance that is asked for */
    size_t n;
    /* n each, per_level rising; low, high: with the scatter at its upper and its lower limit, NAN
     * where it is taken as known */
    double *per_level, *chance, *low, *high;
} pl_chances;

typedef struct pl_plan {
    unsigned revision; /* from 1; 0: only looked at */
    uint64_t seed;
    struct { /* the first draw, which later revisions keep; 0 glue-ups: not known */
        uint64_t seed;
        unsigned glue_ups_per_level;
    } drawn;
    const char *chosen; /* "complete blocks: ... because ..." */
    size_t ntreatment;
    const int *treatments; /* ntreatment x nfactor: level places */
    size_t nfactor;
    pl_plan_board *boards;
    size_t nboard;
    unsigned nsession;
    pl_glue_up *glue_ups;
    size_t nglue_up;
    pl_specimen *specimens;
    size_t nspecimen;
    pl_set_points points;
    pl_health health;
    const pl_chances *chances; /* NULL: the study does not say what is worth noticing */
} pl_plan;

/* A plan as the JSON object of `plan --json` (docs/json.md) without findings,
 * and back; the way there and back loses nothing. to_kept: what a book keeps, the same but that
 * specimens do not say again what their glue-up says. `start` is in s after the
 * session's beginning; in a specimen's `set_point`, `gives` and `uncertainty`
 * are pressures on the bond (Pa), `value` and the accepted band are in `unit`.
 * to_json: EVALUE if the plan is not of this study, or its seed not below 2^53.
 * from_json needs the study it was made for; EKEY, EVALUE, ENOMEM. */
pl_code pl_plan_to_json(const pl_study *s, const pl_plan *p, pl_jval *object);
pl_code pl_plan_to_kept(const pl_study *s, const pl_plan *p, pl_jval *object);
pl_code pl_plan_from_json(pl_arena *a, const pl_study *s, const pl_json *object,
                          const pl_plan **out, pl_diags *d);

/* Does `plan` hold all that `old` holds, as it was: every specimen with its id, glue-up,
 * board and place; every glue-up that was not spare with its treatment, session and order? */
bool pl_plan_grown_from(const pl_plan *plan, const pl_plan *old);

/* The part of a plan that these glue-ups are (keep: p->nglue_up), with their specimens and the
 * boards that they are cut from; all else is p's. To write sheets from. PL_ENOMEM. */
pl_code pl_plan_part(pl_arena *a, const pl_plan *p, const bool *keep, const pl_plan **out,
                     pl_diags *d);
/* "stretch", "inner_stretch": the block that a layer makes. */
const char *pl_stretch_name(unsigned layer);

/* Specimen by id (case and blanks do not matter), or NULL. */
const pl_specimen *pl_plan_find(const pl_plan *p, const char *id);
const pl_glue_up *pl_plan_find_glue_up(const pl_plan *p, const char *label);

#endif
