/* Reading filled-in forms: which form it is, whose row, which column. What one
 * cell holds is the business of cells.c, what is doubtful that of doubts.c. */
#include "bench/reader.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "design/ids.h"

/* ----------------------------------------------------------------- the form ---- */

static const char *const keys[PL_NFORMS] = { "board", "session", "glue_up", "specimen" };

bool pl_form_of(const pl_study *s, const pl_csv *t, pl_form *out)
{
    static const pl_form order[] = { PL_FORM_BREAKS, PL_FORM_GLUE_UPS, PL_FORM_SESSIONS,
                                     PL_FORM_BOARDS };
    pl_form_column columns[PL_FORM_COLUMNS_MOST];

    for (size_t i = 0; i < PL_NFORMS; i++) {
        size_t n, known = 0;

        if (pl_csv_column(t, keys[order[i]]) == t->ncol)
            continue;
        n = pl_form_columns(s, order[i], NULL, NULL, columns);
        for (size_t c = 0; c < n; c++)
            known += pl_csv_column(t, columns[c].name) < t->ncol;
        if (2 * known < t->ncol) /* more strange columns than known ones */
            return false;
        *out = order[i];
        return true;
    }
    return false;
}

static pl_code no_form(pl_reader *r)
{
    const char *where = pl_csv_where(r->a, r->csv, &r->csv->header[0]);

    if (!where)
        return pl_nomem(r->d);
    return pl_fail(
        r->d, PL_ESYNTAX, where,
        .found = pl_arena_printf(r->a, "a header that begins with \"%.60s\"", r->csv->names[0]),
        .expected = "the header of a form: board, session, glue_up or specimen first",
        .mend = "a log of a machine is taken with --rig NAME");
}

static void unknown_columns(pl_reader *r)
{
    const char *names[PL_FORM_COLUMNS_MOST];

    for (size_t c = 0; c < r->ncolumn; c++)
        names[c] = r->columns[c].name;
    for (size_t i = 0; i < r->csv->ncol; i++) {
        const char *near;
        bool known = false;

        for (size_t c = 0; c < r->ncolumn; c++)
            known = known || r->in[c].at == i;
        if (known)
            continue;
        near = pl_text_nearest(r->csv->names[i], names, r->ncolumn);
        pl_cell_fail(r, PL_EKEY, &r->csv->header[i],
                     pl_arena_printf(r->a, "a column of the form \"%s\"", pl_form_name(r->form)),
                     near ? pl_arena_printf(r->a, "did you mean \"%s\"?", near)
                          : pl_arena_printf(r->a, "known: %s",
                                            pl_text_list(r->a, names, r->ncolumn, "and")));
    }
}

static bool fits_kind(const pl_form_column *c, pl_quantity_kind kind)
{
    if (c->cell == PL_CELL_PEAK)
        return kind == PL_Q_FORCE || kind == PL_Q_PRESSURE;
    if (c->cell == PL_CELL_DIAL)
        return kind == PL_Q_PRESSURE || kind == PL_Q_FORCE || kind == PL_Q_TORQUE;
    return kind == c->kind;
}

static const char *kind_words(pl_reader *r, const pl_form_column *c)
{
    if (c->cell == PL_CELL_PEAK)
        return "a unit of force, or of the breaking rig's dial";
    if (c->cell == PL_CELL_DIAL)
        return "the unit of the rig's dial";
    return pl_arena_printf(r->a, "a unit of %s: %s", strchr(pl_quantity_name(c->kind), ' ') + 1,
                           pl_quantity_examples(c->kind));
}

static void settle_unit(pl_reader *r, size_t column)
{
    const pl_form_column *c = &r->columns[column];
    pl_column_in *in = &r->in[column];
    const pl_csv_cell *header = &r->csv->header[in->at];
    const char *why = "";
    bool number = c->cell == PL_CELL_NUMBER || c->cell == PL_CELL_SIZE || c->cell == PL_CELL_DIAL ||
                  c->cell == PL_CELL_PEAK;

    in->unit = r->csv->units[in->at];
    in->usable = true;
    if (c->cell == PL_CELL_PERCENT && in->unit[0] && strcmp(in->unit, "%")) {
        in->usable = false;
        pl_cell_fail(r, PL_EUNIT, header, "%", "");
    }
    if (!number)
        return;
    if (c->kind == PL_Q_NONE && c->cell == PL_CELL_NUMBER) { /* a count */
        in->kind = PL_Q_NONE;
        in->scale = 1;
        in->usable = !in->unit[0];
        if (!in->usable)
            pl_cell_fail(r, PL_EUNIT, header, "no unit: it is a count", "");
        return;
    }
    in->kind = pl_units_kind(r->a, in->unit);
    in->usable = in->unit[0] && fits_kind(c, in->kind);
    if (in->usable) {
        pl_code code = pl_units_scale(r->a, in->unit, in->kind, &in->scale, &in->offset, &why);

        r->nomem = r->nomem || code == PL_ENOMEM;
        in->usable = !code;
    }
    if (in->usable && c->cell == PL_CELL_PEAK && in->kind == PL_Q_PRESSURE &&
        r->s->breaking.rig < 0 && pl_csv_column(r->csv, "rig") == r->csv->ncol) {
        in->usable = false;
        pl_cell_fail(r, PL_EUNIT, header, "a unit of force: the study names no breaking rig",
                     "a dial's reading needs its rig: name it under breaking, or in a rig column");
        return;
    }
    if (!in->usable)
        pl_cell_fail(r, PL_EUNIT, header, kind_words(r, c),
                     pl_arena_printf(r->a, "write it in brackets: %s [%s]", c->name, c->unit));
}

static void settle_columns(pl_reader *r)
{
    r->ncolumn = pl_form_columns(r->s, r->form, NULL, NULL, r->columns);
    for (size_t c = 0; c < r->ncolumn; c++) {
        r->in[c] = (pl_column_in){ .at = pl_csv_column(r->csv, r->columns[c].name), .unit = "" };
        if (r->in[c].at < r->csv->ncol)
            settle_unit(r, c);
    }
    unknown_columns(r);
}

/* -------------------------------------------------------------- whose row it is ---- */

/* One sign wrong, or two exchanged: what the check sign is there to show. */
static bool one_slip(const char *typed, const char *id)
{
    size_t n = strlen(id), wrong[3], count = 0;

    if (strlen(typed) != n)
        return false;
    for (size_t i = 0; i < n && count < 3; i++)
        if (strncasecmp(typed + i, id + i, 1))
            wrong[count++] = i;
    if (count == 1)
        return true;
    return count == 2 && !strncasecmp(typed + wrong[0], id + wrong[1], 1) &&
           !strncasecmp(typed + wrong[1], id + wrong[0], 1);
}

static void no_specimen(pl_reader *r, const pl_csv_cell *cell)
{
    const char *near[4];
    size_t n = 0;
    const char *mend = "look at the label again";

    for (size_t i = 0; i < r->p->nspecimen && n < 4; i++)
        if (one_slip(cell->text, r->p->specimens[i].id))
            near[n++] = r->p->specimens[i].id;
    if (pl_id_valid(cell->text))
        mend = "it is an id, but not one of this plan: is it another study's joint?";
    else if (n)
        mend = pl_arena_printf(r->a, "its check sign is wrong; did you mean %s?",
                               pl_text_list(r->a, near, n, "or"));
    pl_cell_fail(r, PL_EKEY, cell, "a specimen of this plan", mend);
}

static bool find_specimen(pl_reader *r, pl_row *row, const pl_csv_cell *cell)
{
    row->subject = PL_ON_SPECIMEN;
    row->specimen = pl_plan_find(r->p, cell->text);
    if (!row->specimen) {
        no_specimen(r, cell);
        return false;
    }
    row->id = row->specimen->id;
    row->glue_up = &r->p->glue_ups[row->specimen->glue_up];
    row->rig = r->s->breaking.rig;
    return true;
}

static const char *nearest_label(pl_reader *r, const char *typed, const char *const *labels,
                                 size_t n)
{
    const char *near = pl_text_nearest(typed, labels, n);

    if (near)
        return pl_arena_printf(r->a, "did you mean \"%s\"?", near);
    return n ? pl_arena_printf(r->a, "the plan has %s to %s", labels[0], labels[n - 1]) : "";
}

static bool find_glue_up(pl_reader *r, pl_row *row, const pl_csv_cell *cell)
{
    row->subject = PL_ON_GLUE_UP;
    row->glue_up = pl_plan_find_glue_up(r->p, cell->text);
    if (!row->glue_up) {
        const char **labels = PL_NEWN(r->a, r->p->nglue_up, const char *);

        for (size_t i = 0; labels && i < r->p->nglue_up; i++)
            labels[i] = r->p->glue_ups[i].label;
        if (labels)
            pl_cell_fail(r, PL_EKEY, cell, "a glue-up of this plan",
                         nearest_label(r, cell->text, labels, r->p->nglue_up));
        else
            r->nomem = true;
        return false;
    }
    row->id = row->glue_up->label;
    row->session = row->glue_up->session;
    row->rig = row->glue_up->rig;
    return true;
}

static bool find_board(pl_reader *r, pl_row *row, const pl_csv_cell *cell)
{
    const char **labels = PL_NEWN(r->a, r->p->nboard, const char *);

    row->subject = PL_ON_BOARD;
    for (size_t i = 0; labels && i < r->p->nboard; i++) {
        labels[i] = r->p->boards[i].label;
        if (!strcasecmp(labels[i], cell->text))
            row->id = labels[i];
    }
    if (labels && !row->id)
        pl_cell_fail(r, PL_EKEY, cell, "a board of this plan",
                     nearest_label(r, cell->text, labels, r->p->nboard));
    r->nomem = r->nomem || !labels;
    return row->id != NULL;
}

static bool whole_session(pl_reader *r, const pl_csv_cell *cell, unsigned *session)
{
    long long x;

    if (!pl_text_to_whole(cell->text, 1, r->p->nsession, &x)) {
        pl_cell_fail(r, PL_EKEY, cell,
                     r->p->nsession > 1
                         ? pl_arena_printf(r->a, "a session of this plan: 1 to %u", r->p->nsession)
                         : "session 1: the plan has no other",
                     "");
        return false;
    }
    *session = (unsigned)x;
    return true;
}

/* The one rig of a session; -1 when it has several or none. */
static int only_rig(const pl_plan *p, unsigned session)
{
    int rig = -1;

    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        if (g->spare || g->session != session || g->rig < 0)
            continue;
        if (rig >= 0 && g->rig != rig)
            return -1;
        rig = g->rig;
    }
    return rig;
}

static bool find_session(pl_reader *r, pl_row *row, const pl_csv_cell *cell)
{
    row->subject = PL_ON_SESSION;
    if (!whole_session(r, cell, &row->session))
        return false;
    row->id = pl_arena_printf(r->a, "%u", row->session);
    row->rig = only_rig(r->p, row->session);
    r->nomem = r->nomem || !row->id;
    return row->id != NULL;
}

static const pl_csv_cell *cell_of(pl_reader *r, const pl_row *row, const char *name)
{
    size_t at = pl_csv_column(r->csv, name);

    return at < r->csv->ncol ? pl_csv_at(r->csv, row->row, at) : NULL;
}

/* The row's rig, where it names one: of the study, in any case of letters. */
static bool find_rig(pl_reader *r, pl_row *row)
{
    const pl_csv_cell *cell = cell_of(r, row, "rig");
    const char **names, *near;

    if (!cell || !cell->text[0])
        return true;
    names = PL_NEWN(r->a, r->s->nrig, const char *);
    if (!names) {
        r->nomem = true;
        return false;
    }
    for (size_t i = 0; i < r->s->nrig; i++) {
        names[i] = r->s->rigs[i].name;
        if (!strcasecmp(names[i], cell->text)) {
            row->rig = (int)i;
            return true;
        }
    }
    near = pl_text_nearest(cell->text, names, r->s->nrig);
    pl_cell_fail(r, PL_EKEY, cell,
                 r->s->nrig ? pl_arena_printf(r->a, "a rig of the study: %s",
                                              pl_text_list(r->a, names, r->s->nrig, "or"))
                            : "no rig: the study names none",
                 near ? pl_arena_printf(r->a, "did you mean \"%s\"?", near) : "");
    return false;
}

/* A glue-up may have been made in another session than planned. */
static bool find_made_in(pl_reader *r, pl_row *row)
{
    const pl_csv_cell *cell = cell_of(r, row, "session");

    return !cell || !cell->text[0] || whole_session(r, cell, &row->session);
}

static bool first_time(pl_reader *r, const pl_row *row, const pl_csv_cell *cell)
{
    const char *key = r->form == PL_FORM_SESSIONS && row->rig_id ? row->rig_id : row->id;

    for (size_t i = 0; i < r->csv->nrow; i++)
        if (r->seen[i] && !strcmp(r->seen[i], key)) {
            size_t at = pl_csv_column(r->csv, keys[r->form]);

            pl_cell_fail(r, PL_ECONFLICT, cell,
                         pl_arena_printf(r->a, "one row for it: there is one in line %zu",
                                         pl_csv_at(r->csv, i, at)->line),
                         "leave one of the two rows");
            return false;
        }
    r->seen[row->row] = key;
    return true;
}

static bool find_row(pl_reader *r, pl_row *row, const pl_csv_cell *cell)
{
    bool found = false;

    if (!cell->text[0]) {
        pl_cell_fail(r, PL_EKEY, cell, pl_arena_printf(r->a, "a %s in every row", keys[r->form]),
                     "");
        return false;
    }
    switch (r->form) {
    case PL_FORM_BREAKS:
        found = find_specimen(r, row, cell);
        break;
    case PL_FORM_GLUE_UPS:
        found = find_glue_up(r, row, cell);
        break;
    case PL_FORM_SESSIONS:
        found = find_session(r, row, cell);
        break;
    default:
        found = find_board(r, row, cell);
        break;
    }
    if (!found || !find_rig(r, row) || (r->form == PL_FORM_GLUE_UPS && !find_made_in(r, row)))
        return false;
    if (r->form == PL_FORM_SESSIONS && row->rig >= 0) {
        row->rig_id = pl_session_rig_id(r->a, row->session, r->s->rigs[row->rig].name);
        r->nomem = r->nomem || !row->rig_id;
    }
    return !r->nomem && first_time(r, row, cell);
}

/* -------------------------------------------------------------------- the file ---- */

/* Broken before it was opened cannot be. */
static void recall_opening(pl_reader *r, pl_row *row)
{
    const pl_reading *opened = pl_readings_find(r->all, PL_ON_GLUE_UP, row->glue_up->label,
                                                "opened_at");

    if (opened) {
        row->event_s = opened->value;
        row->event = pl_arena_printf(r->a, "%s was opened at %s", row->glue_up->label,
                                     opened->text);
    }
}

static const char *printed_text(pl_reader *r, const pl_row *row, pl_cell_kind cell)
{
    const pl_glue_up *g = row->glue_up;

    if (cell == PL_CELL_SESSION)
        return pl_arena_printf(r->a, "%u", g->session);
    if (cell == PL_CELL_RIG)
        return r->form != PL_FORM_GLUE_UPS || g->rig < 0 ? "" : r->s->rigs[g->rig].name;
    for (size_t i = 0; cell == PL_CELL_SPECIES && i < r->p->nboard; i++)
        if (!strcmp(r->p->boards[i].label, row->id))
            return r->p->boards[i].species;
    return "";
}

/* A form is taken while some of its rows are still to be filled in. What was
 * printed in them is not a reading: it may yet turn out otherwise. */
static bool as_printed(pl_reader *r, const pl_row *row)
{
    for (size_t c = 0; c < r->ncolumn; c++) {
        const pl_csv_cell *cell = r->in[c].at < r->csv->ncol
                                      ? pl_csv_at(r->csv, row->row, r->in[c].at)
                                      : NULL;
        const char *printed;

        if (!cell || !cell->text[0] || r->columns[c].cell == PL_CELL_KEY)
            continue;
        printed = printed_text(r, row, r->columns[c].cell);
        r->nomem = r->nomem || !printed;
        if (!printed || strcmp(cell->text, printed))
            return false;
    }
    return true;
}

static void read_rows(pl_reader *r)
{
    size_t at = pl_csv_column(r->csv, keys[r->form]);

    for (size_t i = 0; i < r->csv->nrow && !r->nomem; i++) {
        pl_row row = { .row = i, .rig = -1, .event_s = NAN, .event = "" };

        if (!find_row(r, &row, pl_csv_at(r->csv, i, at)))
            continue;
        if (as_printed(r, &row))
            continue;
        if (r->form == PL_FORM_BREAKS)
            recall_opening(r, &row);
        for (size_t c = 0; c < r->ncolumn && !r->nomem; c++)
            pl_cell_read(r, &row, c);
    }
}

static void read_file(pl_arena *a, const pl_study *s, const pl_plan *p, pl_form_file *file,
                      pl_readings *all, pl_diags *d)
{
    pl_reader *r = PL_NEW(a, pl_reader);

    if (!r) {
        pl_nomem(d);
        return;
    }
    *r = (pl_reader){ .a = a,
                      .s = s,
                      .p = p,
                      .d = d,
                      .csv = file->csv,
                      .form = file->form,
                      .out = &file->readings,
                      .all = all,
                      .seen = PL_NEWN(a, file->csv->nrow, const char *) };
    if (!r->seen) {
        pl_nomem(d);
        return;
    }
    settle_columns(r);
    if (!r->nomem)
        read_rows(r);
    if (!r->nomem)
        pl_form_doubts(r);
    if (r->nomem)
        pl_nomem(d);
}

pl_code pl_forms_read(pl_arena *a, const pl_study *s, const pl_plan *p, pl_form_file *files,
                      size_t count, const pl_readings *known, pl_diags *d)
{
    size_t from = d->count;
    pl_readings all = { 0 };

    for (size_t i = 0; known && i < known->count; i++)
        if (pl_readings_add(a, &all, known->items[i], d))
            return PL_ENOMEM;
    for (size_t i = 0; i < count; i++) {
        files[i].readings = (pl_readings){ 0 };
        files[i].form = PL_NFORMS;
        if (!pl_form_of(s, files[i].csv, &files[i].form)) {
            pl_reader r = { .a = a, .d = d, .csv = files[i].csv };

            no_form(&r);
        }
    }
    /* In the forms' own order, so that a session's date is there for its glue-ups. */
    for (int form = 0; form < PL_NFORMS; form++)
        for (size_t i = 0; i < count; i++)
            if (files[i].form == (pl_form)form)
                read_file(a, s, p, &files[i], &all, d);
    return pl_diags_code(d, from);
}
