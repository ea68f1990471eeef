/* Building one HTML file. Its style is style.c's, pictures are plot's. */
#include "page/html.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "page/code.h"
#include "page/style.h"

typedef enum open_tag { NOTHING, FACTS } open_tag;

struct pl_page {
    pl_arena *a;
    const char *title, *above, *foot;
    pl_text contents; /* list items, one a section */
    pl_text body;
    size_t sections;
    bool in_section, in_fold;
    open_tag open;
    bool failed;
};

void pl_html_put(pl_text *t, const char *s)
{
    size_t n = s ? strlen(s) : 0, good = pl_text_utf8_fault(s, n);

    if (!s) /* a text that found no memory */
        pl_text_put(t, NULL);
    for (size_t i = 0; i < n; i++) {
        unsigned char c = (unsigned char)s[i];

        if (i == good) { /* this byte is none; look again behind it */
            pl_text_put(t, "\xef\xbf\xbd");
            good = i + 1 + pl_text_utf8_fault(s + i + 1, n - i - 1);
        } else if (c == '&')
            pl_text_put(t, "&amp;");
        else if (c == '<')
            pl_text_put(t, "&lt;");
        else if (c == '>')
            pl_text_put(t, "&gt;");
        else if (c == '"')
            pl_text_put(t, "&quot;");
        else if (c == '\'')
            pl_text_put(t, "&#39;");
        else if ((c < ' ' && c != '\t' && c != '\n') || c == 0x7f)
            pl_text_put(t, "\xef\xbf\xbd");
        else
            pl_text_bytes(t, s + i, 1);
    }
}

static const char *keep(pl_page *p, const char *s)
{
    const char *copy = pl_arena_str(p->a, s ? s : "");

    if (!copy)
        p->failed = true;
    return copy;
}

pl_page *pl_page_new(pl_arena *a, const char *title, const char *above)
{
    pl_page *p = PL_NEW(a, pl_page);

    if (!p)
        return NULL;
    p->a = a;
    p->title = keep(p, title);
    p->above = keep(p, above);
    p->foot = keep(p, NULL);
    pl_text_init(&p->contents, a);
    pl_text_init(&p->body, a);
    return p;
}

/* Closes a list of facts unless more of it follows. */
static pl_text *body(pl_page *p, open_tag next)
{
    if (p->open == FACTS && next != FACTS)
        pl_text_put(&p->body, "</dl>\n");
    if (p->open != FACTS && next == FACTS)
        pl_text_put(&p->body, "<dl>\n");
    p->open = next;
    return &p->body;
}

static void element(pl_page *p, const char *open, const char *text, const char *close)
{
    pl_text *t;

    if (!p)
        return;
    t = body(p, NOTHING);
    pl_text_put(t, open);
    pl_html_put(t, text);
    pl_text_put(t, close);
}

/* Calls element once a paragraph; an empty line parts them. */
static void paragraphs(pl_page *p, const char *open, const char *text, const char *close)
{
    while (p && *text) {
        const char *end = strstr(text, "\n\n");
        char *one = pl_arena_strn(p->a, text, end ? (size_t)(end - text) : strlen(text));

        if (!one) {
            p->failed = true;
            return;
        }
        if (*one)
            element(p, open, one, close);
        text = end ? end + 2 : "";
    }
}

void pl_page_lead(pl_page *p, const char *text)
{
    if (!p)
        return;
    pl_page_raw(p, "<div class=\"lead\">\n");
    paragraphs(p, "<p>", text, "</p>\n");
    pl_page_raw(p, "</div>\n");
}

static void close_section(const pl_page *p, pl_text *t)
{
    if (p->open == FACTS)
        pl_text_put(t, "</dl>\n");
    if (p->in_fold)
        pl_text_put(t, "</details>\n");
    if (p->in_section)
        pl_text_put(t, "</section>\n");
}

void pl_page_section(pl_page *p, const char *heading)
{
    if (!p)
        return;
    close_section(p, &p->body);
    p->open = NOTHING;
    p->in_fold = false;
    p->in_section = true;
    p->sections++;
    pl_text_add(&p->contents, "<li><a href=\"#s%zu\">", p->sections);
    pl_html_put(&p->contents, heading);
    pl_text_put(&p->contents, "</a></li>\n");
    pl_text_add(&p->body, "<section id=\"s%zu\">\n", p->sections);
    element(p, "<h2>", heading, "</h2>\n");
}

void pl_page_heading(pl_page *p, const char *heading)
{
    element(p, "<h3>", heading, "</h3>\n");
}

void pl_page_text(pl_page *p, const char *text)
{
    paragraphs(p, "<p>", text, "</p>\n");
}

void pl_page_box(pl_page *p, pl_page_tone tone, const char *text)
{
    static const char *const opens[] = {
        [PL_TONE_NOTE] = "<div class=\"box\" role=\"note\">\n",
        [PL_TONE_ADVICE] = "<div class=\"box advice\" role=\"note\">\n",
        [PL_TONE_CAUTION] = "<div class=\"box caution\" role=\"note\">\n"
                            "<p class=\"tone\">Caution</p>\n",
    };

    if (!p)
        return;
    pl_page_raw(p, opens[tone]);
    paragraphs(p, "<p>", text, "</p>\n");
    pl_page_raw(p, "</div>\n");
}

static void list(pl_page *p, const char *open, const char *const *items, size_t n)
{
    if (!p || !n)
        return;
    pl_page_raw(p, open);
    for (size_t i = 0; i < n; i++)
        element(p, "<li>", items[i], "</li>\n");
    pl_page_raw(p, "</ul>\n");
}

void pl_page_list(pl_page *p, const char *const *items, size_t n)
{
    list(p, "<ul>\n", items, n);
}

void pl_page_tick_list(pl_page *p, const char *const *items, size_t n)
{
    list(p, "<ul class=\"tick\">\n", items, n);
}

void pl_page_fact(pl_page *p, const char *name, const char *value)
{
    pl_text *t;

    if (!p)
        return;
    t = body(p, FACTS);
    pl_text_put(t, "<div><dt>");
    pl_html_put(t, name);
    pl_text_put(t, "</dt><dd>");
    pl_html_put(t, value);
    pl_text_put(t, "</dd></div>\n");
}

void pl_page_grid(pl_page *p, const pl_grid *g, const char *caption)
{
    if (p)
        pl_grid_html(body(p, NOTHING), g, caption);
}

void pl_page_fold(pl_page *p, const char *summary)
{
    if (!p)
        return;
    pl_page_unfold(p);
    element(p, "<details>\n<summary>", summary, "</summary>\n");
    p->in_fold = true;
}

void pl_page_unfold(pl_page *p)
{
    if (!p || !p->in_fold)
        return;
    pl_page_raw(p, "</details>\n");
    p->in_fold = false;
}

static void put_card(pl_page *p, const pl_card *card)
{
    pl_page_raw(p, "<div class=\"card\">");
    pl_html_code(&p->body, card->large);
    element(p, "<b>", card->large, "</b>");
    element(p, "<span>", card->small ? card->small : "", "</span></div>\n");
}

void pl_page_cards(pl_page *p, const pl_card *cards, size_t n)
{
    if (!p || !n)
        return;
    pl_page_raw(p, "<div class=\"cards\">\n");
    for (size_t i = 0; i < n; i++)
        put_card(p, &cards[i]);
    pl_page_raw(p, "</div>\n");
}

/* How many labels go one way, and the margin that is left before the first. */
static size_t labels_in(double paper_mm, double label_mm, double gap_mm, double *margin_mm)
{
    double n = floor((paper_mm + gap_mm) / (label_mm + gap_mm) + 1e-9); /* 4 x 52.5 in 210 is 4 */

    *margin_mm = (paper_mm - n * label_mm - (n - 1) * gap_mm) / 2;
    return n >= 1 && n <= 200 ? (size_t)n : 0;
}

bool pl_page_label_paper(pl_page *p, const pl_card *cards, size_t n, const pl_label_paper *paper)
{
    double left, top, w = paper->label_mm[0], h = paper->label_mm[1];
    size_t across = labels_in(paper->paper_mm[0], w, paper->gap_mm[0], &left);
    size_t each = across * labels_in(paper->paper_mm[1], h, paper->gap_mm[1], &top);

    if (!each)
        return false;
    if (!p)
        return true;
    pl_text_add(body(p, NOTHING),
                "<style>@page{margin:0;size:%gmm %gmm}"
                ".stock{width:%gmm;height:%gmm;padding:%.3fmm 0 0 %.3fmm;"
                "grid-template-columns:repeat(%zu,%gmm);grid-auto-rows:%gmm;gap:%gmm %gmm}"
                ".stock b{font-size:%.2fmm}.stock span{font-size:%.2fmm}"
                ".stock .code{width:%.2fmm;height:%.2fmm}"
                "@media print{header,.lead,.box,footer,main>p{display:none}}</style>\n",
                paper->paper_mm[0], paper->paper_mm[1], paper->paper_mm[0],
                paper->paper_mm[1] - 0.2, top, left, across, w, h, paper->gap_mm[1],
                paper->gap_mm[0], fmin(h / 4, w / 10), fmin(h / 8, w / 18),
                fmin(h * 0.86, w * 0.36), fmin(h * 0.86, w * 0.36));
    for (size_t i = 0; i < n; i++) {
        if (i % each == 0)
            pl_page_raw(p, i ? "</div>\n<div class=\"stock\">\n" : "<div class=\"stock\">\n");
        put_card(p, &cards[i]);
    }
    pl_page_raw(p, n ? "</div>\n" : "");
    return true;
}

void pl_page_break(pl_page *p)
{
    pl_page_raw(p, "<div class=\"sheet-end\"></div>\n");
}

void pl_page_raw(pl_page *p, const char *html)
{
    if (p)
        pl_text_put(body(p, NOTHING), html);
}

void pl_page_foot(pl_page *p, const char *text)
{
    if (p)
        p->foot = keep(p, text);
}

/* The policy repeats to the browser what holds anyway: nothing is loaded,
 * nothing runs. */
static void put_head(pl_text *t, const pl_page *p)
{
    pl_text_put(t, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                   "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
                   "<meta name=\"color-scheme\" content=\"light dark\">\n"
                   "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                   "style-src 'unsafe-inline'; img-src data:\">\n<title>");
    pl_html_put(t, p->title);
    pl_text_put(t, "</title>\n<style>\n");
    pl_text_put(t, pl_style_sheet);
    pl_text_put(t, "</style>\n</head>\n<body>\n<main>\n<header>\n");
    if (p->above[0]) {
        pl_text_put(t, "<p class=\"above\">");
        pl_html_put(t, p->above);
        pl_text_put(t, "</p>\n");
    }
    pl_text_put(t, "<h1>");
    pl_html_put(t, p->title);
    pl_text_put(t, "</h1>\n</header>\n");
}

char *pl_page_done(pl_arena *a, const pl_page *p)
{
    pl_text t;

    if (!p || p->failed || p->body.failed || p->contents.failed)
        return NULL;
    pl_text_init(&t, a);
    put_head(&t, p);
    if (p->sections >= 4) {
        pl_text_put(&t, "<nav aria-label=\"On this page\">\n<ul>\n");
        pl_text_bytes(&t, p->contents.bytes, p->contents.length);
        pl_text_put(&t, "</ul>\n</nav>\n");
    }
    pl_text_bytes(&t, p->body.bytes, p->body.length);
    close_section(p, &t);
    if (p->foot[0]) {
        pl_text_put(&t, "<footer>");
        pl_html_put(&t, p->foot);
        pl_text_put(&t, "</footer>\n");
    }
    pl_text_put(&t, "</main>\n</body>\n</html>\n");
    return pl_text_done(&t);
}
