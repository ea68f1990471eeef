/* The schedule: sessions into working days, closings onto stations, breaking behind
 * cure. How it is shown is sheet_calendar.c's and ics.c's. */
#include "bench/calendar.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/text.h"
#include "bench/columns.h"

#define DAYS_MOST 3653     /* ten years */
#define BREAK_S (5 * 60.0) /* one specimen; common practice, no source */
#define STATIONS_MOST 2000 /* 20 presses of 100 */

typedef struct making {
    pl_arena *a;
    const pl_study *s;
    const pl_plan *p;
    const pl_readings *r;
    double now;
    pl_calendar *out;
    const char **notes;
    size_t nnote;
    double *free_at; /* npress x 100 stations: when the last closing was opened; -INFINITY */
    bool no_hours;
} making;

static void note(making *m, const char *text)
{
    const char **more = pl_arena_grow(m->a, m->notes, m->nnote, m->nnote + 1, sizeof *more);

    for (size_t i = 0; text && i < m->nnote; i++)
        if (!strcmp(m->notes[i], text))
            return;
    if (!more || !text)
        return; /* the arena remembers the refusal */
    more[m->nnote++] = text;
    m->notes = more;
}

/* ------------------------------------------------------------ working hours ---- */

/* Opening and closing of the local day `days` after that of t; false on days off. */
static bool hours_of(const making *m, double t, int days, double *open, double *close)
{
    const pl_work_hours *w = &m->s->times.work;
    time_t at = (time_t)floor(t);
    struct tm day;
    char date[40];
    int weekday;

    localtime_r(&at, &day);
    day.tm_mday += days;
    day.tm_hour = 12;
    day.tm_min = day.tm_sec = 0;
    day.tm_isdst = -1;
    mktime(&day); /* puts date and weekday right */
    weekday = (day.tm_wday + 6) % 7;
    if (!w->to_min[weekday])
        return false;
    strftime(date, sizeof date, "%Y-%m-%d", &day);
    for (size_t i = 0; i < w->noff; i++)
        if (!strcmp(w->off[i], date))
            return false;
    day.tm_hour = 0;
    day.tm_min = w->from_min[weekday];
    day.tm_isdst = -1;
    *open = (double)mktime(&(struct tm){ .tm_year = day.tm_year,
                                         .tm_mon = day.tm_mon,
                                         .tm_mday = day.tm_mday,
                                         .tm_min = w->from_min[weekday],
                                         .tm_isdst = -1 });
    *close = (double)mktime(&(struct tm){ .tm_year = day.tm_year,
                                          .tm_mon = day.tm_mon,
                                          .tm_mday = day.tm_mday,
                                          .tm_min = w->to_min[weekday],
                                          .tm_isdst = -1 });
    return true;
}

/* The earliest start at or after t of work that takes long_s and is not broken off
 * by closing time; longer than any day: the next opening. */
static double place(making *m, double t, double long_s)
{
    double open, close, first = NAN;

    for (int days = 0; days < DAYS_MOST; days++) {
        if (!hours_of(m, t, days, &open, &close))
            continue;
        if (close - open < long_s) {
            if (isnan(first) && open >= t)
                first = open;
            if (days > 14 && !isnan(first))
                return first;
            continue;
        }
        if (fmax(t, open) + long_s <= close)
            return fmax(t, open);
    }
    if (isnan(first))
        m->no_hours = true;
    return isnan(first) ? t : first;
}

/* Midnight behind t, local. */
static double day_after(double t)
{
    time_t at = (time_t)floor(t);
    struct tm day;

    localtime_r(&at, &day);
    return (double)mktime(&(struct tm){
        .tm_year = day.tm_year, .tm_mon = day.tm_mon, .tm_mday = day.tm_mday + 1, .tm_isdst = -1 });
}

char *pl_calendar_time(pl_arena *a, double t, bool with_day)
{
    static const char *const days[] = { "Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat" };
    static const char *const months[] = { "Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                          "Jul", "Aug", "Sep", "Oct", "Nov", "Dec" };
    time_t at = (time_t)floor(t);
    struct tm tm;

    localtime_r(&at, &tm);
    if (!with_day)
        return pl_arena_printf(a, "%02d:%02d", tm.tm_hour, tm.tm_min);
    return pl_arena_printf(a, "%s %d %s %02d:%02d", days[tm.tm_wday], tm.tm_mday, months[tm.tm_mon],
                           tm.tm_hour, tm.tm_min);
}

/* ------------------------------------------------------------------ gluing ---- */

static double taken(const making *m, pl_subject subject, const char *id, const char *quantity)
{
    const pl_reading *r = m->r ? pl_readings_find(m->r, subject, id, quantity) : NULL;

    return r ? r->value : NAN;
}

static double first_of(double x, double y)
{
    return isnan(x) ? y : x;
}

/* What the book knows of a closing. */
static void take_slot(making *m, const pl_glue_up *g, pl_slot *slot)
{
    double spread = taken(m, PL_ON_GLUE_UP, g->label, "spread_at");
    double closed = taken(m, PL_ON_GLUE_UP, g->label, "closed_at");
    double pressed = taken(m, PL_ON_GLUE_UP, g->label, "pressed_at");
    double opened = taken(m, PL_ON_GLUE_UP, g->label, "opened_at");

    *slot = (pl_slot){ NAN, NAN, NAN, NAN, false, false, false };
    slot->pressed = first_of(pressed, first_of(closed, spread));
    if (isnan(slot->pressed) && !isnan(opened))
        slot->pressed = opened - first_of(m->s->times.clamp_s, 0);
    slot->begin = first_of(spread, slot->pressed - m->s->times.hands_on_s);
    slot->begun = !isnan(slot->pressed);
    slot->opened = !isnan(opened);
    slot->open = opened;
}

static double *station_of(making *m, const pl_glue_up *g)
{
    size_t press = g->press < 0 ? 0 : (size_t)g->press;
    size_t station = g->station ? g->station - 1 : 0;

    return &m->free_at[(press * 100 + station % 100) % STATIONS_MOST];
}

static double changeover_of(const making *m, const pl_glue_up *g)
{
    return g->press < 0 ? 0 : m->s->presses[g->press].changeover_s;
}

/* How long somebody must be there: until it is opened, for a joint that stays in the press
 * overnight was clamped for longer than the others; where no day is that long, for the
 * gluing alone. */
static double attended_s(const making *m)
{
    double hands_s = m->s->times.hands_on_s, all_s = hands_s + m->s->times.clamp_s;

    for (int i = 0; i < 7; i++)
        if (all_s <= 60.0 * (m->s->times.work.to_min[i] - m->s->times.work.from_min[i]))
            return all_s;
    return hands_s;
}

/* One closing behind what the bench and its station were busy with. */
static void fill_slot(making *m, const pl_glue_up *g, pl_slot *slot, double *hands_free)
{
    double *station = station_of(m, g), hands_s = m->s->times.hands_on_s;

    if (!slot->begun) {
        slot->begin = place(m, fmax(*hands_free, *station + changeover_of(m, g)), attended_s(m));
        slot->pressed = slot->begin + hands_s;
    }
    slot->until = slot->pressed + m->s->times.clamp_s;
    if (!slot->opened)
        slot->open = isnan(slot->until) ? slot->pressed : place(m, slot->until, 0);
    *hands_free = fmax(*hands_free, slot->pressed);
    *station = fmax(*station, slot->open);
}

/* Where the mix is too old by the time it would be spread, a new one is made. */
static void mark_mixes(making *m, const size_t *order, size_t n)
{
    double mixed = -INFINITY, life = m->s->adhesive.pot_life_s;

    for (size_t i = 0; i < n; i++) {
        pl_slot *slot = &m->out->slots[order[i]];

        slot->mix = i == 0 || (!isnan(life) && slot->pressed - mixed > life);
        if (slot->mix)
            mixed = slot->begin;
    }
}

/* When a session that was not begun may begin: not before now, not on the day of
 * the one before, on its date where one is written down. */
static double session_start(making *m, unsigned session, double after)
{
    char id[16];
    const pl_reading *date;
    double t = fmax(m->now, after);

    snprintf(id, sizeof id, "%u", session);
    date = m->r ? pl_readings_find(m->r, PL_ON_SESSION, id, "date") : NULL;
    if (date && date->value > t)
        t = date->value;
    return place(m, t, fmin(m->s->times.hands_on_s, 3600));
}

static double plan_session(making *m, unsigned session, double after)
{
    size_t n = 0, *order = pl_glue_order(m->a, m->p, session, &n);
    double hands_free, end = after, begin = NAN;
    bool begun = false;

    for (size_t i = 0; order && i < n; i++)
        begun = begun || m->out->slots[order[i]].begun;
    hands_free = session_start(m, session, begun ? m->now : after);
    for (size_t i = 0; order && i < n; i++) {
        pl_slot *slot = &m->out->slots[order[i]];

        fill_slot(m, &m->p->glue_ups[order[i]], slot, &hands_free);
        begin = i ? begin : slot->begin;
        end = fmax(end, day_after(slot->pressed));
    }
    if (order && n) {
        mark_mixes(m, order, n);
        if (day_after(begin) < end && !begun)
            note(m, pl_arena_printf(m->a,
                                    "Session %u does not fit into its day: what is left of it "
                                    "is done on the next.",
                                    session));
    }
    return end;
}

/* ---------------------------------------------------------------- breaking ---- */

static void take_breaks(making *m, const bool *gone)
{
    for (size_t i = 0; i < m->p->nspecimen; i++) {
        const pl_specimen *sp = &m->p->specimens[i];
        const pl_slot *slot = &m->out->slots[sp->glue_up];
        pl_break_slot *b = &m->out->breaks[i];
        double cure_s = first_of(m->s->times.cure_at_least_s, 0);

        *b = (pl_break_slot){ .ready = slot->open + cure_s,
                              .deadline = isnan(m->s->times.cure_at_most_s)
                                              ? INFINITY
                                              : slot->open + m->s->times.cure_at_most_s,
                              .begin = NAN,
                              .end = NAN,
                              .gone = sp->spare || (gone && gone[i]) };
        b->broken = m->r && (pl_readings_find(m->r, PL_ON_SPECIMEN, sp->id, "peak") ||
                             pl_readings_find(m->r, PL_ON_SPECIMEN, sp->id, "mode"));
        if (b->broken) {
            b->end = taken(m, PL_ON_SPECIMEN, sp->id, "broken_at");
            b->begin = b->end;
        }
    }
}

/* The frame that breaks must not be clamping: pushes t behind every closing of that
 * press that overlaps [t, t + long_s]. */
static double behind_clamps(making *m, double t, double long_s)
{
    bool moved = m->s->breaking.press >= 0;

    while (moved) {
        moved = false;
        for (size_t i = 0; i < m->p->nglue_up; i++) {
            const pl_glue_up *g = &m->p->glue_ups[i];
            const pl_slot *slot = &m->out->slots[i];

            if (g->spare || g->press != m->s->breaking.press || isnan(slot->begin) ||
                slot->open <= t || slot->begin >= t + long_s)
                continue;
            t = place(m, slot->open + changeover_of(m, g), long_s);
            moved = true;
        }
    }
    return t;
}

/* Breaks in break order those of one session, or all (0). False when one of them
 * would be older than it may be. */
static bool plan_breaks(making *m, unsigned session, double *t)
{
    double each_s = first_of(m->s->breaking.per_specimen_s, BREAK_S);
    size_t n = 0, *order = pl_break_order(m->a, m->p, &n);
    bool fine = true;

    for (size_t i = 0; order && i < n; i++)
        if (!session || m->p->glue_ups[m->p->specimens[order[i]].glue_up].session == session) {
            const pl_break_slot *b = &m->out->breaks[order[i]];

            if (!b->gone && !b->broken && b->ready > *t)
                *t = b->ready;
        }
    for (size_t i = 0; order && i < n; i++) {
        pl_break_slot *b = &m->out->breaks[order[i]];

        if (b->gone || b->broken ||
            (session && m->p->glue_ups[m->p->specimens[order[i]].glue_up].session != session))
            continue;
        b->begin = behind_clamps(m, place(m, *t, each_s), each_s);
        b->end = b->begin + each_s;
        b->late = b->end > b->deadline;
        fine = fine && !b->late;
        *t = b->end;
    }
    return fine;
}

/* All in one order where they may wait for each other; else session by session. */
static void plan_breaking(making *m)
{
    double t = m->now;
    bool fine = plan_breaks(m, 0, &t);

    if (fine)
        return;
    t = m->now;
    fine = true;
    for (unsigned session = 1; session <= m->p->nsession; session++)
        fine = plan_breaks(m, session, &t) && fine;
    note(m, "Joints may not wait until all are cured: they are broken session by session, each "
            "session in the order of the break sheet.");
    if (!fine)
        note(m, "Some joints will be older than they may be when they are broken: more hours a "
                "day, fewer joints, or a longer at_most.");
}

/* ------------------------------------------------------------------- tasks ---- */

static int by_time(const void *left, const void *right)
{
    const pl_task *x = left, *y = right;

    if (x->from != y->from)
        return (x->from > y->from) - (x->from < y->from);
    return (x->kind > y->kind) - (x->kind < y->kind);
}

static void add_glue(making *m, unsigned session)
{
    size_t n = 0, *order = pl_glue_order(m->a, m->p, session, &n);
    pl_task *t = &m->out->tasks[m->out->ntask];
    size_t begun = 0;

    if (!order || !n)
        return;
    *t = (pl_task){ .kind = PL_TASK_GLUE,
                    .id = pl_arena_printf(m->a, "session-%u", session),
                    .from = m->out->slots[order[0]].begin,
                    .to = -INFINITY,
                    .session = session };
    for (size_t i = 0; i < n; i++) {
        begun += m->out->slots[order[i]].begun;
        t->from = fmin(t->from, m->out->slots[order[i]].begin);
        t->to = fmax(t->to, m->out->slots[order[i]].pressed);
    }
    t->by = day_after(t->from);
    t->begun = begun > 0;
    t->done = begun == n;
    t->words = pl_arena_printf(m->a, "glue session %u: %s to %s", session,
                               m->p->glue_ups[order[0]].label, m->p->glue_ups[order[n - 1]].label);
    m->out->ntask++;
}

static void add_opens(making *m)
{
    for (size_t i = 0; i < m->p->nglue_up; i++) {
        const pl_glue_up *g = &m->p->glue_ups[i];
        const pl_slot *slot = &m->out->slots[i];

        if (g->spare || isnan(slot->until))
            continue;
        m->out->tasks[m->out->ntask++] = (pl_task){
            .kind = PL_TASK_OPEN,
            .id = pl_arena_printf(m->a, "open-%s", g->label),
            .words = g->press < 0 ? pl_arena_printf(m->a, "open %s", g->label)
                                  : pl_arena_printf(m->a, "open %s: %s, station %u", g->label,
                                                    m->s->presses[g->press].name, g->station),
            .from = slot->until,
            .to = slot->until + 300,
            .by = slot->until,
            .done = slot->opened,
            .begun = slot->begun,
            .session = g->session,
            .glue_up = i,
        };
    }
}

/* One task a day of breaking. */
static void add_breaks(making *m)
{
    size_t n = 0, *order = pl_break_order(m->a, m->p, &n), days = 0;
    double end_of_day = -INFINITY;
    pl_task *t = NULL;

    for (double from = -INFINITY; order;) {
        const pl_break_slot *next = NULL;

        for (size_t i = 0; i < n; i++) { /* by time: break order within a session only */
            const pl_break_slot *b = &m->out->breaks[order[i]];

            if (!b->gone && !b->broken && b->begin > from && (!next || b->begin < next->begin))
                next = b;
        }
        if (!next)
            break;
        from = next->begin;
        if (!t || next->begin >= end_of_day) {
            t = &m->out->tasks[m->out->ntask++];
            *t = (pl_task){ .kind = PL_TASK_BREAK,
                            .id = pl_arena_printf(m->a, "break-%zu", ++days),
                            .from = next->begin,
                            .by = INFINITY };
            end_of_day = day_after(next->begin);
        }
        t->to = next->end;
        t->by = fmin(t->by, next->deadline);
        t->joints++;
        t->words = pl_arena_printf(m->a, "break %zu joint%s", t->joints, t->joints == 1 ? "" : "s");
    }
}

pl_code pl_calendar_make(pl_arena *a, const pl_calendar_spec *spec, pl_calendar *out, pl_diags *d)
{
    const pl_plan *p = spec->plan;
    size_t refusals = pl_arena_refusals(a), most = p->nsession + p->nglue_up + p->nspecimen + 1;
    making m = { .a = a,
                 .s = spec->study,
                 .p = p,
                 .r = spec->readings,
                 .now = spec->now,
                 .out = out,
                 .free_at = PL_NEWN(a, STATIONS_MOST, double) };
    double after = -INFINITY;

    *out = (pl_calendar){ .slots = PL_NEWN(a, p->nglue_up, pl_slot),
                          .breaks = PL_NEWN(a, p->nspecimen, pl_break_slot),
                          .tasks = PL_NEWN(a, most, pl_task) };
    if (!out->slots || !out->breaks || !out->tasks || !m.free_at)
        return pl_nomem(d);
    for (size_t i = 0; i < STATIONS_MOST; i++)
        m.free_at[i] = -INFINITY;
    for (size_t i = 0; i < p->nglue_up; i++)
        take_slot(&m, &p->glue_ups[i], &out->slots[i]);
    if (!spec->study->times.work.given)
        note(&m, "Working hours are not given: Monday to Friday, 8:00 to 17:00 is taken.");
    if (isnan(spec->study->times.clamp_s))
        note(&m, "No clamp time is given: when a clamp may come off is not worked out.");
    if (isnan(spec->study->breaking.per_specimen_s))
        note(&m, "Breaking is taken as 5 min for each joint (common practice, no source).");
    for (unsigned session = 1; session <= p->nsession; session++)
        after = plan_session(&m, session, after);
    take_breaks(&m, spec->gone);
    plan_breaking(&m);
    for (unsigned session = 1; session <= p->nsession; session++)
        add_glue(&m, session);
    add_opens(&m);
    add_breaks(&m);
    if (pl_arena_refusals(a) != refusals)
        return pl_nomem(d);
    if (m.no_hours)
        return pl_fail(d, PL_EUNFIT, spec->study->name, .pointer = "/times/work",
                       .found = "no working hours in ten years", .expected = "a day of work",
                       .mend = "fewer days off, or hours on some day");
    qsort(out->tasks, out->ntask, sizeof *out->tasks, by_time);
    out->notes = m.notes;
    out->nnote = m.nnote;
    return PL_OK;
}
