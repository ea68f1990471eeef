/* Decides what kind of table lies in a file, from its first bytes: encoding, where
 * the table begins, what parts its cells, its decimal sign. Reading the table is for
 * csv_*.c; turning other encodings into UTF-8 is in sniff_utf8.c. */
#include "base/sniff.h"

#include <stdint.h>
#include <string.h>
#include <strings.h>

#include "base/text.h"
#include "base/units.h"

#define LINES_MOST 4096

/* Tried in this order; the blank last, because names hold blanks. */
static const char delimiters[] = { ';', '\t', '|', ',', ' ' };
#define NDELIMITERS (sizeof delimiters)

typedef struct span {
    const char *s;
    size_t n;
} span;

typedef struct cells {
    span at[PL_SNIFF_COLUMNS];
    size_t n;
} cells;

typedef struct head {
    pl_arena *a;
    const pl_sniff_ask *ask;
    span *lines;
    size_t nline;
    const char *text;
    size_t length;
    bool failed; /* no memory */
} head;

/* ------------------------------------------------------------ encoding ---- */

static bool has_mark(const char *s, size_t n, const char *mark, size_t length)
{
    return n >= length && !memcmp(s, mark, length);
}

/* UTF-16 without its mark: every second byte of Latin text is zero. */
static bool looks_utf16(const unsigned char *s, size_t n, size_t zero_at)
{
    size_t zeros = 0, others = 0, pairs = n / 2;

    for (size_t i = 0; i < pairs; i++) {
        zeros += s[2 * i + zero_at] == 0;
        others += s[2 * i + 1 - zero_at] == 0;
    }
    return pairs >= 4 && zeros * 10 >= pairs * 7 && others * 50 <= pairs;
}

/* A byte that UTF-8 does not have, nothing before it that is UTF-8 beyond ASCII, and no
 * control characters: Latin-1 or its kin. */
static bool looks_latin(const unsigned char *s, size_t n, size_t fault)
{
    for (size_t i = 0; i < fault; i++)
        if (s[i] >= 0x80)
            return false;
    for (size_t i = 0; i < n; i++)
        if ((s[i] < 0x20 && !strchr("\t\n\r\f", s[i])) || s[i] == 0 || s[i] == 0x7f ||
            s[i] == 0x81 || s[i] == 0x8d || s[i] == 0x8f || s[i] == 0x90 || s[i] == 0x9d)
            return false;
    return true;
}

static void find_encoding(const char *s, size_t n, pl_sniffed *out)
{
    size_t fault;

    if (has_mark(s, n, "\xef\xbb\xbf", 3)) {
        out->mark = 3;
    } else if (has_mark(s, n, "\xff\xfe", 2) || has_mark(s, n, "\xfe\xff", 2)) {
        out->mark = 2;
        out->encoding = s[0] == '\xff' ? PL_UTF16_LITTLE : PL_UTF16_BIG;
    } else if (looks_utf16((const unsigned char *)s, n, 1)) {
        out->encoding = PL_UTF16_LITTLE;
    } else if (looks_utf16((const unsigned char *)s, n, 0)) {
        out->encoding = PL_UTF16_BIG;
    } else {
        fault = pl_text_utf8_fault(s, n);
        /* not a character that the end of a full head cuts in two */
        if (fault + (n < PL_SNIFF_HEAD ? 0 : 3) < n &&
            looks_latin((const unsigned char *)s, n, fault))
            out->encoding = PL_LATIN1;
    }
}

/* --------------------------------------------------------------- lines ---- */

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static span trimmed(span x)
{
    while (x.n && is_blank(x.s[0])) {
        x.s++;
        x.n--;
    }
    while (x.n && is_blank(x.s[x.n - 1]))
        x.n--;
    return x;
}

/* Lines without their ends. */
static bool find_lines(head *h)
{
    const char *s = h->text, *end = s + h->length;

    h->lines = PL_NEWN(h->a, LINES_MOST, span);
    while (h->lines && s < end && h->nline < LINES_MOST) {
        const char *p = s;

        while (p < end && *p != '\n' && *p != '\r')
            p++;
        h->lines[h->nline++] = (span){ s, (size_t)(p - s) };
        if (p < end && *p == '\r' && p + 1 < end && p[1] == '\n')
            p++;
        s = p + 1;
    }
    return h->lines != NULL;
}

static bool is_comment(span line)
{
    return line.n && (line.s[0] == '#' || line.s[0] == '%');
}

static bool is_empty(span line)
{
    return trimmed(line).n == 0;
}

static void put_cell(cells *out, const char *from, const char *to)
{
    span x = trimmed((span){ from, (size_t)(to - from) });

    if (x.n >= 2 && x.s[0] == '"' && x.s[x.n - 1] == '"')
        x = trimmed((span){ x.s + 1, x.n - 2 });
    if (out->n < PL_SNIFF_COLUMNS)
        out->at[out->n++] = x;
}

/* Runs of blanks part cells, but a unit in brackets stays with its name. */
static void split_blanks(span line, cells *out)
{
    const char *end = line.s + line.n, *from = line.s, *p = line.s;
    bool quoted = false, bracket = false;

    while (p < end) {
        const char *gap = p;

        quoted = quoted != (*p == '"');
        bracket = (bracket || *p == '[' || *p == '(') && *p != ']' && *p != ')';
        if (!is_blank(*p) || quoted || bracket) {
            p++;
            continue;
        }
        while (p < end && is_blank(*p))
            p++;
        if (p < end && (*p == '[' || *p == '('))
            continue;
        put_cell(out, from, gap);
        from = p;
    }
    if (from < end || !out->n)
        put_cell(out, from, end);
}

static void split(span line, char delimiter, cells *out)
{
    const char *end, *from;
    bool quoted = false;

    line = delimiter == '\t' ? line : trimmed(line);
    out->n = 0;
    if (delimiter == ' ') {
        split_blanks(line, out);
        return;
    }
    end = line.s + line.n;
    from = line.s;
    for (const char *p = line.s; p < end; p++) {
        quoted = quoted != (*p == '"');
        if (quoted || *p != delimiter)
            continue;
        put_cell(out, from, p);
        from = p + 1;
    }
    put_cell(out, from, end);
}

/* ------------------------------------------------------------- numbers ---- */

typedef struct number_look {
    bool is, point, comma;
} number_look;

/* A number with a decimal point, or with a decimal comma. */
static number_look look_at(span x)
{
    number_look l = { 0 };
    size_t i = 0, digits = 0;

    if (i < x.n && (x.s[i] == '-' || x.s[i] == '+'))
        i++;
    for (; i < x.n; i++) {
        if (x.s[i] >= '0' && x.s[i] <= '9')
            digits++;
        else if (x.s[i] == '.' && !l.point && !l.comma)
            l.point = true;
        else if (x.s[i] == ',' && !l.point && !l.comma)
            l.comma = true;
        else
            break;
    }
    if (digits && i + 1 < x.n && (x.s[i] | 32) == 'e') {
        i += x.s[i + 1] == '-' || x.s[i + 1] == '+' ? 2 : 1;
        while (i < x.n && x.s[i] >= '0' && x.s[i] <= '9')
            i++;
    }
    l.is = digits && i == x.n;
    return l;
}

static size_t count_numbers(const cells *c)
{
    size_t n = 0;

    for (size_t i = 0; i < c->n; i++)
        n += look_at(c->at[i]).is;
    return n;
}

/* Cells without the empty ones at the end, which trailing delimiters make. */
static size_t filled(const cells *c)
{
    size_t n = c->n;

    while (n && !c->at[n - 1].n)
        n--;
    return n;
}

/* ------------------------------------------------------------ the table ---- */

static span uncommented(span line)
{
    while (line.n && (is_comment(line) || is_blank(line.s[0]))) {
        line.s++;
        line.n--;
    }
    return line;
}

static bool known_header(head *h, span line, char delimiter)
{
    pl_mark mark = pl_arena_mark(h->a);
    cells c;
    const char **names;
    bool known = false;

    split(line, delimiter, &c);
    names = PL_NEWN(h->a, c.n, const char *);
    for (size_t i = 0; i < c.n && names; i++) {
        const char *unit, *text = pl_arena_strn(h->a, c.at[i].s, c.at[i].n);

        if (!text || pl_sniff_name(h->a, text, true, &names[i], &unit))
            names = NULL;
    }
    if (names)
        known = h->ask->knows(h->ask->self, names, c.n);
    else
        h->failed = true;
    pl_arena_reset(h->a, mark);
    return known;
}

/* The first line that is known; a comment only where no other is. */
static bool find_known(head *h, pl_sniffed *out, size_t *header)
{
    for (int comments = 0; comments < 2; comments++)
        for (size_t i = 0; i < h->nline && !h->failed; i++) {
            span line = h->lines[i];

            if (is_empty(line) || is_comment(line) != (comments == 1))
                continue;
            line = comments ? uncommented(line) : line;
            for (size_t k = 0; k < NDELIMITERS; k++) {
                if (!known_header(h, line, delimiters[k]))
                    continue;
                out->delimiter = delimiters[k];
                out->commented = comments == 1;
                *header = i;
                return true;
            }
        }
    return false;
}

/* Longest run of lines with as many cells, one of them a number at least. */
static size_t longest_run(const head *h, char delimiter, size_t *first, size_t *width)
{
    size_t best = 0, run = 0, from = 0, n = 0;

    for (size_t i = 0; i < h->nline; i++) {
        cells c;
        size_t now;

        if (is_empty(h->lines[i]) || is_comment(h->lines[i]))
            continue;
        split(h->lines[i], delimiter, &c);
        now = filled(&c);
        if (!count_numbers(&c) || now < 2) {
            run = 0;
            continue;
        }
        if (!run || now != n)
            from = i;
        run = run && now == n ? run + 1 : 1;
        n = now;
        if (run > best) {
            best = run;
            *first = from;
            *width = n;
        }
    }
    return best;
}

static size_t line_above(const head *h, size_t i)
{
    while (i > 0 && (is_empty(h->lines[i - 1]) || is_comment(h->lines[i - 1])))
        i--;
    return i > 0 ? i - 1 : SIZE_MAX;
}

static size_t line_below(const head *h, size_t i)
{
    for (i++; i < h->nline && (is_empty(h->lines[i]) || is_comment(h->lines[i])); i++)
        ;
    return i;
}

/* Below the header, texts that are units where the next line has numbers. */
static bool is_units_row(head *h, size_t header, char delimiter)
{
    size_t at = line_below(h, header), next = at < h->nline ? line_below(h, at) : h->nline;
    pl_mark mark = pl_arena_mark(h->a);
    size_t units = 0, others = 0;
    cells c, below;

    if (next >= h->nline)
        return false;
    split(h->lines[at], delimiter, &c);
    split(h->lines[next], delimiter, &below);
    if (count_numbers(&c))
        return false;
    for (size_t i = 0; i < c.n && i < below.n; i++) {
        span x = c.at[i];
        const char *text;

        if (!x.n || !look_at(below.at[i]).is)
            continue;
        if (strchr("[(", x.s[0]) && strchr("])", x.s[x.n - 1])) {
            units++;
            continue;
        }
        text = pl_arena_strn(h->a, x.s, x.n);
        if (text && (!strcmp(text, "-") || pl_units_kind(h->a, text) != PL_Q_COUNT))
            units++;
        else
            others++;
    }
    pl_arena_reset(h->a, mark);
    return units && !others;
}

static bool find_by_numbers(head *h, pl_sniffed *out, size_t *header)
{
    size_t best = 0, best_width = 0, at = SIZE_MAX;

    for (size_t k = 0; k < NDELIMITERS; k++) {
        size_t first = 0, width = 0, run = longest_run(h, delimiters[k], &first, &width);

        /* A comma may be a decimal sign: it parts cells only where nothing else does. */
        if (run < 2 || run < best || (run == best && width <= best_width) ||
            (best && (delimiters[k] == ',' || delimiters[k] == ' ')))
            continue;
        best = run;
        best_width = width;
        out->delimiter = delimiters[k];
        at = line_above(h, first);
        if (at < SIZE_MAX && line_above(h, at) < SIZE_MAX &&
            is_units_row(h, line_above(h, at), delimiters[k]))
            at = line_above(h, at);
    }
    *header = at;
    return at < SIZE_MAX;
}

static char most_frequent(span line)
{
    size_t counts[NDELIMITERS] = { 0 }, best = 3; /* ',' when there is none */
    bool quoted = false;

    for (size_t i = 0; i < line.n; i++) {
        quoted = quoted != (line.s[i] == '"');
        for (size_t k = 0; k + 1 < NDELIMITERS && !quoted; k++)
            counts[k] += line.s[i] == delimiters[k];
    }
    for (size_t k = 0; k + 1 < NDELIMITERS; k++)
        if (counts[k] > counts[best])
            best = k;
    return delimiters[best];
}

/* The first line that says anything. */
static size_t first_line(const head *h, pl_sniffed *out)
{
    size_t i = 0;

    while (i < h->nline && (is_empty(h->lines[i]) || is_comment(h->lines[i])))
        i++;
    if (i == h->nline)
        return SIZE_MAX;
    out->delimiter = most_frequent(h->lines[i]);
    return i;
}

/* Decimal sign and trailing delimiters, from the rows below the header. */
static void look_at_rows(const head *h, size_t header, pl_sniffed *out)
{
    size_t points = 0, commas = 0, rows = 0, trailing = 0, columns;
    bool ended = h->length && strchr("\r\n", h->text[h->length - 1]);
    cells c;

    split(out->commented ? uncommented(h->lines[header]) : h->lines[header], out->delimiter, &c);
    columns = filled(&c);
    out->trailing = columns < c.n && columns > 0;
    for (size_t i = header + 1; i < h->nline; i++) {
        if (is_empty(h->lines[i]) || is_comment(h->lines[i]))
            continue;
        split(h->lines[i], out->delimiter, &c);
        for (size_t k = 0; k < c.n; k++) {
            number_look l = look_at(c.at[k]);

            points += l.is && l.point;
            commas += l.is && l.comma;
        }
        if (i + 1 < h->nline || ended) { /* the last may be cut */
            rows++;
            trailing += c.n == columns + 1 && !c.at[columns].n;
        }
    }
    out->trailing = out->trailing || (rows > 0 && trailing == rows);
    out->point_seen = points + commas > 0;
    out->point = commas > points && out->delimiter != ',' ? ',' : '.';
}

/* ----------------------------------------------------- words above it ---- */

static const char *kept(head *h, span x, char delimiter)
{
    const char *s;

    x = trimmed(x);
    while (x.n && x.s[x.n - 1] == delimiter)
        x.n--;
    x = trimmed(x);
    if (x.n >= 2 && x.s[0] == '"' && x.s[x.n - 1] == '"')
        x = trimmed((span){ x.s + 1, x.n - 2 });
    s = pl_arena_strn(h->a, x.s, x.n);
    h->failed = h->failed || !s;
    return s;
}

static void keep_words(head *h, size_t header, pl_sniffed *out)
{
    pl_sniff_words *words = PL_NEWN(h->a, header, pl_sniff_words);

    h->failed = h->failed || !words;
    for (size_t i = 0; i < header && words; i++) {
        span line = uncommented(h->lines[i]);
        size_t at = 0;

        if (is_empty(line))
            continue;
        while (at < line.n && line.s[at] != ':' && line.s[at] != '=' && line.s[at] != '\t' &&
               line.s[at] != ';' && (line.s[at] != out->delimiter || line.s[at] == ' '))
            at++;
        words[out->nblock].line = i + 1;
        words[out->nblock].key = at < line.n ? kept(h, (span){ line.s, at }, ':') : "";
        if (at < line.n)
            at++;
        else
            at = 0;
        words[out->nblock++].value = kept(h, (span){ line.s + at, line.n - at }, out->delimiter);
    }
    out->block = words;
}

/* ---------------------------------------------------------------- doors ---- */

static void begin_at(const head *h, size_t header, pl_sniffed *out)
{
    span line = h->lines[header];

    out->line = header + 1;
    line = out->commented ? uncommented(line) : line;
    out->offset = (size_t)(line.s - h->text);
}

static bool sniff_table(head *h, pl_sniffed *out)
{
    size_t header = SIZE_MAX;

    out->delimiter = ',';
    out->point = '.';
    out->line = 1;
    if (!h->ask->knows || (!find_known(h, out, &header) && !find_by_numbers(h, out, &header)))
        header = first_line(h, out);
    if (header == SIZE_MAX || h->failed)
        return !h->failed;
    begin_at(h, header, out);
    out->units_row = h->ask->knows && is_units_row(h, header, out->delimiter);
    look_at_rows(h, header, out);
    if (h->ask->knows)
        keep_words(h, header, out);
    return !h->failed;
}

pl_code pl_sniff(pl_arena *a, const char *bytes, size_t n, const pl_sniff_ask *ask, pl_sniffed *out)
{
    head h = { .a = a, .ask = ask };
    pl_sniff_carry carry = { { 0 }, 0 };
    size_t refusals = pl_arena_refusals(a);
    char *text;

    *out = (pl_sniffed){ .encoding = PL_UTF8 };
    find_encoding(bytes, n, out);
    h.text = bytes + out->mark;
    h.length = n - out->mark;
    if (out->encoding != PL_UTF8) {
        text = pl_arena_get(a, h.length + 4, PL_SNIFF_WIDEST);
        if (!text)
            return PL_ENOMEM;
        h.length = pl_sniff_utf8(out->encoding, h.text, h.length, false, &carry, text);
        h.text = text;
    }
    if (!find_lines(&h) || !sniff_table(&h, out) || pl_arena_refusals(a) > refusals)
        return PL_ENOMEM;
    return PL_OK;
}

char *pl_sniff_text(pl_arena *a, const pl_sniffed *s)
{
    static const char *const codes[] = { NULL, "UTF-16 (little end first)",
                                         "UTF-16 (big end first)", "Latin-1" };
    const char *parts[8];
    size_t n = 0;

    if (s->delimiter != ',')
        parts[n++] = s->delimiter == ';'    ? "semicolons between cells"
                     : s->delimiter == '\t' ? "tabs between cells"
                     : s->delimiter == '|'  ? "bars between cells"
                                            : "blanks between cells";
    if (s->point == ',')
        parts[n++] = "decimal commas";
    if (codes[s->encoding])
        parts[n++] = codes[s->encoding];
    if (s->line > 1 || s->commented)
        parts[n++] = pl_arena_printf(a, "the header in line %zu%s", s->line,
                                     s->commented ? ", a comment" : "");
    if (s->units_row)
        parts[n++] = "units in the line below it";
    if (s->nblock)
        parts[n++] = pl_arena_printf(a, "%zu line%s of words above it", s->nblock,
                                     s->nblock == 1 ? "" : "s");
    if (s->trailing)
        parts[n++] = "a delimiter behind the last cell";
    for (size_t i = 0; i < n; i++)
        if (!parts[i])
            return NULL;
    return pl_text_list(a, parts, n, "and");
}

const char *pl_sniff_said(const pl_sniffed *s, const char *key)
{
    for (size_t i = 0; i < s->nblock; i++)
        if (!strcasecmp(s->block[i].key, key))
            return s->block[i].value;
    return NULL;
}

/* Where the unit begins in "peak [kN]", "peak (kN)" or "peak / kN": its first byte, and
 * in *n its length; NULL when there is none. */
static const char *find_unit(pl_arena *a, const char *text, bool loose, size_t *n)
{
    size_t length = strlen(text);
    const char *open = strrchr(text, '[');
    char *unit;

    if (open && text[length - 1] == ']') {
        *n = length - (size_t)(open - text) - 2;
        return open + 1;
    }
    if (!loose || !length)
        return NULL;
    open = text[length - 1] == ')' ? strrchr(text, '(') : strchr(text, '/');
    if (!open || open == text || (*open == '/' && open[-1] != ' '))
        return NULL;
    *n = length - (size_t)(open - text) - (*open == '(' ? 2 : 1);
    unit = pl_arena_strn(a, open + 1, *n);
    if (!unit || pl_units_kind(a, unit + strspn(unit, " ")) == PL_Q_COUNT)
        return NULL;
    return open + 1;
}

pl_code pl_sniff_name(pl_arena *a, const char *text, bool loose, const char **name,
                      const char **unit)
{
    size_t n = 0, refusals = pl_arena_refusals(a), length = strlen(text);
    const char *at = find_unit(a, text, loose, &n);
    span x = { at, n };

    if (at) {
        length = (size_t)(at - 1 - text);
        while (length && is_blank(text[length - 1]))
            length--;
        x = loose ? trimmed(x) : x;
    }
    *name = pl_arena_strn(a, text, length);
    *unit = at ? pl_arena_strn(a, x.s, x.n) : "";
    return pl_arena_refusals(a) > refusals ? PL_ENOMEM : PL_OK;
}
