/* platen book history: how far joints made alike differed in past studies, pooled
 * over studies of the same wood, adhesive, breaking rig and response. */
#include <math.h>

#include "cli/book.h"
#include "cli/history.h"

static void say_group(pl_run *run, const pl_history *h, pl_jval *list, const pl_past *p)
{
    pl_arena *a = run->arena;
    pl_pooled all;
    pl_jval *o = pl_jadd_object(list, NULL), *studies;

    pl_history_pool(h, p, &all);
    pl_jadd_text(o, "wood", p->wood);
    pl_jadd_text(o, "adhesive", p->adhesive);
    pl_jadd_text(o, "rig", p->rig);
    pl_jadd_text(o, "response", p->response);
    pl_jadd_number(o, "cv", all.cv);
    pl_jadd_number(o, "df", all.df);
    pl_jadd_number(o, "between_studies", all.between);
    studies = pl_jadd_array(o, "studies");
    pl_text_add(&run->text, "%s, %s, broken on %s: joints made alike differ by %s %% (df %s)",
                p->wood, p->adhesive, p->rig, pl_text_number(a, 100 * all.cv, 3),
                pl_text_number(a, all.df, 6));
    if (all.studies > 1)
        pl_text_add(&run->text, "; from study to study by a factor of %s",
                    pl_text_number(a, all.between, 3));
    pl_text_put(&run->text, "\n");
    for (size_t i = 0; i < h->count; i++) {
        const pl_past *x = &h->items[i];
        pl_jval *one;

        if (!pl_past_alike(x, p))
            continue;
        one = pl_jadd_object(studies, NULL);
        pl_jadd_text(one, "study", x->study);
        pl_jadd_number(one, "sd", x->sd_Pa);
        pl_jadd_number(one, "mean", x->mean_Pa);
        pl_jadd_number(one, "df", x->df);
        pl_text_add(&run->text, "  %s: %s %% (df %s)\n", x->study,
                    pl_text_number(a, 100 * x->sd_Pa / x->mean_Pa, 3), pl_text_number(a, x->df, 6));
    }
}

static void say(pl_run *run, const pl_history *h)
{
    pl_jval *list = pl_jadd_array(run->answer, "groups");

    for (size_t i = 0; i < h->count; i++) {
        size_t k = 0;

        while (k < i && !pl_past_alike(&h->items[k], &h->items[i]))
            k++;
        if (k == i)
            say_group(run, h, list, &h->items[i]);
    }
    pl_jadd_whole(run->answer, "studies_without", (long long)h->without);
    if (h->without)
        pl_text_add(&run->text,
                    "%zu stud%s not counted: too few joints broken to tell a scatter.\n",
                    h->without, h->without == 1 ? "y is" : "ies are");
    if (!h->count && !h->without)
        pl_text_put(&run->text, "The book holds no study yet.\n");
}

pl_code pl_run_book_history(pl_run *run)
{
    pl_history h;
    pl_book *book;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);

    if (!rc)
        rc = pl_history_read(run, book, NULL, 0, &h);
    if (!rc)
        say(run, &h);
    return rc;
}
