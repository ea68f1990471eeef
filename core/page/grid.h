/* Tables to look at: the same grid as text for the terminal and as HTML.
 *
 * Cells are filled row by row. Numbers come as text, rounded and in the unit of
 * their column by whoever knows what they mean. A failed allocation is
 * remembered: the text is then NULL, nothing in between needs a check, and every
 * function takes a NULL grid. Everything lives in the arena. */
#ifndef PL_PAGE_GRID_H
#define PL_PAGE_GRID_H

#include <stddef.h>

#include "base/arena.h"
#include "base/text.h"

typedef enum pl_side { PL_SIDE_LEFT, PL_SIDE_RIGHT } pl_side;

typedef struct pl_grid pl_grid;

pl_grid *pl_grid_new(pl_arena *a);

/* Columns first, from the left. Numbers stand to the right. unit goes below the
 * heading; NULL if there is none. Texts are copied. */
void pl_grid_column(pl_grid *g, pl_side side, const char *heading, const char *unit);

/* The next cell; NULL is an empty one. After the last column comes a new row;
 * a row that is not full at the end is filled up with empty cells. */
void pl_grid_cell(pl_grid *g, const char *text);
void pl_grid_cellf(pl_grid *g, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* With `digits` significant digits; NaN gives an empty cell, an infinity "open". */
void pl_grid_number(pl_grid *g, double x, int digits);
/* To be filled in by hand: "______" as text, a tall ruled cell in HTML. */
void pl_grid_blank(pl_grid *g);
/* A thin line before the next row. */
void pl_grid_rule(pl_grid *g);

size_t pl_grid_rows(const pl_grid *g); /* begun rows count */

/* Columns two blanks apart, a rule of hyphens below the headings, no blanks at
 * line ends. width: columns of the terminal, 0 = no limit; when the grid is
 * wider, headings are broken at words, then its widest left-standing column, to no
 * less than 10 columns. Control characters become "?". NULL when memory ran out. */
char *pl_grid_text(pl_arena *a, const pl_grid *g, size_t width);

/* <table> within a box that scrolls sideways where the window is narrow.
 * caption: NULL for none. */
void pl_grid_html(pl_text *t, const pl_grid *g, const char *caption);

#endif
