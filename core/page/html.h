/* One self-contained HTML file: no scripts, nothing loaded from elsewhere, a
 * style sheet of our own for desk, phone and paper, light and dark.
 *
 * A page is built from top to bottom. All texts are escaped here; only
 * pl_page_raw takes markup. A failed allocation is remembered and makes
 * pl_page_done give NULL; every function takes a NULL page. */
#ifndef PL_PAGE_HTML_H
#define PL_PAGE_HTML_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/text.h"
#include "page/grid.h"

/* Text made safe between tags and within double quotes. Control characters but
 * tab and line feed, and bytes that are no UTF-8, become U+FFFD. */
void pl_html_put(pl_text *t, const char *s);

typedef struct pl_page pl_page;

/* title: the window's and the heading's; above: a short line over the heading,
 * NULL for none. */
pl_page *pl_page_new(pl_arena *a, const char *title, const char *above);

/* The paragraph that answers, set off from the rest. */
void pl_page_lead(pl_page *p, const char *text);

/* A new section; the page lists its sections at the top when there are four or
 * more. Open folds are closed. */
void pl_page_section(pl_page *p, const char *heading);
void pl_page_heading(pl_page *p, const char *heading); /* within a section */

/* Paragraphs; an empty line in text begins another. */
void pl_page_text(pl_page *p, const char *text);

/* Boxes. Caution is for what may hurt people or spoil the work. */
typedef enum pl_page_tone { PL_TONE_NOTE, PL_TONE_ADVICE, PL_TONE_CAUTION } pl_page_tone;
void pl_page_box(pl_page *p, pl_page_tone tone, const char *text);

void pl_page_list(pl_page *p, const char *const *items, size_t n);
void pl_page_tick_list(pl_page *p, const char *const *items, size_t n); /* boxes to tick by hand */

/* One line of a list of facts: name and value. Neighbours join to one list. */
void pl_page_fact(pl_page *p, const char *name, const char *value);

void pl_page_grid(pl_page *p, const pl_grid *g, const char *caption);

/* What only some readers want: closed until it is clicked, open on paper. Folds
 * do not nest. */
void pl_page_fold(pl_page *p, const char *summary);
void pl_page_unfold(pl_page *p);

/* Labels: a large first line, then smaller ones, "\n" between, and the first line
 * as a code to scan (page/code.h). */
typedef struct pl_card {
    const char *large, *small;
} pl_card;
void pl_page_cards(pl_page *p, const pl_card *cards, size_t n); /* to cut out */

/* The same on bought label paper: so many across and down as fit, in the middle of
 * the sheet; of the page nothing else is printed. False, and nothing is put, when
 * no label fits on the paper. */
typedef struct pl_label_paper {
    double paper_mm[2], label_mm[2], gap_mm[2]; /* across, down */
} pl_label_paper;
bool pl_page_label_paper(pl_page *p, const pl_card *cards, size_t n, const pl_label_paper *paper);

void pl_page_break(pl_page *p);                    /* a new sheet of paper */
void pl_page_raw(pl_page *p, const char *html);    /* markup, taken as it is */
void pl_page_foot(pl_page *p, const char *text);   /* last line, small */
char *pl_page_done(pl_arena *a, const pl_page *p); /* the whole file */

#endif
