/* platen book add, of one study: what book_study.c wrote into a folder, read back
 * strictly and handed to the book as a whole. It may come from anybody. */
#include <math.h>
#include <string.h>

#include "base/fields.h"
#include "base/file.h"
#include "cli/book_study.h"
#include "rigs/rigs.h"

typedef struct adopting {
    pl_run *run;
    pl_arena *a;
    pl_diags *d;
    const char *folder;
    pl_adopted w;
    pl_book_file *files;
    pl_readings readings;
    size_t *of_reading;
    size_t room;
    pl_marking *marks;
    size_t mark_room;
    pl_rig *rigs;
} adopting;

static const char *in_folder(adopting *x, const char *name)
{
    return pl_file_join(x->a, x->folder, name);
}

/* --------------------------------------------------------------- tables ----- */

/* One row; PL_OK, or after a finding. */
typedef pl_code take_row(adopting *x, pl_fields *rows, const pl_field *cells);

static bool is_text(const pl_field *cells, int n)
{
    for (int i = 0; i < n; i++)
        if (strlen(cells[i].bytes) != cells[i].n)
            return false;
    return true;
}

static pl_code read_table(adopting *x, const char *name, const pl_study_column *columns, int n,
                          take_row *take)
{
    const char *titles[PL_FILES_COLUMNS], *path = in_folder(x, name);
    pl_field cells[PL_FILES_COLUMNS];
    pl_fields rows = { .a = x->a, .d = x->d, .file = path, .mend = "" };
    char *bytes = NULL;
    size_t length = 0;
    pl_code rc = path ? pl_file_read(x->a, path, &bytes, &length, x->d) : pl_nomem(x->d);

    if (rc)
        return rc;
    rows.s = bytes;
    rows.end = bytes + length;
    for (int i = 0; i < n; i++)
        titles[i] = columns[i].title;
    rc = pl_fields_header(&rows, titles, n);
    while (!rc && pl_fields_more(&rows)) {
        rc = pl_fields_line(&rows, cells, n);
        if (!rc && !is_text(cells, n))
            rc = pl_fields_bad(&rows, "a NUL byte", "text");
        if (!rc)
            rc = take(x, &rows, cells);
    }
    return rc;
}

/* The file itself, where it came along. */
static pl_code read_kept(adopting *x, const char *digest, const char **bytes, size_t *n)
{
    const char *path = in_folder(x, pl_arena_printf(x->a, "kept/%s", digest));
    char *got = NULL;
    pl_code rc = PL_OK;

    if (!path)
        return pl_nomem(x->d);
    if (pl_file_exists(path))
        rc = pl_file_read_digested(x->a, path, digest, &got, n, x->d);
    *bytes = rc ? NULL : got;
    return rc;
}

static size_t file_at(const adopting *x, const char *digest)
{
    size_t i = 0;

    while (i < x->w.nfile && strcmp(x->files[i].digest, digest))
        i++;
    return i;
}

static pl_code take_file(adopting *x, pl_fields *rows, const pl_field *c)
{
    pl_book_file one = { .digest = c[0].bytes,
                         .name = c[1].bytes,
                         .kind = c[2].bytes,
                         .rig = c[3].bytes,
                         .rig_text = c[4].bytes,
                         .plugin = c[5].bytes,
                         .program = c[6].bytes };

    if (!pl_is_digest(one.digest, strlen(one.digest)) || file_at(x, one.digest) < x->w.nfile)
        return pl_fields_bad(rows, "no digest, or one a second time", "a digest in each row");
    if (!pl_study_time_read(x->a, c[7].bytes, &one.taken_at))
        return pl_fields_bad(rows, pl_arena_printf(x->a, "\"%.40s\"", c[7].bytes),
                             "a time such as 2027-03-03T14:05:00Z");
    x->files = pl_arena_grow(x->a, x->files, x->w.nfile, x->w.nfile + 1, sizeof one);
    if (!x->files)
        return pl_nomem(x->d);
    x->files[x->w.nfile++] = one;
    return read_kept(x, one.digest, &x->files[x->w.nfile - 1].bytes,
                     &x->files[x->w.nfile - 1].length);
}

static bool subject_of(const char *name, pl_subject *out)
{
    for (int s = 0; s < PL_NSUBJECTS; s++)
        if (!strcmp(name, pl_subject_name((pl_subject)s))) {
            *out = (pl_subject)s;
            return true;
        }
    return false;
}

static pl_code take_reading(adopting *x, pl_fields *rows, const pl_field *c)
{
    pl_reading one = { .id = c[1].bytes,
                       .quantity = c[2].bytes,
                       .text = c[3].bytes,
                       .unit = c[4].bytes,
                       .value = NAN,
                       .where = c[7].bytes };
    size_t file = file_at(x, c[6].bytes), n = x->readings.count;
    pl_code rc;

    if (!subject_of(c[0].bytes, &one.subject) || !c[1].n || !c[2].n)
        return pl_fields_bad(rows, pl_arena_printf(x->a, "\"%.40s\"", c[0].bytes),
                             "specimen, glue-up, session or board, with its label");
    if (one.subject == PL_ON_SPECIMEN && !pl_plan_find(x->w.plan, one.id))
        return pl_fields_bad(rows, pl_arena_printf(x->a, "\"%.40s\"", one.id),
                             "a specimen of plan.json");
    if (c[5].n && !pl_text_to_number(c[5].bytes, &one.value))
        return pl_fields_bad(rows, pl_arena_printf(x->a, "\"%.40s\"", c[5].bytes), "a number");
    if (file == x->w.nfile)
        return pl_fields_bad(rows, pl_arena_printf(x->a, "file \"%.64s\"", c[6].bytes),
                             "a file of files.csv");
    if (n == x->room) {
        x->room = x->room ? 2 * x->room : 256;
        x->of_reading = pl_arena_grow(x->a, x->of_reading, n, x->room, sizeof *x->of_reading);
    }
    if (!x->of_reading)
        return pl_nomem(x->d);
    rc = pl_readings_add(x->a, &x->readings, one, x->d);
    if (!rc)
        x->of_reading[n] = file;
    return rc;
}

static bool kind_of(const char *name, pl_mark_kind *out)
{
    for (int k = 0; k < PL_NMARKS; k++)
        if (!strcmp(name, pl_mark_name((pl_mark_kind)k))) {
            *out = (pl_mark_kind)k;
            return true;
        }
    return false;
}

static pl_code take_mark(adopting *x, pl_fields *rows, const pl_field *c)
{
    pl_marking one = {
        .specimen = c[0].bytes, .key = c[2].bytes, .value = c[3].bytes, .reason = c[4].bytes
    };

    if (!pl_plan_find(x->w.plan, one.specimen))
        return pl_fields_bad(rows, pl_arena_printf(x->a, "\"%.40s\"", one.specimen),
                             "a specimen of plan.json");
    if (!kind_of(c[1].bytes, &one.kind))
        return pl_fields_bad(rows, pl_arena_printf(x->a, "\"%.40s\"", c[1].bytes),
                             "lost, excluded, restored, swapped-with, made-as, applied, note or "
                             "photo");
    if (!pl_study_time_read(x->a, c[5].bytes, &one.happened_at) ||
        !pl_study_time_read(x->a, c[6].bytes, &one.made_at))
        return pl_fields_bad(rows,
                             pl_arena_printf(x->a, "\"%.40s\", \"%.40s\"", c[5].bytes, c[6].bytes),
                             "times such as 2027-03-03T14:05:00Z");
    if (one.kind == PL_MARK_PHOTO && !pl_is_digest(one.value, strlen(one.value)))
        return pl_fields_bad(rows, "a photo without a digest", "its SHA-256");
    if (one.kind == PL_MARK_PHOTO) {
        pl_code rc = read_kept(x, one.value, &one.bytes, &one.length);

        if (rc)
            return rc;
    }
    if (x->w.nmark == x->mark_room) {
        x->mark_room = x->mark_room ? 2 * x->mark_room : 16;
        x->marks = pl_arena_grow(x->a, x->marks, x->w.nmark, x->mark_room, sizeof one);
    }
    if (!x->marks)
        return pl_nomem(x->d);
    x->marks[x->w.nmark++] = one;
    return PL_OK;
}

/* ----------------------------------------------------------------- rest ----- */

static pl_code read_plan(adopting *x)
{
    const char *path = in_folder(x, "plan.json");
    const pl_json *object = NULL;
    char *text = NULL;
    size_t n = 0;
    pl_code rc = path ? pl_file_read(x->a, path, &text, &n, x->d) : pl_nomem(x->d);

    if (!rc)
        rc = pl_json_parse(x->a, path, text, n, &object, x->d);
    if (!rc)
        rc = pl_plan_from_json(x->a, x->w.study, object, &x->w.plan, x->d);
    if (!rc && x->w.plan->revision < 1)
        rc = pl_fail(x->d, PL_EVALUE, path, .pointer = "/revision", .found = "no revision",
                     .expected = "1 or more");
    x->w.plan_json = text;
    return rc;
}

static pl_code read_rig(adopting *x, size_t i)
{
    const char *name = pl_study_rig_file(x->a, x->w.study, i), *path;
    const pl_json *object = NULL;
    pl_rig rig;
    pl_code rc;

    path = name ? in_folder(x, name) : NULL;
    if (!path)
        return pl_nomem(x->d);
    if (!pl_file_exists(path)) /* it was not known when the study was exported */
        return PL_OK;
    rc = pl_json_read(x->a, path, &object, x->d);
    if (!rc)
        rc = pl_rig_from_json(x->a, object, &rig, x->d);
    if (!rc && strcmp(rig.name, x->w.study->rigs[i].name))
        rc = pl_fail(x->d, PL_ECONFLICT, path,
                     .found = pl_arena_printf(x->a, "rig \"%s\"", rig.name),
                     .expected = x->w.study->rigs[i].name);
    if (!rc)
        rc = pl_rigs_check(x->a, &rig, x->d);
    if (!rc)
        x->rigs[x->w.nrig++] = rig;
    return rc;
}

static pl_code read_rigs(adopting *x)
{
    const pl_study *s = x->w.study;
    pl_code rc = PL_OK;

    x->rigs = PL_NEWN(x->a, s->nrig, pl_rig);
    if (!x->rigs)
        return pl_nomem(x->d);
    for (size_t i = 0; i < s->nrig && !rc; i++)
        if (!s->rigs[i].written)
            rc = read_rig(x, i);
    return rc;
}

/* Kept as what was answered, where it is an answer at all. */
static pl_code read_answer(adopting *x)
{
    const char *path = in_folder(x, "fit.json");
    const pl_json *object = NULL;
    char *text;
    size_t n;
    pl_code rc;

    if (!path)
        return pl_nomem(x->d);
    if (!pl_file_exists(path))
        return PL_OK;
    rc = pl_file_read(x->a, path, &text, &n, x->d);
    if (!rc)
        rc = pl_json_parse(x->a, path, text, n, &object, x->d);
    if (!rc)
        x->w.answer = text;
    return rc;
}

static pl_code read_all(adopting *x)
{
    const char *path = in_folder(x, "study.json");
    pl_code rc = path ? pl_study_read(x->a, path, &x->w.study, x->d) : pl_nomem(x->d);

    if (!rc)
        rc = read_plan(x);
    if (!rc)
        rc = read_rigs(x);
    if (!rc)
        rc = read_table(x, "files.csv", pl_files_columns, PL_FILES_COLUMNS, take_file);
    if (!rc)
        rc = read_table(x, "readings.csv", pl_readings_columns, PL_READINGS_COLUMNS, take_reading);
    if (!rc)
        rc = read_table(x, "marks.csv", pl_marks_columns, PL_MARKS_COLUMNS, take_mark);
    return rc ? rc : read_answer(x);
}

pl_code pl_run_book_adopt(pl_run *run, pl_book *book, const char *folder)
{
    adopting x = { .run = run, .a = run->arena, .d = &run->diags, .folder = folder };
    pl_code rc = read_all(&x);

    x.w.files = x.files;
    x.w.readings = &x.readings;
    x.w.of_reading = x.of_reading;
    x.w.marks = x.marks;
    x.w.rigs = x.rigs;
    if (!rc)
        rc = pl_book_adopt(book, &x.w, &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "study", x.w.study->name);
    pl_jadd_whole(run->answer, "revision", x.w.plan->revision);
    pl_text_add(&run->text,
                "%s%s holds study %s of %s now: revision %u, %zu specimens, %zu readings.\n",
                pl_book_created(book) ? "Made a book: " : "", run->book, x.w.study->name, folder,
                x.w.plan->revision, x.w.plan->nspecimen, x.readings.count);
    return PL_OK;
}
