/* Squares in a plan: boards are the rows, sessions the columns. In each group every square
 * has as many boards as levels, each board as many glue-ups, and each session one glue-up
 * of every board. */
#include "base/stream.h"
#include "design/draft.h"
#include "design/squares.h"

static bool paired(const pl_draft *f)
{
    return f->s->arrangement.kind == PL_ARRANGE_GRAECO_LATIN;
}

/* Squares of a group: a Latin one makes each treatment `side` times, a pair once. */
static size_t squares(const pl_draft *f)
{
    return paired(f) || !f->side ? f->n : f->n / f->side;
}

static pl_code refuse_boards(pl_draft *f, size_t g, size_t held)
{
    const char *name = pl_draft_group(f, g), *space = *name ? " " : "";

    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "boards"), .pointer = "/boards",
                   .found = pl_arena_printf(f->scratch, "%zu %s%sboards that hold %zu glue-ups",
                                            held, name, space, f->side),
                   .expected = pl_arena_printf(f->scratch, "%zu: a row of a square each",
                                               squares(f) * f->side),
                   .mend = "longer or more boards, fewer levels, or leave arrangement out");
}

pl_code pl_draft_square_boards(pl_draft *f)
{
    size_t from = f->d->count;

    if (!paired(f) && f->n % f->side)
        return pl_fail(
            f->d, PL_EUNFIT, pl_draft_where(f, "glue_ups_per_level"),
            .pointer = "/glue_ups_per_level",
            .found = pl_arena_printf(f->scratch, "%zu glue-ups per level", f->n),
            .expected = pl_arena_printf(f->scratch, "a multiple of %zu: whole squares", f->side));
    for (size_t g = 0; g < f->ngroup; g++) {
        size_t need = squares(f) * f->side, held = 0;

        for (size_t b = 0; b < f->nboard; b++) {
            pl_draft_board *board = &f->boards[b];
            size_t parcel;

            if (board->group != g || board->room < f->side)
                continue;
            if (held++ >= need)
                continue;
            board->size = f->side;
            parcel = pl_draft_add_parcel(f, g, 0);
            for (size_t i = 0; i < f->side; i++) /* which treatment: drawn with the sessions */
                pl_draft_add_unit(f, g, i, (int)b, parcel);
        }
        if (held < need)
            refuse_boards(f, g, held);
    }
    return pl_diags_code(f->d, from);
}

/* One square: rows are the units row * side.. from `first` on, columns sessions. */
static pl_code deal_one(pl_draft *f, pl_stream *stream, size_t first, size_t session)
{
    pl_mark mark = pl_arena_mark(f->scratch);
    size_t n = f->side;
    uint32_t *latin = pl_arena_get(f->scratch, n, n * sizeof *latin), *greek = NULL;
    bool drawn = latin != NULL;

    if (paired(f)) {
        greek = pl_arena_get(f->scratch, n, n * sizeof *greek);
        drawn = drawn && greek && pl_graeco_draw(f->scratch, (unsigned)n, stream, latin, greek);
    } else {
        drawn = drawn && pl_latin_draw(f->scratch, (unsigned)n, stream, latin);
    }
    if (!drawn)
        return pl_nomem(f->d);
    for (size_t row = 0; row < n; row++)
        for (size_t column = 0; column < n; column++) {
            pl_draft_unit *u = &f->units[first + row * n + column];

            u->local = greek ? latin[row * n + column] * n + greek[row * n + column]
                             : latin[row * n + column];
            u->treatment = f->row_of[u->group * f->v + u->local];
            u->session = session + column;
        }
    pl_arena_reset(f->scratch, mark);
    return PL_OK;
}

/* All squares with the sessions of square r of each group shared, or each apart. */
static pl_code deal_all(pl_draft *f, pl_stream *stream, bool shared)
{
    size_t each = squares(f), size = f->side * f->side;
    pl_code rc = PL_OK;

    f->nsession = (shared ? 1 : f->ngroup) * each * f->side;
    for (size_t g = 0; g < f->ngroup && !rc; g++)
        for (size_t r = 0; r < each && !rc; r++)
            rc = deal_one(f, stream, (g * each + r) * size,
                          ((shared ? 0 : g * each) + r) * f->side);
    return rc;
}

pl_code pl_draft_square_deal(pl_draft *f, pl_stream *stream)
{
    uint32_t *units;
    size_t *first;
    bool fits = false;
    pl_code rc = PL_OK;

    for (int way = f->ngroup > 1 ? 0 : 1; way < 2 && !fits && !rc; way++) {
        rc = deal_all(f, stream, way == 0);
        if (!rc && !pl_draft_by_session(f, &first, &units))
            return pl_nomem(f->d);
        fits = true;
        for (size_t k = 0; k < f->nsession && fits && !rc; k++)
            fits = pl_draft_session_fits(f, units + first[k], first[k + 1] - first[k], f->nslot);
    }
    if (rc || fits)
        return rc;
    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "times"), .pointer = "/times",
                   .found = pl_arena_printf(f->scratch,
                                            "a session too short for %zu glue-ups, one of each "
                                            "board",
                                            f->side),
                   .expected = "sessions that hold a column of the square",
                   .mend = "lengthen the session, add a station, or list fewer levels");
}
