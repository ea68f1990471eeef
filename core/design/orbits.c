/* The search over base blocks: points are exchanged one at a time, a move that is no worse is
 * taken, and the search begins anew when nothing gets better. Whole numbers only. */
#include "design/orbits.h"

#include <string.h>

#include "base/stream.h"
#include "design/field.h"

#define RESTART_AFTER                                                           \
    500 /* moves without a better state, times base blocks; tried: 500 to 40000 \
         */

typedef struct search {
    const pl_orbits *o;
    unsigned copies, nbase, lambda;
    uint8_t *minus_of; /* m x m: x - y */
    int32_t *count;    /* copies+fixed squared, times m: how often a difference occurs */
    uint16_t *base;    /* nbase x k points */
    bool *in;          /* nbase x v */
    long cost;
    pl_stream stream;
} search;

static unsigned copies_of(const pl_orbits *o)
{
    return (o->v - o->fixed) / o->m;
}

static unsigned short_blocks(const pl_orbits *o)
{
    return o->short_of ? o->m / o->short_of : 0;
}

/* Copies that a block holds which the group leaves where it is. */
static unsigned copies_held(const pl_orbits *o)
{
    return o->k / o->m;
}

static bool whole_fit(const pl_orbits *o)
{
    unsigned held = copies_held(o), left = o->k % o->m;

    if (!o->whole)
        return true;
    return !o->short_of && o->m > 1 && held && left <= o->fixed &&
           (o->whole == 1 ? held <= copies_of(o) : held == 1 && !left && o->whole <= copies_of(o));
}

bool pl_orbits_fit(const pl_orbits *o)
{
    unsigned rest = o->b - short_blocks(o) - o->whole;

    if (o->fixed > 1 || !o->m || (o->v - o->fixed) % o->m || o->b < short_blocks(o) + o->whole ||
        !whole_fit(o))
        return false;
    if (o->short_of && (copies_of(o) != 1 || o->m % o->short_of ||
                        (o->k != o->short_of && !(o->fixed && o->k == o->short_of + 1))))
        return false;
    if (o->field && !pl_field_prime_power(o->m, NULL, NULL))
        return false;
    /* A group of even order meets the pairs half its round apart twice at a time. */
    if (o->m % 2 == 0 && !o->short_of && o->b * o->k / o->v * (o->k - 1) / (o->v - 1) % 2)
        return false;
    return rest % o->m == 0 && rest / o->m > 0 && o->m <= PL_FIELD_MOST;
}

/* Point p: copy p / m, element p % m; the fixed point is the last. */
static bool is_fixed(const search *s, unsigned p)
{
    return p == s->copies * s->o->m;
}

/* Cell of the ordered pair (p, q). */
static int32_t *cell(const search *s, unsigned p, unsigned q)
{
    unsigned m = s->o->m, n = s->copies + s->o->fixed, i = p / m, j = q / m;
    unsigned d = is_fixed(s, p) || is_fixed(s, q) ? 0 : s->minus_of[q % m * m + p % m];

    return &s->count[(i * n + j) * m + d];
}

static long square(long x)
{
    return x * x;
}

/* Adds `by` for the ordered pair, keeping the cost. */
static void add(search *s, unsigned p, unsigned q, int by)
{
    int32_t *c = cell(s, p, q);

    s->cost -= square(*c - (long)s->lambda);
    *c += by;
    s->cost += square(*c - (long)s->lambda);
}

/* Counts point p against the others of a base block; slot: its place, left out. */
static void count_point(search *s, unsigned block, unsigned slot, unsigned p, int by)
{
    const uint16_t *b = s->base + (size_t)block * s->o->k;

    for (unsigned i = 0; i < s->o->k; i++)
        if (i != slot) {
            add(s, p, b[i], by);
            add(s, b[i], p, by);
        }
}

/* Differences that the short blocks cover: each of the subgroup once a coset, so as often as
 * the m / s blocks of one base block would, over m: once. */
static bool in_subgroup(const pl_orbits *o, unsigned d)
{
    return o->field ? d < o->short_of : d % (o->m / o->short_of) == 0;
}

static void count_short(search *s)
{
    const pl_orbits *o = s->o;

    for (unsigned d = 1; o->short_of && d < o->m; d++)
        if (in_subgroup(o, d))
            add(s, 0, d, 1); /* the ordered pair with this difference */
    if (o->short_of && o->k == o->short_of + 1) {
        add(s, 0, o->m, 1);
        add(s, o->m, 0, 1);
    }
}

/* Copies i and j of a block that stays: every two of their points once. */
static void count_whole(search *s)
{
    unsigned held = copies_held(s->o), m = s->o->m, per = s->o->whole == 1 ? held : 1;
    bool lone = s->o->k % m;

    for (unsigned w = 0; w < s->o->whole; w++)
        for (unsigned i = w; i < w + per; i++) {
            for (unsigned j = w; j < w + per; j++)
                for (unsigned d = 0; d < m; d++)
                    if (i != j || d)
                        add(s, i * m, j * m + d, 1);
            if (lone) {
                add(s, i * m, s->copies * m, 1);
                add(s, s->copies * m, i * m, 1);
            }
        }
}

/* All counts, and the cost: cells of a pair of points that differ only. */
static void open_counts(search *s)
{
    unsigned m = s->o->m, n = s->copies + s->o->fixed;

    memset(s->count, 0, (size_t)n * n * m * sizeof *s->count);
    s->cost = 0;
    for (unsigned i = 0; i < n; i++)
        for (unsigned j = 0; j < n; j++) {
            bool lone = s->o->fixed && (i == s->copies || j == s->copies);
            long cells = lone ? (i == j ? 0 : 1) : (long)m - (i == j);

            s->cost += cells * square((long)s->lambda);
        }
    count_short(s);
    count_whole(s);
    for (unsigned b = 0; b < s->nbase; b++)
        for (unsigned i = 0; i < s->o->k; i++)
            for (unsigned j = 0; j < s->o->k; j++)
                if (i != j)
                    add(s, s->base[(size_t)b * s->o->k + i], s->base[(size_t)b * s->o->k + j], 1);
}

static void draw_bases(search *s)
{
    unsigned v = s->o->v, k = s->o->k;

    memset(s->in, 0, (size_t)s->nbase * v);
    for (unsigned b = 0; b < s->nbase; b++)
        for (unsigned i = 0; i < k; i++) {
            unsigned p;

            do
                p = pl_stream_below(&s->stream, v);
            while (s->in[b * v + p]);
            s->in[b * v + p] = true;
            s->base[(size_t)b * k + i] = (uint16_t)p;
        }
    open_counts(s);
}

/* One move: a point of a base block gives way to another; taken back when it makes
 * things worse. */
static void try_move(search *s)
{
    unsigned v = s->o->v, k = s->o->k, b = pl_stream_below(&s->stream, s->nbase);
    unsigned slot = pl_stream_below(&s->stream, k), to;
    uint16_t *at = &s->base[(size_t)b * k + slot];
    unsigned from = *at;
    long before = s->cost;

    do
        to = pl_stream_below(&s->stream, v);
    while (s->in[b * v + to]);
    count_point(s, b, slot, from, -1);
    count_point(s, b, slot, to, 1);
    if (s->cost > before) {
        count_point(s, b, slot, to, -1);
        count_point(s, b, slot, from, 1);
        return;
    }
    *at = (uint16_t)to;
    s->in[b * v + from] = false;
    s->in[b * v + to] = true;
}

static bool run(search *s, pl_orbits *o)
{
    long best;
    size_t since = 0;

    draw_bases(s);
    for (best = s->cost; s->cost && o->moves < o->moves_most; o->moves++) {
        try_move(s);
        since++;
        if (s->cost < best) {
            best = s->cost;
            since = 0;
        }
        if (since > (size_t)RESTART_AFTER * s->nbase)
            return false;
    }
    return s->cost == 0;
}

/* The blocks: every base block moved by every element, then the cosets. */
static void write_blocks(const search *s, const uint8_t *sum, uint32_t *block)
{
    const pl_orbits *o = s->o;

    for (unsigned b = 0; b < s->nbase; b++)
        for (unsigned g = 0; g < o->m; g++)
            for (unsigned i = 0; i < o->k; i++) {
                unsigned p = s->base[(size_t)b * o->k + i];

                *block++ = is_fixed(s, p) ? p : p / o->m * o->m + sum[p % o->m * o->m + g];
            }
    for (unsigned w = 0; o->m && w < o->whole; w++)
        for (unsigned i = 0; i < o->k; i++) /* the fixed point is the last */
            *block++ = i / o->m < copies_held(o) ? w * o->m + i : s->copies * o->m;
    for (unsigned x = 0; x < o->m && o->short_of; x++) {
        bool first = true;

        for (unsigned d = 1; d < o->m; d++) /* x leads its coset when nothing before it is in it */
            first = first && (!in_subgroup(o, d) || sum[x * o->m + d] > x);
        for (unsigned d = 0; d < o->m && first; d++)
            if (in_subgroup(o, d))
                *block++ = sum[x * o->m + d];
        if (first && o->k == o->short_of + 1)
            *block++ = o->m;
    }
}

/* Tables of sums and differences of the group. */
static bool open_group(pl_arena *a, const pl_orbits *o, uint8_t *sum, uint8_t *minus)
{
    unsigned m = o->m;
    pl_field *f = o->field ? PL_NEW(a, pl_field) : NULL;

    if (o->field && (!f || !pl_field_init(f, m)))
        return false;
    for (unsigned x = 0; x < m; x++)
        for (unsigned y = 0; y < m; y++) {
            unsigned z = f ? f->add[x][y] : (x + y) % m;

            sum[x * m + y] = (uint8_t)z;
            minus[z * m + y] = (uint8_t)x;
        }
    return true;
}

bool pl_orbits_search(pl_arena *a, pl_orbits *o, uint32_t *block)
{
    pl_mark mark = pl_arena_mark(a);
    unsigned n = copies_of(o) + o->fixed;
    search s = { .o = o,
                 .copies = copies_of(o),
                 .nbase = (o->b - short_blocks(o) - o->whole) / o->m };
    uint8_t *sum = pl_arena_get(a, o->m, o->m);
    bool found = false;

    s.lambda = o->b * o->k / o->v * (o->k - 1) / (o->v - 1);
    s.minus_of = pl_arena_get(a, o->m, o->m);
    s.count = pl_arena_get(a, (size_t)n * n, o->m * sizeof *s.count);
    s.base = pl_arena_get(a, s.nbase, o->k * sizeof *s.base);
    s.in = pl_arena_get(a, s.nbase, o->v);
    o->moves = 0;
    if (sum && s.minus_of && s.count && s.base && s.in && open_group(a, o, sum, s.minus_of)) {
        pl_stream_init(&s.stream, o->seed, PL_FOR_PLACES, 0);
        while (!found && o->moves < o->moves_most)
            found = run(&s, o);
        if (found)
            write_blocks(&s, sum, block);
    }
    pl_arena_reset(a, mark);
    return found;
}
