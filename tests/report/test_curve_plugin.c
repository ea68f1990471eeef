/* A curve plugin gives the same digits as if it were built in: richards-rise fitted in a child
 * through its shared object, and in this process from its source, bit for bit; and both
 * against a recomputation from the definitions (tests/reference/curves/richards.py). Wild curve
 * plugins come back as one finding. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <string.h>

#define platen_plugin_entry richards_entry
#include "../../plugins/richards-rise/richards_rise.c"
#undef platen_plugin_entry

#include "support.h"

#include "fit/plateau.h"
#include "rigs/rigs.h"
#include "rigs/wire.h"

/* tests/reference/curves/richards.py: the data and what it prints */
static const double y_of[] = { 2.11, 2.12, 2.76, 2.29, 3.04, 2.30, 4.35, 4.04, 4.44,
                               4.80, 5.11, 4.87, 5.62, 5.92, 5.43, 6.66, 7.03, 6.81,
                               7.10, 8.01, 7.27, 7.28, 7.55, 7.31, 7.44, 7.45, 8.28 };
static const double x_of[] = { 0.2, 0.4, 0.6, 0.8, 1.0, 1.3, 1.6, 2.0, 2.5 };
static const double estimates[] = { 1.9522455954834632, 7.7148161729586455, 2.6130198820014288,
                                    0.6341929469904786 };
static const double errors[] = { 0.43871426712798395, 0.18336086407893912, 0.4181604551718414,
                                 0.06415465307405296 };
static const double ss = 3.1348351027323824;
static const double onset = 1.6149900754134252, onset_low = 1.275728498865611,
                    onset_high = 1.8628181773509613;

enum { N = sizeof y_of / sizeof *y_of };

static const pl_table *data(pl_arena *a)
{
    static const char *cells[N];
    static double x[N];
    static pl_column columns[2] = { { "x", "", 1, cells, x }, { "y", "", 1, cells, y_of } };
    static const pl_table table = { "invented", N, 2, columns, cells };

    for (size_t i = 0; i < N; i++) {
        x[i] = x_of[i / 3];
        cells[i] = pl_arena_printf(a, "%g", x[i]);
    }
    return &table;
}

static pl_code fit(pl_arena *a, const pl_curve *curve, bool log_x, pl_plateau **p, pl_diags *d)
{
    pl_named_curve named = { curve->name, log_x };
    pl_curve_spec spec = { .response = "y",
                           .over = "x",
                           .curves = &named,
                           .ncurve = 1,
                           .brought = &curve,
                           .nbrought = 1 };
    size_t n;

    return pl_fit_curves(a, data(a), &spec, p, &n, d);
}

/* Everything that is a number, in one row. */
#define NUMBERS 32
static void numbers(const pl_plateau *p, double *out)
{
    const pl_curve_fit *c = &p->curves[0];
    size_t n = 0;

    for (size_t i = 0; i < c->nparam; i++) {
        out[n++] = c->params[i].estimate;
        out[n++] = c->params[i].se;
        out[n++] = c->params[i].low;
        out[n++] = c->params[i].high;
    }
    out[n++] = c->residual.ss;
    out[n++] = c->aicc;
    out[n++] = p->onset.at;
    out[n++] = p->onset.low;
    out[n++] = p->onset.high;
    out[n++] = p->height;
    out[n++] = c->grid_y[7];
    while (n < NUMBERS)
        out[n++] = 0;
}

static pl_code in_child(pl_arena *a, const pl_curve *curve, const char *request, size_t n,
                        pl_text *answer, pl_diags *d)
{
    double out[NUMBERS];
    pl_plateau *p;
    pl_code code;

    gsl_set_error_handler_off();
    code = n == 1 ? fit(a, curve, request[0] == 'l', &p, d) : PL_EDATA;
    if (code)
        return code;
    numbers(p, out);
    for (size_t i = 0; i < NUMBERS; i++)
        pl_pack_f64(answer, out[i]);
    return PL_OK;
}

static const pl_rig_services services = { .curve = in_child };

static const char *take(void *self, const char *answer, size_t n)
{
    if (n != NUMBERS * sizeof(double))
        return "another number of numbers";
    memcpy(self, answer, n);
    return NULL;
}

static pl_code visit(bench *b, const char *name, const char *request, double *out)
{
    pl_text text;
    pl_curve_visit v = { .request = &text, .take = take, .self = out, .limit_s = 20 };

    pl_text_init(&text, b->a);
    pl_text_put(&text, request);
    return pl_rigs_curve(b->a, name, &v, &b->d);
}

/* ---- the same curve, compiled into this program ---- */

static bool own_columns(void *self, const double *u, size_t n, const double *shape, double *out)
{
    (void)self;
    return plugin.curve_columns(u, n, shape, out) == PLATEN_OK;
}

static bool own_gradient(void *self, const double *u, size_t n, const double *shape, size_t k,
                         double *out)
{
    (void)self;
    return plugin.curve_gradient(u, n, shape, k, out) == PLATEN_OK;
}

static bool own_range(void *self, const double *u, size_t n, double *low, double *high)
{
    (void)self;
    return plugin.curve_range(u, n, low, high) == PLATEN_OK;
}

static const pl_curve_wide own_wide = { .shape_names = { "rate", "mid", "skew" },
                                        .goes_up = true,
                                        .log = true,
                                        .columns = own_columns,
                                        .gradient = own_gradient,
                                        .range = own_range };
static const pl_curve own = { .name = "richards-rise",
                              .linear_names = { "floor", "top" },
                              .nlinear = 2,
                              .nshape = 3,
                              .rises = true,
                              .wide = &own_wide };

static void test_same_bits(void **state)
{
    bench *b = *state;
    static const char *const scales[] = { "x", "l" };

    for (size_t k = 0; k < 2; k++) {
        double here[NUMBERS], there[NUMBERS] = { 0 };
        pl_plateau *p;

        assert_ok(b, fit(b->a, &own, k == 1, &p, &b->d));
        numbers(p, here);
        assert_ok(b, visit(b, "richards-rise", scales[k], there));
        assert_true(there[0] > 0);
        assert_memory_equal(here, there, sizeof here);
    }
}

static void test_against_the_definitions(void **state)
{
    bench *b = *state;
    pl_plateau *p;

    assert_ok(b, fit(b->a, &own, false, &p, &b->d));
    for (size_t i = 0; i < 4; i++) {
        assert_rel("estimate", p->curves[0].params[i].estimate, estimates[i], 1e-13);
        assert_rel("standard error", p->curves[0].params[i].se, errors[i], 1e-12);
    }
    assert_rel("skew stands at its end", p->curves[0].params[4].estimate, 0.01, 0);
    assert_true(p->curves[0].params[4].at_bound);
    assert_rel("ss", p->curves[0].residual.ss, ss, 1e-13);
    assert_rel("onset", p->onset.at, onset, 1e-9);
    /* the recipe halves an interval of 0.9 24 times: 5e-8 */
    assert_rel("low", p->onset.low, onset_low, 5e-8);
    assert_rel("high", p->onset.high, onset_high, 5e-8);
}

static void test_wild_curves(void **state)
{
    static const struct {
        const char *name, *says;
    } wild[] = {
        { "curve-nan", "gave a number that cannot be from curve_columns" },
        { "curve-falls", "gave a curve that falls from curve_columns" },
        { "curve-crash", "crashed (signal 11, Segmentation fault) while its curve was asked" },
        { "curve-code", "gave code 9 from curve_columns" },
        { "curve-gaps", "no curve_gradient or curve_range" },
    };
    bench *b = *state;
    double out[NUMBERS];

    setenv("PLATEN_PLUGINS", pl_arena_printf(b->a, "%s/faults", getenv("PLATEN_BUILD")), 1);
    for (size_t i = 0; i < sizeof wild / sizeof *wild; i++) {
        size_t before = b->d.count;

        assert_code(b, PL_EPLUGIN, visit(b, wild[i].name, "x", out));
        assert_int_equal(b->d.count, before + 1);
        assert_finding(b, wild[i].says);
        assert_finding(b, wild[i].name);
    }
    assert_code(b, PL_EKEY, visit(b, "older", "x", out)); /* a kind of rig */
    assert_code(b, PL_EKEY, visit(b, "no-such", "x", out));
}

static const struct CMUnitTest tests[] = {
    TEST(test_same_bits),
    TEST(test_against_the_definitions),
    TEST(test_wild_curves),
};

int main(int argc, char **argv)
{
    pl_arena *a;

    pl_rigs_services(&services);
    if (argc > 1 && !strcmp(argv[1], PL_RIG_CHILD_ARG))
        return pl_rigs_child_main(argc, argv);
    gsl_set_error_handler_off();
    a = pl_arena_new(0);
    setenv("PLATEN_PLUGINS", pl_arena_printf(a, "%s/plugins", getenv("PLATEN_BUILD")), 1);
    setenv("XDG_DATA_HOME", "/nonexistent/share", 1);
    pl_arena_free(a);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
