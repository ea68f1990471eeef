/* A path into a JSON answer: members between slashes; in a list a number is a
 * place, and "name=metal" picks the first object whose member has that text. */
#ifndef TESTS_DEMO_WALK_H
#define TESTS_DEMO_WALK_H

#include <string.h>

#include "base/json.h"
#include "base/text.h"

static inline const pl_json *pick(const pl_json *list, const char *key, const char *wanted)
{
    for (const pl_json *x = list->child; x; x = x->next) {
        const pl_json *member = pl_json_get(x, key);

        if (member && member->kind == PL_JSON_STRING && !strcmp(member->string, wanted))
            return x;
    }
    return NULL;
}

static inline const pl_json *walk(pl_arena *a, const pl_json *v, const char *path)
{
    char *copy = pl_arena_str(a, path), *rest = NULL;

    for (char *part = strtok_r(copy, "/", &rest); part && v; part = strtok_r(NULL, "/", &rest)) {
        char *equals = strchr(part, '=');
        long long index;

        if (equals) {
            *equals = '\0';
            v = pick(v, part, equals + 1);
        } else if (pl_text_to_whole(part, 0, 100000, &index)) {
            v = pl_json_at(v, (size_t)index);
        } else {
            v = pl_json_get(v, part);
        }
    }
    return v;
}

#endif
