/* Sheets: what the bench needs, to print and to fill in. */
#ifndef PL_BENCH_SHEETS_H
#define PL_BENCH_SHEETS_H

#include "base/arena.h"
#include "base/diag.h"
#include "bench/calendar.h"
#include "page/html.h"
#include "study/plan.h"
#include "study/study.h"

typedef struct pl_sheet_options {
    const char *folder;           /* made if absent */
    unsigned session;             /* only this one; 0 = all */
    const char *peak_unit;        /* what the breaking rig shows; NULL = kN */
    bool replace;                 /* write over sheets that are there */
    const pl_label_paper *labels; /* bought label paper; NULL: labels to cut out */
    const pl_calendar *calendar;  /* NULL: no calendar is written */
    const char *ics;              /* with a calendar: its file for a phone */
    const pl_plan *before;        /* only what the plan has beyond this revision; NULL: all */
} pl_sheet_options;

typedef struct pl_sheets {
    const char *const *files; /* paths written, in the order of use */
    size_t count;
} pl_sheets;

/* Writes into the folder:
 *   cutting-list.html, cut-map.html, labels.html, glue-up-session-N.html,
 *   break-sheet.html, calendar.html and calendar.ics, and the CSV forms boards, sessions, glue-ups,
 * breaks. Labels, ids and the break sheet tell nothing of the treatment. Before the first is
 * written all names are looked at: a file that is there is refused unless replace (PL_EWRITE), and
 * nothing is written. With `before`: cutting list, cut map, labels and boards of wood that it has
 * not yet; the other sheets of sessions that it has not yet; the calendar whole. PL_EUSAGE: no such
 * session, or no label fits on the paper. */
pl_code pl_sheets_write(pl_arena *a, const pl_study *s, const pl_plan *p,
                        const pl_sheet_options *options, pl_sheets *out, pl_diags *d);

#endif
