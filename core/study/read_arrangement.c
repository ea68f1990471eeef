/* The arrangement: what an override needs of the factors, and how many treatments it makes.
 * Whether such a design exists in all its parts is design's to say; what can be seen from
 * the file alone is said here. */
#include <string.h>

#include "base/text.h"
#include "study/build.h"
#include "study/second_order.h"

static const pl_json *key_at(const pl_build *b, const char *key)
{
    const pl_json *v = pl_build_at(b, "arrangement", key);

    return v ? v : pl_build_at(b, "arrangement", "kind");
}

/* ---------------------------------------------------- two-level fractions -- */

static bool two_levels(pl_build *b)
{
    bool all = true;

    for (size_t i = 0; i < b->s->nfactor; i++) {
        const pl_factor *f = &b->s->factors[i];

        if (f->nlevel == 2)
            continue;
        all = false;
        if (f->nlevel)
            pl_fill_fail(&b->f, PL_ECONFLICT, f->at,
                         pl_fill_printf(&b->f, "%zu levels of \"%s\" in a %s", f->nlevel, f->name,
                                        pl_arrangement_name(b->s->arrangement.kind)),
                         "two levels of every factor",
                         "list a low and a high one, or leave arrangement out");
    }
    return all && b->s->nfactor;
}

/* Place of the factor named; -1 with a finding. */
static int place_of(pl_build *b, const char *name, const pl_json *at)
{
    const char **names = pl_build_new(b, b->s->nfactor, sizeof *names);

    for (size_t i = 0; names && i < b->s->nfactor; i++) {
        names[i] = b->s->factors[i].name;
        if (!strcmp(names[i], name))
            return (int)i;
    }
    if (names)
        pl_fill_fail(&b->f, PL_EVALUE, at, pl_fill_printf(&b->f, "\"%s\"", name), "a factor's name",
                     pl_build_near(b, name, names, b->s->nfactor));
    return -1;
}

/* The products as bits of factors; NULL when one is not right. */
static const uint32_t *read_generators(pl_build *b)
{
    const pl_json *list = pl_build_at(b, "arrangement", "generators");
    uint32_t *bits = pl_build_new(b, b->s->nfactor, sizeof *bits), all = 0;
    bool whole = bits != NULL;

    for (size_t i = 0; bits && i < b->raw->arrangement.ngenerator; i++) {
        const pl_raw_generator *g = &b->raw->arrangement.generators[i];
        const pl_json *at = pl_json_at(list, i);
        int of = g->factor ? place_of(b, g->factor, at) : -1;

        whole = whole && of >= 0 && g->nproduct >= 2;
        for (size_t k = 0; of >= 0 && k < g->nproduct; k++) {
            int one = place_of(b, g->product_of[k], pl_json_get(at, "product_of"));

            whole = whole && one >= 0;
            bits[of] |= one >= 0 ? 1u << one : 0;
        }
        all |= of >= 0 ? 1u << of : 0;
    }
    for (size_t i = 0; whole && i < b->s->nfactor; i++)
        if (bits[i] & all) {
            pl_fill_fail(&b->f, PL_ECONFLICT, list,
                         pl_fill_printf(&b->f, "\"%s\" follows a factor that itself follows others",
                                        b->s->factors[i].name),
                         "products of factors that are set freely", "");
            return NULL;
        }
    for (size_t i = 0; whole && i < b->s->nfactor; i++)
        for (size_t j = 0; j < i && bits[i]; j++)
            if (bits[i] == bits[j]) {
                pl_fill_fail(&b->f, PL_ECONFLICT, list,
                             pl_fill_printf(&b->f, "\"%s\" and \"%s\" follow the same product",
                                            b->s->factors[j].name, b->s->factors[i].name),
                             "products that differ: else the two are never told apart", "");
                return NULL;
            }
    return whole ? bits : NULL;
}

/* Fewest runs in which k factors have a resolution: core/design/fraction.h says whence. */
unsigned pl_build_fewest_runs(size_t k, unsigned resolution)
{
    static const size_t fifth[] = { 0, 0, 2, 3, 5, 6, 8, 11, 17 };

    for (unsigned q = 2; q <= 8; q++) {
        size_t most = resolution <= 3   ? ((size_t)1 << q) - 1
                      : resolution == 4 ? (size_t)1 << (q - 1)
                                        : fifth[q];

        if (k <= most)
            return 1u << (k < q ? k : q);
    }
    return 0;
}

static void check_runs(pl_build *b, unsigned runs)
{
    size_t k = b->s->nfactor, full = (size_t)1 << k;

    if (runs & (runs - 1))
        pl_fill_fail(&b->f, PL_EVALUE, key_at(b, "runs"), NULL, "4, 8, 16, 32, ...",
                     "a fraction halves all combinations again and again");
    else if (runs > full)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "runs"),
                     pl_fill_printf(&b->f, "%u runs of %zu combinations", runs, full),
                     pl_fill_printf(&b->f, "at most %zu", full), "glue_ups_per_level repeats them");
    else if (runs <= k)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "runs"),
                     pl_fill_printf(&b->f, "%u runs for %zu factors", runs, k),
                     pl_fill_printf(&b->f, "at least %u", pl_build_fewest_runs(k, 3)),
                     "with fewer, two factors would always change together");
}

static void build_fraction(pl_build *b)
{
    pl_arrange *g = &b->s->arrangement;
    size_t k = b->s->nfactor, n = b->raw->arrangement.ngenerator;
    unsigned runs = b->raw->arrangement.runs;

    g->resolution = b->raw->arrangement.resolution;
    if (!two_levels(b))
        return;
    if (n)
        g->generated = read_generators(b);
    if (n + 2 > k) {
        if (n)
            pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "generators"),
                         pl_fill_printf(&b->f, "%zu generators for %zu factors", n, k),
                         pl_fill_printf(&b->f, "at most %zu", k > 2 ? k - 2 : 0),
                         "two factors at least are set freely");
        n = 0;
    }
    if (n && runs && runs != 1u << (k - n))
        pl_fill_fail(
            &b->f, PL_ECONFLICT, key_at(b, "runs"), NULL,
            pl_fill_printf(&b->f, "%u: %zu factors, %zu of them following", 1u << (k - n), k, n),
            "leave out runs or generators");
    if (n)
        runs = 1u << (k - n);
    if (!runs && !g->resolution) {
        g->resolution = 4;
        pl_fill_assume(&b->f, "/arrangement", "resolution",
                       "no factor may be mixed up with the joint effect of two others");
    }
    g->runs = runs ? runs : pl_build_fewest_runs(k, g->resolution);
    check_runs(b, g->runs);
}

static void build_screening(pl_build *b)
{
    pl_arrange *g = &b->s->arrangement;
    unsigned least = ((unsigned)b->s->nfactor + 4) / 4 * 4;

    g->runs = b->raw->arrangement.runs ? b->raw->arrangement.runs : least;
    if (!two_levels(b))
        return;
    if (g->runs % 4 || g->runs < least)
        pl_fill_fail(&b->f, PL_EVALUE, key_at(b, "runs"),
                     pl_fill_printf(&b->f, "%u runs for %zu factors", g->runs, b->s->nfactor),
                     pl_fill_printf(&b->f, "a multiple of 4, at least %u", least), "");
}

/* --------------------------------------------------------------- optimal -- */

/* Columns that an optimal design tells apart, the mean and what comes with the board left out. */
size_t pl_build_columns(const pl_study *s, pl_asks asks)
{
    size_t n = 0, products = 0, sum = 0;

    for (size_t i = 0; i < s->nfactor; i++) {
        const pl_factor *f = &s->factors[i];
        size_t own = f->nlevel ? f->nlevel - 1 : 0;

        if (f->comes_with_board)
            continue;
        if (s->arrangement.criterion == PL_CRITERION_C && (int)i == s->question.over)
            own = 2; /* height and shape of the rise */
        if (asks == PL_ASKS_CURVED && f->numeric) {
            n += own < 2 ? own : 2; /* slope, square */
            own = own < 1 ? own : 1;
        } else {
            n += own;
        }
        products += sum * own;
        sum += own;
    }
    return asks == PL_ASKS_SINGLE ? n : n + products;
}

pl_asks pl_build_asks(const pl_study *s)
{
    if (s->arrangement.criterion == PL_CRITERION_C)
        return PL_ASKS_SINGLE;
    for (size_t i = 0; i < s->nfactor; i++)
        if (s->factors[i].numeric && !s->factors[i].comes_with_board && s->factors[i].nlevel > 2)
            return PL_ASKS_CURVED;
    return PL_ASKS_PAIRS;
}

/* A third more runs than columns, and four at least, are left to show the scatter. */
static void build_optimal(pl_build *b)
{
    pl_arrange *g = &b->s->arrangement;
    int with = pl_study_with_board(b->s);
    unsigned groups = with >= 0 && b->s->factors[with].nlevel ? (unsigned)b->s->factors[with].nlevel
                                                              : 1;
    unsigned least, more;

    g->criterion = b->raw->arrangement.criterion;
    g->asks = pl_build_at(b, "arrangement", "effects") ? b->raw->arrangement.asks
                                                       : pl_build_asks(b->s);
    if (g->criterion == PL_CRITERION_C && !b->s->question.nguess)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "criterion"), "criterion c without a guess",
                     "`question.guess`: about where the rise ends",
                     "\"guess\": [{\"onset\": \"0.9 N/mm2\"}]");
    if (g->criterion == PL_CRITERION_C && g->asks != PL_ASKS_SINGLE)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "effects"), NULL, "single, beside criterion c",
                     "the onset is asked for, and what else changes by itself");
    least = (unsigned)pl_build_columns(b->s, g->asks) + 1;
    more = least / 3 > 4 ? least / 3 : 4;
    g->runs = b->raw->arrangement.runs ? b->raw->arrangement.runs : groups * (least + more);
    if (!b->raw->arrangement.runs)
        pl_fill_assume(&b->f, "/arrangement", "runs",
                       pl_fill_printf(&b->f,
                                      "%u glue-ups: %u figures are asked for%s, and %u "
                                      "more show the scatter",
                                      g->runs, least, groups > 1 ? " of each wood" : "", more));
    if (g->runs < groups * least || g->runs % groups)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "runs"),
                     pl_fill_printf(&b->f, "%u runs", g->runs),
                     groups > 1 ? pl_fill_printf(&b->f, "%u or more, equally many for each %s",
                                                 groups * least, b->s->factors[with].name)
                                : pl_fill_printf(&b->f, "%u or more", least),
                     g->runs < groups * least ? "so many figures are asked for; `effects` asks for "
                                                "fewer"
                                              : "");
    if (b->raw->glue_ups_per_level > 1)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(b->root, "glue_ups_per_level"),
                     "glue_ups_per_level beside an optimal arrangement", "one of them",
                     "`runs` counts the glue-ups: those that are worth it are made twice");
}

/* --------------------------------------------------------------- squares -- */

/* Factors that are compared within boards: all but the one that comes with them. */
static size_t within(const pl_study *s, const pl_factor **one, const pl_factor **other)
{
    size_t n = 0;

    for (size_t i = 0; i < s->nfactor; i++) {
        if (s->factors[i].comes_with_board)
            continue;
        *(n ? other : one) = &s->factors[i];
        n++;
    }
    return n;
}

static void build_square(pl_build *b)
{
    bool pair = b->s->arrangement.kind == PL_ARRANGE_GRAECO_LATIN;
    const pl_factor *one = NULL, *other = NULL;
    size_t n = within(b->s, &one, &other);
    const pl_json *at = key_at(b, "kind");

    if (n != (pair ? 2 : 1))
        pl_fill_fail(
            &b->f, PL_ECONFLICT, at,
            pl_fill_printf(&b->f, "%zu factor%s compared within boards", n, n == 1 ? "" : "s"),
            pair ? "two, of equally many levels" : "one",
            pair ? "rows are boards, columns sessions, and each pair of levels meets once"
                 : "rows are boards, columns sessions, letters the levels");
    else if (pair && one->nlevel != other->nlevel)
        pl_fill_fail(&b->f, PL_ECONFLICT, other->at,
                     pl_fill_printf(&b->f, "%zu levels beside %zu of \"%s\"", other->nlevel,
                                    one->nlevel, one->name),
                     "equally many levels of both", "");
    else if (pair && (one->nlevel == 2 || one->nlevel == 6))
        pl_fill_fail(&b->f, PL_EUNFIT, one->at,
                     pl_fill_printf(&b->f, "a Graeco-Latin square of order %zu", one->nlevel),
                     "an order for which one exists: 3, 4, 5, 7, 8, 9, ...",
                     one->nlevel == 6 ? "6 has none (Tarry 1900): 5 or 7 levels"
                                      : "2 has none: 3 levels");
    if (!b->raw->nboard)
        pl_fill_fail(&b->f, PL_ECONFLICT, at, "a square without boards",
                     "boards: they are its rows, sessions its columns", "list the boards");
}

/* ---------------------------------------------------------- hard to change -- */

static void build_split(pl_build *b)
{
    pl_arrangement kind = b->s->arrangement.kind;
    const pl_factor *hard = NULL;

    for (size_t i = 0; i < b->s->nfactor && !hard; i++)
        hard = b->s->factors[i].hard ? &b->s->factors[i] : NULL;
    if (hard && pl_json_get(b->root, "not_together"))
        pl_fill_fail(
            &b->f, PL_ECONFLICT, pl_json_get(b->root, "not_together"),
            pl_fill_printf(&b->f, "not_together, and \"%s\" is hard to change", hard->name),
            "one of them", "stretches in which all else is made once need every combination");
    if (kind == PL_ARRANGE_SPLIT_PLOT && !hard)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "kind"),
                     "a split-plot in which nothing is hard to change",
                     "a factor that is left alone for a stretch of glue-ups",
                     "say hard_to_change \"yes\" of it");
    else if (kind == PL_ARRANGE_SPLIT_PLOT && !pl_study_layers(b->s))
        pl_fill_fail(
            &b->f, PL_ECONFLICT, key_at(b, "kind"),
            pl_fill_printf(&b->f, "nothing that changes while \"%s\" is left alone", hard->name),
            "a further factor", "leave hard_to_change out: every glue-up is set anew");
    else if (hard && kind != PL_ARRANGE_AUTO && kind != PL_ARRANGE_FULL_FACTORIAL &&
             kind != PL_ARRANGE_SPLIT_PLOT)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "kind"),
                     pl_fill_printf(&b->f, "\"%s\" is hard to change, in a %s", hard->name,
                                    pl_arrangement_name(kind)),
                     "split-plot, full-factorial or auto",
                     "leave arrangement out, or change the factor from glue-up to glue-up");
}

/* --------------------------------------------------------------- repeats -- */

/* Glue-ups of each treatment where the file does not say. */
static void build_repeats(pl_build *b)
{
    const pl_factor *one = NULL, *other = NULL;
    pl_study *s = b->s;

    s->glue_ups_per_level = b->raw->glue_ups_per_level;
    if (s->glue_ups_per_level)
        return;
    if (s->arrangement.kind == PL_ARRANGE_LATIN && within(s, &one, &other) == 1) {
        s->glue_ups_per_level = (unsigned)one->nlevel;
        pl_fill_assume(&b->f, "", "glue_ups_per_level", "one square: as many as there are levels");
    } else if (s->arrangement.kind == PL_ARRANGE_OPTIMAL) {
        s->glue_ups_per_level = 1; /* `runs` counts them */
    } else if (s->arrangement.runs || s->arrangement.kind == PL_ARRANGE_GRAECO_LATIN) {
        s->glue_ups_per_level = 1;
        pl_fill_assume(&b->f, "", "glue_ups_per_level", "every combination of the design once");
    } else {
        pl_fill_assume(&b->f, "", "glue_ups_per_level",
                       "as many glue-ups of each treatment as the question needs (see size)");
    }
}

#define KIND(k) (1u << PL_ARRANGE_##k)

/* Keys that another kind of arrangement reads. */
static void refuse_idle_keys(pl_build *b)
{
    static const unsigned boards = KIND(INCOMPLETE_BLOCKS) | KIND(ROW_COLUMN);
    static const struct {
        const char *key;
        unsigned kinds;
    } of[] = { { "runs", KIND(FRACTION) | KIND(SCREENING) | KIND(OPTIMAL) },
               { "criterion", KIND(OPTIMAL) },
               { "effects", KIND(OPTIMAL) },
               { "resolution", KIND(FRACTION) },
               { "generators", KIND(FRACTION) },
               { "set_size", boards },
               { "balance", boards },
               { "centre_points", KIND(CENTRAL) | KIND(BOX_BEHNKEN) },
               { "centre_points_axes", KIND(CENTRAL) },
               { "centre_for", KIND(CENTRAL) },
               { "axial", KIND(CENTRAL) } };
    pl_arrangement kind = b->s->arrangement.kind;

    for (size_t i = 0; i < sizeof of / sizeof *of; i++) {
        const char *names[PL_NARRANGEMENTS];
        size_t n = 0;

        if (!pl_build_at(b, "arrangement", of[i].key) || of[i].kinds >> kind & 1)
            continue;
        for (pl_arrangement k = 0; k < PL_NARRANGEMENTS; k++)
            if (of[i].kinds >> k & 1)
                names[n++] = pl_arrangement_name(k);
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_build_at(b, "arrangement", of[i].key),
                     pl_fill_printf(&b->f, "`%s` in %s %s", of[i].key,
                                    strchr("aeiou", pl_arrangement_name(kind)[0]) ? "an" : "a",
                                    pl_arrangement_name(kind)),
                     pl_fill_kept(&b->f, pl_text_list(b->f.a, names, n, "or")), "");
    }
}

/* Measured levels, rising, so many of each; none that comes with the board. */
static void measured(pl_build *b, size_t nlevel, const char *mend)
{
    for (size_t i = 0; i < b->s->nfactor; i++) {
        const pl_factor *f = &b->s->factors[i];
        bool rising = f->numeric && !f->comes_with_board && f->nlevel == nlevel;

        for (size_t l = 1; rising && l < f->nlevel; l++)
            rising = f->levels[l].si > f->levels[l - 1].si;
        if (!rising && f->nlevel)
            pl_fill_fail(&b->f, PL_ECONFLICT, f->at,
                         pl_fill_printf(&b->f, "%zu levels of \"%s\" in a %s", f->nlevel, f->name,
                                        pl_arrangement_name(b->s->arrangement.kind)),
                         pl_fill_printf(&b->f, "%zu measured levels, rising", nlevel), mend);
    }
}

unsigned pl_build_middle(const pl_build *b)
{
    unsigned k = (unsigned)b->raw->nfactor, corners = pl_central_corners(k);
    double exact;

    if (!b->raw->arrangement.centre_for)
        return b->raw->arrangement.centre;
    exact = pl_central_middle(k, corners, b->raw->arrangement.centre_for == 1);
    return exact < 1 ? 1 : (unsigned)(exact + 0.5);
}

double pl_build_axial(const pl_build *b)
{
    unsigned k = (unsigned)b->raw->nfactor, corners = pl_central_corners(k);
    unsigned middle = pl_build_middle(b), axes = b->raw->arrangement.centre_axes;

    if (b->raw->arrangement.axial == PL_AXIAL_BLOCKS)
        return pl_central_blocked(k, corners, pl_central_corner_blocks(k), middle,
                                  axes ? axes : middle);
    return pl_central_axial(k, corners, b->raw->arrangement.axial, middle);
}

/* Middle runs that go with a rotatable design only, and those of a block that is not there. */
static void check_middle(pl_build *b)
{
    pl_axial axial = b->raw->arrangement.axial;

    if (b->raw->arrangement.centre_for && axial != PL_AXIAL_ROTATABLE)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "centre_for"),
                     "middle runs reckoned for points on the axes that lie elsewhere",
                     "axial rotatable, or centre_for count", "");
    if (b->raw->arrangement.centre_for && pl_build_at(b, "arrangement", "centre_points"))
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "centre_points"),
                     "`centre_points` beside `centre_for`", "one or the other", "");
    if (b->raw->arrangement.centre_axes && axial != PL_AXIAL_BLOCKS)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "centre_points_axes"),
                     "`centre_points_axes` where the axes are no block", "axial orthogonal-blocks",
                     "");
}

static void build_second_order(pl_build *b)
{
    pl_arrange *g = &b->s->arrangement;
    unsigned k = (unsigned)b->s->nfactor;
    bool central = g->kind == PL_ARRANGE_CENTRAL;
    bool five = central && b->raw->arrangement.axial != PL_AXIAL_FACE_CENTRED;

    g->centre = central ? pl_build_middle(b) : b->raw->arrangement.centre;
    g->axial = b->raw->arrangement.axial;
    if (k < (central ? 2 : 3) || k > PL_SECOND_ORDER_MOST) {
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "kind"), pl_fill_printf(&b->f, "%u factors", k),
                     central ? "2 to 7 factors" : "3 to 7 factors", "");
        return;
    }
    if (central)
        check_middle(b);
    if (central && g->axial == PL_AXIAL_BLOCKS) {
        g->corner_blocks = pl_central_corner_blocks(k);
        g->centre_axes = b->raw->arrangement.centre_axes ? b->raw->arrangement.centre_axes
                                                         : g->centre;
        g->centre = g->centre * g->corner_blocks + g->centre_axes;
    }
    measured(b, five ? 5 : 3,
             five ? "from, to and count 5: the program places them" : "from, to and count 3");
    g->runs = (central ? pl_central_corners(k) + 2 * k : pl_box_behnken_runs(k)) + g->centre;
}

static void build_sets(pl_build *b)
{
    pl_arrange *g = &b->s->arrangement;

    g->set_size = b->raw->arrangement.set_size;
    g->balanced = b->raw->arrangement.balanced;
    if (!b->raw->nboard)
        pl_fill_fail(&b->f, PL_ECONFLICT, key_at(b, "kind"),
                     pl_fill_printf(&b->f, "%s without boards", pl_arrangement_name(g->kind)),
                     "boards: each is a block", "list the boards");
}

void pl_build_arrangement(pl_build *b)
{
    const pl_json *list = pl_json_get(b->root, "factors");
    pl_study *s = b->s;
    size_t treatments = 1;

    s->arrangement.kind = b->raw->arrangement.kind;
    if (b->raw->arrangement.order_limit > 0) /* absent: not a number */
        s->arrangement.order_limit = b->raw->arrangement.order_limit;
    refuse_idle_keys(b);
    if (s->arrangement.kind == PL_ARRANGE_AUTO)
        pl_build_choice(b);
    else if (s->arrangement.kind == PL_ARRANGE_FRACTION)
        build_fraction(b);
    else if (s->arrangement.kind == PL_ARRANGE_SCREENING)
        build_screening(b);
    else if (s->arrangement.kind == PL_ARRANGE_LATIN ||
             s->arrangement.kind == PL_ARRANGE_GRAECO_LATIN)
        build_square(b);
    else if (s->arrangement.kind == PL_ARRANGE_INCOMPLETE_BLOCKS ||
             s->arrangement.kind == PL_ARRANGE_ROW_COLUMN)
        build_sets(b);
    else if (s->arrangement.kind == PL_ARRANGE_CENTRAL ||
             s->arrangement.kind == PL_ARRANGE_BOX_BEHNKEN)
        build_second_order(b);
    else if (s->arrangement.kind == PL_ARRANGE_OPTIMAL)
        build_optimal(b);
    build_split(b);
    build_repeats(b);
    for (size_t i = 0; i < s->nfactor && treatments <= PL_TREATMENTS_MOST; i++)
        treatments *= s->factors[i].nlevel ? s->factors[i].nlevel : 1;
    if (treatments > PL_TREATMENTS_MOST &&
        (!s->arrangement.runs || s->arrangement.kind == PL_ARRANGE_OPTIMAL))
        pl_fill_fail(&b->f, PL_EVALUE, list, "more than 10000 treatments",
                     "at most 10000 combinations of levels", "fewer factors, or fewer levels");
}
