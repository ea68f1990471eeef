/* The battery for records: a rig's own recordings, the same in other clothes, and
 * what a bad day does to a file. A record may be refused; the plugin may not fail. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "base/file.h"
#include "rigs/try_inner.h"

#define SPECIMEN "TRY"
#define CUTS_MOST 60 /* a record is cut after so many of its rows, evenly spread */

/* A record taken apart: lines without their ends. */
typedef struct lines {
    const char **text;
    size_t n;
} lines;

typedef struct records {
    pl_try *t;
    const char *folder, *file; /* scratch */
    const char *name;          /* of the recording at hand */
    lines lines;
    pl_readings plain; /* what it gave as it is */
} records;

static pl_code split(pl_try *t, const char *path, lines *out)
{
    char *bytes, *rest = NULL;
    size_t length;
    pl_code rc = pl_file_read(t->a, path, &bytes, &length, t->d);

    if (rc)
        return rc;
    out->text = PL_NEWN(t->a, length + 1, const char *);
    if (!out->text)
        return pl_nomem(t->d);
    for (char *line = strtok_r(bytes, "\r\n", &rest); line; line = strtok_r(NULL, "\r\n", &rest))
        out->text[out->n++] = line;
    return PL_OK;
}

/* Writes the scratch file and reads it through the plugin. */
static pl_code read_back(records *r, const char *bytes, size_t n, pl_readings *out)
{
    pl_try *t = r->t;
    pl_diags quiet;
    pl_code rc = bytes ? pl_file_write(r->file, bytes, n, true, t->d) : pl_nomem(t->d);

    *out = (pl_readings){ 0 };
    if (rc)
        return rc;
    pl_diags_init(&quiet, t->a);
    return pl_rigs_read(t->a, t->rig, r->file, SPECIMEN, out, &quiet);
}

static bool same(const pl_readings *x, const pl_readings *y)
{
    if (x->count != y->count)
        return false;
    for (size_t i = 0; i < x->count; i++)
        if (strcmp(x->items[i].quantity, y->items[i].quantity) ||
            fabs(x->items[i].value - y->items[i].value) > 1e-9 * fabs(x->items[i].value))
            return false;
    return true;
}

/* ------------------------------------------------- in other clothes -------- */

typedef char *(*dress)(pl_arena *a, const lines *l, size_t *n);

static char *crlf(pl_arena *a, const lines *l, size_t *n)
{
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < l->n; i++)
        pl_text_add(&t, "%s\r\n", l->text[i]);
    *n = t.length;
    return pl_text_done(&t);
}

static char *marked(pl_arena *a, const lines *l, size_t *n)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_text_put(&t, "\xef\xbb\xbf");
    for (size_t i = 0; i < l->n; i++)
        pl_text_add(&t, "%s\n", l->text[i]);
    *n = t.length;
    return pl_text_done(&t);
}

/* Semicolons and decimal commas. Recordings are written with comma and point. */
static char *semicolons(pl_arena *a, const lines *l, size_t *n)
{
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < l->n; i++) {
        for (const char *c = l->text[i]; *c; c++)
            pl_text_bytes(&t, *c == ',' ? ";" : *c == '.' && i ? "," : c, 1);
        pl_text_put(&t, "\n");
    }
    *n = t.length;
    return pl_text_done(&t);
}

/* The last column goes to the front. */
static char *turned(pl_arena *a, const lines *l, size_t *n)
{
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < l->n; i++) {
        const char *last = strrchr(l->text[i], ',');

        if (last)
            pl_text_add(&t, "%s,%.*s\n", last + 1, (int)(last - l->text[i]), l->text[i]);
        else
            pl_text_add(&t, "%s\n", l->text[i]);
    }
    *n = t.length;
    return pl_text_done(&t);
}

static const struct {
    const char *name;
    dress put_on;
    bool of_commas; /* only for a recording of commas and decimal points */
} dresses[] = { { "with carriage returns", crlf, false },
                { "with a byte order mark", marked, false },
                { "with semicolons and decimal commas", semicolons, true },
                { "with its last column first", turned, true } };

static bool has_semicolons(const lines *l)
{
    for (size_t i = 0; i < l->n; i++)
        if (strchr(l->text[i], ';'))
            return true;
    return false;
}

static pl_code try_dresses(records *r)
{
    pl_try *t = r->t;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < sizeof dresses / sizeof *dresses && !rc; i++) {
        pl_readings got;
        size_t n;
        const char *bytes;
        pl_code one;

        if (dresses[i].of_commas && has_semicolons(&r->lines))
            continue;
        bytes = dresses[i].put_on(t->a, &r->lines, &n);
        one = read_back(r, bytes, n, &got);
        if (one == PL_ENOMEM || one == PL_EWRITE)
            return one;
        rc = pl_try_note(t, pl_arena_printf(t->a, "%s %s", r->name, dresses[i].name),
                         one                     ? pl_code_text(one)
                         : same(&r->plain, &got) ? ""
                                                 : "other readings",
                         "the readings of the plain file");
    }
    return rc;
}

/* ------------------------------------------------------ a bad day ---------- */

static pl_code no_fault(records *r, const char *what, const char *bytes, size_t n)
{
    pl_readings got;
    pl_code rc = read_back(r, bytes, n, &got);

    if (rc == PL_ENOMEM || rc == PL_EWRITE)
        return rc;
    return pl_try_note(r->t, pl_arena_printf(r->t->a, "%s %s", r->name, what),
                       rc == PL_EPLUGIN ? "the plugin failed" : "", "readings or a refusal");
}

static pl_code try_cuts(records *r)
{
    pl_try *t = r->t;
    size_t step = r->lines.n / CUTS_MOST + 1;
    const char *found = "";
    pl_text whole;
    pl_code rc = PL_OK;

    pl_text_init(&whole, t->a);
    for (size_t i = 0; i < r->lines.n && !found[0]; i++) {
        pl_readings got;

        if (i % step == 0) {
            pl_code one = read_back(r, i ? whole.bytes : "", whole.length, &got);

            if (one == PL_ENOMEM || one == PL_EWRITE)
                return one;
            if (one == PL_EPLUGIN)
                found = pl_arena_printf(t->a, "the plugin failed when it was cut after line %zu",
                                        i);
        }
        pl_text_add(&whole, "%s\n", r->lines.text[i]);
    }
    rc = pl_try_note(t, pl_arena_printf(t->a, "%s cut short", r->name), found,
                     "readings or a refusal");
    /* and in the middle of a number */
    return rc ? rc : no_fault(r, "cut within a number", pl_text_done(&whole), whole.length - 3);
}

static pl_code try_bad_days(records *r)
{
    static const char zeros[] = "time [s],force [N]\n0,\0\n1,2\n",
                      noise[] = "\x7f\x45\x4c\x46\x02\xff";
    pl_arena *a = r->t->a;
    pl_text bare;
    pl_code rc;

    pl_text_init(&bare, a);
    for (const char *c = r->lines.text[0]; *c; c++) {
        if (*c == '[')
            c = strchr(c, ']') ? strchr(c, ']') + 1 : c;
        pl_text_bytes(&bare, c, *c ? 1 : 0);
        if (!*c)
            break;
    }
    pl_text_put(&bare, "\n");
    for (size_t i = 1; i < r->lines.n; i++)
        pl_text_add(&bare, "%s\n", r->lines.text[i]);
    rc = try_cuts(r);
    if (!rc)
        rc = no_fault(r, "empty", "", 0);
    if (!rc)
        rc = no_fault(r, "with zero bytes", zeros, sizeof zeros - 1);
    if (!rc)
        rc = no_fault(r, "that is no text", noise, sizeof noise - 1);
    return rc ? rc : no_fault(r, "without units", pl_text_done(&bare), bare.length);
}

static double cpu_s(void)
{
    struct timespec now;

    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* The recording's rows over and over: time runs backwards in it, which must not
 * upset a plugin; what counts is that it ends, and how long it takes. */
static pl_code try_long(records *r)
{
    pl_try *t = r->t;
    double before;
    pl_text whole;
    pl_code rc;

    if (r->lines.n < 2)
        return PL_OK;
    pl_text_init(&whole, t->a);
    pl_text_add(&whole, "%s\n", r->lines.text[0]);
    for (size_t i = 0; i < PL_TRY_ROWS; i++)
        pl_text_add(&whole, "%s\n", r->lines.text[1 + i % (r->lines.n - 1)]);
    before = cpu_s();
    rc = no_fault(r, "of a million rows", pl_text_done(&whole), whole.length);
    t->out->us_per_row = 1e6 * (cpu_s() - before) / PL_TRY_ROWS;
    t->out->rows = PL_TRY_ROWS;
    return rc;
}

static pl_code try_record(records *r, const char *path, bool last)
{
    pl_try *t = r->t;
    pl_diags quiet;
    pl_code rc = split(t, path, &r->lines), one;

    if (rc)
        return rc;
    r->name = pl_file_base(path);
    r->plain = (pl_readings){ 0 };
    pl_diags_init(&quiet, t->a);
    one = pl_rigs_read(t->a, t->rig, path, SPECIMEN, &r->plain, &quiet);
    rc = pl_try_note(t, pl_arena_printf(t->a, "%s is read", r->name),
                     one              ? pl_code_text(one)
                     : r->plain.count ? ""
                                      : "no reading",
                     "readings of its own recording");
    if (rc || one || !r->lines.n)
        return rc;
    rc = try_dresses(r);
    if (!rc)
        rc = try_bad_days(r);
    return rc || !last ? rc : try_long(r);
}

pl_code pl_try_records(pl_try *t, const char *const *paths, size_t n)
{
    const char *base = getenv("TMPDIR");
    char *folder = pl_arena_printf(t->a, "%s/platen-try-XXXXXX", base && base[0] ? base : P_tmpdir);
    records r = { .t = t };
    pl_code rc = PL_OK;

    if (!folder)
        return pl_nomem(t->d);
    if (!mkdtemp(folder))
        return pl_fail(t->d, PL_EWRITE, folder, .found = "no scratch folder can be made here",
                       .expected = "a folder that can be written", .mend = "set TMPDIR");
    r.folder = folder;
    r.file = pl_file_join(t->a, folder, "record.csv");
    for (size_t i = 0; i < n && r.file && !rc; i++) {
        r.lines = (lines){ 0 };
        rc = try_record(&r, paths[i], i + 1 == n);
    }
    if (r.file)
        (void)unlink(r.file);
    (void)rmdir(folder);
    return r.file ? rc : pl_nomem(t->d);
}
