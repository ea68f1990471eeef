/* Help for the terminal and for man(1), from the verbs' own tables. Completion is
 * made in help_shells.c. */
#include <string.h>

#include "cli/help_page.h"

const struct argp_option pl_common_options[] = {
    { "json", PL_KEY_JSON, 0, 0, "answer as one JSON object", 0 },
    { "book", PL_KEY_BOOK, "FILE", 0, "the shop's book (else PLATEN_BOOK, else ./platen.book)", 0 },
    { "plugin", PL_KEY_PLUGIN, "FILE", 0, "a plugin by its file, for this once (again for more)",
      0 },
    { "help", PL_KEY_HELP, 0, 0, "this page", 0 },
    { 0 },
};

/* "line\nline\n", one at a time; false at the end. */
static bool next_line(const char **at, const char **line, size_t *n)
{
    *line = *at;
    *n = strcspn(*at, "\n");
    *at += *n + ((*at)[*n] == '\n');
    return *n > 0;
}

/* ------------------------------------------------------------- terminal ---- */

static void print_options(pl_text *out, const struct argp_option *o)
{
    for (; o && o->name; o++) {
        pl_text head;

        pl_text_init(&head, out->arena);
        pl_text_add(&head, "  --%s%s%s", o->name, o->arg ? " " : "", o->arg ? o->arg : "");
        pl_text_add(out, "%-28s %s\n", pl_text_done(&head), o->doc);
    }
}

void pl_print_help(const pl_verb *verb, pl_text *out)
{
    const char *at = verb->examples, *line;
    size_t n;

    pl_text_add(out, "platen %s %s\n\n%s\n\n", verb->name, verb->args, verb->words);
    print_options(out, verb->options);
    print_options(out, pl_common_options);
    pl_text_put(out, "\n");
    while (next_line(&at, &line, &n))
        pl_text_add(out, "  platen %.*s\n", (int)n, line);
}

void pl_print_verbs(pl_text *out)
{
    pl_text_put(out, "platen: glue joints, press them, break them, and get an honest figure.\n\n"
                     "  platen VERB [OPTIONS] ...\n\n");
    for (size_t i = 0; i < pl_nverbs; i++)
        pl_text_add(out, "  %-8s %s\n", pl_verbs[i]->name, pl_verbs[i]->summary);
    pl_text_put(out, "\n  platen help VERB     what a verb does, its options, and examples\n"
                     "  platen help words    the terms, two lines each\n"
                     "  platen --version\n\n"
                     "Exit: 0 done; 1 the study or data cannot support what was asked; 2 wrong\n"
                     "usage; 3 bad input file; 4 a plugin failed; 5 book or file not written.\n");
}

/* ------------------------------------------------------------------ man ---- */

/* What roff would take for its own: backslashes, hyphens that are to be typed, quotes
 * that it would curl, and a point or an apostrophe where a line begins. */
static void put_roff(pl_text *out, const char *s, size_t n)
{
    bool begins = true;

    for (size_t i = 0; i < n; i++) {
        if (begins && (s[i] == '.' || s[i] == '\''))
            pl_text_put(out, "\\&");
        begins = s[i] == '\n';
        switch (s[i]) {
        case '\\':
            pl_text_put(out, "\\e");
            break;
        case '-':
            pl_text_put(out, "\\-");
            break;
        case '\'':
            pl_text_put(out, "\\(aq");
            break;
        case '"':
            pl_text_put(out, "\\(dq");
            break;
        default:
            pl_text_bytes(out, s + i, 1);
        }
    }
}

static void man_options(pl_text *out, const struct argp_option *o)
{
    for (; o && o->name; o++) {
        pl_text_put(out, ".TP\n\\fB\\-\\-");
        put_roff(out, o->name, strlen(o->name));
        pl_text_put(out, "\\fR");
        if (o->arg) {
            pl_text_put(out, " \\fI");
            put_roff(out, o->arg, strlen(o->arg));
            pl_text_put(out, "\\fR");
        }
        pl_text_put(out, "\n");
        put_roff(out, o->doc, strlen(o->doc));
        pl_text_put(out, "\n");
    }
}

static void man_verb(pl_text *out, const pl_verb *v)
{
    const char *at = v->examples, *line;
    size_t n;

    pl_text_add(out, ".SS %s\n\\fBplaten %s\\fR ", v->name, v->name);
    put_roff(out, v->args, strlen(v->args));
    pl_text_put(out, "\n.PP\n");
    put_roff(out, v->words, strlen(v->words));
    pl_text_put(out, "\n");
    man_options(out, v->options);
    pl_text_put(out, ".PP\n.nf\n");
    while (next_line(&at, &line, &n)) {
        pl_text_put(out, "platen ");
        put_roff(out, line, n);
        pl_text_put(out, "\n");
    }
    pl_text_put(out, ".fi\n");
}

static const char man_tail[] =
    ".SH ENVIRONMENT\n"
    ".TP\n\\fBPLATEN_BOOK\\fR\nthe shop\\(aqs book, where \\-\\-book is not given\n"
    ".TP\n\\fBPLATEN_PLUGINS\\fR\nfolders of plugins, parted by colons, looked into first\n"
    ".TP\n\\fBPLATEN_WHO\\fR\nwho runs the program, for the book\\(aqs trail; may be left out\n"
    ".TP\n\\fBNO_COLOR\\fR\nno colours in the terminal\n"
    ".SH EXIT STATUS\n"
    ".TP\n0\ndone\n"
    ".TP\n1\nthe study or data cannot support what was asked\n"
    ".TP\n2\nwrong usage\n"
    ".TP\n3\nbad input file\n"
    ".TP\n4\na plugin failed\n"
    ".TP\n5\nbook or file not written\n"
    ".SH CAUTIONS\n"
    "Presses, cylinders and breaking rigs hold energy. Never go above a rated limit; wear eye\n"
    "protection; keep hands out; follow local codes. Results hold for the specimens and the\n"
    "procedure tried and are no design values.\n";

void pl_print_man(pl_text *out)
{
    pl_text_add(out, ".TH PLATEN 1 \"\" \"platen %s\" \"\"\n", PL_VERSION);
    pl_text_put(out,
                ".SH NAME\nplaten \\- plan, take and judge tests of pressed and glued joints\n"
                ".SH SYNOPSIS\n\\fBplaten\\fR \\fIVERB\\fR [\\fIOPTIONS\\fR] ...\n"
                ".SH DESCRIPTION\n"
                "From a question about glued joints to a figure that can be relied on: how many\n"
                "to make, at which pressures and in which order; sheets for the bench; readings\n"
                "from any rig; an answer in words.\n"
                ".SH OPTIONS OF EVERY VERB\n");
    man_options(out, pl_common_options);
    pl_text_put(out, ".SH VERBS\n");
    for (size_t i = 0; i < pl_nverbs; i++)
        man_verb(out, pl_verbs[i]);
    pl_text_put(out, man_tail);
}
