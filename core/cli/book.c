/* platen book: what the shop's book holds. */
#include <string.h>
#include <time.h>

#include "cli/load.h"

static char *day(pl_arena *a, int64_t when)
{
    time_t t = (time_t)when;
    struct tm tm;
    char text[32];

    if (!localtime_r(&t, &tm) || !strftime(text, sizeof text, "%Y-%m-%d", &tm))
        return pl_arena_str(a, "");
    return pl_arena_str(a, text);
}

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

static pl_code run_book(pl_run *run)
{
    const pl_book_study *studies;
    const pl_book_rig *rigs;
    size_t nstudy, nrig;
    pl_book *book;
    pl_code rc;

    if (strcmp(run->args[0], "list"))
        return pl_usage(run, "", pl_arena_printf(run->arena, "\"%s\"", run->args[0]), "list", "");
    rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);
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

const pl_verb pl_verb_book = {
    .name = "book",
    .args = "list",
    .summary = "what the shop's book holds",
    .words = "Lists the studies and rigs in the shop's book.",
    .least_args = 1,
    .most_args = 1,
    .run = run_book,
};
