/* What is bought, sawn and labelled: shopping and cutting list, cut map, labels.
 * None of them tells a treatment. */
#include "bench/reader.h"
#include "bench/sheet_pages.h"
#include "study/cutting.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* --------------------------------------------------------------- assemblies ---- */

/* What is cut for one assembly: the specimens it becomes, and its pieces. One
 * closing may hold several assemblies; several specimens may be cut from one. */
typedef struct assembly {
    const pl_specimen *specimens; /* count of them, neighbours in the plan */
    size_t count;
    int board;      /* place in plan->boards; -1 if none */
    unsigned place; /* the least of its specimens: its turn along the board */
} assembly;

static int by_place(const void *left, const void *right)
{
    const assembly *x = left, *y = right;

    if (x->board != y->board)
        return (x->board > y->board) - (x->board < y->board);
    return (x->place > y->place) - (x->place < y->place);
}

/* By board and turn. */
static assembly *assemblies(pl_sheet *sh, size_t *count)
{
    assembly *list = PL_NEWN(sh->a, sh->p->nspecimen, assembly);
    size_t n = 0, most = sh->s->joint.specimens_per_glue_up;

    for (size_t i = 0; list && i < sh->p->nspecimen; i++) {
        const pl_specimen *sp = &sh->p->specimens[i];
        assembly *last = n ? &list[n - 1] : NULL;

        if (!last || last->specimens->glue_up != sp->glue_up || last->count == most)
            list[n++] = (assembly){ .specimens = sp,
                                    .count = 1,
                                    .board = sh->p->glue_ups[sp->glue_up].board,
                                    .place = sp->place };
        else if (last->count++, sp->place < last->place)
            last->place = sp->place;
    }
    if (list && n)
        qsort(list, n, sizeof *list, by_place);
    sh->failed = sh->failed || !list;
    *count = n;
    return list;
}

typedef struct lane {         /* how pieces lie in a board */
    double length_m, width_m; /* of the board */
    double piece_m, across_m, kerf_m, end_m;
    size_t along, across;
    double *start_m; /* along: the near end of each column of pieces */
} lane;

/* False when sizes are missing or the pieces do not fit. */
static bool lay_out(pl_sheet *sh, const pl_plan_board *board, size_t pieces, lane *l)
{
    const pl_study *s = sh->s;
    const pl_stock *stock;

    if (board->stock < 0 || (size_t)board->stock >= s->nboard_kinds)
        return false;
    stock = &s->boards[board->stock];
    *l = (lane){ .length_m = stock->length_m,
                 .width_m = stock->width_m,
                 .piece_m = s->joint.adherend.length_m,
                 .across_m = s->joint.adherend.width_m,
                 .kerf_m = s->cutting.kerf_m,
                 .end_m = s->cutting.discard_ends_m };
    if (isnan(l->length_m) || isnan(l->width_m) || isnan(l->piece_m) || isnan(l->across_m))
        return false;
    l->across = pl_cutting_rows(s, stock);
    l->along = pl_cutting_columns(s, stock, NULL, 0);
    l->start_m = PL_NEWN(sh->a, l->along, double);
    sh->failed = sh->failed || !l->start_m;
    (void)pl_cutting_columns(s, stock, l->start_m, l->start_m ? l->along : 0);
    return l->start_m && l->along * l->across >= pieces;
}

/* Metres of this stock that are sawn into, each board up to its last piece and the
 * far end that is cut off; NAN where sizes are missing. */
static double needed_m(pl_sheet *sh, const assembly *list, size_t n, size_t stock)
{
    double sum_m = 0;

    for (size_t b = 0; b < sh->p->nboard; b++) {
        size_t here = 0, columns;
        lane l;

        if (sh->p->boards[b].stock != (int)stock)
            continue;
        for (size_t i = 0; i < n; i++)
            here += list[i].board == (int)b;
        here *= sh->s->joint.adherends;
        if (!lay_out(sh, &sh->p->boards[b], here, &l) || !l.across)
            return NAN;
        columns = (here + l.across - 1) / l.across;
        if (here)
            sum_m += l.start_m[columns - 1] + l.piece_m + l.kerf_m + l.end_m;
    }
    return sum_m;
}

/* -------------------------------------------------------------- cutting list ---- */

static const char *size_of(pl_sheet *sh, double length_m, double width_m, double thickness_m)
{
    if (isnan(length_m) || isnan(width_m) || isnan(thickness_m))
        return "";
    return pl_sheet_printf(sh, "%s x %s x %s", pl_sheet_length(sh, length_m),
                           pl_sheet_length(sh, width_m), pl_sheet_length(sh, thickness_m));
}

static size_t boards_of_stock(const pl_plan *p, size_t stock, pl_text *labels)
{
    size_t n = 0;

    for (size_t i = 0; i < p->nboard; i++)
        if (p->boards[i].stock == (int)stock) {
            pl_text_put(labels, n++ ? ", " : "");
            pl_text_put(labels, p->boards[i].label);
        }
    return n;
}

static size_t assemblies_of(const assembly *list, size_t n, int board)
{
    size_t count = 0;

    for (size_t i = 0; i < n; i++)
        count += list[i].board == board;
    return count;
}

static void put_boards(pl_sheet *sh, const assembly *list, size_t nlist)
{
    pl_grid *g = pl_grid_new(sh->a);

    pl_page_section(sh->page, "Boards");
    if (!sh->p->nboard) {
        pl_page_text(sh->page, "The study lists no boards. Take each joint's pieces from where the "
                               "plan does not mind, and write down from which board they came.");
        return;
    }
    pl_grid_column(g, PL_SIDE_LEFT, "wood", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "boards", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "length x width x thickness", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "in all", "m");
    pl_grid_column(g, PL_SIDE_RIGHT, "of it needed", "m");
    pl_grid_column(g, PL_SIDE_LEFT, "mark them", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "there", NULL);
    for (size_t k = 0; k < sh->s->nboard_kinds; k++) {
        const pl_stock *stock = &sh->s->boards[k];
        pl_text labels;
        size_t n;

        pl_text_init(&labels, sh->a);
        n = boards_of_stock(sh->p, k, &labels);
        if (!n)
            continue;
        pl_grid_cell(g, stock->species);
        pl_grid_cellf(g, "%zu", n);
        pl_grid_cell(g, size_of(sh, stock->length_m, stock->width_m, stock->thickness_m));
        pl_grid_number(g, (double)n * stock->length_m, 3);
        pl_grid_number(g, needed_m(sh, list, nlist, k), 3);
        pl_grid_cell(g, pl_sheet_done(sh, &labels));
        pl_grid_blank(g);
    }
    pl_page_grid(sh->page, g, NULL);
    pl_page_text(sh->page,
                 "Needed: spares, saw cuts and both ends counted. Mark every board with its label "
                 "before the first cut. Weigh and measure "
                 "them into boards.csv. Boards of one wood should come from different "
                 "trunks where that can be had: what is found then holds for the wood and "
                 "not for one board.");
}

static void put_pieces(pl_sheet *sh, const assembly *list, size_t n)
{
    const pl_joint *j = &sh->s->joint;
    const char *size = size_of(sh, j->adherend.length_m, j->adherend.width_m,
                               j->adherend.thickness_m);
    double kerf_m = sh->s->cutting.kerf_m;
    pl_grid *g = pl_grid_new(sh->a);

    pl_page_section(sh->page, "Pieces");
    pl_page_text(sh->page, pl_sheet_printf(sh, "%zu pieces%s%s, %u to a joint.", n * j->adherends,
                                           size[0] ? " of " : "", size, j->adherends));
    if (kerf_m > 0)
        pl_page_text(sh->page, pl_sheet_printf(sh, "Saw cut %s.", pl_sheet_length(sh, kerf_m)));
    pl_grid_column(g, PL_SIDE_LEFT, "board", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "wood", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "joints", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "pieces", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "cut", NULL);
    for (size_t b = 0; list && b < sh->p->nboard; b++) {
        size_t here = assemblies_of(list, n, (int)b);

        pl_grid_cell(g, sh->p->boards[b].label);
        pl_grid_cell(g, sh->p->boards[b].species);
        pl_grid_cellf(g, "%zu", here);
        pl_grid_cellf(g, "%zu", here * j->adherends);
        pl_grid_blank(g);
    }
    if (sh->p->nboard)
        pl_sheet_rows(sh, g);
    pl_page_text(sh->page, "The cut map shows which place of which board becomes which joint. "
                           "Label each piece as it leaves the saw: once mixed up, they cannot be "
                           "told apart.");
}

/* 0.000432 kg -> "0.43 g" */
static const char *grams(pl_sheet *sh, double kg)
{
    return pl_sheet_printf(sh, "%s g", pl_sheet_number(sh, kg * 1000, 2));
}

static void put_adhesive(pl_sheet *sh, size_t glue_ups)
{
    const pl_adhesive *ad = &sh->s->adhesive;
    double faces = ad->spread_on_both ? 2 : 1;
    double each = ad->spread_kg_m2 * faces * sh->s->joint.press_area_m2;

    if (!ad->kind[0] && isnan(ad->spread_kg_m2))
        return;
    pl_page_section(sh->page, "Adhesive");
    if (ad->kind[0])
        pl_page_fact(sh->page, "kind", ad->kind);
    if (!isnan(ad->spread_kg_m2)) {
        pl_page_fact(sh->page, "spread",
                     pl_sheet_printf(sh, "%s g/m2 on %s",
                                     pl_sheet_number(sh, ad->spread_kg_m2 * 1000, 3),
                                     ad->spread_on_both ? "each of both faces" : "one face"));
        pl_page_fact(sh->page, "for one glue-up", grams(sh, each));
        pl_page_fact(sh->page, pl_sheet_printf(sh, "for %zu glue-ups", glue_ups),
                     pl_sheet_printf(sh, "%s, and what stays on the brush",
                                     grams(sh, each * (double)glue_ups)));
    }
    if (!isnan(ad->open_time_s))
        pl_page_fact(sh->page, "open time", pl_sheet_time(sh, ad->open_time_s));
    if (!isnan(ad->open_time_limit_s))
        pl_page_fact(
            sh->page, "close no later than",
            pl_sheet_printf(sh, "%s after spreading", pl_sheet_time(sh, ad->open_time_limit_s)));
}

/* All masses and machines that some glue-up needs. */
static void put_rigs(pl_sheet *sh)
{
    pl_grid *g = pl_grid_new(sh->a);

    if (!sh->s->nrig)
        return;
    pl_page_section(sh->page, "Rigs");
    pl_grid_column(g, PL_SIDE_LEFT, "rig", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "for", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "rated limit", NULL);
    for (size_t r = 0; r < sh->s->nrig; r++) {
        size_t glue_ups = 0;
        const char *rated = "";

        for (size_t i = 0; i < sh->p->nglue_up; i++)
            glue_ups += !sh->p->glue_ups[i].spare && sh->p->glue_ups[i].rig == (int)r;
        for (size_t l = 0; sh->p->points.at && r < sh->p->points.nrig && l < sh->p->points.nlevel;
             l++)
            if (pl_set_points_at(&sh->p->points, l, r)->rated)
                rated = pl_set_points_at(&sh->p->points, l, r)->rated;
        pl_grid_cell(g, sh->s->rigs[r].name);
        if (glue_ups)
            pl_grid_cellf(g, "%zu glue-up%s%s", glue_ups, glue_ups == 1 ? "" : "s",
                          sh->s->breaking.rig == (int)r ? ", and breaking" : "");
        else
            pl_grid_cell(g, sh->s->breaking.rig == (int)r ? "breaking" : "not used");
        pl_grid_cell(g, rated);
    }
    pl_page_grid(sh->page, g, NULL);
}

/* "2 kg x 3" -> "2 kg" and 3; "2 kg" -> 1. */
static unsigned masses_of(pl_sheet *sh, const char *part, const char **mass)
{
    const char *times = strstr(part, " x ");
    long long n = 1;

    if (times && pl_text_to_whole(times + 3, 1, 1000, &n)) {
        *mass = pl_arena_strn(sh->a, part, (size_t)(times - part));
        sh->failed = sh->failed || !*mass;
    } else {
        *mass = part;
    }
    return (unsigned)n;
}

#define MASSES_MOST 40

/* The most of each mass that one stack takes, over all glue-ups of a rig. */
static void put_masses_of(pl_sheet *sh, size_t rig)
{
    const char *names[MASSES_MOST], *mass;
    unsigned most[MASSES_MOST];
    size_t n = 0;
    pl_text t;

    for (size_t i = 0; i < sh->p->nglue_up; i++) {
        const pl_glue_up *g = &sh->p->glue_ups[i];
        const pl_set_point *at = g->spare || g->rig != (int)rig ? NULL
                                                                : pl_planned_point(sh->s, sh->p, g);

        for (size_t k = 0; at && k < at->nparts; k++) {
            unsigned count = masses_of(sh, at->parts[k], &mass);
            size_t place = 0;

            while (place < n && mass && strcmp(names[place], mass))
                place++;
            if (place == n && n < MASSES_MOST && mass) {
                names[n] = mass;
                most[n++] = 0;
            }
            if (place < n && count > most[place])
                most[place] = count;
        }
    }
    if (!n)
        return;
    pl_text_init(&t, sh->a);
    for (size_t i = 0; i < n; i++)
        pl_text_add(&t, "%s%u of %s", i ? ", " : "", most[i], names[i]);
    pl_page_fact(sh->page, sh->s->rigs[rig].name,
                 pl_sheet_printf(sh, "%s, for each station that is loaded at the same time",
                                 pl_sheet_done(sh, &t)));
}

static void put_masses(pl_sheet *sh)
{
    for (size_t r = 0; r < sh->s->nrig; r++)
        put_masses_of(sh, r);
}

/* Common practice, no source. */
static void put_cauls(pl_sheet *sh)
{
    const pl_joint *j = &sh->s->joint;
    unsigned stations = 0;

    for (size_t i = 0; i < sh->s->npress; i++)
        stations += sh->s->presses[i].stations * sh->s->presses[i].specimens_at_once;
    stations = stations ? stations : 1;
    pl_page_section(sh->page, "Cauls");
    pl_page_text(sh->page, pl_sheet_printf(
                               sh,
                               "%u flat, stiff blocks%s%s%s%s, two to a joint that is clamped at "
                               "the same time, waxed or wrapped so that no glue holds on them: the "
                               "force reaches the whole bond only through a caul that covers it "
                               "and does not bend.",
                               2 * stations, j->size_names[0] ? " of at least " : "",
                               j->size_names[0] ? pl_sheet_length(sh, j->size[0].si) : "",
                               j->size_names[0] ? " x " : "",
                               j->size_names[0] ? pl_sheet_length(sh, j->size[1].si) : ""));
}

/* Common practice, no source. */
static void put_saw(pl_sheet *sh)
{
    pl_page_box(
        sh->page, PL_TONE_CAUTION,
        "At the saw: guard and riving knife on, push stick for short pieces, eyes and ears "
        "covered, nobody in line with the blade. The rules of your shop and country and the "
        "maker's instructions come first.");
}

/* Sessions in which something of this plan is glued: a part of a plan has not all of them. */
static unsigned sessions_of(const pl_plan *p)
{
    unsigned n = 0;

    for (unsigned s = 1; s <= p->nsession; s++)
        for (size_t i = 0; i < p->nglue_up; i++)
            if (!p->glue_ups[i].spare && p->glue_ups[i].session == s) {
                n++;
                break;
            }
    return n;
}

/* What is glued: its adhesive, rigs, masses and cauls; not the wood that it is cut from. */
static void put_gluing(pl_sheet *sh, size_t glue_ups)
{
    const pl_plan *wood = sh->p;

    sh->p = sh->made;
    put_adhesive(sh, glue_ups);
    put_rigs(sh);
    put_masses(sh);
    put_cauls(sh);
    sh->p = wood;
}

void pl_sheet_cutting_list(pl_sheet *sh)
{
    size_t glue_ups = 0, joints = 0, spare = 0, n = 0;
    unsigned sessions = sessions_of(sh->made);
    const assembly *list = assemblies(sh, &n);

    pl_sheet_begin(sh, "Shopping and cutting list");
    if (!list)
        return;
    for (size_t i = 0; i < sh->made->nglue_up; i++)
        glue_ups += !sh->made->glue_ups[i].spare;
    for (size_t i = 0; i < sh->made->nspecimen; i++)
        joints += !sh->made->specimens[i].spare;
    for (size_t i = 0; i < sh->p->nspecimen; i++)
        spare += sh->p->specimens[i].spare;
    pl_page_lead(sh->page,
                 sh->made == sh->p || sh->p->nspecimen - spare == joints
                     ? pl_sheet_printf(sh,
                                       "%zu joints in %zu glue-ups and %u session%s, and %zu "
                                       "spare.",
                                       joints, glue_ups, sessions, sessions == 1 ? "" : "s", spare)
                     : pl_sheet_printf(sh,
                                       "%zu joints in %zu glue-ups and %u session%s, %zu of "
                                       "them from spare joints that are cut already; and %zu "
                                       "new spare.",
                                       joints, glue_ups, sessions, sessions == 1 ? "" : "s",
                                       joints - (sh->p->nspecimen - spare), spare));
    if (sh->p->nspecimen) {
        put_saw(sh);
        put_boards(sh, list, n);
        put_pieces(sh, list, n);
    }
    put_gluing(sh, glue_ups);
}

/* ------------------------------------------------------------------- cut map ---- */

/* The drawing is in millimetres: its numbers are short and its text is sized by
 * the pieces. */
static void put_piece(pl_text *t, const lane *l, size_t at, const char *label, bool spare)
{
    size_t column = at / l->across, row = at % l->across;
    double x = 1000 * l->start_m[column];
    double y = 1000 * (double)row * (l->across_m + l->kerf_m);
    double w = 1000 * l->piece_m, h = 1000 * l->across_m;
    double size = fmin(w / 5.2, h / 2.2);

    pl_text_add(t,
                "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"var(--paper)\" "
                "stroke=\"currentColor\" stroke-width=\"1.2\"%s/>"
                "<text x=\"%.1f\" y=\"%.1f\" font-size=\"%.1f\" text-anchor=\"middle\" "
                "fill=\"currentColor\">",
                x, y, w, h, spare ? " stroke-dasharray=\"6 4\"" : "", x + w / 2,
                y + h / 2 + size * 0.36, size);
    pl_html_put(t, label ? label : "");
    pl_text_put(t, "</text>\n");
}

static void draw_board(pl_sheet *sh, const assembly *list, size_t n, const lane *l)
{
    double w = 1000 * l->length_m, h = 1000 * l->width_m;
    pl_text t;
    size_t at = 0;

    pl_text_init(&t, sh->a);
    pl_text_add(&t,
                "<div class=\"scroll\"><svg viewBox=\"-2 -2 %.1f %.1f\" role=\"img\" "
                "aria-label=\"places of the pieces in the board\" "
                "style=\"display:block;width:100%%;min-width:40rem\">\n"
                "<rect x=\"0\" y=\"0\" width=\"%.1f\" height=\"%.1f\" fill=\"var(--line)\" "
                "stroke=\"currentColor\" stroke-width=\"2\"/>\n",
                w + 4, h + 4, w, h);
    for (size_t i = 0; i < n; i++)
        for (unsigned k = 0; k < sh->s->joint.adherends; k++)
            put_piece(&t, l, at++, list[i].specimens->adherends[k], list[i].specimens->spare);
    pl_text_put(&t, "</svg></div>\n");
    pl_page_raw(sh->page, pl_sheet_done(sh, &t));
}

static void list_board(pl_sheet *sh, const assembly *list, size_t n)
{
    pl_grid *g = pl_grid_new(sh->a);

    pl_grid_column(g, PL_SIDE_RIGHT, "place", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "pieces", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "joint", NULL);
    for (size_t i = 0; i < n; i++) {
        pl_text pieces, ids;

        pl_text_init(&pieces, sh->a);
        pl_text_init(&ids, sh->a);
        for (unsigned k = 0; k < sh->s->joint.adherends; k++)
            pl_text_add(&pieces, "%s%s", k ? ", " : "", list[i].specimens->adherends[k]);
        for (size_t k = 0; k < list[i].count; k++)
            pl_text_add(&ids, "%s%s", k ? ", " : "", list[i].specimens[k].id);
        if (list[i].specimens->spare)
            pl_text_put(&ids, " (spare)");
        pl_grid_cellf(g, "%zu", i + 1);
        pl_grid_cell(g, pl_sheet_done(sh, &pieces));
        pl_grid_cell(g, pl_sheet_done(sh, &ids));
    }
    pl_page_grid(sh->page, g, NULL);
}

void pl_sheet_cut_map(pl_sheet *sh)
{
    size_t n = 0, at = 0;
    assembly *list = assemblies(sh, &n);

    pl_sheet_begin(sh, "Cut map");
    if (!list)
        return;
    pl_page_lead(sh->page,
                 "Which place of which board becomes which joint. Places are drawn by lot: "
                 "cut and label as shown, also where another order would be handier.");
    pl_page_text(sh->page,
                 "Begin at the marked end of the board, at the left. Grey is kerf, ends and "
                 "what is left over; broken lines are spare joints. A knot or a split in a "
                 "place: leave the place out, write it down, and take a spare joint of the "
                 "same board.");
    put_saw(sh);
    while (at < n && list[at].board < 0)
        at++;
    while (at < n) {
        const pl_plan_board *board = &sh->p->boards[list[at].board];
        size_t here = assemblies_of(list, n, list[at].board);
        bool drawn;
        lane l;

        pl_page_section(sh->page, pl_sheet_printf(sh, "Board %s%s%s", board->label,
                                                  board->species[0] ? ": " : "", board->species));
        drawn = lay_out(sh, board, here * sh->s->joint.adherends, &l);
        if (drawn)
            draw_board(sh, list + at, here, &l);
        else
            pl_page_text(sh->page, "The study does not give all sizes: no drawing.");
        if (!drawn || sh->s->joint.specimens_per_glue_up > 1) /* else the drawing says it all */
            list_board(sh, list + at, here);
        at += here;
    }
}

/* -------------------------------------------------------------------- labels ---- */

void pl_sheet_labels(pl_sheet *sh)
{
    size_t n = 0, count = 0;
    assembly *list = assemblies(sh, &n);
    pl_card *cards = list ? PL_NEWN(sh->a, n * sh->s->joint.adherends, pl_card) : NULL;

    pl_sheet_begin(sh, "Labels");
    if (!cards) {
        sh->failed = true;
        return;
    }
    for (size_t i = 0; i < n; i++)
        for (unsigned k = 0; k < sh->s->joint.adherends; k++) {
            const char *small = list[i].board < 0
                                    ? pl_sheet_printf(sh, "%s r%u", sh->s->name, sh->p->revision)
                                    : pl_sheet_printf(sh, "%s r%u\nboard %s", sh->s->name,
                                                      sh->p->revision,
                                                      sh->p->boards[list[i].board].label);

            cards[count] = (pl_card){ .large = list[i].specimens->adherends[k], .small = small };
            count++;
        }
    pl_page_lead(sh->page,
                 "One label for each piece, in the order of the cut map. They tell nothing "
                 "of how a joint is pressed, and nothing should be added that does.");
    if (!sh->labels)
        pl_page_cards(sh->page, cards, count);
    else if (!pl_page_label_paper(sh->page, cards, count, sh->labels))
        sh->unfit = true;
}
