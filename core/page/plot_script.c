/* The gnuplot script of a picture. Words of the user stand in single quotes
 * only, where gnuplot looks into nothing, and with enhanced text off; numbers
 * stand in inline data. */
#include "page/plot_inner.h"

#include <math.h>
#include <string.h>

/* 'text': a quote is doubled; what would end the line becomes a blank. In tick
 * words gnuplot reads % as a format, so that it is doubled there. */
static void put_quoted(pl_text *t, const char *s, bool tick)
{
    size_t n = strlen(s), good = pl_text_utf8_fault(s, n);

    pl_text_put(t, "'");
    for (size_t i = 0; i < n; i++) {
        if (i == good) {
            pl_text_put(t, "?");
            good = i + 1 + pl_text_utf8_fault(s + i + 1, n - i - 1);
        } else if (s[i] == '\'')
            pl_text_put(t, "''");
        else if (s[i] == '%' && tick)
            pl_text_put(t, "%%");
        else if ((unsigned char)s[i] < ' ' || s[i] == 0x7f)
            pl_text_put(t, " ");
        else
            pl_text_bytes(t, s + i, 1);
    }
    pl_text_put(t, "'");
}

/* ---------------------------------------------------------------- setup ---- */

static void put_terminal(pl_text *t, const pl_layout *l, pl_plot_form form, int columns, int rows)
{
    pl_text_put(t, "set encoding utf8\n");
    if (form == PL_PLOT_TERMINAL)
        pl_text_add(t, "set term dumb noenhanced size %d,%d\n", columns, rows);
    else if (form == PL_PLOT_PNG)
        pl_text_add(
            t,
            "set term pngcairo noenhanced size %g,%g fontscale 1.7 linewidth 2 pointscale 1.6 "
            "font 'sans-serif,11' background rgb '#ffffff'\n",
            2 * l->width, 2 * l->height);
    else if (form == PL_PLOT_PDF) /* a layout pixel is 1/100 inch */
        pl_text_add(t,
                    "set term pdfcairo noenhanced size %gin,%gin fontscale 1 linewidth 1.2 "
                    "pointscale 0.5 font 'sans-serif,10' background rgb '#ffffff'\n",
                    l->width / 100, l->height / 100);
    else
        pl_text_add(t, "set term svg noenhanced size %g,%g dynamic font 'sans-serif,%g'\n",
                    l->width, l->height, PL_FONT_PX);
    pl_text_put(t, "unset key\nset tics nomirror out\n");
    if (form == PL_PLOT_TERMINAL) {
        pl_text_put(t, "set border 3\n");
        return;
    }
    pl_text_add(t,
                "set border 3 lw 1 lc rgb '%s'\nset tics scale 0.5 textcolor rgb '#000000'\n"
                "set grid noxtics ytics back lw 0.5 lc rgb '#b0%s'\n",
                pl_hue_hex(PL_HUE_GREY), pl_hue_hex(PL_HUE_GREY) + 1);
    pl_text_add(t,
                "set lmargin at screen %.6f\nset rmargin at screen %.6f\n"
                "set bmargin at screen %.6f\nset tmargin at screen %.6f\n",
                l->x.px_low / l->width, l->x.px_high / l->width, 1 - l->y.px_low / l->height,
                1 - l->y.px_high / l->height);
}

static void put_axis(pl_text *t, char name, const pl_scale *s)
{
    if (s->log)
        pl_text_add(t, "set logscale %c\n", name);
    pl_text_add(t, "set %crange [%.12g:%.12g] noextend\nset %ctics %s(", name, s->low, s->high,
                name, s->slanted ? "rotate by 40 right " : "");
    for (size_t i = 0; i < s->nticks; i++) {
        pl_text_put(t, i ? ", " : "");
        put_quoted(t, s->words[i], true);
        pl_text_add(t, " %.12g", s->ticks[i]);
    }
    pl_text_put(t, ")\n");
}

static void put_axis_labels(pl_text *t, const pl_plot *p, const pl_layout *l, pl_plot_form form)
{
    if (p->x.label && p->x.label[0]) {
        if (form == PL_PLOT_TERMINAL) {
            pl_text_put(t, "set xlabel ");
            put_quoted(t, p->x.label, false);
        } else {
            pl_text_put(t, "set label ");
            put_quoted(t, p->x.label, false);
            pl_text_add(t, " at screen %.6f, screen %.6f center",
                        (l->x.px_low + l->x.px_high) / 2 / l->width, 13 / l->height);
        }
        pl_text_put(t, "\n");
    }
    if (p->y.label && p->y.label[0]) { /* level, over its axis: nobody tilts the head */
        pl_text_put(t, "set label ");
        put_quoted(t, p->y.label, false);
        if (form == PL_PLOT_TERMINAL)
            pl_text_put(t, " at graph 0, graph 1 left offset character -4,1\n");
        else
            pl_text_add(t, " at screen %.6f, screen %.6f left\n", 4 / l->width,
                        1 - (l->key_bottom + 12) / l->height);
    }
}

/* ----------------------------------------------------------------- data ---- */

static bool drawable(const pl_scale *s, double x)
{
    return isfinite(x) && (!s->log || x > 0);
}

static bool holds_both(const pl_layout *l, double x, double y)
{
    return pl_scale_holds(&l->x, x) && pl_scale_holds(&l->y, y);
}

/* An interval clipped to its axis; false when there is nothing of it left. */
static bool clipped(const pl_scale *s, double low, double high, double *from, double *to)
{
    if (isnan(low) || isnan(high) || low > high || low > s->high || high < s->low)
        return false;
    *from = pl_scale_clip(s, low);
    *to = pl_scale_clip(s, high);
    return true;
}

static void put_row(pl_text *t, const pl_layer *k, const pl_layout *l, size_t i)
{
    double from, to;

    switch (k->kind) {
    case PL_LAYER_LINE:
        if (drawable(&l->x, k->x[i]) && drawable(&l->y, k->y[i]))
            pl_text_add(t, "%.12g %.12g\n", k->x[i], k->y[i]);
        else
            pl_text_put(t, "\n"); /* breaks the line */
        break;
    case PL_LAYER_POINTS:
    case PL_LAYER_MARKS:
        if (holds_both(l, k->x[i], k->y[i]))
            pl_text_add(t, "%.12g %.12g\n", k->x[i], k->y[i]);
        break;
    case PL_LAYER_BAND:
        if (drawable(&l->x, k->x[i]) && clipped(&l->y, k->low[i], k->high[i], &from, &to))
            pl_text_add(t, "%.12g %.12g %.12g\n", k->x[i], from, to);
        break;
    case PL_LAYER_BARS:
        if (pl_scale_holds(&l->x, k->x[i]) && clipped(&l->y, k->low[i], k->high[i], &from, &to))
            pl_text_add(t, "%.12g %.12g 0 %.12g\n", k->x[i], from, to - from);
        break;
    case PL_LAYER_ACROSS:
        if (pl_scale_holds(&l->y, k->y[i]) && clipped(&l->x, k->low[i], k->high[i], &from, &to))
            pl_text_add(t, "%.12g %.12g %.12g 0\n", from, k->y[i], to - from);
        break;
    default:
        break;
    }
}

static bool has_data(const pl_layer *k, pl_plot_form form)
{
    if (k->kind >= PL_LAYER_SPANS)
        return false;
    return !pl_layer_is_dots(k) || pl_plot_form_whole(form) || form == PL_PLOT_TERMINAL;
}

static void put_data(pl_text *t, const pl_plot *p, const pl_layout *l, pl_plot_form form)
{
    for (size_t i = 0; i < p->nlayers; i++) {
        if (!has_data(&p->layers[i], form))
            continue;
        pl_text_add(t, "$d%zu << DATA\n", i);
        for (size_t j = 0; j < p->layers[i].n; j++)
            put_row(t, &p->layers[i], l, j);
        pl_text_put(t, "DATA\n");
    }
}

/* -------------------------------------------------------------- objects ---- */

static void put_span(pl_text *t, const pl_layer *k, const pl_layout *l, size_t i, bool terminal)
{
    double from, to;

    if (!clipped(&l->x, k->low[i], k->high[i], &from, &to))
        return;
    if (!terminal) {
        pl_text_add(t,
                    "set object rect from %.12g, graph 0 to %.12g, graph 1 behind fc rgb '%s' "
                    "fs transparent solid 0.14 noborder\n",
                    from, to, pl_hue_hex(k->hue));
        return;
    }
    pl_text_add(t, "set arrow from %.12g, graph 0 to %.12g, graph 1 nohead\n", from, from);
    pl_text_add(t, "set arrow from %.12g, graph 0 to %.12g, graph 1 nohead\n", to, to);
}

static void put_object(pl_text *t, const pl_layer *k, const pl_layout *l, size_t i, bool terminal)
{
    const char *hex = pl_hue_hex(k->hue);
    pl_text look;

    pl_text_init(&look, t->arena);
    if (!terminal)
        pl_text_add(&look, " lw 1.5 lc rgb '%s'%s", hex, k->dashed ? " dt (6,5)" : "");
    if (!pl_text_done(&look)) {
        t->failed = true;
        return;
    }
    if (k->kind == PL_LAYER_SPANS)
        put_span(t, k, l, i, terminal);
    else if (k->kind == PL_LAYER_UPRIGHTS && pl_scale_holds(&l->x, k->x[i]))
        pl_text_add(t, "set arrow from %.12g, graph 0 to %.12g, graph 1 nohead%s\n", k->x[i],
                    k->x[i], look.bytes);
    else if (k->kind == PL_LAYER_LEVELS && pl_scale_holds(&l->y, k->y[i]))
        pl_text_add(t, "set arrow from graph 0, first %.12g to graph 1, first %.12g nohead%s\n",
                    k->y[i], k->y[i], look.bytes);
    else if (k->kind == PL_LAYER_WORDS && holds_both(l, k->x[i], k->y[i])) {
        pl_text_put(t, "set label ");
        put_quoted(t, k->words[i], false);
        pl_text_add(t, " at %.12g, %.12g left offset character 0.6,0.5 front", k->x[i], k->y[i]);
        if (!terminal && k->hue != PL_HUE_INK)
            pl_text_add(t, " tc rgb '%s'", hex);
        pl_text_put(t, "\n");
    }
}

/* ----------------------------------------------------------------- plot ---- */

static void put_style(pl_text *t, const pl_plot *p, size_t i, bool terminal)
{
    static const int signs[PL_NSHAPES] = { 7, 6, 5, 13, 9, 2 };
    const pl_layer *k = &p->layers[i];
    const char *hex = pl_hue_hex(k->hue);
    char letter = pl_layer_letter(p, i);

    if (k->kind == PL_LAYER_BAND && terminal)
        pl_text_add(t, "$d%zu using 1:2 with dots, $d%zu using 1:3 with dots", i, i);
    else if (k->kind == PL_LAYER_BAND)
        pl_text_add(t,
                    "$d%zu using 1:2:3 with filledcurves fc rgb '%s' "
                    "fs transparent solid 0.18 noborder",
                    i, hex);
    else if (k->kind == PL_LAYER_LINE && terminal)
        pl_text_add(t, "$d%zu using 1:2 with lines lt %d", i,
                    (int)(strchr("*#$%@&", letter) - strchr("*#$%@&", '*')) + 1);
    else if (k->kind == PL_LAYER_LINE)
        pl_text_add(t, "$d%zu using 1:2 with lines lw 2.2 lc rgb '%s'%s", i, hex,
                    k->dashed ? " dt (8,6)" : "");
    else if (pl_layer_is_dots(k) && terminal)
        pl_text_add(t, "$d%zu using 1:2 with points pt '%c'", i, letter);
    else if (pl_layer_is_dots(k))
        pl_text_add(t, "$d%zu using 1:2 with points pt %d ps 1 lc rgb '%s'", i,
                    k->kind == PL_LAYER_MARKS ? 1 : signs[k->shape], hex);
    else if (terminal)
        pl_text_add(t, "$d%zu using 1:2:3:4 with vectors nohead lt 1", i);
    else
        pl_text_add(t, "$d%zu using 1:2:3:4 with vectors nohead lw 2 lc rgb '%s'", i, hex);
}

/* gnuplot refuses a plot without a row; a layer of none is left out. */
static bool any_row(pl_text *out, const pl_layer *k, const pl_layout *l)
{
    pl_mark mark = pl_arena_mark(out->arena);
    bool any = false;
    pl_text t;

    pl_text_init(&t, out->arena);
    for (size_t i = 0; i < k->n && !any && !t.failed; i++) {
        put_row(&t, k, l, i);
        any = t.length && strpbrk(t.bytes, "0123456789");
    }
    out->failed = out->failed || t.failed;
    pl_arena_reset(out->arena, mark);
    return any;
}

/* gnuplot's own key does not know of objects: an entry each, as they are drawn. */
static void put_key_entry(pl_text *t, const pl_layer *k)
{
    if (k->kind == PL_LAYER_SPANS)
        pl_text_add(t, "keyentry with boxes fc rgb '%s' fs transparent solid 0.14 noborder",
                    pl_hue_hex(k->hue));
    else
        pl_text_add(t, "keyentry with lines lw 1.5 lc rgb '%s'%s", pl_hue_hex(k->hue),
                    k->dashed ? " dt (6,5)" : "");
    pl_text_put(t, " title ");
    put_quoted(t, k->name, false);
}

static void put_plot(pl_text *t, const pl_plot *p, const pl_layout *l, pl_plot_form form)
{
    const char *before = "plot ";

    for (size_t i = 0; i < p->nlayers; i++) {
        if (pl_plot_form_whole(form) && p->layers[i].kind >= PL_LAYER_SPANS &&
            pl_layer_in_key(&p->layers[i])) {
            pl_text_put(t, before);
            put_key_entry(t, &p->layers[i]);
            before = ", \\\n     ";
        }
        if (!has_data(&p->layers[i], form) || !any_row(t, &p->layers[i], l))
            continue;
        pl_text_put(t, before);
        put_style(t, p, i, form == PL_PLOT_TERMINAL);
        if (pl_plot_form_whole(form) && pl_layer_in_key(&p->layers[i])) {
            pl_text_put(t, " title ");
            put_quoted(t, p->layers[i].name, false);
        } else if (pl_plot_form_whole(form))
            pl_text_put(t, " notitle");
        before = ", \\\n     ";
    }
    pl_text_add(t, "%sNaN notitle\n", before); /* axes alone need a plot too */
}

char *pl_plot_script_of(pl_arena *a, const pl_plot *p, const pl_layout *l, pl_plot_form form,
                        int columns, int rows)
{
    bool terminal = form == PL_PLOT_TERMINAL;
    pl_text t;

    pl_text_init(&t, a);
    put_terminal(&t, l, form, columns, rows);
    put_axis(&t, 'x', &l->x);
    put_axis(&t, 'y', &l->y);
    put_axis_labels(&t, p, l, form);
    if (pl_plot_form_whole(form))
        pl_text_add(&t, "set key at screen %.6f, screen 0.985 left top horizontal Left reverse\n",
                    4 / l->width);
    put_data(&t, p, l, form);
    for (size_t i = 0; i < p->nlayers; i++)
        for (size_t j = 0; p->layers[i].kind >= PL_LAYER_SPANS && j < p->layers[i].n; j++)
            put_object(&t, &p->layers[i], l, j, terminal);
    put_plot(&t, p, l, form);
    return pl_text_done(&t);
}

char *pl_plot_script(pl_arena *a, const pl_plot *p, pl_plot_form form, int columns, int rows)
{
    pl_layout l;

    if (!pl_plot_lay_out(a, p, form, columns, rows, &l))
        return NULL;
    return pl_plot_script_of(a, p, &l, form, columns, rows);
}
