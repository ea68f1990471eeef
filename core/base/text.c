/* Text building and small questions about strings. Knows nothing of files. */
#include "base/text.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void pl_text_init(pl_text *t, pl_arena *a)
{
    *t = (pl_text){ .arena = a, .refusals = pl_arena_refusals(a) };
}

static bool reserve(pl_text *t, size_t more)
{
    size_t need, room;
    char *bytes;

    if (t->failed || more > SIZE_MAX / 2 - t->length - 1) {
        t->failed = true;
        return false;
    }
    need = t->length + more + 1;
    if (need <= t->room)
        return true;
    room = need < 128 ? 128 : t->bytes ? 2 * need : need;
    bytes = pl_arena_grow(t->arena, t->bytes, t->length, room, 1);
    if (!bytes) {
        t->failed = true;
        return false;
    }
    t->bytes = bytes;
    t->room = room;
    return true;
}

void pl_text_room(pl_text *t, size_t more)
{
    reserve(t, more);
}

void pl_text_bytes(pl_text *t, const char *s, size_t n)
{
    if (!s && n)
        t->failed = true;
    if (!reserve(t, n))
        return;
    if (n)
        memcpy(t->bytes + t->length, s, n);
    t->length += n;
    t->bytes[t->length] = '\0';
}

void pl_text_put(pl_text *t, const char *s)
{
    if (s)
        pl_text_bytes(t, s, strlen(s));
    else
        t->failed = true;
}

void pl_text_add(pl_text *t, const char *format, ...)
{
    va_list args;
    int n;

    va_start(args, format);
    n = vsnprintf(NULL, 0, format, args);
    va_end(args);
    if (n < 0 || !reserve(t, (size_t)n)) {
        t->failed = true;
        return;
    }
    va_start(args, format);
    vsnprintf(t->bytes + t->length, (size_t)n + 1, format, args);
    va_end(args);
    t->length += (size_t)n;
}

char *pl_text_done(pl_text *t)
{
    if (!t->failed && !t->bytes)
        reserve(t, 0);
    if (t->failed || pl_arena_refusals(t->arena) != t->refusals)
        return NULL;
    t->bytes[t->length] = '\0';
    return t->bytes;
}

char *pl_text_number(pl_arena *a, double x, int digits)
{
    char buffer[64];
    int exponent;

    if (isnan(x))
        return pl_arena_str(a, "unknown");
    if (isinf(x))
        return pl_arena_str(a, x > 0 ? "infinite" : "minus infinite");
    snprintf(buffer, sizeof buffer, "%.*e", digits - 1, x);
    exponent = atoi(strchr(buffer, 'e') + 1);
    if (exponent < -4 || exponent > 7) {
        snprintf(buffer, sizeof buffer, "%.*g", digits, x);
    } else {
        int places = digits - 1 - exponent;

        x = strtod(buffer, NULL); /* rounded to `digits`, also left of the point */
        snprintf(buffer, sizeof buffer, "%.*f", places > 0 ? places : 0, x);
        if (strchr(buffer, '.')) {
            char *end = buffer + strlen(buffer) - 1;

            while (*end == '0')
                *end-- = '\0';
            if (*end == '.')
                *end = '\0';
        }
    }
    return pl_arena_str(a, strcmp(buffer, "-0") ? buffer : "0");
}

bool pl_text_to_number(const char *s, double *out)
{
    char *end;
    double x;

    if (!s[0] || s[strspn(s, "0123456789+-.eE")] || !strpbrk(s, "0123456789"))
        return false;
    errno = 0;
    x = strtod(s, &end);
    if (*end || !isfinite(x))
        return false;
    *out = x;
    return true;
}

bool pl_text_to_whole(const char *s, long long low, long long high, long long *out)
{
    const char *digits = s + (low < 0 && (*s == '-' || *s == '+'));
    char *end;
    long long x;

    if (!digits[0] || digits[strspn(digits, "0123456789")])
        return false;
    errno = 0;
    x = strtoll(s, &end, 10);
    if (errno || *end || x < low || x > high)
        return false;
    *out = x;
    return true;
}

/* Length of the valid sequence at s (1 to 4), 0 when it is invalid. */
static size_t utf8_step(const unsigned char *s, size_t n)
{
    static const struct {
        unsigned char mask, lead;
        size_t length;
        uint32_t least;
    } forms[] = { { 0x80, 0x00, 1, 0 },
                  { 0xe0, 0xc0, 2, 0x80 },
                  { 0xf0, 0xe0, 3, 0x800 },
                  { 0xf8, 0xf0, 4, 0x10000 } };

    for (size_t f = 0; f < sizeof forms / sizeof *forms; f++) {
        uint32_t c;

        if ((s[0] & forms[f].mask) != forms[f].lead)
            continue;
        if (forms[f].length > n)
            return 0;
        c = s[0] & (unsigned char)~forms[f].mask;
        for (size_t i = 1; i < forms[f].length; i++) {
            if ((s[i] & 0xc0) != 0x80)
                return 0;
            c = c << 6 | (s[i] & 0x3f);
        }
        if (c < forms[f].least || c > 0x10ffff || (c >= 0xd800 && c <= 0xdfff))
            return 0;
        return forms[f].length;
    }
    return 0;
}

size_t pl_text_utf8_fault(const char *s, size_t n)
{
    size_t i = 0;

    while (i < n) {
        size_t step = utf8_step((const unsigned char *)s + i, n - i);

        if (!step)
            return i;
        i += step;
    }
    return n;
}

size_t pl_text_width(const char *s)
{
    size_t width = 0;

    for (; *s; s++)
        width += ((unsigned char)*s & 0xc0) != 0x80;
    return width;
}

/* Edits between two short names, optimal string alignment (insert, remove,
 * change, swap neighbours); names over 64 bytes are never near. */
static size_t edits(const char *a, const char *b)
{
    size_t n = strlen(a), m = strlen(b);
    size_t d[65][65];

    if (n > 64 || m > 64)
        return SIZE_MAX;
    for (size_t i = 0; i <= n; i++)
        d[i][0] = i;
    for (size_t j = 0; j <= m; j++)
        d[0][j] = j;
    for (size_t i = 1; i <= n; i++)
        for (size_t j = 1; j <= m; j++) {
            size_t best = d[i - 1][j - 1] + (a[i - 1] != b[j - 1]);

            if (d[i - 1][j] + 1 < best)
                best = d[i - 1][j] + 1;
            if (d[i][j - 1] + 1 < best)
                best = d[i][j - 1] + 1;
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] &&
                d[i - 2][j - 2] + 1 < best)
                best = d[i - 2][j - 2] + 1;
            d[i][j] = best;
        }
    return d[n][m];
}

const char *pl_text_nearest(const char *typed, const char *const *names, size_t n)
{
    const char *nearest = NULL;
    size_t best = SIZE_MAX;

    for (size_t i = 0; i < n; i++) {
        size_t e = edits(typed, names[i]);
        size_t most = strlen(names[i]) / 3;

        if (e < best && e <= (most ? most : 1)) {
            best = e;
            nearest = names[i];
        }
    }
    return nearest;
}

char *pl_text_list(pl_arena *a, const char *const *names, size_t n, const char *last_word)
{
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < n; i++) {
        if (i && i + 1 == n)
            pl_text_add(&t, " %s ", last_word);
        else if (i)
            pl_text_put(&t, ", ");
        pl_text_put(&t, names[i]);
    }
    return pl_text_done(&t);
}

bool pl_text_is_name(const char *s)
{
    size_t n = strlen(s);

    return n >= 1 && n <= 64 && s[0] != '-' &&
           strspn(s, "abcdefghijklmnopqrstuvwxyz0123456789-") == n;
}

void pl_text_harmless(char *s)
{
    for (unsigned char *c = (unsigned char *)s; *c; c++) {
        if ((*c < ' ' && *c != '\n' && *c != '\t') || *c == 0x7f)
            *c = '?';
        else if (*c == 0xc2 && c[1] >= 0x80 && c[1] < 0xa0) /* U+0080 to U+009F in UTF-8 */
            c[0] = c[1] = '?';
    }
}

char *pl_text_one_line(pl_arena *a, const char *s)
{
    char *copy = pl_arena_str(a, s);

    for (char *c = copy; c && *c; c++)
        if (*c == '\n' || *c == '\r' || *c == '\t')
            *c = ' ';
    if (copy)
        pl_text_harmless(copy);
    return copy;
}
