/* Squares built and drawn. Which boards and sessions they lie on is decided elsewhere. */
#include "design/squares.h"

#include <string.h>

#include "design/field.h"

/* -------------------------------------------------------------- building -- */

static bool three_more(unsigned n)
{
    return n >= 10 && n % 3 == 1 && (n - 1) / 3 % 2 && pl_graeco_exists((n - 1) / 3);
}

bool pl_graeco_exists(unsigned n)
{
    if (n == 1)
        return true;
    if (n < 3 || n > PL_SQUARE_MOST)
        return false;
    return n % 4 != 2 || three_more(n);
}

/* Prime power: x + y and x + g y with g not 0 or 1. */
static bool by_field(pl_arena *a, unsigned n, uint32_t *latin, uint32_t *greek)
{
    pl_field *f = PL_NEW(a, pl_field);

    if (!f || !pl_field_init(f, n))
        return false;
    for (unsigned x = 0; x < n; x++)
        for (unsigned y = 0; y < n; y++) {
            latin[x * n + y] = f->add[x][y];
            greek[x * n + y] = f->add[x][f->mul[2][y]]; /* 2: neither zero nor one */
        }
    return true;
}

/* Product of the pairs of orders p and n / p. */
static bool by_product(pl_arena *a, unsigned n, unsigned p, uint32_t *latin, uint32_t *greek)
{
    unsigned r = n / p;
    uint32_t *square[4];

    for (unsigned i = 0; i < 4; i++) {
        unsigned side = i < 2 ? p : r;

        square[i] = pl_arena_get(a, side, side * sizeof(uint32_t));
        if (!square[i])
            return false;
    }
    if (!pl_graeco(a, p, square[0], square[1]) || !pl_graeco(a, r, square[2], square[3]))
        return false;
    for (unsigned x = 0; x < n; x++)
        for (unsigned y = 0; y < n; y++) {
            unsigned at = x / r * p + y / r, in = x % r * r + y % r;

            latin[x * n + y] = square[0][at] * r + square[2][in];
            greek[x * n + y] = square[1][at] * r + square[3][in];
        }
    return true;
}

/* Bose, Shrikhande & Parker: blocks (0 i c(i) x), their four turns, all differences modulo
 * 2m + 1, the points on the diagonal, and a pair of order m on the m letters at infinity. */
static bool by_differences(pl_arena *a, unsigned n, uint32_t *latin, uint32_t *greek)
{
    static const unsigned turn[4][4] = {
        { 0, 1, 2, 3 }, { 1, 0, 3, 2 }, { 2, 3, 0, 1 }, { 3, 2, 1, 0 }
    };
    unsigned m = (n - 1) / 3, g = 2 * m + 1;
    uint32_t *small[2];

    small[0] = pl_arena_get(a, m, m * sizeof(uint32_t));
    small[1] = pl_arena_get(a, m, m * sizeof(uint32_t));
    if (!small[0] || !small[1] || !pl_graeco(a, m, small[0], small[1]))
        return false;
    for (unsigned s = 0; s < g; s++) {
        latin[s * n + s] = greek[s * n + s] = s;
        for (unsigned i = 1; i <= m; i++)
            for (unsigned k = 0; k < 4; k++) {
                unsigned block[4] = { s, (i + s) % g, (g - i + s) % g, g + i - 1 };
                unsigned x = block[turn[k][0]], y = block[turn[k][1]];

                latin[x * n + y] = block[turn[k][2]];
                greek[x * n + y] = block[turn[k][3]];
            }
    }
    for (unsigned x = 0; x < m; x++)
        for (unsigned y = 0; y < m; y++) {
            latin[(g + x) * n + g + y] = g + small[0][x * m + y];
            greek[(g + x) * n + g + y] = g + small[1][x * m + y];
        }
    return true;
}

bool pl_graeco(pl_arena *a, unsigned n, uint32_t *latin, uint32_t *greek)
{
    unsigned p = 2, power = 1;

    if (!pl_graeco_exists(n))
        return false;
    if (n == 1) {
        latin[0] = greek[0] = 0;
        return true;
    }
    if (pl_field_prime_power(n, NULL, NULL))
        return by_field(a, n, latin, greek);
    if (n % 4 == 2)
        return by_differences(a, n, latin, greek);
    while (n % p)
        p++;
    while (n / power % p == 0)
        power *= p;
    return by_product(a, n, power, latin, greek);
}

/* --------------------------------------------------------------- drawing -- */

static bool shuffled(pl_arena *a, unsigned n, pl_stream *stream, uint32_t **out)
{
    *out = PL_NEWN(a, n, uint32_t);
    for (unsigned i = 0; *out && i < n; i++)
        (*out)[i] = i;
    if (*out)
        pl_stream_shuffle(stream, *out, n);
    return *out != NULL;
}

static bool relabel(pl_arena *a, unsigned n, pl_stream *stream, uint32_t *latin, uint32_t *greek)
{
    uint32_t *row, *column, *letter, *other, *old = pl_arena_get(a, 2 * n, n * sizeof *old);

    if (!old || !shuffled(a, n, stream, &row) || !shuffled(a, n, stream, &column) ||
        !shuffled(a, n, stream, &letter) || !shuffled(a, n, stream, &other))
        return false;
    memcpy(old, latin, (size_t)n * n * sizeof *old);
    if (greek)
        memcpy(old + n * n, greek, (size_t)n * n * sizeof *old);
    for (unsigned x = 0; x < n; x++)
        for (unsigned y = 0; y < n; y++) {
            unsigned from = row[x] * n + column[y];

            latin[x * n + y] = letter[old[from]];
            if (greek)
                greek[x * n + y] = other[old[n * n + from]];
        }
    return true;
}

bool pl_graeco_draw(pl_arena *a, unsigned order, pl_stream *stream, uint32_t *latin,
                    uint32_t *greek)
{
    return pl_graeco(a, order, latin, greek) && relabel(a, order, stream, latin, greek);
}

/* The square as a cube of counts: cell (row, column, letter); one of them may be -1. */
typedef struct walk {
    unsigned n;
    int8_t *cube;
    bool proper;
    unsigned bad[3]; /* the cell of -1 */
} walk;

static int8_t *cell(const walk *w, unsigned r, unsigned c, unsigned l)
{
    return &w->cube[(r * w->n + c) * w->n + l];
}

/* Place along one line of the cube where a 1 stands; `pick` of the two where there are. */
static unsigned one_along(const walk *w, const unsigned *at, unsigned axis, unsigned pick)
{
    unsigned x[3] = { at[0], at[1], at[2] }, last = 0;

    for (x[axis] = 0; x[axis] < w->n; x[axis]++)
        if (*cell(w, x[0], x[1], x[2]) == 1) {
            last = x[axis];
            if (!pick--)
                break;
        }
    return last;
}

static void step(walk *w, pl_stream *stream)
{
    unsigned at[3], to[3];

    if (w->proper)
        do
            for (unsigned k = 0; k < 3; k++)
                at[k] = pl_stream_below(stream, w->n);
        while (*cell(w, at[0], at[1], at[2]) != 0);
    else
        memcpy(at, w->bad, sizeof at);
    for (unsigned k = 0; k < 3; k++)
        to[k] = one_along(w, at, k, w->proper ? 0 : pl_stream_below(stream, 2));
    for (unsigned k = 0; k < 8; k++) { /* + where an even number of places changes */
        unsigned r = k & 1 ? to[0] : at[0], c = k & 2 ? to[1] : at[1], l = k & 4 ? to[2] : at[2];

        *cell(w, r, c, l) = (int8_t)(*cell(w, r, c, l) + (__builtin_popcount(k) % 2 ? -1 : 1));
    }
    memcpy(w->bad, to, sizeof w->bad);
    w->proper = *cell(w, to[0], to[1], to[2]) >= 0;
}

bool pl_latin_draw(pl_arena *a, unsigned n, pl_stream *stream, uint32_t *latin)
{
    walk w = { .n = n, .cube = pl_arena_get(a, (size_t)n * n, n), .proper = true };

    if (!w.cube)
        return false;
    for (unsigned r = 0; r < n; r++)
        for (unsigned c = 0; c < n; c++)
            *cell(&w, r, c, (r + c) % n) = 1;
    for (unsigned left = n > 2 ? 4 * n * n * n : 0; left; left -= w.proper)
        step(&w, stream);
    for (unsigned r = 0; r < n; r++)
        for (unsigned c = 0; c < n; c++)
            for (unsigned l = 0; l < n; l++)
                if (*cell(&w, r, c, l) == 1)
                    latin[r * n + c] = l;
    return relabel(a, n, stream, latin, NULL);
}
