/* Reading a recorded file in the child: the host's own table reader finds the
 * wanted columns, converts, hands batches to the plugin, and takes readings and
 * traces back. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

#include "base/csv.h"
#include "base/text.h"
#include "rigs/inside.h"
#include "rigs/trace.h"

#define BATCH 2048
#define SPECIMENS_MOST 256
#define READINGS_MOST 4096

typedef struct pl_traces {
    struct {
        const char *specimen; /* NULL: the one this file is about */
        pl_trace *trace;
    } items[SPECIMENS_MOST];
    size_t count;
    unsigned readings;
    bool stop; /* a service asked for it */
} pl_traces;

/* ---- services ---- */

static void send_reading(pl_inside *in, const char *specimen, const char *quantity,
                         const char *unit, double value, uint64_t line)
{
    pl_text t;

    if (++in->traces->readings > READINGS_MOST)
        return;
    pl_text_init(&t, in->a);
    pl_pack_text(&t, specimen);
    pl_pack_text(&t, quantity);
    pl_pack_text(&t, unit);
    pl_pack_f64(&t, value);
    pl_pack_u64(&t, line);
    pl_pack_message(&in->answer, PL_MSG_READING, &t);
}

static int host_reading(void *self, const platen_reading *r)
{
    pl_inside *in = self;

    if (in->traces->readings >= READINGS_MOST) {
        if (!in->traces->stop)
            (void)pl_inside_blame(in, pl_arena_printf(in->a,
                                                      "gave more than %d readings from "
                                                      "one file",
                                                      READINGS_MOST));
        in->traces->stop = true;
        return 1;
    }
    send_reading(in, r->specimen, r->quantity, r->unit, r->value, r->line);
    return 0;
}

static pl_trace *trace_of(pl_inside *in, const char *specimen)
{
    pl_traces *ts = in->traces;
    size_t i;

    for (i = 0; i < ts->count; i++) {
        const char *s = ts->items[i].specimen;

        if (s == specimen || (s && specimen && !strcmp(s, specimen)))
            return ts->items[i].trace;
    }
    if (ts->count == SPECIMENS_MOST) {
        (void)pl_fail(&in->d, PL_EDATA, in->record,
                      .found = pl_arena_printf(in->a, "more than %d specimens", SPECIMENS_MOST));
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

static int host_trace(void *self, const char *specimen, const double *time_s, const double *force_N,
                      size_t n, uint64_t first_line)
{
    pl_inside *in = self;
    pl_trace *t = in->traces->stop ? NULL : trace_of(in, specimen);

    for (size_t i = 0; t && i < n; i++)
        if (!isfinite(time_s[i]) || !isfinite(force_N[i])) {
            (void)pl_inside_blame(in, "handed over a sample that is no number");
            t = NULL;
        }
    if (!t) {
        in->traces->stop = true;
        return 1;
    }
    pl_trace_add(t, time_s, force_N, n, first_line);
    return 0;
}

/* ---- what a trace says ---- */

static const char *place(pl_inside *in, uint64_t line)
{
    return line ? pl_arena_printf(in->a, "%s:%llu", in->record, (unsigned long long)line)
                : in->record;
}

static const char *force_text(pl_inside *in, double x)
{
    return in->host.show(in->host.self, PLATEN_AS_FORCE, x);
}

static void say_doubts(pl_inside *in, const pl_trace_result *r)
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
        pl_advise(d, place(in, r->peak_line), .found = "the record ends at its highest force",
                  .expected = "a break after it",
                  .mend = "stopped early: the joint held at least this; its mode is not-broken");
    if (r->doubt[PL_TRACE_NO_BREAK])
        pl_advise(d, place(in, r->peak_line),
                  .found = "no break: the force never falls by a fifth after its peak",
                  .expected = "a fall of at least 20 %",
                  .mend = "the joint held at least this; its mode is not-broken");
    if (r->doubt[PL_TRACE_FLAT_TOP])
        pl_advise(d, place(in, r->peak_line),
                  .found = pl_arena_printf(a,
                                           "flat top: the highest value stands %g times in a row",
                                           r->value[PL_TRACE_FLAT_TOP]),
                  .expected = "a peak",
                  .mend = "overload or a clipped signal: the true peak is at least this");
    if (r->doubt[PL_TRACE_SPIKES])
        pl_advise(d, place(in, r->line[PL_TRACE_SPIKES]),
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
        pl_advise(d, place(in, r->line[PL_TRACE_BACKWARDS]), .found = "time runs backwards",
                  .expected = "rising times", .mend = "no time to peak and no rate are taken");
}

static void end_trace(pl_inside *in, const char *specimen, pl_trace *trace)
{
    pl_trace_result r;

    pl_trace_end(trace, &r);
    if (r.doubt[PL_TRACE_EMPTY]) {
        (void)pl_fail(&in->d, PL_EDATA, in->record,
                      .found = specimen ? pl_arena_printf(in->a, "no load on %s", specimen)
                                        : "no load in this record",
                      .expected = "at least three samples and a force above the first ones",
                      .mend = "a force that grows downwards is turned round in the rig file");
        return;
    }
    say_doubts(in, &r);
    if (r.peak_N > in->rig->dial.rated_force_N)
        pl_advise(&in->d, place(in, r.peak_line),
                  .found = pl_arena_printf(in->a, "a peak of %s", force_text(in, r.peak_N)),
                  .expected = pl_arena_printf(in->a, "at most %s, which it is rated for",
                                              force_text(in, in->rig->dial.rated_force_N)),
                  .mend = "look at the bench before it is used again");
    send_reading(in, specimen, "peak", "N", r.peak_N, r.peak_line);
    if (isfinite(r.time_to_peak_s) && r.time_to_peak_s >= 0)
        send_reading(in, specimen, "time_to_peak", "s", r.time_to_peak_s, r.peak_line);
    if (isfinite(r.first_drop_N))
        send_reading(in, specimen, "first_drop", "N", r.first_drop_N, r.first_drop_line);
    if (isfinite(r.rate_N_s))
        send_reading(in, specimen, "rate", "N/s", r.rate_N_s, r.peak_line);
}

/* ---- rows ---- */

typedef struct table {
    pl_inside *in;
    void *state;
    char delimiter;
    size_t first_line; /* of the table: a block of words may stand before it */
    size_t *place;     /* wanted column -> column of the file; SIZE_MAX: absent */
    double *scale, *offset;
    double **numbers; /* wanted column -> BATCH values */
    const char ***words;
    uint64_t lines[BATCH];
    size_t n;
    pl_arena *cells; /* words of one batch; emptied after it */
    pl_mark empty;
} table;

static bool named(const platen_column *c, const char *name)
{
    if (!strcasecmp(c->name, name))
        return true;
    for (const char *const *also = c->also; also && *also; also++)
        if (!strcasecmp(*also, name))
            return true;
    return false;
}

/* Which unit the file has for a wanted column; the header must say it. */
static void column_unit(table *t, size_t i, const char *name, const char *unit)
{
    pl_inside *in = t->in;
    const platen_column *c = &in->p.columns[i];
    pl_quantity_kind kind = pl_dial_si_kind(in->a, c->unit);
    const char *why = NULL;
    pl_code code;

    t->scale[i] = 1;
    if (!unit[0] && kind == PL_Q_NONE)
        return;
    code = unit[0] ? pl_units_scale(in->a, unit, kind, &t->scale[i], &t->offset[i], &why)
                   : PL_EUNIT;
    if (code)
        (void)pl_fail(&in->d, code, place(in, t->first_line),
                      .found = unit[0]
                                   ? pl_arena_printf(in->a, "column \"%s [%s]\"", name, unit)
                                   : pl_arena_printf(in->a, "column \"%s\" without a unit", name),
                      .expected = pl_quantity_name(kind),
                      .mend = pl_arena_printf(in->a,
                                              "write its unit in brackets, for example "
                                              "\"%s [%s]\"",
                                              c->name, pl_quantity_si(kind)));
}

static int on_header(void *self, const char *const *names, const char *const *units, size_t n)
{
    table *t = self;
    pl_inside *in = t->in;
    size_t before = in->d.count;

    for (size_t i = 0; i < in->p.ncolumns; i++) {
        const platen_column *c = &in->p.columns[i];

        t->place[i] = SIZE_MAX;
        for (size_t k = 0; k < n && t->place[i] == SIZE_MAX; k++)
            if (named(c, names[k]))
                t->place[i] = k;
        if (t->place[i] == SIZE_MAX) {
            if (!(c->flags & PLATEN_OPTIONAL))
                (void)pl_fail(&in->d, PL_EKEY, place(in, t->first_line),
                              .found = pl_arena_printf(in->a, "no column \"%s\"", c->name),
                              .expected = pl_arena_printf(in->a, "%s of %s", c->name,
                                                          pl_text_list(in->a, names, n, "and")));
            continue;
        }
        if (c->flags & PLATEN_WORDS)
            t->words[i] = PL_NEWN(in->a, BATCH, const char *);
        else
            t->numbers[i] = PL_NEWN(in->a, BATCH, double);
        if (!t->words[i] && !t->numbers[i])
            (void)pl_nomem(&in->d);
        if (!(c->flags & PLATEN_WORDS))
            column_unit(t, i, names[t->place[i]], units[t->place[i]]);
    }
    return in->d.count > before || in->d.out_of_memory;
}

/* Decimal commas only where the delimiter is ';'. */
static bool cell_number(const table *t, const char *cell, double *out)
{
    char copy[64], *comma;
    size_t n = strlen(cell);

    if (t->delimiter != ';' || !strchr(cell, ','))
        return pl_text_to_number(cell, out);
    if (n >= sizeof copy || strchr(cell, '.'))
        return false;
    memcpy(copy, cell, n + 1);
    comma = strchr(copy, ',');
    *comma = '.';
    return pl_text_to_number(copy, out);
}

static int hand_over(table *t, int last)
{
    pl_inside *in = t->in;
    platen_rows rows = { .n = t->n,
                         .numbers = (const double *const *)t->numbers,
                         .words = (const char *const *const *)t->words,
                         .lines = t->lines,
                         .last = last };
    int rc = in->p.rows(&in->host, in->rig->values, t->state, &rows);

    pl_inside_returned(in);
    t->n = 0;
    pl_arena_reset(t->cells, t->empty);
    if (rc == PLATEN_OK && !in->traces->stop)
        return 0;
    if (rc != PLATEN_OK && rc != PLATEN_EDATA && rc != PLATEN_ESTOP)
        (void)pl_inside_blame(in, pl_arena_printf(in->a, "gave code %d from rows", rc));
    else if (rc == PLATEN_EDATA && !pl_diags_count(&in->d, PL_REFUSED))
        (void)pl_fail(&in->d, PL_EDATA, in->record, .found = "the record is of no use to this rig");
    in->traces->stop = true;
    return 1;
}

static int on_row(void *self, const char *const *cells, size_t n, size_t line)
{
    table *t = self;
    pl_inside *in = t->in;

    (void)n;
    t->lines[t->n] = line;
    for (size_t i = 0; i < in->p.ncolumns; i++) {
        const char *cell = t->place[i] < SIZE_MAX ? cells[t->place[i]] : NULL;
        double x;

        if (cell && t->words[i]) {
            t->words[i][t->n] = pl_arena_str(t->cells, cell);
            if (!t->words[i][t->n])
                return pl_nomem(&in->d) != PL_OK;
        } else if (cell && t->numbers[i]) {
            if (!cell_number(t, cell, &x)) {
                (void)pl_fail(&in->d, PL_EVALUE, place(in, line),
                              .found = pl_arena_printf(in->a, "\"%.40s\" in column \"%s\"", cell,
                                                       in->p.columns[i].name),
                              .expected = "a number");
                return 1;
            }
            t->numbers[i][t->n] = t->scale[i] * x + t->offset[i];
        }
    }
    if (++t->n < BATCH)
        return 0;
    return hand_over(t, 0);
}

/* The table's header may stand below a block of words, as testing machines write
 * them: it is looked for within so many bytes. */
#define BLOCK_MOST ((size_t)64 * 1024)

/* Does a line name this column, alone in a cell but for a unit behind it? */
static bool names_column(const platen_column *c, const char *line, size_t n)
{
    char cell[128];

    for (size_t from = 0, i = 0; i <= n; i++) {
        size_t length = i - from;

        if (i < n && line[i] != ',' && line[i] != ';')
            continue;
        while (length && strchr(" \t\"\r", line[from])) {
            from++;
            length--;
        }
        for (size_t k = 0; k < length; k++)
            if (line[from + k] == '[')
                length = k;
        while (length && strchr(" \t\"\r", line[from + length - 1]))
            length--;
        if (length && length < sizeof cell) {
            memcpy(cell, line + from, length);
            cell[length] = '\0';
            if (named(c, cell))
                return true;
        }
        from = i + 1;
    }
    return false;
}

static bool is_header(const pl_inside *in, const char *line, size_t n)
{
    for (size_t i = 0; i < in->p.ncolumns; i++)
        if (!(in->p.columns[i].flags & PLATEN_OPTIONAL) &&
            !names_column(&in->p.columns[i], line, n))
            return false;
    return true;
}

/* Offset of the first line that names every needed column, and its number; the start
 * of the file when there is none, so that what is missing is said there. */
static off_t find_table(pl_inside *in, int fd, size_t *line)
{
    char *head = pl_arena_get(in->a, BLOCK_MOST, 1);
    ssize_t got = head ? pread(fd, head, BLOCK_MOST, 0) : 0;
    size_t from = 0, number = 1;

    *line = 1;
    for (size_t i = 0; got > 0 && i < (size_t)got; i++) {
        if (head[i] != '\n')
            continue;
        if (is_header(in, head + from, i - from)) {
            *line = number;
            return (off_t)from;
        }
        from = i + 1;
        number++;
    }
    return 0;
}

/* ',' or ';', whichever the header line holds more often: as base/csv.h does. */
static char find_delimiter(int fd, off_t from)
{
    char head[4096];
    ssize_t n = pread(fd, head, sizeof head, from);
    size_t commas = 0, semicolons = 0;
    bool quoted = false, comment = n > 0 && head[0] == '#';

    for (ssize_t i = 0; i < n; i++) {
        if (head[i] == '\n') {
            if (commas + semicolons && !comment)
                break;
            comment = i + 1 < n && head[i + 1] == '#';
            commas = semicolons = 0;
        }
        if (head[i] == '"')
            quoted = !quoted;
        commas += !quoted && !comment && head[i] == ',';
        semicolons += !quoted && !comment && head[i] == ';';
    }
    return semicolons > commas ? ';' : ',';
}

static pl_code read_rows(pl_inside *in, void *state)
{
    static const pl_csv_stream_ops ops = { on_header, on_row };
    size_t n = in->p.ncolumns;
    table *t = PL_NEW(in->a, table);
    pl_code code;
    off_t from;

    if (!t)
        return pl_nomem(&in->d);
    t->in = in;
    t->state = state;
    t->place = PL_NEWN(in->a, n, size_t);
    t->scale = PL_NEWN(in->a, n, double);
    t->offset = PL_NEWN(in->a, n, double);
    t->numbers = PL_NEWN(in->a, n, double *);
    t->words = PL_NEWN(in->a, n, const char **);
    t->cells = pl_arena_new((size_t)64 << 20);
    if (!t->place || !t->scale || !t->offset || !t->numbers || !t->words || !t->cells)
        return pl_nomem(&in->d);
    t->empty = pl_arena_mark(t->cells);
    from = find_table(in, PL_FD_RECORD, &t->first_line);
    t->delimiter = find_delimiter(PL_FD_RECORD, from);
    if (from > 0 && lseek(PL_FD_RECORD, from, SEEK_SET) != from)
        return pl_fail(&in->d, PL_ENOFILE, in->record, .found = strerror(errno));
    code = pl_csv_stream(in->a, PL_FD_RECORD, in->record, t->first_line, &ops, t, &in->d);
    if (!code && !in->traces->stop && !pl_diags_count(&in->d, PL_REFUSED))
        (void)hand_over(t, 1);
    pl_arena_free(t->cells);
    return code;
}

static pl_code read_bytes(pl_inside *in, void *state)
{
    unsigned char *buffer = pl_arena_get(in->a, 65536, 1);
    ssize_t n;
    int rc = PLATEN_OK;

    if (!buffer)
        return pl_nomem(&in->d);
    do {
        n = read(PL_FD_RECORD, buffer, 65536);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return pl_fail(&in->d, PL_ENOFILE, in->record, .found = strerror(errno));
        rc = in->p.bytes(&in->host, in->rig->values, state, buffer, (size_t)n, n == 0);
        pl_inside_returned(in);
    } while (n != 0 && rc == PLATEN_OK && !in->traces->stop);
    if (rc != PLATEN_OK && rc != PLATEN_EDATA && rc != PLATEN_ESTOP)
        return pl_inside_blame(in, pl_arena_printf(in->a, "gave code %d from bytes", rc));
    if (rc == PLATEN_EDATA && !pl_diags_count(&in->d, PL_REFUSED))
        return pl_fail(&in->d, PL_EDATA, in->record,
                       .found = "the record is of no use to this rig");
    return PL_OK;
}

pl_code pl_inside_read(pl_inside *in)
{
    size_t before = in->d.count;
    pl_rig_inside *rig = PL_NEW(in->a, pl_rig_inside);
    void *state;
    pl_code code = rig ? pl_inside_rig(in, rig) : pl_nomem(&in->d);

    if (code)
        return code;
    in->record = pl_unpack_text(in->a, &in->work);
    if (in->work.bad || !in->record)
        return pl_inside_blame(in, "was sent broken work");
    if (!in->p.rows && !in->p.bytes)
        return pl_json_fail(&in->d, PL_EVALUE, pl_json_get(rig->at, "kind"), NULL,
                            "a kind of rig that reads records; this one reads none", NULL);
    in->traces = PL_NEW(in->a, pl_traces);
    state = in->p.state_size ? pl_arena_get(in->a, in->p.state_size, 1) : NULL;
    if (!in->traces || (in->p.state_size && !state))
        return pl_nomem(&in->d);
    in->rig = rig;
    in->host.reading = host_reading;
    in->host.trace = host_trace;
    pl_inside_stage(in, PL_STAGE_READ);
    code = in->p.rows ? read_rows(in, state) : read_bytes(in, state);
    for (size_t i = 0; !code && !in->traces->stop && i < in->traces->count; i++)
        end_trace(in, in->traces->items[i].specimen, in->traces->items[i].trace);
    code = pl_diags_code(&in->d, before);
    in->rig = NULL;
    return code;
}
