/* Curves against the worked cases in tests/reference/worked/analyses.json: each record names where
 * its data are from and holds figures recomputed with many digits. */
#include <gsl/gsl_errno.h>

#include "analyses.h"
#include "fit/plateau.h"

static const pl_plateau *fit(bench *b, const pl_table *t, const pl_curve_spec *spec)
{
    pl_plateau *p = NULL;
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, t, spec, &p, &n, &b->d));
    assert_int_equal(n, 1);
    return p;
}

static const pl_coef *param(const pl_curve_fit *c, const char *name)
{
    for (size_t i = 0; i < c->nparam; i++)
        if (!strcmp(c->params[i].name, name))
            return &c->params[i];
    fail_msg("%s has no parameter \"%s\"", c->name, name);
    return NULL;
}

/* inputs/X and inputs/Y of a record as columns x and y. */
static const pl_table *record_table(bench *b, const pl_json *r, const char *X, const char *Y)
{
    static const char *const names[] = { "y", "x" };
    const pl_json *x = json_value(r, pl_arena_printf(b->a, "inputs/%s", X));
    const pl_json *y = json_value(r, pl_arena_printf(b->a, "inputs/%s", Y));
    const char **cells = PL_NEWN(b->a, 2 * x->count, const char *);

    for (size_t i = 0; i < x->count; i++) {
        cells[2 * i] = pl_json_at(y, i)->raw;
        cells[2 * i + 1] = pl_json_at(x, i)->raw;
    }
    return table_of(b, "record", x->count, 2, names, cells);
}

static double of(bench *b, const pl_json *r, const char *curve, const char *what)
{
    return analyses_expected(r, pl_arena_printf(b->a, "%s/%s", curve, what));
}

static bool has(const pl_json *r, const char *curve, const char *what)
{
    return pl_json_get(pl_json_get(pl_json_get(r, "expected"), curve), what) != NULL;
}

static bool is_an_x(const pl_table *t, double x)
{
    const double *all = pl_table_find(t, "x")->number;

    for (size_t i = 0; i < t->nrow; i++)
        if (all[i] == x)
            return true;
    return false;
}

/* 10 digits are given. */
static void check_straight(bench *b, const pl_json *r, const pl_table *t, const pl_curve_fit *c)
{
    double knee = param(c, "knee")->estimate, floor = param(c, "floor")->estimate;
    double top = param(c, "top")->estimate;

    assert_rel("LP knee", knee, of(b, r, "LP", "breakpoint"), 5e-10);
    assert_rel("LP floor", floor, of(b, r, "LP", "intercept"), 1e-9);
    assert_rel("LP top", top, of(b, r, "LP", "plateau"), 1e-9);
    assert_rel("LP slope", (top - floor) / knee, of(b, r, "LP", "slope"), 1e-9);
    assert_rel("LP rss", c->residual.ss, of(b, r, "LP", "rss"), 1e-9);
    if (has(r, "LP", "breakpoint_at_design_point"))
        assert_int_equal(is_an_x(t, knee), of(b, r, "LP", "breakpoint_at_design_point"));
}

static void check_bent(bench *b, const pl_json *r, const pl_table *t, const pl_curve_fit *c)
{
    double knee = param(c, "knee")->estimate, floor = param(c, "floor")->estimate;
    double top = param(c, "top")->estimate;

    assert_rel("QP knee", knee, of(b, r, "QP", "join"), 1e-9);
    assert_rel("QP floor", floor, of(b, r, "QP", "intercept"), 1e-8);
    assert_rel("QP top", top, of(b, r, "QP", "plateau"), 1e-9);
    assert_rel("QP linear", 2 * (top - floor) / knee, of(b, r, "QP", "linear"), 1e-8);
    assert_rel("QP quadratic", -(top - floor) / (knee * knee), of(b, r, "QP", "quadratic"), 1e-8);
    assert_rel("QP rss", c->residual.ss, of(b, r, "QP", "rss"), 1e-8);
    if (has(r, "QP", "join_beyond_data"))
        assert_int_equal(knee > pl_table_find(t, "x")->number[t->nrow - 1],
                         of(b, r, "QP", "join_beyond_data"));
}

/* Engelstad & Parks 1971, Agron. J. 63:21 (maize yield over nitrogen): global optima. */
static void test_plateaus(void **state)
{
    const pl_named_curve set[] = { { "linear-plateau", false }, { "quadratic-plateau", false } };
    const pl_curve_spec spec = { .response = "y", .over = "x", .curves = set, .ncurve = 2 };
    bench *b = *state;
    int seen = 0;

    for (const pl_json *r = worked_list(b, "analyses.json")->child; r; r = r->next) {
        const pl_table *t;
        const pl_plateau *p;
        const pl_curve_fit *lp, *qp;

        if (!worked_in(r, "plateau"))
            continue;
        seen++;
        t = record_table(b, r, "N", "yield_");
        p = fit(b, t, &spec);
        lp = &p->curves[0];
        qp = &p->curves[1];
        check_straight(b, r, t, lp);
        check_bent(b, r, t, qp);
        if (!pl_json_get(pl_json_get(r, "expected"), "F_lof_LP"))
            continue;
        assert_rel("F LP", lp->lack_of_fit.f, analyses_expected(r, "F_lof_LP"), 1e-8);
        assert_rel("F QP", qp->lack_of_fit.f, analyses_expected(r, "F_lof_QP"), 1e-8);
        assert_rel("p LP", lp->lack_of_fit.p, analyses_expected(r, "p_lof_LP"), 1e-8);
        assert_rel("p QP", qp->lack_of_fit.p, analyses_expected(r, "p_lof_QP"), 1e-8);
        assert_rel("pure error", p->error_sd * p->error_sd * p->error_df,
                   analyses_expected(r, "ss_pure_error"), 1e-9);
        assert_rel("its df", lp->lack_of_fit.df2, analyses_expected(r, "df_pure_error"), 0);
        assert_true(lp->lack_of_fit.df1 == 3);
    }
    assert_int_equal(seen, 6);
}

/* ---- a line that bends: no curve of ours goes on rising behind its knee ---- */

static bool bend(void *self, const double *u, size_t n, const double *s, double *out)
{
    (void)self;
    for (size_t i = 0; i < n; i++) {
        out[3 * i] = 1;
        out[3 * i + 1] = u[i];
        out[3 * i + 2] = fmax(0, u[i] - s[0]);
    }
    return true;
}

static bool bend_slope(void *self, const double *u, size_t n, const double *s, size_t k,
                       double *out)
{
    (void)self, (void)k;
    for (size_t i = 0; i < n; i++) {
        out[3 * i] = out[3 * i + 1] = 0;
        out[3 * i + 2] = u[i] > s[0] ? -1 : u[i] == s[0] ? -0.5 : 0;
    }
    return true;
}

static bool bend_range(void *self, const double *u, size_t n, double *low, double *high)
{
    (void)self;
    *low = u[1];
    *high = u[n - 2];
    return true;
}

static const pl_curve_wide bend_wide = {
    .shape_names = { "at" }, .columns = bend, .gradient = bend_slope, .range = bend_range
};
static const pl_curve bent_line = { .name = "bent-line",
                                    .linear_names = { "b0", "slope", "change" },
                                    .nlinear = 3,
                                    .nshape = 1,
                                    .wide = &bend_wide };

/* Bacon & Watts 1971, Biometrika 58:525. b0 there is the height at the bend's left line at 0. */
static void test_bent_line(void **state)
{
    static const pl_curve *const brought[] = { &bent_line };
    const pl_named_curve curve = { "bent-line", false };
    const pl_curve_spec spec = { .response = "y",
                                 .over = "x",
                                 .curves = &curve,
                                 .ncurve = 1,
                                 .brought = brought,
                                 .nbrought = 1 };
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:hinge/stagnant-band");
    const pl_curve_fit *c = &fit(b, record_table(b, r, "x", "y"), &spec)->curves[0];
    double left = param(c, "slope")->estimate, change = param(c, "change")->estimate;

    assert_rel("at", param(c, "at")->estimate, analyses_expected(r, "breakpoint"), 1e-8);
    assert_rel("b0", param(c, "b0")->estimate, analyses_expected(r, "b0"), 1e-9);
    assert_rel("left", left, analyses_expected(r, "slope_left"), 1e-9);
    assert_rel("change", change, analyses_expected(r, "slope_change"), 1e-9);
    assert_rel("right", left + change, analyses_expected(r, "slope_right"), 1e-9);
    assert_rel("rss", c->residual.ss, analyses_expected(r, "rss"), 1e-9);
}

/* NIST's BoxBOD and Bates & Watts' Puromycin as the records have them. */
static void test_rises(void **state)
{
    const pl_named_curve set[] = { { "saturating-exponential", false },
                                   { "saturating-hyperbola", false } };
    pl_curve_spec spec = {
        .response = "y", .over = "x", .curves = set, .ncurve = 1, .floor_fixed = true
    };
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:nls/boxbod");
    const pl_curve_fit *c = &fit(b, record_table(b, r, "x", "y"), &spec)->curves[0];

    assert_rel("b1", param(c, "top")->estimate, analyses_expected(r, "b1"), 1e-12);
    assert_rel("b2", param(c, "rate")->estimate, analyses_expected(r, "b2"), 1e-12);
    assert_rel("se", param(c, "top")->se, analyses_expected(r, "se_b1"), 1e-12);
    assert_rel("se", param(c, "rate")->se, analyses_expected(r, "se_b2"), 1e-12);
    assert_rel("rss", c->residual.ss, analyses_expected(r, "rss"), 1e-12);
    spec.curves = &set[1];
    r = analyses_record(b, "analyses:nls/puromycin-treated");
    c = &fit(b, record_table(b, r, "conc", "rate"), &spec)->curves[0];
    assert_rel("Vm", param(c, "top")->estimate, analyses_expected(r, "Vm"), 1e-12);
    assert_rel("K", param(c, "half")->estimate, analyses_expected(r, "K"), 1e-12);
    assert_rel("se", param(c, "top")->se, analyses_expected(r, "se_Vm"), 1e-12);
    assert_rel("se", param(c, "half")->se, analyses_expected(r, "se_K"), 1e-12);
    assert_rel("rss", c->residual.ss, analyses_expected(r, "rss"), 1e-12);
    assert_rel("s", c->residual.sd, analyses_expected(r, "s"), 1e-12);
}

static void test_ledger(void **state)
{
    analyses_settle(*state, "test_curve_worked");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_plateaus),
        TEST(test_bent_line),
        TEST(test_rises),
        TEST(test_ledger),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
