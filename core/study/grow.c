/* Levels added to a study's text. */
#include "study/grow.h"

#include <string.h>

#include "base/text.h"

static bool says_levels(const char *key)
{
    static const char *const keys[] = { "levels", "from", "to", "count", "spacing" };

    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (!strcmp(key, keys[i]))
            return true;
    return false;
}

/* v: the member that says the levels; a list keeps what it has as it was typed. */
static void add_list(pl_text *t, const pl_json *v, const pl_factor *f, const char *const *levels,
                     size_t n)
{
    pl_text_put(t, "\"levels\": [");
    if (v->kind == PL_JSON_ARRAY) {
        size_t end = v->end - 1;

        while (end > v->offset + 1 && strchr(" \t\r\n", v->doc->text[end - 1]))
            end--;
        pl_text_bytes(t, v->doc->text + v->offset + 1, end - v->offset - 1);
    }
    for (size_t i = 0; v->kind != PL_JSON_ARRAY && i < f->nlevel; i++)
        pl_text_add(t, "%s\"%s\"", i ? ", " : "", f->levels[i].text);
    for (size_t i = 0; i < n; i++)
        pl_text_add(t, ", \"%s\"", levels[i]);
    pl_text_put(t, "]");
}

/* The factor's object, every other member as it was typed. */
static void add_factor(pl_text *t, const pl_json *object, const pl_factor *f,
                       const char *const *levels, size_t n)
{
    bool listed = false, first = true;

    pl_text_put(t, "{");
    for (const pl_json *v = object->child; v; v = v->next) {
        if (says_levels(v->key) && listed)
            continue;
        pl_text_put(t, first ? " " : ", ");
        first = false;
        if (says_levels(v->key)) {
            add_list(t, v, f, levels, n);
            listed = true;
            continue;
        }
        pl_text_add(t, "\"%s\": ", v->key);
        pl_text_bytes(t, v->doc->text + v->offset, v->end - v->offset);
    }
    pl_text_put(t, " }");
}

static char *grown_text(pl_arena *a, const pl_study *s, size_t factor, const char *const *levels,
                        size_t n)
{
    const pl_factor *f = &s->factors[factor];
    const pl_json *object = f->at;
    pl_text t;

    pl_text_init(&t, a);
    pl_text_bytes(&t, s->text, object->offset);
    add_factor(&t, object, f, levels, n);
    pl_text_bytes(&t, s->text + object->end, s->length - object->end);
    return pl_text_done(&t);
}

pl_code pl_study_grow(pl_arena *a, const pl_study *s, size_t factor, const char *const *levels,
                      size_t n, const pl_study **out, pl_diags *d)
{
    char *text;

    if (factor >= s->nfactor)
        return pl_fail(d, PL_EUSAGE, s->name, .found = "a factor that the study does not have");
    if (!n) {
        *out = s;
        return PL_OK;
    }
    text = grown_text(a, s, factor, levels, n);
    return text ? pl_study_parse(a, s->name, text, strlen(text), out, d) : pl_nomem(d);
}

/* The levels of f behind the first n. */
static const char *const *levels_behind(pl_arena *a, const pl_factor *f, size_t n)
{
    const char **texts = PL_NEWN(a, f->nlevel - n, const char *);

    for (size_t i = n; texts && i < f->nlevel; i++)
        texts[i - n] = f->levels[i].text;
    return texts;
}

bool pl_study_grown_from(pl_arena *a, const pl_study *s, const pl_study *old)
{
    if (s->length == old->length && !memcmp(s->text, old->text, s->length))
        return true;
    if (s->nfactor != old->nfactor)
        return false;
    for (size_t f = 0; f < s->nfactor; f++) {
        const size_t n = old->factors[f].nlevel;
        const char *const *more;
        const char *text;

        if (s->factors[f].nlevel <= n)
            continue;
        more = levels_behind(a, &s->factors[f], n);
        text = more ? grown_text(a, old, f, more, s->factors[f].nlevel - n) : NULL;
        return text && strlen(text) == s->length && !memcmp(text, s->text, s->length);
    }
    return false;
}
