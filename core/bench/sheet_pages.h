/* The pages that sheets.c writes. For core/bench only. */
#ifndef PL_BENCH_SHEET_PAGES_H
#define PL_BENCH_SHEET_PAGES_H

#include "bench/sheets.h"
#include "page/html.h"

/* One page in the making. A failed allocation is remembered: a sheet with a
 * blank where a setting should be must never be printed. */
typedef struct pl_sheet {
    pl_arena *a;
    const pl_study *s;
    const pl_plan *p;
    const pl_plan *made; /* of a cutting list: what is glued of it, from wood that is there too */
    const char *peak_unit;
    const pl_label_paper *labels; /* NULL: to cut out */
    const pl_calendar *calendar;  /* NULL: none */
    pl_page *page;
    bool failed;
    bool unfit; /* no label fits on the paper */
} pl_sheet;

/* These fill sh->page. */
void pl_sheet_cutting_list(pl_sheet *sh);
void pl_sheet_cut_map(pl_sheet *sh);
void pl_sheet_labels(pl_sheet *sh);
void pl_sheet_glue_up(pl_sheet *sh, unsigned session);
void pl_sheet_break(pl_sheet *sh);
void pl_sheet_calendar(pl_sheet *sh); /* needs sh->calendar */

/* A new page of the study's sheets: "stair-laps, revision 1" above the title. */
void pl_sheet_begin(pl_sheet *sh, const char *title);
/* Wide pages: on paper across. */
void pl_sheet_wide(pl_sheet *sh);
/* A grid whose blanks have room for words. */
void pl_sheet_room(pl_sheet *sh, const pl_grid *g);
/* A grid that may go on over several sheets of paper. */
void pl_sheet_rows(pl_sheet *sh, const pl_grid *g);

/* Texts that are never NULL: without memory they are "" and sh->failed is set. */
const char *pl_sheet_printf(pl_sheet *sh, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
const char *pl_sheet_number(pl_sheet *sh, double x, int digits);
const char *pl_sheet_done(pl_sheet *sh, pl_text *t);
const char *pl_sheet_length(pl_sheet *sh, double m); /* "40 mm", in the joint's unit; NAN: "" */
const char *pl_sheet_time(pl_sheet *sh, double s);   /* "45 min", "7 d" */
const char *pl_sheet_tied(pl_sheet *sh,
                          const char *text); /* on one line: blanks that do not break */
const char *pl_sheet_clock(pl_sheet *sh, double t, bool with_day); /* pl_calendar_time */

#endif
