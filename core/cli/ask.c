/* platen ask: a dozen questions, each answer checked at once, and a study file
 * made of them. The one verb that talks while it runs: questions go to standard
 * error where somebody types; answers come from standard input in any case. */
#include "cli/ask.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/file.h"
#include "cli/verb.h"

typedef struct ask_options {
    const char *like, *to;
} ask_options;

enum { KEY_LIKE = 1, KEY_TO };

static const struct argp_option options[] = {
    { "like", KEY_LIKE, "FILE", 0, "begin from this study: its figures are offered", 0 },
    { "to", KEY_TO, "DIR", 0, "the folder to write into (else the current one)", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    ask_options *o = run->options;

    *(key == KEY_LIKE ? &o->like : &o->to) = arg;
    return PL_OK;
}

typedef struct talk {
    pl_run *run;
    pl_asking k;
    const char *text; /* of k.study */
    pl_jval *said;
    bool typed; /* somebody sits at a terminal */
    unsigned asked;
    size_t line; /* of standard input */
} talk;

/* -------------------------------------------------------- in and out -------- */

#define ANSWER_MOST 4000 /* bytes; the reader's own limits are tighter */

/* NULL at the end of the answers, with a refusal. */
static char *read_answer(talk *t, const char *words)
{
    char *got = NULL, *kept = NULL;
    size_t room = 0;
    ssize_t n;

    t->line++;
    n = getline(&got, &room, stdin);
    if (n >= 0) {
        while (n && strchr("\r\n \t", got[n - 1]))
            got[--n] = '\0';
        kept = n <= ANSWER_MOST && !memchr(got, '\0', (size_t)n)
                   ? pl_arena_str(t->run->arena, got + strspn(got, " \t"))
                   : NULL;
    }
    free(got);
    if (n < 0)
        pl_fail(&t->run->diags, PL_EVALUE, "standard input",
                .found = pl_arena_printf(t->run->arena, "an end after %zu answer%s", t->line - 1,
                                         t->line == 2 ? "" : "s"),
                .expected = pl_arena_printf(t->run->arena, "an answer to: %s", words),
                .mend = "an empty line takes what is offered; nothing was written");
    else if (!kept)
        pl_fail(&t->run->diags, PL_EVALUE, "standard input", .found = "a line that is no text",
                .expected = "one line of text");
    return kept;
}

static void show_question(talk *t, const char *words, const char *preset)
{
    if (!t->typed)
        return;
    fprintf(stderr, "\n%u. %s\n", t->asked, words);
    if (preset && preset[0])
        fprintf(stderr, "   [%s]\n", preset);
    fputs("> ", stderr);
}

/* What is wrong with an answer: said and asked again at a terminal, else a refusal
 * with the line's number. */
static pl_code fault(talk *t, const char *answer, const pl_diags *faults)
{
    pl_diags *all = &t->run->diags;
    pl_code rc = pl_diags_code(faults, 0);

    if (rc == PL_ENOMEM)
        return pl_nomem(all);
    for (size_t i = 0; i < faults->count; i++) {
        const pl_diag *d = &faults->items[i];
        pl_diag said = { .code = d->code,
                         .severity = d->severity,
                         .where = pl_arena_printf(t->run->arena, "answer %zu", t->line),
                         .pointer = t->typed ? "" : d->pointer,
                         .found = d->found[0] ? d->found : answer,
                         .expected = d->expected,
                         .mend = d->mend };

        if (d->severity != PL_REFUSED)
            continue;
        if (t->typed)
            fprintf(stderr, "%s\n", pl_diag_text(t->run->arena, &said));
        else
            (void)pl_diags_add(all, said);
    }
    return t->typed ? PL_OK : rc;
}

/* -------------------------------------------------------- one question ------- */

static void note_answer(talk *t, const char *key, const char *answer, bool offered)
{
    pl_jval *o = pl_jadd_object(t->said, NULL);

    pl_jadd_text(o, "question", key);
    pl_jadd_text(o, "answer", answer);
    pl_jadd_bool(o, "offered", offered);
}

static pl_code begin_draft(talk *t, pl_draft *d)
{
    *d = (pl_draft){ .a = t->run->arena, .text = t->text };
    pl_diags_init(&d->faults, t->run->arena);
    return PL_OK;
}

/* PL_OK with *taken false: asked again. */
static pl_code try_answer(talk *t, const pl_question_asked *q, const char *answer, bool *taken)
{
    const pl_study *study;
    pl_draft d;
    char *own = pl_arena_str(t->run->arena, answer);

    begin_draft(t, &d);
    if (!own)
        return pl_nomem(&t->run->diags);
    q->put(&t->k, &d, own);
    *taken = !pl_draft_read(&d, &study);
    if (!*taken)
        return fault(t, answer, &d.faults);
    t->text = d.text;
    t->k.study = study;
    return PL_OK;
}

static pl_code ask(talk *t, const pl_question_asked *q)
{
    const char *words = q->each_factor
                            ? pl_arena_printf(t->run->arena, "%s %s, with commas between?",
                                              q->words, t->k.study->factors[t->k.level].name)
                            : q->words;
    const char *preset = q->preset(&t->k), *answer;
    bool taken = false, put;
    pl_code rc = PL_OK;

    t->asked++;
    while (!taken && !rc) {
        show_question(t, words, preset);
        answer = read_answer(t, words);
        if (!answer)
            return pl_diags_code(&t->run->diags, 0);
        put = answer[0] || (preset && q->missing && q->missing(&t->k));
        if (put)
            rc = try_answer(t, q, answer[0] ? answer : preset, &taken);
        else
            taken = true;
        if (taken)
            note_answer(t, q->key, answer[0] ? answer : preset, !answer[0]);
    }
    return rc;
}

static pl_code ask_levels(talk *t, const pl_question_asked *q)
{
    pl_code rc = PL_OK;

    for (size_t i = 0; i < t->k.study->nfactor && !rc; i++) {
        t->k.level = i;
        if (!t->k.study->factors[i].comes_with_board)
            rc = ask(t, q);
    }
    t->k.level = 0;
    return rc;
}

/* --------------------------------------------------------- from what --------- */

/* A file, or the name of a study that was installed with the program. */
static pl_code begin_like(talk *t, const char *like, char **text, size_t *length)
{
    pl_arena *a = t->run->arena;
    const char *installed = pl_arena_printf(a, PL_PREFIX "/share/platen/designs/%s.json",
                                            pl_file_base(like));
    const char *with_end = pl_arena_printf(a, "%s.json", like);

    if (!installed || !with_end)
        return pl_nomem(&t->run->diags);
    if (!pl_file_exists(like) && pl_file_exists(with_end))
        like = with_end;
    else if (!pl_file_exists(like) && pl_file_exists(installed))
        like = installed;
    t->k.like = like;
    return pl_file_read(a, like, text, length, &t->run->diags);
}

static pl_code begin_aim(talk *t, char **text, size_t *length)
{
    static const char words[] = "What do you want to find out?\n"
                                "   1: from which pressure on squeezing harder stops helping\n"
                                "   2: whether joints made in different ways differ in strength";
    char *begun = NULL;

    t->asked++;
    while (!begun) {
        const char *answer;

        show_question(t, words, "1");
        answer = read_answer(t, words);
        if (!answer)
            return pl_diags_code(&t->run->diags, 0);
        begun = pl_ask_begin(t->run->arena, answer[0] ? answer : "1");
        if (!begun) {
            pl_diags faults;
            pl_code rc;

            pl_diags_init(&faults, t->run->arena);
            pl_fail(&faults, PL_EVALUE, "",
                    .found = pl_arena_printf(t->run->arena, "\"%s\"", answer),
                    .expected = "1 or 2");
            rc = fault(t, answer, &faults);
            if (rc)
                return rc;
        } else {
            note_answer(t, "aim", answer[0] ? answer : "1", !answer[0]);
        }
    }
    *text = begun;
    *length = strlen(begun);
    return PL_OK;
}

/* The study begun from, under its new name; its title and note were another's. */
static pl_code begin(talk *t, const char *name, const char *like)
{
    char *text = NULL;
    size_t length = 0;
    pl_draft d;
    pl_code rc = like ? begin_like(t, like, &text, &length) : begin_aim(t, &text, &length);

    if (!rc && like) /* its faults in its own name and lines */
        rc = pl_study_parse(t->run->arena, pl_file_base(t->k.like), text, length, &t->k.study,
                            &t->run->diags);
    if (rc)
        return rc;
    begin_draft(t, &d);
    d.text = text;
    pl_draft_text(&d, "study", name);
    pl_draft_drop(&d, "title");
    pl_draft_text(&d, "note",
                  like ? pl_arena_printf(t->run->arena, "Begun from %s with platen ask.",
                                         pl_file_base(t->k.like))
                       : "Begun with platen ask. Change what you like: platen check says what it "
                         "means, and docs/study-file.md what else may stand here.");
    rc = pl_draft_read(&d, &t->k.study);
    t->text = d.text;
    if (rc) /* only the name can be wrong by now */
        for (size_t i = 0; i < d.faults.count; i++)
            (void)pl_diags_add(&t->run->diags, d.faults.items[i]);
    return rc;
}

static pl_code look_before(pl_run *run, const char *name, const char *path)
{
    if (!pl_text_is_name(name))
        return pl_usage(run, "", pl_arena_printf(run->arena, "\"%s\"", name),
                        "a name for the study: a-z, 0-9 and hyphens", "");
    if (!path)
        return pl_nomem(&run->diags);
    if (pl_file_exists(path))
        return pl_fail(&run->diags, PL_EWRITE, path, .found = "a file that is there already",
                       .expected = "a new name",
                       .mend = "another name, or --to another folder: a study is never written "
                               "over");
    return PL_OK;
}

static pl_code run_ask(pl_run *run)
{
    ask_options *o = run->options;
    const char *name = run->args[0], *path;
    talk t = { .run = run, .k = { .a = run->arena }, .typed = isatty(STDIN_FILENO) };
    pl_code rc;

    path = pl_arena_printf(run->arena, "%s.json", name);
    if (o->to && path)
        path = pl_file_join(run->arena, o->to, path);
    rc = look_before(run, name, path);
    t.said = pl_jadd_array(run->answer, "answers");
    if (!rc)
        rc = begin(&t, name, o->like);
    for (size_t i = 0; i < pl_nquestions && !rc; i++)
        if (!pl_questions[i].asked || pl_questions[i].asked(&t.k))
            rc = pl_questions[i].each_factor ? ask_levels(&t, &pl_questions[i])
                                             : ask(&t, &pl_questions[i]);
    if (!rc && o->to)
        rc = pl_file_folder(o->to, &run->diags);
    if (!rc)
        rc = pl_file_write(path, t.text, strlen(t.text), false, &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "file", path);
    pl_text_put(&run->text, pl_study_words(run->arena, t.k.study));
    pl_text_add(&run->text, "\nWritten to %s. Next: platen check %s\n", path, path);
    return PL_OK;
}

const pl_verb pl_verb_ask = {
    .name = "ask",
    .args = "NAME",
    .summary = "a dozen questions or so, and a study file of the answers",
    .words =
        "Asks what you want to find out, what you glue, press and break, and writes NAME.json.\n"
        "An empty answer takes what is offered; each answer is checked at once. Answers may\n"
        "also come from a file, one a line: platen ask NAME < answers.txt. A file that is\n"
        "there is never written over.",
    .examples = "ask my-joint\n"
                "ask my-stairs --like stair-lap\n"
                "ask my-door <answers.txt\n",
    .options = options,
    .take = take,
    .options_size = sizeof(ask_options),
    .least_args = 1,
    .most_args = 1,
    .run = run_ask,
};
