/* The battery for records: a rig's own recordings, the same in other clothes, and what a bad day
 * does to a file. A record may be refused; the plugin may not fail. Records made up are
 * try_made.c's, the long one try_long.c's. */
#include <math.h>
#include <string.h>

#include "base/file.h"
#include "rigs/try_inner.h"

#define SPECIMEN "TRY"
#define CUT_ROWS 100 /* rows of the record that is cut after each of them */
#define HUGE_CELL ((size_t)1 << 20)

const char pl_try_no_fail[] = "readings or a refusal",
           pl_try_look[] = "platen take with such a file shows it alone";

pl_code pl_try_read(pl_try_record *r, const pl_rig *rig, const char *path, pl_readings *out)
{
    pl_try *t = r->t;
    pl_diags quiet;
    pl_code rc;

    *out = (pl_readings){ 0 };
    r->broke = "";
    pl_diags_init(&quiet, t->a);
    rc = pl_rigs_read_cost(t->a, rig, path, SPECIMEN, out, &r->cost, &quiet);
    if (rc == PL_EPLUGIN)
        r->broke = pl_try_what(&quiet);
    return rc;
}

pl_code pl_try_read_bytes(pl_try_record *r, const char *bytes, size_t n, pl_readings *out)
{
    pl_code rc = bytes ? pl_file_write(r->t->file, bytes, n, true, r->t->d) : pl_nomem(r->t->d);

    return rc ? rc : pl_try_read(r, &r->t->rig, r->t->file, out);
}

bool pl_try_ends_all(pl_code rc)
{
    return rc == PL_ENOMEM || rc == PL_EWRITE;
}

static bool same(const pl_readings *x, const pl_readings *y, bool bits)
{
    if (x->count != y->count)
        return false;
    for (size_t i = 0; i < x->count; i++) {
        const pl_reading *p = &x->items[i], *q = &y->items[i];

        if (strcmp(p->quantity, q->quantity) || strcmp(p->id, q->id))
            return false;
        if (isnan(p->value) ? !isnan(q->value) || strcmp(p->text, q->text) != 0
            : bits          ? !pl_try_same_bits(p->value, q->value)
                            : !(fabs(p->value - q->value) <= 1e-9 * fabs(p->value)))
            return false;
    }
    return true;
}

pl_code pl_try_note_record(pl_try_record *r, const char *what, const char *expected,
                           const char *mend, const char *found)
{
    const char *name = pl_arena_printf(r->t->a, "%s %s", r->name, what);

    return pl_try_note(r->t, (pl_try_check){ name, expected, mend }, found);
}

/* ---- in other clothes ---- */

/* refuse: a plugin that takes the bytes itself need not know every way to write a table. */
static pl_code try_same(pl_try_record *r, const char *what, const char *bytes, size_t n, bool bits,
                        bool refuse)
{
    pl_readings got;
    pl_code one = pl_try_read_bytes(r, bytes, n, &got);

    if (pl_try_ends_all(one))
        return one;
    return pl_try_note_record(r, what,
                              refuse ? "the readings of the file as it is, or a refusal"
                                     : "the readings of the file as it is",
                              bits ? "keep nothing but what a call hands over"
                                   : "take from a batch no more than its rows hold",
                              r->broke[0]                   ? r->broke
                              : one                         ? refuse ? "" : pl_code_text(one)
                                                      : same(&r->plain, &got, bits) ? ""
                                                            : "other readings");
}

static pl_code try_dresses(pl_try_record *r)
{
    pl_code rc = PL_OK;

    for (size_t i = 0; i < pl_ndresses && !rc; i++) {
        pl_text text;

        if (pl_dresses[i].plain_only && !pl_lines_plain(&r->lines))
            continue;
        pl_text_init(&text, r->t->a);
        pl_dresses[i].put_on(&r->lines, &text);
        rc = try_same(r, pl_dresses[i].name, pl_text_done(&text), text.length, false,
                      !r->t->kind.ncolumn);
    }
    return rc;
}

/* ---- a bad day ---- */

static pl_code no_fault(pl_try_record *r, const char *what, const char *bytes, size_t n)
{
    pl_readings got;
    pl_code rc = pl_try_read_bytes(r, bytes, n, &got);

    if (pl_try_ends_all(rc))
        return rc;
    return pl_try_note_record(r, what, pl_try_no_fail, pl_try_look, r->broke);
}

static pl_code no_fault_text(pl_try_record *r, const char *what, pl_text *t)
{
    return no_fault(r, what, pl_text_done(t), t->length);
}

/* A thinner copy of the record, so that it can be cut after each of its rows. */
static pl_code try_cuts(pl_try_record *r)
{
    pl_try *t = r->t;
    pl_lines thin = pl_lines_thin(t->a, &r->lines, CUT_ROWS);
    const char *found = "";
    pl_text whole;

    pl_text_init(&whole, t->a);
    for (size_t i = 0; i < thin.n && !found[0]; i++) {
        pl_readings got;
        pl_code one;

        pl_text_add(&whole, "%s\n", thin.text[i]);
        one = pl_try_read_bytes(r, pl_text_done(&whole), whole.length, &got);
        if (pl_try_ends_all(one))
            return one;
        if (r->broke[0])
            found = pl_arena_printf(t->a, "cut after line %zu: %s", i + 1, r->broke);
    }
    return pl_try_note_record(r, "cut short after every row", pl_try_no_fail, pl_try_look, found);
}

/* In the middle of a number, a line end, a piece of the host's reading. */
static pl_code try_byte_cuts(pl_try_record *r)
{
    enum { CUTS = 24 };
    pl_try *t = r->t;
    const char *found = "";

    for (size_t i = 1; i < CUTS && !found[0]; i++) {
        size_t n = r->length * i / CUTS + i % 3;
        pl_readings got;
        pl_code one = pl_try_read_bytes(r, r->bytes, n < r->length ? n : r->length, &got);

        if (pl_try_ends_all(one))
            return one;
        if (r->broke[0])
            found = pl_arena_printf(t->a, "cut after byte %zu: %s", n, r->broke);
    }
    return pl_try_note_record(r, "cut within a row", pl_try_no_fail, pl_try_look, found);
}

/* Every cell of the row in the middle replaced. */
static void with_cells(const pl_try_record *r, const char *cell, pl_text *out)
{
    const pl_lines *l = &r->lines;
    size_t middle = l->first + (l->n - l->first) / 2;

    pl_text_init(out, r->t->a);
    for (size_t i = 0; i < l->n; i++) {
        const char *cells[PL_CELLS_MOST];
        size_t n = i == middle ? pl_line_cells(r->t->a, l->text[i], l->between, cells) : 0;

        for (size_t k = 0; k < n; k++) {
            if (k)
                pl_text_bytes(out, &l->between, 1);
            pl_text_put(out, cell);
        }
        pl_text_put(out, n ? "" : l->text[i]);
        pl_text_put(out, "\n");
    }
}

static void without_units(const pl_try_record *r, pl_text *out)
{
    const pl_lines *l = &r->lines;

    pl_text_init(out, r->t->a);
    for (size_t i = 0; i < l->n; i++) {
        int depth = 0;

        for (const char *c = l->text[i]; *c; c++) {
            depth += i < l->first && *c == '[';
            if (!depth)
                pl_text_bytes(out, c, 1);
            depth -= depth && *c == ']';
        }
        pl_text_put(out, "\n");
    }
}

static pl_code try_cells(pl_try_record *r)
{
    static const struct {
        const char *name, *cell;
    } bad[] = { { "with numbers beyond all sense", "1e30" },
                { "with negative numbers as large", "-1e30" },
                { "with numbers too small to count", "4e-324" },
                { "with an empty row", "" },
                { "with a word for a number", "over" } };
    char *wide;
    pl_text text;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < sizeof bad / sizeof *bad && !rc; i++) {
        with_cells(r, bad[i].cell, &text);
        rc = no_fault_text(r, bad[i].name, &text);
    }
    wide = PL_NEWN(r->t->a, HUGE_CELL + 1, char);
    if (rc || !wide)
        return rc ? rc : pl_nomem(r->t->d);
    memset(wide, '7', HUGE_CELL);
    with_cells(r, wide, &text);
    return no_fault_text(r, "with cells of a megabyte", &text);
}

/* Zero bytes among the rest, and for the last. */
static pl_code try_zeros(pl_try_record *r)
{
    char *bytes = PL_NEWN(r->t->a, r->length + 1, char);

    if (!bytes)
        return pl_nomem(r->t->d);
    memcpy(bytes, r->bytes, r->length);
    for (size_t i = 1; i <= 3 && r->length; i++)
        bytes[i * (r->length - 1) / 3] = '\0';
    return no_fault(r, "with zero bytes", bytes, r->length);
}

static pl_code try_noise(pl_try_record *r)
{
    enum { NOISE = 4096 };
    char noise[NOISE];
    unsigned x = 1;

    for (int i = 0; i < NOISE; i++) {
        x = x * 1664525u + 1013904223u; /* Numerical Recipes 3rd ed., 7.1.6: any will do */
        noise[i] = (char)(x >> 24);
    }
    return no_fault(r, "that is no text", noise, NOISE);
}

static pl_code try_bad_days(pl_try_record *r)
{
    pl_text text;
    pl_code rc = r->rows ? try_cuts(r) : PL_OK;

    if (!rc)
        rc = try_byte_cuts(r);
    if (!rc)
        rc = no_fault(r, "empty", "", 0);
    if (!rc)
        rc = try_zeros(r);
    if (!rc)
        rc = try_noise(r);
    if (!rc && r->rows)
        rc = try_cells(r);
    if (rc || !r->rows)
        return rc;
    without_units(r, &text);
    return no_fault_text(r, "without units", &text);
}

/* ---- of its own ---- */

static pl_code load_record(pl_try_record *r, const char *path)
{
    pl_try *t = r->t;
    pl_code rc = pl_file_read(t->a, path, &r->bytes, &r->length, t->d);

    if (!rc)
        rc = pl_lines_of(t->a, r->bytes, r->length, &r->lines, t->d);
    r->name = pl_file_base(path);
    r->rows = !rc && r->lines.first < r->lines.n;
    if (!rc && !r->rows)
        pl_remark(t->d, path, .found = "no rows of numbers that can be told apart",
                  .expected = "a table, to be cut after every row and made long");
    return rc;
}

static pl_code try_record(pl_try_record *r, const char *path, bool last)
{
    pl_try *t = r->t;
    pl_code rc = load_record(r, path), one;

    if (rc)
        return rc;
    one = pl_try_read(r, &t->rig, path, &r->plain);
    if (pl_try_ends_all(one))
        return one;
    rc = pl_try_note_record(r, "is read", "readings of its own recording",
                            "platen take says why it is refused",
                            r->broke[0]      ? r->broke
                            : one            ? pl_code_text(one)
                            : r->plain.count ? ""
                                             : "no reading");
    t->out->records++;
    if (rc || one || !r->length)
        return rc;
    rc = try_same(r, "has the same readings once more, bit for bit", r->bytes, r->length, true,
                  false);
    if (!rc && r->rows)
        rc = try_dresses(r);
    if (!rc)
        rc = try_bad_days(r);
    if (rc || !last || !r->rows)
        return rc;
    one = pl_try_read_bytes(r, r->bytes, r->length, &r->plain); /* for its cost */
    return pl_try_ends_all(one) ? one : pl_try_long(r);
}

pl_code pl_try_records(pl_try *t, const char *const *paths, size_t n)
{
    pl_try_record r = { .t = t, .broke = "" };
    pl_code rc;

    if (t->kind.ncolumn) {
        rc = pl_try_made_records(&r);
    } else {
        r.name = "a file";
        rc = no_fault(&r, "empty", "", 0);
        if (!rc)
            rc = try_noise(&r);
    }
    for (size_t i = 0; i < n && !rc; i++)
        rc = try_record(&r, paths[i], i + 1 == n);
    return rc;
}
