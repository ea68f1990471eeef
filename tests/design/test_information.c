/* Efficiency factors, their bound and degrees of freedom. */
#include "design/information.h"

#include "support.h"

#include "base/stream.h"

/* Layout with one kind of block, `size` units in each, treatments from 0. */
static pl_layout blocks_of(bench *b, const size_t *treatment, size_t nblock, size_t size, size_t v)
{
    size_t *block = PL_NEWN(b->a, nblock * size, size_t);

    for (size_t i = 0; i < nblock * size; i++)
        block[i] = i / size;
    return (pl_layout){ .nunit = nblock * size,
                        .ngroup = 1,
                        .v = v,
                        .treatment = treatment,
                        .nkind = 1,
                        .block = { block },
                        .nblock = { nblock } };
}

/* A square lattice of k x k treatments in r sets of blocks: rows, columns, then
 * the lines j + m i of a Latin square of prime order k. */
static size_t *lattice(bench *b, size_t k, size_t r)
{
    size_t *t = PL_NEWN(b->a, r * k * k, size_t), u = 0;

    for (size_t set = 0; set < r; set++)
        for (size_t line = 0; line < k; line++)
            for (size_t i = 0; i < k; i++) {
                size_t m = set ? set - 1 : 0, j = (line + m * i) % k;

                t[u++] = set ? i * k + j : line * k + i;
            }
    return t;
}

/* Square lattices: average efficiency (k + 1)(r - 1) / ((k + 1)(r - 1) + r); Yates
 * 1936, J. Agric. Sci. 26:424. Figures: worked/designs.json, lattice-eff (there
 * recomputed from eigenvalues); 7-8 is the balanced one. */
static void test_lattices(void **state)
{
    static const struct {
        size_t k, r;
        double num, den;
    } cases[] = { { 3, 2, 2, 3 },   { 3, 4, 3, 4 }, { 5, 3, 4, 5 },
                  { 5, 5, 24, 29 }, { 7, 2, 4, 5 }, { 7, 8, 7, 8 } };
    bench *b = *state;
    pl_information in;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        size_t k = cases[i].k, r = cases[i].r;
        pl_layout l = blocks_of(b, lattice(b, k, r), r * k, k, k * k);
        double e, bound, v = (double)(k * k);

        assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
        assert_ok(b, pl_information_efficiency(b->a, &in, 0, (double)r, &e, &b->d));
        assert_rel("lattice", e, cases[i].num / cases[i].den, 1e-12);
        assert_ok(b, pl_layout_bound(b->a, &l, 0, (double)r, &bound, &b->d));
        /* Kempthorne 1956: v(k - 1) / (k(v - 1)) */
        assert_rel("bound", bound, v * (double)(k - 1) / ((double)k * (v - 1)), 1e-12);
        assert_true(e <= bound + 1e-12);
    }
}

/* Values: tests/reference/design/layout.R, by eigenvalues and QR. */
static void test_boards_and_sessions(void **state)
{
    static const size_t treatment[] = { 0, 1, 2, 3, 1, 2, 4, 0, 3, 4, 0, 1, 4, 2, 3,
                                        4, 0, 2, 1, 3, 5, 6, 7, 8, 9, 5, 6, 7, 8, 9 };
    static const size_t board[] = { 0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3, 3, 4,
                                    4, 5, 5, 5, 5, 6, 6, 6, 6, 6, 7, 7, 7, 7, 7 };
    static const size_t session[] = { 0, 0, 1, 1, 0, 1, 1, 0, 0, 1, 1, 2, 2, 0, 2,
                                      2, 2, 0, 1, 2, 0, 1, 2, 0, 1, 2, 0, 1, 2, 2 };
    pl_layout l = { .nunit = 30,
                    .ngroup = 2,
                    .v = 5,
                    .treatment = treatment,
                    .nkind = 2,
                    .block = { board, session },
                    .nblock = { 8, 3 } };
    bench *b = *state;
    pl_information in;
    double e;
    size_t df;

    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    assert_ok(b, pl_information_efficiency(b->a, &in, 0, 4, &e, &b->d));
    assert_rel("group 1", e, 0.79413345990129391, 1e-12);
    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    assert_ok(b, pl_information_efficiency(b->a, &in, 1, 2, &e, &b->d));
    assert_rel("group 2", e, 0.93879792577636878, 1e-12);
    assert_ok(b, pl_information_df(b->a, &in, &df, &b->d));
    assert_int_equal(df, 12);
}

/* All of a crossed layout by elimination of the whole table: the definition, for the one below. */
static double whole_table(bench *b, const pl_layout *l, size_t *rank)
{
    size_t p = l->nblock[0] + l->nblock[1] + l->v, from = p - l->v;
    double *m = pl_arena_get(b->a, p, p * sizeof *m), product = 1;

    for (size_t u = 0; u < l->nunit; u++) {
        size_t at[] = { l->block[0][u], l->nblock[0] + l->block[1][u], from + l->treatment[u] };

        for (size_t i = 0; i < 3; i++)
            for (size_t j = 0; j < 3; j++)
                m[at[i] * p + at[j]] += 1;
    }
    *rank = 0;
    for (size_t k = 0; k + 1 < p; k++) { /* the last treatment is told by the others */
        double pivot = m[k * p + k];

        if (pivot < 1e-7)
            continue;
        (*rank)++;
        product *= k >= from ? pivot : 1;
        for (size_t i = 0; i + 1 < p; i++) {
            double share = m[i * p + k] / pivot;

            for (size_t j = 0; i != k && share != 0 && j < p; j++)
                m[i * p + j] -= share * m[k * p + j];
        }
    }
    return product; /* of the treatments' pivots: the determinant of what blocks leave of them */
}

/* More boards and sessions than one elimination takes: the same information to 1e-10 of the
 * counts. Boards of 5, sessions of 4, in random order. */
static void test_many_blocks(void **state)
{
    enum { UNITS = 1320, V = 3 };
    bench *b = *state;
    size_t *t = PL_NEWN(b->a, UNITS, size_t), *board = PL_NEWN(b->a, UNITS, size_t);
    size_t *session = PL_NEWN(b->a, UNITS, size_t), rank, df;
    uint32_t *order = PL_NEWN(b->a, UNITS, uint32_t);
    double wanted;
    pl_information in;
    pl_stream stream;
    pl_layout l = { .nunit = UNITS, .ngroup = 1, .v = V, .treatment = t, .nkind = 2 };

    for (size_t i = 0; i < UNITS; i++)
        order[i] = (uint32_t)i;
    pl_stream_init(&stream, 3, PL_FOR_TEST, 0);
    pl_stream_shuffle(&stream, order, UNITS);
    for (size_t i = 0; i < UNITS; i++) {
        t[i] = order[i] % V;
        board[i] = i / 4;
        session[i] = order[i] / 4;
    }
    l.block[0] = board;
    l.block[1] = session;
    l.nblock[0] = l.nblock[1] = UNITS / 4;
    assert_true(l.nblock[1] > PL_INFORMATION_DENSE);
    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    wanted = whole_table(b, &l, &rank);
    assert_ok(b, pl_information_df(b->a, &in, &df, &b->d));
    assert_int_equal(df, UNITS - rank);
    assert_rel("determinant", in.c[0] * in.c[4] - in.c[1] * in.c[3], wanted, 1e-10);
    for (size_t i = 0; i < V; i++)
        assert_abs("rows sum to 0", in.c[i * V] + in.c[i * V + 1] + in.c[i * V + 2], 0, 1e-9);
}

/* Two boards that share no treatment compare nothing between them. */
static void test_unlinked(void **state)
{
    static const size_t treatment[] = { 0, 1, 0, 1, 2, 3, 2, 3 };
    bench *b = *state;
    pl_information in;
    pl_layout l = blocks_of(b, treatment, 2, 4, 4);
    double e;
    size_t df;

    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    assert_ok(b, pl_information_efficiency(b->a, &in, 0, 2, &e, &b->d));
    assert_true(e == 0);
    assert_ok(b, pl_information_df(b->a, &in, &df, &b->d));
    assert_int_equal(df, 4); /* 8 units; 4 treatments tell the boards too */
}

/* One block of everything takes nothing away; a single treatment has no
 * differences. */
static void test_ends(void **state)
{
    static const size_t treatment[] = { 0, 1, 2, 0, 1, 2 };
    bench *b = *state;
    pl_information in;
    pl_layout l = blocks_of(b, treatment, 1, 6, 3);
    double e, bound;

    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    assert_ok(b, pl_information_efficiency(b->a, &in, 0, 2, &e, &b->d));
    assert_rel("no blocks", e, 1, 1e-14);
    assert_ok(b, pl_layout_bound(b->a, &l, 0, 2, &bound, &b->d));
    assert_true(bound == 1);
    l.v = 1;
    l.treatment = (size_t[]){ 0, 0, 0, 0, 0, 0 };
    assert_ok(b, pl_layout_information(b->a, &l, &in, &b->d));
    assert_ok(b, pl_information_efficiency(b->a, &in, 0, 6, &e, &b->d));
    assert_ok(b, pl_layout_bound(b->a, &l, 0, 6, &bound, &b->d));
    assert_true(isnan(e) && isnan(bound));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_lattices),    TEST(test_boards_and_sessions),
        TEST(test_many_blocks), TEST(test_unlinked),
        TEST(test_ends),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
