/* Taking gnuplot's SVG over into our own: only known elements with known
 * attributes pass; black becomes the colour of the text around, so that the
 * picture follows light and dark. */
#include "page/plot_inner.h"

#include <string.h>

#define DEEPEST 16

typedef struct element {
    size_t start; /* of its tag in the output */
    bool holds;   /* something besides blanks */
    bool skipped; /* not taken over, and nothing in it */
    char name[16];
} element;

typedef struct taking {
    pl_text *t;
    const char *s;
    element open[DEEPEST];
    size_t depth;
} taking;

static const char *const taken[] = { "g", "path", "polygon", "text", "tspan" };
static const char *const dropped[] = { "defs", "title", "desc", "rect" };
static const char *const attributes[] = {
    "transform",
    "fill",
    "fill-opacity",
    "opacity",
    "stroke",
    "stroke-width",
    "stroke-opacity",
    "stroke-linecap",
    "stroke-linejoin",
    "text-anchor",
    "d",
    "points",
    "dx",
    "stroke-dasharray",
    "dy",
    "shape-rendering",
};

static bool among(const char *const *names, size_t n, const char *s, size_t length)
{
    for (size_t i = 0; i < n; i++)
        if (strlen(names[i]) == length && !memcmp(names[i], s, length))
            return true;
    return false;
}
#define AMONG(names, s, length) among(names, sizeof(names) / sizeof *(names), s, length)

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

static bool skipping(const taking *k)
{
    return k->depth && k->open[k->depth - 1].skipped;
}

/* "black" or "rgb(0,0,0)", blanks aside. */
static bool is_black(const char *value, size_t n)
{
    char bare[16];
    size_t length = 0;

    for (size_t i = 0; i < n; i++) {
        if (length + 1 == sizeof bare)
            return false;
        if (!is_blank(value[i]))
            bare[length++] = value[i];
    }
    bare[length] = '\0';
    return !strcmp(bare, "black") || !strcmp(bare, "rgb(0,0,0)");
}

/* A value may hold what numbers, colours and paths are made of, and no more. */
static bool put_attribute(taking *k, const char *name, size_t length, const char *value, size_t n)
{
    const char *allowed = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 "
                          ".,-+()#%\t\n";

    if (!AMONG(attributes, name, length))
        return true;
    for (size_t i = 0; i < n; i++)
        if (!value[i] || !strchr(allowed, value[i]))
            return false;
    /* url(...) would reach outside */
    if (n >= 3 && (memmem(value, n, "url", 3) || memmem(value, n, "URL", 3)))
        return false;
    while (n && is_blank(*value)) {
        value++;
        n--;
    }
    while (n && is_blank(value[n - 1]))
        n--;
    pl_text_put(k->t, " ");
    pl_text_bytes(k->t, name, length);
    pl_text_put(k->t, "=\"");
    if (is_black(value, n))
        pl_text_put(k->t, "currentColor");
    else
        pl_text_bytes(k->t, value, n);
    pl_text_put(k->t, "\"");
    return true;
}

/* At the attributes of a tag; steps to its '>' or "/>". */
static bool take_attributes(taking *k, bool silent)
{
    for (;;) {
        const char *name, *value;
        size_t length;
        char quote;

        while (is_blank(*k->s))
            k->s++;
        if (*k->s == '>' || *k->s == '/')
            return true;
        name = k->s;
        length = strcspn(name, "= \t\n\r</>\"'");
        k->s += length;
        while (is_blank(*k->s))
            k->s++;
        if (!length || *k->s != '=')
            return false;
        k->s++;
        while (is_blank(*k->s))
            k->s++;
        quote = *k->s;
        if (quote != '"' && quote != '\'')
            return false;
        value = ++k->s;
        while (*k->s && *k->s != quote)
            k->s++;
        if (!*k->s)
            return false;
        if (!silent && !put_attribute(k, name, length, value, (size_t)(k->s - value)))
            return false;
        k->s++;
    }
}

static bool close_tag(taking *k, const char *name, size_t length)
{
    element *e;

    if (!k->depth)
        return false;
    e = &k->open[--k->depth];
    if (strlen(e->name) != length || memcmp(e->name, name, length))
        return false;
    if (e->skipped)
        return true;
    if (!e->holds && length == 1) { /* an empty group: as if it had never been */
        k->t->length = e->start;
        return true;
    }
    pl_text_put(k->t, "</");
    pl_text_put(k->t, e->name);
    pl_text_put(k->t, ">\n");
    if (k->depth)
        k->open[k->depth - 1].holds = true;
    return true;
}

static bool open_tag(taking *k)
{
    const char *name = k->s;
    size_t length = strspn(name, "abcdefghijklmnopqrstuvwxyz");
    element e = { .start = k->t->length };
    bool known;

    /* Within defs anything may stand, its filters and references too. */
    e.skipped = skipping(k) || AMONG(dropped, name, length);
    known = e.skipped || AMONG(taken, name, length);
    while (e.skipped && *k->s && !strchr(" \t\r\n/>", *k->s))
        k->s++;
    k->s = e.skipped ? k->s : name + length;
    length = (size_t)(k->s - name);
    if (!known || length >= sizeof e.name || k->depth == DEEPEST)
        return false;
    memcpy(e.name, name, length);
    if (!e.skipped) {
        pl_text_put(k->t, "<");
        pl_text_put(k->t, e.name);
    }
    if (!take_attributes(k, e.skipped))
        return false;
    if (*k->s == '/') {
        k->s++;
        if (*k->s++ != '>')
            return false;
        if (!e.skipped)
            pl_text_put(k->t, "/>\n");
        if (k->depth)
            k->open[k->depth - 1].holds = true;
        return true;
    }
    k->s++;
    if (!e.skipped)
        pl_text_put(k->t, ">");
    k->open[k->depth++] = e;
    return true;
}

/* Words between tags; gnuplot has escaped them. */
static void take_words(taking *k)
{
    size_t n = strcspn(k->s, "<");
    bool blank = true;

    for (size_t i = 0; i < n; i++)
        blank = blank && is_blank(k->s[i]);
    if (!skipping(k) && !blank && k->depth) {
        pl_text_bytes(k->t, k->s, n);
        k->open[k->depth - 1].holds = true;
    }
    k->s += n;
}

bool pl_svg_take_over(pl_text *t, const char *svg)
{
    taking k = { .t = t };

    k.s = strstr(svg, "<svg");
    k.s = k.s ? strchr(k.s, '>') : NULL;
    if (!k.s)
        return false;
    for (k.s++; !t->failed;) {
        take_words(&k);
        if (!*k.s)
            return false; /* no </svg> */
        k.s++;
        if (!strncmp(k.s, "!--", 3)) {
            const char *end = strstr(k.s, "-->");

            if (!end)
                return false;
            k.s = end + 3;
        } else if (*k.s == '/') {
            const char *name = ++k.s;

            k.s += strcspn(name, ">");
            if (!*k.s)
                return false;
            if (!k.depth)
                return !strncmp(name, "svg>", 4);
            if (!close_tag(&k, name, (size_t)(k.s - name)))
                return false;
            k.s++;
        } else if (!open_tag(&k)) {
            return false;
        }
    }
    return true; /* the caller sees that memory is out */
}
