/* The break sheet: ids in break order and room to write. It tells nothing of
 * the treatment, and its range of force is one for all. */
#include "bench/columns.h"
#include "bench/sheet_pages.h"

#include <math.h>
#include <string.h>

/* 13200 N -> "13.2 kN" */
static const char *force(pl_sheet *sh, double force_N)
{
    if (force_N < 1000)
        return pl_sheet_printf(sh, "%s N", pl_sheet_number(sh, force_N, 2));
    return pl_sheet_printf(sh, "%s kN", pl_sheet_number(sh, force_N / 1000, 2));
}

static const char *rated_of(const pl_plan *p, int rig)
{
    for (size_t l = 0;
         rig >= 0 && p->points.at && (size_t)rig < p->points.nrig && l < p->points.nlevel; l++) {
        const char *rated = pl_set_points_at(&p->points, l, (size_t)rig)->rated;

        if (rated && rated[0])
            return rated;
    }
    return NULL;
}

static void put_cautions(pl_sheet *sh)
{
    const char *items[5];
    const char *rated = rated_of(sh->p, sh->s->breaking.rig);
    size_t n = 0;

    if (rated)
        items[n++] = pl_sheet_printf(sh,
                                     "%s: never above %s, its rated limit. A joint that holds "
                                     "till there is written down as not-broken.",
                                     sh->s->rigs[sh->s->breaking.rig].name, rated);
    items[n++] = "Flying fragments: joints break without warning. Screen in front and behind, eye "
                 "protection, a tray for the half that comes free.";
    items[n++] = "Stored energy: hoses, springs and loaded frames let go at once. Stay out of the "
                 "line of pull.";
    items[n++] = "Pinch points: no fingers to steady a joint under load. Guards stay on.";
    pl_page_box(sh->page, PL_TONE_CAUTION,
                "The rules of your shop and country and the makers' instructions come first; this "
                "is no risk assessment.");
    pl_page_list(sh->page, items, n);
}

static void put_blanks(pl_sheet *sh)
{
    pl_grid *g = pl_grid_new(sh->a);

    pl_grid_column(g, PL_SIDE_LEFT, "date and hour of the first", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "operator", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "wood failure judged by", NULL);
    for (int i = 0; i < 3; i++)
        pl_grid_blank(g);
    pl_sheet_room(sh, g);
}

static void put_facts(pl_sheet *sh)
{
    double expected_N = sh->s->breaking.expected_strength_Pa * sh->s->joint.area_m2;

    if (sh->s->breaking.rig >= 0)
        pl_page_fact(sh->page, "rig", sh->s->rigs[sh->s->breaking.rig].name);
    if (!isnan(expected_N))
        pl_page_fact(sh->page, "expected force",
                     pl_sheet_printf(sh, "up to about %s; well below for some joints",
                                     force(sh, expected_N)));
    if (!isnan(sh->s->times.cure_at_least_s))
        pl_page_fact(sh->page, "not before",
                     pl_sheet_printf(sh, "%s after pressing",
                                     pl_sheet_time(sh, sh->s->times.cure_at_least_s)));
    if (sh->s->joint.size_names[0])
        pl_page_fact(sh->page, "measure",
                     pl_sheet_printf(sh, "%s and %s of each joint, before breaking",
                                     sh->s->joint.size_names[0], sh->s->joint.size_names[1]));
}

/* The sizes and the columns that are written at the rig; how many. */
static size_t put_columns(pl_sheet *sh, pl_grid *g)
{
    static const char *const shown[] = { "peak", "first_drop", "wood_failure", "mode", "note" };
    pl_form_column columns[PL_FORM_COLUMNS_MOST];
    size_t n = pl_form_columns(sh->s, PL_FORM_BREAKS, sh->peak_unit, NULL, columns), blanks = 0;

    for (size_t c = 0; c < n; c++) {
        bool wanted = columns[c].cell == PL_CELL_SIZE;
        char *words;

        for (size_t i = 0; i < sizeof shown / sizeof *shown; i++)
            wanted = wanted || !strcmp(columns[c].name, shown[i]);
        if (!wanted)
            continue;
        words = pl_arena_str(sh->a, columns[c].name);
        for (char *q = words; q && *q; q++)
            *q = *q == '_' ? ' ' : *q;
        sh->failed = sh->failed || !words;
        pl_grid_column(g, PL_SIDE_LEFT, words ? words : "",
                       columns[c].unit[0] ? columns[c].unit : NULL);
        blanks++;
    }
    return blanks;
}

static void put_table(pl_sheet *sh)
{
    size_t count = 0, *order = pl_break_order(sh->a, sh->p, &count), blanks;
    pl_grid *g = pl_grid_new(sh->a);

    sh->failed = sh->failed || !order;
    pl_grid_column(g, PL_SIDE_RIGHT, "order", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "joint", NULL);
    blanks = put_columns(sh, g);
    for (size_t i = 0; order && i < count; i++) {
        const pl_specimen *sp = &sh->p->specimens[order[i]];

        pl_grid_cellf(g, "%u", sp->break_order);
        pl_grid_cell(g, sp->id);
        for (size_t c = 0; c < blanks; c++)
            pl_grid_blank(g);
    }
    pl_page_text(sh->page, "In this order, whatever would be handier: it was drawn by lot.");
    pl_sheet_rows(sh, g);
}

static void put_words(pl_sheet *sh)
{
    pl_page_section(sh->page, "How it broke");
    pl_page_text(sh->page,
                 "Wood failure is the share of the broken area that is wood, to the nearest "
                 "5 %, in slanting light, the same half each time; glue without fibres is "
                 "no wood. Judge before anybody tells how the joint was pressed.");
    pl_page_fact(sh->page, "adhesive", "between glue and wood");
    pl_page_fact(sh->page, "cohesive", "within the glue");
    pl_page_fact(sh->page, "wood", "in the wood");
    pl_page_fact(sh->page, "mixed", "some of each: give the wood failure");
    pl_page_fact(sh->page, "fixture",
                 "the grip or fixture let go first; says nothing of the joint");
    pl_page_fact(sh->page, "handling", "came apart before the rig had it");
    pl_page_fact(sh->page, "not-broken", "held to the rig's limit; the peak is what it held");
}

void pl_sheet_break(pl_sheet *sh)
{
    pl_sheet_begin(sh, "Break sheet");
    pl_page_section(sh->page, "Cautions");
    put_cautions(sh);
    pl_page_section(sh->page, "The breaking");
    put_blanks(sh);
    put_facts(sh);
    put_table(sh);
    put_words(sh);
}
