/* Joint, glue line and wood of a study apart: which effects and blocks, and when there is anything
 * to tell apart. */
#ifndef PL_CLI_STUDY_BOND_H
#define PL_CLI_STUDY_BOND_H

#include "cli/data.h"
#include "report/answer.h"

/* What of a study is to be told apart: the table and how it is fitted. */
typedef struct pl_study_links {
    pl_bond_spec spec;
    const pl_table *table; /* NULL: every reading is the strength of joint and glue line alike */
} pl_study_links;

/* f: plan is set. Sets f->bond, or leaves it NULL. Refuses where not one joint broke (PL_EDATA). */
pl_code pl_study_bond(pl_run *run, const pl_study *s, const pl_joined *joined, pl_fit_answer *f,
                      pl_study_links *links);
/* The plateau question asked of the glue line, as f->spec asks it of the joint. */
pl_code pl_study_bond_curves(pl_run *run, const pl_study *s, const pl_study_links *links,
                             pl_fit_answer *f);

/* A sentence about the glue line with and without what is excluded; "" when nothing moves. */
const char *pl_study_bond_moves(pl_run *run, const pl_fit_answer *f, const pl_fit_answer *with);

#endif
