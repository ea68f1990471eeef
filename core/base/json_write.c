/* JSON texts made by cJSON: the answers of the verbs. Reading is json.c's. */
#include "base/json.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cjson/cJSON.h>

#include "base/text.h"

struct pl_jval {
    cJSON *node;
    struct pl_jval *root; /* whose `failed` and `refusals` speak for the whole text */
    pl_arena *a;
    size_t refusals; /* of the arena before */
    bool failed;
};

static void drop(void *node)
{
    cJSON_Delete(node);
}

pl_jval *pl_jobject(pl_arena *a)
{
    size_t refusals = pl_arena_refusals(a);
    cJSON *node = pl_arena_own(a, cJSON_CreateObject(), drop);
    pl_jval *v = node ? PL_NEW(a, pl_jval) : NULL;

    if (v)
        *v = (pl_jval){ .node = node, .root = v, .a = a, .refusals = refusals };
    return v;
}

/* Takes over node in every case. */
static bool join(pl_jval *to, const char *key, cJSON *node)
{
    bool fine = to && node &&
                (key ? cJSON_AddItemToObject(to->node, key, node)
                     : cJSON_AddItemToArray(to->node, node));

    if (!fine) {
        cJSON_Delete(node);
        if (to)
            to->root->failed = true;
    }
    return fine;
}

static pl_jval *add_branch(pl_jval *to, const char *key, cJSON *node)
{
    pl_jval *v;

    if (!join(to, key, node))
        return NULL;
    v = PL_NEW(to->a, pl_jval);
    if (!v)
        to->root->failed = true;
    else
        *v = (pl_jval){ .node = node, .root = to->root, .a = to->a };
    return v;
}

pl_jval *pl_jadd_object(pl_jval *object, const char *key)
{
    return add_branch(object, key, cJSON_CreateObject());
}

pl_jval *pl_jadd_array(pl_jval *object, const char *key)
{
    return add_branch(object, key, cJSON_CreateArray());
}

void pl_jadd_number(pl_jval *object, const char *key, double x)
{
    char text[40];

    if (!isfinite(x)) {
        pl_jadd_null(object, key);
        return;
    }
    for (int digits = 15; digits <= 17; digits++) {
        snprintf(text, sizeof text, "%.*g", digits, x);
        if (strtod(text, NULL) == x)
            break;
    }
    join(object, key, cJSON_CreateRaw(text));
}

void pl_jadd_whole(pl_jval *object, const char *key, long long x)
{
    char text[32];

    snprintf(text, sizeof text, "%lld", x);
    join(object, key, cJSON_CreateRaw(text));
}

/* A text may come from outside (a file's name, a driver's message): bytes that
 * are no UTF-8 become U+FFFD, so that every answer stays JSON. */
static char *as_utf8(pl_arena *a, const char *s)
{
    size_t n = strlen(s);
    pl_text t;

    pl_text_init(&t, a);
    while (n) {
        size_t good = pl_text_utf8_fault(s, n);

        pl_text_bytes(&t, s, good);
        if (good < n) {
            pl_text_put(&t, "\xef\xbf\xbd");
            good++;
        }
        s += good;
        n -= good;
    }
    return pl_text_done(&t);
}

void pl_jadd_text(pl_jval *object, const char *key, const char *s)
{
    char *clean;

    if (!object)
        return;
    if (!s) {
        pl_jadd_null(object, key);
        return;
    }
    clean = as_utf8(object->a, s);
    join(object, key, clean ? cJSON_CreateString(clean) : NULL);
}

void pl_jadd_bool(pl_jval *object, const char *key, bool b)
{
    join(object, key, cJSON_CreateBool(b));
}

void pl_jadd_null(pl_jval *object, const char *key)
{
    join(object, key, cJSON_CreateNull());
}

bool pl_jhas(const pl_jval *object, const char *key)
{
    return object && cJSON_GetObjectItemCaseSensitive(object->node, key);
}

/* cJSON indents with tabs, and puts one after each colon. Tabs within texts
 * are escaped, so that every tab is one of those. */
char *pl_jtext(pl_arena *a, const pl_jval *v)
{
    bool line_start = true;
    char *tabbed;
    pl_text t;

    if (!v || v->root->failed || pl_arena_refusals(v->a) != v->root->refusals)
        return NULL;
    tabbed = cJSON_Print(v->node);
    if (!tabbed)
        return NULL;
    pl_text_init(&t, a);
    for (const char *p = tabbed; *p; p++) {
        if (*p == '\t')
            pl_text_put(&t, line_start ? "  " : " ");
        else
            pl_text_bytes(&t, p, 1);
        line_start = *p == '\n' || (line_start && *p == '\t');
    }
    cJSON_free(tabbed);
    pl_text_put(&t, "\n");
    return pl_text_done(&t);
}

void pl_jadd_findings(pl_jval *object, const pl_diags *diags)
{
    pl_jval *list = pl_jadd_array(object, "findings");

    for (size_t i = 0; i < diags->count; i++) {
        const pl_diag *d = &diags->items[i];
        pl_jval *one = pl_jadd_object(list, NULL);

        pl_jadd_text(one, "severity", pl_severity_name(d->severity));
        if (d->severity == PL_REFUSED)
            pl_jadd_text(one, "code", pl_code_name(d->code));
        pl_jadd_text(one, "where", d->where);
        if (d->pointer[0])
            pl_jadd_text(one, "pointer", d->pointer);
        pl_jadd_text(one, "found", d->found);
        pl_jadd_text(one, "expected", d->expected);
        pl_jadd_text(one, "mend", d->mend);
    }
}
