/* platen take: filled-in forms and recorded files into the book, all or
 * nothing. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <platen/plugin.h>

#include "base/csv.h"
#include "base/file.h"
#include "bench/forms.h"
#include "cli/take.h"
#include "rigs/rigs.h"

typedef struct take_options {
    const char *rig, *specimen, *withdraw, *reason;
    bool look, replace, keep, as_written;
} take_options;

enum {
    KEY_RIG = 1,
    KEY_SPECIMEN,
    KEY_LOOK,
    KEY_AS_WRITTEN,
    KEY_REPLACE,
    KEY_KEEP,
    KEY_WITHDRAW,
    KEY_REASON
};

static const struct argp_option options[] = {
    { "rig", KEY_RIG, "NAME", 0, "the files are what this rig recorded", 0 },
    { "specimen", KEY_SPECIMEN, "ID", 0,
      "whom the recorded file is about; several, as they broke: ID,ID", 0 },
    { "look", KEY_LOOK, 0, 0, "say what would be written; write nothing", 0 },
    { "as-written", KEY_AS_WRITTEN, 0, 0, "what was said to be doubtful is right", 0 },
    { "replace", KEY_REPLACE, 0, 0, "let corrected values take the place of recorded ones", 0 },
    { "keep", KEY_KEEP, 0, 0, "keep the files themselves in the book too", 0 },
    { "withdraw", KEY_WITHDRAW, "FILE", 0, "take a file back: by its name, or its digest", 0 },
    { "reason", KEY_REASON, "TEXT", 0, "why it is taken back", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    take_options *o = run->options;

    switch (key) {
    case KEY_RIG:
        o->rig = arg;
        break;
    case KEY_SPECIMEN:
        o->specimen = arg;
        break;
    case KEY_LOOK:
        o->look = true;
        break;
    case KEY_AS_WRITTEN:
        o->as_written = true;
        break;
    case KEY_KEEP:
        o->keep = true;
        break;
    case KEY_WITHDRAW:
        o->withdraw = arg;
        break;
    case KEY_REASON:
        o->reason = arg;
        break;
    default:
        o->replace = true;
    }
    return PL_OK;
}

typedef struct taking {
    pl_run *run;
    const pl_loaded *l;
    pl_readings known; /* what the book holds already */
    size_t count;
    pl_source *sources;  /* one a file */
    pl_readings *traces; /* one a recorded file */
    const char *plugin;  /* that reads them: name, ABI and digest */
    const char *about;   /* --specimen, as issued: "K7M3" or "K7M3,P4QX"; NULL: not said */
    size_t ndoubt;
} taking;

static pl_code digest_of(pl_run *run, const char *path, const char **hex)
{
    char *digest = NULL;
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK); /* a pipe without a writer waits not */
    struct stat st = { 0 };
    pl_code rc;

    if (fd < 0)
        return pl_fail(&run->diags, PL_ENOFILE, path,
                       .found = errno == ENOENT   ? "no such file"
                                : errno == EACCES ? "permission denied"
                                                  : strerror(errno),
                       .expected = "a file that can be read");
    if (fstat(fd, &st) || !S_ISREG(st.st_mode)) {
        close(fd);
        return pl_fail(&run->diags, PL_ENOFILE, path,
                       .found = S_ISDIR(st.st_mode) ? "a folder" : "no plain file",
                       .expected = "a file that can be read");
    }
    rc = pl_digest_fd(run->arena, fd, &digest, &run->diags);
    close(fd);
    *hex = digest;
    return rc;
}

/* The file's own bytes, to be kept: those that were digested, or none. */
static pl_code load_file(taking *t, size_t i)
{
    pl_run *run = t->run;
    const char *path = run->args[i + 1], *digest;
    char *bytes;
    pl_code rc = pl_file_read(run->arena, path, &bytes, &t->sources[i].length, &run->diags);

    if (rc)
        return rc;
    digest = pl_digest(run->arena, bytes, t->sources[i].length);
    if (!digest)
        return pl_nomem(&run->diags);
    if (strcmp(digest, t->sources[i].digest))
        return pl_fail(&run->diags, PL_ENOFILE, path,
                       .found = "a file that changes while it is read",
                       .expected = "a file that is finished");
    t->sources[i].bytes = bytes;
    return PL_OK;
}

/* --------------------------------------------------------------- forms ----- */

/* A form that was refused may be that of another study: its ids tell. */
static void say_whose(taking *t, const pl_csv *csv)
{
    pl_run *run = t->run;
    const char *whose = NULL, *other;
    size_t at = csv ? pl_csv_column(csv, "specimen") : 0, n = 0;

    for (size_t i = 0; csv && at < csv->ncol && i < csv->nrow; i++) {
        const char *id = pl_csv_at(csv, i, at)->text;

        if (pl_plan_find(t->l->plan, id) ||
            pl_book_issuer(run->arena, t->l->book, id, &other, &run->diags) || !other)
            continue;
        whose = whose ? whose : other;
        n += !strcmp(whose, other);
    }
    if (n)
        pl_remark(&run->diags, csv->name,
                  .found = pl_arena_printf(run->arena, "%zu specimen%s of study %s", n,
                                           n == 1 ? "" : "s", whose),
                  .expected = pl_arena_printf(run->arena, "a form of %s", t->l->study->name),
                  .mend = pl_arena_printf(run->arena, "platen take %s %s", whose, csv->name));
}

static pl_code read_forms(taking *t)
{
    pl_run *run = t->run;
    pl_form_file *files = PL_NEWN(run->arena, t->count, pl_form_file);
    pl_code rc = PL_OK;

    if (!files)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < t->count; i++) {
        pl_code one = pl_csv_read(run->arena, run->args[i + 1], &files[i].csv, &run->diags);

        rc = rc ? rc : one;
    }
    if (!rc)
        rc = pl_forms_read(run->arena, t->l->frozen, t->l->plan, files, t->count, &t->known,
                           &run->diags);
    if (rc && rc != PL_ENOMEM)
        for (size_t i = 0; i < t->count; i++)
            say_whose(t, files[i].csv);
    for (size_t i = 0; i < t->count && !rc; i++) {
        t->sources[i].kind = pl_form_name(files[i].form);
        t->sources[i].rig = t->sources[i].rig_text = t->sources[i].plugin = "";
        t->sources[i].readings = &files[i].readings;
    }
    return rc;
}

/* -------------------------------------------------------------- traces ----- */

static const pl_rig *rig_named(taking *t, const char *name)
{
    const pl_study *s = t->l->study;
    const char **names = PL_NEWN(t->run->arena, s->nrig, const char *);

    for (size_t i = 0; i < s->nrig && t->l->rigs; i++)
        if (!strcmp(s->rigs[i].name, name))
            return &t->l->rigs[i];
    for (size_t i = 0; i < s->nrig && names; i++)
        names[i] = s->rigs[i].name;
    (void)pl_usage(t->run, "--rig", pl_arena_printf(t->run->arena, "\"%s\"", name),
                   pl_arena_printf(t->run->arena, "a rig of the study: %s",
                                   names ? pl_text_list(t->run->arena, names, s->nrig, "or") : ""),
                   "");
    return NULL;
}

/* By --specimen, by the id in the file's name, or by the trace column of the
 * break form; never by order alone. NULL when none of these tells. */
static const char *specimen_of(taking *t, const char *path)
{
    const char *base = pl_file_base(path);
    char *stem = pl_arena_str(t->run->arena, base);
    const pl_specimen *x;

    if (t->about)
        return t->about;
    for (size_t i = 0; i < t->known.count; i++)
        if (!strcmp(t->known.items[i].quantity, "trace") && !strcmp(t->known.items[i].text, base))
            return t->known.items[i].id;
    for (char *part = stem ? strtok(stem, "-_. ") : NULL; part; part = strtok(NULL, "-_. ")) {
        x = pl_plan_find(t->l->plan, part);
        if (x)
            return x->id;
    }
    return NULL;
}

/* Whether these letters stand in the file, one byte each or two. */
static bool stands_in(const char *path, const char *id)
{
    enum { PIECE = 65536, ID_MOST = 64 };
    static char bytes[2 * ID_MOST + PIECE];
    size_t n = strlen(id), kept = 0, got = 0;
    char wide[2 * ID_MOST] = { 0 };
    FILE *f = n <= ID_MOST ? fopen(path, "rb") : NULL;
    bool found = false;

    for (size_t i = 0; i < n && i < ID_MOST; i++)
        wide[2 * i] = id[i];
    while (f && !found && (got = fread(bytes + kept, 1, PIECE, f)) > 0) {
        got += kept;
        found = memmem(bytes, got, id, n) || memmem(bytes, got, wide, 2 * n - 1);
        kept = got < 2 * n ? got : 2 * n;
        memmove(bytes, bytes + got - kept, kept);
    }
    if (f)
        fclose(f);
    return found;
}

/* A name that is none: the file's mistake if it stands there, else the plugin made it up. */
static pl_code no_specimen(taking *t, const char *path, const char *plugin, const pl_reading *r)
{
    pl_arena *a = t->run->arena;
    pl_rig_kind kind = { .file = plugin };

    if (stands_in(path, r->id))
        return pl_fail(&t->run->diags, PL_EKEY, r->where,
                       .found = pl_arena_printf(a, "specimen \"%s\"", r->id),
                       .expected = "a specimen of this plan");
    (void)pl_rigs_kind(a, plugin, &kind, &t->run->diags);
    return pl_fail(&t->run->diags, PL_EPLUGIN, kind.file,
                   .found = pl_arena_printf(a,
                                            "plugin \"%s\" gave a reading of specimen \"%s\", "
                                            "which does not stand in %s",
                                            plugin, r->id, path),
                   .expected = "a specimen of this plan",
                   .mend = "nothing of what it gave was taken; mend the plugin or take it out");
}

/* "K7M3,P4QX" has "P4QX". */
static bool is_among(const char *list, const char *id)
{
    size_t n = strlen(id);

    for (const char *p = list; *p; p += strcspn(p, ",") + (p[strcspn(p, ",")] == ','))
        if (strcspn(p, ",") == n && !strncmp(p, id, n))
            return true;
    return false;
}

/* Ids as they were issued, however the record spells them. A specimen's readings
 * stand together: a name that is none is refused once. */
static pl_code check_ids(taking *t, const char *path, const char *plugin, pl_readings *r)
{
    const char *refused = NULL;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < r->count; i++) {
        const pl_specimen *x = pl_plan_find(t->l->plan, r->items[i].id);

        if (x)
            r->items[i].id = x->id;
        if (x && (!t->about || is_among(t->about, x->id)))
            continue;
        if (refused && !strcmp(refused, r->items[i].id))
            continue;
        refused = r->items[i].id;
        rc = x ? pl_fail(
                     &t->run->diags, PL_EKEY, r->items[i].where,
                     .found = pl_arena_printf(t->run->arena, "specimen \"%s\"", refused),
                     .expected = pl_arena_printf(t->run->arena, "%s, as --specimen says", t->about))
               : no_specimen(t, path, plugin, &r->items[i]);
    }
    return rc;
}

/* A plugin says no version of its own: the digest of its file tells which one it was. */
static pl_code name_plugin(taking *t, const pl_rig_kind *kind)
{
    const char *digest = NULL;
    pl_code rc = digest_of(t->run, kind->file, &digest);

    t->plugin = digest ? pl_arena_printf(t->run->arena, "%s, ABI %u, SHA-256 %s", kind->name,
                                         (unsigned)PLATEN_ABI, digest)
                       : NULL;
    return rc || t->plugin ? rc : pl_nomem(&t->run->diags);
}

/* --specimen, each by its name as it was issued, however it was typed. */
static pl_code read_about(taking *t)
{
    pl_run *run = t->run;
    const take_options *o = run->options;
    char *copy = pl_arena_str(run->arena, o->specimen), *rest = NULL;
    pl_text about;
    pl_code rc = PL_OK;

    pl_text_init(&about, run->arena);
    for (char *id = copy ? strtok_r(copy, ",; ", &rest) : NULL; id;
         id = strtok_r(NULL, ",; ", &rest)) {
        const pl_specimen *x = pl_plan_find(t->l->plan, id);

        if (!x)
            rc = pl_usage(run, "--specimen", pl_arena_printf(run->arena, "\"%s\"", id),
                          "a specimen of this plan", "look at the label again");
        else if (is_among(about.length ? pl_text_done(&about) : "", x->id))
            rc = pl_usage(run, "--specimen", pl_arena_printf(run->arena, "\"%s\" twice", id),
                          "each specimen once", "in the order in which they were broken");
        else
            pl_text_add(&about, "%s%s", about.length ? "," : "", x->id);
    }
    if (rc)
        return rc;
    t->about = about.length ? pl_text_done(&about) : NULL;
    if (!copy || about.failed)
        return pl_nomem(&run->diags);
    return t->about ? PL_OK
                    : pl_usage(run, "--specimen", "no specimen", "a specimen of this plan", "");
}

/* What the options say, held against plan and rig before a file is read. */
static pl_code check_trace_options(taking *t, const pl_rig *rig)
{
    pl_run *run = t->run;
    take_options *o = run->options;
    pl_rig_kind kind;
    pl_code rc = pl_rigs_kind(run->arena, rig->kind, &kind, &run->diags);

    if (!rc && !kind.reads_files)
        rc = pl_usage(run, "--rig",
                      pl_arena_printf(run->arena, "\"%s\", a %s, which records nothing", rig->name,
                                      rig->kind),
                      "a rig that records", "");
    if (!rc)
        rc = name_plugin(t, &kind);
    if (o->specimen && t->count > 1)
        rc = pl_usage(run, "--specimen", pl_arena_printf(run->arena, "%zu files", t->count),
                      "one file", "a file's name may hold the id: pull-ID.csv");
    return rc || !o->specimen ? rc : read_about(t);
}

static pl_code read_traces(taking *t, const char *rig_name)
{
    pl_run *run = t->run;
    const pl_rig *rig = rig_named(t, rig_name);
    pl_code rc = rig ? check_trace_options(t, rig) : PL_EUSAGE;

    if (rc)
        return rc;
    for (size_t i = 0; i < t->count; i++) {
        pl_code one = pl_rigs_read(run->arena, rig, run->args[i + 1],
                                   specimen_of(t, run->args[i + 1]), &t->traces[i], &run->diags);

        if (!one)
            one = check_ids(t, run->args[i + 1], rig->kind, &t->traces[i]);
        rc = rc ? rc : one;
        t->sources[i].kind = rig->kind;
        t->sources[i].rig = rig->name;
        t->sources[i].rig_text = rig->text;
        t->sources[i].plugin = t->plugin;
        t->sources[i].readings = &t->traces[i];
    }
    return rc;
}

/* -------------------------------------------------------------- saying ----- */

/* Of a corrected form only what it changes. */
static void say_changes(taking *t, const pl_taken *n)
{
    pl_run *run = t->run;
    pl_jval *list = pl_jadd_array(run->answer, "changes");

    for (size_t i = 0; i < n->nchange; i++) {
        const pl_change *c = &n->changes[i];
        const pl_reading *r = c->reading;
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "where", r->where);
        pl_jadd_text(o, "subject", pl_subject_name(r->subject));
        pl_jadd_text(o, "id", r->id);
        pl_jadd_text(o, "quantity", r->quantity);
        pl_jadd_text(o, "from", c->text);
        pl_jadd_text(o, "from_unit", c->unit);
        pl_jadd_text(o, "from_file", c->file);
        pl_jadd_text(o, "to", r->text);
        pl_jadd_text(o, "to_unit", r->unit);
        pl_text_add(&run->text, "  %s: %s of %s %s: %s %s, was %s %s\n", r->where, r->quantity,
                    pl_subject_name(r->subject), r->id, r->text, r->unit, c->text, c->unit);
    }
}

static pl_code say_taken(taking *t, const pl_taken *n)
{
    pl_run *run = t->run;
    take_options *o = run->options;
    const char *const *missing = NULL;
    size_t nmissing = 0;
    pl_jval *list;
    pl_readings all = t->known;
    pl_code rc = PL_OK;

    pl_jadd_whole(run->answer, "files", (long long)n->files);
    pl_jadd_whole(run->answer, "known_files", (long long)n->known_files);
    pl_jadd_whole(run->answer, "added", (long long)n->added);
    pl_jadd_whole(run->answer, "same", (long long)n->same);
    pl_jadd_whole(run->answer, "replaced", (long long)n->replaced);
    pl_text_add(&run->text, "%s %zu reading%s from %zu file%s", o->look ? "Would take" : "Took",
                n->added, n->added == 1 ? "" : "s", n->files, n->files == 1 ? "" : "s");
    if (n->replaced)
        pl_text_add(&run->text, "; %zu corrected", n->replaced);
    if (n->same)
        pl_text_add(&run->text, "; %zu in the book already", n->same);
    if (n->known_files)
        pl_text_add(&run->text, "; %zu file%s taken before", n->known_files,
                    n->known_files == 1 ? " was" : "s were");
    if (n->kept)
        pl_text_add(&run->text, "; %zu file%s kept", n->kept, n->kept == 1 ? "" : "s");
    pl_text_put(&run->text, ".\n");
    pl_jadd_whole(run->answer, "kept", (long long)n->kept);
    say_changes(t, n);
    for (size_t i = 0; i < t->count && !rc; i++)
        for (size_t k = 0; k < t->sources[i].readings->count && !rc; k++)
            rc = pl_readings_add(run->arena, &all, t->sources[i].readings->items[k], &run->diags);
    if (!rc)
        rc = pl_forms_missing(run->arena, t->l->plan, &all, &missing, &nmissing, &run->diags);
    list = pl_jadd_array(run->answer, "missing");
    for (size_t i = 0; i < nmissing && !rc; i++) {
        pl_jadd_text(list, NULL, missing[i]);
        pl_text_add(&run->text, "- %s\n", missing[i]);
    }
    return rc;
}

/* ------------------------------------------------------------ withdraw ----- */

static pl_code check_options(pl_run *run)
{
    take_options *o = run->options;

    if (!o->withdraw && o->reason)
        return pl_usage(run, "--reason", "a reason without --withdraw", "both, or neither",
                        "why a joint does not count is said with: platen mark");
    if (!o->withdraw && run->narg < 2)
        return pl_usage(run, "", "1 argument", "platen take STUDY FILE...",
                        "see: platen help take");
    if (!o->withdraw)
        return PL_OK;
    if (run->narg > 1 || o->rig || o->specimen || o->look || o->as_written || o->replace || o->keep)
        return pl_usage(run, "--withdraw", "other files or options beside it",
                        "platen take STUDY --withdraw FILE --reason TEXT", "");
    if (!o->reason || !o->reason[0])
        return pl_usage(run, "--reason", "no reason", "why the file is taken back",
                        "--reason TEXT: it stays in the book");
    return PL_OK;
}

/* --------------------------------------------------------------- verb ------ */

/* Advice is about the files, save what is said of folders with plugins. */
static bool is_doubt(const pl_diag *f)
{
    return f->severity == PL_ADVICE && strcmp(f->where, "PLATEN_PLUGINS") != 0;
}

/* What was said to be doubtful, for the trail. */
static pl_code count_doubts(taking *t, size_t from)
{
    pl_run *run = t->run;
    pl_text words;

    pl_text_init(&words, run->arena);
    for (size_t i = from; i < run->diags.count; i++)
        if (is_doubt(&run->diags.items[i]))
            pl_text_add(&words, "%s%s", t->ndoubt++ ? "; " : "", run->diags.items[i].found);
    if (!t->ndoubt)
        return PL_OK;
    t->sources[0].doubts = pl_text_done(&words);
    return t->sources[0].doubts ? PL_OK : pl_nomem(&run->diags);
}

static pl_code read_all(taking *t)
{
    take_options *o = t->run->options;
    pl_run *run = t->run;
    size_t from = run->diags.count;
    pl_code rc = pl_book_readings(run->arena, t->l->book, t->l->study->name, &t->known,
                                  &run->diags);

    for (size_t i = 0; i < t->count && !rc; i++) {
        t->sources[i].name = pl_file_base(run->args[i + 1]);
        rc = digest_of(run, run->args[i + 1], &t->sources[i].digest);
        if (!rc && o->keep)
            rc = load_file(t, i);
    }
    if (rc)
        return rc;
    rc = o->rig ? read_traces(t, o->rig) : read_forms(t);
    if (!rc)
        rc = pl_take_doubts(run, t->l, &t->known, t->sources, t->count);
    return rc ? rc : count_doubts(t, from);
}

/* Doubts are the user's to settle: nothing is written until somebody says that it is so. */
static pl_code refuse_doubts(taking *t)
{
    pl_run *run = t->run;

    return pl_fail(
        &run->diags, PL_ECONFLICT, t->l->study->name,
        .found = t->ndoubt == 1
                     ? "1 doubtful thing, said above"
                     : pl_arena_printf(run->arena, "%zu doubtful things, said above", t->ndoubt),
        .expected = "files that raise no question",
        .mend = "nothing was written: correct what is wrong; if all of it is right, "
                "--as-written");
}

static pl_code run_take(pl_run *run)
{
    take_options *o = run->options;
    taking t = { .run = run, .count = run->narg - 1 };
    pl_loaded l;
    pl_book *book;
    pl_taken taken;
    bool asks, look;
    pl_code rc = check_options(run);

    if (rc)
        return rc;
    if (o->withdraw)
        return pl_take_back(run, o->withdraw, o->reason);
    rc = pl_load(run, run->args[0], PL_LOAD_PLAN | (o->rig ? PL_LOAD_NEED_RIGS : 0), &l);
    if (rc)
        return rc;
    t.l = &l;
    t.sources = PL_NEWN(run->arena, t.count, pl_source);
    t.traces = PL_NEWN(run->arena, t.count, pl_readings);
    if (!t.sources || !t.traces)
        return pl_nomem(&run->diags);
    rc = read_all(&t);
    asks = !rc && t.ndoubt && !o->as_written && !o->look;
    look = asks || o->look;
    if (!rc)
        rc = pl_book_open(run->arena, run->book, look ? PL_BOOK_READ : PL_BOOK_WRITE, &book,
                          &run->diags);
    if (!rc)
        rc = pl_book_take(book, l.study->name, t.sources, t.count, o->replace, look, &taken,
                          &run->diags);
    if (!rc && asks && (taken.added || taken.replaced || taken.files))
        rc = refuse_doubts(&t);
    return rc ? rc : say_taken(&t, &taken);
}

const pl_verb pl_verb_take = {
    .name = "take",
    .args = "STUDY FILE..., or STUDY --withdraw FILE --reason TEXT",
    .summary = "readings and filled-in forms into the book",
    .words =
        "Takes filled-in forms (known by their header), or with --rig what a rig recorded, into\n"
        "the book: all of it or nothing. The same file twice changes nothing. What contradicts\n"
        "the book is listed and refused unless --replace is given, and so is what is possible but\n"
        "doubtful, unless --as-written is given. A recorded file finds its specimen by\n"
        "--specimen, by the id in its name, or by the form's trace column. A file that is taken\n"
        "back stays in the book, but its readings no longer count; those that they had replaced\n"
        "count again.",
    .examples = "take stair-lap --look sessions.csv glue-ups.csv breaks.csv\n"
                "take stair-lap --as-written sessions.csv glue-ups.csv breaks.csv\n"
                "take stair-lap --rig pull-bench pull-*.csv\n"
                "take stair-lap --look corrected.csv\n"
                "take stair-lap --withdraw pull-K7M3.csv --reason \"the cell had slipped\"\n",
    .options = options,
    .take = take,
    .options_size = sizeof(take_options),
    .least_args = 1,
    .most_args = 4096,
    .run = run_take,
};
