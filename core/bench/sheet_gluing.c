/* The glue-up sheet of one session: what is set on which rig, in which order,
 * with the cautions that go with it. It tells the treatments; whoever judges
 * wood failure does not get it. */
#include "bench/reader.h"
#include "bench/sheet_pages.h"

#include <math.h>
#include <string.h>

static const char no_dial[] = "\xe2\x80\x93"; /* a dash where weights have no dial */

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

/* Number and unit stay on one line: blanks that do not break. */
static const char *tied(pl_sheet *sh, const char *text)
{
    pl_text t;

    pl_text_init(&t, sh->a);
    for (; *text; text++)
        if (*text == ' ')
            pl_text_put(&t, "\xc2\xa0");
        else
            pl_text_bytes(&t, text, 1);
    return pl_sheet_done(sh, &t);
}

static void put_setting(pl_sheet *sh, pl_grid *g, const pl_set_point *at)
{
    if (!at) {
        pl_grid_cell(g, "");
        pl_grid_cell(g, "");
    } else if (at->nparts) {
        pl_text t;

        pl_text_init(&t, sh->a);
        for (size_t i = 0; i < at->nparts; i++)
            pl_text_add(&t, "%s%s", i ? " + " : "", tied(sh, at->parts[i]));
        pl_grid_cell(g, pl_sheet_done(sh, &t));
        pl_grid_cell(g, no_dial);
    } else {
        pl_grid_cell(g, tied(sh, pl_sheet_printf(sh, "%s %s", pl_sheet_number(sh, at->dial, 4),
                                                 at->dial_unit)));
        pl_grid_cell(
            g, tied(sh, pl_sheet_printf(sh, "%s to %s", pl_sheet_number(sh, at->accept_low, 4),
                                        pl_sheet_number(sh, at->accept_high, 4))));
    }
}

/* Factors that somebody sets at the bench, other than the pressure. */
static bool by_hand(const pl_study *s, size_t f)
{
    return (int)f != pl_study_pressed(s) && !s->factors[f].comes_with_board;
}

static void put_row(pl_sheet *sh, pl_grid *g, const pl_glue_up *u)
{
    const pl_set_point *at = pl_planned_point(sh->s, sh->p, u);
    int pressed = pl_study_pressed(sh->s);

    pl_grid_cell(g, u->label);
    pl_grid_cell(g, clock_of(sh, u->start_s));
    if (u->press >= 0)
        pl_grid_cellf(g, "%s, %u", sh->s->presses[u->press].name, u->station);
    else
        pl_grid_cellf(g, "%u", u->station);
    pl_grid_cell(g, pieces_of(sh, u));
    for (size_t f = 0; f < sh->s->nfactor; f++)
        if (by_hand(sh->s, f))
            pl_grid_cell(g, sh->s->factors[f]
                                .levels[sh->p->treatments[u->treatment * sh->p->nfactor + f]]
                                .text);
    if (pressed >= 0) {
        const int *levels = sh->p->treatments + u->treatment * sh->p->nfactor;

        pl_grid_cell(g, tied(sh, sh->s->factors[pressed].levels[levels[pressed]].text));
        pl_grid_cell(g, u->rig < 0 ? "" : sh->s->rigs[u->rig].name);
        put_setting(sh, g, at);
    }
    for (int i = 0; i < 4; i++)
        pl_grid_blank(g);
    for (int i = 0; i < 2; i++)
        if (at && at->nparts)
            pl_grid_cell(g, no_dial);
        else
            pl_grid_blank(g);
    pl_grid_blank(g);
}

static void put_table(pl_sheet *sh, const pl_glue_up *const *list, size_t n)
{
    static const char *const blanks[] = { "spread at",     "closed at",   "pressed at", "opened at",
                                          "dial at start", "dial at end", "note" };
    pl_grid *g = pl_grid_new(sh->a);

    pl_grid_column(g, PL_SIDE_LEFT, "glue-up", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "begin", "h:min");
    pl_grid_column(g, PL_SIDE_LEFT, "station", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "pieces", NULL);
    for (size_t f = 0; f < sh->s->nfactor; f++)
        if (by_hand(sh->s, f))
            pl_grid_column(g, PL_SIDE_LEFT, sh->s->factors[f].name, NULL);
    if (pl_study_pressed(sh->s) >= 0) {
        pl_grid_column(g, PL_SIDE_LEFT, sh->s->factors[pl_study_pressed(sh->s)].name,
                       "on the bond");
        pl_grid_column(g, PL_SIDE_LEFT, "rig", NULL);
        pl_grid_column(g, PL_SIDE_LEFT, "set", NULL);
        pl_grid_column(g, PL_SIDE_LEFT, "good between", NULL);
    }
    for (size_t i = 0; i < sizeof blanks / sizeof *blanks; i++)
        pl_grid_column(g, PL_SIDE_LEFT, blanks[i], NULL);
    for (size_t i = 0; i < n; i++)
        put_row(sh, g, list[i]);
    pl_page_text(sh->page, "In this order, whatever would be handier: it was drawn by lot.");
    pl_sheet_rows(sh, g);
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
    pl_sheet_wide(sh);
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
    put_table(sh, list, n);
    pl_page_text(sh->page,
                 "Set a dial that is not within its limits again before pressing. What was "
                 "really done counts, not what was planned: write it down as it was. One "
                 "dropped or spoilt is one less; write that down too.");
}
