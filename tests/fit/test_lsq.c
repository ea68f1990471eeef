/* Least squares against NIST StRD and a high-precision case, and its properties. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/lsq.h"
#include "reference.h"

typedef struct problem {
    size_t n, p;
    double *X, *y;
} problem;

/* y on 1, x, ..., x^degree; degree 0: on 1 and every other column. */
static problem problem_of(bench *b, const char *set, size_t degree)
{
    const pl_table *t = reference_table(b, set);
    problem q = { .n = t->nrow, .p = degree ? degree + 1 : t->ncol };

    q.X = PL_NEWN(b->a, q.n * q.p, double);
    q.y = PL_NEWN(b->a, q.n, double);
    for (size_t i = 0; i < q.n; i++) {
        q.y[i] = pl_table_find(t, "y")->number[i];
        q.X[i * q.p] = 1;
        for (size_t j = 1; j < q.p; j++)
            q.X[i * q.p + j] = degree ? q.X[i * q.p + j - 1] * pl_table_find(t, "x")->number[i]
                                      : t->columns[j].number[i];
    }
    return q;
}

static double se_of(const pl_lsq *f, size_t j)
{
    return sqrt(f->rss / (double)f->df * f->inverse[j * f->p + j]);
}

/* Certified values of NIST StRD, in tests/reference/nist/SET.json. */
static void check_nist(bench *b, const char *set, size_t degree, double least)
{
    problem q = problem_of(b, set, degree);
    const pl_json *j = reference_json(b, set);
    pl_lsq f;
    double regression = 0;

    assert_ok(b, pl_lsq_solve(b->a, q.X, q.y, q.n, q.p, NULL, &f, &b->d));
    if (getenv("PLATEN_DIGITS"))
        printf("  %s\n", set);
    for (size_t k = 0; k < q.p; k++) {
        const char *at = pl_arena_printf(b->a, "certified/parameters/%zu", k);

        assert_digits("estimate", f.beta[k],
                      json_number(j, pl_arena_printf(b->a, "%s/estimate", at)), least);
        assert_digits("standard error", se_of(&f, k),
                      json_number(j, pl_arena_printf(b->a, "%s/standard_deviation", at)), least);
        regression += k ? f.effect_ss[k] : 0;
    }
    assert_int_equal(f.df, (size_t)json_number(j, "certified/df"));
    assert_digits("residual sd", sqrt(f.rss / (double)f.df),
                  json_number(j, "certified/residual_sd"), least);
    assert_digits("R squared", regression / (regression + f.rss),
                  json_number(j, "certified/r_squared"), least);
    if (json_value(j, "certified/F")->kind == PL_JSON_NUMBER)
        assert_digits("F", regression / (double)(q.p - 1) / (f.rss / (double)f.df),
                      json_number(j, "certified/F"), least);
}

/* Input as doubles limits Norris to 13.7 and Pontius to 13.5 digits. */
static void test_norris(void **state)
{
    check_nist(*state, "nist/Norris", 1, 13);
}

static void test_pontius(void **state)
{
    check_nist(*state, "nist/Pontius", 2, 13);
}

static void test_longley(void **state)
{
    check_nist(*state, "nist/Longley", 0, 14);
}

/* Wampler1 and 3 are whole numbers, exact as doubles. Wampler2 has decimals: their
 * rounding moves the coefficients in the 13th digit and leaves a residual near 1e-15. */
static void test_wampler(void **state)
{
    check_nist(*state, "nist/Wampler1", 5, 14);
    check_nist(*state, "nist/Wampler2", 5, 12);
    check_nist(*state, "nist/Wampler3", 5, 14);
}

/* Hilbert columns 1/(i+j+1), 12 x 8: plain double keeps 6 digits. The figures are the
 * solution of the rounded problem with mpmath at 80 digits:
 *   X[i,j] = mpf(1.0/(i+j+1)); y[i] = (i*i) % 7
 *   A = X.T*X; b = lu_solve(A, X.T*y); r = y - X*b; V = inverse(A) */
static void test_hilbert_columns(void **state)
{
    bench *b = *state;
    double X[96], y[12];
    pl_lsq f;

    for (size_t i = 0; i < 12; i++) {
        y[i] = (double)(i * i % 7);
        for (size_t j = 0; j < 8; j++)
            X[i * 8 + j] = 1.0 / (double)(i + j + 1);
    }
    assert_ok(b, pl_lsq_solve(b->a, X, y, 12, 8, NULL, &f, &b->d));
    assert_digits("beta 1", f.beta[0], 145006.36900970581146, 14);
    assert_digits("beta 8", f.beta[7], -256545004.37522573453, 14);
    assert_digits("rss", f.rss, 8.5433320017112535698, 14);
    assert_digits("inverse 8,8", f.inverse[63], 14130115105469639.167, 14);
}

/* Columns and response times powers of ten: nothing changes but the units. */
static void test_scaling(void **state)
{
    bench *b = *state;
    problem q = problem_of(b, "nist/Longley", 0);
    pl_lsq f, g;

    assert_ok(b, pl_lsq_solve(b->a, q.X, q.y, q.n, q.p, NULL, &f, &b->d));
    for (size_t i = 0; i < q.n; i++) {
        q.y[i] *= 1e-9;
        q.X[i * q.p + 3] *= 1e200;
        q.X[i * q.p + 5] *= 1e-200;
    }
    assert_ok(b, pl_lsq_solve(b->a, q.X, q.y, q.n, q.p, NULL, &g, &b->d));
    assert_rel("beta 1", g.beta[1], f.beta[1] * 1e-9, 1e-9);
    assert_rel("beta 3", g.beta[3], f.beta[3] * 1e-209, 1e-10);
    assert_rel("beta 5", g.beta[5], f.beta[5] * 1e191, 1e-9);
    assert_rel("rss", g.rss, f.rss * 1e-18, 1e-11);
}

static void test_dependent_columns_are_named(void **state)
{
    bench *b = *state;
    const char *const names[] = { "one", "width", "overlap", "sum", "twice" };
    double X[30], y[6];
    pl_lsq f;

    for (size_t i = 0; i < 6; i++) {
        double w = 0.1 * (double)(i + 1), o = 0.7 * (double)((i * i) % 5);

        X[i * 5] = 1;
        X[i * 5 + 1] = w;
        X[i * 5 + 2] = o;
        X[i * 5 + 3] = w + o;
        X[i * 5 + 4] = 2 * w + 3;
        y[i] = (double)(i % 3);
    }
    assert_code(b, PL_ERANK, pl_lsq_solve(b->a, X, y, 6, 5, names, &f, &b->d));
    assert_finding(b, "found \"sum\" is made up of the columns before it");
    assert_finding(b, "found \"twice\" is made up of the columns before it");
    assert_int_equal(f.rank, 3);
    assert_true(f.dependent[3] && f.dependent[4] && !f.dependent[2]);
    assert_int_equal(b->d.count, 2);
}

static void test_refusals(void **state)
{
    bench *b = *state;
    const double X[6] = { 1, 2, 1, 3, 1, NAN }, y[3] = { 1, INFINITY, 2 };
    pl_lsq f;

    assert_code(b, PL_EDATA, pl_lsq_solve(b->a, X, y, 1, 2, NULL, &f, &b->d));
    assert_finding(b, "found 1 rows, expected at least 2");
    assert_code(b, PL_EDOM, pl_lsq_solve(b->a, X, y, 3, 2, NULL, &f, &b->d));
    assert_finding(b, "inf as response of row 2");
    assert_code(b, PL_EDOM, pl_lsq_solve(b->a, X, X, 3, 2, NULL, &f, &b->d));
    assert_finding(b, "nan in \"column 2\" of row 3");
}

/* As many rows as columns: a fit without residual, its error unknown. */
static void test_saturated(void **state)
{
    bench *b = *state;
    const double X[4] = { 1, 2, 1, 5 }, y[2] = { 3, 9 };
    pl_lsq f;

    assert_ok(b, pl_lsq_solve(b->a, X, y, 2, 2, NULL, &f, &b->d));
    assert_int_equal(f.df, 0);
    assert_rel("slope", f.beta[1], 2, 1e-15);
    assert_abs("rss", f.rss, 0, 1e-25);
}

/* Rows in another order: the same answer to the last bits. */
static void test_row_order(void **state)
{
    bench *b = *state;
    problem q = problem_of(b, "nist/Longley", 0);
    double *X = PL_NEWN(b->a, q.n * q.p, double), *y = PL_NEWN(b->a, q.n, double);
    pl_lsq f, g;

    for (size_t i = 0; i < q.n; i++) {
        size_t k = i * 7 % q.n;

        y[i] = q.y[k];
        memcpy(X + i * q.p, q.X + k * q.p, q.p * sizeof *X);
    }
    assert_ok(b, pl_lsq_solve(b->a, q.X, q.y, q.n, q.p, NULL, &f, &b->d));
    assert_ok(b, pl_lsq_solve(b->a, X, y, q.n, q.p, NULL, &g, &b->d));
    for (size_t j = 0; j < q.p; j++)
        assert_rel("beta", g.beta[j], f.beta[j], 1e-15);
    assert_rel("rss", g.rss, f.rss, 1e-15);
}

/* Every allocation fails once: out of memory is said, nothing breaks. */
static void test_out_of_memory(void **state)
{
    bench *b = *state;
    problem q = problem_of(b, "nist/Norris", 1);
    unsigned long n = 1;
    pl_code rc = PL_ENOMEM;
    pl_lsq f;

    for (; rc && n < 100; n++) {
        pl_arena *a = pl_arena_new(0);
        pl_diags d;

        pl_diags_init(&d, a);
        pl_arena_fail_at(n);
        rc = pl_lsq_solve(a, q.X, q.y, q.n, q.p, NULL, &f, &d);
        pl_arena_fail_at(0);
        assert_true(rc == PL_OK || rc == PL_ENOMEM);
        pl_arena_free(a);
    }
    assert_int_equal(rc, PL_OK);
    assert_true(n > 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_norris),
        TEST(test_pontius),
        TEST(test_longley),
        TEST(test_wampler),
        TEST(test_hilbert_columns),
        TEST(test_scaling),
        TEST(test_dependent_columns_are_named),
        TEST(test_refusals),
        TEST(test_saturated),
        TEST(test_row_order),
        TEST(test_out_of_memory),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests_name("fit/lsq", tests, NULL, NULL);
}
