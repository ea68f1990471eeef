/* Pictures put together: layout, gnuplot's drawing, our dots and key. */
#include "page/plot.h"

#include <string.h>

#include "page/plot_inner.h"

static pl_code run_script(pl_arena *a, const pl_plot *p, const pl_layout *l, pl_plot_form form,
                          int columns, int rows, char **out, size_t *length, pl_diags *d)
{
    char *script = pl_plot_script_of(a, p, l, form, columns, rows);

    *out = NULL;
    return script ? pl_gnuplot_run(a, script, PL_GNUPLOT_MS, out, length, d) : pl_nomem(d);
}

/* look: attributes of the whole. */
static bool put_svg(pl_arena *a, pl_text *t, const pl_plot *p, const pl_layout *l,
                    pl_plot_form form, const char *look, const char *drawn)
{
    pl_text_add(t,
                "<svg%s class=\"picture %s\" xmlns=\"http://www.w3.org/2000/svg\" "
                "viewBox=\"0 0 %g %g\" font-family=\"system-ui, sans-serif\" font-size=\"%g\" "
                "fill=\"currentColor\" role=\"img\" aria-label=\"",
                look, form == PL_PLOT_NARROW ? "narrow" : "wide", l->width, l->height, PL_FONT_PX);
    pl_html_put(t, p->title ? p->title : "");
    pl_text_put(t, "\">\n");
    if (!pl_svg_take_over(t, drawn))
        return false;
    pl_plot_put_key(t, p, l);
    pl_plot_put_dots(a, t, p, l);
    pl_text_put(t, "</svg>\n");
    return true;
}

static pl_code draw_svg(pl_arena *a, const pl_plot *p, pl_plot_form form, const char *head,
                        const char *look, char **svg, pl_diags *d)
{
    pl_layout l;
    size_t length;
    char *drawn;
    pl_text t;
    pl_code code;

    *svg = NULL;
    if (!pl_plot_lay_out(a, p, form, 0, 0, &l))
        return pl_nomem(d);
    code = run_script(a, p, &l, form, 0, 0, &drawn, &length, d);
    if (code || !drawn)
        return code;
    pl_text_init(&t, a);
    pl_text_put(&t, head);
    if (!put_svg(a, &t, p, &l, form, look, drawn)) {
        pl_advise(d, "picture", .found = "an SVG of a kind not known here",
                  .expected = "SVG as gnuplot 5.4 writes it", .mend = "use gnuplot 5.4 or 6.0");
        return d->out_of_memory ? PL_ENOMEM : PL_OK;
    }
    *svg = pl_text_done(&t);
    return *svg ? PL_OK : pl_nomem(d);
}

pl_code pl_plot_svg(pl_arena *a, const pl_plot *p, pl_plot_form form, char **svg, pl_diags *d)
{
    return draw_svg(a, p, form, "", "", svg, d);
}

/* ------------------------------------------------------------- terminal ---- */

static char *text_key(pl_arena *a, const pl_plot *p, int columns)
{
    size_t used = 0, most = (size_t)columns;
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < p->nlayers; i++) {
        const pl_layer *k = &p->layers[i];
        size_t width;

        if (!pl_layer_in_key(k))
            continue;
        width = pl_text_width(k->name) + 5;
        if (used && used + width > most) {
            pl_text_put(&t, "\n");
            used = 0;
        }
        pl_text_add(&t, "   %c ", pl_layer_letter(p, i));
        for (const char *s = k->name; *s; s++)
            pl_text_bytes(&t, (unsigned char)*s < ' ' || *s == 0x7f ? "?" : s, 1);
        used += width;
    }
    if (used)
        pl_text_put(&t, "\n");
    return pl_text_done(&t);
}

/* gnuplot fills each line with blanks and begins with a form feed. */
static void put_trimmed(pl_text *t, const char *drawn)
{
    bool begun = false;

    while (*drawn) {
        size_t n = strcspn(drawn, "\n"), kept;

        while (n && (*drawn == '\f' || *drawn == '\r')) {
            drawn++;
            n--;
        }
        for (kept = n; kept && (drawn[kept - 1] == ' ' || drawn[kept - 1] == '\f');)
            kept--;
        begun = begun || kept;
        if (begun) {
            pl_text_bytes(t, drawn, kept);
            pl_text_put(t, "\n");
        }
        drawn += n + (drawn[n] == '\n');
    }
    while (t->length > 1 && t->bytes[t->length - 1] == '\n' && t->bytes[t->length - 2] == '\n')
        t->bytes[--t->length] = '\0';
}

pl_code pl_plot_text(pl_arena *a, const pl_plot *p, int columns, int rows, char **text, pl_diags *d)
{
    pl_layout l;
    size_t length;
    char *drawn, *key;
    pl_text t;
    pl_code code;

    *text = NULL;
    columns = columns < 40 ? 40 : columns > 300 ? 300 : columns;
    rows = rows < 12 ? 12 : rows > 100 ? 100 : rows;
    if (!pl_plot_lay_out(a, p, PL_PLOT_TERMINAL, columns, rows, &l))
        return pl_nomem(d);
    code = run_script(a, p, &l, PL_PLOT_TERMINAL, columns, rows, &drawn, &length, d);
    if (code || !drawn)
        return code;
    key = text_key(a, p, columns);
    pl_text_init(&t, a);
    put_trimmed(&t, drawn);
    pl_text_put(&t, key ? key : "");
    *text = key ? pl_text_done(&t) : NULL;
    return *text ? PL_OK : pl_nomem(d);
}

pl_code pl_plot_file(pl_arena *a, const pl_plot *p, pl_plot_form form, char **bytes, size_t *length,
                     pl_diags *d)
{
    pl_layout l;
    pl_code code;

    *bytes = NULL;
    *length = 0;
    if (!pl_plot_form_whole(form)) {
        code = draw_svg(a, p, form, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n",
                        " style=\"color: #000; background: #fff\"", bytes, d);
        *length = *bytes ? strlen(*bytes) : 0;
        return code;
    }
    if (!pl_plot_lay_out(a, p, form, 0, 0, &l))
        return pl_nomem(d);
    return run_script(a, p, &l, form, 0, 0, bytes, length, d);
}

/* ----------------------------------------------------------------- page ---- */

pl_code pl_page_plot(pl_page *page, const pl_plot *p, const char *caption, pl_diags *d)
{
    pl_arena *a = d->arena;
    char *wide, *narrow = NULL;
    pl_text t;
    pl_code code = pl_plot_svg(a, p, PL_PLOT_WIDE, &wide, d);

    if (!code && wide)
        code = pl_plot_svg(a, p, PL_PLOT_NARROW, &narrow, d);
    if (code)
        return code;
    if (!wide || !narrow) {
        pl_page_box(page, PL_TONE_NOTE,
                    "A picture belongs here but could not be drawn; the figures stand in the "
                    "tables.");
        return PL_OK;
    }
    pl_text_init(&t, a);
    pl_text_put(&t, "<figure>\n");
    pl_text_put(&t, wide);
    pl_text_put(&t, narrow);
    if (caption) {
        pl_text_put(&t, "<figcaption>");
        pl_html_put(&t, caption);
        pl_text_put(&t, "</figcaption>\n");
    }
    pl_text_put(&t, "</figure>\n");
    if (!pl_text_done(&t))
        return pl_nomem(d);
    pl_page_raw(page, t.bytes);
    return PL_OK;
}
