/* The randomisation test: exact counts of published experiments, the drawn share against the
 * counted one, the fast way against the plain one, threads, false alarms.
 *
 * tests/reference/worked/randomisation.json names each record's source. */
#include <gsl/gsl_errno.h>

#ifdef _OPENMP
#include <omp.h>
#endif

#include "base/stream.h"
#include "fit/randomise.h"
#include "null.h"
#include "reference/worked/worked.h"
#include "support.h"

#define MOST 64

typedef struct made {
    pl_arranged x;
    double y[MOST];
    size_t level[MOST], block[MOST];
} made;

static void add(made *m, double y, size_t level, size_t block)
{
    size_t n = m->x.n++;

    assert_true(n < MOST);
    m->y[n] = y;
    m->level[n] = level;
    m->block[n] = block;
    m->x.nlevel = level + 1 > m->x.nlevel ? level + 1 : m->x.nlevel;
    m->x.nblock = block + 1 > m->x.nblock ? block + 1 : m->x.nblock;
    m->x.y = m->y;
    m->x.level = m->level;
    m->x.block = m->block;
}

static void add_list(made *m, const pl_json *list, size_t level)
{
    for (const pl_json *v = list->child; v; v = v->next)
        add(m, v->number, level, 0);
}

static void test_worked(void **state)
{
    bench *b = *state;
    size_t done = 0;

    for (const pl_json *r = worked_list(b, "randomisation.json")->child; r; r = r->next) {
        const pl_json *in = pl_json_get(r, "inputs"), *list = pl_json_get(in, "differences");
        made m = { 0 };
        pl_drawn_again out;
        size_t pair = 0;

        if (!worked_in(r, "paired") && !worked_in(r, "two"))
            continue;
        for (const pl_json *v = list ? list->child : NULL; v; v = v->next, pair++) {
            add(&m, v->number, 0, pair);
            add(&m, 0, 1, pair);
        }
        if (!list) {
            list = pl_json_get(in, "A");
            add_list(&m, list ? list : pl_json_get(in, "modified"), 0);
            list = pl_json_get(in, "B");
            add_list(&m, list ? list : pl_json_get(in, "unmodified"), 1);
        }
        assert_ok(b, pl_randomise(b->a, &m.x, 99, 1, &out, &b->d));
        assert_true(out.all);
        assert_true((double)out.draws == worked_expected(r, "total"));
        assert_true((double)out.as_far == worked_expected(r, "count_two_sided_ge"));
        assert_true(fabs(out.p - worked_expected(r, "p_two_sided")) < 1e-13);
        done++;
    }
    assert_int_equal(done, 3);
}

static void fill(made *m, size_t k, size_t nblock, double by, pl_stream *s)
{
    *m = (made){ 0 };
    for (size_t j = 0; j < nblock; j++)
        for (size_t i = 0; i < k; i++)
            add(m, by * (double)i + pl_stream_normal(s), i, j);
}

static const size_t three[6][3] = { { 0, 1, 2 }, { 0, 2, 1 }, { 1, 0, 2 },
                                    { 1, 2, 0 }, { 2, 0, 1 }, { 2, 1, 0 } };

/* Order of the blocks from the second on: digits of n in base 6; the first stays. */
static double squared_totals(const made *m, size_t n)
{
    double t[3] = { m->y[0], m->y[1], m->y[2] };

    for (size_t b = 1; b < 7; b++, n /= 6)
        for (size_t i = 0; i < 3; i++)
            t[i] += m->y[3 * b + three[n % 6][i]];
    return t[0] * t[0] + t[1] * t[1] + t[2] * t[2];
}

/* Three levels in seven blocks: 6^7 orders are too many to be counted there; the first block's
 * are all alike, so the 6^6 others counted here are the whole. */
static double share_of_all(const made *m)
{
    const size_t all = 46656;
    size_t far = 0;

    for (size_t n = 0; n < all; n++)
        far += squared_totals(m, n) >= squared_totals(m, 0) * (1 - 1e-12);
    return (double)far / (double)all;
}

static void test_drawn(void **state)
{
    bench *b = *state;
    pl_stream s;

    pl_stream_init(&s, 3, PL_FOR_TEST, 1);
    for (int turn = 0; turn < 3; turn++) {
        made m;
        pl_drawn_again fast, plain;
        double p, error;

        fill(&m, 3, 7, 0.4 * turn, &s);
        p = share_of_all(&m);
        error = 4 * sqrt(p * (1 - p) / 200000) + 1e-5;
        assert_ok(b, pl_randomise(b->a, &m.x, 200000, 5, &fast, &b->d));
        assert_false(fast.all);
        assert_true(fabs(fast.p - p) <= error);
        /* one unit more, alone in a block: it changes no sum of squares, but the layout is no
         * longer complete */
        add(&m, 4, 0, 7);
        assert_ok(b, pl_randomise(b->a, &m.x, 200000, 5, &plain, &b->d));
        assert_true(fabs(plain.p - p) <= error);
        assert_true(fabs(plain.ss - fast.ss) <= 1e-12 * fast.ss);
        assert_true(fast.as_far != plain.as_far || p == 1); /* two ways, two streams */
    }
}

/* Lost joints: sum of squares and share of all arrangements by GNU R 4.2.2,
 * tests/fit/randomisation.R. */
static void test_uneven(void **state)
{
    bench *b = *state;
    static const double y[] = { 9.1, 9.7, 10.5, 8.2, 10.2, 7.6, 9.8, 9.4, 8.8, 10.3,
                                9.9, 9.9, 9.9,  9.4, 10.7, 8.9, 9.5, 9.7, 9.0, 9.6 };
    static const size_t level[] = { 0, 1, 2, 0, 1, 3, 2, 1, 0, 3, 1, 0, 2, 0, 3, 0, 1, 2, 0, 3 };
    static const size_t block[] = { 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5, 5, 5 };
    const double share = 42378.0 / 373248;
    made m = { 0 };
    pl_drawn_again out;

    for (size_t i = 0; i < sizeof y / sizeof *y; i++)
        add(&m, y[i], level[i], block[i]);
    assert_ok(b, pl_randomise(b->a, &m.x, 1000000, 11, &out, &b->d));
    assert_false(out.all);
    assert_true(fabs(out.ss - 3.44832275611966) < 1e-12);
    assert_true(fabs(out.p - share) < 4 * sqrt(share * (1 - share) / 1e6) + 1e-6);
}

static void test_threads(void **state)
{
    bench *b = *state;
    pl_stream s;
    made m;

    pl_stream_init(&s, 3, PL_FOR_TEST, 2);
    fill(&m, 8, 6, 0.1, &s);
    for (int extra = 0; extra < 2; extra++) {
        pl_drawn_again one, four;

        if (extra)
            add(&m, 3, 2, 0);
#ifdef _OPENMP
        omp_set_num_threads(1);
#endif
        assert_ok(b, pl_randomise(b->a, &m.x, 100001, 9, &one, &b->d));
#ifdef _OPENMP
        omp_set_num_threads(4);
#endif
        assert_ok(b, pl_randomise(b->a, &m.x, 100001, 9, &four, &b->d));
        assert_true(one.as_far == four.as_far && one.as_far > 0 && one.as_far < 100001);
    }
}

/* Batches of words are the stream's words. */
static void test_words(void **state)
{
    uint32_t words[128];
    pl_stream s;

    (void)state;
    pl_stream_init(&s, 123456789012345, PL_FOR_RANDOMISE, 77);
    for (uint32_t first = 0; first < 64; first += 32) {
        pl_stream_words(123456789012345, PL_FOR_RANDOMISE, 77, first, words, 32);
        for (size_t i = 0; i < 128; i++)
            assert_true(words[i] == pl_stream_word(&s));
    }
}

static void test_nothing_to_draw(void **state)
{
    bench *b = *state;
    made m = { 0 };
    pl_drawn_again out;

    for (size_t i = 0; i < 8; i++)
        add(&m, (double)i, i / 4, i / 2);
    assert_int_equal(pl_randomise(b->a, &m.x, 99, 1, &out, &b->d), PL_EDATA);
}

/* Nothing is there to be found. Without ties p of 5 % and less comes exactly as often as places at
 * the far end make it: 5 of 100 of 99 draws; of 216 arrangements, which come in sixes, 6 of 216.
 * With ties less often. Held to 4 Monte Carlo errors. */
static void false_alarms(bench *b, const char *what, size_t k, size_t nblock, double round_to,
                         double exact)
{
    const int experiments = getenv("PLATEN_LONG") ? 20000 : 2000;
    const double error = 4 * sqrt(exact * (1 - exact) * experiments);
    int alarms = 0;
    pl_stream s;

    pl_stream_init(&s, 2026, PL_FOR_TEST, 31);
    for (int e = 0; e < experiments; e++) {
        pl_mark mark = pl_arena_mark(b->a);
        pl_drawn_again out;
        made m;

        fill(&m, k, nblock, 0, &s);
        for (size_t i = 0; i < m.x.n && round_to > 0; i++)
            m.y[i] = nearbyint(m.y[i] / round_to) * round_to;
        assert_ok(b, pl_randomise(b->a, &m.x, 99, (uint64_t)e, &out, &b->d));
        alarms += out.p <= 0.05;
        pl_arena_reset(b->a, mark);
    }
    null_rate(exact < 0.05 || round_to > 0 ? NULL_DISCRETE : NULL_EXACT, what, alarms, experiments);
    assert_true(alarms <= exact * experiments + error);
    if (round_to <= 0)
        assert_true(alarms >= exact * experiments - error);
}

static void test_null(void **state)
{
    bench *b = *state;

    false_alarms(b, "all 216 of 3 levels x 3 blocks", 3, 3, 0, 6.0 / 216);
    false_alarms(b, "99 drawn, 4 levels x 6 blocks", 4, 6, 0, 0.05);
    false_alarms(b, "the same, readings with many ties", 4, 6, 1, 0.05);
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_worked),         TEST(test_drawn),
                                        TEST(test_uneven),         TEST(test_threads),
                                        TEST(test_words),          TEST(test_null),
                                        TEST(test_nothing_to_draw) };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
