/* What the scan of a JSON text hands to the making of its tree. */
#ifndef PL_BASE_JSON_SCAN_H
#define PL_BASE_JSON_SCAN_H

#include "base/json.h"
#include "base/text.h"

#define PL_JSON_SHOWN 60 /* bytes of a value that a finding repeats */

typedef struct pl_spot { /* where one value stands */
    size_t offset, end;
} pl_spot;

/* *spots: of every value, in the order in which they begin. Codes as of
 * pl_json_parse. */
pl_code pl_json_scan(pl_arena *a, const pl_json_doc *doc, const pl_spot **spots, pl_diags *diags);

/* Line of a byte, from 1; column, from 1, unless NULL. */
size_t pl_json_line(const pl_json_doc *doc, size_t offset, size_t *column);

/* One step of a JSON pointer (RFC 6901, section 3): "/levels" or "/2". */
void pl_json_put_step(pl_text *t, const char *key, size_t index);

/* At most `most` of n bytes, no character cut in two. */
size_t pl_json_cut(const char *s, size_t n, size_t most);

#endif
