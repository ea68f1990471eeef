/* Functions of eight doubles at once against libm's, and what streams make of them. */
#include <math.h>

#include "base/lanes.h"
#include "base/prob.h"
#include "base/stream.h"
#include "support.h"

typedef void one_way(const pl_lanes *x, pl_lanes *out);

static void take_log(const pl_lanes *x, pl_lanes *out)
{
    pl_lanes_log(x, out);
}
static void take_log1p(const pl_lanes *x, pl_lanes *out)
{
    pl_lanes_log1p(x, out);
}
static void take_exp(const pl_lanes *x, pl_lanes *out)
{
    pl_lanes_exp(x, out);
}
static void take_expm1(const pl_lanes *x, pl_lanes *out)
{
    pl_lanes_expm1(x, out);
}

/* Largest relative distance from libm's, itself within 1 unit in the last place (2.2e-16), over
 * 80,000 places of one sign. */
static double worst(one_way *f, double (*libm)(double), double from, double to, bool by_ratio)
{
    double most = 0;

    for (int i = 0; i < 10000; i++) {
        pl_lanes x = { 0 }, got;

        for (int k = 0; k < PL_LANES; k++) {
            double part = (8 * i + k) / 79999.0;

            x[k] = by_ratio ? from * pow(to / from, part) : from + part * (to - from);
        }
        f(&x, &got);
        for (int k = 0; k < PL_LANES; k++)
            most = fmax(most, fabs(got[k] / libm(x[k]) - 1));
    }
    return most;
}

/* A dozen roundings of terms that fall off fast, most of them of the largest one: under 2e-15. */
static void test_against_libm(void **state)
{
    (void)state;
    assert_true(worst(take_log, log, 1e-300, 0.999, true) < 2e-15);
    assert_true(worst(take_log, log, 1.0000001, 1e300, true) < 2e-15);
    assert_true(worst(take_log1p, log1p, 1e-18, 1e3, true) < 2e-15);
    assert_true(worst(take_log1p, log1p, -0.999, -1e-18, true) < 2e-15);
    assert_true(worst(take_exp, exp, -700, 700, false) < 2e-15);
    assert_true(worst(take_expm1, expm1, 1e-18, 700, true) < 2e-15);
    assert_true(worst(take_expm1, expm1, -700, -1e-18, true) < 2e-15);
}

/* Of sine and cosine the distance itself: they pass through 0. */
static void test_turn_against_libm(void **state)
{
    double most = 0;

    (void)state;
    for (int i = 0; i < 10000; i++) {
        pl_lanes u = { 0 }, s, c;

        for (int k = 0; k < PL_LANES; k++)
            u[k] = (8 * i + k) / 80000.0;
        pl_lanes_turn(&u, &s, &c);
        for (int k = 0; k < PL_LANES; k++) {
            const long double a = 2 * 3.14159265358979323846264L * (long double)u[k];

            most = fmax(most, fabs(s[k] - (double)sinl(a)));
            most = fmax(most, fabs(c[k] - (double)cosl(a)));
        }
    }
    assert_true(most < 4e-16);
}

/* -0 lies below 0, as lanes.h says. */
static void test_less_and_choose(void **state)
{
    const pl_lanes a = { 1, 2, 3, -0.0, -1, 0, 1e-300, -5 }, b = { 2, 1, 3, 0, -2, 1e-320, 0, -4 };
    static const bool less[PL_LANES] = { true, false, false, true, false, true, false, true };
    pl_lane_bits when;
    pl_lanes got;

    (void)state;
    pl_lanes_less(&a, &b, &when);
    pl_lanes_choose(&when, &a, &b, &got);
    for (int k = 0; k < PL_LANES; k++) {
        assert_int_equal(when[k], less[k] ? -1 : 0);
        assert_true(got[k] == (less[k] ? a[k] : b[k]));
    }
}

/* Word for word the plain generator, for any first block and number; normals are Box and Muller's
 * to the error of a logarithm, root and turn, 7 at most in size: 1e-14. */
static void test_many_at_once(void **state)
{
    enum { N = 320 };
    uint32_t words[4 * N];
    double units[2 * N], normals[4 * N];

    (void)state;
    pl_stream_words(77, PL_FOR_TEST, ((uint64_t)5 << 32) | 3, 0xfffffff0u, words, N);
    pl_stream_units(77, PL_FOR_TEST, ((uint64_t)5 << 32) | 3, 0xfffffff0u, units, 2 * N);
    pl_stream_normals(77, PL_FOR_TEST, ((uint64_t)5 << 32) | 3, 0xfffffff0u, normals, 4 * N);
    for (uint32_t i = 0; i < N; i++) {
        uint32_t block[4];
        pl_stream s;

        pl_philox4x32((uint32_t[]){ 3, 5, PL_FOR_TEST, 0xfffffff0u + i }, (uint32_t[]){ 77, 0 },
                      block);
        assert_memory_equal(block, words + 4 * i, sizeof block);
        pl_stream_init(&s, 77, PL_FOR_TEST, ((uint64_t)5 << 32) | 3);
        s.counter[3] = 0xfffffff0u + i;
        assert_true(units[i / 16 * 32 + i % 16] == pl_stream_unit(&s));
        assert_true(units[i / 16 * 32 + i % 16 + 16] == pl_stream_unit(&s));
        for (size_t pair = 0; pair < 2; pair++) {
            const double u = (block[2 * pair] + 0.5) * 0x1p-32;
            const double v = (block[2 * pair + 1] + 0.5) * 0x1p-32;
            const double *z = normals + i / 16 * 64 + pair * 32 + i % 16;

            assert_true(fabs(z[0] - sqrt(-2 * log(u)) * cos(2 * M_PI * v)) < 1e-14);
            assert_true(fabs(z[16] - sqrt(-2 * log(u)) * sin(2 * M_PI * v)) < 1e-14);
        }
    }
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

/* Kolmogorov's distance from the chi-square itself: above 1.95 / sqrt(n) once in a thousand
 * (Kolmogorov 1933), and the seed is fixed. Below 2 degrees of freedom by another way, then so few
 * that many are rejected, and many. */
static void test_chi_squares(void **state)
{
    enum { N = 96000 };
    static const double dfs[] = { 0.6, 1, 2, 3, 16, 88.5 };
    static double v[N];

    (void)state;
    for (size_t k = 0; k < sizeof dfs / sizeof *dfs; k++) {
        double most = 0;

        for (uint32_t i = 0; i < N; i += 9600)
            pl_stream_chisqs(4, PL_FOR_TEST, i, i % 7, dfs[k], v + i, 9600);
        qsort(v, N, sizeof *v, rising);
        for (size_t i = 0; i < N; i++) {
            const double p = pl_chisq_lower(v[i], dfs[k]);

            most = fmax(most, fmax(p - (double)i / N, (double)(i + 1) / N - p));
        }
        assert_true(most * sqrt((double)N) < 1.95);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_against_libm), TEST(test_turn_against_libm), TEST(test_less_and_choose),
        TEST(test_many_at_once), TEST(test_chi_squares),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
