/* The joint and the boards it is cut from: areas, and how many specimens a
 * board gives. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "study/build.h"
#include "study/cutting.h"

/* How far a stated area may lie from its dimensions: rounding of a drawing, not
 * another joint. Common practice, no source. */
#define STATED_AREA_OFF 0.005

/* Lengths compared and divided in whole nanometres, so that 3 x 40 mm out of
 * 120 mm is three. */
#define LENGTH_MOST 1e9 /* m: the sum of a few such still fits */

static long long nanometres(double m)
{
    return llround(fmin(m, LENGTH_MOST) * 1e9);
}

/* -------------------------------------------------------------- area ---- */

typedef struct joint_size { /* a dimension and the kinds that have it */
    const char *name;
    unsigned kinds; /* bit 1 << kind */
} joint_size;

static const joint_size sizes[] = {
    { "width", 1u << PL_LAP | 1u << PL_DOUBLE_LAP | 1u << PL_BLOCK_SHEAR | 1u << PL_BUTT_TENSION },
    { "overlap", 1u << PL_LAP | 1u << PL_DOUBLE_LAP },
    { "height", 1u << PL_BLOCK_SHEAR },
    { "thickness", 1u << PL_BUTT_TENSION },
    { "area", 1u << PL_JOINT_OTHER },
};
#define NSIZE (sizeof sizes / sizeof *sizes)

static const pl_dim *size_value(const pl_raw_joint *raw, size_t i)
{
    const pl_dim *const values[NSIZE] = { &raw->width, &raw->overlap, &raw->height, &raw->thickness,
                                          &raw->area };

    return values[i];
}

/* Every dimension of this kind there, none of another. */
static void take_sizes(pl_build *b, const pl_json *at)
{
    const pl_raw_joint *raw = &b->raw->joint;
    pl_joint *j = &b->s->joint;
    size_t n = 0;
    pl_fill *f = &b->f;

    for (size_t i = 0; i < NSIZE; i++) {
        bool wanted = sizes[i].kinds & 1u << raw->kind;
        const pl_json *v = pl_json_get(at, sizes[i].name);

        if (wanted && !v)
            pl_fill_fail(f, PL_EKEY, at, pl_fill_printf(f, "no \"%s\"", sizes[i].name),
                         pl_fill_printf(f, "%s of a %s joint",
                                        raw->kind == PL_JOINT_OTHER ? "the area" : "every size",
                                        pl_joint_kind_name(raw->kind)),
                         raw->kind == PL_JOINT_OTHER
                             ? "the area that breaks: \"9 cm2\""
                             : pl_fill_printf(f, "\"%s\": \"40 mm\"", sizes[i].name));
        else if (!wanted && v)
            pl_fill_fail(
                f, PL_ECONFLICT, v, pl_fill_printf(f, "`%s`", sizes[i].name),
                pl_fill_printf(f, "only sizes of a %s joint", pl_joint_kind_name(raw->kind)),
                "leave it out, or correct `kind`");
        if (wanted && raw->kind != PL_JOINT_OTHER) {
            j->size[n] = *size_value(raw, i);
            j->size_names[n++] = sizes[i].name;
        }
    }
}

static const char *area_text(pl_fill *f, double m2, const char *unit)
{
    return pl_fill_kept(f, pl_units_text(f->a, m2, PL_Q_AREA, unit, 6));
}

static void check_stated(pl_build *b)
{
    const pl_dim *stated = &b->raw->joint.stated_area;
    double area = b->s->joint.area_m2;
    pl_fill *f = &b->f;

    if (isnan(stated->si) || isnan(area) || fabs(stated->si - area) <= STATED_AREA_OFF * area)
        return;
    pl_fill_fail(f, PL_ECONFLICT, pl_build_at(b, "joint", "stated_area"), NULL,
                 pl_fill_printf(f, "%s from the dimensions", area_text(f, area, stated->unit)),
                 b->s->joint.kind == PL_DOUBLE_LAP
                     ? "both bonds of a double lap count; leave stated_area out, or correct it"
                     : "leave stated_area out, or correct the dimensions");
}

/* The area that one closing's force spreads over. */
static void take_press_area(pl_build *b)
{
    pl_joint *j = &b->s->joint;
    const pl_dim *given = &b->raw->joint.glue_up_area;
    unsigned n = pl_study_specimens_per_glue_up(b->s);
    /* Both bonds of a double lap lie in one line of force. */
    double one = j->kind == PL_DOUBLE_LAP ? j->area_m2 / 2 : j->area_m2;
    pl_fill *f = &b->f;

    j->press_area_m2 = isnan(given->si) ? one * n : given->si;
    if (!isnan(given->si) && given->si < one * (1 - STATED_AREA_OFF))
        pl_fill_fail(f, PL_ECONFLICT, pl_build_at(b, "joint", "glue_up_area"), NULL,
                     pl_fill_printf(f, "at least the bond of one specimen, %s",
                                    area_text(f, one, given->unit)),
                     "");
    if (isnan(given->si) && n > 1)
        pl_fill_assume(f, "/joint", "glue_up_area",
                       pl_fill_printf(f,
                                      "the clamping force spreads over the bonds of %u joints "
                                      "side by side, and over nothing between them",
                                      n));
}

/* The bond must lie within the piece of wood. */
static void check_adherend(pl_build *b)
{
    const pl_raw_joint *raw = &b->raw->joint;
    const struct {
        const char *bond, *piece;
        const pl_dim *one, *other;
    } pairs[] = {
        { "width", "width", &raw->width, &raw->adherend.width },
        { "overlap", "length", &raw->overlap, &raw->adherend.length },
    };
    pl_fill *f = &b->f;

    for (size_t i = 0; i < 2; i++)
        if (nanometres(pairs[i].one->si) > nanometres(pairs[i].other->si) &&
            !isnan(pairs[i].one->si) && !isnan(pairs[i].other->si))
            pl_fill_fail(f, PL_ECONFLICT, pl_build_at(b, "joint", pairs[i].bond), NULL,
                         pl_fill_printf(f, "at most the adherend's %s, %s", pairs[i].piece,
                                        pairs[i].other->text),
                         "");
}

void pl_build_joint(pl_build *b)
{
    const pl_raw_joint *raw = &b->raw->joint;
    const pl_json *at = pl_json_get(b->root, "joint");
    pl_joint *j = &b->s->joint;

    *j = (pl_joint){ .kind = raw->kind,
                     .size = { { .si = NAN }, { .si = NAN } },
                     .area_m2 = NAN,
                     .press_area_m2 = NAN,
                     .stated_area = raw->stated_area,
                     .tolerance_m = raw->tolerance.si,
                     .unit = "mm",
                     .adherends = raw->adherends,
                     .specimens_per_glue_up = raw->specimens_per_glue_up };
    j->adherend.length_m = raw->adherend.length.si;
    j->adherend.width_m = raw->adherend.width.si;
    j->adherend.thickness_m = raw->adherend.thickness.si;
    if (!j->adherends)
        j->adherends = raw->kind == PL_DOUBLE_LAP ? 3 : 2;
    if (!j->specimens_per_glue_up)
        j->specimens_per_glue_up = 1;
    if (!at || at->kind != PL_JSON_OBJECT || !pl_json_get(at, "kind"))
        return;
    take_sizes(b, at);
    j->area_m2 = raw->kind == PL_JOINT_OTHER
                     ? raw->area.si
                     : j->size[0].si * j->size[1].si * (raw->kind == PL_DOUBLE_LAP ? 2 : 1);
    if (j->size[0].unit)
        j->unit = j->size[0].unit;
    else if (raw->adherend.length.unit)
        j->unit = raw->adherend.length.unit;
    check_stated(b);
    check_adherend(b);
    take_press_area(b);
}

/* ------------------------------------------------------------- boards ---- */

/* Specimens that one board of this kind gives; -1 when sizes are missing. */
static long long board_yield(const pl_study *s, const pl_stock *stock)
{
    const pl_joint *j = &s->joint;
    long long pieces;

    if (isnan(stock->length_m) || isnan(stock->width_m) || isnan(j->adherend.length_m) ||
        isnan(j->adherend.width_m) || isnan(s->cutting.kerf_m) || isnan(s->cutting.discard_ends_m))
        return -1;
    pieces = (long long)(pl_cutting_columns(s, stock, NULL, 0) * pl_cutting_rows(s, stock));
    if (pieces > 1000000000)
        return 1000000; /* more than anyone glues; keeps the product small */
    return pieces / j->adherends * j->specimens_per_glue_up;
}

static void build_defects(pl_build *b, pl_stock *stock, const pl_raw_board *raw, const pl_json *at)
{
    const pl_json *list = pl_json_get(at, "defects");
    pl_defect *all = raw->ndefect ? pl_build_new(b, raw->ndefect, sizeof *all) : NULL;

    for (size_t i = 0; all && i < raw->ndefect; i++) {
        const pl_raw_defect *d = &raw->defects[i];

        if (d->to.si <= d->from.si)
            pl_fill_fail(&b->f, PL_EVALUE, pl_json_get(pl_json_at(list, i), "to"), NULL,
                         pl_fill_printf(&b->f, "more than %s", d->from.text), "");
        else if (!isnan(stock->length_m) && d->from.si >= stock->length_m)
            pl_fill_fail(
                &b->f, PL_EVALUE, pl_json_get(pl_json_at(list, i), "from"), NULL,
                pl_fill_printf(&b->f, "less than the board's length, %s", raw->length.text), "");
        else if (!isnan(d->from.si) && !isnan(d->to.si))
            all[stock->ndefect++] = (pl_defect){ d->from.si, d->to.si };
    }
    stock->defects = all;
}

/* What a board loses before the first piece: ", less 20 mm at each end and 2 stretches of 310 mm
 * that are not to be used". */
static const char *taken_away(pl_build *b, const pl_stock *stock)
{
    double lost_m = 0;
    const char *ends = b->s->cutting.discard_ends_m > 0
                           ? pl_fill_printf(&b->f, "%s at each end",
                                            b->raw->cutting.discard_ends.text)
                           : "";

    for (size_t i = 0; i < stock->ndefect; i++)
        lost_m += stock->defects[i].to_m - stock->defects[i].from_m;
    if (!stock->ndefect)
        return *ends ? pl_fill_printf(&b->f, ", less %s", ends) : "";
    return pl_fill_printf(&b->f, ", less %s%s%zu stretch%s of %g mm in all not to be used", ends,
                          *ends ? " and " : "", stock->ndefect, stock->ndefect == 1 ? "" : "es",
                          lost_m * 1000);
}

static void build_board(pl_build *b, pl_stock *stock, const pl_raw_board *raw, const pl_json *at)
{
    pl_fill *f = &b->f;
    long long yield;

    *stock = (pl_stock){ .species = raw->species ? raw->species : "",
                         .count = raw->count,
                         .length_m = raw->length.si,
                         .width_m = raw->width.si,
                         .thickness_m = raw->thickness.si };
    build_defects(b, stock, raw, at);
    yield = board_yield(b->s, stock);
    stock->specimens = raw->specimens ? raw->specimens : (unsigned)(yield > 0 ? yield : 0);
    if (nanometres(b->s->joint.adherend.thickness_m) > nanometres(raw->thickness.si) &&
        !isnan(b->s->joint.adherend.thickness_m) && !isnan(raw->thickness.si))
        pl_fill_fail(f, PL_ECONFLICT, pl_json_get(at, "thickness"), NULL,
                     pl_fill_printf(f, "at least the adherend's thickness, %s",
                                    b->raw->joint.adherend.thickness.text),
                     "");
    if (yield == 0)
        pl_fill_fail(f, PL_ECONFLICT, at, "a board too small for one specimen",
                     pl_fill_printf(f, "room for %u pieces of %s x %s%s", b->s->joint.adherends,
                                    b->raw->joint.adherend.length.text,
                                    b->raw->joint.adherend.width.text, taken_away(b, stock)),
                     "other boards, or shorter adherends");
    else if (yield > 0 && raw->specimens > yield)
        pl_fill_fail(f, PL_ECONFLICT, pl_json_get(at, "specimens"), NULL,
                     pl_fill_printf(f, "at most %lld by the sizes, kerf and ends", yield),
                     "leave it out, or correct the sizes");
    else if (yield > 0 && !raw->specimens)
        pl_fill_assume(
            f, pl_fill_printf(f, "/boards/%zu", at->index), "specimens",
            pl_fill_printf(f, "one board of %s gives wood for %lld joints", stock->species, yield));
}

static bool is_level(const pl_factor *factor, const char *species)
{
    for (size_t i = 0; i < factor->nlevel; i++)
        if (!strcmp(factor->levels[i].text, species))
            return true;
    return false;
}

static bool has_boards(const pl_study *s, const char *level)
{
    for (size_t i = 0; s->boards && i < s->nboard_kinds; i++)
        if (!strcmp(s->boards[i].species, level))
            return true;
    return false;
}

/* Levels that come with the board and the boards must name each other. */
static void check_species(pl_build *b)
{
    int with = pl_study_with_board(b->s);
    const pl_factor *factor;
    const char **names;
    pl_fill *f = &b->f;

    if (with < 0 || !pl_build_levels_whole(&b->s->factors[with]))
        return;
    factor = &b->s->factors[with];
    for (size_t i = 0; i < factor->nlevel; i++)
        if (!has_boards(b->s, factor->levels[i].text))
            pl_fill_fail(f, PL_ECONFLICT, factor->at,
                         pl_fill_printf(f, "no boards for \"%s\"", factor->levels[i].text),
                         "boards of every level that comes with the board",
                         pl_fill_printf(f, "in boards: {\"species\": \"%s\", \"count\": 6, ...}",
                                        factor->levels[i].text));
    names = pl_build_new(b, factor->nlevel, sizeof *names);
    if (!names)
        return;
    for (size_t i = 0; i < factor->nlevel; i++)
        names[i] = factor->levels[i].text;
    for (size_t i = 0; i < b->s->nboard_kinds; i++)
        if (b->s->boards[i].species[0] && !is_level(factor, b->s->boards[i].species))
            pl_fill_fail(
                f, PL_ECONFLICT,
                pl_json_get(pl_json_at(pl_json_get(b->root, "boards"), i), "species"), NULL,
                pl_fill_printf(f, "a level of \"%s\": %s", factor->name,
                               pl_fill_kept(f, pl_text_list(f->a, names, factor->nlevel, "or"))),
                pl_build_near(b, b->s->boards[i].species, names, factor->nlevel));
}

void pl_build_boards(pl_build *b)
{
    const pl_json *list = pl_json_get(b->root, "boards");

    b->s->cutting = (pl_cutting){
        .kerf_m = b->raw->cutting.kerf.si,
        .discard_ends_m = b->raw->cutting.discard_ends.si,
        .spare_joints = isnan(b->raw->cutting.spare_joints) ? 0 : b->raw->cutting.spare_joints,
    };
    if (b->raw->nboard)
        b->s->boards = pl_build_new(b, b->raw->nboard, sizeof *b->s->boards);
    if (b->s->boards) {
        b->s->nboard_kinds = b->raw->nboard;
        for (const pl_json *at = list->child; at; at = at->next)
            build_board(b, &b->s->boards[at->index], &b->raw->boards[at->index], at);
    }
    check_species(b);
}
