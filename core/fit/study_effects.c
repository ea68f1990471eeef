/* The effects of a study's analysis, as its arrangement asks for them. The fit is fit's. */
#include "fit/study_effects.h"

#include <string.h>

#include "base/text.h"

typedef struct chooser {
    pl_arena *a;
    pl_diags *d;
    const pl_study *s;
    const pl_table *t;
    pl_factor_codes *codes; /* nfactor: as the table has them */
    pl_linear_effect *effects;
    size_t neffect;
    const char **names; /* of the effects' factors, two each */
    const char **covariates;
    size_t ncovariate, room;
    pl_table *wide;    /* with the columns made here; NULL: none yet */
    const char **idle; /* joint effects that are left out */
    size_t nidle;
} chooser;

bool pl_study_curved(const pl_study *s)
{
    return s->arrangement.kind == PL_ARRANGE_CENTRAL ||
           s->arrangement.kind == PL_ARRANGE_BOX_BEHNKEN ||
           (s->arrangement.kind == PL_ARRANGE_OPTIMAL && s->arrangement.asks == PL_ASKS_CURVED);
}

/* A plan for single factors only: joint effects are taken to be scatter, as its health says. */
static bool single(const pl_study *s)
{
    switch (s->arrangement.kind) {
    case PL_ARRANGE_FRACTION:
    case PL_ARRANGE_SCREENING:
    case PL_ARRANGE_GRAECO_LATIN:
        return true;
    case PL_ARRANGE_OPTIMAL:
        return s->arrangement.asks == PL_ASKS_SINGLE;
    default:
        return false;
    }
}

static void add_effect(chooser *c, size_t one, int other)
{
    const char **names = c->names + 2 * c->neffect;

    names[0] = c->s->factors[one].name;
    if (other >= 0)
        names[1] = c->s->factors[other].name;
    c->effects[c->neffect++] = (pl_linear_effect){ names, other >= 0 ? 2 : 1 };
}

/* ------------------------------------------------------ columns made here -- */

/* Level of a measured factor in a row, from -1 to 1. */
static double coded(const chooser *c, size_t factor, size_t row)
{
    const pl_factor_codes *k = &c->codes[factor];
    double low = k->values[0], high = k->values[k->nlevel - 1];

    return k->code[row] < 0 ? 0 : (2 * k->values[k->code[row]] - low - high) / (high - low);
}

static pl_code widen(chooser *c)
{
    size_t most = c->t->ncol + c->room;

    if (c->wide)
        return PL_OK;
    c->wide = PL_NEW(c->a, pl_table);
    if (!c->wide)
        return pl_nomem(c->d);
    *c->wide = *c->t;
    c->wide->columns = PL_NEWN(c->a, most, pl_column);
    if (!c->wide->columns)
        return pl_nomem(c->d);
    memcpy(c->wide->columns, c->t->columns, c->t->ncol * sizeof *c->t->columns);
    return PL_OK;
}

/* A covariate of that name; level >= 0: only rows of this level of `other` against its last. */
static pl_code add_product(chooser *c, const char *name, size_t one, size_t other, int level)
{
    pl_arena *a = c->a;
    double *number = PL_NEWN(a, c->t->nrow, double);
    const char **text = PL_NEWN(a, c->t->nrow, const char *);
    pl_code rc = widen(c);

    if (rc || !number || !text || !name)
        return pl_nomem(c->d);
    for (size_t r = 0; r < c->t->nrow; r++) {
        int at = c->codes[other].code[r];
        bool missing = at < 0 || c->codes[one].code[r] < 0;
        double by = level < 0                               ? coded(c, other, r)
                    : at == level                           ? 1
                    : at == (int)c->codes[other].nlevel - 1 ? -1
                                                            : 0;

        number[r] = coded(c, one, r) * by;
        text[r] = missing ? "" : pl_text_number(a, number[r], 17);
    }
    c->wide->columns[c->wide->ncol++] = (pl_column){
        .name = name, .unit = "", .scale = 1, .text = text, .number = number
    };
    c->covariates[c->ncovariate++] = name;
    return PL_OK;
}

static bool sloped(const chooser *c, size_t k)
{
    return pl_study_curved(c->s) && c->s->factors[k].numeric && c->codes[k].values &&
           c->codes[k].nlevel >= 2;
}

/* Three levels tell slope and bend whole; of more, the surface follows slope and square. */
static pl_code add_main(chooser *c, size_t k)
{
    if (!sloped(c, k) || c->codes[k].nlevel <= 3) {
        if (c->codes[k].nlevel >= 2)
            add_effect(c, k, -1);
        return PL_OK;
    }
    c->covariates[c->ncovariate++] = c->s->factors[k].name;
    return add_product(c, pl_arena_printf(c->a, "bend of %s", c->s->factors[k].name), k, k, -1);
}

/* "pressure, warmth": as joint effects are named everywhere. */
static pl_code add_slopes(chooser *c, size_t i, size_t k)
{
    const char *one = c->s->factors[i].name, *other = c->s->factors[k].name;
    size_t n = c->codes[sloped(c, i) ? k : i].nlevel;
    pl_code rc = PL_OK;

    if (sloped(c, i) && sloped(c, k))
        return add_product(c, pl_arena_printf(c->a, "%s, %s", one, other), i, k, -1);
    if (sloped(c, k)) {
        size_t kept = i;

        i = k;
        k = kept;
    }
    for (size_t l = 0; l + 1 < n && !rc; l++)
        rc = add_product(c,
                         pl_arena_printf(c->a, "%s, %s %s", c->s->factors[i].name,
                                         c->s->factors[k].name, c->codes[k].levels[l]),
                         i, k, (int)l);
    return rc;
}

/* ----------------------------------------------------------- joint effects -- */

static pl_code every_cell(chooser *c, size_t i, size_t k, bool *whole)
{
    const pl_factor_codes *x = &c->codes[i], *y = &c->codes[k];
    bool *seen = pl_arena_get(c->a, x->nlevel, y->nlevel * sizeof *seen);

    *whole = x->nlevel >= 2 && y->nlevel >= 2;
    if (!seen)
        return pl_nomem(c->d);
    for (size_t r = 0; r < c->t->nrow; r++)
        if (x->code[r] >= 0 && y->code[r] >= 0)
            seen[(size_t)x->code[r] * y->nlevel + (size_t)y->code[r]] = true;
    for (size_t n = 0; n < x->nlevel * y->nlevel; n++)
        *whole = *whole && seen[n];
    return PL_OK;
}

static pl_code add_joint(chooser *c, size_t i, size_t k)
{
    const pl_factor *one = &c->s->factors[i], *other = &c->s->factors[k];
    bool optimal = c->s->arrangement.kind == PL_ARRANGE_OPTIMAL, whole;
    pl_code rc;

    if (optimal && (one->comes_with_board || other->comes_with_board))
        return PL_OK; /* not among what it asks */
    if (sloped(c, i) || sloped(c, k))
        return c->codes[i].nlevel < 2 || c->codes[k].nlevel < 2 ? PL_OK : add_slopes(c, i, k);
    rc = every_cell(c, i, k, &whole);
    if (!rc && whole)
        add_effect(c, i, (int)k);
    else if (!rc && c->codes[i].nlevel >= 2 && c->codes[k].nlevel >= 2)
        c->idle[c->nidle++] = pl_arena_printf(c->a, "%s with %s", one->name, other->name);
    return rc;
}

static pl_code say_idle(chooser *c)
{
    char *list;

    if (single(c->s) && c->s->nfactor > 1) {
        pl_remark(c->d, c->s->name,
                  .found = "a plan for each factor by itself: joint effects of two are counted as "
                           "scatter");
        return PL_OK;
    }
    if (!c->nidle)
        return PL_OK;
    list = pl_text_list(c->a, c->idle, c->nidle, "and");
    if (!list)
        return pl_nomem(c->d);
    pl_remark(
        c->d, c->s->name,
        .found = pl_arena_printf(c->a,
                                 "not every combination was made of %s: whether the effect of "
                                 "one depends on the other is not judged there",
                                 list));
    return PL_OK;
}

/* -------------------------------------------------------------------- all -- */

static pl_code open_chooser(chooser *c)
{
    size_t n = c->s->nfactor, most = n * (n + 1) / 2, levels = 0;
    pl_arena *a = c->a;
    pl_code rc = PL_OK;

    c->idle = PL_NEWN(a, most, const char *);
    c->codes = PL_NEWN(a, n, pl_factor_codes);
    c->effects = PL_NEWN(a, most, pl_linear_effect);
    c->names = PL_NEWN(a, 2 * most, const char *);
    if (!c->codes || !c->effects || !c->names || !c->idle)
        return pl_nomem(c->d);
    for (size_t k = 0; k < n && !rc; k++) {
        rc = pl_table_factor(a, c->t, c->s->factors[k].name, &c->codes[k], c->d);
        levels += c->codes[k].nlevel;
    }
    c->room = 2 * n + most + n * levels;
    c->covariates = PL_NEWN(a, c->room, const char *);
    return rc ? rc : c->covariates ? PL_OK : pl_nomem(c->d);
}

pl_code pl_study_effects(pl_arena *a, const pl_study *s, const pl_table *t, pl_linear_spec *spec,
                         const pl_table **table, pl_diags *d)
{
    chooser c = { .a = a, .d = d, .s = s, .t = t };
    pl_code rc = open_chooser(&c);

    if (rc || !c.covariates)
        return rc ? rc : PL_ENOMEM;
    for (size_t k = 0; k < s->nfactor && !rc; k++)
        rc = add_main(&c, k);
    for (size_t k = 1; k < s->nfactor && !rc && !single(s); k++)
        for (size_t i = 0; i < k && !rc; i++)
            rc = add_joint(&c, i, k);
    if (!rc)
        rc = say_idle(&c);
    spec->effects = c.effects;
    spec->neffect = c.neffect;
    spec->covariates = c.covariates;
    spec->ncovariate = c.ncovariate;
    *table = c.wide ? c.wide : t;
    return rc;
}

size_t pl_study_randoms(const pl_study *s, const char **blocks, size_t *nblock,
                        const char **randoms)
{
    size_t kept = 0, n = 0;

    for (size_t i = 0; i < *nblock; i++) {
        bool random = false;

        for (size_t k = 0; k < s->nrandom; k++)
            random = random || !strcmp(s->randoms[k], blocks[i]);
        if (random)
            randoms[n++] = blocks[i];
        else
            blocks[kept++] = blocks[i];
    }
    *nblock = kept;
    return n;
}

pl_code pl_study_linear_spec(pl_arena *a, const pl_study *s, const pl_plan *plan, const pl_table *t,
                             const pl_table *all, const char *response, pl_linear_spec *spec,
                             pl_matching *m, const pl_table **table, pl_diags *d)
{
    pl_code rc = pl_match_plan(a, s, plan, t, m, d);

    *spec = (pl_linear_spec){ .response = response, .unit = "glue_up" };
    *table = all;
    if (!rc)
        rc = pl_study_effects(a, s, all, spec, table, d);
    if (!m->designed)
        m->nrandom += pl_study_randoms(s, m->blocks, &m->nblock, m->randoms + m->nrandom);
    spec->blocks = m->blocks;
    spec->nblock = m->nblock;
    spec->randoms = m->randoms;
    spec->nrandom = m->nrandom;
    spec->designed = m->designed;
    return rc;
}
