/* Scatter of past studies, read from their answers, pooled, and put in the place of a
 * pilot. Saying it as a listing is the business of book_history.c. */
#include "cli/history.h"

#include <math.h>
#include <string.h>

#include "cli/study_fit.h"

#define WOODS_MOST 8 /* of one study that are told apart; more are pooled */

/* ---------------------------------------------------------- the answer ----- */

/* The last thing that was taken, marked or planned in a study. */
static int64_t last_change(const pl_entry *entries, size_t n)
{
    for (size_t i = n; i-- > 0;)
        if (strcmp(entries[i].what, "fit"))
            return entries[i].entry;
    return 0;
}

/* A kept answer still holds when it saw all that was written since, was asked as the
 * study asks, and was given by this version. */
static const char *kept_answer(const pl_book_fit *fits, size_t nfit, const char *study,
                               int64_t changed)
{
    const char *answer = NULL;

    for (size_t i = 0; i < nfit; i++)
        if (!strcmp(fits[i].study, study) && !fits[i].asked && fits[i].seen >= changed &&
            !strcmp(fits[i].program, PL_VERSION))
            answer = fits[i].answer;
    return answer;
}

/* NULL: there are not enough joints yet. */
static pl_code fit_anew(pl_run *run, const char *study, const char **answer)
{
    pl_run one = { .verb = run->verb,
                   .arena = run->arena,
                   .book = run->book,
                   .as_of = INT64_MAX,
                   .answer = pl_jobject(run->arena) };
    pl_fit_answer f;
    pl_loaded l;
    pl_code rc;

    *answer = NULL;
    pl_diags_init(&one.diags, one.arena);
    pl_text_init(&one.text, one.arena);
    rc = pl_study_fit(&one, study, &l, &f);
    if (!rc) {
        pl_fit_json(one.answer, &f);
        *answer = pl_jtext(one.arena, one.answer);
        return *answer ? PL_OK : pl_nomem(&run->diags);
    }
    if (pl_code_exit(rc) == 1)
        return PL_OK;
    for (size_t i = 0; i < one.diags.count; i++)
        if (one.diags.items[i].severity == PL_REFUSED)
            (void)pl_diags_add(&run->diags, one.diags.items[i]);
    return rc;
}

/* ---------------------------------------------------------- one study ------ */

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

static double number_at(const pl_json *object, const char *key)
{
    const pl_json *x = object ? pl_json_get(object, key) : NULL;

    return x && x->kind == PL_JSON_NUMBER ? x->number : NAN;
}

static const char *text_at(const pl_json *object, const char *key)
{
    const pl_json *x = object ? pl_json_get(object, key) : NULL;

    return x && x->kind == PL_JSON_STRING ? x->string : NULL;
}

/* Adds what is one: a scatter above 0 with a degree of freedom, and a mean above 0. */
static bool add(pl_history *h, pl_past one, double df, double sd, double mean, double scale)
{
    if (!(df >= 1) || !(sd > 0) || !(mean > 0))
        return false;
    one.df = df;
    one.sd_Pa = sd * scale;
    one.mean_Pa = mean * scale;
    h->items[h->count++] = one;
    return true;
}

/* Where the study answers for each wood, each wood has a scatter of its own. */
static bool add_each_wood(pl_history *h, const pl_study *s, const pl_json *plateaus, pl_past one,
                          double scale)
{
    int with_board = pl_study_with_board(s);
    const char *factor = with_board >= 0 ? s->factors[with_board].name : NULL;
    size_t before = h->count;

    if (!plateaus || plateaus->count < 2 || plateaus->count > WOODS_MOST)
        return false;
    for (const pl_json *p = factor ? plateaus->child : NULL; p; p = p->next) {
        const char *wood = text_at(pl_json_get(p, "group"), factor);
        const pl_json *levels = pl_json_get(p, "levels");
        double sum = 0, n = 0;

        for (const pl_json *l = levels ? levels->child : NULL; l; l = l->next) {
            double mean = number_at(l, "mean");

            sum += isnan(mean) ? 0 : mean;
            n += !isnan(mean);
        }
        one.wood = wood;
        if (wood)
            add(h, one, number_at(p, "error_df"), number_at(p, "error_sd"), sum / n, scale);
    }
    return h->count > before;
}

static pl_code read_answer(pl_run *run, pl_history *h, const pl_study *s, const char *answer,
                           pl_past one)
{
    const pl_json *object = NULL, *residual, *means;
    double scale = 1, offset;
    const char *why;
    pl_code rc = pl_json_parse(run->arena, s->name, answer, strlen(answer), &object, &run->diags);

    if (rc)
        return rc;
    (void)pl_units_scale(run->arena, s->show_in[0], PL_Q_PRESSURE, &scale, &offset, &why);
    if (add_each_wood(h, s, pl_json_get(object, "plateaus"), one, scale))
        return PL_OK;
    residual = pl_json_get(object, "residual");
    means = pl_json_get(object, "coefficients"); /* the first is the mean of all levels */
    if (!add(h, one, number_at(residual, "df"), number_at(residual, "sd"),
             number_at(means ? pl_json_at(means, 0) : NULL, "estimate"), scale))
        h->without++;
    return PL_OK;
}

static pl_code add_study(pl_run *run, pl_book *book, const char *name, const pl_book_fit *fits,
                         size_t nfit, pl_history *h)
{
    const pl_study *s = NULL;
    const pl_plan *p = NULL;
    const pl_entry *entries = NULL;
    const char *answer = NULL;
    size_t n = 0;
    pl_past one = { .study = name, .response = "strength" };
    pl_code rc = pl_book_plan(run->arena, book, name, 0, &s, &p, &run->diags);

    if (!rc)
        rc = pl_book_trail(run->arena, book, name, &entries, &n, &run->diags);
    if (rc)
        return rc;
    answer = kept_answer(fits, nfit, name, last_change(entries, n));
    if (!answer)
        rc = fit_anew(run, name, &answer);
    if (rc)
        return rc;
    if (!answer) {
        h->without++;
        return PL_OK;
    }
    one.wood = woods_of(run->arena, s);
    one.adhesive = s->adhesive.kind[0] ? s->adhesive.kind : "adhesive not said";
    one.rig = s->breaking.rig >= 0 ? s->rigs[s->breaking.rig].name : "rig not said";
    return one.wood ? read_answer(run, h, s, answer, one) : pl_nomem(&run->diags);
}

pl_code pl_history_read(pl_run *run, pl_book *book, const char *const *names, size_t count,
                        pl_history *out)
{
    const pl_book_study *studies = NULL;
    const pl_book_fit *fits = NULL;
    size_t n = 0, nfit = 0;
    pl_code rc = pl_book_studies(run->arena, book, &studies, &n, &run->diags);

    *out = (pl_history){ 0 };
    if (!rc)
        rc = pl_book_fits(run->arena, book, &fits, &nfit, &run->diags);
    if (rc)
        return rc;
    out->items = PL_NEWN(run->arena, (names ? count : n) * WOODS_MOST + 1, pl_past);
    if (!out->items)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < (names ? count : n) && !rc; i++)
        rc = add_study(run, book, names ? names[i] : studies[i].name, fits, nfit, out);
    return rc;
}

/* ------------------------------------------------------------- pooling ----- */

bool pl_past_alike(const pl_past *x, const pl_past *y)
{
    return !strcmp(x->wood, y->wood) && !strcmp(x->adhesive, y->adhesive) &&
           !strcmp(x->rig, y->rig) && !strcmp(x->response, y->response);
}

void pl_history_pool(const pl_history *h, const pl_past *like, pl_pooled *out)
{
    double squares = 0, logs = 0, log_squares = 0;

    *out = (pl_pooled){ .between = NAN };
    for (size_t i = 0; i < h->count; i++) {
        const pl_past *p = &h->items[i];
        double cv = p->sd_Pa / p->mean_Pa;

        if (like && !pl_past_alike(p, like))
            continue;
        squares += p->df * cv * cv;
        out->df += p->df;
        logs += log(cv);
        out->studies++;
    }
    out->cv = sqrt(squares / out->df);
    if (out->studies < 2)
        return;
    for (size_t i = 0; i < h->count; i++)
        if (!like || pl_past_alike(&h->items[i], like))
            log_squares += pow(
                log(h->items[i].sd_Pa / h->items[i].mean_Pa) - logs / (double)out->studies, 2);
    out->between = exp(sqrt(log_squares / (double)(out->studies - 1)));
}

/* ---------------------------------------------------------- as a pilot ----- */

/* Only the woods that the new study has, where a past one tells them apart. */
static void keep_woods(const pl_study *s, pl_history *h)
{
    size_t kept = 0;

    for (size_t i = 0; i < h->count; i++)
        for (size_t k = 0; k < s->nboard_kinds; k++)
            if (!strcmp(s->boards[k].species, h->items[i].wood)) {
                pl_past one = h->items[kept];

                h->items[kept++] = h->items[i];
                h->items[i] = one;
                break;
            }
    if (kept)
        h->count = kept;
}

static void say_unlike(pl_run *run, const pl_study *s, const pl_history *h, const char *woods)
{
    const char *rig = s->breaking.rig >= 0 ? s->rigs[s->breaking.rig].name : NULL;
    pl_arena *a = run->arena;

    for (size_t i = 0; i < h->count; i++) {
        const pl_past *p = &h->items[i];
        bool wood = false;

        for (size_t k = 0; k < s->nboard_kinds; k++)
            wood = wood || strstr(p->wood, s->boards[k].species);
        if (s->nboard_kinds && !wood)
            pl_advise(&run->diags, s->name,
                      .found = pl_arena_printf(a, "the scatter of %s, which was of %s", p->study,
                                               p->wood),
                      .expected = pl_arena_printf(a, "a past study of %s", woods));
        if (rig && strcmp(rig, p->rig))
            pl_advise(
                &run->diags, s->name,
                .found = pl_arena_printf(a, "the scatter of %s, broken on %s", p->study, p->rig),
                .expected = pl_arena_printf(a, "a past study broken on %s", rig));
        if (s->adhesive.kind[0] && strcmp(s->adhesive.kind, p->adhesive))
            pl_advise(&run->diags, s->name,
                      .found = pl_arena_printf(a, "the scatter of %s, glued with: %s", p->study,
                                               p->adhesive),
                      .expected = pl_arena_printf(a, "a past study with %s", s->adhesive.kind));
    }
}

static pl_code read_named(pl_run *run, const pl_study *s, pl_history *h)
{
    pl_book *book = NULL;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);

    if (!rc)
        rc = pl_history_read(run, book, s->scatter.history, s->scatter.nhistory, h);
    if (!rc && !h->count)
        rc = pl_fail(&run->diags, PL_EDATA, s->name, .pointer = "/scatter/history",
                     .found = pl_arena_printf(
                         run->arena, "no scatter in %s",
                         pl_text_list(run->arena, s->scatter.history, s->scatter.nhistory, "or")),
                     .expected = "past studies whose joints were broken",
                     .mend = "see: platen book history");
    return rc;
}

pl_code pl_history_scatter(pl_run *run, const pl_study *s, const pl_study **out)
{
    pl_study *with;
    pl_history h;
    pl_pooled pooled;
    const char *woods = woods_of(run->arena, s);
    pl_arena *a = run->arena;
    pl_code rc;

    *out = s;
    if (!s->scatter.nhistory)
        return PL_OK;
    with = PL_NEW(a, pl_study);
    if (!with || !woods)
        return pl_nomem(&run->diags);
    rc = read_named(run, s, &h);
    if (rc)
        return rc;
    keep_woods(s, &h);
    say_unlike(run, s, &h, woods);
    pl_history_pool(&h, NULL, &pooled);
    *with = *s;
    with->scatter.unknown = false;
    with->scatter.cv = pooled.cv;
    with->scatter.glue_ups = (unsigned)pooled.df + 1; /* what so many equal ones would tell */
    pl_remark(
        &run->diags, s->name, .pointer = "/scatter/history",
        .found = pl_arena_printf(a,
                                 "a scatter of %s %% of the strength, as sure as %u equal "
                                 "glue-ups make it, from %s",
                                 pl_text_number(a, 100 * pooled.cv, 3), with->scatter.glue_ups,
                                 pl_text_list(a, s->scatter.history, s->scatter.nhistory, "and")),
        .expected = pooled.studies > 1
                        ? pl_arena_printf(a,
                                          "from one of them to the next it differs by a "
                                          "factor of %s",
                                          pl_text_number(a, pooled.between, 3))
                        : "");
    *out = with;
    return PL_OK;
}
