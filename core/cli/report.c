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

static pl_code run_report(pl_run *run)
{
    report_options *o = run->options;
    const char *path = o->to;
    pl_fit_answer f;
    pl_loaded l;
    char *html;
    pl_code rc = pl_study_fit(run, run->args[0], &l, &f);

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
