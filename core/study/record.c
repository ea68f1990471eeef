/* Reading back objects that the program wrote; what they mean is the caller's. */
#include "study/record.h"

#include <math.h>

void pl_record_nomem(pl_record *r)
{
    r->bad = pl_nomem(r->d);
}

static void refuse(pl_record *r, pl_code code, const pl_json *v, const char *found,
                   const char *expected)
{
    pl_code rc = pl_json_fail(r->d, code, v, found, expected, "");

    if (!r->bad || rc == PL_ENOMEM)
        r->bad = rc;
}

void pl_record_fail(pl_record *r, const pl_json *v, const char *expected)
{
    refuse(r, PL_EVALUE, v, NULL, expected);
}

/* The member, or NULL and a finding. */
static const pl_json *member(pl_record *r, const pl_json *object, const char *key)
{
    const pl_json *v;
    char *found;

    if (!object)
        return NULL; /* whoever looked for the object has said so */
    if (object->kind != PL_JSON_OBJECT) {
        pl_record_fail(r, object, "an object");
        return NULL;
    }
    v = pl_json_get(object, key);
    if (v)
        return v;
    found = pl_arena_printf(r->a, "no \"%s\"", key);
    if (!found)
        pl_record_nomem(r);
    else
        refuse(r, PL_EKEY, object, found, "it");
    return NULL;
}

static const pl_json *of_kind(pl_record *r, const pl_json *object, const char *key,
                              pl_json_kind kind)
{
    const pl_json *v = member(r, object, key);

    if (!v || v->kind == kind)
        return v;
    pl_record_fail(r, v, pl_json_kind_name(kind));
    return NULL;
}

double pl_record_number(pl_record *r, const pl_json *object, const char *key)
{
    const pl_json *v = member(r, object, key);

    if (!v || v->kind == PL_JSON_NULL)
        return NAN;
    if (v->kind == PL_JSON_NUMBER)
        return v->number;
    pl_record_fail(r, v, "a number or null");
    return NAN;
}

long long pl_record_whole(pl_record *r, const pl_json *object, const char *key, long long low,
                          long long high)
{
    const pl_json *v = of_kind(r, object, key, PL_JSON_NUMBER);
    char *expected;

    if (!v)
        return low;
    /* Bounds are below 2^53, so the comparison in doubles is exact. */
    if (v->number == floor(v->number) && v->number >= (double)low && v->number <= (double)high)
        return (long long)v->number;
    expected = pl_arena_printf(r->a, "a whole number from %lld to %lld", low, high);
    if (!expected)
        pl_record_nomem(r);
    else
        pl_record_fail(r, v, expected);
    return low;
}

bool pl_record_bool(pl_record *r, const pl_json *object, const char *key)
{
    const pl_json *v = of_kind(r, object, key, PL_JSON_BOOL);

    return v && v->truth;
}

const char *pl_record_text(pl_record *r, const pl_json *object, const char *key)
{
    const pl_json *v = member(r, object, key);
    char *copy;

    if (!v || v->kind == PL_JSON_NULL)
        return NULL;
    if (v->kind != PL_JSON_STRING) {
        pl_record_fail(r, v, "a text or null");
        return NULL;
    }
    copy = pl_arena_str(r->a, v->string);
    if (!copy)
        pl_record_nomem(r);
    return copy;
}

const char *pl_record_word(pl_record *r, const pl_json *object, const char *key)
{
    const pl_json *v = of_kind(r, object, key, PL_JSON_STRING);
    char *copy = v ? pl_arena_str(r->a, v->string) : NULL;

    if (v && !copy)
        pl_record_nomem(r);
    return copy ? copy : "";
}

const pl_json *pl_record_list(pl_record *r, const pl_json *object, const char *key)
{
    return of_kind(r, object, key, PL_JSON_ARRAY);
}

const pl_json *pl_record_object(pl_record *r, const pl_json *object, const char *key)
{
    return of_kind(r, object, key, PL_JSON_OBJECT);
}

const char *const *pl_record_texts(pl_record *r, const pl_json *object, const char *key, size_t *n)
{
    const pl_json *list = pl_record_list(r, object, key);
    const char **texts;

    *n = 0;
    if (!list)
        return NULL;
    texts = PL_NEWN(r->a, list->count, const char *);
    if (!texts) {
        pl_record_nomem(r);
        return NULL;
    }
    for (const pl_json *v = list->child; v; v = v->next) {
        char *copy = pl_arena_str(r->a, v->kind == PL_JSON_STRING ? v->string : "");

        if (!copy)
            pl_record_nomem(r);
        if (v->kind != PL_JSON_STRING)
            pl_record_fail(r, v, "a text");
        texts[(*n)++] = copy;
    }
    return texts;
}
