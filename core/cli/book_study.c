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
#include "cli/book_study.h"
#include "cli/data.h"

/* -------------------------------------------------------------- layout ----- */

const pl_study_column pl_files_columns[PL_FILES_COLUMNS] = {
    { "digest", "digest", "string", "SHA-256 of the file" },
    { "name", "name", "string", "of the file" },
    { "kind", "kind", "string", "the form's name, or the kind of the rig that recorded it" },
    { "rig", "rig", "string", "that recorded it; empty: a form" },
    { "rig_as_used", "rig as used", "string", "its file, as it was read with" },
    { "plugin", "plugin", "string", "that read it" },
    { "program", "program", "string", "version of the program" },
    { "taken_at", "taken at", "dateTime", "UTC" },
};
const pl_study_column pl_readings_columns[PL_READINGS_COLUMNS] = {
    { "subject", "subject", "string", "specimen, glue-up, session or board" },
    { "id", "id", "string", "its label" },
    { "quantity", "quantity", "string", "what was read or judged" },
    { "text", "text", "string", "as it was written" },
    { "unit", "unit", "string", "of the text" },
    { "value", "value", "number", "in SI; a share of 1; seconds since 1970 UTC; empty: words" },
    { "file", "file", "string", "digest of the file that it was read from" },
    { "place", "place", "string", "in that file: line and column" },
};
const pl_study_column pl_marks_columns[PL_MARKS_COLUMNS] = {
    { "specimen", "specimen", "string", "by its label" },
    { "kind", "kind", "string", "lost, excluded, restored, swapped-with, made-as, ..." },
    { "key", "key", "string", "what was made otherwise; a photo's name" },
    { "value", "value", "string",
      "how it was made; the other specimen; the note; a photo's digest" },
    { "reason", "reason", "string", "why" },
    { "happened_at", "happened at", "dateTime", "UTC" },
    { "said_at", "said at", "dateTime", "UTC" },
};

char *pl_study_time(pl_arena *a, int64_t at)
{
    time_t t = (time_t)at;
    struct tm tm;
    char text[40] = "";

    if (gmtime_r(&t, &tm))
        strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &tm);
    return pl_arena_str(a, text);
}

bool pl_study_time_read(pl_arena *a, const char *text, int64_t *out)
{
    struct tm tm = { 0 };
    char *again;

    if (sscanf(text, "%4d-%2d-%2dT%2d:%2d:%2dZ", &tm.tm_year, &tm.tm_mon, &tm.tm_mday, &tm.tm_hour,
               &tm.tm_min, &tm.tm_sec) != 6)
        return false;
    tm.tm_year -= 1900;
    tm.tm_mon -= 1;
    *out = (int64_t)timegm(&tm);
    again = pl_study_time(a, *out);
    return again && !strcmp(again, text);
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

char *pl_study_rig_file(pl_arena *a, const pl_study *s, size_t i)
{
    const char *name = plain_name(a, s->rigs[i].name);
    unsigned same = 0;

    for (size_t k = 0; name && k < i; k++) {
        const char *other = plain_name(a, s->rigs[k].name);

        same += other && !strcmp(name, other);
    }
    if (!name)
        return NULL;
    return same ? pl_arena_printf(a, "rig-%s-%u.json", name, same + 1)
                : pl_arena_printf(a, "rig-%s.json", name);
}

/* -------------------------------------------------------------- export ----- */

typedef struct study_export {
    pl_run *run;
    pl_arena *a;
    const char *part;
    bool with_names;
    pl_loaded l;
    pl_readings readings;
    const pl_book_file *files;
    const size_t *of_reading; /* place in files */
    size_t nfile;
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
static pl_jval *describe(study_export *x, pl_text *t, const char *file, const char *key,
                         const pl_study_column *columns, size_t n)
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
    return schema;
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

/* The joints as the fit sees them; none broken yet: no table. */
static pl_code write_joints(study_export *x)
{
    pl_joined joined;
    size_t before = x->run->diags.count;
    pl_study_column *columns;
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
    columns = PL_NEWN(x->a, joined.ncolumn + 1, pl_study_column);
    cells = PL_NEWN(x->a, joined.ncolumn + 1, const char *);
    if (!columns || !cells)
        return pl_nomem(&x->run->diags);
    columns[0] = (pl_study_column){ "specimen", "specimen", "string",
                                    "what was broken, by its label" };
    for (size_t i = 0; i < joined.ncolumn; i++) {
        const pl_column *c = &joined.table->columns[i];

        columns[i + 1] = (pl_study_column){
            plain_name(x->a, c->name),
            c->unit[0] ? pl_arena_printf(x->a, "%s [%s]", c->name, c->unit) : c->name,
            c->number ? "number" : "string",
            i == 0 ? "greatest force over the joint's own area" : "",
        };
    }
    pl_text_init(&t, x->a);
    describe(x, &t, "joints.csv", "specimen", columns, joined.ncolumn + 1);
    for (size_t row = 0; row < joined.table->nrow; row++) {
        cells[0] = joined.table->row_names[row];
        for (size_t i = 0; i < joined.ncolumn; i++) {
            const pl_column *c = &joined.table->columns[i];

            cells[i + 1] = c->number && !isnan(c->number[row])
                               ? pl_text_number(x->a, c->number[row], 17)
                               : c->text[row];
        }
        put_row(&t, cells, joined.ncolumn + 1);
    }
    return write_text(x, "joints.csv", &t);
}

/* Files as they were hold names of operators too: kept ones go along where these do. */
static pl_code write_kept(study_export *x, const char *digest)
{
    const char *name = pl_arena_printf(x->a, "kept/%s", digest);
    size_t n;
    char *bytes = NULL;
    pl_code rc = name ? pl_book_kept(x->a, x->l.book, digest, &bytes, &n, &x->run->diags)
                      : pl_nomem(&x->run->diags);

    if (rc || !bytes || pl_file_exists(pl_file_join(x->a, x->part, name)))
        return rc;
    rc = pl_file_folder(pl_file_join(x->a, x->part, "kept"), &x->run->diags);
    return rc ? rc : write_file(x, name, bytes, n);
}

static pl_code write_files(study_export *x)
{
    pl_code rc = PL_OK;
    pl_text t;

    pl_text_init(&t, x->a);
    describe(x, &t, "files.csv", "digest", pl_files_columns, PL_FILES_COLUMNS);
    for (size_t i = 0; i < x->nfile && !rc; i++) {
        const pl_book_file *f = &x->files[i];
        const char *cells[PL_FILES_COLUMNS] = { f->digest,   f->name,
                                                f->kind,     f->rig,
                                                f->rig_text, f->plugin,
                                                f->program,  pl_study_time(x->a, f->taken_at) };

        put_row(&t, cells, PL_FILES_COLUMNS);
        if (x->with_names)
            rc = write_kept(x, f->digest);
    }
    return rc ? rc : write_text(x, "files.csv", &t);
}

/* Of each reading, the file that it came from. */
static void refer(pl_jval *schema)
{
    pl_jval *key = pl_jadd_object(pl_jadd_array(schema, "foreignKeys"), NULL), *to;

    pl_jadd_text(key, "columnReference", "file");
    to = pl_jadd_object(key, "reference");
    pl_jadd_text(to, "resource", "files.csv");
    pl_jadd_text(to, "columnReference", "digest");
}

static pl_code write_readings(study_export *x)
{
    pl_text t;

    pl_text_init(&t, x->a);
    refer(describe(x, &t, "readings.csv", NULL, pl_readings_columns, PL_READINGS_COLUMNS));
    for (size_t i = 0; i < x->readings.count; i++) {
        const pl_reading *r = &x->readings.items[i];
        const char *cells[PL_READINGS_COLUMNS] = { pl_subject_name(r->subject),
                                                   r->id,
                                                   r->quantity,
                                                   r->text,
                                                   r->unit,
                                                   isnan(r->value)
                                                       ? ""
                                                       : pl_text_number(x->a, r->value, 17),
                                                   x->files[x->of_reading[i]].digest,
                                                   r->where };

        if (x->with_names || strcmp(r->quantity, "operator"))
            put_row(&t, cells, PL_READINGS_COLUMNS);
    }
    return write_text(x, "readings.csv", &t);
}

/* Of the specimens of this plan; a photo goes along. */
static pl_code write_marks(study_export *x)
{
    pl_code rc = PL_OK;
    pl_text t;

    pl_text_init(&t, x->a);
    describe(x, &t, "marks.csv", NULL, pl_marks_columns, PL_MARKS_COLUMNS);
    for (size_t i = 0; i < x->l.nmark && !rc; i++) {
        const pl_marking *m = &x->l.marks[i];
        const char *cells[PL_MARKS_COLUMNS] = { m->specimen,
                                                pl_mark_name(m->kind),
                                                m->key,
                                                m->value,
                                                m->reason,
                                                pl_study_time(x->a, m->happened_at),
                                                pl_study_time(x->a, m->made_at) };

        if (!pl_plan_find(x->l.plan, m->specimen))
            continue;
        put_row(&t, cells, PL_MARKS_COLUMNS);
        if (m->kind == PL_MARK_PHOTO)
            rc = write_kept(x, m->value);
    }
    return rc ? rc : write_text(x, "marks.csv", &t);
}

/* ---------------------------------------------------------------- rest ----- */

static pl_code write_rigs(study_export *x)
{
    const pl_study *s = x->l.study;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < s->nrig && x->l.rigs && !rc; i++) {
        const char *name = pl_study_rig_file(x->a, s, i);
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
        rc = write_files(x);
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
    size_t nreading = 0;
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
        rc = pl_book_files(run->arena, x.l.book, x.l.study->name, &x.files, &x.nfile, &x.of_reading,
                           &nreading, &run->diags);
    if (!rc && nreading != x.readings.count)
        rc = pl_fail(&run->diags, PL_EBOOK, run->book, .found = "readings without a file",
                     .expected = "a file for each", .mend = "see: platen book check");
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
