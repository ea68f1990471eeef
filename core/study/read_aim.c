/* What single aims have of their own: the level named beforehand, the margin, the percentile; how
 * near an onset is to be found. The rest of the question is read_factors.c's. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "study/build.h"

static int level_of(const pl_factor *f, const char *name)
{
    for (size_t i = 0; i < f->nlevel; i++)
        if (f->levels[i].text && !strcmp(f->levels[i].text, name))
            return (int)i;
    return -1;
}

/* The level named, of `over` first, else of whichever factor has it. */
static void find_named(pl_build *b, pl_question *q, const char *typed)
{
    const pl_study *s = b->s;
    const char **names;
    size_t n = 0;

    for (size_t i = 0; i <= s->nfactor && q->compare_with < 0; i++) {
        int at = i ? (int)i - 1 : q->over;

        if (at < 0)
            continue;
        q->compared = at;
        q->compare_with = level_of(&s->factors[at], typed);
    }
    if (q->compare_with >= 0)
        return;
    q->compared = -1;
    for (size_t i = 0; i < s->nfactor; i++)
        n += s->factors[i].nlevel;
    names = pl_build_new(b, n, sizeof *names);
    n = 0;
    for (size_t i = 0; names && i < s->nfactor; i++)
        for (size_t k = 0; k < s->factors[i].nlevel; k++)
            if (s->factors[i].levels[k].text)
                names[n++] = s->factors[i].levels[k].text;
    if (names)
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "question", "compare_with"), NULL,
                     "a level as it is listed under `factors`", pl_build_near(b, typed, names, n));
}

static void build_as_good(pl_build *b, pl_question *q)
{
    const char *typed = b->raw->question.compare_with;
    const pl_json *at = pl_json_get(b->root, "question");
    const pl_worth *g = &q->as_good_as;

    if (typed) {
        find_named(b, q, typed);
    } else if (q->over >= 0 && b->s->factors[q->over].nlevel) {
        const pl_factor *f = &b->s->factors[q->over];

        q->compared = q->over;
        q->compare_with = 0;
        for (size_t i = 1; i < f->nlevel; i++)
            if (f->levels[i].si > f->levels[q->compare_with].si)
                q->compare_with = (int)i;
        pl_fill_assume(&b->f, "/question", "compare_with",
                       pl_fill_printf(&b->f, "the others are to be as good as %s",
                                      f->levels[q->compare_with].text));
    } else {
        pl_fill_fail(&b->f, PL_EKEY, at, "no \"compare_with\"",
                     "the level that others are to be as good as",
                     "name it as it is listed under `factors`");
    }
    if (g->relative && !(g->value >= 0.5 && g->value < 1))
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "question", "as_good_as"), NULL,
                     "50 % or more, below 100 %", "nothing can be shown to be all of it");
}

static void build_within(pl_build *b, pl_question *q)
{
    const char *typed = b->raw->question.within, *number = typed;

    if (!typed)
        return;
    if (!strncmp(number, "factor ", 7))
        number += 7;
    if (!pl_text_to_number(number, &q->within) || !(q->within > 1 && q->within <= 100)) {
        q->within = NAN;
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "question", "within"), NULL,
                     "a factor above 1, such as \"factor 1.5\"",
                     "factor 1.5: two thirds to one and a half times the true place");
    }
}

void pl_build_aim(pl_build *b, pl_question *q)
{
    if (q->aim == PL_AIM_PLATEAU)
        build_within(b, q);
    if (q->aim == PL_AIM_AS_GOOD_AS)
        build_as_good(b, q);
    if (q->aim != PL_AIM_LOW_TAIL)
        return;
    if (!(q->percentile <= 0.5))
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "question", "percentile"), NULL,
                     "a low one, 50 % at most", "5 % is common");
    if (!(q->confidence >= 0.5 && q->confidence < 1))
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "question", "confidence"), NULL,
                     "50 % or more, below 100 %", "75 % and 95 % are common");
}
