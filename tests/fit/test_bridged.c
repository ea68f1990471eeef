/* Rigs bridged by levels that two of them made, and an offset between them taken out. */
#include <gsl/gsl_errno.h>
#include <string.h>

#include "base/stream.h"
#include "fit/bridged.h"
#include "fit/plateau.h"
#include "reference.h"

enum { LEVELS = 6, PER = 4, N = LEVELS * PER };

/* Weights make the three low levels, a press the rest; `bridge`: each makes half of the third. The
 * press costs `offset` of strength. */
static const pl_table *shop(bench *b, bool bridge, double offset)
{
    static const char *const names[] = { "pressure", "rig", "strength" };
    const char **cells = PL_NEWN(b->a, N * 3, const char *);
    pl_stream q;

    pl_stream_init(&q, 77, PL_FOR_TEST, 0);
    for (size_t i = 0; i < N; i++) {
        size_t l = i / PER;
        double p = 0.2 * (double)(1 + l);
        bool press = l > 2 || (l == 2 && bridge && i % 2);

        cells[3 * i] = pl_arena_printf(b->a, "%.17g", p);
        cells[3 * i + 1] = press ? "press" : "weights";
        cells[3 * i + 2] = pl_arena_printf(
            b->a, "%.17g", 12 - 7 * exp(-p / 0.25) - press * offset + 0.3 * pl_stream_normal(&q));
    }
    return table_of(b, "shop.csv", N, 3, names, cells);
}

static pl_bridged state_of(bench *b, const pl_table *t, const char *group, const char **apart)
{
    pl_bridged out;

    assert_ok(b, pl_rigs_bridged(b->a, t, "rig", "pressure", group, NULL, &out, apart, &b->d));
    return out;
}

static void test_bridged_or_apart(void **state)
{
    bench *b = *state;
    const char *apart = NULL;

    assert_int_equal(state_of(b, shop(b, true, 0), NULL, &apart), PL_RIGS_BRIDGED);
    assert_null(apart);
    assert_int_equal(state_of(b, shop(b, false, 0), NULL, &apart), PL_RIGS_APART);
    assert_string_equal(apart, "weights and press");
    /* each rig a group of its own: nothing to tell apart within any */
    assert_int_equal(state_of(b, shop(b, false, 0), "rig", NULL), PL_RIGS_BRIDGED);
    assert_code(b, PL_EKEY,
                pl_rigs_bridged(b->a, shop(b, true, 0), "frame", "pressure", NULL, NULL,
                                &(pl_bridged){ 0 }, NULL, &b->d));
}

/* As a block the rig takes its offset with it: the onset is the same whatever the offset is. */
static void test_offset_is_taken_out(void **state)
{
    bench *b = *state;
    static const char *const rig = "rig";
    const pl_curve_spec spec = {
        .response = "strength", .over = "pressure", .blocks = &rig, .nblock = 1
    };
    pl_plateau *even = NULL, *off = NULL;
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, shop(b, true, 0), &spec, &even, &n, &b->d));
    assert_ok(b, pl_fit_curves(b->a, shop(b, true, 1.5), &spec, &off, &n, &b->d));
    /* the even average over rigs is 0.75 lower, and a share of it with it: the knee of each curve
     * is where it was */
    for (size_t i = 0; i < even->ncurve; i++) {
        assert_rel(even->curves[i].name, off->curves[i].residual.ss, even->curves[i].residual.ss,
                   1e-10);
        for (size_t k = 0; k < even->curves[i].nparam; k++)
            if (!strcmp(even->curves[i].params[k].name, "knee") ||
                !strcmp(even->curves[i].params[k].name, "rate"))
                assert_rel(even->curves[i].name, off->curves[i].params[k].estimate,
                           even->curves[i].params[k].estimate, 1e-6);
    }
    assert_rel("height", off->height, even->height - 0.75, 1e-3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_bridged_or_apart),
        TEST(test_offset_is_taken_out),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
