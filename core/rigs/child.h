/* Child: starts the program again as a child that holds nothing but its work,
 * gives it time, and takes what it wrote. */
#ifndef PL_RIGS_CHILD_H
#define PL_RIGS_CHILD_H

#include "rigs/find.h"
#include "rigs/rigs.h"
#include "rigs/wire.h"

#define PL_ANSWER_MOST ((size_t)32 << 20) /* bytes of one answer */

/* An answer, whole, its frames checked; messages are taken from it in order. */
typedef struct pl_answer {
    const pl_plugin_file *file;
    pl_unpack rest;
    pl_code code; /* how the child says it ended */
    pl_cost cost; /* as the child says; NAN where it does not */
} pl_answer;

/* Starts a child for this plugin, hands it request (without the head, which is
 * added here), and waits at most limit_s. record: a descriptor to read, or -1.
 * EPLUGIN with one finding: crash, hang, flood, forbidden call, broken answer.
 * EWRITE: the child could not be started. When this returns there is no child. */
pl_code pl_child_visit(pl_arena *a, const pl_plugin_file *file, pl_work work,
                       const pl_text *request, int record, double limit_s, pl_answer *out,
                       pl_diags *d);

/* Next message other than findings, which go into d as they come. false at the
 * end. payload is bounded to the message. */
bool pl_answer_next(pl_arena *a, pl_answer *answer, pl_message *type, pl_unpack *payload,
                    pl_diags *d);

/* What a visit came to, once no message is left: the first refusal since `before`, OK, or
 * EPLUGIN with one finding where the child claims to have failed and no finding says why. */
pl_code pl_answer_end(const pl_answer *answer, size_t before, pl_diags *d);

/* One finding: plugin and file, and what it did. EPLUGIN. */
pl_code pl_child_blame(pl_diags *d, const pl_plugin_file *file, const char *did);

double pl_child_limit(void);

#endif
