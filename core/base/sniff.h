/* Sniffing: what kind of table of text a file holds, decided from its beginning.
 *
 * Loggers, testing machines and spreadsheets write the same table in a dozen ways.
 * This module decides which one lies here; csv.h reads by it and says with line and
 * column what contradicts it later. docs/reading-files.md is the user's side. */
#ifndef PL_BASE_SNIFF_H
#define PL_BASE_SNIFF_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/code.h"

#define PL_SNIFF_HEAD ((size_t)64 * 1024) /* bytes that decide */
#define PL_SNIFF_COLUMNS 256              /* cells of a line that are looked at */

typedef enum pl_encoding {
    PL_UTF8,
    PL_UTF16_LITTLE,
    PL_UTF16_BIG,
    PL_LATIN1, /* with the signs that Windows-1252 has between 0x80 and 0x9f */
} pl_encoding;

/* "Operator: invented" above the table; a line without a key has key "". */
typedef struct pl_sniff_words {
    const char *key, *value;
    size_t line;
} pl_sniff_words;

typedef struct pl_sniffed {
    pl_encoding encoding;
    size_t mark;                 /* bytes of the byte order mark */
    char delimiter;              /* ',' ';' '\t' '|'; ' ' stands for any run of blanks and tabs */
    char point;                  /* of numbers: '.' or ',' */
    bool point_seen;             /* some number of the head has one; else it is a guess */
    bool trailing;               /* rows end with a delimiter that parts nothing */
    bool units_row;              /* the line below the header holds the units */
    bool commented;              /* the header stands in a comment: "# time [s],force [N]" */
    size_t offset;               /* of the header, in the text without its mark, as UTF-8 */
    size_t line;                 /* of the header, from 1 */
    const pl_sniff_words *block; /* lines above the header */
    size_t nblock;
} pl_sniffed;

typedef struct pl_sniff_ask {
    /* Whether a line with these names (units taken off) is the header that is looked
     * for. NULL: the header is the first line that is neither blank nor a comment. */
    bool (*knows)(void *self, const char *const *names, size_t n);
    void *self;
} pl_sniff_ask;

/* bytes: the file's beginning, n at most PL_SNIFF_HEAD of them. Where no line is known
 * to `knows`, the header is the line above the longest run of rows that hold numbers
 * in the same columns; where there is none either, the first line. PL_ENOMEM. */
pl_code pl_sniff(pl_arena *a, const char *bytes, size_t n, const pl_sniff_ask *ask,
                 pl_sniffed *out);

/* "semicolons between cells, decimal comma, header in line 7"; "" when all is plain:
 * commas, points, UTF-8, header first. NULL: no memory. */
char *pl_sniff_text(pl_arena *a, const pl_sniffed *s);

/* What the block above the table says under a key, whatever the case; NULL: nothing. */
const char *pl_sniff_said(const pl_sniffed *s, const char *key);

/* "peak [kN]" into "peak" and "kN"; "" when it has no unit. Round brackets and a slash
 * ("force / kN") count only round a unit that is known (loose). PL_ENOMEM. */
pl_code pl_sniff_name(pl_arena *a, const char *text, bool loose, const char **name,
                      const char **unit);

/* Turns n bytes into UTF-8. out has room for PL_SNIFF_WIDEST * (n + 4). carry keeps what
 * belongs to the next piece (zeroed before the first). last: no more comes. Returns the
 * bytes written; what cannot be a character becomes U+FFFD. */
#define PL_SNIFF_WIDEST 3
typedef struct pl_sniff_carry {
    unsigned char bytes[4];
    size_t n;
} pl_sniff_carry;
size_t pl_sniff_utf8(pl_encoding from, const char *bytes, size_t n, bool last,
                     pl_sniff_carry *carry, char *out);

#endif
