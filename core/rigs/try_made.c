/* Records made up of the columns that a kind declares, so that a plugin without a recording of
 * its own is tried too, and every setting of one that reads. */
#include <string.h>

#include "base/file.h"
#include "rigs/try_inner.h"

#define MADE_ROWS 80

/* Shapes: a pull that breaks, nothing at all, ever the same, downwards. */
enum { PULL, NOTHING, CONSTANT, DOWNWARDS, NSHAPES };

static double made_value(int shape, int row)
{
    double up = row < 10 ? 0 : row < 70 ? 15.0 * (row - 10) : 20;

    return shape == PULL ? up : shape == NOTHING ? 0 : shape == CONSTANT ? 500 : -up;
}

static bool may_be_absent(const char *column)
{
    return strchr(column, '(') != NULL;
}

static void put_made_cell(pl_arena *a, const char *column, int shape, int row, pl_text *out)
{
    size_t n = strcspn(column, "(");

    while (n && column[n - 1] == ' ')
        n--;
    if (row < 0)
        pl_text_bytes(out, column, n);
    else if (!strchr(column, '['))
        pl_text_put(out, "A1");
    else if (strstr(column, "[s]"))
        pl_text_put(out, pl_text_number(a, 0.05 * row, 9));
    else
        pl_text_put(out, pl_text_number(a, made_value(shape, row), 9));
}

/* The columns it cannot do without, and one of the others; `with` ncolumn: all of them. */
static void made_record(pl_try_record *r, size_t with, int shape, pl_text *out)
{
    const pl_rig_kind *k = &r->t->kind;

    pl_text_init(out, r->t->a);
    for (int row = -1; row < MADE_ROWS; row++) {
        const char *comma = "";

        for (size_t c = 0; c < k->ncolumn; c++) {
            if (may_be_absent(k->columns[c]) && c != with && with != k->ncolumn)
                continue;
            pl_text_put(out, comma);
            comma = ",";
            put_made_cell(r->t->a, k->columns[c], shape, row, out);
        }
        pl_text_put(out, "\n");
    }
}

pl_code pl_try_made_records(pl_try_record *r)
{
    static const pl_try_check check = {
        "records made up of its columns: a pull, no load, one load, downwards", pl_try_no_fail,
        pl_try_look
    };
    static const char *const shapes[NSHAPES] = { "a pull", "no load", "one load", "downwards" };
    const pl_rig_kind *k = &r->t->kind;
    const char *found = "";

    for (size_t with = 0; with <= k->ncolumn && !found[0]; with++)
        for (int shape = 0; shape < NSHAPES && !found[0]; shape++) {
            pl_readings got;
            pl_text text;
            pl_code one;

            if (with < k->ncolumn && !may_be_absent(k->columns[with]))
                continue;
            made_record(r, with, shape, &text);
            one = pl_try_read_bytes(r, pl_text_done(&text), text.length, &got);
            if (pl_try_ends_all(one))
                return one;
            if (r->broke[0])
                found = pl_arena_printf(r->t->a, "%s: %s", shapes[shape], r->broke);
        }
    return pl_try_note(r->t, check, found);
}

pl_code pl_try_made_pull(pl_try_record *r, const pl_rig *rig, const char **found)
{
    pl_readings got;
    pl_text text;
    pl_code rc;

    made_record(r, r->t->kind.ncolumn, PULL, &text);
    *found = "";
    if (!pl_text_done(&text))
        return pl_nomem(r->t->d);
    rc = pl_file_write(r->t->file, text.bytes, text.length, true, r->t->d);
    if (!rc)
        rc = pl_try_read(r, rig, r->t->file, &got);
    *found = r->broke;
    return pl_try_ends_all(rc) ? rc : PL_OK;
}
