/* Treatments: every combination of the levels listed, or those that the arrangement makes, in a
 * fixed order; and
 * which of them differ only in what comes with the board. */
#include <string.h>

#include "base/text.h"
#include "design/draft.h"
#include "design/fraction.h"
#include "design/plan_make.h"
#include "design/screening.h"
#include "design/squares.h"
#include "study/second_order.h"

static pl_code too_many(pl_draft *f)
{
    return pl_fail(f->d, PL_EUNFIT, f->s->name,
                   .found = "more combinations of levels than one plan holds",
                   .expected = pl_arena_printf(f->scratch, "at most %zu", PL_PLAN_TREATMENTS_MOST),
                   .mend = "leave out a factor, or list fewer levels");
}

static pl_code count_combinations(pl_draft *f)
{
    f->ntreatment = 1;
    for (size_t k = 0; k < f->s->nfactor; k++) {
        if (f->s->factors[k].nlevel > PL_PLAN_TREATMENTS_MOST / f->ntreatment)
            return too_many(f);
        f->ntreatment *= f->s->factors[k].nlevel;
    }
    return PL_OK;
}

/* Combinations that may not meet are left out. */
static pl_code count_meeting(pl_draft *f)
{
    f->ntreatment = pl_study_treatments(f->s);
    return f->ntreatment > PL_PLAN_TREATMENTS_MOST ? too_many(f) : PL_OK;
}

static void meeting_rows(pl_draft *f)
{
    int levels[PL_FACTORS_MOST];

    for (size_t t = 0, at = 0; at < f->ntreatment; t++) {
        pl_study_combination(f->s, t, levels);
        if (pl_study_may_meet(f->s, levels))
            memcpy(f->levels + at++ * f->s->nfactor, levels, f->s->nfactor * sizeof *levels);
    }
}

/* ------------------------------------------------------------- two levels -- */

static pl_code refuse_fraction(pl_draft *f, const char *found, const char *mend)
{
    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "arrangement"), .pointer = "/arrangement",
                   .found = found, .mend = mend);
}

static unsigned log2_of(unsigned runs)
{
    return runs > 1 ? 1 + log2_of(runs / 2) : 0;
}

static pl_code find_fraction(pl_draft *f)
{
    const pl_arrange *want = &f->s->arrangement;
    unsigned k = (unsigned)f->s->nfactor, q = log2_of(want->runs);
    bool made;

    f->fraction = PL_NEW(f->scratch, pl_fraction);
    if (!f->fraction)
        return pl_nomem(f->d);
    made = want->generated ? pl_fraction_from(f->fraction, k, want->generated)
                           : pl_fraction_search(f->fraction, k, q);
    if (!made)
        return refuse_fraction(f,
                               pl_arena_printf(f->scratch, "%u runs for %u factors", want->runs, k),
                               "fewer factors, more runs, or other generators");
    if (want->resolution && f->fraction->resolution && f->fraction->resolution < want->resolution) {
        unsigned next = pl_fraction_runs(k, want->resolution);

        return refuse_fraction(
            f,
            pl_arena_printf(f->scratch, "resolution %u in %u runs, where %u is asked",
                            f->fraction->resolution, want->runs, want->resolution),
            next > want->runs ? pl_arena_printf(f->scratch, "%u runs have it", next)
                              : "leave out generators: the program finds a better set");
    }
    return PL_OK;
}

static pl_code fraction_rows(pl_draft *f)
{
    for (size_t t = 0; t < f->ntreatment; t++) /* the first basic factor changes slowest */
        for (size_t k = 0; k < f->s->nfactor; k++) {
            unsigned run = 0;

            for (unsigned i = 0; i < f->fraction->nbasic; i++)
                run |= (unsigned)(t >> (f->fraction->nbasic - 1 - i) & 1) << i;
            f->levels[t * f->s->nfactor + k] = pl_fraction_level(f->fraction, run, (unsigned)k) > 0;
        }
    return PL_OK;
}

static pl_code screening_rows(pl_draft *f)
{
    unsigned runs = f->s->arrangement.runs;
    int8_t *x = pl_screening(f->scratch, runs);

    if (!x && pl_screening_exists(runs))
        return pl_nomem(f->d);
    if (!x)
        return refuse_fraction(
            f, pl_arena_printf(f->scratch, "a screening of %u runs", runs),
            pl_arena_printf(f->scratch, "none is built here: %u runs", pl_screening_next(runs)));
    for (size_t t = 0; t < f->ntreatment; t++)
        for (size_t k = 0; k < f->s->nfactor; k++)
            f->levels[t * f->s->nfactor + k] = x[t * (runs - 1) + k] > 0;
    return PL_OK;
}

/* --------------------------------------------------------- curved surfaces -- */

/* Every factor in the middle. */
static int *middle(const pl_draft *f, size_t t)
{
    int *row = f->levels + t * f->s->nfactor;

    for (size_t k = 0; k < f->s->nfactor; k++)
        row[k] = (int)f->s->factors[k].nlevel / 2;
    return row;
}

/* Corners (the half of them from five factors on), points on the axes, the middle. */
static pl_code central_rows(pl_draft *f)
{
    unsigned k = (unsigned)f->s->nfactor, corners = pl_central_corners(k);
    int out = (int)f->s->factors[0].nlevel - 1, inside = out / 4; /* 5 levels: 1 and 3 */
    size_t t = 0;

    for (unsigned run = 0; run < corners; run++) {
        int *row = middle(f, t++);
        unsigned low = 0;

        for (unsigned i = 0; i < k; i++) {
            bool high = run >> i & 1;

            if (corners >> i == 1) /* follows the product of the others */
                high = low % 2 == 0;
            low += !high;
            row[i] = high ? out - inside : inside;
        }
    }
    for (unsigned i = 0; i < k; i++)
        for (int end = 0; end <= 1; end++)
            middle(f, t++)[i] = end ? out : 0;
    while (t < f->ntreatment)
        middle(f, t++);
    return PL_OK;
}

static pl_code box_behnken_rows(pl_draft *f)
{
    unsigned k = (unsigned)f->s->nfactor, set;
    size_t t = 0;

    for (unsigned s = 0; (set = pl_box_behnken_set(k, s)); s++)
        for (unsigned run = 0; run < 1u << (k >= 6 ? 3 : 2); run++) {
            int *row = middle(f, t++);
            unsigned bit = 0;

            for (unsigned i = 0; i < k; i++)
                if (set >> i & 1)
                    row[i] = run >> bit++ & 1 ? 2 : 0;
        }
    while (t < f->ntreatment)
        middle(f, t++);
    return PL_OK;
}

/* ------------------------------------------------------------------ rows -- */

static pl_code fill_rows(pl_draft *f)
{
    switch (f->s->arrangement.kind) {
    case PL_ARRANGE_FRACTION:
        return fraction_rows(f);
    case PL_ARRANGE_SCREENING:
        return screening_rows(f);
    case PL_ARRANGE_CENTRAL:
        return central_rows(f);
    case PL_ARRANGE_BOX_BEHNKEN:
        return box_behnken_rows(f);
    case PL_ARRANGE_OPTIMAL: /* chosen once boards have their sizes */
        for (size_t t = 0; t < f->ntreatment && f->with_board >= 0; t++)
            f->levels[t * f->s->nfactor + (size_t)f->with_board] = (int)(t / f->v);
        return PL_OK;
    default:
        meeting_rows(f);
        return PL_OK;
    }
}

static pl_code count_rows(pl_draft *f)
{
    if (!f->s->arrangement.runs)
        return f->s->napart ? count_meeting(f) : count_combinations(f);
    f->ntreatment = f->s->arrangement.runs;
    if (f->ntreatment > PL_PLAN_TREATMENTS_MOST)
        return too_many(f);
    return f->s->arrangement.kind == PL_ARRANGE_FRACTION ? find_fraction(f) : PL_OK;
}

static pl_code refuse_unequal(pl_draft *f)
{
    if (f->s->napart && !f->s->arrangement.runs)
        return pl_fail(
            f->d, PL_EUNFIT, pl_draft_where(f, "not_together"), .pointer = "/not_together",
            .found = pl_arena_printf(f->scratch, "unequally many combinations for each %s",
                                     f->s->factors[f->with_board].name),
            .expected = "equally many for each",
            .mend = "arrangement kind optimal chooses equally many for each");
    return refuse_fraction(f, "levels that come with the board unequally often",
                           "leave arrangement out");
}

/* Designs made of fixed combinations cannot leave some out. */
static pl_code check_meeting(pl_draft *f)
{
    size_t n = 0;

    for (size_t t = 0; t < f->ntreatment; t++)
        n += !pl_study_may_meet(f->s, f->levels + t * f->s->nfactor);
    if ((!n && !f->side) || !f->s->napart || f->s->arrangement.kind == PL_ARRANGE_OPTIMAL)
        return PL_OK;
    return pl_fail(
        f->d, PL_EUNFIT, pl_draft_where(f, "not_together"), .pointer = "/not_together",
        .found = n ? pl_arena_printf(f->scratch, "%zu of the %zu combinations of a %s may not meet",
                                     n, f->ntreatment, pl_arrangement_name(f->s->arrangement.kind))
                   : "combinations left out of a square",
        .mend = pl_arena_printf(f->scratch,
                                "arrangement kind optimal, runs %zu, chooses among "
                                "those that may",
                                f->ntreatment));
}

/* Groups of rows that differ in more than what comes with the board; each has v. */
static pl_code group_rows(pl_draft *f)
{
    size_t next[PL_PLAN_TREATMENTS_MOST] = { 0 };

    for (size_t t = 0; t < f->ntreatment; t++) {
        size_t g = 0;

        if (f->with_board >= 0)
            g = (size_t)f->levels[t * f->s->nfactor + (size_t)f->with_board];
        f->group_of[t] = g;
        f->local_of[t] = next[g]++;
        if (f->local_of[t] >= f->v)
            return refuse_unequal(f);
        f->row_of[g * f->v + f->local_of[t]] = t;
    }
    return PL_OK;
}

/* Levels of the one factor, or of each of two, that a square is made for. */
static size_t side_of(const pl_draft *f)
{
    pl_arrangement kind = f->s->arrangement.kind;

    for (size_t k = 0; k < f->s->nfactor; k++)
        if ((int)k != f->with_board &&
            (kind == PL_ARRANGE_LATIN || kind == PL_ARRANGE_GRAECO_LATIN))
            return f->s->factors[k].nlevel;
    return 0;
}

static pl_code check_square(pl_draft *f)
{
    if (f->s->arrangement.kind != PL_ARRANGE_GRAECO_LATIN || pl_graeco_exists((unsigned)f->side))
        return PL_OK;
    return refuse_fraction(
        f, pl_arena_printf(f->scratch, "a Graeco-Latin square of order %zu", f->side),
        f->side == 2 || f->side == 6
            ? "there is none: one level less or more"
            : pl_arena_printf(f->scratch, "none is built here: %zu or %zu levels", f->side - 1,
                              f->side + 1));
}

pl_code pl_draft_treatments(pl_draft *f)
{
    const pl_study *s = f->s;
    pl_code rc;

    f->pressed = pl_study_pressed(s);
    f->with_board = pl_study_with_board(s);
    f->ngroup = f->with_board >= 0 ? s->factors[f->with_board].nlevel : 1;
    f->side = side_of(f);
    rc = count_rows(f);
    if (!rc)
        rc = check_square(f);
    if (rc)
        return rc;
    f->v = f->ntreatment / f->ngroup;
    f->levels = pl_arena_get(f->a, f->ntreatment, s->nfactor * sizeof *f->levels);
    f->group_of = PL_NEWN(f->scratch, f->ntreatment, size_t);
    f->local_of = PL_NEWN(f->scratch, f->ntreatment, size_t);
    f->row_of = PL_NEWN(f->scratch, f->ntreatment, size_t);
    if (!f->levels || !f->group_of || !f->local_of || !f->row_of)
        return pl_nomem(f->d);
    rc = fill_rows(f);
    if (!rc)
        rc = check_meeting(f);
    if (!rc)
        rc = pl_draft_split_keys(f);
    return rc ? rc : group_rows(f);
}

size_t pl_draft_first_like(const pl_draft *f, size_t t)
{
    size_t n = f->s->nfactor, i = 0;

    if (!f->s->arrangement.centre && f->s->arrangement.kind != PL_ARRANGE_OPTIMAL)
        return t;
    while (memcmp(f->levels + i * n, f->levels + t * n, n * sizeof *f->levels))
        i++;
    return i;
}

const char *pl_draft_group(const pl_draft *f, size_t g)
{
    return f->with_board >= 0 ? f->s->factors[f->with_board].levels[g].text : "";
}

char *pl_draft_what(const pl_draft *f)
{
    const char **names = PL_NEWN(f->scratch, f->s->nfactor, const char *);
    size_t n = 0;
    char *list;

    if (!names)
        return NULL;
    for (size_t k = 0; k < f->s->nfactor; k++)
        if ((int)k != f->with_board && f->s->factors[k].nlevel > 1)
            names[n++] = f->s->factors[k].name;
    if (n > 2 && f->nx) /* named already, where the design is */
        return pl_arena_str(f->scratch, "combination");
    if (n == 1)
        return pl_arena_str(f->scratch, names[0]);
    list = pl_text_list(f->scratch, names, n, "and");
    if (!n || !list)
        return list;
    return pl_arena_printf(f->scratch, "combination of %s", list);
}
