/* not_together: which levels never meet in one joint. What a design makes of it is design's. */
#include <string.h>

#include "study/build.h"

/* Place of the factor named; -1 with a finding. */
static int factor_of(pl_build *b, const pl_json *at)
{
    const char **names = pl_build_new(b, b->s->nfactor, sizeof *names);

    for (size_t i = 0; names && i < b->s->nfactor; i++) {
        names[i] = b->s->factors[i].name;
        if (!strcmp(names[i], at->key))
            return (int)i;
    }
    if (names)
        pl_fill_fail(&b->f, PL_EKEY, at, pl_fill_printf(&b->f, "\"%s\"", at->key),
                     "a factor's name", pl_build_near(b, at->key, names, b->s->nfactor));
    return -1;
}

static bool same_measure(pl_build *b, const pl_factor *f, const pl_level *level, const char *text)
{
    const char *why;
    pl_dim dim;

    return f->numeric && !pl_units_read(b->f.a, text, f->kind, &dim, &why) && dim.si == level->si;
}

/* Marks one level; says what is none. */
static void mark(pl_build *b, const pl_factor *f, const pl_json *v, bool *in)
{
    const char *text = v->kind == PL_JSON_NUMBER   ? v->raw
                       : v->kind == PL_JSON_STRING ? v->string
                                                   : NULL;
    const char **names = pl_build_new(b, f->nlevel, sizeof *names);

    for (size_t l = 0; names && text && l < f->nlevel; l++) {
        names[l] = f->levels[l].text;
        if (!strcmp(names[l], text) || same_measure(b, f, &f->levels[l], text)) {
            in[l] = true;
            return;
        }
    }
    if (names && pl_build_levels_whole(f))
        pl_fill_fail(&b->f, PL_EVALUE, v, NULL,
                     pl_fill_printf(&b->f, "a level of \"%s\", or a list of them", f->name),
                     text ? pl_build_near(b, text, names, f->nlevel) : "");
}

static void read_one(pl_build *b, const pl_json *at, pl_apart *out)
{
    const bool **in = pl_build_new(b, b->s->nfactor, sizeof *in);
    size_t named = 0;

    out->in = in;
    if (at->kind != PL_JSON_OBJECT) {
        pl_fill_fail(&b->f, PL_EVALUE, at, NULL, "an object of factors and their levels", "");
        return;
    }
    for (const pl_json *v = at->child; in && v; v = v->next) {
        int f;
        bool *marks;

        if (!strcmp(v->key, "note"))
            continue;
        named++;
        f = factor_of(b, v);
        marks = f >= 0 ? pl_build_new(b, b->s->factors[f].nlevel, sizeof *marks) : NULL;
        if (!marks)
            continue;
        in[f] = marks;
        if (v->kind != PL_JSON_ARRAY)
            mark(b, &b->s->factors[f], v, marks);
        for (const pl_json *one = v->kind == PL_JSON_ARRAY ? v->child : NULL; one; one = one->next)
            mark(b, &b->s->factors[f], one, marks);
    }
    if (named < 2)
        pl_fill_fail(&b->f, PL_EVALUE, at,
                     pl_fill_printf(&b->f, "%zu factor%s", named, named == 1 ? "" : "s"),
                     "levels of two factors or more",
                     named ? "a level that never occurs is left out of `levels`" : "");
}

/* "pressure 2 N/mm2": a level that meets nothing any more; NULL: none. */
static const char *lost_level(pl_build *b, size_t *left)
{
    pl_study *s = b->s;
    int levels[PL_FACTORS_MOST];
    size_t all = 1, *seen[PL_FACTORS_MOST];

    *left = 0;
    for (size_t f = 0; f < s->nfactor; f++) {
        all *= s->factors[f].nlevel;
        seen[f] = pl_build_new(b, s->factors[f].nlevel, sizeof *seen[f]);
        if (!seen[f] || all > PL_TREATMENTS_MOST || !all)
            return NULL;
    }
    for (size_t t = 0; t < all; t++) {
        pl_study_combination(s, t, levels);
        if (!pl_study_may_meet(s, levels))
            continue;
        (*left)++;
        for (size_t f = 0; f < s->nfactor; f++)
            seen[f][levels[f]]++;
    }
    for (size_t f = 0; f < s->nfactor; f++)
        for (size_t l = 0; l < s->factors[f].nlevel; l++)
            if (!seen[f][l])
                return pl_fill_printf(&b->f, "%s %s", s->factors[f].name,
                                      s->factors[f].levels[l].text);
    return NULL;
}

void pl_build_together(pl_build *b)
{
    const pl_json *list = pl_json_get(b->root, "not_together");
    size_t left = 0, n = 0;
    size_t before = b->f.d->count;
    pl_apart *apart;
    const char *lost;

    if (!list || list->kind != PL_JSON_ARRAY || !b->s->nfactor || b->s->nfactor > PL_FACTORS_MOST)
        return;
    apart = pl_build_new(b, list->count, sizeof *apart);
    if (!apart)
        return;
    for (const pl_json *at = list->child; at; at = at->next)
        read_one(b, at, &apart[n++]);
    if (b->f.d->count != before || b->f.bad == PL_ENOMEM)
        return;
    b->s->apart = apart;
    b->s->napart = n;
    lost = lost_level(b, &left);
    if (lost && !left)
        pl_fill_fail(&b->f, PL_EUNFIT, list, "no combination is left that may meet",
                     "combinations to make", "leave out what is too wide of it");
    else if (lost)
        pl_fill_fail(&b->f, PL_EUNFIT, list, pl_fill_printf(&b->f, "nothing left for %s", lost),
                     "something that every level may meet",
                     "leave that level out, or what is too wide here");
}
