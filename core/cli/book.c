/* platen book: what the shop's book holds, what changed it, and copies of it. */
#include "cli/book.h"

#include "base/file.h"

#include <inttypes.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

typedef struct book_options {
    const char *study;
    bool with_names;
} book_options;

static const struct argp_option options[] = {
    { "study", 1, "NAME", 0, "trail, export: of this study alone", 0 },
    { "with-names", 2, 0, 0, "export --study: the names of operators too", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    book_options *o = run->options;

    if (key == 1)
        o->study = arg;
    else
        o->with_names = true;
    return PL_OK;
}

static char *when(pl_arena *a, int64_t at, bool minutes)
{
    time_t t = (time_t)at;
    struct tm tm;
    char text[32];

    if (!localtime_r(&t, &tm) || !(minutes ? strftime(text, sizeof text, "%Y-%m-%d %H:%M", &tm)
                                           : strftime(text, sizeof text, "%Y-%m-%d", &tm)))
        return pl_arena_str(a, "");
    return pl_arena_str(a, text);
}

static char *day(pl_arena *a, int64_t at)
{
    return when(a, at, false);
}

/* --------------------------------------------------------------- list ------ */

static void list_studies(pl_run *run, const pl_book_study *s, size_t n)
{
    pl_jval *list = pl_jadd_array(run->answer, "studies");

    for (size_t i = 0; i < n; i++) {
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "study", s[i].name);
        pl_jadd_whole(o, "revision", s[i].revision);
        pl_jadd_text(o, "planned", day(run->arena, s[i].made_at));
        pl_jadd_whole(o, "specimens", (long long)s[i].specimens);
        pl_jadd_whole(o, "readings", (long long)s[i].readings);
        pl_jadd_whole(o, "fits", (long long)s[i].fits);
        pl_text_add(&run->text,
                    "study %s: revision %u of %s, %zu specimens, %zu readings, %zu fits\n",
                    s[i].name, s[i].revision, day(run->arena, s[i].made_at), s[i].specimens,
                    s[i].readings, s[i].fits);
    }
}

static void list_rigs(pl_run *run, const pl_book_rig *r, size_t n)
{
    pl_jval *list = pl_jadd_array(run->answer, "rigs");

    for (size_t i = 0; i < n; i++) {
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "name", r[i].name);
        pl_jadd_text(o, "added", day(run->arena, r[i].added_at));
        pl_text_add(&run->text, "rig %s: added %s\n", r[i].name, day(run->arena, r[i].added_at));
    }
}

static pl_code run_list(pl_run *run)
{
    const pl_book_study *studies;
    const pl_book_rig *rigs;
    size_t nstudy, nrig;
    pl_book *book;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);

    if (!rc)
        rc = pl_book_studies(run->arena, book, &studies, &nstudy, &run->diags);
    if (!rc)
        rc = pl_book_rig_list(run->arena, book, &rigs, &nrig, &run->diags);
    if (rc)
        return rc;
    list_studies(run, studies, nstudy);
    list_rigs(run, rigs, nrig);
    return PL_OK;
}

/* -------------------------------------------------------------- trail ------ */

static void say_entry(pl_run *run, pl_jval *list, const pl_entry *e)
{
    pl_jval *o = pl_jadd_object(list, NULL);

    pl_jadd_whole(o, "entry", e->entry);
    pl_jadd_whole(o, "at", e->at);
    pl_jadd_text(o, "what", e->what);
    pl_jadd_text(o, "study", e->study[0] ? e->study : NULL);
    pl_jadd_text(o, "words", e->words);
    pl_jadd_text(o, "who", e->who[0] ? e->who : NULL);
    pl_jadd_text(o, "program", e->program);
    pl_jadd_text(o, "seal", e->seal);
    pl_text_add(&run->text, "%4" PRId64 "  %s  %.12s  %s%s%s: %s%s%s%s\n", e->entry,
                when(run->arena, e->at, true), e->seal, e->what, e->study[0] ? " " : "", e->study,
                pl_text_one_line(run->arena, e->words), e->who[0] ? " (" : "",
                pl_text_one_line(run->arena, e->who), e->who[0] ? ")" : "");
}

static pl_code run_trail(pl_run *run)
{
    book_options *o = run->options;
    const pl_entry *entries;
    pl_jval *list;
    pl_book *book;
    size_t n;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);

    if (!rc)
        rc = pl_book_trail(run->arena, book, o->study, &entries, &n, &run->diags);
    if (rc)
        return rc;
    list = pl_jadd_array(run->answer, "entries");
    for (size_t i = 0; i < n; i++)
        say_entry(run, list, &entries[i]);
    if (!n)
        pl_text_put(&run->text, "Nothing has changed the book yet.\n");
    return PL_OK;
}

/* --------------------------------------------------------------- copy ------ */

static pl_code run_copy(pl_run *run)
{
    pl_book *book;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);

    if (!rc)
        rc = pl_book_copy(book, run->args[1], &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "file", run->args[1]);
    pl_text_add(&run->text, "Copied to %s.\n", run->args[1]);
    return PL_OK;
}

/* ------------------------------------------------------ export and add ----- */

static pl_code run_export(pl_run *run)
{
    book_options *o = run->options;
    pl_book *book;
    pl_code rc;

    if (o->study)
        return pl_run_book_export_study(run, o->study, run->args[1], o->with_names);
    if (o->with_names)
        return pl_usage(run, "--with-names", "an export of everything",
                        "book export --study NAME DIR", "everything holds the names anyway");
    rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);

    if (!rc)
        rc = pl_book_export(book, run->args[1], &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "folder", run->args[1]);
    pl_text_add(&run->text, "Everything in %s is in %s too.\n", run->book, run->args[1]);
    return PL_OK;
}

static pl_code add_all(pl_run *run, pl_book *book)
{
    pl_code rc = pl_book_import(book, run->args[1], &run->diags);

    if (!rc)
        pl_text_add(&run->text, "%s%s holds everything that is in %s.\n",
                    pl_book_created(book) ? "Made a book: " : "", run->book, run->args[1]);
    return rc;
}

static pl_code run_add(pl_run *run)
{
    pl_book *book = NULL;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_CREATE, &book, &run->diags);

    const char *all = pl_file_join(run->arena, run->args[1], "book.json");
    const char *one = pl_file_join(run->arena, run->args[1], "study.json");

    if (!rc && (!all || !one))
        rc = pl_nomem(&run->diags);
    if (!rc && pl_file_exists(run->args[1]) && !pl_file_exists(all) && !pl_file_exists(one))
        rc = pl_fail(&run->diags, PL_ENOFILE, run->args[1],
                     .found = "neither book.json nor study.json in it",
                     .expected = "a folder made by: platen book export",
                     .mend = "a book itself is opened with --book");
    if (!rc && !pl_file_exists(all) && pl_file_exists(one))
        rc = pl_run_book_adopt(run, book, run->args[1]);
    else if (!rc)
        rc = add_all(run, book);
    if (rc && book && pl_book_created(book)) /* a book with nothing in it is not left behind */
        unlink(run->book);
    if (!rc)
        pl_jadd_text(run->answer, "folder", run->args[1]);
    return rc;
}

/* --------------------------------------------------------------- verb ------ */

static const struct {
    const char *name;
    size_t nargs;
    bool takes_study;
    const char *args;
    pl_code (*run)(pl_run *run);
} parts[] = {
    { "list", 1, false, "", run_list },      { "history", 1, false, "", pl_run_book_history },
    { "trail", 1, true, "", run_trail },     { "check", 1, false, "", pl_run_book_check },
    { "copy", 2, false, " FILE", run_copy }, { "export", 2, true, " DIR", run_export },
    { "add", 2, false, " DIR", run_add },
};

static pl_code run_book(pl_run *run)
{
    const size_t n = sizeof parts / sizeof *parts;
    const char *names[sizeof parts / sizeof *parts], *near;
    book_options *o = run->options;

    for (size_t i = 0; i < n; i++) {
        names[i] = parts[i].name;
        if (strcmp(run->args[0], parts[i].name))
            continue;
        if (run->narg != parts[i].nargs)
            return pl_usage(
                run, "", pl_arena_printf(run->arena, "%zu arguments", run->narg),
                pl_arena_printf(run->arena, "platen book %s%s", parts[i].name, parts[i].args),
                "see: platen help book");
        if (o->study && !parts[i].takes_study)
            return pl_usage(run, "--study", pl_arena_printf(run->arena, "book %s", parts[i].name),
                            "book trail, or book export", "");
        return parts[i].run(run);
    }
    near = pl_text_nearest(run->args[0], names, n);
    return pl_usage(run, "", pl_arena_printf(run->arena, "\"%s\"", run->args[0]),
                    pl_text_list(run->arena, names, n, "or"),
                    near ? pl_arena_printf(run->arena, "did you mean \"%s\"?", near) : "");
}

const pl_verb pl_verb_book = {
    .name = "book",
    .args = "list | history | trail | check | copy FILE | export DIR | add DIR",
    .summary = "what the shop's book holds, and whether it is whole",
    .words =
        "list: the studies and rigs in the shop's book. history: how far joints made alike "
        "differed\n"
        "in its studies, by wood, adhesive and rig. trail: everything that changed it, with when,\n"
        "who (PLATEN_WHO, where it is set) and the seal that chains each entry to the one before.\n"
        "check: the file, every row, the trail, kept files, and every kept fit made again\n"
        "from the readings of its day. copy: a whole copy, also while another run is writing.\n"
        "export: everything as CSV and JSON, byte for byte; with --study one study, to publish or\n"
        "to repeat. add: an export of everything into a new book, or of one study into any.",
    .examples = "book list\n"
                "book history\n"
                "book trail --study stair-lap\n"
                "book check\n"
                "book copy kept/shop.book\n"
                "book export everything\n"
                "book export --study stair-lap stair-lap-2027\n"
                "book add everything --book other.book\n",
    .parts = "list history trail check copy export add",
    .options = options,
    .take = take,
    .options_size = sizeof(book_options),
    .least_args = 1,
    .most_args = 2,
    .run = run_book,
};
