/* JSON texts as trees: json_scan.c finds the faults and the places, cJSON reads
 * the values. What keys mean is the study room's; writing is json_write.c's. */
#include "base/json_scan.h"

#include <string.h>

#include <cjson/cJSON.h>

#include "base/file.h"

typedef struct build {
    pl_arena *a;
    const pl_json_doc *doc;
    const pl_spot *next; /* spots stand in the order in which values are made */
} build;

static pl_json_kind kind_of(const cJSON *item)
{
    if (cJSON_IsObject(item))
        return PL_JSON_OBJECT;
    if (cJSON_IsArray(item))
        return PL_JSON_ARRAY;
    if (cJSON_IsString(item))
        return PL_JSON_STRING;
    if (cJSON_IsNumber(item))
        return PL_JSON_NUMBER;
    return cJSON_IsBool(item) ? PL_JSON_BOOL : PL_JSON_NULL;
}

static pl_json *make(build *b, const cJSON *item, const pl_json *parent, size_t index)
{
    pl_json *v = PL_NEW(b->a, pl_json);
    const pl_json **link;
    const cJSON *child;

    if (!v)
        return NULL;
    v->kind = kind_of(item);
    v->index = index;
    v->offset = b->next->offset;
    v->end = b->next->end;
    b->next++;
    v->parent = parent;
    v->doc = b->doc;
    if (item->string && !(v->key = pl_arena_str(b->a, item->string)))
        return NULL;
    if (v->kind == PL_JSON_STRING && !(v->string = pl_arena_str(b->a, item->valuestring)))
        return NULL;
    if (v->kind == PL_JSON_NUMBER) {
        v->number = item->valuedouble;
        v->raw = pl_arena_strn(b->a, b->doc->text + v->offset, v->end - v->offset);
        if (!v->raw)
            return NULL;
    }
    v->truth = cJSON_IsTrue(item);
    link = &v->child;
    cJSON_ArrayForEach(child, item)
    {
        pl_json *made = make(b, child, v, v->count++);

        if (!made)
            return NULL;
        *link = made;
        link = (const pl_json **)&made->next;
    }
    return v;
}

pl_code pl_json_parse(pl_arena *a, const char *name, const char *text, size_t length,
                      const pl_json **out, pl_diags *diags)
{
    pl_json_doc *doc = PL_NEW(a, pl_json_doc);
    build b = { .a = a, .doc = doc };
    cJSON *tree;
    pl_json *root;
    pl_code code;

    if (!doc)
        return pl_nomem(diags);
    doc->name = pl_arena_str(a, name);
    doc->text = pl_arena_strn(a, text, length);
    doc->length = length;
    if (!doc->name || !doc->text)
        return pl_nomem(diags);
    code = pl_json_scan(a, doc, &b.next, diags);
    if (code)
        return code;
    /* The scan lets through less than cJSON reads, so that only memory can be
     * missing here. */
    tree = cJSON_ParseWithLength(doc->text, length);
    if (!tree)
        return pl_nomem(diags);
    root = make(&b, tree, NULL, 0);
    cJSON_Delete(tree);
    if (!root)
        return pl_nomem(diags);
    *out = root;
    return PL_OK;
}

pl_code pl_json_read(pl_arena *a, const char *path, const pl_json **out, pl_diags *diags)
{
    char *bytes;
    size_t length;
    pl_code code = pl_file_read(a, path, &bytes, &length, diags);

    return code ? code : pl_json_parse(a, path, bytes, length, out, diags);
}

/* ----------------------------------------------------------- questions ---- */

const pl_json *pl_json_get(const pl_json *object, const char *key)
{
    for (const pl_json *v = object->child; v; v = v->next)
        if (v->key && !strcmp(v->key, key))
            return v;
    return NULL;
}

const pl_json *pl_json_at(const pl_json *array, size_t i)
{
    const pl_json *v = array->child;

    while (v && i--)
        v = v->next;
    return v;
}

const char *pl_json_kind_name(pl_json_kind k)
{
    static const char *const names[] = { "null",   "true or false", "a number",
                                         "a text", "a list",        "an object" };

    return names[k];
}

static void put_path(pl_text *t, const pl_json *v)
{
    if (!v->parent)
        return;
    put_path(t, v->parent);
    pl_json_put_step(t, v->key, v->index);
}

char *pl_json_pointer(pl_arena *a, const pl_json *v)
{
    pl_text t;

    pl_text_init(&t, a);
    put_path(&t, v);
    return pl_text_done(&t);
}

char *pl_json_where(pl_arena *a, const pl_json *v)
{
    return pl_arena_printf(a, "%s:%zu", v->doc->name, pl_json_line(v->doc, v->offset, NULL));
}

char *pl_json_shown(pl_arena *a, const pl_json *v)
{
    const char *s = v->doc->text + v->offset;
    size_t n = v->end - v->offset, kept;
    bool blank = false;
    pl_text t;

    /* Line breaks and indents of lists and objects shrink to one blank; a text
     * holds no line break. */
    pl_text_init(&t, a);
    for (size_t i = 0; i < n && t.length <= PL_JSON_SHOWN && !t.failed; i++) {
        bool is_blank = strchr(" \t\r\n", s[i]) != NULL;

        if (!is_blank || !blank || v->kind == PL_JSON_STRING)
            pl_text_bytes(&t, is_blank ? " " : s + i, 1);
        blank = is_blank;
    }
    if (!pl_text_done(&t))
        return NULL;
    kept = pl_json_cut(t.bytes, t.length, PL_JSON_SHOWN);
    if (kept < t.length) {
        t.length = kept;
        pl_text_put(&t, v->kind == PL_JSON_STRING ? "...\"" : "...");
    }
    return pl_text_done(&t);
}

static void add_finding(pl_diags *d, pl_code code, pl_severity severity, const pl_json *v,
                        const char *found, const char *expected, const char *mend)
{
    char *where = pl_json_where(d->arena, v), *pointer = pl_json_pointer(d->arena, v);

    if (!found)
        found = pl_json_shown(d->arena, v);
    if (!where || !pointer || !found)
        pl_nomem(d);
    else
        pl_diags_add(d, (pl_diag){ code, severity, where, pointer, found, expected, mend });
}

pl_code pl_json_fail(pl_diags *d, pl_code code, const pl_json *v, const char *found,
                     const char *expected, const char *mend)
{
    add_finding(d, code, PL_REFUSED, v, found, expected, mend);
    return d->out_of_memory ? PL_ENOMEM : code;
}

void pl_json_advise(pl_diags *d, const pl_json *v, const char *found, const char *expected,
                    const char *mend)
{
    add_finding(d, PL_OK, PL_ADVICE, v, found, expected, mend);
}
