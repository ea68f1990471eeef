/* Distributions: central and noncentral tails and quantiles. */
#include "support.h"

#include <gsl/gsl_errno.h>

#include "base/prob.h"
#include "base/stream.h"
#include "reference/worked/worked.h"

/* ------------------------------------------------------------------ central --- */

/* Regularised incomplete beta at 40 digits (mpmath 1.2.1):
 * betainc(d1/2, d2/2, 0, d1 f/(d1 f + d2), regularized=True), and the same with
 * the parameters exchanged for the upper tail. */
static void test_f_tails(void **state)
{
    static const struct {
        double d1, d2, f, lower, upper;
    } v[] = {
        { 1, 7, 5.3, 0.9451846957525175141357, 0.05481530424748248586427 },
        { 7, 56, 9.9, 0.999999943001224580694975, 5.699877541930502502218864e-8 },
        { 5, 4, 1e-4, 6.111792414983438222795181e-10, 0.9999999993888207585016562 },
        { 2.5, 3.75, 40, 0.9972674821070134325519016, 0.00273251789298656744809837 },
        { 500, 500, 1.9, 0.9999999999994298460133783, 5.701539866217229481952471e-13 },
        { 500, 500, 0.5, 8.580896830194971054005956e-15, 0.9999999999999914191031698 },
        { 3, 1e5, 25, 0.9999999999999996326744175, 3.673255824746047692129911e-16 },
        { 0.3, 0.7, 2e-3, 0.2586571466474916691023959, 0.7413428533525083308976041 },
        { 40, 1000, 6, 1.0, 1.480149145252082559931177e-26 },
    };

    (void)state;
    for (size_t i = 0; i < sizeof v / sizeof *v; i++) {
        assert_rel("lower", pl_f_lower(v[i].f, v[i].d1, v[i].d2), v[i].lower, 1e-13);
        assert_rel("upper", pl_f_upper(v[i].f, v[i].d1, v[i].d2), v[i].upper, 1e-13);
    }
}

/* As above: gammainc(df/2, 0, x/2) and its complement; betainc for t. */
static void test_chisq_and_t_tails(void **state)
{
    static const struct {
        double df, x, lower, upper;
    } c[] = {
        { 1, 0.02, 0.1124629160182848933660445, 0.8875370839817151066339555 },
        { 9, 3.3, 0.04879530931590294206606788, 0.9512046906840970579339321 },
        { 23, 80, 0.9999999682482960401310143, 3.175170395986898569193896e-8 },
        { 300, 210, 2.106906948773809832891489e-5, 0.9999789309305122619016711 },
        { 5000, 5400, 0.9999528236440530635869872, 4.717635594693641301281682e-5 },
    }, t[] = {
        { 1, 40, 0.9920439100879741866817373, 0.007956089912025813318262717 },
        { 2.5, 0.01, 0.5036180028210458711484442, 0.4963819971789541288515558 },
        { 56, 12.5, 1.0, 3.857229134224399679150987e-18 },
        { 1000, 20, 1.0, 2.031144249762385656855025e-75 },
    };

    (void)state;
    for (size_t i = 0; i < sizeof c / sizeof *c; i++) {
        assert_rel("lower", pl_chisq_lower(c[i].x, c[i].df), c[i].lower, 1e-13);
        assert_rel("upper", pl_chisq_upper(c[i].x, c[i].df), c[i].upper, 1e-13);
    }
    for (size_t i = 0; i < sizeof t / sizeof *t; i++) {
        assert_rel("lower", pl_t_lower(t[i].x, t[i].df), t[i].lower, 1e-13);
        assert_rel("upper", pl_t_upper(t[i].x, t[i].df), t[i].upper, 1e-13);
        assert_rel("mirror", pl_t_lower(-t[i].x, t[i].df), t[i].upper, 1e-13);
    }
}

/* A quantile put back into its tail gives the chance it was asked for, far out
 * too; how near is set by the size of the tail's own log. */
static void test_quantiles_come_back(void **state)
{
    static const double chance[] = { 1e-280, 1e-60, 1e-9, 0.001, 0.05, 0.3, 0.5, 0.77, 0.999 };
    static const double df[] = { 0.4, 1, 2, 7, 40.5, 1000 };

    (void)state;
    for (size_t i = 0; i < sizeof chance / sizeof *chance; i++)
        for (size_t j = 0; j < sizeof df / sizeof *df; j++) {
            double p = chance[i], tol = 1e-12;
            double f = pl_f_quantile_upper(p, 3.5, df[j]), c = pl_chisq_quantile(p, df[j]);
            double t = pl_t_quantile(p, df[j]);

            if (isfinite(f)) /* 0.4 df at 1e-280 lies beyond the largest double */
                assert_rel("F", pl_f_upper(f, 3.5, df[j]), p, tol);
            else
                assert_true(p < 1e-50 && df[j] < 2);
            if (c > 1e-300) /* 0.4 df again */
                assert_rel("chi-square", pl_chisq_lower(c, df[j]), p, tol);
            else
                assert_true(p < 1e-50 && df[j] < 2);
            if (isfinite(t))
                assert_rel("t", pl_t_lower(t, df[j]), p, tol);
            else
                assert_true(p < 1e-50 && df[j] < 2);
        }
}

/* Printed in every table: Pearson & Hartley, Biometrika Tables, from memory, three
 * decimals; half the last digit. */
static void test_table_points(void **state)
{
    (void)state;
    assert_abs("t", pl_t_quantile(0.975, 10), 2.228, 5e-4);
    assert_abs("t", pl_t_quantile(0.975, INFINITY), 1.960, 5e-4);
    assert_abs("chi-square", pl_chisq_quantile(0.95, 10), 18.307, 5e-4);
    assert_abs("F", pl_f_quantile_upper(0.05, 3, 16), 3.239, 5e-4);
    assert_abs("F", pl_f_quantile_upper(0.05, 3, INFINITY), 2.605, 5e-4);
    assert_abs("normal", pl_normal_quantile(0.95), 1.645, 5e-4);
}

/* ---------------------------------------------------------------- noncentral --- */

static pl_code noncentral(const pl_csv *t, size_t row, pl_tails *out)
{
    double d1 = worked_cell(t, row, "df1"), d2 = worked_cell(t, row, "df2");
    double x = worked_cell(t, row, "x"), nc = worked_cell(t, row, "noncentrality");

    switch (pl_csv_at(t, row, 0)->text[0]) {
    case 'F':
        return pl_ncf(x, d1, d2, nc, out);
    case 'T':
        return pl_nct(x, d2, nc, out);
    default:
        return pl_ncchisq(x, d2, nc, out);
    }
}

/* Every row of noncentral.csv: both tails, their bounds, and for t the mirror. */
static void test_noncentral_grid(void **state)
{
    bench *b = *state;
    const pl_csv *t = worked_table(b, "noncentral.csv");
    size_t compared = 0;

    for (size_t i = 0; i < t->nrow; i++) {
        double wanted[2] = { worked_cell(t, i, "lower"), worked_cell(t, i, "upper") };
        pl_tails got;

        assert_int_equal(noncentral(t, i, &got), PL_OK);
        for (int side = 0; side < 2; side++) {
            pl_real r = side ? got.upper : got.lower;

            if (wanted[side] < 1e-290) /* outside the promise */
                continue;
            assert_rel(pl_csv_where(b->a, t, pl_csv_at(t, i, 3)), r.value, wanted[side],
                       PL_PROB_TOL);
            assert_true(fabs(r.value - wanted[side]) <= r.bound * wanted[side]);
            compared++;
        }
        if (pl_csv_at(t, i, 0)->text[0] == 'T') {
            pl_tails m;

            assert_int_equal(pl_nct(-worked_cell(t, i, "x"), worked_cell(t, i, "df2"),
                                    -worked_cell(t, i, "noncentrality"), &m),
                             PL_OK);
            assert_true(m.upper.value == got.lower.value && m.lower.value == got.upper.value);
        }
    }
    assert_true(compared > 5500);
}

/* Without noncentrality the central ones come out; F(1, df) is t squared; an
 * infinite df2 is chi-square over df1. */
static void test_noncentral_limits(void **state)
{
    pl_tails f, t, c;

    (void)state;
    assert_int_equal(pl_ncf(2.3, 7, 56, 0, &f), PL_OK);
    assert_rel("F upper", f.upper.value, pl_f_upper(2.3, 7, 56), 1e-14);
    assert_rel("F lower", f.lower.value, pl_f_lower(2.3, 7, 56), 1e-14);
    assert_int_equal(pl_nct(1.7, 9.5, 0, &t), PL_OK);
    assert_rel("t upper", t.upper.value, pl_t_upper(1.7, 9.5), 1e-14);
    assert_rel("t lower", t.lower.value, pl_t_lower(1.7, 9.5), 1e-14);
    assert_int_equal(pl_ncf(2.1 * 2.1, 1, 17, 2.9 * 2.9, &f), PL_OK);
    assert_int_equal(pl_nct(2.1, 17, 2.9, &t), PL_OK);
    assert_int_equal(pl_nct(-2.1, 17, 2.9, &c), PL_OK);
    assert_rel("both sides", t.upper.value + c.lower.value, f.upper.value, 1e-13);
    assert_int_equal(pl_ncf(1.9, 4, INFINITY, 6.5, &f), PL_OK);
    assert_int_equal(pl_ncchisq(1.9 * 4, 4, 6.5, &c), PL_OK);
    assert_rel("infinite df2", f.upper.value, c.upper.value, 1e-14);
    assert_int_equal(pl_ncf(1.9, 4, 1e12, 6.5, &t), PL_OK);
    assert_rel("nearly infinite df2", t.upper.value, f.upper.value, 1e-10);
    assert_int_equal(pl_nct(1.9, INFINITY, 0.4, &t), PL_OK);
    assert_rel("normal", t.upper.value, pl_normal_upper(1.5), 1e-14);
}

static void test_out_of_range(void **state)
{
    pl_tails t;
    pl_real r;

    (void)state;
    assert_int_equal(pl_ncf(1, 0, 5, 1, &t), PL_EDOM);
    assert_int_equal(pl_ncf(1, 3, -5, 1, &t), PL_EDOM);
    assert_int_equal(pl_ncf(1, 3, 5, -1, &t), PL_EDOM);
    assert_int_equal(pl_ncf(1, 3, 5, 2 * PL_NONCENTRAL_MOST, &t), PL_EDOM);
    assert_int_equal(pl_ncf_upper(NAN, 3, 5, 1, &r), PL_EDOM);
    assert_int_equal(pl_nct(1, 0, 1, &t), PL_EDOM);
    assert_int_equal(pl_ncchisq(1, INFINITY, 1, &t), PL_EDOM);
    assert_true(isnan(pl_t_upper(1, 0)) && isnan(pl_f_quantile_upper(1.5, 2, 3)));
    assert_int_equal(pl_ncf(-1, 3, 5, 1, &t), PL_OK);
    assert_true(t.lower.value == 0 && t.upper.value == 1);
    assert_int_equal(pl_ncf(INFINITY, 3, 5, 1, &t), PL_OK);
    assert_true(t.lower.value == 1 && t.upper.value == 0);
}

/* Anywhere in the plane: both tails are there, add to 1, and are in their bounds. The
 * arguments are spread over many powers of ten by a seeded stream. */
static void test_noncentral_anywhere(void **state)
{
    pl_stream s;

    (void)state;
    pl_stream_init(&s, 5, PL_FOR_TEST, 0);
    for (int i = 0; i < 6000; i++) {
        double df1 = pow(10, -1 + 4 * pl_stream_unit(&s)), df2 = pow(10, 5 * pl_stream_unit(&s));
        double x = pow(10, -4 + 7 * pl_stream_unit(&s)), nc = pow(10, -2 + 6 * pl_stream_unit(&s));
        double delta = (pl_stream_below(&s, 2) ? -1 : 1) * sqrt(nc);
        pl_tails t[3];

        assert_true(pl_ncf(x, df1, df2, nc, &t[0]) != PL_EDOM);
        assert_true(pl_nct(x / 10, df2, delta, &t[1]) != PL_EDOM);
        assert_true(pl_ncchisq(x, df1, nc, &t[2]) != PL_EDOM);
        for (int k = 0; k < 3; k++) {
            pl_real low = t[k].lower, up = t[k].upper;
            double room = fmin(low.bound, 1) * low.value + fmin(up.bound, 1) * up.value;

            assert_true(low.value >= 0 && up.value >= 0);
            assert_abs("P + Q", low.value + up.value, 1, room + 2e-16);
        }
    }
}

/* Long sums: m = 5e7 takes the widest window there is; P + Q = 1. */
static void test_largest_noncentrality(void **state)
{
    pl_tails t;

    (void)state;
    assert_int_equal(pl_ncchisq(1e8 + 3e4, 5, 1e8, &t), PL_EPREC); /* its bound says so */
    assert_abs("sum", t.lower.value + t.upper.value, 1, 1e-9);
    /* normal limit: (x - df - lambda) / sqrt(2 (df + 2 lambda)) */
    assert_abs("normal limit", t.upper.value, pl_normal_upper((3e4 - 5) / sqrt(4e8 + 10)), 1e-4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_f_tails),
        TEST(test_chisq_and_t_tails),
        TEST(test_quantiles_come_back),
        TEST(test_table_points),
        TEST(test_noncentral_grid),
        TEST(test_noncentral_limits),
        TEST(test_noncentral_anywhere),
        TEST(test_out_of_range),
        TEST(test_largest_noncentrality),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
