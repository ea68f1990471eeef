/* Differences tried out on drawn joints: against exact power, by sums and joint by joint, against R
 * where theory has no number, for any number of threads. */
#include <gsl/gsl_errno.h>
#include <math.h>

#ifdef _OPENMP
#include <omp.h>
#endif

#include "size/drawn.h"
#include "support.h"

static pl_size_question asked(unsigned levels, double apart, double sd, unsigned block)
{
    pl_size_question q;

    pl_size_question_init(&q);
    q.levels = levels;
    q.worth_noticing = apart;
    q.relative = true;
    q.sd = sd;
    q.block_size = block;
    q.glue_ups_per_level = 6;
    return q;
}

static const pl_drawn_answer *drawn(bench *b, const pl_size_question *q, pl_drawn_scatter scatter,
                                    bool each, uint64_t draws)
{
    const pl_size_answer *w = NULL;
    pl_drawn_question d = { q, scatter, each, draws, 7 };
    pl_drawn_answer *out = NULL;

    assert_ok(b, pl_size_find(b->a, q, &w, &b->d));
    assert_ok(b, pl_drawn_size(b->a, &d, w, NULL, NULL, &out, &b->d));
    return out;
}

static const pl_drawn_row *row_of(const pl_drawn_answer *a, unsigned n)
{
    for (size_t i = 0; i < a->nrow; i++)
        if (a->rows[i].glue_ups_per_level == n)
            return &a->rows[i];
    fail();
    return NULL;
}

/* 40,000 draws tell 0.25 % (one standard error). Some 200 chances are looked at with one seed, so
 * 4 standard errors: one beyond them in 16,000. */
static void near_exact(const pl_drawn_answer *a)
{
    for (size_t i = 0; i < a->nrow; i++)
        for (int t = 0; t < PL_NSIZE_TESTS; t++)
            assert_abs("chance", pl_drawn_chance(&a->rows[i], (pl_size_test)t), a->rows[i].exact[t],
                       4 * pl_drawn_mc_se(&a->rows[i], (pl_size_test)t));
}

static void test_against_theory(void **state)
{
    bench *b = *state;
    static const unsigned levels[] = { 2, 3, 8 };

    for (size_t i = 0; i < 3; i++)
        for (int blocks = 0; blocks < 2; blocks++)
            for (int each = 0; each < 2; each++) {
                pl_size_question q = asked(levels[i], 0.15, 0.1, blocks ? levels[i] : 0);

                near_exact(drawn(b, &q, PL_DRAWN_ALIKE, each, 40000));
            }
}

/* Scatter that grows with strength, by level means and three chi-squares against every joint. */
static void test_sums_and_joints(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(4, 0.6, 0.25, 0);
    const pl_drawn_answer *sums = drawn(b, &q, PL_DRAWN_IN_PROPORTION, false, 100000);
    const pl_drawn_answer *joints = drawn(b, &q, PL_DRAWN_IN_PROPORTION, true, 100000);

    for (size_t i = 0; i < sums->nrow; i++)
        for (int t = 0; t < PL_NSIZE_TESTS; t++)
            assert_abs("chance", pl_drawn_chance(&sums->rows[i], (pl_size_test)t),
                       pl_drawn_chance(&joints->rows[i], (pl_size_test)t),
                       4 * sqrt(2) * pl_drawn_mc_se(&sums->rows[i], (pl_size_test)t));
}

/* R 4.2.2, 1,000,000 studies of 6 per level each, in tests/size/drawn.R (seed 1): shares seen by
 * the F test and by t of the named two; their errors and ours together, four of them. */
static void against_r(bench *b, unsigned levels, double apart, double sd, unsigned block,
                      pl_drawn_scatter scatter, double overall, double pair)
{
    pl_size_question q = asked(levels, apart, sd, block);
    const pl_drawn_row *r = row_of(drawn(b, &q, scatter, false, 400000), 6);

    assert_abs("overall", pl_drawn_chance(r, PL_SIZE_OVERALL), overall,
               4 * sqrt(1.4) * pl_drawn_mc_se(r, PL_SIZE_OVERALL));
    assert_abs("pair", pl_drawn_chance(r, PL_SIZE_PAIR), pair,
               4 * sqrt(1.4) * pl_drawn_mc_se(r, PL_SIZE_PAIR));
}

static void test_against_r(void **state)
{
    bench *b = *state;

    against_r(b, 4, 0.6, 0.25, 0, PL_DRAWN_IN_PROPORTION, 0.881468, 0.968175);
    against_r(b, 4, 0.6, 0.25, 4, PL_DRAWN_IN_PROPORTION, 0.857913, 0.963412);
    against_r(b, 4, 0.6, 0.25, 0, PL_DRAWN_WEAKEST_LINK, 0.875695, 0.965780);
}

static void test_threads_change_no_bit(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(5, 0.2, 0.12, 5);
    const pl_drawn_answer *a[2];

    for (int k = 0; k < 2; k++) {
#ifdef _OPENMP
        omp_set_num_threads(k ? 3 : 1);
#endif
        a[k] = drawn(b, &q, PL_DRAWN_WEAKEST_LINK, false, 5000);
    }
    assert_int_equal(a[0]->nrow, a[1]->nrow);
    for (size_t i = 0; i < a[0]->nrow; i++)
        assert_memory_equal(a[0]->rows[i].seen, a[1]->rows[i].seen, sizeof a[0]->rows[i].seen);
}

static void refused(bench *b, const pl_size_question *q, pl_drawn_scatter scatter,
                    const char *expected)
{
    const pl_size_answer *w = NULL;
    pl_drawn_question d = { q, scatter, false, 1000, 7 };
    pl_drawn_answer *out = NULL;

    assert_ok(b, pl_size_find(b->a, q, &w, &b->d));
    assert_int_equal(pl_drawn_size(b->a, &d, w, NULL, NULL, &out, &b->d), PL_EUNFIT);
    assert_null(out);
    assert_finding(b, expected);
}

static void test_refused(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(6, 0.2, 0.1, 3);

    refused(b, &q, PL_DRAWN_ALIKE, "in complete ones");
    q = asked(6, 0.2, 0.1, 0);
    q.groups = 2;
    refused(b, &q, PL_DRAWN_ALIKE, "levels of one factor");
    q = asked(65, 0.2, 0.1, 0);
    refused(b, &q, PL_DRAWN_ALIKE, "64 or fewer");
    q = asked(6, 2.5, 0.1, 0);
    refused(b, &q, PL_DRAWN_IN_PROPORTION, "a smaller difference");
    q = asked(6, 2e6, 1e6, 0);
    q.relative = false;
    q.kind = PL_Q_PRESSURE;
    q.unit = "N/mm2";
    refused(b, &q, PL_DRAWN_WEAKEST_LINK, "as shares");
    q = asked(6, 0.2, 0.1, 0);
    q.aim = PL_AIM_AS_GOOD_AS;
    q.margin = 0.1;
    q.worth_noticing = NAN;
    refused(b, &q, PL_DRAWN_ALIKE, "the aim difference");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_against_theory),        TEST(test_sums_and_joints), TEST(test_against_r),
        TEST(test_threads_change_no_bit), TEST(test_refused),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
