/* What the files that read forms share. For core/bench only. */
#ifndef PL_BENCH_READER_H
#define PL_BENCH_READER_H

#include "bench/columns.h"

typedef struct pl_column_in { /* a column of the form, as the file has it */
    size_t at;                /* place in the file; csv->ncol when it is not there */
    pl_quantity_kind kind;    /* what the header's unit measures */
    const char *unit;         /* "" if none */
    double scale, offset;     /* si = scale * x + offset */
    bool usable;              /* false after a finding about its unit */
} pl_column_in;

typedef struct pl_reader {
    pl_arena *a;
    const pl_study *s;
    const pl_plan *p;
    pl_diags *d;
    const pl_csv *csv;
    pl_form form;
    pl_form_column columns[PL_FORM_COLUMNS_MOST];
    pl_column_in in[PL_FORM_COLUMNS_MOST];
    size_t ncolumn;
    pl_readings *out;
    pl_readings *all;  /* known before, and read so far */
    pl_clock above;    /* breaks: date of the last row that gave one */
    const char **seen; /* keys of the rows so far */
    size_t nseen;
    bool nomem;
} pl_reader;

typedef struct pl_row {
    size_t row;
    pl_subject subject;
    const char *id;              /* as the plan writes it */
    const char *rig_id;          /* sessions: "2/jack"; NULL when the rig is not known */
    const pl_specimen *specimen; /* breaks */
    const pl_glue_up *glue_up;   /* glue-ups and breaks */
    unsigned session;            /* the glue-up was made in */
    int rig;                     /* place in study->rigs that the row names or the plan has; -1 */
    double event_s;              /* last thing that happened; NAN */
    const char *event;           /* "spread_at 14:00" */
} pl_row;

/* A refusal at a cell. */
pl_code pl_cell_fail(pl_reader *r, pl_code code, const pl_csv_cell *cell, const char *expected,
                     const char *mend);
/* Reads one filled cell into r->out; what is wrong becomes a finding. Blank
 * time cells only bring row->event up to date. */
void pl_cell_read(pl_reader *r, pl_row *row, size_t column);

/* Advice about what was read from one file: possible, but doubtful. */
void pl_form_doubts(pl_reader *r);

/* The set point planned for a glue-up, or NULL when none is. */
const pl_set_point *pl_planned_point(const pl_study *s, const pl_plan *p, const pl_glue_up *g);

#endif
