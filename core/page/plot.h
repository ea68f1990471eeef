/* Pictures: axes and layers described once, drawn by gnuplot as SVG for pages,
 * as plain text for the terminal, and as PNG and PDF.
 *
 * gnuplot draws axes, curves, bands and words; dots are written into the SVG
 * here, each with its hover text as a <title>, because gnuplot's own hover text
 * is a script. Its SVG is taken over element by element against an allow-list;
 * the rest (identifiers, fonts, scripts) does not pass.
 *
 * A picture that cannot be drawn (gnuplot is missing, fails, hangs) is not an
 * error: the finding is advice and the output NULL. PL_ENOMEM is the only code
 * besides PL_OK. gnuplot is found along PATH, or named by PLATEN_GNUPLOT. */
#ifndef PL_PAGE_PLOT_H
#define PL_PAGE_PLOT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "page/html.h"

/* Told apart by colour-blind readers and legible on white and on near-black:
 * plot_colour.c. Groups take BLUE, ORANGE, GREEN, VIOLET in this order, and a
 * shape each: colour is never the only mark. */
typedef enum pl_hue {
    PL_HUE_INK, /* the text's colour */
    PL_HUE_GREY,
    PL_HUE_BLUE,
    PL_HUE_ORANGE,
    PL_HUE_GREEN,
    PL_HUE_VIOLET,
    PL_NHUES
} pl_hue;

typedef enum pl_shape {
    PL_SHAPE_DISC,
    PL_SHAPE_RING,
    PL_SHAPE_SQUARE,
    PL_SHAPE_DIAMOND,
    PL_SHAPE_TRIANGLE,
    PL_SHAPE_CROSS,
    PL_NSHAPES
} pl_shape;

/* What a layer shows, and which of its arrays it reads (n values each). Values
 * that are not finite, or not positive on a log axis, are left out; so are dots
 * and marks outside the axes; values beyond 1e150 do not widen an axis. Infinite low and high of
 * bars and spans reach to the end of the axis. */
typedef enum pl_layer_kind {
    PL_LAYER_POINTS,   /* x, y; words: hover texts */
    PL_LAYER_MARKS,    /* x, y; words: hover texts; short level strokes, for means */
    PL_LAYER_LINE,     /* x, y; a value that is not finite breaks it */
    PL_LAYER_BAND,     /* x, low, high */
    PL_LAYER_BARS,     /* x, low, high; upright intervals */
    PL_LAYER_ACROSS,   /* y, low, high; level intervals */
    PL_LAYER_SPANS,    /* low, high in x; stripes over the whole height */
    PL_LAYER_UPRIGHTS, /* x; lines over the whole height */
    PL_LAYER_LEVELS,   /* y; lines over the whole width */
    PL_LAYER_WORDS,    /* x, y, words */
    PL_NLAYERS
} pl_layer_kind;

typedef struct pl_layer {
    pl_layer_kind kind;
    const char *name; /* in the key; NULL: not there */
    size_t n;
    const double *x, *y, *low, *high;
    const char *const *words;
    pl_hue hue;
    pl_shape shape;
    bool dashed; /* lines, uprights, levels */
    bool spread; /* dots that would cover each other, or those of another spread layer,
                    stand side by side (SVG) */
} pl_layer;

typedef struct pl_axis {
    const char *label; /* with its unit: "clamping pressure, N/mm2" */
    bool log;
    double low, high;    /* both 0: from the layers, with some air */
    bool from_zero;      /* the range is made to hold 0; not with log */
    const double *ticks; /* nticks places; NULL: chosen */
    size_t nticks;
    const char *const *tick_words; /* texts at these; NULL: their numbers */
} pl_axis;

/* All is read, nothing kept. Layers are drawn in their order, but dots and
 * marks always lie above the rest. */
typedef struct pl_plot {
    const char *title; /* read out instead of the picture: "strength by pressure" */
    pl_axis x, y;
    const pl_layer *layers;
    size_t nlayers;
} pl_plot;

typedef enum pl_plot_form {
    PL_PLOT_WIDE,   /* SVG, 760 x 440 */
    PL_PLOT_NARROW, /* SVG for phones, 400 x 400 with the same letters */
    PL_PLOT_PNG,    /* 1520 x 880 */
    PL_PLOT_PDF,    /* 193 x 112 mm */
    PL_PLOT_TERMINAL
} pl_plot_form;

/* <svg> without an XML head, to stand in a page. It holds no identifiers, so that any number may
 * stand in one page. */
pl_code pl_plot_svg(pl_arena *a, const pl_plot *p, pl_plot_form form, char **svg, pl_diags *d);

/* columns x rows characters, the key below; 40 x 12 at least. */
pl_code pl_plot_text(pl_arena *a, const pl_plot *p, int columns, int rows, char **text,
                     pl_diags *d);

/* A whole file; form: WIDE or NARROW (SVG), PNG, PDF. */
pl_code pl_plot_file(pl_arena *a, const pl_plot *p, pl_plot_form form, char **bytes, size_t *length,
                     pl_diags *d);

/* The picture in a page, in a wide and a narrow form of which the window shows
 * the one that fits. What could not be drawn becomes a sentence that says so. */
pl_code pl_page_plot(pl_page *page, const pl_plot *p, const char *caption, pl_diags *d);

/* The gnuplot script alone, for tests. columns, rows: of the terminal form. */
char *pl_plot_script(pl_arena *a, const pl_plot *p, pl_plot_form form, int columns, int rows);

#endif
