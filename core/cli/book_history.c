/* platen book history: how far joints made alike differed in past studies, pooled
 * over studies of the same woods, adhesive, breaking rig and response. It goes by
 * the last answer that was kept of each study. */
#include <math.h>
#include <string.h>

#include "cli/book.h"

typedef struct past { /* one study */
    const char *study, *woods, *adhesive, *rig, *response;
    double sd_Pa, mean_Pa;
    double df;
} past;

typedef struct history {
    pl_run *run;
    past *items;
    size_t count;
    size_t without; /* studies without a scatter */
} history;

/* Woods as the study lists them, each once. */
static const char *woods_of(pl_arena *a, const pl_study *s)
{
    const char **names = PL_NEWN(a, s->nboard_kinds, const char *);
    size_t n = 0;

    for (size_t i = 0; names && i < s->nboard_kinds; i++) {
        size_t k = 0;

        while (k < n && strcmp(names[k], s->boards[i].species))
            k++;
        if (k == n && s->boards[i].species[0])
            names[n++] = s->boards[i].species;
    }
    return !names ? NULL : n ? pl_text_list(a, names, n, "and") : "wood not said";
}

/* Scatter and mean of an answer, in Pa; df 0 when it has none. */
static pl_code scatter_of(pl_run *run, const pl_study *s, const char *answer, past *out)
{
    const pl_json *object = NULL, *residual, *df, *sd, *means, *first;
    double scale = 1, offset;
    const char *why;
    pl_code rc = pl_json_parse(run->arena, s->name, answer, strlen(answer), &object, &run->diags);

    out->df = 0;
    if (rc)
        return rc;
    residual = pl_json_get(object, "residual");
    means = pl_json_get(object, "coefficients");
    if (!residual || residual->kind != PL_JSON_OBJECT || !means || !means->count)
        return PL_OK;
    df = pl_json_get(residual, "df");
    sd = pl_json_get(residual, "sd");
    first = pl_json_get(pl_json_at(means, 0), "estimate"); /* the mean of all levels */
    if (!df || !sd || !first || !(df->number >= 1) || !(sd->number > 0))
        return PL_OK;
    (void)pl_units_scale(run->arena, s->show_in[0], PL_Q_PRESSURE, &scale, &offset, &why);
    out->df = df->number;
    out->sd_Pa = sd->number * scale;
    out->mean_Pa = first->number * scale;
    return PL_OK;
}

static pl_code add_study(history *h, const char *name, const pl_book_fit *fits, size_t nfit)
{
    const char *answer = NULL;
    past *p = &h->items[h->count];
    pl_run *run = h->run;
    pl_run one = { .verb = run->verb, .arena = run->arena, .book = run->book, .as_of = INT64_MAX };
    pl_loaded l;
    pl_code rc;

    for (size_t i = 0; i < nfit; i++)
        if (!strcmp(fits[i].study, name))
            answer = fits[i].answer;
    if (!answer) {
        h->without++;
        return PL_OK;
    }
    pl_diags_init(&one.diags, one.arena);
    pl_text_init(&one.text, one.arena);
    one.answer = pl_jobject(one.arena);
    rc = pl_load(&one, name, PL_LOAD_PLAN, &l);
    if (rc)
        return pl_fail(&run->diags, rc, name, .found = "a study that cannot be read",
                       .expected = "a study as it was frozen", .mend = "see: platen book check");
    *p = (past){ .study = name,
                 .woods = woods_of(run->arena, l.study),
                 .adhesive = l.study->adhesive.kind[0] ? l.study->adhesive.kind
                                                       : "adhesive not said",
                 .rig = l.study->breaking.rig >= 0 ? l.study->rigs[l.study->breaking.rig].name
                                                   : "rig not said",
                 .response = "strength" };
    if (!p->woods)
        return pl_nomem(&run->diags);
    rc = scatter_of(run, l.study, answer, p);
    if (!rc && p->df > 0)
        h->count++;
    else
        h->without++;
    return rc;
}

static bool alike(const past *x, const past *y)
{
    return !strcmp(x->woods, y->woods) && !strcmp(x->adhesive, y->adhesive) &&
           !strcmp(x->rig, y->rig) && !strcmp(x->response, y->response);
}

/* Pooled by degrees of freedom, of sd over mean: joints that hold more scatter more.
 * Between studies: standard deviation of the logarithms, as a factor; 1 study: none. */
static void pool(const history *h, size_t first, double *cv, double *df, double *factor, size_t *n)
{
    double squares = 0, logs = 0, log_squares = 0;

    *df = 0;
    *n = 0;
    for (size_t i = first; i < h->count; i++) {
        const past *p = &h->items[i];
        double one = p->sd_Pa / p->mean_Pa;

        if (!alike(p, &h->items[first]))
            continue;
        squares += p->df * one * one;
        *df += p->df;
        logs += log(one);
        ++*n;
    }
    for (size_t i = first; i < h->count; i++)
        if (alike(&h->items[i], &h->items[first]))
            log_squares += pow(log(h->items[i].sd_Pa / h->items[i].mean_Pa) - logs / (double)*n, 2);
    *cv = sqrt(squares / *df);
    *factor = *n > 1 ? exp(sqrt(log_squares / (double)(*n - 1))) : NAN;
}

static void say_group(history *h, pl_jval *list, size_t first)
{
    const past *p = &h->items[first];
    pl_arena *a = h->run->arena;
    double cv, df, factor;
    size_t n;
    pl_jval *o = pl_jadd_object(list, NULL), *studies;

    pool(h, first, &cv, &df, &factor, &n);
    pl_jadd_text(o, "wood", p->woods);
    pl_jadd_text(o, "adhesive", p->adhesive);
    pl_jadd_text(o, "rig", p->rig);
    pl_jadd_text(o, "response", p->response);
    pl_jadd_number(o, "cv", cv);
    pl_jadd_number(o, "df", df);
    pl_jadd_number(o, "between_studies", factor);
    studies = pl_jadd_array(o, "studies");
    pl_text_add(&h->run->text, "%s, %s, broken on %s: joints made alike differ by %s %% (df %s)",
                p->woods, p->adhesive, p->rig, pl_text_number(a, 100 * cv, 3),
                pl_text_number(a, df, 6));
    if (n > 1)
        pl_text_add(&h->run->text, "; from study to study by a factor of %s",
                    pl_text_number(a, factor, 3));
    pl_text_put(&h->run->text, "\n");
    for (size_t i = first; i < h->count; i++) {
        const past *x = &h->items[i];
        pl_jval *one;

        if (!alike(x, p))
            continue;
        one = pl_jadd_object(studies, NULL);
        pl_jadd_text(one, "study", x->study);
        pl_jadd_number(one, "sd", x->sd_Pa);
        pl_jadd_number(one, "mean", x->mean_Pa);
        pl_jadd_number(one, "df", x->df);
        pl_text_add(&h->run->text, "  %s: %s %% (df %s)\n", x->study,
                    pl_text_number(a, 100 * x->sd_Pa / x->mean_Pa, 3), pl_text_number(a, x->df, 6));
    }
}

static void say(history *h)
{
    pl_jval *list = pl_jadd_array(h->run->answer, "groups");

    for (size_t i = 0; i < h->count; i++) {
        size_t k = 0;

        while (k < i && !alike(&h->items[k], &h->items[i]))
            k++;
        if (k == i)
            say_group(h, list, i);
    }
    pl_jadd_whole(h->run->answer, "studies_without", (long long)h->without);
    if (h->without)
        pl_text_add(&h->run->text, "%zu stud%s not counted: no kept fit that tells a scatter.\n",
                    h->without, h->without == 1 ? "y is" : "ies are");
    if (!h->count && !h->without)
        pl_text_put(&h->run->text, "The book holds no study yet.\n");
}

pl_code pl_run_book_history(pl_run *run)
{
    const pl_book_study *studies = NULL;
    const pl_book_fit *fits = NULL;
    history h = { .run = run };
    size_t nstudy = 0, nfit = 0;
    pl_book *book;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);

    if (!rc)
        rc = pl_book_studies(run->arena, book, &studies, &nstudy, &run->diags);
    if (!rc)
        rc = pl_book_fits(run->arena, book, &fits, &nfit, &run->diags);
    if (rc)
        return rc;
    h.items = PL_NEWN(run->arena, nstudy + 1, past);
    if (!h.items)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < nstudy && !rc; i++)
        rc = add_study(&h, studies[i].name, fits, nfit);
    if (!rc)
        say(&h);
    return rc;
}
