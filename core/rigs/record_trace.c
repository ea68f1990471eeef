/* Records of force over time in the child: whose samples they are, and at the end the
 * readings and what is doubtful about them. The rules are in trace.c; the file and its
 * rows are in record.c. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "rigs/record.h"

void pl_record_send(pl_inside *in, const char *specimen, const char *quantity, const char *unit,
                    double value, const char *text, uint64_t line)
{
    pl_text t;

    if (++in->traces->readings > PL_RECORD_READINGS)
        return;
    pl_text_init(&t, in->a);
    pl_pack_text(&t, specimen);
    pl_pack_text(&t, quantity);
    pl_pack_text(&t, unit);
    pl_pack_f64(&t, value);
    pl_pack_u64(&t, line);
    pl_pack_text(&t, text);
    pl_pack_message(&in->answer, PL_MSG_READING, &t);
}

static pl_trace *trace_of(pl_inside *in, const char *specimen)
{
    pl_traces *ts = in->traces;
    size_t i = ts->latest;

    if (i < ts->count && ts->items[i].specimen && specimen &&
        !strcmp(ts->items[i].specimen, specimen))
        return ts->items[i].trace;
    for (i = 0; i < ts->count; i++) {
        const char *s = ts->items[i].specimen;

        if (s == specimen || (s && specimen && !strcmp(s, specimen))) {
            ts->latest = i;
            return ts->items[i].trace;
        }
    }
    if (ts->count == PL_RECORD_SPECIMENS) {
        (void)pl_fail(
            &in->d, PL_EDATA, in->record,
            .found = pl_arena_printf(in->a, "more than %d specimens", PL_RECORD_SPECIMENS));
        return NULL;
    }
    ts->items[i].trace = PL_NEW(in->a, pl_trace);
    ts->items[i].specimen = pl_arena_str(in->a, specimen);
    if (!ts->items[i].trace || (specimen && !ts->items[i].specimen)) {
        (void)pl_nomem(&in->d);
        return NULL;
    }
    pl_trace_init(ts->items[i].trace);
    ts->count++;
    return ts->items[i].trace;
}

void pl_record_names(pl_inside *in, const char *list)
{
    pl_traces *ts = in->traces;
    char *copy = pl_arena_str(in->a, list), *rest = NULL;

    ts->nname = 0;
    for (char *name = copy ? strtok_r(copy, ",; \t", &rest) : NULL;
         name && ts->nname < PL_RECORD_SPECIMENS; name = strtok_r(NULL, ",; \t", &rest))
        ts->names[ts->nname++] = name;
    if (ts->nname > 1)
        ts->split = PL_NEW(in->a, pl_trace_split);
    if ((list && !copy) || (ts->nname > 1 && !ts->split))
        (void)pl_nomem(&in->d);
    else if (ts->split)
        pl_trace_split_init(ts->split);
}

/* Only a finite number less itself is zero; in lanes that wide registers can take. */
static bool all_finite(const double *x, const double *y, size_t n)
{
    double rest[8] = { 0 }, sum = 0;
    size_t i = 0;

    for (; i + 8 <= n; i += 8)
        for (size_t j = 0; j < 8; j++)
            rest[j] += (x[i + j] - x[i + j]) + (y[i + j] - y[i + j]);
    for (; i < n; i++)
        sum += (x[i] - x[i]) + (y[i] - y[i]);
    for (size_t j = 0; j < 8; j++)
        sum += rest[j];
    return sum == 0;
}

int pl_record_trace(void *self, const char *specimen, const double *time_s, const double *force_N,
                    size_t n, uint64_t first_line)
{
    pl_inside *in = self;
    bool split = !specimen && in->traces->split;
    pl_trace *t;

    if (!n)
        return in->traces->stop;
    t = in->traces->stop || split ? NULL : trace_of(in, specimen);

    if ((t || split) && !all_finite(time_s, force_N, n)) {
        (void)pl_inside_blame(in, "handed over a sample that is no number");
        t = NULL;
        in->traces->stop = true;
    }
    if (!t && (!split || in->traces->stop)) {
        in->traces->stop = true;
        return 1;
    }
    if (split)
        pl_trace_split_add(in->traces->split, time_s, force_N, n, first_line);
    else
        pl_trace_add(t, time_s, force_N, n, first_line);
    return 0;
}

/* ---- what a trace says ---- */

const char *pl_record_place(pl_inside *in, uint64_t line)
{
    return line ? pl_arena_printf(in->a, "%s:%llu", in->record, (unsigned long long)line)
                : in->record;
}

static const char *force_text(pl_inside *in, double x)
{
    return in->host.show(in->host.self, PLATEN_AS_FORCE, x);
}

static void say_doubts(pl_inside *in, const char *specimen, const pl_trace_result *r)
{
    pl_arena *a = in->a;
    pl_diags *d = &in->d;

    if (r->doubt[PL_TRACE_NO_TARE])
        pl_advise(d, in->record,
                  .found = pl_arena_printf(a, "the record begins at %s without a steady stretch",
                                           force_text(in, r->value[PL_TRACE_NO_TARE])),
                  .expected = "some samples before the load comes on",
                  .mend = "forces are taken as they stand, no zero is taken off");
    if (r->doubt[PL_TRACE_ENDS_AT_PEAK])
        pl_advise(d, pl_record_place(in, r->peak_line),
                  .found = "the record ends at its highest force", .expected = "a break after it",
                  .mend = "stopped early: the joint held at least this; its mode is not-broken");
    if (r->doubt[PL_TRACE_NO_BREAK])
        pl_advise(d, pl_record_place(in, r->peak_line),
                  .found = "no break: the force never falls by a fifth after its peak",
                  .expected = "a fall of at least 20 %",
                  .mend = "the joint held at least this; its mode is not-broken");
    if (r->doubt[PL_TRACE_FLAT_TOP])
        pl_advise(d, pl_record_place(in, r->peak_line),
                  .found = pl_arena_printf(a,
                                           "flat top: the highest value stands %g times in a row",
                                           r->value[PL_TRACE_FLAT_TOP]),
                  .expected = "a peak",
                  .mend = "overload or a clipped signal: the true peak is at least this");
    if (r->doubt[PL_TRACE_SPIKES])
        pl_advise(d, pl_record_place(in, r->line[PL_TRACE_SPIKES]),
                  .found = pl_arena_printf(a, "one single sample stands out at %s",
                                           force_text(in, r->value[PL_TRACE_SPIKES])),
                  .expected = pl_arena_printf(a, "a peak its neighbours share (%s)",
                                              force_text(in, r->peak_N)),
                  .mend = "taken for a disturbance and left out of the peak");
    if (r->doubt[PL_TRACE_SAMPLING])
        pl_advise(d, in->record,
                  .found = pl_arena_printf(a,
                                           "sampled too slowly: up to %.2g %% of the peak may lie "
                                           "between two samples",
                                           100 * r->value[PL_TRACE_SAMPLING]),
                  .expected = "at most 1 %", .mend = "sample faster or load more slowly");
    if (r->doubt[PL_TRACE_BACKWARDS])
        pl_advise(d, pl_record_place(in, r->line[PL_TRACE_BACKWARDS]),
                  .found = "time runs backwards", .expected = "rising times",
                  .mend = "no time to peak and no rate are taken");
    if (r->doubt[PL_TRACE_DROPPED])
        pl_advise(d, pl_record_place(in, r->line[PL_TRACE_DROPPED]),
                  .found = pl_arena_printf(a,
                                           "samples are missing: %g gap%s, the longest of %.3g s "
                                           "ends here",
                                           r->value[PL_TRACE_DROPPED],
                                           r->value[PL_TRACE_DROPPED] == 1 ? "" : "s", r->gap_s),
                  .expected = "the usual interval between samples",
                  .mend = "a peak that fell into a gap is not seen");
    if (r->doubt[PL_TRACE_LOADS_MORE])
        pl_advise(d, pl_record_place(in, r->peak_line),
                  .found = pl_arena_printf(a, "%s was loaded %g times", specimen,
                                           r->value[PL_TRACE_LOADS_MORE]),
                  .expected = "one load", .mend = "the highest is taken");
}

/* The wanted range of loading rates, where the kind has such settings (plugin.h). */
static void say_rate(pl_inside *in, const pl_trace_result *r)
{
    double low = -HUGE_VAL, high = HUGE_VAL;
    const char *unit = "N/s";
    pl_arena *a = in->a;

    for (uint32_t i = 0; i < in->p.nsettings; i++) {
        const platen_setting *s = &in->p.settings[i];
        const platen_value *v = &in->rig->values[i];

        if (s->kind != PLATEN_NUMBER || !v->given || strcmp(s->unit, "N/s") != 0)
            continue;
        unit = in->rig->units[i];
        if (!strcmp(s->name, "rate_from"))
            low = v->number;
        if (!strcmp(s->name, "rate_to"))
            high = v->number;
    }
    if (!isfinite(r->rate_N_s) || (r->rate_N_s >= low && r->rate_N_s <= high))
        return;
    pl_advise(&in->d, pl_record_place(in, r->peak_line),
              .found = pl_arena_printf(a, "loaded at %s",
                                       pl_units_text(a, r->rate_N_s, PL_Q_FORCE_RATE, unit, 3)),
              .expected = r->rate_N_s < low
                              ? pl_arena_printf(a, "at least %s",
                                                pl_units_text(a, low, PL_Q_FORCE_RATE, unit, 3))
                              : pl_arena_printf(a, "at most %s",
                                                pl_units_text(a, high, PL_Q_FORCE_RATE, unit, 3)),
              .mend = "as its rig file asks; the reading is taken");
}

static void refuse_empty(pl_inside *in, const char *specimen)
{
    (void)pl_fail(&in->d, PL_EDATA, in->record,
                  .found = specimen ? pl_arena_printf(in->a, "no load on %s", specimen)
                                    : "no load in this record",
                  .expected = "at least three samples and a force above the first ones",
                  .mend = "a force that grows downwards is turned round in the rig file");
}

static void send_result(pl_inside *in, const char *specimen, const pl_trace_result *r)
{
    say_doubts(in, specimen, r);
    say_rate(in, r);
    if (r->peak_N > in->rig->dial.rated_force_N)
        pl_advise(&in->d, pl_record_place(in, r->peak_line),
                  .found = pl_arena_printf(in->a, "a peak of %s", force_text(in, r->peak_N)),
                  .expected = pl_arena_printf(in->a, "at most %s, which it is rated for",
                                              force_text(in, in->rig->dial.rated_force_N)),
                  .mend = "look at the bench before it is used again");
    pl_record_send(in, specimen, "peak", "N", r->peak_N, NULL, r->peak_line);
    if (isfinite(r->time_to_peak_s) && r->time_to_peak_s >= 0)
        pl_record_send(in, specimen, "time_to_peak", "s", r->time_to_peak_s, NULL, r->peak_line);
    if (isfinite(r->first_drop_N))
        pl_record_send(in, specimen, "first_drop", "N", r->first_drop_N, NULL, r->first_drop_line);
    if (isfinite(r->rate_N_s))
        pl_record_send(in, specimen, "rate", "N/s", r->rate_N_s, NULL, r->peak_line);
    if (pl_trace_held(r))
        pl_record_send(in, specimen, "mode", "1", 0, "not-broken", r->peak_line);
}

/* Several loads and nobody says whose each is: by their order alone nothing is taken. */
static void refuse_order(pl_inside *in, const pl_trace_result *r)
{
    (void)pl_fail(
        &in->d, PL_EDATA, pl_record_place(in, r->peak_line),
        .found = pl_arena_printf(in->a,
                                 "the load comes on %g times and goes back to none "
                                 "between",
                                 r->value[PL_TRACE_LOADS_MORE]),
        .expected = "one load, or whose each of them is",
        .mend = "a column specimen; a line \"Specimens: A, B\" above the table that names "
                "them in order; or a file for each");
}

static void end_trace(pl_inside *in, const char *specimen, pl_trace *trace)
{
    pl_trace_result r;

    pl_trace_end(trace, &r);
    if (r.doubt[PL_TRACE_EMPTY])
        refuse_empty(in, specimen);
    else if (!specimen && r.doubt[PL_TRACE_LOADS_MORE])
        refuse_order(in, &r);
    else
        send_result(in, specimen, &r);
}

/* As many loads as names, or nothing is taken. */
static void end_split(pl_inside *in)
{
    pl_traces *ts = in->traces;
    pl_trace_split *s = ts->split;

    pl_trace_split_end(s);
    if (s->n != ts->nname) {
        (void)pl_fail(&in->d, PL_EDATA, in->record,
                      .found = pl_arena_printf(in->a, "%zu load%s", s->n, s->n == 1 ? "" : "s"),
                      .expected = pl_arena_printf(in->a, "%zu, one for each of %s", ts->nname,
                                                  pl_text_list(in->a, ts->names, ts->nname, "and")),
                      .mend = "a load ends when the force goes back to none; less than a fifth of "
                              "the highest does not count");
        return;
    }
    for (size_t i = 0; i < s->n; i++)
        send_result(in, ts->names[i], &s->ended[i]);
}

void pl_record_end(pl_inside *in)
{
    pl_traces *ts = in->traces;

    if (ts->split && ts->split->loads.count)
        end_split(in);
    for (size_t i = 0; i < ts->count; i++)
        end_trace(in, ts->items[i].specimen, ts->items[i].trace);
}
