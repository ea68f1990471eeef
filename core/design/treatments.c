/* Treatments: every combination of the levels listed, in a fixed order, and
 * which of them differ only in what comes with the board. */
#include "base/text.h"
#include "design/draft.h"
#include "design/plan_make.h"

static pl_code too_many(pl_draft *f)
{
    return pl_fail(f->d, PL_EUNFIT, f->s->name,
                   .found = "more combinations of levels than one plan holds",
                   .expected = pl_arena_printf(f->scratch, "at most %zu", PL_PLAN_TREATMENTS_MOST),
                   .mend = "leave out a factor, or list fewer levels");
}

/* Levels of row t: the last factor changes fastest. */
static void fill_row(const pl_draft *f, size_t t)
{
    size_t rest = t;

    for (size_t k = f->s->nfactor; k-- > 0;) {
        f->levels[t * f->s->nfactor + k] = (int)(rest % f->s->factors[k].nlevel);
        rest /= f->s->factors[k].nlevel;
    }
}

pl_code pl_draft_treatments(pl_draft *f)
{
    const pl_study *s = f->s;
    size_t next[PL_PLAN_TREATMENTS_MOST] = { 0 };

    f->pressed = pl_study_pressed(s);
    f->with_board = pl_study_with_board(s);
    f->ngroup = f->with_board >= 0 ? s->factors[f->with_board].nlevel : 1;
    f->ntreatment = 1;
    for (size_t k = 0; k < s->nfactor; k++) {
        if (s->factors[k].nlevel > PL_PLAN_TREATMENTS_MOST / f->ntreatment)
            return too_many(f);
        f->ntreatment *= s->factors[k].nlevel;
    }
    f->v = f->ntreatment / f->ngroup;
    f->levels = pl_arena_get(f->a, f->ntreatment, s->nfactor * sizeof *f->levels);
    f->group_of = PL_NEWN(f->scratch, f->ntreatment, size_t);
    f->local_of = PL_NEWN(f->scratch, f->ntreatment, size_t);
    f->row_of = PL_NEWN(f->scratch, f->ntreatment, size_t);
    if (!f->levels || !f->group_of || !f->local_of || !f->row_of)
        return pl_nomem(f->d);
    for (size_t t = 0; t < f->ntreatment; t++) {
        size_t g = 0;

        fill_row(f, t);
        if (f->with_board >= 0)
            g = (size_t)f->levels[t * s->nfactor + (size_t)f->with_board];
        f->group_of[t] = g;
        f->local_of[t] = next[g]++;
        f->row_of[g * f->v + f->local_of[t]] = t;
    }
    return PL_OK;
}

const char *pl_draft_group(const pl_draft *f, size_t g)
{
    return f->with_board >= 0 ? f->s->factors[f->with_board].levels[g].text : "";
}

char *pl_draft_what(const pl_draft *f)
{
    const char **names = PL_NEWN(f->scratch, f->s->nfactor, const char *);
    size_t n = 0;
    char *list;

    if (!names)
        return NULL;
    for (size_t k = 0; k < f->s->nfactor; k++)
        if ((int)k != f->with_board && f->s->factors[k].nlevel > 1)
            names[n++] = f->s->factors[k].name;
    if (n == 1)
        return pl_arena_str(f->scratch, names[0]);
    list = pl_text_list(f->scratch, names, n, "and");
    if (!n || !list)
        return list;
    return pl_arena_printf(f->scratch, "combination of %s", list);
}
