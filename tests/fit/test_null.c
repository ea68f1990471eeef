/* False alarms of tests where nothing is there to be found. Exact ones (F in balanced strata, t)
 * within 4 Monte Carlo errors of 5 %; Kenward & Roger's F on uneven random boards between 3.5 and 7
 * %, the bounds that are promised for approximate tests, widened by 4 Monte Carlo errors. 20,000
 * experiments in `make validation`, fewer in `make check`. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "linear_support.h"
#include "null.h"

#define BOARDS 8
#define ROWS (4 * BOARDS)

typedef struct layout {
    pl_table table;
    pl_column columns[4];
    double y[ROWS];
    size_t n;
} layout;

/* Boards of two woods; four pressures on each, or uneven: one row in five left out. */
static void lay_out(bench *b, layout *l, bool uneven)
{
    static const char *const names[] = { "wood", "board", "pressure", "y" };
    const char **rows = PL_NEWN(b->a, ROWS, const char *);

    l->n = 0;
    for (size_t j = 0; j < 4; j++)
        l->columns[j] = (pl_column){ names[j], "", 1, PL_NEWN(b->a, ROWS, const char *), NULL };
    for (size_t i = 0; i < ROWS; i++) {
        const char **cell[3];

        if (uneven && i % 5 == 3)
            continue;
        for (size_t j = 0; j < 3; j++)
            cell[j] = (const char **)(uintptr_t)l->columns[j].text + l->n;
        *cell[0] = i / 4 % 2 ? "beech" : "larch";
        *cell[1] = pl_arena_printf(b->a, "B%zu", i / 4);
        *cell[2] = pl_arena_printf(b->a, "p%zu", i % 4);
        ((const char **)(uintptr_t)l->columns[3].text)[l->n] =
            "y"; /* not missing; its number counts */
        rows[l->n++] = "row";
    }
    l->columns[3].number = l->y;
    l->table = (pl_table){ "null", l->n, 4, l->columns, rows };
}

/* Boards differ by twice what joints of one board do; wood and pressure do nothing. */
static void draw(layout *l, pl_stream *s)
{
    double board[BOARDS];

    for (size_t k = 0; k < BOARDS; k++)
        board[k] = 2 * pl_stream_normal(s);
    for (size_t i = 0; i < l->n; i++)
        l->y[i] = board[l->columns[1].text[i][1] - '0'] + pl_stream_normal(s);
}

static void test_strata(void **state)
{
    bench *b = *state;
    const int draws = null_draws(20000, 1000);
    int wood = 0, pressure = 0, t = 0;
    static const char *const levels[] = { "p0", "p3" };
    const double w[] = { 1, -1 };
    const pl_linear_contrast c = { "pressure", levels, w, 2 };
    pl_linear_spec spec = spec_of(
        b, (wish){ .response = "y", .effects = "wood; pressure", .blocks = "board" });
    layout l;
    pl_stream s;

    pl_stream_init(&s, 2026, PL_FOR_TEST, 21);
    lay_out(b, &l, false);
    spec.contrasts = &c;
    spec.ncontrast = 1;
    for (int k = 0; k < draws; k++) {
        pl_mark mark = pl_arena_mark(b->a);
        pl_linear_fit f;

        draw(&l, &s);
        assert_ok(b, pl_fit_linear(b->a, &l.table, &spec, &f, &b->d));
        wood += effect_of(&f, "wood", PL_SS_AFTER_ALL_OTHERS)->p < 0.05;
        pressure += effect_of(&f, "pressure", PL_SS_AFTER_ALL_OTHERS)->p < 0.05;
        t += f.contrasts[0].p < 0.05;
        pl_arena_reset(b->a, mark);
    }
    null_rate(NULL_EXACT, "F of wood, between boards", wood, draws);
    null_rate(NULL_EXACT, "F of pressure, within boards", pressure, draws);
    null_rate(NULL_EXACT, "t of one contrast of pressures", t, draws);
}

static void test_random_boards(void **state)
{
    bench *b = *state;
    const int draws = null_draws(20000, 1000);
    int wood = 0, pressure = 0;
    pl_linear_spec spec = spec_of(
        b, (wish){ .response = "y", .effects = "wood; pressure", .randoms = "board" });
    layout l;
    pl_stream s;

    pl_stream_init(&s, 2026, PL_FOR_TEST, 22);
    lay_out(b, &l, true);
    for (int k = 0; k < draws; k++) {
        pl_diags d;
        pl_mark mark = pl_arena_mark(b->a);
        pl_linear_fit f;

        pl_diags_init(&d, b->a); /* each says that boards are uneven */
        draw(&l, &s);
        assert_ok(b, pl_fit_linear(b->a, &l.table, &spec, &f, &d));
        assert_false(f.recovered_leads);
        wood += f.beside->effects[0].p < 0.05;
        pressure += f.beside->effects[1].p < 0.05;
        pl_arena_reset(b->a, mark);
    }
    null_rate(NULL_APPROXIMATE, "one joint in five lost, F of wood (Kenward & Roger 1997)", wood,
              draws);
    null_rate(NULL_APPROXIMATE, "the same, F of pressure", pressure, draws);
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_strata), TEST(test_random_boards) };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
