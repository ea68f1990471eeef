/* Folding and brightness, for text that goes to a terminal. */
#include "page/terminal.h"

#include <string.h>

/* A sentence ends with a point and a blank or a line end behind it. */
static const char *sentence_end(const char *s)
{
    for (; *s && *s != '\n'; s++)
        if (*s == '.' && (s[1] == ' ' || s[1] == '\n' || !s[1]))
            return s + 1;
    return s;
}

void pl_bright_sentences(pl_text *t, const char *words, size_t n)
{
    while (n-- && *words) {
        const char *end = sentence_end(words), *next = strstr(end, "\n\n");

        next = next ? next + 2 : end + strlen(end);
        pl_text_put(t, PL_BRIGHT_ON);
        pl_text_bytes(t, words, (size_t)(end - words));
        pl_text_put(t, PL_BRIGHT_OFF);
        pl_text_bytes(t, end, (size_t)(next - end));
        words = next;
    }
    pl_text_put(t, words);
}

static bool takes_a_column(char c)
{
    return ((unsigned char)c & 0xc0) != 0x80 && c != PL_BRIGHT_ON[0] && c != PL_BRIGHT_OFF[0];
}

static size_t columns_of(const char *s, size_t n)
{
    size_t columns = 0;

    for (size_t i = 0; i < n; i++)
        columns += takes_a_column(s[i]);
    return columns;
}

/* Where a folded line goes on. */
static size_t hang_of(const char *s, size_t n)
{
    size_t hang = strspn(s, " ");

    if (hang + 2 < n && (s[hang] == '-' || s[hang] == '*') && s[hang + 1] == ' ')
        hang += 2;
    for (size_t i = hang; i + 2 < n; i++)
        if (s[i] == ' ' && s[i + 1] == ' ' && s[i + 2] != ' ')
            hang = i + 2;
    return hang;
}

/* Bytes of s[0..n) that fit, up to a blank behind its first `from` bytes; all that
 * reach the next blank when no word fits. */
static size_t fitting(const char *s, size_t n, size_t from, size_t width)
{
    size_t columns = 0, good = 0;

    for (size_t i = 0; i < n; i++) {
        if (s[i] == ' ' && i > from) {
            if (good && columns > width)
                return good;
            good = i;
            if (columns > width)
                return good;
        }
        columns += takes_a_column(s[i]);
    }
    return columns > width && good ? good : n;
}

static void fold_line(pl_text *t, const char *s, size_t n, size_t width)
{
    size_t hang = hang_of(s, n), shift = columns_of(s, hang), part;

    if (columns_of(s, n) <= width || shift > width / 2) {
        pl_text_bytes(t, s, n);
        return;
    }
    part = fitting(s, n, hang, width);
    pl_text_bytes(t, s, part);
    for (;;) {
        while (part < n && s[part] == ' ')
            part++;
        if (part == n)
            return;
        s += part;
        n -= part;
        part = fitting(s, n, 0, width - shift);
        pl_text_add(t, "\n%*s", (int)shift, "");
        pl_text_bytes(t, s, part);
    }
}

static void put_bright(pl_text *t, const char *s, bool bright)
{
    for (; *s; s++)
        if (*s == PL_BRIGHT_ON[0] || *s == PL_BRIGHT_OFF[0])
            pl_text_put(t, !bright ? "" : *s == PL_BRIGHT_ON[0] ? "\033[1m" : "\033[0m");
        else
            pl_text_bytes(t, s, 1);
}

char *pl_terminal_text(pl_arena *a, const char *text, size_t width, bool bright)
{
    pl_text folded, out;

    pl_text_init(&folded, a);
    pl_text_init(&out, a);
    for (const char *s = text; width && *s;) {
        size_t n = strcspn(s, "\n");

        fold_line(&folded, s, n, width);
        if (s[n])
            pl_text_put(&folded, "\n");
        s += n + (s[n] == '\n');
    }
    text = width ? pl_text_done(&folded) : text;
    if (!text)
        return NULL;
    put_bright(&out, text, bright);
    return pl_text_done(&out);
}
