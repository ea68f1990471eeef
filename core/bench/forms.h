/* Forms: the sheets of the bench as CSV, written empty and read back filled in.
 *
 * One table of columns (forms.c) makes the header that is written, the check of
 * what is read, and the list in docs/forms.md. */
#ifndef PL_BENCH_FORMS_H
#define PL_BENCH_FORMS_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/csv.h"
#include "base/diag.h"
#include "study/plan.h"
#include "study/reading.h"
#include "study/study.h"

typedef enum pl_form {
    PL_FORM_BOARDS,
    PL_FORM_SESSIONS,
    PL_FORM_GLUE_UPS,
    PL_FORM_BREAKS,
    PL_NFORMS
} pl_form;
const char *pl_form_name(pl_form f); /* "boards", "sessions", "glue-ups", "breaks" */

/* The form as CSV: header, then one row per board, session and rig, glue-up (in
 * glue order) or specimen (in break order; nothing tells the treatment), the
 * rest blank. peak_unit: what the breaking rig shows, "kN" or its dial's "bar";
 * NULL = kN. Spares are left out until they are put to use. NULL = no memory. */
char *pl_form_write(pl_arena *a, pl_form form, const pl_study *s, const pl_plan *p,
                    const char *peak_unit);

/* Whether a table's header is that of a form of this study, and which. */
bool pl_form_of(const pl_study *s, const pl_csv *t, pl_form *out);

/* A filled-in form and what it gave. */
typedef struct pl_form_file {
    const pl_csv *csv;    /* in */
    pl_form form;         /* out */
    pl_readings readings; /* out */
} pl_form_file;

/* Reads filled-in forms into readings, sessions first (a bare "14:05" takes
 * its session's date from there, or from `known`: what the book holds already;
 * may be NULL). All faults of all files in one run. Blank cells give nothing.
 *
 * What a reading is: docs/forms.md. In short: quantity = the column's name
 * (units in SI, percents as fractions, times as seconds since 1970 UTC with
 * the offset as unit); a peak in a pressure unit stays a pressure in Pa, to be
 * turned into force by the caller through the breaking rig; an interval
 * "2.4..2.6" has its middle as value; a session's dial_no_load and supply
 * belong to one rig: their id is "2/jack" (pl_session_rig_id).
 *
 * PL_ESYNTAX no form; PL_EKEY unknown column, id or rig; PL_EVALUE; PL_EUNIT;
 * PL_ECONFLICT a row twice, an impossible order of times. Advice for what is
 * possible but doubtful: 5 times its fellows, off the planned dial, glued late. */
pl_code pl_forms_read(pl_arena *a, const pl_study *s, const pl_plan *p, pl_form_file *files,
                      size_t count, const pl_readings *known, pl_diags *d);

/* Advice for each of some readings of this quantity that is 5 times the middle of all of
 * them or more, or a fifth or less, once there are five. PL_ENOMEM. */
pl_code pl_far_from_fellows(pl_arena *a, const pl_readings *some, const pl_readings *all,
                            const char *quantity, pl_diags *d);

char *pl_session_rig_id(pl_arena *a, unsigned session, const char *rig); /* "2/jack" */

/* What is missing, a sentence each: "7 joints have a peak but no wood failure". */
pl_code pl_forms_missing(pl_arena *a, const pl_plan *p, const pl_readings *r,
                         const char *const **out, size_t *count, pl_diags *d);

/* The list of columns for docs/forms.md, as Markdown. */
char *pl_forms_reference(pl_arena *a);

#endif
