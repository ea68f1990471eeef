/* Changing single members of a study file's text. What the members mean is the
 * study reader's; which are asked about is ask.c's. */
#include "cli/ask_draft.h"

#include <string.h>

#include "base/text.h"

/* One member from v, whole, into an object (key) or list (NULL). */
static void copy(pl_jval *into, const char *key, const pl_json *v)
{
    pl_jval *o;

    switch (v->kind) {
    case PL_JSON_NULL:
        pl_jadd_null(into, key);
        break;
    case PL_JSON_BOOL:
        pl_jadd_bool(into, key, v->truth);
        break;
    case PL_JSON_NUMBER:
        pl_jadd_number(into, key, v->number);
        break;
    case PL_JSON_STRING:
        pl_jadd_text(into, key, v->string);
        break;
    default:
        o = v->kind == PL_JSON_ARRAY ? pl_jadd_array(into, key) : pl_jadd_object(into, key);
        for (const pl_json *one = v->child; one; one = one->next)
            copy(o, v->kind == PL_JSON_ARRAY ? NULL : one->key, one);
    }
}

static bool names(const pl_json *v, const char *path, size_t n, size_t place)
{
    long long at;
    char digits[8] = "";

    if (v->key)
        return strlen(v->key) == n && !strncmp(v->key, path, n);
    if (n < sizeof digits)
        memcpy(digits, path, n);
    return pl_text_to_whole(digits, 0, 99999, &at) && (size_t)at == place;
}

/* The children of from (NULL: it is not there yet) into `into`, the member at
 * path as value says; value NULL: without it. list: `into` is one. */
static void change(pl_jval *into, bool list, const pl_json *from, const char *path,
                   const pl_json *value, pl_arena *a)
{
    const char *slash = strchr(path, '/');
    size_t n = slash ? (size_t)(slash - path) : strlen(path), place = 0;
    char *key = list ? NULL : pl_arena_strn(a, path, n);
    bool found = false;

    for (const pl_json *one = from ? from->child : NULL; one; one = one->next) {
        bool here = names(one, path, n, place++);
        bool deeper = one->kind == PL_JSON_ARRAY || one->kind == PL_JSON_OBJECT;

        found = found || here;
        if (!here || (slash && !deeper))
            copy(into, one->key, one);
        else if (slash)
            change(one->kind == PL_JSON_ARRAY ? pl_jadd_array(into, one->key)
                                              : pl_jadd_object(into, one->key),
                   one->kind == PL_JSON_ARRAY, one, slash + 1, value, a);
        else if (value)
            copy(into, one->key, value);
    }
    if (found || !value)
        return;
    if (slash)
        change(pl_jadd_object(into, key), false, NULL, slash + 1, value, a);
    else
        copy(into, key, value);
}

static void put(pl_draft *d, const char *path, const pl_json *value)
{
    pl_jval *root = pl_jobject(d->a);
    const pl_json *from;

    if (!d->text || pl_json_parse(d->a, "draft", d->text, strlen(d->text), &from, &d->faults)) {
        d->text = NULL;
        return;
    }
    change(root, false, from, path, value, d->a);
    d->text = pl_jtext(d->a, root);
}

/* What was put into `holder` as its member "v" goes to path. */
static void put_member(pl_draft *d, const char *path, pl_jval *holder)
{
    const char *text = pl_jtext(d->a, holder);
    const pl_json *v;

    if (!text || pl_json_parse(d->a, "answer", text, strlen(text), &v, &d->faults))
        d->text = text ? d->text : NULL;
    else
        put(d, path, pl_json_get(v, "v"));
}

void pl_draft_text(pl_draft *d, const char *path, const char *value)
{
    pl_jval *o = pl_jobject(d->a);

    pl_jadd_text(o, "v", value);
    put_member(d, path, o);
}

void pl_draft_whole(pl_draft *d, const char *path, long long value)
{
    pl_jval *o = pl_jobject(d->a);

    pl_jadd_whole(o, "v", value);
    put_member(d, path, o);
}

void pl_draft_list(pl_draft *d, const char *path, const char *const *values, size_t n)
{
    pl_jval *o = pl_jobject(d->a), *list = pl_jadd_array(o, "v");

    for (size_t i = 0; i < n; i++)
        pl_jadd_text(list, NULL, values[i]);
    put_member(d, path, o);
}

void pl_draft_object(pl_draft *d, const char *path)
{
    pl_jval *o = pl_jobject(d->a);

    pl_jadd_object(o, "v");
    put_member(d, path, o);
}

void pl_draft_empty(pl_draft *d, const char *path)
{
    pl_draft_list(d, path, NULL, 0);
}

void pl_draft_drop(pl_draft *d, const char *path)
{
    put(d, path, NULL);
}

pl_code pl_draft_read(pl_draft *d, const pl_study **out)
{
    pl_code rc;

    if (!d->text)
        return pl_diags_code(&d->faults, 0) ? pl_diags_code(&d->faults, 0) : pl_nomem(&d->faults);
    rc = pl_diags_code(&d->faults, 0);
    return rc ? rc : pl_study_parse(d->a, "draft", d->text, strlen(d->text), out, &d->faults);
}
