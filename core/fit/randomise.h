/* The randomisation test of one factor: how often treatments that are drawn again within their
 * blocks, by chance alone, lie at least as far apart as those that were made.
 *
 * Figure of the test: the sum of squares between levels, blocks taken out. Within-block drawing
 * keeps how often each level stands in each block, so it is Q' C^- Q with C fixed: Q the levels'
 * totals less what their blocks' means give, C = R - N K^-1 N' (Yates 1936, Ann. Eugen. 7:121, in
 * matrices: Tocher 1952, J. R. Statist. Soc. B 14:45).
 *
 * Few arrangements are all counted and p is exact. Of more, `draws` are drawn and
 * p = (1 + as far) / (1 + draws) (Phipson & Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9:39): the
 * arrangement made is one that could have come, so p is never 0 and holds its level exactly.
 *
 * Draws come in blocks of PL_RANDOMISE_BATCH, each a stream of its own: the same bits for any
 * number of threads. */
#ifndef PL_FIT_RANDOMISE_H
#define PL_FIT_RANDOMISE_H

#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "fit/result.h"
#include "study/plan.h"
#include "study/table.h"

#define PL_RANDOMISE_BATCH 4096
#define PL_RANDOMISE_LISTED_MOST (1u << 18) /* arrangements that are counted, not drawn */
#define PL_RANDOMISE_DRAWS_MOST 1000000000

typedef struct pl_arranged { /* what was made and measured */
    size_t n, nlevel, nblock;
    const double *y;
    const size_t *level, *block; /* n: below nlevel, nblock */
} pl_arranged;

/* Fills all of *out but the names; seed below PL_SEED_LIMIT.
 * PL_EDATA: no block holds two levels; all arrangements give the same. PL_ENOMEM. */
pl_code pl_randomise(pl_arena *a, const pl_arranged *x, uint64_t draws, uint64_t seed,
                     pl_drawn_again *out, pl_diags *d);

typedef struct pl_randomise_spec {
    const char *response, *factor;
    const char *const *within; /* columns: drawn within each of their combinations */
    size_t nwithin;
    const char *unit; /* names glue-ups, whose rows are averaged and drawn as one; or NULL */
    uint64_t draws, seed;
} pl_randomise_spec;

/* Of a table. Rows with a gap in a column that is used are left out.
 * PL_EKEY, PL_EVALUE as pl_fit_linear; PL_ECONFLICT: factor or blocks vary within a glue-up. */
pl_code pl_randomise_table(pl_arena *a, const pl_table *t, const pl_randomise_spec *spec,
                           pl_drawn_again *out, pl_diags *d);

/* A study's own plan drawn again (design/redraw.h): boards, sessions, restrictions, stretches and
 * the guard of the order as they were. One factor: every other keeps its levels, so that the test
 * is of this one alone, whatever the others do. What is set once a stretch is averaged and drawn by
 * stretch. Figure: the sum of squares between levels, blocks of the analysis (matching.h) and the
 * other factors taken out. Labels are those that the plan drew, whatever was made of them. */
#define PL_RANDOMISE_PLAN_LISTED_MOST 20000
#define PL_RANDOMISE_PLAN_DRAWS_MOST 10000000
typedef struct pl_randomise_plan_spec {
    const pl_study *study; /* as frozen with the plan */
    const pl_plan *plan;
    size_t factor; /* place in study->factors */
    const char *response;
    uint64_t draws, seed;
} pl_randomise_plan_spec;

/* t: a row a specimen, with the columns "glue_up", board, session and stretches of the plan.
 * *why: NULL, or in words why this factor cannot be tested so (then *out is empty): it comes with
 * the board, cannot change places by itself, or its levels cannot be told from the blocks.
 * PL_EKEY, PL_EVALUE, PL_ENOMEM. */
pl_code pl_randomise_plan(pl_arena *a, const pl_table *t, const pl_randomise_plan_spec *spec,
                          pl_drawn_again *out, const char **why, pl_diags *d);

#endif
