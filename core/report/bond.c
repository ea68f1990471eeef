/* Joint, glue line and wood apart: sentences, tables, the picture, JSON. */
#include "report/bond.h"

#include <math.h>
#include <string.h>

#include "page/plot.h"
#include "report/json_parts.h"
#include "report/pictures.h"
#include "report/say.h"

#define CELLS_MOST 24   /* in sentences and in the picture */
#define MOVE_LEAST 0.01 /* of the figure: below that it is not said */
#define SENTENCES_MOST (CELLS_MOST + 12)

/* ---- cells ---- */

static bool is_cell(const pl_bond_fit *b, const pl_bounds_level *l)
{
    return !b->cells || !strcmp(b->cells, l->factor);
}

/* The same cell of another answer; NULL: it has none. */
static const pl_bounds_level *same_cell(const pl_bounds_fit *fit, const pl_bounds_level *l)
{
    for (size_t i = 0; fit && i < fit->nlevel; i++)
        if (!strcmp(fit->levels[i].factor, l->factor) && !strcmp(fit->levels[i].level, l->level))
            return &fit->levels[i];
    return NULL;
}

static size_t count_cells(const pl_bond_fit *b)
{
    size_t n = 0;

    for (size_t i = 0; b->bond.fit && i < b->bond.fit->nlevel; i++)
        n += is_cell(b, &b->bond.fit->levels[i]);
    return n;
}

/* "beech, 0.2 N/mm2"; "all joints". */
static const char *cell_name(pl_arena *a, const pl_bounds_level *l)
{
    return l->level[0] ? pl_say_first(a, l->level) : "All joints";
}

/* "6.1, between 5.2 and 7.0 N/mm2" */
static const char *range(pl_arena *a, const pl_fit_answer *f, const pl_bounded *h)
{
    const char *unit = f->bond->unit;

    if (isnan(h->at) && h->high_open && !h->low_open)
        return pl_arena_printf(a, "at least %s, and no upper limit",
                               pl_say(a, f, h->low, unit, 3, -1));
    if (isnan(h->at) && h->low_open && !h->high_open)
        return pl_arena_printf(a, "at most %s, and no lower limit",
                               pl_say(a, f, h->high, unit, 3, 1));
    if (isnan(h->at))
        return "nothing can be told";
    return pl_arena_printf(a, "%s, between %s and %s", pl_say(a, f, h->at, unit, 3, 0),
                           h->low_open ? "no lower limit" : pl_say_bare(a, h->low, 3, -1),
                           h->high_open ? "no upper limit" : pl_say_bare(a, h->high, 3, 1));
}

/* ---- sentences ---- */

typedef struct lines {
    pl_arena *a;
    const pl_fit_answer *f;
    const pl_bond_fit *b;
    const char **items;
    size_t n;
} lines;

static void add(lines *l, const char *words)
{
    if (words && words[0])
        l->items[l->n++] = words;
}

static const char *joints(pl_arena *a, size_t n, const char *one, const char *many)
{
    return pl_arena_printf(a, "%zu %s", n, n == 1 ? one : many);
}

static void say_counts(lines *l)
{
    const pl_bond_fit *b = l->b;
    const char *items[3];
    size_t n = 0;

    items[n++] = pl_arena_printf(l->a, "%zu broke in the wood (from %s %% wood on)", b->wood,
                                 pl_text_number(l->a, 100 * b->counts_as_wood, 3));
    items[n++] = pl_arena_printf(l->a, "%zu in the glue line", b->glue);
    if (b->unbroken)
        items[n++] = joints(l->a, b->unbroken, "did not break", "did not break");
    add(l, pl_arena_printf(l->a,
                           "of %s %s; a wood break says of the glue line only that it was "
                           "stronger%s",
                           joints(l->a, b->joints, "joint", "joints"),
                           pl_text_list(l->a, items, n, "and"),
                           b->unbroken ? ", a joint that did not break only what it held" : ""));
    if (b->handling || b->between)
        add(l, pl_arena_printf(l->a, "%s%s%s",
                               b->handling ? joints(l->a, b->handling,
                                                    "joint fell apart in handling "
                                                    "and counts as weaker than "
                                                    "anything that was read",
                                                    "joints fell apart in handling and count as "
                                                    "weaker than anything that was read")
                                           : "",
                               b->handling && b->between ? "; " : "",
                               b->between ? joints(l->a, b->between,
                                                   "peak was read between two marks, and is taken "
                                                   "to lie anywhere between",
                                                   "peaks were read between two marks, and are "
                                                   "taken to lie anywhere between")
                                          : ""));
}

static void say_model(lines *l)
{
    switch (l->b->bond.model) {
    case PL_BOND_SINGLE:
        add(l, "too few broke in the glue line to tell each combination apart: what one thing does "
               "is taken to be the same whatever the others are");
        break;
    case PL_BOND_UNBLOCKED:
        add(l, "too few broke in the glue line to take out what boards and sessions do: it counts "
               "as scatter here");
        break;
    case PL_BOND_TOGETHER:
        add(l, "too few broke in the glue line to tell levels apart: this is all joints in one");
        break;
    case PL_BOND_NOTHING:
        add(l,
            l->b->bond.own
                ? pl_arena_printf(l->a,
                                  "how strong the glue line is these joints cannot tell: only %zu "
                                  "showed it, and that is too few to see how they differ",
                                  l->b->bond.own)
                : "how strong the glue line is these joints cannot tell: not one broke in it; it "
                  "has no upper limit");
        break;
    default:
        break;
    }
    if (l->f->study && pl_study_specimens_per_glue_up(l->f->study) > 1)
        add(l, "joints of one glue-up count here as if each had been pressed by itself: where "
               "glue-ups differ, these ranges are too narrow");
}

static const char *move_name(const pl_bond_fit *b, const pl_bond_move *move)
{
    const char *level = b->bond.fit->levels[move->at].level;

    return level[0] ? level : "all joints";
}

/* Of n none: the share that 19 times in 20 lies below this. */
static double most_in_glue(size_t n)
{
    return 1 - pow(0.05, 1 / (double)n);
}

static void say_cells(lines *l)
{
    const pl_bounds_fit *fit = l->b->bond.fit;
    size_t whole = 0;

    if (count_cells(l->b) > CELLS_MOST) {
        add(l, "the glue line, combination by combination: the table under Details");
        return;
    }
    for (size_t i = 0; fit && i < fit->nlevel; i++) {
        const pl_bounds_level *c = &fit->levels[i];

        if (!is_cell(l->b, c))
            continue;
        whole += c->known == c->n;
        if (c->known && c->known < c->n)
            add(l,
                pl_arena_printf(l->a, "%s: %s (%zu of %zu broke in the glue line)",
                                cell_name(l->a, c), range(l->a, l->f, &c->holds), c->known, c->n));
        else if (!c->known && c->n == 1)
            add(l, pl_arena_printf(l->a, "%s: %s (its one joint did not break in the glue line)",
                                   cell_name(l->a, c), range(l->a, l->f, &c->holds)));
        else if (!c->known)
            add(l, pl_arena_printf(l->a,
                                   "%s: %s (not one of %zu broke in the glue line: of many such "
                                   "joints at most %s in 100 would)",
                                   cell_name(l->a, c), range(l->a, l->f, &c->holds), c->n,
                                   pl_text_number(l->a, ceil(100 * most_in_glue(c->n)), 3)));
    }
    if (whole)
        add(l, "where every joint broke in the glue line, joint and glue line are one: the table");
}

/* Far enough to be spoken of. */
static bool moves(const pl_bond_fit *b, const pl_bond_move *move)
{
    return b->bond.fit && move->by > MOVE_LEAST * fabs(b->bond.fit->levels[move->at].holds.at);
}

static void say_lines(lines *l)
{
    const pl_bond_fit *b = l->b;
    const char *at = pl_text_number(l->a, 100 * b->counts_as_wood, 3), *low, *high;
    size_t missing = 0;

    if (!b->nline) {
        add(l, "no share of wood was written down, so the line between wood and glue cannot be "
               "drawn elsewhere");
        return;
    }
    low = pl_text_number(l->a, 100 * b->lines[0].counts_as_wood, 3);
    high = pl_text_number(l->a, 100 * b->lines[b->nline - 1].counts_as_wood, 3);
    for (size_t i = 0; i < b->nline; i++)
        missing += b->lines[i].fit ? 0 : 1;
    if (moves(b, &b->by_line))
        add(l,
            pl_arena_printf(l->a,
                            "with the line between wood and glue drawn anywhere from %s to %s %% "
                            "wood instead of at %s %%, the figure that moves most is that of "
                            "%s, by %s",
                            low, high, at, move_name(b, &b->by_line),
                            pl_say(l->a, l->f, b->by_line.by, b->unit, 2, 0)));
    else if (b->bond.fit)
        add(l,
            pl_arena_printf(l->a,
                            "with the line between wood and glue drawn anywhere from %s to %s %% "
                            "wood instead of at %s %%, no figure moves by as much as 1 %%",
                            low, high, at));
    if (missing)
        add(l,
            pl_arena_printf(l->a,
                            "with %zu of %zu such lines too few breaks are left to the glue line "
                            "for a figure",
                            missing, b->nline));
}

static void say_handling(lines *l)
{
    const pl_bond_fit *b = l->b;

    if (moves(b, &b->by_handling))
        add(l, pl_arena_printf(l->a,
                               "without what fell apart in handling the figure that moves most is "
                               "that of %s, by %s",
                               move_name(b, &b->by_handling),
                               pl_say(l->a, l->f, b->by_handling.by, b->unit, 2, 0)));
}

static void say_wood(lines *l)
{
    const pl_bounds_fit *fit = l->b->wood_itself.fit;
    pl_text t;

    if (!l->b->wood)
        return;
    if (!fit) {
        add(l, "how strong the wood itself is these joints cannot tell: too few broke in it");
        return;
    }
    pl_text_init(&t, l->a);
    pl_text_put(&t, "the wood itself, a break in the glue line being the least it held: ");
    for (size_t i = 0; i < fit->nlevel; i++) {
        const pl_bounds_level *c = &fit->levels[i];

        pl_text_add(&t, "%s%s%s%s", i ? "; " : "", c->level, c->level[0] ? " " : "",
                    range(l->a, l->f, &c->holds));
    }
    add(l, pl_text_done(&t));
}

/* List items end without a stop. */
static const char *sentence_line(pl_arena *a, const char *words)
{
    char *line = words ? pl_arena_str(a, words) : NULL;
    size_t n = line ? strlen(line) : 0;

    if (n && line[n - 1] == '.')
        line[n - 1] = '\0';
    return line;
}

const char *const *pl_bond_sentences(pl_arena *a, const pl_fit_answer *f, size_t *n)
{
    lines l = { .a = a, .f = f, .b = f->bond };

    *n = 0;
    l.items = PL_NEWN(a, SENTENCES_MOST + 2 * f->nbond_plateau, const char *);
    if (!l.items || !f->bond)
        return l.items;
    say_counts(&l);
    for (size_t i = 0; i < f->nbond_plateau; i++) {
        add(&l, sentence_line(a, pl_plateau_sentence(a, f, &f->bond_plateaus[i])));
        if (f->unhandled_plateaus && f->unhandled_plateaus[i].answer)
            add(&l, pl_arena_printf(
                        a, "without what fell apart in handling: %s",
                        sentence_line(a, pl_plateau_sentence(a, f, &f->unhandled_plateaus[i]))));
    }
    say_model(&l);
    say_cells(&l);
    say_lines(&l);
    say_handling(&l);
    say_wood(&l);
    add(&l, "this takes it that strong glue lines and strong wood come together no more often than "
            "chance makes them; breaks of this kind cannot tell whether that is so");
    *n = l.n;
    return l.items;
}

/* ---- tables ---- */

static void add_range_columns(pl_grid *g, const pl_fit_answer *f, const char *head)
{
    pl_grid_column(g, PL_SIDE_RIGHT, head, f->bond->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "low", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "high", NULL);
}

static void end_cell(pl_grid *g, double x, bool open)
{
    if (open)
        pl_grid_cell(g, "open");
    else
        pl_grid_number(g, x, 4);
}

static void range_cells(pl_grid *g, const pl_bounds_level *l)
{
    if (!l) {
        for (int k = 0; k < 3; k++)
            pl_grid_cell(g, "");
        return;
    }
    pl_grid_number(g, l->holds.at, 4);
    end_cell(g, l->holds.low, l->holds.low_open);
    end_cell(g, l->holds.high, l->holds.high_open);
}

pl_grid *pl_bond_cells(pl_arena *a, const pl_fit_answer *f)
{
    const pl_bond_fit *b = f->bond;
    const pl_bounds_fit *fit = b->bond.fit ? b->bond.fit : b->joint.fit;
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "level", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "joints", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "in the glue line", NULL);
    add_range_columns(g, f, "joint");
    add_range_columns(g, f, "glue line");
    for (size_t i = 0; fit && i < fit->nlevel; i++) {
        const pl_bounds_level *l = &fit->levels[i];

        if (!is_cell(b, l))
            continue;
        pl_grid_cell(g, cell_name(a, l));
        pl_grid_cellf(g, "%zu", l->n);
        pl_grid_cellf(g, "%zu", b->bond.fit ? l->known : 0);
        range_cells(g, same_cell(b->joint.fit, l));
        range_cells(g, same_cell(b->bond.fit, l));
    }
    return g;
}

/* "6.1 (5.2 to open)"; without ranges "6.1". */
static const char *short_range(pl_arena *a, const pl_bounds_level *l, bool ranges)
{
    if (!l)
        return "";
    if (isnan(l->holds.at) && !l->holds.low_open)
        return pl_arena_printf(a, "from %s", pl_say_bare(a, l->holds.low, 3, -1));
    if (isnan(l->holds.at))
        return "open";
    if (!ranges)
        return pl_say_bare(a, l->holds.at, 3, 0);
    return pl_arena_printf(a, "%s (%s to %s)", pl_say_bare(a, l->holds.at, 3, 0),
                           l->holds.low_open ? "open" : pl_say_bare(a, l->holds.low, 3, -1),
                           l->holds.high_open ? "open" : pl_say_bare(a, l->holds.high, 3, 1));
}

/* One answer a column. */
static pl_grid *beside(pl_arena *a, const pl_fit_answer *f, const pl_bond_answer *list, size_t n,
                       const char *const *heads, bool ranges)
{
    const pl_bounds_fit *fit = f->bond->bond.fit;
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "level", NULL);
    for (size_t k = 0; k < n; k++)
        /* ranges are long: to the left they may be broken, and five of them fit a sheet */
        pl_grid_column(g, ranges ? PL_SIDE_LEFT : PL_SIDE_RIGHT, heads[k], f->bond->unit);
    pl_grid_cell(g, "breaks that show it");
    for (size_t k = 0; k < n; k++)
        pl_grid_cellf(g, "%zu", list[k].own);
    for (size_t i = 0; fit && i < fit->nlevel; i++) {
        if (!is_cell(f->bond, &fit->levels[i]))
            continue;
        pl_grid_cell(g, cell_name(a, &fit->levels[i]));
        for (size_t k = 0; k < n; k++)
            pl_grid_cell(g, short_range(a, same_cell(list[k].fit, &fit->levels[i]), ranges));
    }
    return g;
}

pl_grid *pl_bond_by_line(pl_arena *a, const pl_fit_answer *f, bool ranges)
{
    const char *heads[PL_BOND_LINES];

    for (size_t k = 0; k < f->bond->nline; k++)
        heads[k] = pl_arena_printf(a, "%s %% wood",
                                   pl_text_number(a, 100 * f->bond->lines[k].counts_as_wood, 3));
    return beside(a, f, f->bond->lines, f->bond->nline, heads, ranges);
}

pl_grid *pl_bond_by_law(pl_arena *a, const pl_fit_answer *f, bool ranges)
{
    const char *heads[PL_NLAWS];
    pl_grid *g;

    for (size_t k = 0; k < PL_NLAWS; k++)
        heads[k] = pl_law_name(f->bond->laws[k].law);
    g = beside(a, f, f->bond->laws, PL_NLAWS, heads, ranges);
    pl_grid_cell(g, "log-likelihood");
    for (size_t k = 0; k < PL_NLAWS; k++) {
        const pl_bounds_fit *fit = f->bond->laws[k].fit;

        pl_grid_number(g, fit ? fit->log_likelihood : NAN, 7);
    }
    return g;
}

void pl_bond_details(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    for (size_t i = 0; i < f->nbond_plateau; i++) {
        const pl_plateau *p = &f->bond_plateaus[i];
        const char *who = pl_say_group(a, p);

        if (!p->ncurve)
            continue;
        pl_text_add(t, "%s: %s\n", who, pl_details_state(a, p));
        pl_details_add(t, a, pl_arena_printf(a, "%s: curves", who), pl_details_curves(a, p));
        pl_details_add(t, a, pl_arena_printf(a, "%s: numbers of the curves", who),
                       pl_details_params(a, p));
    }
    pl_details_add(t, a, "joint and glue line", pl_bond_cells(a, f));
    if (f->bond->nline && f->bond->bond.fit)
        pl_details_add(t, a, "glue line, by the share of wood from which a break counts as wood",
                       pl_bond_by_line(a, f, false));
    if (f->bond->bond.fit)
        pl_details_add(t, a, "glue line, by the law of the scatter", pl_bond_by_law(a, f, false));
}

/* ---- page ---- */

typedef struct rungs { /* one cell below the other */
    size_t n;
    double *y, *at, *low, *high;
    const char **words;
} rungs;

static bool make_rungs(pl_arena *a, rungs *r, size_t n)
{
    *r = (rungs){ 0,
                  PL_NEWN(a, n, double),
                  PL_NEWN(a, n, double),
                  PL_NEWN(a, n, double),
                  PL_NEWN(a, n, double),
                  PL_NEWN(a, n, const char *) };
    return r->y && r->at && r->low && r->high && r->words;
}

static void add_rung(pl_arena *a, const pl_fit_answer *f, rungs *r, const pl_bounds_level *l,
                     double y, const char *what)
{
    if (!l || (isnan(l->holds.at) && l->holds.low_open && l->holds.high_open))
        return;
    r->y[r->n] = y;
    r->at[r->n] = l->holds.at;
    r->low[r->n] = l->holds.low_open ? -INFINITY : l->holds.low;
    r->high[r->n] = l->holds.high_open ? INFINITY : l->holds.high;
    r->words[r->n++] = pl_arena_printf(a, "%s, %s: %s", cell_name(a, l), what,
                                       range(a, f, &l->holds));
}

static pl_code picture(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d)
{
    static const struct {
        const char *name;
        pl_hue hue;
        pl_shape shape;
        double shift;
    } looks[] = { { "glue line", PL_HUE_BLUE, PL_SHAPE_DISC, 0.15 },
                  { "joint", PL_HUE_ORANGE, PL_SHAPE_DIAMOND, -0.15 } };
    const pl_bond_fit *b = f->bond;
    const size_t cells = count_cells(b);
    pl_layer layers[4];
    pl_plot plot = { .title = "Strength of joint and glue line", .layers = layers };
    double *ticks = PL_NEWN(a, cells, double);
    const char **names = PL_NEWN(a, cells, const char *);

    if (!ticks || !names)
        return pl_nomem(d);
    for (int k = 0; k < 2; k++) {
        rungs r;
        size_t place = 0;

        if (!make_rungs(a, &r, cells))
            return pl_nomem(d);
        for (size_t i = 0; i < b->bond.fit->nlevel; i++) {
            const pl_bounds_level *l = &b->bond.fit->levels[i];
            double y = (double)(cells - place);

            if (!is_cell(b, l))
                continue;
            ticks[place] = y;
            names[place++] = cell_name(a, l);
            add_rung(a, f, &r, k ? same_cell(b->joint.fit, l) : l, y + looks[k].shift,
                     looks[k].name);
        }
        layers[plot.nlayers++] = (pl_layer){ .kind = PL_LAYER_ACROSS,
                                             .n = r.n,
                                             .y = r.y,
                                             .low = r.low,
                                             .high = r.high,
                                             .hue = looks[k].hue };
        layers[plot.nlayers++] = (pl_layer){ .kind = PL_LAYER_POINTS,
                                             .name = looks[k].name,
                                             .n = r.n,
                                             .x = r.at,
                                             .y = r.y,
                                             .words = r.words,
                                             .hue = looks[k].hue,
                                             .shape = looks[k].shape };
    }
    plot.x.label = pl_arena_printf(a, "strength, %s", b->unit);
    plot.x.from_zero = true;
    plot.y.low = 0.4;
    plot.y.high = (double)cells + 0.6;
    plot.y.ticks = ticks;
    plot.y.nticks = cells;
    plot.y.tick_words = names;
    return pl_page_plot(
        page, &plot,
        "What joint and glue line held. A stroke is the range; one that runs to the "
        "edge has no limit on that side.",
        d);
}

static pl_code curve_picture(pl_arena *a, pl_page *page, const pl_fit_answer *f,
                             const pl_plateau *p, pl_diags *d)
{
    const pl_plot *plot = NULL;
    pl_code rc = pl_picture_curve(a, f, p, &plot, d);

    return rc ? rc
              : pl_page_plot(page, plot,
                             pl_arena_printf(a,
                                             "%s. A joint that broke in the wood says only that "
                                             "its glue line held no less.",
                                             pl_say_group(a, p)),
                             d);
}

pl_code pl_bond_page(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d)
{
    size_t n = 0, cells;
    const char *const *sentences;
    pl_code rc = PL_OK;

    if (!f->bond)
        return PL_OK;
    sentences = pl_bond_sentences(a, f, &n);
    if (!sentences)
        return pl_nomem(d);
    cells = count_cells(f->bond);
    pl_page_section(page, PL_BOND_HEAD);
    pl_page_list(page, sentences, n);
    for (size_t i = 0; i < f->nbond_plateau && !rc; i++)
        if (f->bond_plateaus[i].ngrid)
            rc = curve_picture(a, page, f, &f->bond_plateaus[i], d);
    if (!rc && cells && cells <= CELLS_MOST)
        rc = picture(a, page, f, d);
    pl_page_grid(page, pl_bond_cells(a, f), "Joint and glue line");
    if (f->bond->nline && f->bond->bond.fit)
        pl_page_grid(page, pl_bond_by_line(a, f, true),
                     "The glue line, by the share of wood from which a break counts as wood");
    return rc;
}

/* ---- JSON ---- */

static void json_answer(pl_jval *o, const pl_bond_answer *x)
{
    static const char *const models[] = { "whole", "single-effects", "without-blocks",
                                          "all-together", "none" };

    pl_jadd_text(o, "answer", x->answer);
    pl_jadd_number(o, "counts_as_wood", x->counts_as_wood);
    pl_jadd_whole(o, "own_breaks", (long long)x->own);
    pl_jadd_text(o, "model", models[x->model]);
    if (x->fit)
        pl_json_bounds(o, x->fit);
    else {
        pl_jadd_text(o, "law", pl_law_name(x->law));
        pl_jadd_text(o, "why", x->why);
    }
}

void pl_json_bond(pl_jval *object, const pl_bond_fit *b)
{
    pl_jval *o = pl_jadd_object(object, "bond"), *list;

    pl_jadd_text(o, "unit", b->unit);
    pl_jadd_number(o, "counts_as_wood", b->counts_as_wood);
    pl_jadd_text(o, "cells", b->cells ? b->cells : "");
    pl_jadd_whole(o, "joints", (long long)b->joints);
    pl_jadd_whole(o, "wood_breaks", (long long)b->wood);
    pl_jadd_whole(o, "glue_breaks", (long long)b->glue);
    pl_jadd_whole(o, "not_broken", (long long)b->unbroken);
    pl_jadd_whole(o, "handling", (long long)b->handling);
    pl_jadd_whole(o, "between", (long long)b->between);
    pl_jadd_whole(o, "share_judged", (long long)b->judged);
    list = pl_jadd_array(o, "links");
    json_answer(pl_jadd_object(list, NULL), &b->joint);
    json_answer(pl_jadd_object(list, NULL), &b->bond);
    json_answer(pl_jadd_object(list, NULL), &b->wood_itself);
    list = pl_jadd_array(o, "by_line");
    for (size_t i = 0; i < b->nline; i++)
        json_answer(pl_jadd_object(list, NULL), &b->lines[i]);
    pl_jadd_number(o, "moved_by_line", b->by_line.by);
    pl_jadd_number(o, "moved_by_handling", b->by_handling.by);
    list = pl_jadd_array(o, "by_law");
    for (size_t i = 0; i < PL_NLAWS; i++)
        json_answer(pl_jadd_object(list, NULL), &b->laws[i]);
}
