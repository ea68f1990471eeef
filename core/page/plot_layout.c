/* Ranges, ticks and margins of a picture, settled before anything is drawn, so
 * that the place of every value in pixels is known here too. */
#include "page/plot_inner.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---------------------------------------------------------------- range ---- */

/* Beyond these a span or a ratio may overflow; no picture needs them. */
#define LARGEST 1e150
#define SMALLEST 1e-150 /* on a log axis */

static void widen(pl_scale *s, double x)
{
    if (!(fabs(x) <= LARGEST) || (s->log && x < SMALLEST))
        return;
    if (!(s->low <= x))
        s->low = x;
    if (!(s->high >= x))
        s->high = x;
}

static void widen_all(pl_scale *s, const double *x, size_t n)
{
    for (size_t i = 0; x && i < n; i++)
        widen(s, x[i]);
}

/* Which of a layer's arrays speak for an axis. */
static void widen_by_layer(pl_scale *s, const pl_layer *l, bool is_x)
{
    bool level = l->kind == PL_LAYER_ACROSS || l->kind == PL_LAYER_SPANS;

    widen_all(s, is_x ? l->x : l->y, l->n);
    if (level == is_x) {
        widen_all(s, l->low, l->n);
        widen_all(s, l->high, l->n);
    }
}

/* Some air around the values, none below a zero that was asked for. */
static void add_air(pl_scale *s, bool from_zero)
{
    const double share = 0.05;
    double span;

    if (s->log) {
        double factor = s->high > s->low ? pow(s->high / s->low, share) : 1.5;

        s->low /= factor;
        s->high *= factor;
        return;
    }
    span = s->high - s->low;
    if (!(span > 1e-12 * fmax(fabs(s->low), fabs(s->high)))) /* one value, but for rounding */
        span = s->high != 0 ? fabs(s->high) : 1;
    if (!from_zero || s->low != 0)
        s->low -= share * span;
    if (!from_zero || s->high != 0)
        s->high += share * span;
}

static void set_range(const pl_plot *p, const pl_axis *axis, pl_scale *s, bool is_x)
{
    s->log = axis->log;
    s->low = s->high = NAN;
    if (axis->low != axis->high && (!axis->log || axis->low > 0)) {
        s->low = axis->low;
        s->high = axis->high;
        return;
    }
    for (size_t i = 0; i < p->nlayers; i++)
        widen_by_layer(s, &p->layers[i], is_x);
    if (axis->from_zero && !axis->log)
        widen(s, 0);
    if (isnan(s->low)) { /* nothing to draw */
        s->low = axis->log ? 1 : 0;
        s->high = axis->log ? 10 : 1;
        return;
    }
    add_air(s, axis->from_zero && !axis->log);
}

bool pl_scale_holds(const pl_scale *s, double x)
{
    return isfinite(x) && x >= s->low && x <= s->high && (!s->log || x > 0);
}

double pl_scale_px(const pl_scale *s, double x)
{
    double part = s->log ? log(x / s->low) / log(s->high / s->low)
                         : (x - s->low) / (s->high - s->low);

    return s->px_low + part * (s->px_high - s->px_low);
}

double pl_scale_clip(const pl_scale *s, double x)
{
    if (x < s->low)
        return s->low;
    return x > s->high ? s->high : x;
}

/* ---------------------------------------------------------------- ticks ---- */

static void add_tick(pl_scale *s, double x, char *word)
{
    if (s->nticks == PL_TICKS_MOST || !pl_scale_holds(s, x))
        return;
    s->ticks[s->nticks] = x;
    s->words[s->nticks++] = word;
}

/* Steps of 1, 2 or 5 times a power of ten, at most `most` of them. */
static void linear_ticks(pl_arena *a, pl_scale *s, size_t most)
{
    double rough = (s->high - s->low) / (double)most, power = pow(10, floor(log10(rough)));
    double step = rough <= power ? power : rough <= 2 * power ? 2 * power : 5 * power;
    double first, largest;
    int places;

    if (rough > 5 * power)
        step = 10 * power;
    places = (int)-floor(log10(step) + 1e-9);
    largest = fmax(fabs(s->low), fabs(s->high));
    first = ceil(s->low / step - 1e-9);
    for (double i = first; i * step <= s->high + 1e-9 * step; i++) {
        double x = pl_scale_clip(s, i * step);

        if (fabs(x) < 1e-9 * step)
            add_tick(s, 0, pl_arena_str(a, "0"));
        else if (largest >= 1e7 || step < 1e-5)
            add_tick(s, x, pl_text_number(a, x, (int)fmin(15, ceil(log10(largest / step)) + 1)));
        else
            add_tick(s, x, pl_arena_printf(a, "%.*f", places > 0 ? places : 0, x));
    }
}

static size_t try_log_ticks(pl_arena *a, pl_scale *s, const double *steps, size_t nsteps,
                            int decades, bool keep)
{
    int from = (int)floor(log10(s->low)), to = (int)ceil(log10(s->high));
    size_t n = 0;

    for (int k = from; k <= to; k++)
        for (size_t i = 0; i < nsteps && k % decades == 0; i++) {
            /* divided below 1: 2/10 is the double nearest to 0.2, 2 * 0.1 may not be */
            double x = k < 0 ? steps[i] / pow(10, -k) : steps[i] * pow(10, k);

            if (!pl_scale_holds(s, x))
                continue;
            n++;
            if (keep)
                add_tick(s, x, pl_text_number(a, x, 3));
        }
    return n;
}

/* The closest ticks that find room; few: those of a linear axis. */
static void log_ticks(pl_arena *a, pl_scale *s, size_t most)
{
    static const double steps[] = { 1, 2, 5 }, thirds[] = { 1, 3 };
    int decades = 1;

    if (try_log_ticks(a, s, steps, 3, 1, false) <= most) {
        if (try_log_ticks(a, s, steps, 3, 1, false) < 3)
            linear_ticks(a, s, most);
        else
            try_log_ticks(a, s, steps, 3, 1, true);
        return;
    }
    if (try_log_ticks(a, s, thirds, 2, 1, false) <= most) {
        try_log_ticks(a, s, thirds, 2, 1, true);
        return;
    }
    while (try_log_ticks(a, s, steps, 1, decades, false) > most)
        decades++;
    try_log_ticks(a, s, steps, 1, decades, true);
}

static bool set_ticks(pl_arena *a, const pl_axis *axis, pl_scale *s, size_t most)
{
    s->nticks = 0;
    if (axis->ticks)
        for (size_t i = 0; i < axis->nticks; i++)
            add_tick(s, axis->ticks[i],
                     axis->tick_words ? pl_arena_str(a, axis->tick_words[i])
                                      : pl_text_number(a, axis->ticks[i], 4));
    else if (s->log)
        log_ticks(a, s, most);
    else
        linear_ticks(a, s, most);
    for (size_t i = 0; i < s->nticks; i++)
        if (!s->words[i])
            return false;
    return true;
}

static bool fit_side_by_side(const pl_scale *s, size_t left, size_t right)
{
    double gap = fabs(pl_scale_px(s, s->ticks[right]) - pl_scale_px(s, s->ticks[left]));

    return gap >= (pl_plot_text_px(s->words[left]) + pl_plot_text_px(s->words[right])) / 2 + 8;
}

/* Own ticks may stand too close for their words: numbers that do not fit beside
 * the last one kept are left out; names, each with its own meaning, are slanted. */
static void make_room(pl_scale *s, bool names)
{
    size_t kept = 0;

    for (size_t i = 1; names && i < s->nticks; i++)
        s->slanted = s->slanted || !fit_side_by_side(s, i - 1, i);
    for (size_t i = 1; !names && i < s->nticks; i++)
        if (fit_side_by_side(s, kept, i)) {
            kept++;
            s->ticks[kept] = s->ticks[i];
            s->words[kept] = s->words[i];
        }
    if (!names && s->nticks)
        s->nticks = kept + 1;
}

/* -------------------------------------------------------------- margins ---- */

/* Letters of the common sans-serif faces average 0.52 of their size, digits
 * 0.556 (Helvetica's metrics); a little more, so that nothing is cut. */
double pl_plot_text_px(const char *s)
{
    return 0.58 * PL_FONT_PX * (double)pl_text_width(s);
}

static double widest_word(const pl_scale *s)
{
    double widest = 0;

    for (size_t i = 0; i < s->nticks; i++)
        widest = fmax(widest, pl_plot_text_px(s->words[i]));
    return widest;
}

/* gnuplot sets its own key in columns; two are the fewest it may come to. */
static double whole_key_height(const pl_plot *p)
{
    size_t n = 0, lines;

    for (size_t i = 0; i < p->nlayers; i++)
        n += pl_layer_in_key(&p->layers[i]);
    lines = (n + 1) / 2;
    return 21.0 * (double)lines + 4;
}

/* A word that would take half the picture ends in an ellipsis. */
static bool shorten_words(pl_arena *a, pl_scale *s, double most)
{
    for (size_t i = 0; i < s->nticks; i++) {
        size_t keep = (size_t)(most / pl_plot_text_px("x")) - 1, n = 0;

        if (pl_plot_text_px(s->words[i]) <= most)
            continue;
        while (s->words[i][n] && (keep || ((unsigned char)s->words[i][n] & 0xc0) == 0x80))
            keep -= ((unsigned char)s->words[i][n++] & 0xc0) != 0x80;
        s->words[i] = pl_arena_printf(a, "%.*s\xe2\x80\xa6", (int)n, s->words[i]);
        if (!s->words[i])
            return false;
    }
    return true;
}

static bool lay_out_svg(pl_arena *a, const pl_plot *p, pl_plot_form form, pl_layout *l)
{
    double left, right, top, bottom;

    l->width = form == PL_PLOT_NARROW ? 400 : 760;
    l->height = form == PL_PLOT_NARROW ? 400 : 440;
    l->key_bottom = pl_plot_form_whole(form) ? whole_key_height(p)
                                             : pl_plot_key_height(p, l->width);
    top = l->key_bottom + (p->y.label && p->y.label[0] ? 30 : 12);
    bottom = 28 + (p->x.label && p->x.label[0] ? 34 : 4);
    if (!set_ticks(a, &p->y, &l->y, (size_t)((l->height - top - bottom) / 45)))
        return false;
    if (!shorten_words(a, &l->y, 0.42 * l->width))
        return false;
    left = fmax(30, widest_word(&l->y) + 14);
    right = 14;
    if (!set_ticks(a, &p->x, &l->x, (size_t)fmax(4, (l->width - left - right) / 58)))
        return false;
    if (l->x.nticks)
        right = fmax(right, pl_plot_text_px(l->x.words[l->x.nticks - 1]) / 2 + 2);
    l->x.px_low = left;
    l->x.px_high = l->width - right;
    make_room(&l->x, p->x.tick_words != NULL);
    if (l->x.slanted) /* at 40 degrees */
        bottom += fmin(0.65 * widest_word(&l->x), l->height / 4);
    l->y.px_low = l->height - bottom;
    l->y.px_high = top;
    return true;
}

bool pl_plot_lay_out(pl_arena *a, const pl_plot *p, pl_plot_form form, int columns, int rows,
                     pl_layout *l)
{
    *l = (pl_layout){ 0 };
    set_range(p, &p->x, &l->x, true);
    set_range(p, &p->y, &l->y, false);
    if (form != PL_PLOT_TERMINAL)
        return lay_out_svg(a, p, form, l);
    if (!set_ticks(a, &p->x, &l->x, (size_t)(columns > 40 ? columns / 10 : 4)) ||
        !set_ticks(a, &p->y, &l->y, (size_t)(rows > 12 ? rows / 4 : 3)))
        return false;
    l->x.px_high = 0.85 * columns * PL_FONT_PX * 0.58; /* for make_room: a letter each */
    make_room(&l->x, false);
    return true;
}
