/* The answer of a fit: what report says, draws and writes. */
#ifndef PL_REPORT_ANSWER_H
#define PL_REPORT_ANSWER_H

#include "base/arena.h"
#include "base/diag.h"
#include "base/json.h"
#include "base/text.h"
#include "fit/bond.h"
#include "fit/result.h"
#include "study/plan.h"
#include "study/study.h"
#include "study/table.h"

/* The column of a study's table that holds the pressure each joint was really pressed at. */
#define PL_COLUMN_MADE "pressure made"
/* When its session was held, and how it broke: words. */
#define PL_COLUMN_DAY "day glued"
#define PL_COLUMN_BREAK "how it broke"
/* What it held from and to, an open end empty; the share of wood in the break, 0 to 1. */
#define PL_COLUMN_LEAST "held at least"
#define PL_COLUMN_MOST "held at most"
#define PL_COLUMN_SHARE "share of wood"

typedef struct pl_origin { /* of the figures: "seed" and "20260302" */
    const char *name, *value;
} pl_origin;

/* What was measured beside strength. */
typedef struct pl_response_answer {
    const pl_response *of;
    size_t measured;            /* joints with a value */
    double same;                /* all have this one: no fit; NAN */
    const pl_plateau *plateaus; /* where the question asks for curves */
    size_t nplateau;
    const struct pl_curve_spec *spec;
    const pl_linear_fit *linear; /* NULL: it could not be had */
    const char *why_not;         /* it could not be fitted; NULL */
} pl_response_answer;

typedef struct pl_fit_answer {
    const char *source;    /* the file's or study's name */
    const pl_study *study; /* NULL for a bare table */
    const pl_plan *plan;   /* NULL for a bare table */
    const pl_table *table;
    const pl_plateau *plateaus;
    size_t nplateau;
    const struct pl_curve_spec *spec; /* that they were fitted by; NULL: none */
    const struct pl_surface *surface; /* of a design for one; NULL: none */
    const pl_table *tied;     /* the table's rows, then reference joints; NULL: a bare table */
    const char *const *zeros; /* a sentence for each difference fitted as zero, nzero of them */
    size_t nzero;
    const pl_linear_fit *linear; /* NULL when none was asked for */
    const pl_drawn_again *drawn; /* tests by the lot, where asked for */
    size_t ndrawn;
    const pl_bounds_fit *bounds;     /* of a table some of whose readings are only bounds; NULL */
    const pl_bond_fit *bond;         /* joint, glue line and wood apart; NULL: none was judged */
    const pl_plateau *bond_plateaus; /* the plateau question asked of the glue line */
    const pl_plateau *unhandled_plateaus; /* the same without what fell apart in handling; NULL */
    size_t nbond_plateau;
    /* A sentence each: what happened at the bench, the answer on the rigs'
     * dials, what these specimens cannot tell. */
    const char *const *notes, *const *dials, *const *cannot;
    size_t nnote, ndial, ncannot;
    const char *const *trust; /* whether the figures can be trusted: a sentence each */
    size_t ntrust;
    /* The chance of noticing: as it was when the plan was frozen, and with the scatter found since;
     * NULL: nothing was worth noticing, an older plan, no scatter found. */
    const pl_chances *then, *now;
    const struct pl_boxcox *power; /* of the readings, that the levels fit best; NULL: none */
    const pl_coef *drift; /* with the order of gluing beside the levels and blocks; NULL: none */
    const pl_origin *origins; /* for the page; norigin of them */
    size_t norigin;
    const char *const *again; /* commands that make these figures again */
    size_t nagain;
    const pl_response_answer *responses; /* nresponse of them */
    size_t nresponse;
    size_t planned, broken, used; /* specimens; planned 0 for a bare table */
    size_t excluded;              /* that were broken, and are left out for a reason given */
    const struct pl_fit_answer *with_excluded; /* the fit with them; NULL: none, or no fit */
} pl_fit_answer;

/* A figure with its unit: x in the column's unit; behind it, in brackets, the same in a second
 * unit when the study shows one. way -1 rounds down, 0 to nearest, +1 up: limits are rounded
 * outward, never inward. */
char *pl_say(pl_arena *a, const pl_fit_answer *f, double x, const char *unit, int digits, int way);
double pl_round_outward(double x, int digits, int way);

/* One group's paragraph, and the whole answer, in shop words. */
char *pl_fit_sentence(pl_arena *a, const pl_fit_answer *f, size_t plateau);
char *pl_fit_words(pl_arena *a, const pl_fit_answer *f);
/* Tables and statistics terms; text for the terminal. */
char *pl_fit_details(pl_arena *a, const pl_fit_answer *f);
/* Members of the JSON answer, as docs/json.md lists them. */
void pl_fit_json(pl_jval *object, const pl_fit_answer *f);
/* One self-contained page. Pictures that cannot be made are findings. */
pl_code pl_fit_page(pl_arena *a, const pl_fit_answer *f, char **html, pl_diags *d);

/* f->then and f->now. frozen: the study as it was planned. */
pl_code pl_fit_chances(pl_arena *a, const pl_study *frozen, pl_fit_answer *f, pl_diags *d);
/* As a member of a fit's answer; nothing when f->then is NULL. */
void pl_chances_json(pl_jval *object, const pl_fit_answer *f);
/* Both in shop words; now may be NULL. NULL without memory. */
char *pl_chances_words(pl_arena *a, const pl_chances *then, const pl_chances *now);

/* Sentences for `cannot`: what this number of glue-ups per level would miss,
 * given the scatter found. */
pl_code pl_fit_cannot(pl_arena *a, const pl_fit_answer *f, pl_text *one_a_line, pl_diags *d);

#endif
