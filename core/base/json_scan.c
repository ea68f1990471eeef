/* The strict scan of a JSON text: every fault with its place, and where each
 * value stands. Values are json.c's. */
#include "base/json_scan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include <cjson/cJSON.h>

typedef struct frame { /* an array or object that is being read */
    const struct frame *up;
    const char *key; /* of the member now read; NULL in an array */
    size_t index;
    size_t depth;
} frame;

typedef struct keyed { /* a key of the object now read */
    struct keyed *previous;
    const char *key;
    size_t offset;
} keyed;

typedef struct scan {
    pl_arena *a;
    const pl_json_doc *doc;
    const char *s;
    size_t at, n;
    pl_diags *d;
    pl_spot *spots; /* of every value, in the text's order */
    size_t count, room;
} scan;

size_t pl_json_line(const pl_json_doc *doc, size_t offset, size_t *column)
{
    size_t line = 1, start = 0;

    for (size_t i = 0; i < offset && i < doc->length; i++)
        if (doc->text[i] == '\n') {
            line++;
            start = i + 1;
        }
    if (column)
        *column = offset - start + 1;
    return line;
}

void pl_json_put_step(pl_text *t, const char *key, size_t index)
{
    pl_text_put(t, "/");
    if (!key) {
        pl_text_add(t, "%zu", index);
        return;
    }
    for (; *key; key++) /* RFC 6901, section 3 */
        if (*key == '~')
            pl_text_put(t, "~0");
        else if (*key == '/')
            pl_text_put(t, "~1");
        else
            pl_text_bytes(t, key, 1);
}

static void put_frames(pl_text *t, const frame *f)
{
    if (!f)
        return;
    put_frames(t, f->up);
    pl_json_put_step(t, f->key, f->index);
}

/* A finding at a byte of the text, within the value of frame f. False, so that
 * "return fault(...)" ends the reading. */
static bool fault(scan *s, pl_code code, size_t offset, const frame *f, const char *found,
                  const char *expected, const char *mend)
{
    pl_mark mark = pl_arena_mark(s->a);
    size_t column, line = pl_json_line(s->doc, offset, &column);
    char *where = pl_arena_printf(s->a, "%s:%zu:%zu", s->doc->name, line, column);
    pl_text t;

    pl_text_init(&t, s->a);
    put_frames(&t, f);
    if (!where || !pl_text_done(&t) || !found)
        pl_nomem(s->d);
    else
        pl_fail(s->d, code, where, .pointer = t.bytes, .found = found, .expected = expected,
                .mend = mend);
    if (s->a != s->d->arena) /* else the finding itself lies behind the mark */
        pl_arena_reset(s->a, mark);
    return false;
}

static int peek(const scan *s)
{
    return s->at < s->n ? (unsigned char)s->s[s->at] : -1;
}

static void skip_blanks(scan *s)
{
    while (s->at < s->n && strchr(" \t\r\n", s->s[s->at]) && s->s[s->at])
        s->at++;
}

size_t pl_json_cut(const char *s, size_t n, size_t most)
{
    if (n <= most)
        return n;
    n = most;
    while (n && ((unsigned char)s[n] & 0xc0) == 0x80) /* not within a character */
        n--;
    return n;
}

/* What stands at the place now, for a finding. */
static char *here(scan *s)
{
    size_t n = 0;

    if (s->at >= s->n)
        return pl_arena_str(s->a, "the end of the text");
    if (!s->s[s->at])
        return pl_arena_str(s->a, "a NUL byte");
    while (s->at + n < s->n && n < PL_JSON_SHOWN && !strchr(" \t\r\n,:{}[]\"", s->s[s->at + n]))
        n++;
    n = pl_json_cut(s->s + s->at, n ? n : 1, PL_JSON_SHOWN);
    return pl_arena_printf(s->a, "'%.*s'", (int)n, s->s + s->at);
}

static bool stop(scan *s, const frame *f, const char *expected, const char *mend)
{
    if (s->at >= s->n)
        return fault(s, PL_ESYNTAX, s->n, f, "the end of the text", expected,
                     mend ? mend : "a bracket or a quote is not closed");
    if (s->s[s->at] == '/' || s->s[s->at] == '#')
        mend = "JSON has no comments; every object takes a \"note\"";
    else if (s->s[s->at] == '\'')
        mend = "texts stand in double quotes";
    return fault(s, PL_ESYNTAX, s->at, f, here(s), expected, mend);
}

static bool note_value(scan *s, size_t offset, size_t *place)
{
    if (s->count == s->room) {
        size_t room = s->room ? 2 * s->room : 64;
        pl_spot *more = pl_arena_grow(s->a, s->spots, s->count, room, sizeof *more);

        if (!more) {
            pl_nomem(s->d);
            return false;
        }
        s->spots = more;
        s->room = room;
    }
    *place = s->count;
    s->spots[s->count++] = (pl_spot){ .offset = offset };
    return true;
}

/* Four hex digits at offset, or -1. */
static long hex4(const scan *s, size_t offset)
{
    long value = 0;

    for (size_t i = offset; i < offset + 4; i++) {
        const char *digits = "0123456789abcdef0123456789ABCDEF";
        const char *p = i < s->n && s->s[i] ? strchr(digits, s->s[i]) : NULL;

        if (!p)
            return -1;
        value = value * 16 + (p - digits) % 16;
    }
    return value;
}

/* At a backslash within a text; steps behind the escape. */
static void scan_escape(scan *s, const frame *f)
{
    size_t from = s->at;
    long c;

    s->at++;
    if (s->at >= s->n)
        return; /* the missing quote is reported by the caller */
    if (s->s[s->at] != 'u') {
        if (!s->s[s->at] || !strchr("\"\\/bfnrt", s->s[s->at]))
            fault(s, PL_ESYNTAX, from, f,
                  pl_arena_printf(s->a, "'\\%.*s'", s->s[s->at] ? 1 : 0, s->s + s->at),
                  "one of \\\" \\\\ \\/ \\b \\f \\n \\r \\t, or \\u and four digits",
                  "a backslash itself is written \\\\");
        s->at++;
        return;
    }
    c = hex4(s, s->at + 1);
    if (c < 0) {
        fault(s, PL_ESYNTAX, from, f, "'\\u' without four hexadecimal digits", "as in \\u00e9",
              NULL);
        s->at++;
        return;
    }
    s->at += 5;
    if (c == 0)
        fault(s, PL_ESYNTAX, from, f, "'\\u0000'", "a text without NUL", NULL);
    if (c >= 0xd800 && c <= 0xdbff && s->at + 1 < s->n && s->s[s->at] == '\\' &&
        s->s[s->at + 1] == 'u') {
        long low = hex4(s, s->at + 2);

        if (low >= 0xdc00 && low <= 0xdfff) {
            s->at += 6;
            return;
        }
    }
    if (c >= 0xd800 && c <= 0xdfff)
        fault(s, PL_ESYNTAX, from, f,
              pl_arena_printf(s->a, "'%.6s', half of a surrogate pair", s->s + from),
              "a whole character", NULL);
}

/* At an opening quote; steps behind the closing one. */
static bool scan_string(scan *s, const frame *f)
{
    size_t from = s->at++, utf8;

    for (;;) {
        int c = peek(s);

        if (c == '"')
            break;
        if (c < 0 || c == '\n')
            return fault(s, PL_ESYNTAX, from, f, "a text that is not closed on its line",
                         "a closing quote", "a line break within a text is written \\n");
        if (c == '\\') {
            scan_escape(s, f);
            continue;
        }
        if (c < ' ')
            fault(s, PL_ESYNTAX, s->at, f,
                  c ? pl_arena_printf(s->a, "control character %d in a text", c) : "a NUL byte",
                  "printable characters", c == '\t' ? "a tab is written \\t" : NULL);
        s->at++;
    }
    s->at++;
    utf8 = pl_text_utf8_fault(s->s + from, s->at - from);
    if (utf8 < s->at - from)
        fault(s, PL_ESYNTAX, from + utf8, f,
              pl_arena_printf(s->a, "byte 0x%02x", (unsigned)(unsigned char)s->s[from + utf8]),
              "UTF-8", "save the file as UTF-8");
    return true;
}

static size_t digits(scan *s)
{
    size_t from = s->at;

    while (s->at < s->n && s->s[s->at] >= '0' && s->s[s->at] <= '9')
        s->at++;
    return s->at - from;
}

/* A number by the grammar of RFC 8259, section 6. */
static bool scan_number(scan *s, const frame *f)
{
    size_t from = s->at, whole, start;
    char *text;
    double x;

    s->at += s->s[s->at] == '-';
    start = s->at;
    whole = digits(s);
    if (!whole)
        return stop(s, f, "a digit", "write 0.5, not .5; no \"+\" before a number");
    if (whole > 1 && s->s[start] == '0')
        fault(s, PL_ESYNTAX, from, f,
              pl_arena_printf(s->a, "'%.*s'",
                              (int)pl_json_cut(s->s + from, s->at - from, PL_JSON_SHOWN),
                              s->s + from),
              "a number without leading zeros", "a text with zeros in front stands in quotes");
    if (peek(s) == '.') {
        s->at++;
        if (!digits(s))
            return stop(s, f, "a digit after the point", NULL);
    }
    if (peek(s) == 'e' || peek(s) == 'E') {
        s->at++;
        s->at += peek(s) == '+' || peek(s) == '-';
        if (!digits(s))
            return stop(s, f, "a digit in the exponent", NULL);
    }
    text = pl_arena_strn(s->a, s->s + from, s->at - from);
    if (!text) {
        pl_nomem(s->d);
        return false;
    }
    if (s->at - from > PL_JSON_NUMBER_MOST)
        fault(s, PL_EVALUE, from, f,
              pl_arena_printf(s->a, "a number of %zu characters", s->at - from),
              "at most 60 characters", "17 digits say all that a number here can hold");
    else if (x = strtod(text, NULL), !isfinite(x))
        fault(s, PL_EVALUE, from, f, pl_arena_printf(s->a, "'%s'", text), "a number below 1.8e308",
              NULL);
    return true;
}

/* true, false, null; another bare word is a fault, but can be read over. */
static bool scan_word(scan *s, const frame *f)
{
    static const char *const words[] = { "true", "false", "null" };
    size_t from = s->at, n;
    const char *mend = "texts stand in double quotes";

    while (s->at < s->n && ((s->s[s->at] | 32) >= 'a' && (s->s[s->at] | 32) <= 'z'))
        s->at++;
    n = s->at - from;
    for (size_t i = 0; i < 3; i++) {
        if (n == strlen(words[i]) && !memcmp(s->s + from, words[i], n))
            return true;
        if (n == strlen(words[i]) && !strncasecmp(s->s + from, words[i], n))
            mend = "true, false and null are written in small letters";
    }
    fault(s, PL_ESYNTAX, from, f,
          pl_arena_printf(s->a, "'%.*s'", (int)pl_json_cut(s->s + from, n, PL_JSON_SHOWN),
                          s->s + from),
          "a value", mend);
    return true;
}

static bool scan_value(scan *s, const frame *f);

static int by_key(const void *x, const void *y)
{
    const keyed *a = *(const keyed *const *)x, *b = *(const keyed *const *)y;
    int order = strcmp(a->key, b->key);

    return order ? order : (a->offset > b->offset) - (a->offset < b->offset);
}

/* Every key but the first of its name is a fault. */
static bool check_doubled(scan *s, const frame *f, const keyed *last, size_t n)
{
    const keyed **sorted;
    size_t first = 0;

    if (n < 2)
        return true;
    sorted = PL_NEWN(s->a, n, const keyed *);
    if (!sorted) {
        pl_nomem(s->d);
        return false;
    }
    for (size_t i = n; i-- > 0; last = last->previous)
        sorted[i] = last;
    qsort(sorted, n, sizeof(const keyed *), by_key);
    for (size_t i = 1; i < n; i++) {
        frame member = { f->up, sorted[i]->key, 0, f->depth };
        char *mend;

        if (strcmp(sorted[i]->key, sorted[first]->key)) {
            first = i;
            continue;
        }
        mend = pl_arena_printf(s->a, "the first stands on line %zu",
                               pl_json_line(s->doc, sorted[first]->offset, NULL));
        if (!mend)
            pl_nomem(s->d);
        fault(s, PL_EKEY, sorted[i]->offset, &member,
              pl_arena_printf(s->a, "\"%s\" a second time", sorted[i]->key),
              "each key once in its object", mend);
    }
    return true;
}

/* The text of a key, escapes undone by cJSON. */
static const char *key_text(scan *s, size_t from, size_t end)
{
    const char *key;
    cJSON *item;

    if (!memchr(s->s + from, '\\', end - from))
        return pl_arena_strn(s->a, s->s + from + 1, end - from - 2);
    item = cJSON_ParseWithLength(s->s + from, end - from);
    key = pl_arena_str(s->a, item ? cJSON_GetStringValue(item) : "?");
    cJSON_Delete(item);
    return key;
}

/* At the place of a key; steps behind its colon. A key without quotes is a
 * fault that can be read over. */
static bool scan_key(scan *s, frame *f, keyed **last)
{
    const frame *outer = f->up;
    size_t from = s->at;
    keyed *k;

    if (peek(s) == '"') {
        if (!scan_string(s, outer))
            return false;
        f->key = key_text(s, from, s->at);
    } else {
        while (s->at < s->n &&
               (strchr("_-", s->s[s->at]) ? s->s[s->at] != '\0'
                                          : (s->s[s->at] | 32) >= 'a' && (s->s[s->at] | 32) <= 'z'))
            s->at++;
        if (s->at == from)
            return stop(s, outer, "a key in double quotes", NULL);
        f->key = pl_arena_strn(s->a, s->s + from, s->at - from);
        fault(s, PL_ESYNTAX, from, outer, f->key, "a key in double quotes", NULL);
    }
    k = PL_NEW(s->a, keyed);
    if (!f->key || !k) {
        pl_nomem(s->d);
        return false;
    }
    *k = (keyed){ *last, f->key, from };
    *last = k;
    skip_blanks(s);
    if (peek(s) != ':')
        return stop(s, f, "a colon after the key", NULL);
    s->at++;
    return true;
}

static bool starts_value(int c)
{
    return c > 0 && strchr("\"{[-0123456789", c) != NULL;
}

/* 0.7 N/mm2: a bare unit behind a bare number. */
static bool unit_follows(const scan *s)
{
    int c = peek(s);

    return s->at && s->s[s->at - 1] == ' ' && (c == '%' || ((c | 32) >= 'a' && (c | 32) <= 'z'));
}

/* Behind a member: steps to the next one or behind the end. *more: another
 * member follows. */
static bool scan_comma(scan *s, const frame *f, char close, bool *more)
{
    size_t comma;

    *more = false;
    skip_blanks(s);
    if (peek(s) == close) {
        s->at++;
        return true;
    }
    *more = true;
    if (peek(s) != ',') {
        const char *expected = close == '}' ? "a comma or '}'" : "a comma or ']'";

        if (unit_follows(s)) {
            fault(s, PL_ESYNTAX, s->at, f, here(s), expected,
                  "a value with its unit stands in quotes: \"0.7 N/mm2\"");
            while (s->at < s->n && !strchr(",}]\n", s->s[s->at]))
                s->at++;
            return scan_comma(s, f, close, more);
        }
        if (close == '}' ? peek(s) != '"' : !starts_value(peek(s)))
            return stop(s, f, expected, NULL);
        fault(s, PL_ESYNTAX, s->at, f, here(s), expected, "a comma is missing before it");
        return true;
    }
    comma = s->at++;
    skip_blanks(s);
    if (peek(s) != close)
        return true;
    fault(s, PL_ESYNTAX, comma, f->up, close == '}' ? "a comma before '}'" : "a comma before ']'",
          "no comma after the last member", NULL);
    s->at++;
    *more = false;
    return true;
}

static bool scan_members(scan *s, const frame *up, char close)
{
    frame f = { up, NULL, 0, up ? up->depth + 1 : 1 };
    keyed *last = NULL;
    bool more = true;

    if (f.depth > PL_JSON_DEEPEST)
        return fault(s, PL_ESYNTAX, s->at, up, "brackets nested deeper than 64",
                     "at most 64 levels", NULL);
    s->at++;
    skip_blanks(s);
    if (peek(s) == close) {
        s->at++;
        return true;
    }
    for (; more; f.index++) {
        skip_blanks(s);
        if (close == '}' && !scan_key(s, &f, &last))
            break;
        if (!scan_value(s, &f) || !scan_comma(s, &f, close, &more))
            break;
    }
    /* Also when the reading ended early: what was read is still checked. */
    if (close == '}' && !s->d->out_of_memory) {
        size_t n = 0;

        for (const keyed *k = last; k; k = k->previous)
            n++;
        if (!check_doubled(s, &f, last, n))
            return false;
    }
    return !more;
}

static bool scan_value(scan *s, const frame *f)
{
    size_t place = 0;
    bool fine;
    int c;

    skip_blanks(s);
    c = peek(s);
    if (!note_value(s, s->at, &place))
        return false;
    if (c == '{' || c == '[')
        fine = scan_members(s, f, c == '{' ? '}' : ']');
    else if (c == '"')
        fine = scan_string(s, f);
    else if (c == '-' || (c >= '0' && c <= '9'))
        fine = scan_number(s, f);
    else if ((c | 32) >= 'a' && (c | 32) <= 'z')
        fine = scan_word(s, f);
    else
        fine = stop(s, f, "a value", NULL);
    s->spots[place].end = s->at;
    return fine;
}

pl_code pl_json_scan(pl_arena *a, const pl_json_doc *doc, const pl_spot **spots, pl_diags *diags)
{
    scan s = { .a = a, .doc = doc, .s = doc->text, .n = doc->length, .d = diags };
    size_t from = diags->count;

    if (s.n >= 3 && !memcmp(s.s, "\xef\xbb\xbf", 3))
        s.at = 3;
    if (scan_value(&s, NULL)) {
        skip_blanks(&s);
        if (s.at < s.n)
            fault(&s, PL_ESYNTAX, s.at, NULL, here(&s), "nothing after the end", NULL);
    }
    *spots = s.spots;
    return pl_diags_code(diags, from);
}
