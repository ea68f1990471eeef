/* Joints that a plan holds beside those it compares: the reference joint of every session, and
 * pairs that bridge two rigs. Where they go is design's. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "study/build.h"

static const char *names_of_levels(pl_build *b, const pl_factor *f)
{
    const char **names = pl_build_new(b, f->nlevel, sizeof *names);

    for (size_t i = 0; names && i < f->nlevel; i++)
        names[i] = f->levels[i].text;
    return names ? pl_fill_kept(&b->f, pl_text_list(b->f.a, names, f->nlevel, "or")) : "";
}

/* Place of the level written at v; -1 with a finding. */
static int level_at(pl_build *b, const pl_factor *f, const pl_json *v)
{
    for (size_t i = 0; v->kind == PL_JSON_STRING && i < f->nlevel; i++)
        if (!strcmp(f->levels[i].text, v->string))
            return (int)i;
    pl_fill_fail(
        &b->f, PL_EVALUE, v, NULL,
        pl_fill_printf(&b->f, "a level of %s as listed: %s", f->name, names_of_levels(b, f)), "");
    return -1;
}

static void check_keys(pl_build *b, const pl_json *treatment)
{
    const char **names = pl_build_new(b, b->s->nfactor, sizeof *names);

    for (size_t i = 0; names && i < b->s->nfactor; i++)
        names[i] = b->s->factors[i].name;
    for (const pl_json *v = names ? treatment->child : NULL; v; v = v->next) {
        bool known = !strcmp(v->key, "note");

        for (size_t i = 0; i < b->s->nfactor; i++)
            known = known || !strcmp(v->key, names[i]);
        if (!known)
            pl_fill_fail(&b->f, PL_EKEY, v, pl_fill_printf(&b->f, "key \"%s\"", v->key),
                         pl_fill_printf(
                             &b->f, "a factor: %s",
                             pl_fill_kept(&b->f, pl_text_list(b->f.a, names, b->s->nfactor, "or"))),
                         pl_build_near(b, v->key, names, b->s->nfactor));
    }
}

static void build_reference(pl_build *b)
{
    const pl_json *at = pl_json_get(b->root, "reference_joint"), *treatment;
    pl_reference *r = &b->s->reference;
    int *levels;

    if (!at || at->kind != PL_JSON_OBJECT)
        return;
    treatment = pl_json_get(at, "treatment");
    levels = pl_build_new(b, b->s->nfactor, sizeof *levels);
    if (!levels || !treatment || treatment->kind != PL_JSON_OBJECT)
        return;
    check_keys(b, treatment);
    for (size_t f = 0; f < b->s->nfactor; f++) {
        const pl_json *v = pl_json_get(treatment, b->s->factors[f].name);

        if (!v)
            pl_fill_fail(&b->f, PL_EKEY, treatment, "not all factors",
                         pl_fill_printf(&b->f, "a level of %s", b->s->factors[f].name),
                         "the reference joint is one and the same joint in every session");
        levels[f] = v ? level_at(b, &b->s->factors[f], v) : -1;
    }
    r->levels = levels;
    r->per_session = b->raw->reference_joint.per_session;
    r->given = r->per_session > 0;
}

static void build_bridging(pl_build *b)
{
    const pl_json *at = pl_json_get(b->root, "bridging");
    int pressed = pl_study_pressed(b->s);
    pl_bridging *g = &b->s->bridging;

    g->level = -1;
    g->at_most = (pl_worth){ .value = NAN };
    if (!at || at->kind != PL_JSON_OBJECT)
        return;
    g->pairs = b->raw->bridging.pairs;
    if (b->raw->bridging.at_most.text)
        g->at_most = b->raw->bridging.at_most;
    if (pressed < 0 || b->s->nrig < 2) {
        pl_fill_fail(&b->f, PL_ECONFLICT, at, "bridging",
                     pressed < 0 ? "a factor that a press sets" : "two rigs at least",
                     "pairs of joints bridge rigs that make different pressures: leave it out");
        return;
    }
    if (b->raw->bridging.at)
        g->level = level_at(b, &b->s->factors[pressed], pl_build_at(b, "bridging", "at"));
    g->given = true;
}

void pl_build_extras(pl_build *b)
{
    build_reference(b);
    build_bridging(b);
}
