/* Central composite designs in blocks: the corners in one or two, the points on the axes in one
 * more, each with runs in the middle and on a board of its own (without boards: in a session). The
 * axial distance makes the blocks drop out (study/second_order.h). */
#include "base/text.h"
#include "design/draft.h"
#include "study/second_order.h"

/* Block of row t: rows are corners, points on the axes, the middle of each block in turn. */
static size_t block_of(const pl_draft *f, size_t t)
{
    const pl_arrange *g = &f->s->arrangement;
    unsigned k = (unsigned)f->s->nfactor, word = pl_central_block_word(k);
    size_t corners = pl_central_corners(k), each = (g->centre - g->centre_axes) / g->corner_blocks;
    size_t high = f->s->factors[0].nlevel / 2, at;

    if (t < corners) {
        bool odd = false;

        for (unsigned i = 0; i < k; i++)
            odd ^= (word >> i & 1) && (size_t)f->levels[t * k + i] > high;
        return odd;
    }
    if (t < corners + 2 * k)
        return g->corner_blocks;
    at = (t - corners - 2 * k) / each;
    return at < g->corner_blocks ? at : g->corner_blocks;
}

static size_t size_of(const pl_draft *f, size_t block)
{
    size_t size = 0;

    for (size_t t = 0; t < f->ntreatment; t++)
        size += block_of(f, t) == block;
    return size;
}

/* The shortest board with room that has nothing yet; -1: none. */
static int free_board(const pl_draft *f, size_t size)
{
    int best = -1;

    for (size_t b = 0; b < f->nboard; b++)
        if (!f->boards[b].size && f->boards[b].room >= size &&
            (best < 0 || f->boards[b].room < f->boards[best].room))
            best = (int)b;
    return best;
}

static pl_code refuse(pl_draft *f)
{
    size_t most = 0, blocks = f->s->arrangement.corner_blocks + 1;

    for (size_t k = 0; k < blocks; k++)
        most = size_of(f, k) > most ? size_of(f, k) : most;
    return pl_fail(
        f->d, PL_EUNFIT, pl_draft_where(f, "boards"), .pointer = "/boards",
        .found = pl_arena_printf(f->scratch, "boards for fewer than %zu blocks", blocks * f->n),
        .expected = pl_arena_printf(f->scratch,
                                    "%zu boards that hold up to %zu glue-ups, one a block",
                                    blocks * f->n, most),
        .mend = "longer or more boards, fewer middle runs, or another axial");
}

pl_code pl_draft_central_boards(pl_draft *f)
{
    size_t blocks = f->s->arrangement.corner_blocks + 1;

    f->complete = false;
    for (size_t r = 0; r < f->n; r++)
        for (size_t k = 0; k < blocks; k++) {
            size_t size = size_of(f, k), parcel = pl_draft_add_parcel(f, 0, r);
            int board = f->have_boards ? free_board(f, size) : -1;

            if (f->have_boards && board < 0)
                return refuse(f);
            if (board >= 0)
                f->boards[board].size = size;
            for (size_t t = 0; t < f->ntreatment; t++)
                if (block_of(f, t) == k)
                    pl_draft_add_unit(f, 0, f->local_of[t], board, parcel);
        }
    return PL_OK;
}
