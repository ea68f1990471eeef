/* Tables that exports are made of, read back strictly: RFC 4180 with commas, nothing
 * trimmed, as many cells in each line as were asked for. What people fill in by hand is
 * read by csv.h. */
#ifndef PL_BASE_FIELDS_H
#define PL_BASE_FIELDS_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

typedef struct pl_field {
    char *bytes; /* a NUL after its last byte; may hold others */
    size_t n;
    bool quoted;
} pl_field;

typedef struct pl_fields {
    pl_arena *a;
    pl_diags *d;
    const char *file; /* for findings */
    const char *mend; /* of every finding */
    const char *s, *end;
    size_t line; /* of what was read last, from 1 */
} pl_fields;

/* One line of n cells. PL_ESYNTAX: a line of another length, a text without its end. */
pl_code pl_fields_line(pl_fields *x, pl_field *out, int n);
/* The first line: these names, in this order. */
pl_code pl_fields_header(pl_fields *x, const char *const *names, int n);
static inline bool pl_fields_more(const pl_fields *x)
{
    return x->s < x->end;
}
/* A refusal at the line read last. */
pl_code pl_fields_bad(pl_fields *x, const char *found, const char *expected);

#endif
