/* platen book export --study: one study that somebody else can read or repeat: its
 * file and plan, its rigs, and its readings as tables that describe themselves.
 * Tables: RFC 4180; their description: Metadata Vocabulary for Tabular Data, W3C
 * Recommendation of 17 December 2015. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "base/file.h"
#include "cli/book.h"
#include "cli/data.h"

typedef struct column {
    const char *name, *title, *datatype, *words;
} column;

typedef struct study_export {
    pl_run *run;
    pl_arena *a;
    const char *part;
    bool with_names;
    pl_loaded l;
    pl_readings readings;
    pl_jval *tables; /* of the description */
} study_export;

static pl_code write_file(study_export *x, const char *name, const char *bytes, size_t n)
{
    const char *path = pl_file_join(x->a, x->part, name);

    return path ? pl_file_write(path, bytes, n, false, &x->run->diags) : pl_nomem(&x->run->diags);
}

static pl_code write_text(study_export *x, const char *name, pl_text *t)
{
    const char *text = pl_text_done(t);

    return text ? write_file(x, name, text, strlen(text)) : pl_nomem(&x->run->diags);
}

/* -------------------------------------------------------------- tables ----- */

/* A table's header, and what the description says of it. key: its primary key. */
static void describe(study_export *x, pl_text *t, const char *file, const char *key,
                     const column *columns, size_t n)
{
    pl_jval *table = pl_jadd_object(x->tables, NULL), *schema, *list;

    pl_jadd_text(table, "url", file);
    schema = pl_jadd_object(table, "tableSchema");
    list = pl_jadd_array(schema, "columns");
    for (size_t i = 0; i < n; i++) {
        pl_jval *c = pl_jadd_object(list, NULL);

        pl_jadd_text(c, "name", columns[i].name);
        pl_jadd_text(c, "titles", columns[i].title);
        pl_jadd_text(c, "datatype", columns[i].datatype);
        if (columns[i].words[0])
            pl_jadd_text(c, "dc:description", columns[i].words);
        if (i)
            pl_text_put(t, ",");
        pl_csv_put(t, columns[i].title);
    }
    if (key)
        pl_jadd_text(schema, "primaryKey", key);
    pl_text_put(t, "\n");
}

static void put_row(pl_text *t, const char *const *cells, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (i)
            pl_text_put(t, ",");
        pl_csv_put(t, cells[i]);
    }
    pl_text_put(t, "\n");
}

/* Letters, digits and underscores: a name that needs no escapes. */
static const char *plain_name(pl_arena *a, const char *title)
{
    char *name = pl_arena_str(a, title);

    for (char *c = name; c && *c; c++)
        if (!((*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z') || (*c >= '0' && *c <= '9')))
            *c = '_';
    return name;
}

/* The joints as the fit sees them; none broken yet: no table. */
static pl_code write_joints(study_export *x)
{
    pl_joined joined;
    size_t before = x->run->diags.count;
    column *columns;
    const char **cells;
    pl_text t;
    pl_code rc = pl_join(x->run, &x->l, &x->readings, &joined);

    if (rc == PL_EDATA) {
        for (size_t i = before; i < x->run->diags.count; i++)
            x->run->diags.items[i].severity = PL_NOTE;
        return PL_OK;
    }
    if (rc)
        return rc;
    columns = PL_NEWN(x->a, joined.table->ncol + 1, column);
    cells = PL_NEWN(x->a, joined.table->ncol + 1, const char *);
    if (!columns || !cells)
        return pl_nomem(&x->run->diags);
    columns[0] = (column){ "specimen", "specimen", "string", "what was broken, by its label" };
    for (size_t i = 0; i < joined.table->ncol; i++) {
        const pl_column *c = &joined.table->columns[i];

        columns[i + 1] = (column){
            plain_name(x->a, c->name),
            c->unit[0] ? pl_arena_printf(x->a, "%s [%s]", c->name, c->unit) : c->name,
            c->number ? "number" : "string",
            i == 0 ? "greatest force over the joint's own area" : "",
        };
    }
    pl_text_init(&t, x->a);
    describe(x, &t, "joints.csv", "specimen", columns, joined.table->ncol + 1);
    for (size_t row = 0; row < joined.table->nrow; row++) {
        cells[0] = joined.table->row_names[row];
        for (size_t i = 0; i < joined.table->ncol; i++) {
            const pl_column *c = &joined.table->columns[i];

            cells[i + 1] = c->number && !isnan(c->number[row])
                               ? pl_text_number(x->a, c->number[row], 17)
                               : c->text[row];
        }
        put_row(&t, cells, joined.table->ncol + 1);
    }
    return write_text(x, "joints.csv", &t);
}

static pl_code write_readings(study_export *x)
{
    static const column columns[] = {
        { "subject", "subject", "string", "specimen, glue-up, session or board" },
        { "id", "id", "string", "its label" },
        { "quantity", "quantity", "string", "what was read or judged" },
        { "text", "text", "string", "as it was written" },
        { "unit", "unit", "string", "of the text" },
        { "value", "value", "number", "in SI; a share of 1; seconds since 1970 UTC; empty: words" },
    };
    const size_t n = sizeof columns / sizeof *columns;
    pl_text t;

    pl_text_init(&t, x->a);
    describe(x, &t, "readings.csv", NULL, columns, n);
    for (size_t i = 0; i < x->readings.count; i++) {
        const pl_reading *r = &x->readings.items[i];
        const char *cells[] = { pl_subject_name(r->subject),
                                r->id,
                                r->quantity,
                                r->text,
                                r->unit,
                                isnan(r->value) ? "" : pl_text_number(x->a, r->value, 17) };

        if (x->with_names || strcmp(r->quantity, "operator"))
            put_row(&t, cells, n);
    }
    return write_text(x, "readings.csv", &t);
}

static pl_code write_marks(study_export *x)
{
    static const column columns[] = {
        { "specimen", "specimen", "string", "" },
        { "kind", "kind", "string", "lost, excluded, restored, swapped-with, made-as, ..." },
        { "key", "key", "string", "what was made otherwise; a photo's name" },
        { "value", "value", "string", "how it was made; the other specimen; the note" },
        { "reason", "reason", "string", "" },
        { "happened_at", "happened at", "dateTime", "UTC" },
    };
    const size_t n = sizeof columns / sizeof *columns;
    pl_text t;

    pl_text_init(&t, x->a);
    describe(x, &t, "marks.csv", NULL, columns, n);
    for (size_t i = 0; i < x->l.nmark; i++) {
        const pl_marking *m = &x->l.marks[i];
        time_t at = (time_t)m->happened_at;
        struct tm tm;
        char when[32] = "";
        const char *cells[] = { m->specimen, pl_mark_name(m->kind), m->key, m->value, m->reason,
                                when };

        if (gmtime_r(&at, &tm))
            strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", &tm);
        put_row(&t, cells, n);
    }
    return write_text(x, "marks.csv", &t);
}

/* ---------------------------------------------------------------- rest ----- */

static pl_code write_rigs(study_export *x)
{
    const pl_study *s = x->l.study;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < s->nrig && x->l.rigs && !rc; i++) {
        const char *name = pl_arena_printf(x->a, "rig-%s.json", plain_name(x->a, s->rigs[i].name));
        const char *text = x->l.rigs[i].text;

        if (!s->rigs[i].written && text && name) /* else it stands in the study */
            rc = write_file(x, name, text, strlen(text));
    }
    return rc;
}

/* The study file, the plan as it was frozen, and the last answer that was kept. */
static pl_code write_study(study_export *x)
{
    const pl_revision *r = NULL;
    const pl_book_fit *fits = NULL;
    const char *answer = NULL;
    size_t n = 0;
    pl_code rc = pl_book_revision(x->a, x->l.book, x->l.study->name, 0, &r, &x->run->diags);

    if (!rc)
        rc = pl_book_fits(x->a, x->l.book, &fits, &n, &x->run->diags);
    if (!rc)
        rc = write_file(x, "study.json", r->text, r->length);
    if (!rc)
        rc = write_file(x, "plan.json", r->plan_json, strlen(r->plan_json));
    for (size_t i = 0; i < n; i++)
        if (!strcmp(fits[i].study, x->l.study->name) && fits[i].revision == r->number)
            answer = fits[i].answer;
    return rc || !answer ? rc : write_file(x, "fit.json", answer, strlen(answer));
}

static pl_code write_all(study_export *x)
{
    pl_jval *head = pl_jobject(x->a);
    const char *text;
    pl_code rc;

    pl_jadd_text(head, "@context", "http://www.w3.org/ns/csvw");
    pl_jadd_text(head, "dc:title", x->l.study->title[0] ? x->l.study->title : x->l.study->name);
    pl_jadd_text(head, "dc:description",
                 "Results of these specimens and this procedure; no design values.");
    x->tables = pl_jadd_array(head, "tables");
    rc = write_study(x);
    if (!rc)
        rc = write_rigs(x);
    if (!rc)
        rc = write_joints(x);
    if (!rc)
        rc = write_readings(x);
    if (!rc)
        rc = write_marks(x);
    if (rc)
        return rc;
    text = pl_jtext(x->a, head);
    return text ? write_file(x, "csv-metadata.json", text, strlen(text)) : pl_nomem(&x->run->diags);
}

pl_code pl_run_book_export_study(pl_run *run, const char *study, const char *folder,
                                 bool with_names)
{
    study_export x = { .run = run, .a = run->arena, .with_names = with_names };
    pl_code rc;

    x.part = pl_arena_printf(run->arena, "%s.part", folder);
    if (!x.part)
        return pl_nomem(&run->diags);
    if (pl_file_exists(folder) || pl_file_exists(x.part))
        return pl_fail(&run->diags, PL_EWRITE, pl_file_exists(folder) ? folder : x.part,
                       .found = "something of that name is there", .expected = "a new folder");
    rc = pl_load(run, study, PL_LOAD_PLAN | PL_LOAD_RIGS, &x.l);
    if (!rc)
        rc = pl_book_record(run->arena, x.l.book, x.l.study->name, &x.readings, &x.l.marks,
                            &x.l.nmark, &run->diags);
    if (!rc)
        rc = pl_file_folder(x.part, &run->diags);
    if (!rc)
        rc = write_all(&x);
    if (!rc && rename(x.part, folder))
        rc = pl_fail(&run->diags, PL_EWRITE, folder, .found = strerror(errno),
                     .expected = "a folder that can be written");
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "folder", folder);
    pl_text_add(&run->text, "Study %s is in %s%s.\n", x.l.study->name, folder,
                with_names ? "" : ", without the names of operators");
    return PL_OK;
}
