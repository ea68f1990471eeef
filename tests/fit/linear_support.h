/* Asking for linear models in few words, and finding figures in what comes back. */
#ifndef TESTS_FIT_LINEAR_SUPPORT_H
#define TESTS_FIT_LINEAR_SUPPORT_H

#include "fit/linear.h"
#include "reference.h"

/* Comma lists: effects "wool; tension; wool,tension", covariates "x1,x2", blocks "loc,year". */
typedef struct wish {
    const char *response, *effects, *covariates, *blocks, *nested, *inside, *unit, *randoms;
    bool through_zero;
} wish;

static inline const char **split(bench *b, const char *list, char by, size_t *n)
{
    const char **out = PL_NEWN(b->a, 64, const char *);

    for (*n = 0; list && *list;) {
        size_t k = strcspn(list, (char[]){ by, 0 });

        out[(*n)++] = pl_arena_strn(b->a, list, k);
        list += k + (list[k] == by);
        while (*list == ' ')
            list++;
    }
    return out;
}

static inline pl_linear_spec spec_of(bench *b, wish w)
{
    pl_linear_spec s = { .response = w.response, .unit = w.unit, .through_zero = w.through_zero };
    const char **effects = split(b, w.effects, ';', &s.neffect);
    pl_linear_effect *e = PL_NEWN(b->a, s.neffect, pl_linear_effect);
    pl_linear_nested *n = PL_NEW(b->a, pl_linear_nested);

    for (size_t i = 0; i < s.neffect; i++)
        e[i].factors = split(b, effects[i], ',', &e[i].nfactor);
    s.effects = e;
    s.covariates = split(b, w.covariates, ',', &s.ncovariate);
    s.blocks = split(b, w.blocks, ',', &s.nblock);
    *n = (pl_linear_nested){ w.nested, w.inside };
    s.randoms = split(b, w.randoms, ',', &s.nrandom);
    s.nested = n;
    s.nnested = w.nested ? 1 : 0;
    return s;
}

static inline pl_linear_fit fit_of(bench *b, const pl_table *t, wish w)
{
    pl_linear_spec s = spec_of(b, w);
    pl_linear_fit f = { 0 };

    assert_ok(b, pl_fit_linear(b->a, t, &s, &f, &b->d));
    return f;
}

static inline pl_code code_of(bench *b, const pl_table *t, wish w)
{
    pl_linear_spec s = spec_of(b, w);
    pl_linear_fit f;

    return pl_fit_linear(b->a, t, &s, &f, &b->d);
}

static inline const pl_effect *effect_of(const pl_linear_fit *f, const char *name, pl_ss_kind kind)
{
    for (size_t i = 0; i < f->neffect; i++)
        if (f->effects[i].kind == kind && !strcmp(f->effects[i].name, name))
            return &f->effects[i];
    fail_msg("no effect \"%s\"", name);
    return NULL;
}

static inline const pl_coef *coef_of(const pl_linear_fit *f, const char *name)
{
    for (size_t i = 0; i < f->ncoef; i++)
        if (!strcmp(f->coefs[i].name, name))
            return &f->coefs[i];
    fail_msg("no coefficient \"%s\"", name);
    return NULL;
}

static inline const pl_mean *mean_of(const pl_linear_fit *f, const char *factor, const char *level)
{
    for (size_t i = 0; i < f->nmean; i++)
        if (!strcmp(f->means[i].factor, factor) && !strcmp(f->means[i].level, level))
            return &f->means[i];
    fail_msg("no mean of \"%s\" = %s", factor, level);
    return NULL;
}

#endif
