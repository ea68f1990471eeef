/* Multivariate t points of contrasts, against tables and other ways of computing. */
#include "support.h"

#include <gsl/gsl_errno.h>

#include "base/prob.h"
#include "reference/worked/worked.h"

#define K_MOST 12
#define N_MOST 132

typedef struct family {
    size_t n, K;
    double c[N_MOST * K_MOST], weight[K_MOST];
} family;

static void equal_weights(family *f, size_t K)
{
    memset(f, 0, sizeof *f);
    f->K = K;
    for (size_t k = 0; k < K; k++)
        f->weight[k] = 0.25;
}

static void against_control(family *f)
{
    for (size_t k = 1; k < f->K; k++, f->n++) {
        f->c[f->n * f->K] = -1;
        f->c[f->n * f->K + k] = 1;
    }
}

static void all_pairs(family *f)
{
    for (size_t i = 0; i < f->K; i++)
        for (size_t j = i + 1; j < f->K; j++, f->n++) {
            f->c[f->n * f->K + i] = 1;
            f->c[f->n * f->K + j] = -1;
        }
}

/* Mean of levels i+1..j less mean of levels 1..i; falls: levels i..j less j+1..K. */
static void rises(family *f)
{
    for (size_t i = 1; i < f->K; i++)
        for (size_t j = i + 1; j <= f->K; j++, f->n++)
            for (size_t k = 0; k < j; k++)
                f->c[f->n * f->K + k] = k < i ? -1.0 / (double)i : 1.0 / (double)(j - i);
}

static void falls(family *f)
{
    for (size_t j = 1; j < f->K; j++)
        for (size_t i = 0; i < j; i++, f->n++)
            for (size_t k = i; k < f->K; k++)
                f->c[f->n * f->K + k] = k < j ? 1.0 / (double)(j - i) : -1.0 / (double)(f->K - j);
}

static pl_real point_of(bench *b, const family *f, int sides, double df, double alpha, double tol)
{
    pl_real r = { 0 };

    assert_int_equal((sides == 2 ? pl_mvt_two_sided_point : pl_mvt_upper_point)(
                         b->a, f->c, f->weight, f->n, f->K, df, alpha, tol, &r),
                     PL_OK);
    return r;
}

/* Dunnett's tables (rho = 1/2), and the studentised range: the two-sided point of
 * all pairs is q/sqrt 2. The bound is three standard errors on 7 df: of some 95
 * points two may lie outside it, none outside twice it. */
static void test_published_points(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "distributions.json");
    size_t n = 0, outside = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        const char *keys[] = { "d", "q", "d_one_sided", "d_two_sided" };
        bool tukey = worked_in(r, "tukey"), extra = worked_in(r, "dunnett-extra");

        if (!tukey && !extra && !worked_in(r, "dunnett1") && !worked_in(r, "dunnett2"))
            continue;
        for (size_t key = 0; key < 4; key++) {
            double wanted = worked_expected(r, keys[key]), tol = 2e-4;
            int sides = tukey || key == 3 || worked_in(r, "dunnett2") ? 2 : 1;
            size_t K = (size_t)(tukey ? worked_in_value(r, "k")
                                      : worked_in_value(r, "comparisons") + 1);
            family f;
            pl_real d;

            if (isnan(wanted))
                continue;
            if (tukey)
                wanted /= M_SQRT2;
            equal_weights(&f, K);
            (tukey ? all_pairs : against_control)(&f);
            d = point_of(b, &f, sides, worked_in_value(r, "df"), worked_in_value(r, "alpha"), tol);
            assert_abs(worked_id(r), d.value, wanted, 2 * d.bound * wanted);
            assert_true(d.bound * d.value <= 3 * tol * 1.0001);
            outside += fabs(d.value - wanted) > d.bound * wanted;
            n++;
        }
    }
    assert_int_equal(n, 102);
    assert_true(outside <= 2);
}

/* mvt.csv: unequal sizes, independent contrasts, rises over four and eight levels. */
static void test_other_ways(void **state)
{
    bench *b = *state;
    const pl_csv *t = worked_table(b, "mvt.csv");

    for (size_t i = 0; i < t->nrow; i++) {
        const char *kind = pl_csv_at(t, i, 0)->text, *w = pl_csv_at(t, i, 5)->text;
        double wanted = worked_cell(t, i, "point"), se = worked_cell(t, i, "se");
        family f;
        pl_real d;

        equal_weights(&f, (size_t)worked_cell(t, i, "levels"));
        for (size_t k = 0; k < f.K; k++) {
            char *end;

            f.weight[k] = strtod(w, &end);
            w = end;
        }
        if (strcmp(kind, "control") == 0)
            against_control(&f);
        else if (strcmp(kind, "rises") == 0)
            rises(&f);
        else
            for (; f.n < f.K; f.n++)
                f.c[f.n * f.K + f.n] = 1;
        d = point_of(b, &f, (int)worked_cell(t, i, "sides"), worked_cell(t, i, "df"),
                     worked_cell(t, i, "alpha"), se > 0 ? 1e-4 : 1e-5);
        assert_abs(kind, d.value, wanted, d.bound * d.value + 3 * se);
    }
    assert_int_equal(t->nrow, 9);
}

/* One contrast is Student's t; a repeated contrast, or a multiple of it, changes
 * nothing; a contrast with its opposite is two-sided. */
static void test_single_contrast(void **state)
{
    bench *b = *state;
    family f;

    equal_weights(&f, 3);
    f.n = 3;
    for (size_t i = 0; i < 3; i++) {
        f.c[i * 3] = -1.0 - (double)i;
        f.c[i * 3 + 2] = 1.0 + (double)i;
    }
    assert_rel("one", point_of(b, &f, 1, 11, 0.05, 1e-4).value, pl_t_quantile(0.95, 11), 1e-12);
    assert_rel("two-sided", point_of(b, &f, 2, 11, 0.05, 1e-4).value, pl_t_quantile(0.975, 11),
               1e-12);
    f.c[2 * 3] = 2;
    f.c[2 * 3 + 2] = -2;
    assert_rel("opposites", point_of(b, &f, 1, 11, 0.05, 1e-4).value, pl_t_quantile(0.975, 11),
               1e-12);
}

/* Rises and falls of twelve levels together, 132 contrasts; the same call gives
 * the same bits; the point lies between one contrast's and Bonferroni's. */
static void test_many_contrasts(void **state)
{
    bench *b = *state;
    family f;
    pl_real one, two, rise_only;

    equal_weights(&f, 12);
    rises(&f);
    assert_int_equal(f.n, 66);
    rise_only = point_of(b, &f, 1, 36, 0.025, 1e-3);
    falls(&f);
    assert_int_equal(f.n, 132);
    one = point_of(b, &f, 1, 36, 0.025, 1e-3);
    two = point_of(b, &f, 1, 36, 0.025, 1e-3);
    assert_true(one.value == two.value);
    assert_true(one.value > rise_only.value + 0.05);
    assert_true(one.value < pl_t_quantile(1 - 0.025 / 132, 36));
    assert_true(rise_only.value > pl_t_quantile(0.975, 36));
}

static void test_refusals(void **state)
{
    bench *b = *state;
    family f;
    pl_real r;

    equal_weights(&f, 3);
    against_control(&f);
    assert_int_equal(pl_mvt_upper_point(b->a, f.c, f.weight, 2, 3, 0, 0.05, 1e-4, &r), PL_EDOM);
    assert_int_equal(pl_mvt_upper_point(b->a, f.c, f.weight, 2, 3, 9, 0.5, 1e-4, &r), PL_EDOM);
    assert_int_equal(pl_mvt_upper_point(b->a, f.c, f.weight, 0, 3, 9, 0.05, 1e-4, &r), PL_EDOM);
    f.weight[1] = 0;
    assert_int_equal(pl_mvt_upper_point(b->a, f.c, f.weight, 2, 3, 9, 0.05, 1e-4, &r), PL_EDOM);
    equal_weights(&f, 3);
    f.n = 1; /* a row of zeros */
    assert_int_equal(pl_mvt_upper_point(b->a, f.c, f.weight, 1, 3, 9, 0.05, 1e-4, &r), PL_EDOM);
    /* finer than it can be: says so, and still gives the best found */
    equal_weights(&f, 12);
    rises(&f);
    assert_int_equal(pl_mvt_upper_point(b->a, f.c, f.weight, f.n, 12, 36, 0.025, 1e-9, &r),
                     PL_EPREC);
    assert_true(r.value > 3 && r.bound > 1e-9 && r.bound < 1e-3);
}

/* A budget too small ends in PL_ENOMEM, not in a crash. */
static void test_small_budget(void **state)
{
    bench *b = *state;
    family f;
    pl_real r;

    equal_weights(&f, 6);
    rises(&f);
    for (unsigned long n = 1; n < 8; n++) {
        pl_arena_fail_at(n);
        assert_int_equal(pl_mvt_upper_point(b->a, f.c, f.weight, f.n, 6, 9, 0.05, 1e-2, &r),
                         PL_ENOMEM);
    }
    pl_arena_fail_at(0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_published_points), TEST(test_other_ways), TEST(test_single_contrast),
        TEST(test_many_contrasts),   TEST(test_refusals),   TEST(test_small_budget),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
