/* Verbs: one file each, and the frame that every one of them runs in. */
#ifndef PL_CLI_VERB_H
#define PL_CLI_VERB_H

#include <argp.h>
#include <stdbool.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/json.h"
#include "base/text.h"

/* Texts that an option may repeat. */
typedef struct pl_texts {
    const char **items;
    size_t count, room;
} pl_texts;

/* One run of one verb. Everything it allocates lives in the arena; what it
 * says goes into text (stdout) or answer (--json), and into diags. */
typedef struct pl_run {
    const struct pl_verb *verb;
    pl_arena *arena;
    pl_diags diags;
    bool json, plot;
    pl_texts plot_to;  /* files to draw into: picture.h */
    bool plot_replace; /* though they are there */
    pl_jval *pictures; /* those written, in the answer; NULL: none yet */
    const char *book;  /* --book, PLATEN_BOOK or platen.book; never NULL */
    const char **args; /* what is left after the options */
    size_t narg;
    pl_text text;    /* the plain answer */
    pl_jval *answer; /* the JSON answer; format, verb and findings are the frame's */
    void *options;   /* the verb's own, zeroed, verb->options_size bytes */
    /* The book as it was after this entry of its trail, and a study file's text in place
     * of a file: for remaking what was made then. 0 and NULL: neither. */
    int64_t as_of;
    const char *asked;
} pl_run;

typedef struct pl_verb {
    const char *name, *args, *summary;
    const char *words;                 /* a paragraph for --help: what it does, in shop words */
    const char *examples;              /* a line each, without "platen " */
    const char *parts;                 /* what its first argument may be, "list show add" */
    const struct argp_option *options; /* the verb's own; ends with {0}; may be NULL */
    /* Takes one option; returns PL_EUSAGE after a finding when arg will not do. */
    pl_code (*take)(pl_run *run, int key, const char *arg);
    size_t options_size;
    size_t least_args, most_args;
    pl_code (*run)(pl_run *run);
} pl_verb;

extern const pl_verb pl_verb_ask, pl_verb_check, pl_verb_size, pl_verb_plan, pl_verb_sheet,
    pl_verb_due, pl_verb_take, pl_verb_mark, pl_verb_fit, pl_verb_report, pl_verb_next, pl_verb_rig,
    pl_verb_book, pl_verb_help;
extern const pl_verb *const pl_verbs[];
extern const size_t pl_nverbs;
#define PL_VERBS_MOST 32
void pl_verb_names(const char **names); /* pl_nverbs of them */

/* A refusal of an option's argument: what was typed and what was expected. */
pl_code pl_usage(pl_run *run, const char *where, const char *found, const char *expected,
                 const char *mend);

/* Appends arg to a list. */
pl_code pl_texts_add(pl_run *run, pl_texts *t, const char *arg);

/* A whole number option: 0 <= x < 2^53 for seeds, or [low, high]. */
pl_code pl_take_whole(pl_run *run, const char *option, const char *arg, long long low,
                      long long high, long long *out);

#endif
