/* Trace: a record of force over time, taken sample by sample in constant
 * memory: peak above the no-load value, its time, first drop, loading rate, and
 * what is doubtful about the record. Pure; knows no plugin.
 *
 * Rules: peak picking, tare, first cracking, flat tops, sampling loss as usual in
 * strength testing of joints; thresholds below are common practice, no source,
 * unless one is named. */
#ifndef PL_RIGS_TRACE_H
#define PL_RIGS_TRACE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define PL_TRACE_DROP 0.20       /* of the peak: a fall that is a break */
#define PL_TRACE_FIRST_DROP 0.05 /* of the highest so far: first cracking, if it recovers */
#define PL_TRACE_SPIKE 0.03      /* of the highest so far: one sample that stands out */
#define PL_TRACE_SLOW 0.01       /* of the peak: most that may hide between two samples */
#define PL_TRACE_NO_LOAD 0.01    /* of the peak: band of the no-load stretch */

#define PL_TRACE_HEAD 1024  /* samples kept of the beginning */
#define PL_TRACE_CURVE 4096 /* thinned points kept of the whole */
#define PL_TRACE_HELD 64    /* drops that may become the first one */
#define PL_TRACE_BLOCK 256  /* samples that are judged together */
#define PL_TRACE_LOADS 64   /* loads of one record that are told apart */

#define PL_TRACE_UNLOADED 0.02  /* of the highest so far: the load is gone */
#define PL_TRACE_REST 5         /* samples in a row without load end a load */
#define PL_TRACE_LOAD 0.20      /* of the highest of all: less is seating, no load of its own */
#define PL_TRACE_GAP 2.5        /* usual intervals: a longer one has lost samples */
#define PL_TRACE_GAPS_MOST 0.01 /* share of the intervals; more, and the clock is irregular */

typedef struct pl_trace_at {
    double time_s, force_N;
    uint64_t line;
} pl_trace_at;

/* Loads one after the other: each ends when the force has gone back to no load. */
typedef struct pl_loads {
    double base, first[5];        /* median of the first five */
    uint64_t count;               /* samples */
    double high;                  /* highest of all */
    double now;                   /* highest since the last load ended */
    unsigned rest;                /* samples in a row without load */
    double ended[PL_TRACE_LOADS]; /* highest of each that ended; small ones fall out */
    size_t n;
} pl_loads;

typedef struct pl_trace {
    uint64_t count;
    double head_t[PL_TRACE_HEAD], head_f[PL_TRACE_HEAD];
    size_t nhead;
    double curve_t[PL_TRACE_CURVE], curve_f[PL_TRACE_CURVE];
    size_t ncurve;
    uint64_t stride, skip;

    /* Samples not yet judged, the one before them in front. */
    double t[PL_TRACE_BLOCK + 2], f[PL_TRACE_BLOCK + 2];
    uint64_t line[PL_TRACE_BLOCK + 2];
    size_t held_back;
    bool begun; /* t[0] has been judged */

    double base; /* median of the first five: first guess of no load */
    double step; /* running mean of |change| from sample to sample, block by block */
    pl_trace_at peak, last;
    double low_after, lowest; /* after the peak, and of all */
    uint64_t run, longest_run_below, last_run;
    pl_trace_at spike;
    uint64_t spikes;
    pl_trace_at backwards;
    uint64_t backward;
    double dt_sum, usual_dt; /* usual: median of the first block */
    uint64_t dts, gaps;
    pl_trace_at gap; /* behind the longest */
    double gap_s;
    struct {
        pl_trace_at at; /* highest before the fall */
        double depth_N;
    } held[PL_TRACE_HELD];
    size_t nheld;
    pl_loads loads;
} pl_trace;

typedef enum pl_trace_doubt {
    PL_TRACE_EMPTY,   /* fewer than three samples, further below no load than above, or below zero
                         without a tare: no readings */
    PL_TRACE_NO_TARE, /* the record begins under load: zero taken as it is */
    PL_TRACE_ENDS_AT_PEAK,
    PL_TRACE_NO_BREAK,
    PL_TRACE_FLAT_TOP,
    PL_TRACE_SPIKES,     /* value: the spike, above no load */
    PL_TRACE_SAMPLING,   /* value: share of the peak that may be missing */
    PL_TRACE_BACKWARDS,  /* no time to peak, no rate */
    PL_TRACE_DROPPED,    /* value: how many gaps; gap_s: the longest; line: behind it */
    PL_TRACE_LOADS_MORE, /* value: how often the load came on; peak: the highest of all */
    PL_TRACE_NDOUBTS
} pl_trace_doubt;

typedef struct pl_trace_result {
    bool found; /* a peak */
    double tare_N;
    uint64_t tare_samples; /* 0: none could be taken */
    double peak_N;         /* above tare */
    uint64_t peak_line;
    double time_to_peak_s; /* from leaving no load; NAN when not known */
    double first_drop_N;   /* above tare; NAN when there was none */
    uint64_t first_drop_line;
    double rate_N_s; /* least squares, 20 to 80 % of the peak; NAN when not known */
    double gap_s;
    bool doubt[PL_TRACE_NDOUBTS];
    double value[PL_TRACE_NDOUBTS];
    uint64_t line[PL_TRACE_NDOUBTS];
} pl_trace_result;

void pl_trace_init(pl_trace *t);
/* n samples in the record's order, finite. first_line: of the first, 0 if unknown. */
void pl_trace_add(pl_trace *t, const double *time_s, const double *force_N, size_t n,
                  uint64_t first_line);
void pl_trace_end(pl_trace *t, pl_trace_result *out);
/* It held: the record ends at its peak, or without a break. The peak is a lower bound. */
static inline bool pl_trace_held(const pl_trace_result *r)
{
    return r->doubt[PL_TRACE_ENDS_AT_PEAK] || r->doubt[PL_TRACE_NO_BREAK];
}

/* ---- several loads in one record, one result each ---- */

typedef struct pl_trace_split {
    pl_loads loads;
    pl_trace piece;
    pl_trace_result ended[PL_TRACE_LOADS];
    size_t n;
} pl_trace_split;

void pl_trace_split_init(pl_trace_split *s);
void pl_trace_split_add(pl_trace_split *s, const double *time_s, const double *force_N, size_t n,
                        uint64_t first_line);
/* Leaves in ended[0..n-1] what each load gave, in the record's order. Loads below
 * PL_TRACE_LOAD of the highest are seating and fall out. */
void pl_trace_split_end(pl_trace_split *s);

#endif
