/* Times of the searches, processor seconds: medians of seeds or repeats, beside what was aimed
 * at. Ten times that is a fault. */
#include "support.h"

#include <time.h>

#include "design/balanced.h"
#include "design/exchange.h"
#include "design/weights.h"

#define TIMES 5

static double now_s(void)
{
    struct timespec t;

    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double median(double *x)
{
    for (int i = 1; i < TIMES; i++)
        for (int k = i; k > 0 && x[k] < x[k - 1]; k--) {
            double kept = x[k];

            x[k] = x[k - 1];
            x[k - 1] = kept;
        }
    return x[TIMES / 2];
}

static void say(const char *what, double s, double aim_s)
{
    printf("design: %s: %.3f ms, aimed at %.0f: %s\n", what, 1e3 * s, 1e3 * aim_s,
           s <= aim_s ? "within" : "NOT WITHIN");
    assert_true(s < 10 * aim_s);
}

/* Balanced blocks are built the same whatever the seed of a plan. */
static void test_blocks(void **state)
{
    static const struct {
        unsigned v, b, k;
        double aim_s;
    } cases[] = { { 8, 14, 4, 0.002 }, { 21, 21, 5, 0.05 }, { 16, 24, 6, 2 }, { 25, 30, 5, 5 } };
    bench *own = *state;

    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        unsigned v = cases[c].v, b = cases[c].b, k = cases[c].k;
        double took[TIMES];

        for (int i = 0; i < TIMES; i++) {
            uint32_t *block = PL_NEWN(own->a, b * k, uint32_t);
            double from = now_s();

            assert_int_equal(pl_balanced(own->a, v, b, k, block), PL_BALANCED_BUILT);
            took[i] = now_s() - from;
        }
        say(pl_arena_printf(own->a, "%u treatments in %u balanced blocks of %u", v, b, k),
            median(took), cases[c].aim_s);
    }
}

/* Five factors of three levels, slopes, squares and products: 60 runs in six blocks, 20 starts,
 * and the bound that they are held against. */
static void test_sixty_runs(void **state)
{
    enum { N = 243, P = 20, RUNS = 60 };
    bench *b = *state;
    double *f = PL_NEWN(b->a, N * P, double), *w = PL_NEWN(b->a, N, double), took[TIMES];
    double worst = 1;
    pl_view view = { .p = P, .f = f, .weight = 1 };
    uint32_t run[RUNS], block[RUNS];

    for (int t = 0; t < N; t++) {
        double x[5], *row = f + t * P;
        int rest = t, at = 5;

        for (int i = 0; i < 5; i++, rest /= 3)
            row[i] = x[i] = rest % 3 - 1;
        for (int i = 0; i < 5; i++)
            for (int k = 0; k <= i; k++)
                row[at++] = x[i] * x[k];
    }
    for (uint32_t i = 0; i < RUNS; i++)
        block[i] = i / 10;
    for (int i = 0; i < TIMES; i++) {
        pl_exchange e = {
            .of = { .criterion = PL_CRITERION_D, .ncand = N, .nview = 1, .view = &view },
            .nrun = RUNS,
            .block = block,
            .nblock = 6,
            .starts = 20,
            .seed = (uint64_t)i,
            .run = run
        };
        pl_weights best = { .of = e.of, .aim = 1e-4, .w = w };
        double from = now_s();

        assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
        assert_ok(b, pl_weights_find(b->a, &best, &b->d));
        took[i] = now_s() - from;
        worst = fmin(worst, e.value / best.bound);
    }
    assert_true(worst > 0.96); /* 0.9695 at every seed tried */
    say("5 factors, 60 D-optimal runs in 6 blocks", median(took), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_blocks), TEST(test_sixty_runs) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
