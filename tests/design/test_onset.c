/* Guesses of the onset: derivatives held against differences of closed forms, levels placed for
 * the aim against levels at equal steps and at a constant ratio. */
#include "plan_laws.h"

#include "design/exchange.h"
#include "design/onset.h"

/* Onset of mean a, height d, shape s; range up to `high`, in u. */
static double end_of(const char *curve, double a, double d, double s, double high, double share)
{
    if (!strcmp(curve, "saturating-exponential"))
        return -log(1 - (share * (a + d * (1 - exp(-s * high))) - a) / d) / s;
    if (!strcmp(curve, "saturating-hyperbola")) {
        double g = (share * (a + d * high / (s + high)) - a) / d;

        return s * g / (1 - g);
    }
    return s * (share * (a + d) - a) / d; /* linear-plateau, the knee below high */
}

/* d ln t / d (a, d, ln s) by central differences at the curve that the guess describes. */
static void check_view(const char *curve, bool log_x, double onset, double floor)
{
    pl_guess guess = {
        .curve = curve, .log_x = log_x, .onset = onset, .floor = floor, .weight = 1
    };
    double x[3] = { 0.2, onset, 2.5 }, f[6], aim[3], share = 0.95;
    double top = log_x ? log(2.5 / 0.2) : 2.5, t = log_x ? log(onset / 0.2) : onset, s, d, g[3];

    assert_true(pl_onset_view(&guess, share, 0.2, 2.5, x, 3, f, aim));
    for (int i = 0; i < 3; i++)
        g[i] = f[2 * i];
    d = (1 - floor) / g[2];
    assert_abs("the rise ends where it is guessed", floor + d * g[1], share, 2e-9);
    s = !strcmp(curve, "saturating-exponential") ? -log(1 - g[1]) / t
        : !strcmp(curve, "saturating-hyperbola") ? t * (1 - g[1]) / g[1]
                                                 : t / g[1];
    for (int k = 0; k < 3; k++) {
        double h = 1e-5, to[2], by = log_x ? 1 : 1 / t;

        for (int side = 0; side < 2; side++) {
            double e = side ? h : -h;

            to[side] = end_of(curve, floor + (k == 0) * e, d + (k == 1) * e, s * exp((k == 2) * e),
                              top, share);
        }
        assert_abs("derivative", aim[k], by * (to[1] - to[0]) / (2 * h), 1e-6);
    }
}

static void test_derivatives(void **state)
{
    (void)state;
    for (int log_x = 0; log_x < 2; log_x++)
        for (int i = 0; i < 3; i++) {
            check_view("saturating-exponential", log_x, 0.6 + 0.3 * i, 0.3);
            check_view("saturating-hyperbola", log_x, 0.9 + 0.3 * i, 0.45);
            check_view("linear-plateau", log_x, 0.5 + 0.4 * i, 0.2);
        }
}

static void test_no_such_curve(void **state)
{
    pl_guess guess = { .curve = "saturating-exponential", .onset = 2.4, .floor = 0.2, .weight = 1 };
    double x = 1, f[2], aim[3];

    (void)state; /* a straight line reaches 95 % at 2.5 * 0.75 / 0.8 = 2.34: no bend ends later */
    assert_false(pl_onset_view(&guess, 0.95, 0.2, 2.5, &x, 1, f, aim));
    guess.onset = 2.3;
    assert_true(pl_onset_view(&guess, 0.95, 0.2, 2.5, &x, 1, f, aim));
    guess.log_x = true;
    assert_false(pl_onset_view(&guess, 0.95, 0, 2.5, &x, 1, f, aim));
}

/* Mean variance of the logarithm of the onset over guesses out by up to 2, so many levels. */
static double variance(bench *b, const pl_study *s, const double *x, size_t n)
{
    double total = 0;
    int used = 0;

    for (int k = -2; k <= 2; k++) {
        pl_guess guess = s->question.guess[0];
        double *f = PL_NEWN(b->a, 2 * n, double), aim[3];
        uint32_t *run = PL_NEWN(b->a, n, uint32_t);
        pl_view view = { 2, f, aim, 1 };
        pl_exchange e = {
            .of = { .criterion = PL_CRITERION_C, .ncand = n, .nview = 1, .view = &view },
            .nrun = n,
            .nfixed = n,
            .starts = 1,
            .run = run
        };

        guess.onset *= pow(2, k / 2.);
        for (size_t i = 0; i < n; i++)
            run[i] = (uint32_t)i;
        if (!pl_onset_view(&guess, 0.95, x[0], x[n - 1], x, n, f, aim))
            continue;
        /* one level below the knee tells neither floor nor knee */
        total += pl_exchange_search(b->a, &e, &b->d) ? 1e9 : e.value;
        used++;
    }
    assert_true(used > 2);
    return total / used;
}

static void test_levels(void **state)
{
    bench *b = *state;
    size_t better = 0, tried = 0;

    for (size_t n = 5; n <= 9; n++)
        for (int i = 0; i < 4; i++) {
            pl_guess guess = { .curve = i % 2 ? "linear-plateau" : "saturating-exponential",
                               .onset = 0.6e6 + 0.2e6 * i,
                               .floor = 0.35,
                               .weight = 1 };
            double x[9], si[9], ratio[9], equal[9], best;
            shop w;

            shop_open(&w);
            shop_pressure(b, &w, n, false);
            w.s.question.guess = &guess;
            w.s.question.nguess = 1;
            w.s.question.share = 0.95;
            x[0] = 0.2;
            x[n - 1] = 2.4;
            assert_true(pl_onset_levels(b->a, &w.s, 0, x));
            for (size_t k = 0; k < n; k++) {
                assert_true(!k || x[k] > x[k - 1]);
                assert_string_equal(pl_text_number(b->a, x[k], 4), pl_text_number(b->a, x[k], 2));
                si[k] = 1e6 * x[k];
                ratio[k] = 0.2e6 * pow(12, (double)k / (double)(n - 1));
                equal[k] = 0.2e6 + 2.2e6 * (double)k / (double)(n - 1);
            }
            assert_true(x[0] == 0.2 && x[n - 1] == 2.4);
            best = variance(b, &w.s, si, n);
            tried++;
            better += best < variance(b, &w.s, ratio, n) && best < variance(b, &w.s, equal, n);
        }
    printf("%zu of %zu better than a constant ratio and equal steps\n", better, tried);
    assert_int_equal(better, tried);
}

/* A plan for the onset: every level made, most glue-ups where they tell, the same again. */
static void test_plan(void **state)
{
    bench *b = *state;
    pl_guess guess[2] = { { "saturating-exponential", false, 0.7e6, 0.35, 1 },
                          { "linear-plateau", true, 0.9e6, 0.35, 2 } };
    size_t times[6] = { 0 };
    const pl_plan *p, *again;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 6, false);
    shop_words(b, &w, "species", woods, 2, true);
    shop_boards(&w, "beech", 6, 8);
    shop_boards(&w, "larch", 6, 8);
    shop_press(&w, "bench press", 2, -1);
    w.s.question.share = 0.95;
    w.s.question.guess = guess;
    w.s.question.nguess = 2;
    w.s.arrangement = (pl_arrange){
        .kind = PL_ARRANGE_OPTIMAL, .criterion = PL_CRITERION_C, .asks = PL_ASKS_SINGLE, .runs = 48
    };
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, 4, NULL, &p, &b->d));
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, 4, NULL, &again, &b->d));
    assert_string_equal(shop_text(b, &w.s, p), shop_text(b, &w.s, again));
    for (size_t g = 0; g < p->nglue_up; g++)
        times[level_of(p, &p->glue_ups[g], 0)]++;
    for (size_t l = 0; l < 6; l++)
        assert_true(times[l] >= 2); /* in each wood */
    assert_true(times[5] > 8);      /* the highest: what all else is held against */
    assert_true(p->health.criterion_efficiency > 0.6);
    guess[0].onset = 3.19e6;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 4, NULL, &p, &b->d));
    assert_finding(b, "guess 1: no saturating-exponential that starts so high ends its rise there");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_derivatives),
        TEST(test_no_such_curve),
        TEST(test_levels),
        TEST(test_plan),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
