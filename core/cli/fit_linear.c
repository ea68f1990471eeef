/* The linear model of a bare table: its options turned into a model. What the model gives is
 * fit's, how it is said report's. */
#include "cli/fit_linear.h"

#include <string.h>

#include "base/units.h"
#include "fit/boxcox.h"
#include "fit/compare.h"
#include "fit/linear.h"
#include "fit/path.h"
#include "fit/randomise.h"

pl_code pl_linear_take(pl_run *run, int key, const char *arg, pl_linear_options *o)
{
    switch (key) {
    case PL_KEY_EFFECT:
        return pl_texts_add(run, &o->effects, arg);
    case PL_KEY_COVARIATE:
        return pl_texts_add(run, &o->covariates, arg);
    case PL_KEY_BLOCK:
        return pl_texts_add(run, &o->blocks, arg);
    case PL_KEY_RANDOM:
        return pl_texts_add(run, &o->randoms, arg);
    case PL_KEY_CONTRAST:
        return pl_texts_add(run, &o->contrasts, arg);
    case PL_KEY_COMPARE:
        return pl_texts_add(run, &o->compares, arg);
    case PL_KEY_COMPARE_WITH:
        o->compare_with = arg;
        return PL_OK;
    case PL_KEY_AS_GOOD_AS:
        o->as_good_as = arg;
        return PL_OK;
    case PL_KEY_BEST:
        o->best = arg;
        if (!strcmp(arg, "more") || !strcmp(arg, "less"))
            return PL_OK;
        return pl_usage(run, "--best", pl_arena_printf(run->arena, "\"%s\"", arg), "more or less",
                        "");
    case PL_KEY_POWER:
        o->power = true;
        return PL_OK;
    case PL_KEY_RANDOMISED:
        return pl_take_whole(run, "--randomised", arg, 99, PL_RANDOMISE_DRAWS_MOST, &o->randomised);
    default:
        o->through_zero = true;
        return PL_OK;
    }
}

const char *pl_linear_of_tables(const pl_linear_options *o)
{
    return o->effects.count      ? "--effect"
           : o->covariates.count ? "--covariate"
           : o->randoms.count    ? "--random"
           : o->contrasts.count  ? "--contrast"
           : o->compares.count   ? "--compare"
           : o->compare_with     ? "--compare-with"
           : o->best             ? "--best"
           : o->as_good_as       ? "--as-good-as"
           : o->through_zero     ? "--through-zero"
           : o->power            ? "--power"
                                 : NULL;
}

const char *pl_linear_asked(const pl_linear_options *o)
{
    const char *asked = pl_linear_of_tables(o);

    return asked ? asked : o->randomised ? "--randomised" : NULL;
}

/* "species, pressure" -> names without blanks around. */
static pl_code split(pl_run *run, const char *text, const char *by, pl_texts *out)
{
    char *copy = pl_arena_str(run->arena, text), *state = NULL;
    pl_code rc = copy ? PL_OK : pl_nomem(&run->diags);

    for (char *part = copy ? strtok_r(copy, by, &state) : NULL; part && !rc;
         part = strtok_r(NULL, by, &state)) {
        size_t n;

        part += strspn(part, " ");
        for (n = strlen(part); n && part[n - 1] == ' '; n--)
            part[n - 1] = 0;
        rc = pl_texts_add(run, out, part);
    }
    return rc;
}

static pl_code split_effect(pl_run *run, const char *text, pl_linear_effect *out)
{
    pl_texts names = { 0 };
    pl_code rc = split(run, text, ",", &names);

    *out = (pl_linear_effect){ names.items, names.count };
    return rc;
}

/* "wool,tension" as the model names it: "wool, tension". */
static const char *joined(pl_run *run, const char *text)
{
    pl_texts names = { 0 };
    pl_text t;

    pl_text_init(&t, run->arena);
    if (split(run, text, ",", &names))
        return NULL;
    for (size_t i = 0; i < names.count; i++)
        pl_text_add(&t, "%s%s", i ? ", " : "", names.items[i]);
    return pl_text_done(&t);
}

/* "metal: iron=1, copper=-1"; cells of an interaction apart by ";" as they hold most. */
static pl_code split_contrast(pl_run *run, const char *text, pl_linear_contrast *out)
{
    const char *colon = strchr(text, ':');
    pl_texts parts = { 0 };
    double *weights;
    const char **levels;
    pl_code rc;

    if (!colon)
        return pl_usage(run, "--contrast", pl_arena_printf(run->arena, "\"%s\"", text),
                        "COL: LEVEL=WEIGHT, LEVEL=WEIGHT",
                        "for example \"metal: iron=1, copper=-1\"");
    rc = split(run, colon + 1, strchr(colon, ';') ? ";" : ",", &parts);
    weights = PL_NEWN(run->arena, parts.count, double);
    levels = PL_NEWN(run->arena, parts.count, const char *);
    out->factor = joined(run, pl_arena_strn(run->arena, text, (size_t)(colon - text)));
    if (!rc && (!weights || !levels || !out->factor))
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < parts.count && !rc; i++) {
        const char *equal = strrchr(parts.items[i], '=');

        if (!equal || !pl_text_to_number(equal + 1 + strspn(equal + 1, " "), &weights[i]))
            return pl_usage(run, "--contrast",
                            pl_arena_printf(run->arena, "\"%s\"", parts.items[i]),
                            "LEVEL=WEIGHT, the weight a number", "");
        levels[i] = joined(
            run, pl_arena_strn(run->arena, parts.items[i], (size_t)(equal - parts.items[i])));
        if (!levels[i])
            return pl_nomem(&run->diags);
    }
    out->levels = levels;
    out->weights = weights;
    out->n = parts.count;
    return rc;
}

/* "batch,cask": the last is the block, its names start afresh inside the others. */
static pl_code split_block(pl_run *run, const char *option, const char *text, const char **block,
                           pl_linear_nested *nested, size_t *nnested)
{
    pl_texts names = { 0 };
    pl_code rc = split(run, text, ",", &names);

    if (!rc && !names.count)
        return pl_usage(run, option, "\"\"", "a column", "");
    for (size_t i = 0; i + 1 < names.count && !rc; i++)
        nested[(*nnested)++] = (pl_linear_nested){ names.items[names.count - 1], names.items[i] };
    *block = rc ? NULL : names.items[names.count - 1];
    return rc;
}

pl_code pl_linear_spec_of(pl_run *run, const pl_linear_options *o, pl_linear_spec *s)
{
    size_t most = 0, nnested = 0;
    pl_linear_effect *effects = PL_NEWN(run->arena, o->effects.count, pl_linear_effect);
    pl_linear_contrast *contrasts = PL_NEWN(run->arena, o->contrasts.count, pl_linear_contrast);
    const char **blocks = PL_NEWN(run->arena, o->blocks.count, const char *);
    const char **randoms = PL_NEWN(run->arena, o->randoms.count, const char *);
    pl_linear_nested *nested;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < o->blocks.count; i++)
        most += strlen(o->blocks.items[i]);
    for (size_t i = 0; i < o->randoms.count; i++)
        most += strlen(o->randoms.items[i]);
    nested = PL_NEWN(run->arena, most, pl_linear_nested);
    if (!effects || !contrasts || !blocks || !randoms || !nested)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < o->effects.count && !rc; i++)
        rc = split_effect(run, o->effects.items[i], &effects[i]);
    for (size_t i = 0; i < o->contrasts.count && !rc; i++)
        rc = split_contrast(run, o->contrasts.items[i], &contrasts[i]);
    for (size_t i = 0; i < o->blocks.count && !rc; i++)
        rc = split_block(run, "--block", o->blocks.items[i], &blocks[i], nested, &nnested);
    for (size_t i = 0; i < o->randoms.count && !rc; i++)
        rc = split_block(run, "--random", o->randoms.items[i], &randoms[i], nested, &nnested);
    s->effects = effects;
    s->neffect = o->effects.count;
    s->covariates = o->covariates.items;
    s->ncovariate = o->covariates.count;
    s->blocks = blocks;
    s->nblock = o->blocks.count;
    s->randoms = randoms;
    s->nrandom = o->randoms.count;
    s->nested = nested;
    s->nnested = nnested;
    s->contrasts = contrasts;
    s->ncontrast = o->contrasts.count;
    s->through_zero = o->through_zero;
    return rc;
}

static pl_code compare_all(pl_run *run, const pl_linear_options *o, pl_linear_fit *fit)
{
    pl_compare c = { .named = o->compare_with, .alpha = 0.05 };
    double share = 0;
    const char *why;
    pl_code rc = PL_OK;

    if (o->as_good_as && pl_units_chance(run->arena, o->as_good_as, &share, &why))
        return pl_usage(run, "--as-good-as", why, "a share such as 0.95 or \"95 %\"", "");
    if (!o->compares.count && (o->compare_with || o->best || o->as_good_as))
        return pl_usage(run, "--compare", "nothing", "the effect whose levels are compared", "");
    c.less_is_better = o->best && !strcmp(o->best, "less");
    c.margin = 1 - share;
    c.kind = o->as_good_as     ? PL_AS_GOOD_AS
             : o->compare_with ? PL_AGAINST_NAMED
             : o->best         ? PL_AGAINST_BEST
                               : PL_EVERY_PAIR;
    for (size_t i = 0; i < o->compares.count && !rc; i++) {
        c.factor = joined(run, o->compares.items[i]);
        rc = c.factor ? pl_compare_levels(run->arena, fit, &c, &run->diags) : pl_nomem(&run->diags);
    }
    return rc;
}

static bool one_of(const char *const *names, size_t n, const char *name)
{
    for (size_t i = 0; i < n; i++)
        if (!strcmp(names[i], name))
            return true;
    return false;
}

/* Blocks, and the factors of all other effects: whatever these do is left as it is. */
static pl_code hold(pl_run *run, const pl_linear_spec *s, const char *factor, pl_texts *within)
{
    pl_texts all = { 0 };
    pl_code rc = PL_OK;

    for (size_t i = 0; i < s->nnested && !rc; i++)
        rc = pl_texts_add(run, &all, s->nested[i].inside);
    for (size_t i = 0; i < s->nblock && !rc; i++)
        rc = pl_texts_add(run, &all, s->blocks[i]);
    for (size_t i = 0; i < s->nrandom && !rc; i++)
        rc = pl_texts_add(run, &all, s->randoms[i]);
    for (size_t i = 0; i < s->neffect; i++)
        for (size_t k = 0; k < s->effects[i].nfactor && !rc; k++)
            rc = pl_texts_add(run, &all, s->effects[i].factors[k]);
    for (size_t i = 0; i < all.count && !rc; i++)
        if (strcmp(all.items[i], factor) && !one_of(within->items, within->count, all.items[i]))
            rc = pl_texts_add(run, within, all.items[i]);
    return rc;
}

static pl_code randomise_all(pl_run *run, const pl_table *t, const pl_linear_options *o,
                             const pl_linear_spec *s, pl_fit_answer *f)
{
    pl_drawn_again *tests = PL_NEWN(run->arena, s->neffect, pl_drawn_again);
    pl_code rc = tests ? PL_OK : pl_nomem(&run->diags);

    if (s->ncovariate)
        return pl_usage(run, "--randomised", "--covariate beside it", "effects and blocks only",
                        "what goes along cannot be held while levels change places");
    for (size_t i = 0; i < s->neffect && !rc; i++) {
        pl_texts within = { 0 };
        pl_randomise_spec r = { .response = s->response,
                                .unit = s->unit,
                                .draws = (uint64_t)o->randomised,
                                .seed = (uint64_t)o->seed };

        if (s->effects[i].nfactor > 1)
            continue;
        r.factor = s->effects[i].factors[0];
        rc = hold(run, s, r.factor, &within);
        r.within = within.items;
        r.nwithin = within.count;
        if (!rc)
            rc = pl_randomise_table(run->arena, t, &r, &tests[f->ndrawn++], &run->diags);
    }
    if (!rc && !f->ndrawn)
        return pl_usage(run, "--randomised", "no --effect", "the effect whose levels are drawn",
                        "");
    f->drawn = tests;
    return rc;
}

static pl_code find_power(pl_run *run, const pl_table *t, const pl_linear_spec *spec,
                          pl_fit_answer *f)
{
    pl_boxcox *power = PL_NEW(run->arena, pl_boxcox);
    bool fitted;
    pl_code rc = power ? pl_boxcox_fit(run->arena, t, spec, power, &fitted, &run->diags)
                       : pl_nomem(&run->diags);

    if (!rc && !fitted)
        pl_advise(
            &run->diags, t->name,
            .found = pl_arena_printf(run->arena, "no power of \"%s\" can be told", spec->response),
            .expected = "values above zero, and something left over to judge by");
    f->power = rc || !fitted ? NULL : power;
    return rc;
}

pl_code pl_linear_table(pl_run *run, const pl_table *t, const char *response, const char *glue_up,
                        const pl_linear_options *o, pl_fit_answer *f)
{
    pl_linear_fit *fit = PL_NEW(run->arena, pl_linear_fit);
    pl_linear_spec spec = { .response = response, .unit = glue_up };
    pl_code rc = fit ? pl_linear_spec_of(run, o, &spec) : pl_nomem(&run->diags);

    if (!rc)
        rc = pl_fit_linear(run->arena, t, &spec, fit, &run->diags);
    if (!rc && spec.neffect)
        rc = pl_covariate_paths(run->arena, t, &spec, spec.covariates, spec.ncovariate,
                                &run->diags);
    rc = rc ? rc : compare_all(run, o, fit);
    if (!rc && o->randomised)
        rc = randomise_all(run, t, o, &spec, f);
    if (!rc && o->power)
        rc = find_power(run, t, &spec, f);
    f->linear = rc ? NULL : fit;
    return rc;
}
