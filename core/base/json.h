/* JSON: strict reading with places, and writing of answers. cJSON reads
 * them, here and nowhere else.
 *
 * Beyond what cJSON refuses, the reader refuses: a key given twice in one
 * object, text after the end, leading zeros, numbers that overflow a double,
 * invalid UTF-8, a NUL byte or "\u0000", control characters in texts, lone
 * surrogates, a nesting deeper than PL_JSON_DEEPEST, a number longer than
 * PL_JSON_NUMBER_MOST bytes. All faults of one text are found in one run as far
 * as the text can still be read: a missing or extra comma, a bare word or a key
 * without quotes does not end the reading. A byte order mark is skipped. */
#ifndef PL_BASE_JSON_H
#define PL_BASE_JSON_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

#define PL_JSON_DEEPEST 64
#define PL_JSON_NUMBER_MOST ((size_t)60) /* cJSON reads no more than 63 */

typedef enum pl_json_kind {
    PL_JSON_NULL,
    PL_JSON_BOOL,
    PL_JSON_NUMBER,
    PL_JSON_STRING,
    PL_JSON_ARRAY,
    PL_JSON_OBJECT
} pl_json_kind;

typedef struct pl_json_doc {
    const char *name; /* as findings name it: the file's name */
    const char *text;
    size_t length;
} pl_json_doc;

/* One value; the tree lives in the arena it was parsed into. */
typedef struct pl_json {
    pl_json_kind kind;
    const char *key;    /* of its object; NULL elsewhere */
    size_t index;       /* place in its array or object, from 0 */
    size_t offset, end; /* of its first byte in the text, and behind its last */
    const char *string; /* of a string, UTF-8 */
    const char *raw;    /* of a number: its text as typed */
    double number;
    bool truth;
    size_t count;                                /* children of an array or object */
    const struct pl_json *child, *next, *parent; /* children in the text's order */
    const pl_json_doc *doc;
} pl_json;

/* Parses a whole text of `length` bytes. name and text are copied. *out is set
 * on PL_OK only. PL_ESYNTAX, PL_EKEY (doubled key), PL_EVALUE (overflow),
 * PL_ENOMEM. */
pl_code pl_json_parse(pl_arena *a, const char *name, const char *text, size_t length,
                      const pl_json **out, pl_diags *diags);
pl_code pl_json_read(pl_arena *a, const char *path, const pl_json **out, pl_diags *diags);

const pl_json *pl_json_get(const pl_json *object, const char *key); /* NULL if absent */
const pl_json *pl_json_at(const pl_json *array, size_t i);
const char *pl_json_kind_name(
    pl_json_kind k); /* "a text", "a number", "a list", "an object", ... */
char *pl_json_pointer(pl_arena *a, const pl_json *v); /* RFC 6901 */
char *pl_json_where(pl_arena *a, const pl_json *v);   /* "stairs.json:41" */
char *pl_json_shown(pl_arena *a, const pl_json *v);   /* as typed, quoted, cut at 60 bytes */

/* A refusal or advice at a value: where and pointer are filled in; found is
 * the value as typed unless given. */
pl_code pl_json_fail(pl_diags *d, pl_code code, const pl_json *v, const char *found,
                     const char *expected, const char *mend);
void pl_json_advise(pl_diags *d, const pl_json *v, const char *found, const char *expected,
                    const char *mend);

/* Writing. Values are made in an arena and joined; memory that the arena refused
 * since the root was made, to anybody, makes the text NULL at the end, so that
 * nothing in between needs a check.
 * Numbers are written with 17 significant digits (shorter if that reads back
 * the same); NaN and infinities become null. */
typedef struct pl_jval pl_jval;
pl_jval *pl_jobject(pl_arena *a);
pl_jval *pl_jobject_dense(pl_arena *a); /* its text has no blanks but those within texts */
pl_jval *pl_jadd_object(pl_jval *object, const char *key); /* returns the new member */
pl_jval *pl_jadd_array(pl_jval *object, const char *key);
void pl_jadd_number(pl_jval *object, const char *key, double x);
void pl_jadd_whole(pl_jval *object, const char *key, long long x);
void pl_jadd_text(pl_jval *object, const char *key, const char *s); /* NULL: null */
void pl_jadd_bool(pl_jval *object, const char *key, bool b);
void pl_jadd_null(pl_jval *object, const char *key);
/* In arrays: the same with key NULL. */
bool pl_jhas(const pl_jval *root, const char *key); /* a member of that name was added to it */
/* Nothing more will be added to v, the newest member of what holds it, or to what is in it; none
 * of these may be used again, and their memory serves the next. For long lists. */
void pl_jdone(pl_jval *v);
char *pl_jtext(pl_arena *a, pl_jval *root); /* indented by two spaces, newline at the end */
bool pl_jmade(const pl_jval *root);         /* false: memory ran out on the way, there is no text */
/* The same piece by piece, for texts too long to be made whole. take returns false to stop. False:
 * it did, or memory had run out (then nothing was taken). */
typedef bool (*pl_jpiece)(void *context, const char *bytes, size_t n);
bool pl_jeach(pl_jval *root, pl_jpiece take, void *context);

/* findings[] {severity, where, found, expected, mend} of every answer. */
void pl_jadd_findings(pl_jval *object, const pl_diags *diags);

#endif
