/* The built-in curves by themselves: names, derivatives, the rise, limits, grids. */
#include "model/curve.h"
#include "model/curve_grid.h"
#include "support.h"

static const char *const rises[] = { "linear-plateau", "quadratic-plateau",
                                     "saturating-exponential", "saturating-hyperbola" };

static void test_find(void **state)
{
    bench *b = *state;
    const pl_curve *c = NULL;

    assert_string_equal(pl_curve_find("quadratic-plateau")->shape_name, "knee");
    assert_int_equal(pl_curve_find("polynomial:11")->nlinear, 12);
    assert_null(pl_curve_find("polynomial:12"));
    assert_null(pl_curve_find("polynomial:0"));
    assert_null(pl_curve_find("Line"));
    assert_ok(b, pl_curve_need("line", "x.csv", &c, &b->d));
    assert_ptr_equal(c, &pl_curve_line);
    assert_code(b, PL_EKEY, pl_curve_need("linear-platau", "x.csv", &c, &b->d));
    assert_finding(b, "did you mean \"linear-plateau\"?");
    assert_finding(b, "x.csv: found no curve \"linear-platau\"");
}

/* Central differences of the columns themselves: step 1e-4 leaves about 1e-8 of the second
 * derivative's size. No u on the knee. */
static void test_gradients(void **state)
{
    const long double u[] = { 0, 0.13L, 0.4L, 0.71L, 1.3L, 2.9L }, s = 0.83L, e = 1e-4L;
    long double up[12], down[12], slope[12];

    (void)state;
    for (size_t k = 0; k < 4; k++) {
        const pl_curve *c = pl_curve_find(rises[k]);

        c->columns(c, u, 6, s + e, up);
        c->columns(c, u, 6, s - e, down);
        c->gradient(u, 6, s, slope);
        for (size_t i = 0; i < 12; i++)
            assert_abs(c->name, (double)slope[i], (double)((up[i] - down[i]) / (2 * e)), 3e-8);
    }
}

/* On the knee the derivative is the mean of both sides. */
static void test_gradient_on_knee(void **state)
{
    const long double u = 0.83L;
    long double slope[2];

    (void)state;
    pl_curve_linear_plateau.gradient(&u, 1, u, slope);
    assert_abs("top", (double)slope[1], -0.5 / 0.83, 1e-15);
    pl_curve_quadratic_plateau.gradient(&u, 1, u, slope);
    assert_abs("top", (double)slope[1], 0, 1e-15);
}

/* h and the named columns span the same means: h is g less its value at low, scaled. */
static void test_rise_is_scaled_column(void **state)
{
    const double u[] = { 0.3, 0.55, 0.9, 1.7, 3.1 };
    const double shapes[] = { 0.45, 0.9, 2.2, 7 };
    double h[5];
    long double lu[5], cols[10];

    (void)state;
    for (size_t i = 0; i < 5; i++)
        lu[i] = u[i];
    for (size_t k = 0; k < 4; k++)
        for (size_t j = 0; j < 4; j++) {
            const pl_curve *c = pl_curve_find(rises[k]);

            c->rise(u, 5, u[0], u[4], shapes[j], h);
            c->columns(c, lu, 5, shapes[j], cols);
            for (size_t i = 0; i < 5; i++)
                assert_abs(c->name, h[i],
                           (double)((cols[2 * i + 1] - cols[1]) / (cols[9] - cols[1])), 1e-13);
        }
}

/* Towards the slow limit every rise becomes the straight line, without loss of digits. */
static void test_line_limit(void **state)
{
    const double u[] = { 0.3, 0.55, 0.9, 1.7, 3.1 };
    const pl_curve_span span = { u, 5, u[0], u[4] };
    const double slow[] = { 3.1, 2.8e12, 1e-12 / 2.8, 2.8e12 };
    double h[5], line[5];

    (void)state;
    pl_curve_line.rise(u, 5, u[0], u[4], 0, line);
    for (size_t k = 0; k < 4; k++) {
        const pl_curve *c = pl_curve_find(rises[k]);

        c->rise(u, 5, u[0], u[4], slow[k], h);
        assert_string_equal(c->limit(&span, slow[k]), "line");
        for (size_t i = 0; i < 5; i++)
            assert_abs(c->name, h[i], line[i], 2e-12);
    }
}

static void test_step_limit(void **state)
{
    const double u[] = { 0, 0.55, 0.9, 1.7, 3.1 }, above[] = { 0.3, 0.55, 0.9, 1.7, 3.1 };
    const pl_curve_span span = { u, 5, 0, 3.1 }, from = { above, 5, 0.3, 3.1 };
    const double fast[] = { 0.55, 0.55, 40 / 0.55, 0.55e-12 };
    double h[5];

    (void)state;
    for (size_t k = 0; k < 4; k++) {
        const pl_curve *c = pl_curve_find(rises[k]);

        c->rise(u, 5, 0, 3.1, fast[k], h);
        assert_string_equal(c->limit(&span, fast[k]), "step");
        assert_abs(c->name, h[0], 0, 0);
        for (size_t i = 1; i < 5; i++)
            assert_abs(c->name, h[i], 1, 2e-12);
        assert_null(c->limit(&span, 1.1));
    }
    /* without a unit at zero the hyperbola ends as A + D/u */
    assert_string_equal(pl_curve_saturating_hyperbola.limit(&from, 1e-11), "reciprocal");
}

/* Grids rise, stay in their room and hold both limits, however odd the places. */
static void test_grids(void **state)
{
    static double many[2000], z[PL_CURVE_GRID_MOST];
    const double close[] = { 0, 1e-9, 1, 1e6 }, two[] = { 5, 6 };

    (void)state;
    for (size_t i = 0; i < 2000; i++)
        many[i] = 0.1 + (double)i * 0.003;
    for (size_t k = 0; k < 4; k++) {
        const pl_curve *c = pl_curve_find(rises[k]);
        const pl_curve_span spans[] = { { many, 2000, many[0], many[1999] },
                                        { many, 20, 0, many[19] },
                                        { many, 19, many[0], many[18] },
                                        { many, 60, many[0], many[59] },
                                        { close, 4, 0, 1e6 },
                                        { two, 2, 5, 6 } };

        for (size_t j = 0; j < sizeof spans / sizeof *spans; j++) {
            size_t n = c->grid(&spans[j], z);
            double origin = pl_curve_origin(c, spans[j].low);

            assert_in_range(n, 10, PL_CURVE_GRID_MOST);
            for (size_t i = 1; i < n; i++)
                if (!(z[i] > z[i - 1]))
                    fail_msg("%s, span %zu: grid falls at %zu", c->name, j, i);
            assert_non_null(c->limit(&spans[j], origin + exp(z[0])));
            assert_non_null(c->limit(&spans[j], origin + exp(z[n - 1])));
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_find),
        TEST(test_gradients),
        TEST(test_gradient_on_knee),
        TEST(test_rise_is_scaled_column),
        TEST(test_line_limit),
        TEST(test_step_limit),
        TEST(test_grids),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
