/* Record: reading back the JSON objects that the program itself wrote (a plan
 * in the book). A user's study file has its own reader, with its own words.
 *
 * Each getter takes one member of an object. What is missing or of the wrong
 * kind is a finding, is remembered in `bad`, and gives the value said below, so
 * that one pass finds every fault. */
#ifndef PL_STUDY_RECORD_H
#define PL_STUDY_RECORD_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/json.h"

typedef struct pl_record {
    pl_arena *a;
    pl_diags *d;
    pl_code bad; /* the first refusal; PL_OK while all is well */
} pl_record;

/* A finding at v; remembered. */
void pl_record_fail(pl_record *r, const pl_json *v, const char *expected);
void pl_record_nomem(pl_record *r);

double pl_record_number(pl_record *r, const pl_json *object, const char *key); /* null: NAN */
/* In [low, high]; low when there is a fault. */
long long pl_record_whole(pl_record *r, const pl_json *object, const char *key, long long low,
                          long long high);
bool pl_record_bool(pl_record *r, const pl_json *object, const char *key);        /* fault: false */
const char *pl_record_text(pl_record *r, const pl_json *object, const char *key); /* null: NULL */
const char *pl_record_word(pl_record *r, const pl_json *object, const char *key); /* fault: "" */
const pl_json *pl_record_list(pl_record *r, const pl_json *object, const char *key); /* or NULL */
const pl_json *pl_record_object(pl_record *r, const pl_json *object, const char *key);
/* Texts of a list; *n of them. */
const char *const *pl_record_texts(pl_record *r, const pl_json *object, const char *key, size_t *n);

#endif
