/* Fill: one JSON object into its raw struct by the key table. Every fault is a
 * finding; a value with a fault is left as if absent (NAN, NULL, 0), so that
 * what is checked later does not report it twice. Internal to core/study. */
#ifndef PL_STUDY_FILL_H
#define PL_STUDY_FILL_H

#include "study/keys.h"

typedef struct pl_fill {
    pl_arena *a;
    pl_diags *d;
    pl_code bad; /* the first refusal; ENOMEM wins */
    pl_assumed *assumed;
    size_t nassumed, room;
} pl_fill;

/* v NULL: the object is absent, its presets hold. pointer: where it stands or
 * would stand. */
void pl_fill_object(pl_fill *f, const pl_object *o, const pl_json *v, const char *pointer,
                    void *into);

void pl_fill_fail(pl_fill *f, pl_code code, const pl_json *v, const char *found,
                  const char *expected, const char *mend);
void pl_fill_nomem(pl_fill *f);
/* Notes a default; pointer is joined from base and key. */
void pl_fill_assume(pl_fill *f, const char *base, const char *key, const char *words);
/* A text in f's arena that never is NULL: "" and ENOMEM when memory is out. */
const char *pl_fill_printf(pl_fill *f, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
/* The text, or "" and ENOMEM when it is NULL. */
const char *pl_fill_kept(pl_fill *f, const char *text);
/* One line, 1 to `most` bytes, no control characters; else a finding, false. */
bool pl_fill_is_line(pl_fill *f, const pl_json *v, long long most);

#endif
