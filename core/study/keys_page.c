/* The key table asked: a key by name, what it takes in words, and the page of
 * docs/study-file.md. The table itself is keys.c's. */
#include <string.h>

#include "base/text.h"
#include "study/keys.h"

const pl_key *pl_keys_find(const pl_object *o, const char *name)
{
    for (size_t i = 0; i < o->nkey; i++)
        if (!strcmp(o->keys[i].name, name))
            return &o->keys[i];
    return NULL;
}

static size_t choices_count(const pl_key *k)
{
    size_t n = 0;

    while (k->choices[n])
        n++;
    return n;
}

static char *takes_list(pl_arena *a, const pl_key *k, const char *what)
{
    if (k->low == k->high)
        return pl_arena_printf(a, "a list of exactly %lld %s", k->low, what);
    return pl_arena_printf(a, "a list of %lld to %lld %s", k->low, k->high, what);
}

char *pl_keys_takes(pl_arena *a, const pl_key *k)
{
    switch (k->is) {
    case PL_IS_NAME:
        return pl_arena_str(a, "a name of a-z, 0-9 and hyphen");
    case PL_IS_CHANCE:
        return pl_arena_str(a, "a chance (\"1 in 10\", \"10 %\" or 0.1)");
    case PL_IS_SHARE:
        return pl_arena_str(a, "a share (\"75 %\" or 0.75)");
    case PL_IS_WORTH:
        return pl_arena_str(a, "a strength (\"1.2 N/mm2\") or a share (\"10 %\")");
    case PL_IS_DIM:
        return pl_arena_printf(a, "%s with its unit (%s)", pl_quantity_name(k->quantity),
                               pl_quantity_examples(k->quantity));
    case PL_IS_WHOLE:
        return pl_arena_printf(a, "a whole number from %lld to %lld", k->low, k->high);
    case PL_IS_CHOICE:
        return pl_text_list(a, k->choices, choices_count(k), "or");
    case PL_IS_TEXTS:
        return takes_list(a, k, "texts");
    case PL_IS_UNITS:
        return takes_list(a, k, "units of strength");
    case PL_IS_OBJECT:
        return pl_arena_str(a, "an object");
    case PL_IS_OBJECTS:
        return takes_list(a, k, k->high == 1 ? "object" : "objects");
    case PL_IS_WORD_OR_OBJECT:
        return pl_arena_printf(a, "\"%s\" or an object", k->choices[0]);
    case PL_IS_LEVELS:
        return takes_list(a, k, "levels");
    case PL_IS_RIGS:
        return takes_list(a, k, "rigs: names or objects");
    case PL_IS_APART:
        return takes_list(a, k, k->high == 1 ? "object" : "objects");
    case PL_IS_OPEN:
        return pl_arena_str(a, "an object");
    default:
        return pl_arena_str(a, "a text");
    }
}

static void put_absent(pl_text *t, const pl_key *k)
{
    if (k->required)
        pl_text_put(t, "**must be there**");
    else if (k->preset)
        pl_text_put(t, k->preset);
    else
        pl_text_put(t, k->otherwise ? k->otherwise : "");
}

static void put_object(pl_arena *a, pl_text *t, const pl_object *o)
{
    if (o->title[0])
        pl_text_add(t, "### `%s`\n\n%s\n\n", o->title, o->help);
    else
        pl_text_add(t, "### The file\n\n%s\n\n", o->help);
    pl_text_put(t, "| key | takes | when absent | holds |\n| --- | --- | --- | --- |\n");
    for (size_t i = 0; i < o->nkey; i++) {
        char *takes = pl_keys_takes(a, &o->keys[i]);

        if (!takes)
            t->failed = true;
        pl_text_add(t, "| `%s` | %s | ", o->keys[i].name, takes ? takes : "");
        put_absent(t, &o->keys[i]);
        pl_text_add(t, " | %s |\n", o->keys[i].help);
    }
    pl_text_put(t, "\n");
}

char *pl_study_keys_page(pl_arena *a)
{
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; pl_keys_all[i]; i++)
        put_object(a, &t, pl_keys_all[i]);
    return pl_text_done(&t);
}
