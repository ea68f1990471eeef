/* Dots, strokes of means and the key, written as SVG by ourselves: each dot
 * carries its own hover text. */
#include "page/plot_inner.h"

#include <math.h>
#include <stdlib.h>

#define KEY_LINE_PX 22.0
#define KEY_SIGN_PX 30.0
#define KEY_GAP_PX 20.0
#define SPREAD_MOST 3000 /* dots of one layer that are looked at for overlap */

/* ------------------------------------------------------------- one sign ---- */

static const char *ink(pl_hue h)
{
    return h == PL_HUE_INK ? "currentColor" : pl_hue_hex(h);
}

/* Opens the element of a dot, without its end. */
static void put_shape(pl_text *t, pl_shape shape, double x, double y, double r)
{
    double s = r * 0.9, d = r * 1.3;

    switch (shape) {
    case PL_SHAPE_DISC:
    case PL_SHAPE_RING:
        pl_text_add(t, "<circle cx=\"%.2f\" cy=\"%.2f\" r=\"%.2f\"", x, y, r);
        break;
    case PL_SHAPE_SQUARE:
        pl_text_add(t, "<path d=\"M%.2f %.2fh%.2fv%.2fh%.2fz\"", x - s, y - s, 2 * s, 2 * s,
                    -2 * s);
        break;
    case PL_SHAPE_DIAMOND:
        pl_text_add(t, "<path d=\"M%.2f %.2fl%.2f %.2fl%.2f %.2fl%.2f %.2fz\"", x, y - d, d, d, -d,
                    d, -d, -d);
        break;
    case PL_SHAPE_TRIANGLE:
        pl_text_add(t, "<path d=\"M%.2f %.2fl%.2f %.2fh%.2fz\"", x, y - d, d, 1.75 * d, -2 * d);
        break;
    case PL_SHAPE_CROSS:
    case PL_NSHAPES:
        pl_text_add(t, "<path d=\"M%.2f %.2fl%.2f %.2fm0 %.2fl%.2f %.2f\"", x - s, y - s, 2 * s,
                    2 * s, -2 * s, -2 * s, 2 * s);
        break;
    }
}

/* A ring is filled with nothing that could be seen, but it can be pointed at. */
static void open_group(pl_text *t, pl_shape shape, pl_hue hue)
{
    bool open = shape == PL_SHAPE_RING, cross = shape == PL_SHAPE_CROSS;

    pl_text_add(t,
                "<g fill=\"%s\" fill-opacity=\"%s\" stroke=\"%s\" stroke-width=\"%s\""
                " stroke-opacity=\"%s\">\n",
                ink(hue), open || cross ? "0" : "0.82", ink(hue), open || cross ? "1.8" : "1",
                open || cross ? "1" : "0.9");
}

static void end_with_title(pl_text *t, const char *title, const char *name)
{
    if (!title || !title[0]) {
        pl_text_put(t, "/>\n");
        return;
    }
    pl_text_put(t, "><title>");
    pl_html_put(t, title);
    pl_text_add(t, "</title></%s>\n", name);
}

/* ------------------------------------------------------------- the dots ---- */

/* Where a dot may stand without lying on an earlier one: at its place, else to
 * the right or left of it, a step more each time, as far as eight steps. */
static double free_place(const double *xs, const double *ys, size_t n, double x, double y)
{
    const double step = 2 * PL_DOT_PX + 1;

    for (int k = 0; k <= 16; k++) {
        double tried = x + step * (k % 2 ? (k + 1) / 2 : -(k / 2));
        bool is_free = true;

        for (size_t i = 0; i < n && is_free; i++)
            is_free = hypot(xs[i] - tried, ys[i] - y) >= step - 0.5;
        if (is_free)
            return tried;
    }
    return x;
}

/* Dots that stand already, of all layers. */
typedef struct placed {
    double *xs, *ys;
    size_t n;
} placed;

static void put_points(pl_text *t, const pl_layer *k, const pl_layout *l, placed *there)
{
    bool spread = k->spread && k->n <= SPREAD_MOST;

    open_group(t, k->shape, k->hue);
    for (size_t i = 0; i < k->n; i++) {
        double x, y;

        if (!pl_scale_holds(&l->x, k->x[i]) || !pl_scale_holds(&l->y, k->y[i]))
            continue;
        x = pl_scale_px(&l->x, k->x[i]);
        y = pl_scale_px(&l->y, k->y[i]);
        if (spread) {
            x = free_place(there->xs, there->ys, there->n, x, y);
            there->xs[there->n] = x;
            there->ys[there->n++] = y;
        }
        put_shape(t, k->shape, x, y, PL_DOT_PX);
        end_with_title(t, k->words ? k->words[i] : NULL,
                       k->shape <= PL_SHAPE_RING ? "circle" : "path");
    }
    pl_text_put(t, "</g>\n");
}

static void put_marks(pl_text *t, const pl_layer *k, const pl_layout *l)
{
    pl_text_add(t, "<g fill=\"none\" stroke=\"%s\" stroke-width=\"3\">\n", ink(k->hue));
    for (size_t i = 0; i < k->n; i++) {
        if (!pl_scale_holds(&l->x, k->x[i]) || !pl_scale_holds(&l->y, k->y[i]))
            continue;
        pl_text_add(t, "<path d=\"M%.2f %.2fh%.2f\"", pl_scale_px(&l->x, k->x[i]) - PL_MARK_PX,
                    pl_scale_px(&l->y, k->y[i]), 2 * PL_MARK_PX);
        end_with_title(t, k->words ? k->words[i] : NULL, "path");
    }
    pl_text_put(t, "</g>\n");
}

void pl_plot_put_dots(pl_arena *a, pl_text *t, const pl_plot *p, const pl_layout *l)
{
    placed there = { 0 };
    size_t most = 0;

    for (size_t i = 0; i < p->nlayers; i++)
        most += p->layers[i].n <= SPREAD_MOST ? p->layers[i].n : 0;
    there.xs = PL_NEWN(a, most, double);
    there.ys = PL_NEWN(a, most, double);
    if (!there.xs || !there.ys) {
        t->failed = true;
        return;
    }
    for (size_t i = 0; i < p->nlayers; i++)
        if (p->layers[i].kind == PL_LAYER_POINTS)
            put_points(t, &p->layers[i], l, &there);
        else if (p->layers[i].kind == PL_LAYER_MARKS)
            put_marks(t, &p->layers[i], l);
}

/* -------------------------------------------------------------- the key ---- */

static double item_px(const pl_layer *k)
{
    return KEY_SIGN_PX + pl_plot_text_px(k->name) + KEY_GAP_PX;
}

/* Steps to the place of the next item; *line counts from 0. */
static double next_place(const pl_layer *k, double width, double *x, size_t *line)
{
    double here;

    if (*x > 4 && *x + item_px(k) - KEY_GAP_PX > width) {
        *x = 4;
        ++*line;
    }
    here = *x;
    *x += item_px(k);
    return here;
}

double pl_plot_key_height(const pl_plot *p, double width)
{
    double x = 4;
    size_t line = 0;
    bool any = false;

    for (size_t i = 0; i < p->nlayers; i++)
        if (pl_layer_in_key(&p->layers[i])) {
            next_place(&p->layers[i], width, &x, &line);
            any = true;
        }
    return any ? (double)(line + 1) * KEY_LINE_PX + 6 : 0;
}

static void put_sign(pl_text *t, const pl_layer *k, double x, double y)
{
    const char *colour = ink(k->hue);

    switch (k->kind) {
    case PL_LAYER_POINTS:
        open_group(t, k->shape, k->hue);
        put_shape(t, k->shape, x + 11, y, PL_DOT_PX);
        pl_text_put(t, "/></g>\n");
        break;
    case PL_LAYER_BAND:
    case PL_LAYER_SPANS:
        pl_text_add(t, "<path d=\"M%.1f %.1fh22v12h-22z\" fill=\"%s\" fill-opacity=\"0.18\"/>\n", x,
                    y - 6, colour);
        break;
    case PL_LAYER_BARS:
    case PL_LAYER_UPRIGHTS:
        pl_text_add(t, "<path d=\"M%.1f %.1fv14\" stroke=\"%s\" stroke-width=\"2\"%s/>\n", x + 11,
                    y - 7, colour, k->dashed ? " stroke-dasharray=\"4 3\"" : "");
        break;
    default:
        pl_text_add(t,
                    "<path d=\"M%.1f %.1fh22\" stroke=\"%s\" stroke-width=\"%s\" fill=\"none\"%s/>"
                    "\n",
                    x, y, colour, k->kind == PL_LAYER_MARKS ? "3" : "2.2",
                    k->dashed ? " stroke-dasharray=\"6 4\"" : "");
    }
}

void pl_plot_put_key(pl_text *t, const pl_plot *p, const pl_layout *l)
{
    double x = 4;
    size_t line = 0;

    for (size_t i = 0; i < p->nlayers; i++) {
        double here, y;

        if (!pl_layer_in_key(&p->layers[i]))
            continue;
        here = next_place(&p->layers[i], l->width, &x, &line);
        y = (double)line * KEY_LINE_PX + 14;
        put_sign(t, &p->layers[i], here, y);
        pl_text_add(t, "<text x=\"%.1f\" y=\"%.1f\">", here + KEY_SIGN_PX, y + 5);
        pl_html_put(t, p->layers[i].name);
        pl_text_put(t, "</text>\n");
    }
}
