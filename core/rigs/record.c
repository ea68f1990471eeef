/* Reading a recorded file in the child: the host's own table reader finds the
 * wanted columns, converts, hands batches to the plugin, and takes readings and
 * traces back. */
#include <errno.h>
#include <math.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

#include "base/csv.h"
#include "base/text.h"
#include "rigs/record.h"

/* ---- services ---- */

static int host_reading(void *self, const platen_reading *r)
{
    pl_inside *in = self;

    if (in->traces->readings >= PL_RECORD_READINGS) {
        if (!in->traces->stop)
            (void)pl_inside_blame(in, pl_arena_printf(in->a,
                                                      "gave more than %d readings from "
                                                      "one file",
                                                      PL_RECORD_READINGS));
        in->traces->stop = true;
        return 1;
    }
    pl_record_send(in, r->specimen, r->quantity, r->unit, r->value, NULL, r->line);
    return 0;
}

/* What the block of words above the table says under a key. */
static const char *host_said(void *self, const char *key)
{
    pl_inside *in = self;

    return in->found && key ? pl_sniff_said(in->found, key) : NULL;
}

/* ---- rows ---- */

typedef struct table {
    pl_inside *in;
    void *state;
    size_t *place; /* wanted column -> column of the file; SIZE_MAX: absent */
    double *scale, *offset;
    const char **said;      /* wanted column of words that the block above the table states */
    const char ***constant; /* the same PL_CSV_BATCH times */
    const char ***words;    /* of one batch */
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

/* The header is the line that names every column this rig cannot do without. */
static bool knows(void *self, const char *const *names, size_t n)
{
    const table *t = self;
    const platen_plugin *p = &t->in->p;

    for (size_t i = 0; i < p->ncolumns; i++) {
        size_t k = 0;

        if (p->columns[i].flags & PLATEN_OPTIONAL)
            continue;
        while (k < n && !named(&p->columns[i], names[k]))
            k++;
        if (k == n)
            return false;
    }
    return true;
}

static const char *head_place(pl_inside *in, const pl_csv_head *head, size_t column)
{
    return column < head->n ? pl_arena_printf(in->a, "%s:%zu:%zu", in->record, head->found->line,
                                              head->columns[column])
                            : pl_arena_printf(in->a, "%s:%zu", in->record, head->found->line);
}

/* Which unit the file has for a wanted column; the header must say it. */
static void column_unit(table *t, size_t i, const pl_csv_head *head)
{
    pl_inside *in = t->in;
    const platen_column *c = &in->p.columns[i];
    const char *name = head->names[t->place[i]], *unit = head->units[t->place[i]], *why = NULL;
    pl_quantity_kind kind = pl_dial_si_kind(in->a, c->unit);
    pl_code code;

    t->scale[i] = 1;
    if (!unit[0] && kind == PL_Q_NONE)
        return;
    code = unit[0] ? pl_units_scale(in->a, unit, kind, &t->scale[i], &t->offset[i], &why)
                   : PL_EUNIT;
    if (code)
        (void)pl_fail(&in->d, code, head_place(in, head, t->place[i]),
                      .found = unit[0]
                                   ? pl_arena_printf(in->a, "column \"%s [%s]\"", name, unit)
                                   : pl_arena_printf(in->a, "column \"%s\" without a unit", name),
                      .expected = pl_quantity_name(kind),
                      .mend = pl_arena_printf(in->a,
                                              "write its unit in brackets, for example "
                                              "\"%s [%s]\"",
                                              c->name, pl_quantity_si(kind)));
}

/* A column of words that the table has not, but the block above it: "Specimen: K7M3". */
static void take_said(table *t, size_t i, const pl_sniffed *found)
{
    const platen_column *c = &t->in->p.columns[i];

    t->said[i] = pl_sniff_said(found, c->name);
    for (const char *const *also = c->also; also && *also && !t->said[i]; also++)
        t->said[i] = pl_sniff_said(found, *also);
    if (!t->said[i] || !t->said[i][0])
        return;
    t->constant[i] = PL_NEWN(t->in->a, PL_CSV_BATCH, const char *);
    if (!t->constant[i]) {
        (void)pl_nomem(&t->in->d);
        return;
    }
    for (size_t k = 0; k < PL_CSV_BATCH; k++)
        t->constant[i][k] = t->said[i];
}

static void say_what_it_is(pl_inside *in, const pl_csv_head *head)
{
    const char *text = pl_sniff_text(in->a, head->found);

    if (!text)
        (void)pl_nomem(&in->d);
    else if (text[0])
        pl_remark(&in->d, in->record, .found = text);
}

static int on_header(void *self, const pl_csv_head *head, pl_csv_use *use)
{
    table *t = self;
    pl_inside *in = t->in;
    size_t refused = pl_diags_count(&in->d, PL_REFUSED);

    in->found = head->found;
    if (pl_sniff_said(head->found, "specimens"))
        pl_record_names(in, pl_sniff_said(head->found, "specimens"));
    for (size_t i = 0; i < in->p.ncolumns; i++) {
        const platen_column *c = &in->p.columns[i];

        t->place[i] = SIZE_MAX;
        for (size_t k = 0; k < head->n && t->place[i] == SIZE_MAX; k++)
            if (named(c, head->names[k]) && use[k].as == PL_CSV_SKIP)
                t->place[i] = k;
        if (t->place[i] < SIZE_MAX) {
            use[t->place[i]] = (pl_csv_use){ c->flags & PLATEN_WORDS ? PL_CSV_WORDS : PL_CSV_NUMBER,
                                             i };
            if (!(c->flags & PLATEN_WORDS))
                column_unit(t, i, head);
        } else if (c->flags & PLATEN_WORDS && c->flags & PLATEN_OPTIONAL) {
            take_said(t, i, head->found);
        } else if (!(c->flags & PLATEN_OPTIONAL)) {
            (void)pl_fail(
                &in->d, PL_EKEY, head_place(in, head, SIZE_MAX),
                .found = pl_arena_printf(in->a, "no column \"%s\"", c->name),
                .expected = pl_arena_printf(in->a, "%s of %s", c->name,
                                            pl_text_list(in->a, head->names, head->n, "and")));
        }
    }
    say_what_it_is(in, head);
    return pl_diags_count(&in->d, PL_REFUSED) > refused || in->d.out_of_memory;
}

static void to_si(double *x, size_t n, double scale, double offset)
{
    if (scale == 1 && offset == 0)
        return;
    for (size_t i = 0; i < n; i++)
        x[i] = scale * x[i] + offset;
}

/* Larger than any quantity that a bench knows; small enough that neither a unit nor a
 * calibration takes it to where a double ends, which would look like the plugin's doing. */
#define NUMBER_MOST 1e30

/* A number no record can hold is said, with its line; true when there is none. */
static bool can_be(table *t, const pl_csv_batch *b, size_t column)
{
    pl_inside *in = t->in;
    const double *x = b->numbers[column];
    size_t beyond = 0, i = 0;

    for (size_t k = 0; k < b->n; k++)
        beyond += !(fabs(x[k]) <= NUMBER_MOST);
    if (!beyond)
        return true;
    while (fabs(x[i]) <= NUMBER_MOST)
        i++;
    (void)pl_fail(&in->d, PL_EVALUE, pl_record_place(in, b->lines[i]),
                  .found = pl_arena_printf(in->a, "a number beyond 1e30 in column \"%s\"",
                                           in->p.columns[column].name),
                  .expected = "what a rig can have recorded");
    return false;
}

static int on_batch(void *self, const pl_csv_batch *b)
{
    table *t = self;
    pl_inside *in = t->in;
    bool fine = true;
    platen_rows rows = { .n = b->n,
                         .numbers = (const double *const *)b->numbers,
                         .words = (const char *const *const *)t->words,
                         .lines = b->lines,
                         .last = b->last };
    int rc;

    for (size_t i = 0; i < in->p.ncolumns; i++) {
        t->words[i] = b->words[i] ? b->words[i] : t->constant[i];
        if (b->numbers[i]) {
            to_si(b->numbers[i], b->n, t->scale[i], t->offset[i]);
            fine = can_be(t, b, i) && fine;
        }
    }
    if (!fine) {
        in->traces->stop = true;
        return 1;
    }
    rc = in->p.rows(&in->host, in->rig->values, t->state, &rows);
    pl_inside_returned(in);
    if (rc == PLATEN_OK && !in->traces->stop)
        return 0;
    if (rc != PLATEN_OK && rc != PLATEN_EDATA && rc != PLATEN_ESTOP)
        (void)pl_inside_blame(in, pl_arena_printf(in->a, "gave code %d from rows", rc));
    else if (rc == PLATEN_EDATA && !pl_diags_count(&in->d, PL_REFUSED))
        (void)pl_fail(&in->d, PL_EDATA, in->record, .found = "the record is of no use to this rig");
    in->traces->stop = true;
    return 1;
}

static pl_code read_rows(pl_inside *in, void *state)
{
    static const pl_csv_ops ops = { knows, on_header, on_batch };
    size_t n = in->p.ncolumns;
    table *t = PL_NEW(in->a, table);

    if (!t)
        return pl_nomem(&in->d);
    t->in = in;
    t->state = state;
    t->place = PL_NEWN(in->a, n, size_t);
    t->scale = PL_NEWN(in->a, n, double);
    t->offset = PL_NEWN(in->a, n, double);
    t->said = PL_NEWN(in->a, n, const char *);
    t->constant = PL_NEWN(in->a, n, const char **);
    t->words = PL_NEWN(in->a, n, const char **);
    if (!t->place || !t->scale || !t->offset || !t->said || !t->constant || !t->words)
        return pl_nomem(&in->d);
    return pl_csv_columns(in->a, PL_FD_RECORD, in->record, (pl_csv_how){ .nslot = n }, &ops, t,
                          &in->d);
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
    const char *names;
    void *state;
    pl_code code = rig ? pl_inside_rig(in, rig) : pl_nomem(&in->d);

    if (code)
        return code;
    in->record = pl_unpack_text(in->a, &in->work);
    names = pl_unpack_text(in->a, &in->work);
    if (in->work.bad || !in->record)
        return pl_inside_blame(in, "was sent broken work");
    if (!in->p.rows && !in->p.bytes)
        return pl_json_fail(&in->d, PL_EVALUE, pl_json_get(rig->at, "kind"), NULL,
                            "a kind of rig that reads records; this one reads none", NULL);
    in->traces = PL_NEW(in->a, pl_traces);
    state = in->p.state_size ? pl_arena_get(in->a, in->p.state_size, 1) : NULL;
    if (!in->traces || (in->p.state_size && !state))
        return pl_nomem(&in->d);
    pl_record_names(in, names);
    in->rig = rig;
    in->host.reading = host_reading;
    in->host.trace = pl_record_trace;
    in->host.said = host_said;
    pl_inside_stage(in, PL_STAGE_READ);
    code = in->p.rows ? read_rows(in, state) : read_bytes(in, state);
    if (!code && !in->traces->stop)
        pl_record_end(in);
    code = pl_diags_code(&in->d, before);
    in->rig = NULL;
    return code;
}
