/* The calendar to print: what is done when, as pictures and as a list to tick off.
 * It names stations, and so goes with the glue-up sheets and not with the break
 * sheet. */
#include "bench/columns.h"
#include "bench/sheet_pages.h"

#include <math.h>
#include <string.h>

#define WIDE 760.0 /* of a picture, in its own units */
#define ROW 26.0
#define LEFT 128.0 /* of the rows' names */

typedef struct strip { /* a picture of rows over time */
    pl_sheet *sh;
    pl_text t;
    double from, to, top;
    size_t rows;
} strip;

static double x_of(const strip *p, double t)
{
    double share = (t - p->from) / (p->to - p->from);

    return LEFT + (WIDE - LEFT - 8) * fmin(fmax(share, 0), 1);
}

static void begin_strip(strip *p, pl_sheet *sh, double from, double to, size_t rows,
                        const char *words)
{
    *p = (strip){ .sh = sh, .from = from, .to = fmax(to, from + 60), .top = 24, .rows = rows };
    pl_text_init(&p->t, sh->a);
    pl_text_add(&p->t,
                "<div class=\"scroll\"><svg viewBox=\"0 0 %.0f %.0f\" role=\"img\" aria-label=\"",
                WIDE, p->top + ROW * (double)rows + 4);
    pl_html_put(&p->t, words);
    pl_text_put(&p->t, "\" style=\"display:block;width:100%;min-width:40rem\" font-size=\"12\">\n");
}

static void end_strip(strip *p)
{
    pl_text_put(&p->t, "</svg></div>\n");
    pl_page_raw(p->sh->page, pl_sheet_done(p->sh, &p->t));
}

static void put_words(strip *p, double x, double y, const char *anchor, const char *words)
{
    pl_text_add(&p->t, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"%s\" fill=\"currentColor\">", x,
                y, anchor);
    pl_html_put(&p->t, words);
    pl_text_put(&p->t, "</text>\n");
}

static void put_tick(strip *p, double t, const char *words)
{
    double x = x_of(p, t);

    pl_text_add(&p->t, "<path d=\"M%.1f %.1fV%.1f\" stroke=\"var(--line)\" stroke-width=\"1\"/>\n",
                x, p->top - 4, p->top + ROW * (double)p->rows);
    if (x < WIDE - 64) /* else its words would not fit */
        put_words(p, x + 3, p->top - 8, "start", words);
}

static void put_row(strip *p, size_t row, const char *name)
{
    put_words(p, 0, p->top + ROW * (double)row + 17, "start", name);
}

/* A bar with its word in it where there is room; dashed: waiting, not work. */
static void put_bar(strip *p, size_t row, double from, double to, const char *word,
                    const char *hover, bool dashed)
{
    double x = x_of(p, from), w = fmax(x_of(p, to) - x, 2), y = p->top + ROW * (double)row + 3;

    pl_text_add(&p->t,
                "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.0f\" fill=\"%s\" "
                "stroke=\"currentColor\"%s><title>",
                x, y, w, ROW - 6, dashed ? "none" : "var(--tint)",
                dashed ? " stroke-dasharray=\"4 3\"" : "");
    pl_html_put(&p->t, hover);
    pl_text_put(&p->t, "</title></rect>\n");
    if ((double)pl_text_width(word) * 7.4 < w)
        put_words(p, x + w / 2, y + 14.5, "middle", word);
}

/* ------------------------------------------------------------- one session ---- */

static size_t row_of(const pl_study *s, const pl_glue_up *g)
{
    size_t row = g->station ? g->station - 1 : 0;

    for (int i = 0; i < g->press; i++)
        row += s->presses[i].stations;
    return row;
}

static size_t stations_of(const pl_study *s)
{
    size_t n = 0;

    for (size_t i = 0; i < s->npress; i++)
        n += s->presses[i].stations;
    return n ? n : 1;
}

static void put_station_names(strip *p, const pl_study *s)
{
    size_t row = 0;

    for (size_t i = 0; i < s->npress; i++)
        for (unsigned k = 1; k <= s->presses[i].stations; k++)
            put_row(p, row++,
                    s->presses[i].stations == 1
                        ? s->presses[i].name
                        : pl_sheet_printf(p->sh, "%.14s, %u", s->presses[i].name, k));
    if (!row)
        put_row(p, 0, "press");
}

static void put_session(pl_sheet *sh, unsigned session)
{
    size_t n = 0, *order = pl_glue_order(sh->a, sh->p, session, &n);
    const pl_slot *slots = sh->calendar->slots;
    double from = INFINITY, to = -INFINITY, step = 3600;
    strip p;

    for (size_t i = 0; order && i < n; i++) {
        from = fmin(from, slots[order[i]].begin);
        to = fmax(to, slots[order[i]].open);
    }
    if (!order || !n) {
        sh->failed = sh->failed || !order;
        return;
    }
    pl_page_heading(sh->page,
                    pl_sheet_printf(sh, "Session %u: %s", session, pl_sheet_clock(sh, from, true)));
    begin_strip(&p, sh, from, to, stations_of(sh->s),
                pl_sheet_printf(sh,
                                "which station is busy when in session %u; the list below says "
                                "the same",
                                session));
    while ((to - from) / step > 10)
        step *= 2;
    for (int i = 0; (ceil(from / step) + i) * step < to; i++)
        put_tick(&p, (ceil(from / step) + i) * step,
                 pl_sheet_clock(sh, (ceil(from / step) + i) * step, false));
    put_station_names(&p, sh->s);
    for (size_t i = 0; i < n; i++) {
        const pl_glue_up *g = &sh->p->glue_ups[order[i]];
        const pl_slot *slot = &slots[order[i]];

        put_bar(&p, row_of(sh->s, g), slot->begin, slot->open, g->label,
                pl_sheet_printf(sh, "%s: begin %s, pressed %s, open %s", g->label,
                                pl_sheet_clock(sh, slot->begin, false),
                                pl_sheet_clock(sh, slot->pressed, false),
                                pl_sheet_clock(sh, slot->open, false)),
                false);
    }
    end_strip(&p);
}

/* ------------------------------------------------------------- all of it ------ */

static void put_days(strip *p)
{
    double day = 86400, step = day;

    while ((p->to - p->from) / step > 9)
        step += day;
    for (int i = 0; p->from + i * step < p->to; i++) {
        double t = p->from + i * step;
        const char *words = pl_sheet_clock(p->sh, t, true);
        char *date = pl_arena_str(p->sh->a, words);
        size_t n = date ? strlen(date) : 0;

        if (n > 6)
            date[n - 6] = '\0'; /* without the hour */
        put_tick(p, t, date ? date : "");
    }
}

/* From the first opening of a session to the last joint of it that is cured. */
static void put_cure(strip *p, pl_sheet *sh, unsigned session)
{
    const pl_calendar *c = sh->calendar;
    double begin = INFINITY, end = -INFINITY;

    for (size_t i = 0; i < sh->p->nspecimen; i++) {
        const pl_break_slot *b = &c->breaks[i];
        const pl_glue_up *g = &sh->p->glue_ups[sh->p->specimens[i].glue_up];

        if (b->gone || g->session != session || isnan(b->ready))
            continue;
        begin = fmin(begin, c->slots[sh->p->specimens[i].glue_up].open);
        end = fmax(end, b->ready);
    }
    if (begin < end)
        put_bar(p, session - 1, begin, end, "curing",
                pl_sheet_printf(sh, "session %u cures", session), true);
}

static void put_whole(pl_sheet *sh)
{
    const pl_calendar *c = sh->calendar;
    unsigned sessions = sh->p->nsession;
    double from = INFINITY, to = -INFINITY;
    strip p;

    for (size_t i = 0; i < c->ntask; i++) {
        from = fmin(from, c->tasks[i].from);
        to = fmax(to, c->tasks[i].to);
    }
    if (!c->ntask)
        return;
    from -= fmod(from, 3600);
    begin_strip(&p, sh, from, to + 3600, sessions + 1, "gluing, curing and breaking day by day");
    put_days(&p);
    for (unsigned session = 1; session <= sessions; session++) {
        put_row(&p, session - 1, pl_sheet_printf(sh, "session %u", session));
        put_cure(&p, sh, session);
    }
    put_row(&p, sessions, "breaking");
    for (size_t i = 0; i < c->ntask; i++) {
        const pl_task *t = &c->tasks[i];

        if (t->kind == PL_TASK_GLUE)
            put_bar(&p, t->session - 1, t->from, t->to, "", t->words, false);
        else if (t->kind == PL_TASK_BREAK)
            put_bar(&p, sessions, t->from, t->to, "", t->words, false);
    }
    end_strip(&p);
    pl_page_text(sh->page, "Filled: somebody is at work. Dashed: curing.");
}

static void put_list(pl_sheet *sh)
{
    const pl_calendar *c = sh->calendar;
    bool limits = !isnan(sh->s->times.cure_at_most_s);
    pl_grid *g = pl_grid_new(sh->a);

    pl_grid_column(g, PL_SIDE_LEFT, "when", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "what", NULL);
    if (limits)
        pl_grid_column(g, PL_SIDE_LEFT, "no later than", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "done", NULL);
    for (size_t i = 0; i < c->ntask; i++) {
        const pl_task *t = &c->tasks[i];

        pl_grid_cell(g, pl_sheet_tied(sh, pl_sheet_clock(sh, t->from, true)));
        pl_grid_cell(g, t->words);
        if (limits)
            pl_grid_cell(g, t->kind == PL_TASK_BREAK && isfinite(t->by)
                                ? pl_sheet_tied(sh, pl_sheet_clock(sh, t->by, true))
                                : "");
        if (t->done)
            pl_grid_cell(g, "yes");
        else
            pl_grid_blank(g);
    }
    pl_sheet_rows(sh, g);
}

void pl_sheet_calendar(pl_sheet *sh)
{
    pl_sheet_begin(sh, "Calendar");
    pl_page_box(sh->page, PL_TONE_ADVICE,
                "Worked out from what is planned and what was taken into the book; make it anew "
                "after every session. calendar.ics holds the same for a phone.");
    for (size_t i = 0; i < sh->calendar->nnote; i++)
        pl_page_text(sh->page, sh->calendar->notes[i]);
    pl_page_section(sh->page, "Day by day");
    put_whole(sh);
    pl_page_section(sh->page, "Stations");
    for (unsigned session = 1; session <= sh->p->nsession; session++)
        put_session(sh, session);
    pl_page_section(sh->page, "What is to be done");
    put_list(sh);
}
