/* Are plans random where they should be? 2,000 seeds each; the seeds are fixed, so
 * the outcome is too. Critical values: the exact chi-square point, upper 0.1 %. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>

#include "shop.h"

#define SEEDS 2000
#define UPPER 1e-3

/* Counts of v treatments at v places over SEEDS random orders of all v: the cells
 * of a random permutation matrix have variance (1/v)(1 - 1/v) and are correlated
 * by row and column; (v - 1)/v times Pearson's sum is chi-square with (v - 1)^2
 * degrees of freedom (Anderson 1959, Biometrics 15:582). */
static void assert_permuted(const char *what, const size_t *count, size_t v)
{
    double sum = 0, each = (double)SEEDS / (double)v, df = (double)((v - 1) * (v - 1));
    double limit = gsl_cdf_chisq_Qinv(UPPER, df);

    for (size_t i = 0; i < v * v; i++) {
        double off = (double)count[i] - each;

        sum += off * off / each;
    }
    sum *= (double)(v - 1) / (double)v;
    print_message("%s: chi-square %.1f, critical %.1f\n", what, sum, limit);
    if (sum > limit)
        fail_msg("%s: chi-square %.2f over %.2f", what, sum, limit);
    if (sum < gsl_cdf_chisq_Pinv(UPPER, df)) /* too even is not random either */
        fail_msg("%s: chi-square %.2f is too small", what, sum);
}

/* Six pastes on one board in one session: place, glue order and break order. No
 * level is numeric, so no order is refused. */
static void test_places_and_orders(void **state)
{
    static const char *const pastes[] = { "a", "b", "c", "d", "e", "f" };
    size_t place[36] = { 0 }, glue[36] = { 0 }, rupture[36] = { 0 }, against[36] = { 0 };

    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        const pl_plan *p;
        void *own;
        bench *b;
        shop w;

        bench_open(&own);
        b = own;
        shop_open(&w);
        shop_words(b, &w, "paste", pastes, 6, false);
        shop_boards(&w, "", 1, 6);
        shop_press(&w, "press", 1, -1);
        assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, seed, NULL, &p, &b->d));
        for (size_t i = 0; i < 6; i++) {
            const pl_specimen *x = &p->specimens[i];
            const pl_glue_up *g = &p->glue_ups[x->glue_up];

            place[g->treatment * 6 + x->place - 1]++;
            glue[g->treatment * 6 + g->glue_order - 1]++;
            rupture[g->treatment * 6 + x->break_order - 1]++;
            against[(g->glue_order - 1) * 6 + x->break_order - 1]++;
        }
        bench_close(&own);
    }
    assert_permuted("place along the board", place, 6);
    assert_permuted("glue order", glue, 6);
    assert_permuted("break order", rupture, 6);
    assert_permuted("break order against glue order", against, 6);
}

/* Short boards, 7 treatments in 7 boards of 3: which treatment lies on which
 * board. Each of the 49 pairs has chance 3/7. */
static void test_sets(void **state)
{
    static const char *const pastes[] = { "a", "b", "c", "d", "e", "f", "g" };
    double sum = 0, df = 36, mean = SEEDS * 3.0 / 7, limit = gsl_cdf_chisq_Qinv(UPPER, df);
    size_t count[49] = { 0 };

    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        const pl_plan *p;
        void *own;
        bench *b;
        shop w;

        bench_open(&own);
        b = own;
        shop_open(&w);
        shop_words(b, &w, "paste", pastes, 7, false);
        shop_boards(&w, "", 7, 3);
        assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 3, seed, NULL, &p, &b->d));
        for (size_t i = 0; i < p->nglue_up; i++)
            count[p->glue_ups[i].treatment * 7 + (size_t)p->glue_ups[i].board]++;
        bench_close(&own);
    }
    /* Rows and columns both sum to 3 a seed: off / sd^2 with sd^2 = (3/7)(4/7), and
     * 36 of 49 free, as for permutations. */
    for (size_t i = 0; i < 49; i++) {
        double off = (double)count[i] - mean;

        sum += off * off / (SEEDS * 12.0 / 49);
    }
    sum *= 36.0 / 49;
    print_message("treatments on boards: chi-square %.1f, critical %.1f\n", sum, limit);
    assert_true(sum <= limit && sum >= gsl_cdf_chisq_Pinv(UPPER, df));
}

/* With pressures the guard refuses orders; it must do so evenly: rising as often
 * as falling, level i from below at each place as often as from above. */
static void test_guard_is_even(void **state)
{
    size_t up = 0, down = 0, at[64] = { 0 };
    double worst = 0;

    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        const pl_plan *p;
        double sum = 0;
        void *own;
        bench *b;
        shop w;

        bench_open(&own);
        b = own;
        shop_open(&w);
        shop_pressure(b, &w, 8, false);
        shop_press(&w, "press", 2, -1);
        assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, seed, NULL, &p, &b->d));
        for (size_t i = 0; i < 8; i++) {
            sum += ((double)i - 3.5) * ((double)p->glue_ups[i].treatment - 3.5);
            at[p->glue_ups[i].treatment * 8 + i]++;
        }
        /* 8 glue-ups: the bound is 1/sqrt(7); the sum of squares is 42 */
        assert_true(sum * sum <= 42 * 42 / 7.0 + 1e-9);
        up += sum > 0;
        down += sum < 0;
        bench_close(&own);
    }
    /* fair coins: within 3.9 standard deviations, 1 in 10,000 */
    assert_true(fabs((double)up - (double)down) < 3.9 * sqrt((double)(up + down)));
    for (size_t i = 0; i < 4; i++)
        for (size_t k = 0; k < 8; k++) {
            double a = (double)at[i * 8 + k], c = (double)at[(7 - i) * 8 + k];

            worst = fmax(worst, fabs(a - c) / sqrt(a + c));
        }
    print_message("rising %zu, falling %zu; worst level and place %.2f\n", up, down, worst);
    assert_true(worst < 4.1); /* of 32 differences, 1 in 1,000 */
}

/* Two levels on a press with four stations, six on a press with one: the first
 * press is done in an hour and the other in six. Its levels must not come first. */
static void test_uneven_presses(void **state)
{
    size_t up = 0, down = 0, draws = 0, seeds = 400;

    (void)state;
    for (uint64_t seed = 0; seed < seeds; seed++) {
        const pl_plan *p;
        double sum = 0;
        void *own;
        bench *b;
        shop w;

        bench_open(&own);
        b = own;
        shop_stairs(b, &w, 8, 3, 8, 4);
        shop_rig(&w, "weights");
        shop_rig(&w, "air press");
        w.s.npress = 0;
        shop_press(&w, "low", 4, 0);
        shop_press(&w, "high", 1, 1);
        w.s.times.hands_on_s = 300;
        shop_points(&w, 8, 2, 0, 1);
        assert_ok(b, pl_plan_make(b->a, &w.s, &w.points, 3, seed, NULL, &p, &b->d));
        for (size_t i = 0; i < p->nglue_up; i++)
            sum += ((double)i + 0.5 - (double)p->nglue_up / 2) *
                   ((double)p->treatments[p->glue_ups[i].treatment * 2] - 3.5);
        up += sum > 0;
        down += sum < 0;
        draws += p->health.order_draws;
        bench_close(&own);
    }
    print_message("rising %zu, falling %zu, %zu draws\n", up, down, draws);
    assert_true(fabs((double)up - (double)down) < 3.9 * sqrt((double)(up + down)));
    assert_true(draws < seeds * 3 / 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_places_and_orders),
        TEST(test_sets),
        TEST(test_guard_is_even),
        TEST(test_uneven_presses),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
