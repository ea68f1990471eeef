/* The program: finds the verb, frames its run, prints what it said. Nothing
 * below cli prints or exits. */
#include <gsl/gsl_errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#include "cli/curve_child.h"
#include "cli/help_page.h"
#include "design/onset.h"
#include "page/terminal.h"

#define COLUMNS_LEAST 40
#define COLUMNS_MOST 80

const pl_verb *const pl_verbs[] = {
    &pl_verb_ask,  &pl_verb_check, &pl_verb_size, &pl_verb_plan, &pl_verb_sheet,
    &pl_verb_due,  &pl_verb_take,  &pl_verb_mark, &pl_verb_fit,  &pl_verb_report,
    &pl_verb_next, &pl_verb_rig,   &pl_verb_book, &pl_verb_help,
};
const size_t pl_nverbs = sizeof pl_verbs / sizeof pl_verbs[0];
_Static_assert(sizeof pl_verbs / sizeof pl_verbs[0] <= PL_VERBS_MOST, "room for their names");

void pl_verb_names(const char **names)
{
    for (size_t i = 0; i < pl_nverbs; i++)
        names[i] = pl_verbs[i]->name;
}

pl_code pl_usage(pl_run *run, const char *where, const char *found, const char *expected,
                 const char *mend)
{
    return pl_fail(&run->diags, PL_EUSAGE, where, .found = found, .expected = expected,
                   .mend = mend);
}

pl_code pl_texts_add(pl_run *run, pl_texts *t, const char *arg)
{
    if (t->count == t->room) {
        size_t room = t->room ? 2 * t->room : 8;
        const char **items = pl_arena_grow(run->arena, t->items, t->count, room, sizeof *items);

        if (!items)
            return pl_nomem(&run->diags);
        t->items = items;
        t->room = room;
    }
    t->items[t->count++] = arg;
    return PL_OK;
}

pl_code pl_take_whole(pl_run *run, const char *option, const char *arg, long long low,
                      long long high, long long *out)
{
    if (pl_text_to_whole(arg, low, high, out))
        return PL_OK;
    return pl_usage(run, option, pl_arena_printf(run->arena, "\"%s\"", arg),
                    pl_arena_printf(run->arena, "a whole number from %lld to %lld", low, high), "");
}

/* ------------------------------------------------------------ options ------ */

/* Long options are looked at before argp sees them: argp would print and exit
 * in words of its own. */
static bool option_known(const struct argp_option *o, const char *name, size_t n)
{
    for (; o && o->name; o++)
        if (strlen(o->name) == n && !strncmp(o->name, name, n))
            return true;
    return false;
}

static size_t option_names(const struct argp_option *o, const char **names, size_t n)
{
    for (; o && o->name && n < 64; o++)
        names[n++] = o->name;
    return n;
}

static pl_code look_at_options(pl_run *run, int argc, char **argv)
{
    const char *names[64];
    size_t nname = option_names(pl_common_options, names,
                                option_names(run->verb->options, names, 0));
    pl_code rc = PL_OK;

    for (int i = 1; i < argc && strcmp(argv[i], "--"); i++) {
        const char *name = argv[i] + 2, *nearest;
        size_t n = strcspn(name, "=");

        if (argv[i][0] != '-' || !argv[i][1])
            continue;
        if (argv[i][1] == '-' &&
            (option_known(pl_common_options, name, n) || option_known(run->verb->options, name, n)))
            continue;
        if (argv[i][1] != '-' && strspn(argv[i] + 1, "0123456789.") == strlen(argv[i] + 1))
            continue; /* a negative number is somebody's argument */
        nearest = argv[i][1] == '-'
                      ? pl_text_nearest(pl_arena_strn(run->arena, name, n), names, nname)
                      : NULL;
        rc = pl_usage(run, "", pl_arena_printf(run->arena, "unknown option \"%s\"", argv[i]), "",
                      nearest
                          ? pl_arena_printf(run->arena, "did you mean --%s?", nearest)
                          : pl_arena_printf(run->arena, "see: platen help %s", run->verb->name));
    }
    return rc;
}

typedef struct parsing {
    pl_run *run;
    pl_code rc;
    bool help;
} parsing;

static error_t take_option(int key, char *arg, struct argp_state *state)
{
    parsing *p = state->input;
    pl_run *run = p->run;
    pl_code rc = PL_OK;

    switch (key) {
    case PL_KEY_JSON:
        run->json = true;
        break;
    case PL_KEY_BOOK:
        run->book = arg;
        break;
    case PL_KEY_PLUGIN:
        rc = pl_rigs_plugin(run->arena, arg, &run->diags);
        break;
    case PL_KEY_HELP:
        p->help = true;
        break;
    case ARGP_KEY_ARG:
        run->args[run->narg++] = arg;
        break;
    default:
        if (key == ARGP_KEY_INIT || key == ARGP_KEY_SUCCESS || key == ARGP_KEY_END ||
            key == ARGP_KEY_NO_ARGS || key == ARGP_KEY_FINI || key == ARGP_KEY_ERROR ||
            key == ARGP_KEY_ARGS)
            return ARGP_ERR_UNKNOWN;
        rc = run->verb->take ? run->verb->take(run, key, arg) : PL_EUSAGE;
    }
    if (rc && !p->rc)
        p->rc = rc;
    return 0;
}

static pl_code parse_options(pl_run *run, int argc, char **argv, bool *help)
{
    struct argp_option all[64] = { 0 };
    size_t n = 0;
    parsing p = { .run = run };
    pl_code rc;

    for (const struct argp_option *o = run->verb->options; o && o->name && n < 60; o++)
        all[n++] = *o;
    for (const struct argp_option *o = pl_common_options; o->name; o++)
        all[n++] = *o;
    for (int i = 1; i < argc; i++) /* known before anything can go wrong */
        run->json |= !strcmp(argv[i], "--json");
    rc = look_at_options(run, argc, argv);
    if (rc)
        return rc;
    run->args = PL_NEWN(run->arena, (size_t)argc + 1, const char *);
    if (!run->args)
        return pl_nomem(&run->diags);
    if (argp_parse(&(struct argp){ .options = all, .parser = take_option }, argc, argv,
                   ARGP_NO_EXIT | ARGP_NO_ERRS | ARGP_NO_HELP, NULL, &p))
        return pl_usage(run, "", "an option without its argument", "",
                        pl_arena_printf(run->arena, "see: platen help %s", run->verb->name));
    *help = p.help;
    if (p.help || p.rc)
        return p.rc;
    if (run->narg < run->verb->least_args || run->narg > run->verb->most_args)
        return pl_usage(
            run, "",
            pl_arena_printf(run->arena, "%zu argument%s", run->narg, run->narg == 1 ? "" : "s"),
            pl_arena_printf(run->arena, "platen %s %s", run->verb->name, run->verb->args),
            pl_arena_printf(run->arena, "see: platen help %s", run->verb->name));
    return PL_OK;
}

/* ------------------------------------------------------------- the end ----- */

/* Columns to fold at: of a terminal, but no wider than is good to read; elsewhere none,
 * so that whoever searches or keeps an answer finds whole lines. */
static size_t columns_of(int fd)
{
    struct winsize size = { 0 };

    if (!isatty(fd))
        return 0;
    if (ioctl(fd, TIOCGWINSZ, &size) || size.ws_col < COLUMNS_LEAST || size.ws_col > COLUMNS_MOST)
        return COLUMNS_MOST;
    return size.ws_col;
}

/* NO_COLOR: no-color.org; set and not empty. */
static bool may_be_bright(int fd)
{
    const char *no = getenv("NO_COLOR"), *term = getenv("TERM");

    return isatty(fd) && !(no && no[0]) && term && strcmp(term, "dumb") != 0;
}

static void print_findings(const pl_run *run)
{
    size_t width = columns_of(STDERR_FILENO);

    for (size_t i = 0; i < run->diags.count; i++) {
        const char *text = pl_diag_text(run->arena, &run->diags.items[i]);

        text = text ? pl_terminal_text(run->arena, text, width, false) : NULL;
        fprintf(stderr, "%s\n", text ? text : "out of memory");
    }
    if (run->diags.dropped)
        fprintf(stderr, "and %zu more findings\n", run->diags.dropped);
    if (run->diags.out_of_memory)
        fprintf(stderr, "%s\n", pl_code_text(PL_ENOMEM));
}

/* Every answer has these two, also one that got no further than the options. */
static void add_study(pl_run *run)
{
    static const char *const keys[] = { "study", "revision" };

    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (!pl_jhas(run->answer, keys[i]))
            pl_jadd_null(run->answer, keys[i]);
}

static bool print_piece(void *context, const char *bytes, size_t n)
{
    return fwrite(bytes, 1, n, context) == n;
}

/* Prints and gives the exit status. The answer is printed only when all of it
 * was made; a full disk or a closed pipe is an error too. */
static int finish(pl_run *run, pl_code rc)
{
    pl_code found = pl_diags_code(&run->diags, 0);
    bool written, made = true;

    if (!rc)
        rc = found;
    pl_diags_sort(&run->diags);
    if (run->json) {
        add_study(run);
        pl_jadd_findings(run->answer, &run->diags);
        made = pl_jmade(run->answer);
        written = made && pl_jeach(run->answer, print_piece, stdout);
    } else {
        char *out;

        print_findings(run);
        out = pl_text_done(&run->text);
        if (out) { /* names and notes in it are anybody's */
            pl_text_harmless(out);
            out = pl_terminal_text(run->arena, out, columns_of(STDOUT_FILENO),
                                   may_be_bright(STDOUT_FILENO));
        }
        made = out;
        written = made && fputs(out, stdout) >= 0;
    }
    if (!made) {
        fprintf(stderr, "%s\n", pl_code_text(PL_ENOMEM));
        return pl_code_exit(PL_ENOMEM);
    }
    if (!written || fflush(stdout)) {
        fprintf(stderr, "the answer could not be written to standard output\n");
        return pl_code_exit(PL_EWRITE);
    }
    return pl_code_exit(rc);
}

static int run_verb(const pl_verb *verb, int argc, char **argv)
{
    pl_run run = { .verb = verb, .arena = pl_arena_new(0) };
    const char *book = getenv("PLATEN_BOOK");
    bool help = false;
    pl_code rc;
    int status;

    if (!run.arena) {
        fprintf(stderr, "%s\n", pl_code_text(PL_ENOMEM));
        return pl_code_exit(PL_ENOMEM);
    }
    run.book = book && book[0] ? book : "platen.book";
    pl_diags_init(&run.diags, run.arena);
    pl_text_init(&run.text, run.arena);
    run.answer = pl_jobject(run.arena);
    run.options = pl_arena_get(run.arena, 1, verb->options_size);
    pl_jadd_whole(run.answer, "format", 1);
    pl_jadd_text(run.answer, "verb", verb->name);
    rc = run.answer && run.options ? parse_options(&run, argc, argv, &help) : pl_nomem(&run.diags);
    if (!rc && help) {
        run.json = false;
        pl_print_help(verb, &run.text);
    } else if (!rc) {
        rc = verb->run(&run);
    }
    status = finish(&run, rc);
    pl_arena_free(run.arena);
    return status;
}

/* Refuses what was typed in place of a verb; --json is looked for by hand, for
 * without a verb no options are known. */
static int no_such_verb(int argc, char **argv)
{
    const char *names[PL_VERBS_MOST], *nearest;
    pl_run run = { .arena = pl_arena_new(0) };
    int status;
    pl_code rc;

    if (!run.arena)
        return pl_code_exit(PL_ENOMEM);
    pl_diags_init(&run.diags, run.arena);
    pl_text_init(&run.text, run.arena);
    run.answer = pl_jobject(run.arena);
    pl_jadd_whole(run.answer, "format", 1);
    pl_jadd_null(run.answer, "verb");
    for (int i = 1; i < argc; i++)
        run.json |= !strcmp(argv[i], "--json");
    pl_verb_names(names);
    nearest = pl_text_nearest(argv[1], names, pl_nverbs);
    rc = pl_usage(
        &run, "", pl_arena_printf(run.arena, "no verb \"%s\"", argv[1]),
        pl_arena_printf(run.arena, "one of %s", pl_text_list(run.arena, names, pl_nverbs, "and")),
        nearest ? pl_arena_printf(run.arena, "did you mean \"%s\"?", nearest)
                : "see: platen --help");
    status = finish(&run, rc);
    pl_arena_free(run.arena);
    return status;
}

int main(int argc, char **argv)
{
    pl_rigs_services(&pl_curve_services);
    pl_study_place_levels_by(pl_onset_levels);
    if (argc > 1 && !strcmp(argv[1], PL_RIG_CHILD_ARG))
        return pl_rigs_child_main(argc, argv);
    gsl_set_error_handler_off();
    tzset();
    if (argc < 2 || !strcmp(argv[1], "--help") || !strcmp(argv[1], "-h")) {
        static char help[] = "help", *as_verb[] = { help, NULL };
        int status = run_verb(&pl_verb_help, 1, as_verb);

        return argc < 2 ? pl_code_exit(PL_EUSAGE) : status;
    }
    if (!strcmp(argv[1], "--version")) {
        printf("platen %s\n", PL_VERSION);
        return 0;
    }
    for (size_t i = 0; i < pl_nverbs; i++)
        if (!strcmp(argv[1], pl_verbs[i]->name))
            return run_verb(pl_verbs[i], argc - 1, argv + 1);
    return no_such_verb(argc, argv);
}
