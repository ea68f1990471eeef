/* A study file in the making: one text that is changed member by member and read
 * by the study's own reader after each change. */
#ifndef PL_CLI_ASK_DRAFT_H
#define PL_CLI_ASK_DRAFT_H

#include "base/arena.h"
#include "base/diag.h"
#include "base/json.h"
#include "study/study.h"

typedef struct pl_draft {
    pl_arena *a;
    const char *text; /* a JSON object; NULL once memory ran out */
    pl_diags faults;  /* of the last change and reading */
} pl_draft;

/* path: members from the top, parted by '/': "joint/adherend/width", "factors/0/levels".
 * A member that is not there is added, objects on the way too; in a list the
 * place behind its last is added. */
void pl_draft_text(pl_draft *d, const char *path, const char *value);
void pl_draft_whole(pl_draft *d, const char *path, long long value);
void pl_draft_list(pl_draft *d, const char *path, const char *const *values, size_t n);
void pl_draft_object(pl_draft *d, const char *path); /* an empty one, in place of what is there */
void pl_draft_empty(pl_draft *d, const char *path);  /* an empty list, likewise */
void pl_draft_drop(pl_draft *d, const char *path);   /* not there: nothing happens */

/* Reads the draft as a study; its faults, and PL_ENOMEM, go to d->faults. */
pl_code pl_draft_read(pl_draft *d, const pl_study **out);

#endif
