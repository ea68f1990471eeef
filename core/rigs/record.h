/* Inside a visit that reads a record: what record.c (the file and its rows) and
 * record_trace.c (force over time, and what it says) share. */
#ifndef PL_RIGS_RECORD_H
#define PL_RIGS_RECORD_H

#include "base/sniff.h"
#include "rigs/inside.h"
#include "rigs/trace.h"

#define PL_RECORD_SPECIMENS 256
#define PL_RECORD_READINGS 4096

typedef struct pl_traces {
    struct {
        const char *specimen; /* NULL: the one this file is about */
        pl_trace *trace;
    } items[PL_RECORD_SPECIMENS];
    size_t count, latest;
    /* Several specimens in one file that no column tells apart, named in order. */
    const char *names[PL_RECORD_SPECIMENS];
    size_t nname;
    pl_trace_split *split;
    unsigned readings;
    bool stop; /* a service asked for it */
} pl_traces;

/* text: of a reading that is a word; NULL for a number. */
void pl_record_send(pl_inside *in, const char *specimen, const char *quantity, const char *unit,
                    double value, const char *text, uint64_t line);
const char *pl_record_place(pl_inside *in, uint64_t line);

/* "A, B, C": the names of the loads of an unnamed trace, in order. Fewer than two change
 * nothing. */
void pl_record_names(pl_inside *in, const char *list);
/* platen_host.trace. */
int pl_record_trace(void *self, const char *specimen, const double *time_s, const double *force_N,
                    size_t n, uint64_t first_line);
/* At the end of the file: readings and doubts of every trace. */
void pl_record_end(pl_inside *in);

#endif
