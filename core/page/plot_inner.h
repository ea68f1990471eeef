/* What the parts of plot share: the layout of one picture, worked out before
 * anything is drawn, and the run of gnuplot. */
#ifndef PL_PAGE_PLOT_INNER_H
#define PL_PAGE_PLOT_INNER_H

#include "base/text.h"
#include "page/plot.h"

#define PL_FONT_PX 14.0  /* letters of both SVG forms */
#define PL_DOT_PX 4.2    /* radius of a dot */
#define PL_MARK_PX 15.0  /* half a stroke of a mean */
#define PL_TICKS_MOST 40 /* on one axis */

typedef struct pl_scale {
    bool log;
    double low, high;       /* in the axis's unit */
    double px_low, px_high; /* where these lie, in pixels */
    size_t nticks;
    double ticks[PL_TICKS_MOST];
    char *words[PL_TICKS_MOST];
    bool slanted; /* tick words */
} pl_scale;

typedef struct pl_layout {
    double width, height; /* pixels; 0 in the terminal form */
    pl_scale x, y;
    double key_bottom; /* where the label of the y axis may begin */
} pl_layout;

/* false: no memory. */
bool pl_plot_lay_out(pl_arena *a, const pl_plot *p, pl_plot_form form, int columns, int rows,
                     pl_layout *l);

bool pl_scale_holds(const pl_scale *s, double x); /* x can be drawn and lies within */
double pl_scale_px(const pl_scale *s, double x);
double pl_scale_clip(const pl_scale *s, double x); /* into [low, high]; NaN stays */
double pl_plot_text_px(const char *s);             /* estimated width of a text */

const char *pl_hue_hex(pl_hue h);
char pl_layer_letter(const pl_plot *p, size_t layer); /* its sign in the terminal */
bool pl_layer_in_key(const pl_layer *layer);
bool pl_layer_is_dots(const pl_layer *layer);
/* gnuplot draws all of it, dots and key too: nothing is written into its drawing afterwards. */
bool pl_plot_form_whole(pl_plot_form form);

/* Dots, marks and key as SVG. */
void pl_plot_put_key(pl_text *t, const pl_plot *p, const pl_layout *l);
void pl_plot_put_dots(pl_arena *a, pl_text *t, const pl_plot *p, const pl_layout *l);
double pl_plot_key_height(const pl_plot *p, double width);

/* Takes over the drawing of gnuplot's SVG; false when there is something in it
 * that is not known here. */
bool pl_svg_take_over(pl_text *t, const char *svg);

char *pl_plot_script_of(pl_arena *a, const pl_plot *p, const pl_layout *l, pl_plot_form form,
                        int columns, int rows);

/* Runs gnuplot on a script for at most limit_ms. *out: its standard output, a
 * NUL behind; NULL with advice in d when it could not or would not. */
pl_code pl_gnuplot_run(pl_arena *a, const char *script, int limit_ms, char **out, size_t *length,
                       pl_diags *d);
#define PL_GNUPLOT_MS 10000

#endif
