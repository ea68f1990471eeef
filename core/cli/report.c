/* platen report: the page of a study. */
#include <string.h>

#include "base/file.h"
#include "cli/study_fit.h"

typedef struct report_options {
    const char *to;
    bool replace;
} report_options;

enum { KEY_TO = 1, KEY_REPLACE };

static const struct argp_option options[] = {
    { "to", KEY_TO, "FILE", 0, "the file to write (else ./STUDY-rREVISION/report.html)", 0 },
    { "replace", KEY_REPLACE, 0, 0, "write over a report that is there", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    report_options *o = run->options;

    if (key == KEY_TO)
        o->to = arg;
    else
        o->replace = true;
    return PL_OK;
}

static pl_code default_path(pl_run *run, const pl_loaded *l, const char **path)
{
    char *folder = pl_arena_printf(run->arena, "%s-r%u", l->study->name, l->plan->revision);
    pl_code rc = folder ? pl_file_folder(folder, &run->diags) : pl_nomem(&run->diags);

    if (!rc)
        *path = pl_file_join(run->arena, folder, "report.html");
    return rc;
}

/* The seal of the last entry of the trail that was seen: it seals all before it. */
static pl_code seal_of(pl_run *run, const pl_loaded *l, const char **seal)
{
    const pl_entry *entries = NULL;
    size_t n = 0;
    pl_code rc = pl_book_trail(run->arena, l->book, NULL, &entries, &n, &run->diags);

    for (size_t i = 0; i < n && !rc; i++)
        if (entries[i].entry == l->seen)
            *seal = entries[i].seal;
    return rc;
}

/* From what, by what, and how to make them again. */
static pl_code add_origins(pl_run *run, const pl_loaded *l, pl_fit_answer *f)
{
    pl_origin *o = PL_NEWN(run->arena, 6, pl_origin);
    const char **again = PL_NEWN(run->arena, 3, const char *), *seal = "";
    const char *study = l->asked ? run->args[0] : l->study->name;
    pl_arena *a = run->arena;
    pl_code rc = seal_of(run, l, &seal);

    if (rc)
        return rc;
    if (!o || !again)
        return pl_nomem(&run->diags);
    o[0] = (pl_origin){ "program", "platen " PL_VERSION };
    o[1] = (pl_origin){ "study",
                        pl_arena_printf(a, "%s, revision %u", l->study->name, l->plan->revision) };
    o[2] = (pl_origin){ "plan drawn with seed",
                        pl_arena_printf(a, "%llu", (unsigned long long)l->plan->seed) };
    o[3] = (pl_origin){ "digest of the study file (SHA-256)",
                        pl_digest(a, l->frozen->text, l->frozen->length) };
    o[4] = (pl_origin){ "book", pl_arena_printf(a, "%s, up to entry %lld of its trail",
                                                pl_file_base(run->book), (long long)l->seen) };
    o[5] = (pl_origin){ "seal of that entry", seal };
    again[0] = pl_arena_printf(a, "platen fit %s", study);
    again[1] = pl_arena_printf(a, "platen report %s", study);
    again[2] = "platen book check";
    f->origins = o;
    f->norigin = 6;
    f->again = again;
    f->nagain = 3;
    return PL_OK;
}

static pl_code run_report(pl_run *run)
{
    report_options *o = run->options;
    const char *path = o->to;
    pl_fit_answer f;
    pl_loaded l;
    char *html;
    pl_code rc = pl_study_fit(run, run->args[0], &l, &f);

    if (!rc)
        rc = add_origins(run, &l, &f);
    if (!rc)
        rc = pl_fit_page(run->arena, &f, &html, &run->diags);
    if (!rc && !path)
        rc = default_path(run, &l, &path);
    if (!rc)
        rc = pl_file_write(path, html, strlen(html), o->replace, &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "file", path);
    pl_text_add(&run->text, "%s\n", path);
    return PL_OK;
}

const pl_verb pl_verb_report = {
    .name = "report",
    .args = "STUDY",
    .summary = "the answer as one page to open, print or send",
    .words =
        "Writes one self-contained HTML file: the answer in words, pictures with every joint a\n"
        "dot, what happened at the bench, and the tables under Details. Opens offline.",
    .examples = "report stair-lap\n"
                "report stair-lap --to for-the-customer.html\n",
    .options = options,
    .take = take,
    .options_size = sizeof(report_options),
    .least_args = 1,
    .most_args = 1,
    .run = run_report,
};
