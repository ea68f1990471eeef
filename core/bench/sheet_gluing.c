/* The glue-up sheet of one session: what is set on which rig, in which order,
 * with the cautions that go with it. It tells the treatments; whoever judges
 * wood failure does not get it. */
#include "bench/reader.h"
#include "bench/sheet_pages.h"

#include <math.h>
#include <string.h>

static const pl_glue_up **in_session(pl_sheet *sh, unsigned session, size_t *count)
{
    size_t *order = pl_glue_order(sh->a, sh->p, session, count);
    const pl_glue_up **list = PL_NEWN(sh->a, *count, const pl_glue_up *);

    for (size_t i = 0; order && list && i < *count; i++)
        list[i] = &sh->p->glue_ups[order[i]];
    return order ? list : NULL;
}

/* ------------------------------------------------------------------- cautions ---- */

static bool has_kind(pl_sheet *sh, const pl_glue_up *const *list, size_t n, const char *kind)
{
    for (size_t i = 0; i < n; i++) {
        const pl_set_point *at = pl_planned_point(sh->s, sh->p, list[i]);

        if (at && at->kind && !strcmp(at->kind, kind))
            return true;
    }
    return false;
}

/* "jack: never above 20 bar, its rated limit", once for each rig. */
static size_t put_rated(pl_sheet *sh, const pl_glue_up *const *list, size_t n, const char **items)
{
    size_t count = 0;

    for (size_t i = 0; i < n; i++) {
        const pl_set_point *at = pl_planned_point(sh->s, sh->p, list[i]);
        bool said = false;

        for (size_t j = 0; j < i; j++)
            said = said || list[j]->rig == list[i]->rig;
        if (said || !at || !at->rated || !at->rated[0])
            continue;
        items[count++] = pl_sheet_printf(sh, "%s: never above %s, its rated limit.", at->rig,
                                         at->rated);
    }
    return count;
}

/* Common practice, no source, unless said otherwise. */
static void put_cautions(pl_sheet *sh, const pl_glue_up *const *list, size_t n)
{
    const char **items = PL_NEWN(sh->a, n + 8, const char *);
    size_t count = items ? put_rated(sh, list, n, items) : 0;

    if (!items) {
        sh->failed = true;
        return;
    }
    if (has_kind(sh, list, n, "piston-press")) {
        items[count++] = "Pressure ratings: the weakest of cylinder, hose, fittings and regulator "
                         "sets the limit. A relief valve below it.";
        items[count++] = "Stored energy: compressed air is a spring and lets go at once. Vent and "
                         "shut off before hands go between the platens; a cylinder may move when "
                         "it is connected again.";
    }
    if (has_kind(sh, list, n, "dead-weight"))
        items[count++] = "Weights fall: low over the bench, no feet below, two people for what is "
                         "too heavy for one.";
    items[count++] =
        "Pinch points: no fingers between platens; align with a stick. Guards stay on.";
    items[count++] = "Eye protection. Gloves and air as the adhesive's data sheet says.";
    pl_page_box(sh->page, PL_TONE_CAUTION,
                "The rules of your shop and country and the makers' instructions come first; this "
                "is no risk assessment.");
    pl_page_list(sh->page, items, count);
}

/* ------------------------------------------------------------------- the table ---- */

static const char *clock_of(pl_sheet *sh, double seconds)
{
    long minutes;

    if (isnan(seconds))
        return "";
    minutes = lround(seconds / 60);
    return pl_sheet_printf(sh, "%ld:%02ld", minutes / 60, minutes % 60);
}

static const char *pieces_of(pl_sheet *sh, const pl_glue_up *g)
{
    size_t at = (size_t)(g - sh->p->glue_ups), per = sh->s->joint.specimens_per_glue_up, seen = 0;
    pl_text t;

    pl_text_init(&t, sh->a);
    for (size_t i = 0; i < sh->p->nspecimen; i++) {
        const pl_specimen *sp = &sh->p->specimens[i];

        if (sp->glue_up != at)
            continue;
        if (seen++ % per) { /* cut later from the same pieces */
            pl_text_add(&t, " (%s)", sp->id);
            continue;
        }
        for (unsigned k = 0; k < sh->s->joint.adherends; k++)
            pl_text_add(&t, "%s%s", k ? " + " : seen > 1 ? ", " : "", sp->adherends[k]);
    }
    return pl_sheet_done(sh, &t);
}

/* Factors that somebody sets at the bench, other than the pressure. */
static bool by_hand(const pl_study *s, size_t f)
{
    return (int)f != pl_study_pressed(s) && !s->factors[f].comes_with_board;
}

/* ------------------------------------------------------ one box a glue-up ---- */

static const char box_style[] =
    "<style>.glue{border:2px solid var(--ink);margin:0 0 1rem;padding:.5rem .9rem .7rem;"
    "break-inside:avoid}.glue h3{font-size:1.7rem;margin:0;line-height:1.2}"
    ".glue .what{display:flex;flex-wrap:wrap;gap:.1rem 1.4rem;align-items:baseline;"
    "border-bottom:1px solid var(--line);padding-bottom:.3rem}.glue p{margin:.3rem 0 "
    "0;max-width:none}"
    ".glue .set{font-size:1.5rem;font-weight:650;line-height:1.3}"
    ".glue ol{list-style:none;margin:.5rem 0 0;padding:0;max-width:none;display:grid;"
    "grid-template-columns:repeat(auto-fill,minmax(8.2rem,1fr));gap:.35rem}"
    ".glue li{border:1px solid var(--line);margin:0;padding:.15rem .4rem;min-height:3.6rem;"
    "font-size:.9rem}.glue li.long{grid-column:span 2;min-width:0}.glue "
    "small{display:block;color:var(--soft);"
    "font-size:.85em}@media print{.glue ol{"
    "grid-template-columns:repeat(6,1fr)}.glue li{min-height:14mm;font-size:.8rem;padding:.1rem "
    ".3rem}"
    ".glue li.long{grid-column:span 4}.glue h3,.glue .set{font-size:1.3rem}.glue{padding:.3rem "
    ".7rem .5rem}}</style>\n";

/* "<open>text<close>", the text made safe. */
static void put(pl_sheet *sh, const char *open, const char *text, const char *close)
{
    pl_text t;

    pl_text_init(&t, sh->a);
    pl_text_put(&t, open);
    pl_html_put(&t, text);
    pl_text_put(&t, close);
    pl_page_raw(sh->page, pl_sheet_done(sh, &t));
}

static void put_blank(pl_sheet *sh, const char *name, const char *small)
{
    put(sh, "<li>", name, "");
    if (small)
        put(sh, "<small>", small, "</small>");
    pl_page_raw(sh->page, "</li>\n");
}

/* What is set: masses to stack, or the dial with its band. */
static void put_setting(pl_sheet *sh, const pl_set_point *at)
{
    pl_text t;

    pl_text_init(&t, sh->a);
    if (at->nparts) {
        pl_text_add(&t, "%s: stack ", at->rig);
        for (size_t i = 0; i < at->nparts; i++)
            pl_text_add(&t, "%s%s", i ? " + " : "", pl_sheet_tied(sh, at->parts[i]));
        put(sh, "<p class=\"set\">", pl_sheet_done(sh, &t), "</p>\n");
        put(sh, "<p>", "Lower them gently: what drops presses harder than it weighs.", "</p>\n");
        return;
    }
    pl_text_add(&t, "%s: %s", at->rig,
                pl_sheet_tied(sh, pl_sheet_printf(sh, "%s %s", pl_sheet_number(sh, at->dial, 4),
                                                  at->dial_unit)));
    put(sh, "<p class=\"set\">", pl_sheet_done(sh, &t), "</p>\n");
    put(sh, "<p>",
        pl_sheet_printf(
            sh,
            "Back to zero, then come up to the mark from below. Good: %s; outside: write "
            "what it was and carry on.",
            pl_sheet_tied(sh,
                          pl_sheet_printf(sh, "%s to %s %s", pl_sheet_number(sh, at->accept_low, 3),
                                          pl_sheet_number(sh, at->accept_high, 3), at->dial_unit))),
        "</p>\n");
}

/* Which, when, where, of what, and how beside the pressure. */
static void put_what(pl_sheet *sh, const pl_glue_up *u)
{
    const int *levels = sh->p->treatments + u->treatment * sh->p->nfactor;
    int pressed = pl_study_pressed(sh->s);
    const pl_slot *slot = sh->calendar ? &sh->calendar->slots[u - sh->p->glue_ups] : NULL;
    const char *begin = slot ? pl_sheet_clock(sh, slot->begin, false) : clock_of(sh, u->start_s);

    put(sh, "<div class=\"what\"><h3>", u->label, "</h3>");
    if (begin[0])
        put(sh, "<span>begin <b>", begin, "</b></span>");
    if (u->press >= 0)
        put(sh, "<span>",
            pl_sheet_printf(sh, "%s, station %u", sh->s->presses[u->press].name, u->station),
            "</span>");
    else if (u->station)
        put(sh, "<span>", pl_sheet_printf(sh, "station %u", u->station), "</span>");
    put(sh, "<span>", pieces_of(sh, u), "</span>");
    for (size_t f = 0; f < sh->s->nfactor; f++)
        if (by_hand(sh->s, f))
            put(sh, "<span>",
                pl_sheet_printf(sh, "%s: %s", sh->s->factors[f].name,
                                sh->s->factors[f].levels[levels[f]].text),
                "</span>");
    if (pressed >= 0)
        put(sh, "<span>",
            pl_sheet_tied(sh,
                          pl_sheet_printf(sh, "%s on the bond",
                                          sh->s->factors[pressed].levels[levels[pressed]].text)),
            "</span>");
    pl_page_raw(sh->page, "</div>\n");
    if (slot && slot->mix && !isnan(sh->s->adhesive.pot_life_s))
        put(sh, "<p>",
            pl_sheet_printf(sh, "Mix the adhesive before this one; it lasts %s.",
                            pl_sheet_time(sh, sh->s->adhesive.pot_life_s)),
            "</p>\n");
}

static void put_blanks_of(pl_sheet *sh, const pl_set_point *at)
{
    const pl_adhesive *ad = &sh->s->adhesive;
    double clamp_s = sh->s->times.clamp_s;

    pl_page_raw(sh->page, "<ol>\n");
    put_blank(sh, "spread at", NULL);
    put_blank(sh, "closed at",
              isnan(ad->open_time_limit_s)
                  ? NULL
                  : pl_sheet_printf(sh, "no later than %s after spreading",
                                    pl_sheet_time(sh, ad->open_time_limit_s)));
    put_blank(sh, "pressed at", NULL);
    put_blank(sh, "clamp until",
              isnan(clamp_s)
                  ? NULL
                  : pl_sheet_printf(sh, "%s after pressing", pl_sheet_time(sh, clamp_s)));
    put_blank(sh, "opened at", NULL);
    if (!at || !at->nparts) {
        const char *unit = at && at->dial_unit && at->dial_unit[0] ? at->dial_unit : NULL;

        put_blank(sh, "dial at start", unit);
        put_blank(sh, "dial at end", unit);
    }
    put_blank(sh, "glue weight", "g");
    put_blank(sh, "squeeze-out", "none, beads, runs");
    pl_page_raw(sh->page, "<li class=\"long\">note<small>and how, if made otherwise</small></li>\n"
                          "</ol>\n");
}

static void put_boxes(pl_sheet *sh, const pl_glue_up *const *list, size_t n)
{
    pl_page_text(sh->page, "In this order, whatever would be handier: it was drawn by lot.");
    pl_page_raw(sh->page, box_style);
    for (size_t i = 0; i < n; i++) {
        const pl_set_point *at = pl_planned_point(sh->s, sh->p, list[i]);

        pl_page_raw(sh->page, "<article class=\"glue\">\n");
        put_what(sh, list[i]);
        if (at)
            put_setting(sh, at);
        put_blanks_of(sh, at);
        pl_page_raw(sh->page, "</article>\n");
    }
}

/* What goes into sessions.csv. */
static void put_blanks(pl_sheet *sh)
{
    static const char *const names[] = { "date",     "operator",       "room temperature",
                                         "humidity", "adhesive batch", "note" };
    static const char *const units[] = { NULL, NULL, "degC", "%", NULL, NULL };
    pl_grid *g = pl_grid_new(sh->a);

    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        pl_grid_column(g, PL_SIDE_LEFT, names[i], units[i]);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        pl_grid_blank(g);
    pl_sheet_room(sh, g);
}

static void put_rigs(pl_sheet *sh, const pl_glue_up *const *list, size_t n)
{
    pl_grid *g = pl_grid_new(sh->a);

    pl_grid_column(g, PL_SIDE_LEFT, "rig", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "dial without load", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "supply", NULL);
    for (size_t i = 0; i < n; i++) {
        const pl_set_point *at = pl_planned_point(sh->s, sh->p, list[i]);
        bool said = false;

        for (size_t j = 0; j < i; j++)
            said = said || list[j]->rig == list[i]->rig;
        if (said || !at || !at->dial_unit || !at->dial_unit[0])
            continue;
        pl_grid_cell(g, pl_sheet_printf(sh, "%s, in %s", at->rig, at->dial_unit));
        pl_grid_blank(g);
        pl_grid_blank(g);
    }
    if (g && !pl_grid_rows(g)) /* without memory the page remembers it */
        return;
    pl_page_text(sh->page, "Read dials without load before the first glue-up. They show pressure "
                           "above that of the air around.");
    pl_sheet_room(sh, g);
}

static void put_times(pl_sheet *sh)
{
    const pl_adhesive *ad = &sh->s->adhesive;

    if (!isnan(ad->spread_kg_m2))
        pl_page_fact(
            sh->page, "spread",
            pl_sheet_printf(sh, "%s g/m2 on %s: %s g a glue-up",
                            pl_sheet_number(sh, ad->spread_kg_m2 * 1000, 3),
                            ad->spread_on_both ? "each of both faces" : "one face",
                            pl_sheet_number(sh,
                                            ad->spread_kg_m2 * 1000 * (ad->spread_on_both ? 2 : 1) *
                                                sh->s->joint.press_area_m2,
                                            2)));
    if (!isnan(ad->open_time_s))
        pl_page_fact(sh->page, "close",
                     pl_sheet_printf(sh, "%s after spreading", pl_sheet_time(sh, ad->open_time_s)));
    if (!isnan(ad->open_time_limit_s))
        pl_page_fact(sh->page, "never later than",
                     pl_sheet_printf(sh, "%s after spreading: later, say so in the note",
                                     pl_sheet_time(sh, ad->open_time_limit_s)));
    if (!isnan(sh->s->times.clamp_s))
        pl_page_fact(
            sh->page, "open",
            pl_sheet_printf(sh, "%s after pressing", pl_sheet_time(sh, sh->s->times.clamp_s)));
}

void pl_sheet_glue_up(pl_sheet *sh, unsigned session)
{
    size_t n = 0;
    const pl_glue_up **list = in_session(sh, session, &n);

    pl_sheet_begin(
        sh, pl_sheet_printf(sh, "Glue-up sheet, session %u of %u", session, sh->p->nsession));
    if (!list) {
        sh->failed = true;
        return;
    }
    pl_page_box(sh->page, PL_TONE_ADVICE,
                "This sheet tells the pressures. Whoever judges wood failure does not get to see "
                "it.");
    pl_page_section(sh->page, "Cautions");
    put_cautions(sh, list, n);
    pl_page_section(sh->page, "The session");
    put_blanks(sh);
    put_rigs(sh, list, n);
    put_times(sh);
    pl_page_section(sh->page, "Glue-ups");
    put_boxes(sh, list, n);
    pl_page_text(sh->page, "What was really done counts, not what was planned: write it down as it "
                           "was. One dropped or spoilt is one less; write that down too.");
}
