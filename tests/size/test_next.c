/* What to make next. The choice is held against every allocation of a small round, each judged
 * by a calculation that shares nothing with it: the onset found again after every number of the
 * curve was moved a little, and the block of the round as a column. Readings are invented. */
#include "size/next.h"

#include <math.h>
#include <omp.h>

#include "support.h"

/* Exponential rise 3 + 6 (1 - exp(-x/0.5)), three boards, a fixed scatter. */
static const double levels[] = { 0.2, 0.5, 1, 2, 3 };
static const double wobble[] = { 0.11, -0.2, 0.14, -0.07, 0.22,  -0.13, 0.05, -0.17,
                                 0.09, 0.18, -0.1, 0.03,  -0.21, 0.16,  -0.02 };
#define NLEVEL 5
#define NBOARD 3

typedef struct made {
    pl_table t;
    pl_column columns[5];
    const char *text[NLEVEL * NBOARD], *unit[NLEVEL * NBOARD], *board[NLEVEL * NBOARD];
    const char *wood[NLEVEL * NBOARD];
    double x[NLEVEL * NBOARD], y[NLEVEL * NBOARD];
    const char *blocks[1];
    pl_curve_spec spec;
    pl_plateau *fits;
    size_t nfit;
} made;

static double truth(double x, double top)
{
    return 3 + (top - 3) * (1 - exp(-x / 0.5));
}

/* Levels from the first: fewer of them leave the top open. */
static void make(bench *b, made *m, size_t nlevel, const pl_named_curve *curve, size_t ncurve)
{
    const size_t n = nlevel * NBOARD;

    for (size_t i = 0; i < n; i++) {
        m->x[i] = levels[i / NBOARD];
        m->y[i] = truth(m->x[i], 9) + wobble[i] + 0.3 * (double)(i % NBOARD);
        m->text[i] = pl_arena_printf(b->a, "%g", m->x[i]);
        m->unit[i] = pl_arena_printf(b->a, "G%zu", i + 1);
        m->board[i] = pl_arena_printf(b->a, "B%zu", i % NBOARD + 1);
        m->wood[i] = "beech";
    }
    m->columns[0] = (pl_column){ "strength", "N/mm2", 1e6, m->text, m->y };
    m->columns[1] = (pl_column){ "pressure", "N/mm2", 1e6, m->text, m->x };
    m->columns[2] = (pl_column){ "glue_up", "", 1, m->unit, NULL };
    m->columns[3] = (pl_column){ "board", "", 1, m->board, NULL };
    m->columns[4] = (pl_column){ "species", "", 1, m->wood, NULL };
    m->t = (pl_table){ "invented", n, 5, m->columns, m->unit };
    m->blocks[0] = "board";
    m->spec = (pl_curve_spec){ .response = "strength",
                               .over = "pressure",
                               .unit = "glue_up",
                               .blocks = m->blocks,
                               .nblock = 1,
                               .curves = curve,
                               .ncurve = ncurve };
    assert_ok(b, pl_fit_curves(b->a, &m->t, &m->spec, &m->fits, &m->nfit, &b->d));
}

/* ------------------------------------------------- the other calculation --- */

static double curve_at(const double *p, double x)
{
    return p[0] + (p[1] - p[0]) * (1 - exp(-p[2] * x));
}

/* Where the rise has 0.95 of what it has at the highest level: in closed form. */
static double log_onset(const double *p)
{
    double y = 0.95 * curve_at(p, 3);

    return log(-log(1 - (y - p[0]) / (p[1] - p[0])) / p[2]);
}

/* Variance of ln onset: numbers floor, top, rate, three boards' steps, the round's step. One
 * glue-up's worth of prior on the rate, as next.h says of the shape number. */
static double variance(const double *p, double step, double sd, const double *x, const int *block,
                       size_t n)
{
    enum { Q = 6 };
    double A[Q][2 * Q] = { { 0 } }, c[Q] = { 0 }, v = 0;

    for (size_t i = 0; i < n; i++) {
        double f[Q] = { 0 };

        for (int j = 0; j < 3; j++) {
            double h = 1e-6 * (j == 2 ? step : 1), q[3] = { p[0], p[1], p[2] };

            q[j] += h;
            f[j] = curve_at(q, x[i]);
            q[j] -= 2 * h;
            f[j] = (f[j] - curve_at(q, x[i])) / 2e-6;
        }
        if (block[i])
            f[2 + block[i]] = 1;
        for (int j = 0; j < Q; j++)
            for (int k = 0; k < Q; k++)
                A[j][k] += f[j] * f[k] / (sd * sd);
    }
    A[2][2] += 1;
    for (int j = 0; j < 3; j++) {
        double h = 1e-6 * (j == 2 ? step : 1), q[3] = { p[0], p[1], p[2] };

        q[j] += h;
        c[j] = log_onset(q);
        q[j] -= 2 * h;
        c[j] = (c[j] - log_onset(q)) / 2e-6;
    }
    for (int j = 0; j < Q; j++)
        A[j][Q + j] = 1;
    for (int j = 0; j < Q; j++) /* Gauss-Jordan; every block column is met */
        for (int k = 0; k < Q; k++) {
            double r = A[k][j] / A[j][j];

            for (int l = 0; l < 2 * Q && k != j; l++)
                A[k][l] -= r * A[j][l];
        }
    for (int j = 0; j < 3; j++)
        for (int k = 0; k < 3; k++)
            v += c[j] * c[k] * A[j][Q + k] / A[j][j];
    return v;
}

static double judge(const made *m, const double *p, double step, double sd,
                    const pl_next_place *places, size_t nplace, const size_t *count)
{
    double x[NLEVEL * NBOARD + 16];
    int block[NLEVEL * NBOARD + 16];
    size_t n = 0;

    for (; n < m->t.nrow; n++) {
        x[n] = m->x[n];
        block[n] = (int)(n % NBOARD); /* 0: the board that the others are less of */
    }
    for (size_t i = 0; i < nplace; i++)
        for (size_t k = 0; k < count[i]; k++, n++) {
            x[n] = places[i].x;
            block[n] = 3;
        }
    return variance(p, step, sd, x, block, n);
}

/* Tries every allocation behind place i; least of judge. */
static void all_of(const made *m, const double *p, double step, double sd,
                   const pl_next_place *places, size_t nplace, size_t i, size_t left, size_t *count,
                   const size_t *least, double *best)
{
    if (i + 1 == nplace) {
        double v;

        count[i] = left;
        for (size_t k = 0; k < nplace; k++)
            if (count[k] < least[k])
                return;
        v = judge(m, p, step, sd, places, nplace, count);
        *best = v < *best ? v : *best;
        return;
    }
    for (count[i] = 0; count[i] <= left; count[i]++)
        all_of(m, p, step, sd, places, nplace, i + 1, left - count[i], count, least, best);
}

static void test_against_all(void **state)
{
    bench *b = *state;
    const pl_named_curve one = { "saturating-exponential", false };
    size_t count[20], trial[20], least[20] = { 0 }, nplace, sum = 0, rise = 0, top = 0;
    double p[3], step, best = INFINITY, got;
    pl_next_place *places;
    made m;

    make(b, &m, NLEVEL, &one, 1);
    assert_int_equal(m.fits[0].state, PL_REACHED);
    for (size_t j = 0; j < 3; j++) {
        assert_string_equal(m.fits[0].curves[0].params[j].name,
                            ((const char *const[]){ "floor", "top", "rate" })[j]);
        p[j] = m.fits[0].curves[0].params[j].estimate;
    }
    step = fmax(fabs(m.fits[0].curves[0].shape[0]), 0.1 * (3 - 0.2));
    assert_rel("shape", m.fits[0].curves[0].shape[0], p[2], 1e-9);
    assert_ok(b, pl_next_places(b->a, m.fits, 1, &places, &nplace, &b->d));
    assert_int_equal(nplace, 9); /* five levels, four places between */
    assert_ok(b, pl_next_choose(b->a, &m.t, &m.spec, &m.fits[0], places, nplace, 5, count, &b->d));
    for (size_t i = 0; i < nplace; i++) {
        sum += count[i];
        if (places[i].level && places[i].x < m.fits[0].onset.at && count[i])
            rise = i + 1;
        if (places[i].level && places[i].x >= m.fits[0].onset.high && count[i])
            top = top ? top : i + 1;
    }
    assert_int_equal(sum, 5);
    assert_true(rise && top);
    least[rise - 1] = least[top - 1] = 1;
    all_of(&m, p, step, m.fits[0].curves[0].residual.sd, places, nplace, 0, 5, trial, least, &best);
    got = judge(&m, p, step, m.fits[0].curves[0].residual.sd, places, nplace, count);
    assert_in_range((long)(1e6 * got / best), 999000,
                    1020000); /* within 2 % of the best there is */
}

/* More glue-ups narrow more; the same figures for one thread and for two. */
static void test_expect(void **state)
{
    bench *b = *state;
    const pl_named_curve two[] = { { "saturating-exponential", false },
                                   { "linear-plateau", true } };
    size_t few[20], many[20], nplace;
    pl_next_expected e[3];
    pl_next_place *places;
    made m;

    make(b, &m, NLEVEL, two, 2);
    assert_ok(b, pl_next_places(b->a, m.fits, 1, &places, &nplace, &b->d));
    assert_ok(b, pl_next_choose(b->a, &m.t, &m.spec, &m.fits[0], places, nplace, 4, few, &b->d));
    assert_ok(b, pl_next_choose(b->a, &m.t, &m.spec, &m.fits[0], places, nplace, 24, many, &b->d));
    omp_set_num_threads(1);
    assert_ok(b, pl_next_expect(b->a, &m.t, &m.spec, m.fits, 1, places, nplace, few, 60, 3, NULL,
                                &e[0], &b->d));
    omp_set_num_threads(2);
    assert_ok(b, pl_next_expect(b->a, &m.t, &m.spec, m.fits, 1, places, nplace, few, 60, 3, NULL,
                                &e[1], &b->d));
    assert_memory_equal(&e[0], &e[1], sizeof e[0]);
    assert_ok(b, pl_next_expect(b->a, &m.t, &m.spec, m.fits, 1, places, nplace, many, 60, 3, NULL,
                                &e[2], &b->d));
    assert_true(e[0].ratio && e[0].draws == 60);
    assert_true(e[2].width < e[0].width);
    assert_true(e[2].width < m.fits[0].onset.high / m.fits[0].onset.low);
    memcpy(few, many, sizeof few);
    assert_ok(b, pl_next_improve(b->a, &m.t, &m.spec, &m.fits[0], places, nplace, 40, 3, NULL, many,
                                 &b->d));
    for (size_t i = 0, n = 0; i < nplace; n += many[i++])
        if (i + 1 == nplace)
            assert_int_equal(n + many[i], 24);
}

/* With the rise going on at the highest level half of the round goes above it, and the open end
 * closes more often than when the old levels are only made again. */
static void test_open_top(void **state)
{
    bench *b = *state;
    size_t count[20], again[20] = { 0 }, nplace, above = 0;
    pl_next_expected e[2];
    pl_next_place *places;
    made m;

    make(b, &m, 4, NULL, 0);
    assert_int_equal(pl_next_need_of(&m.fits[0]), PL_NEXT_HIGHER);
    assert_ok(b, pl_next_places(b->a, m.fits, 1, &places, &nplace, &b->d));
    assert_ok(b, pl_next_choose(b->a, &m.t, &m.spec, &m.fits[0], places, nplace, 8, count, &b->d));
    for (size_t i = 0; i < nplace; i++)
        above += places[i].x > 2 ? count[i] : 0;
    assert_true(above >= 4);
    for (size_t i = 0, left = 8; i < nplace && left; i = (i + 1) % nplace)
        if (places[i].level) {
            again[i]++;
            left--;
        }
    assert_ok(b, pl_next_expect(b->a, &m.t, &m.spec, m.fits, 1, places, nplace, count, 60, 1, NULL,
                                &e[0], &b->d));
    assert_ok(b, pl_next_expect(b->a, &m.t, &m.spec, m.fits, 1, places, nplace, again, 60, 1, NULL,
                                &e[1], &b->d));
    assert_true(e[0].high_open < e[1].high_open);
}

static void test_no_rise(void **state)
{
    bench *b = *state;
    size_t count[20], nplace, below = 0;
    pl_next_place *places;
    made m;

    make(b, &m, NLEVEL, NULL, 0);
    for (size_t i = 0; i < m.t.nrow; i++)
        m.y[i] = 9 + wobble[i];
    assert_ok(b, pl_fit_curves(b->a, &m.t, &m.spec, &m.fits, &m.nfit, &b->d));
    assert_int_equal(pl_next_need_of(&m.fits[0]), PL_NEXT_LOWER);
    assert_ok(b, pl_next_places(b->a, m.fits, 1, &places, &nplace, &b->d));
    assert_rel("one step below", places[0].x, 0.1, 1e-12);
    assert_ok(b, pl_next_choose(b->a, &m.t, &m.spec, &m.fits[0], places, nplace, 6, count, &b->d));
    for (size_t i = 0; i < nplace; i++)
        below += places[i].x < 0.2 ? count[i] : 0;
    assert_true(below >= 3);
    assert_code(b, PL_EUSAGE,
                pl_next_choose(b->a, &m.t, &m.spec, &m.fits[0], places, nplace, 2, count, &b->d));
    assert_finding(b, "at least 3 of them");
    assert_code(b, PL_EUSAGE,
                pl_next_expect(b->a, &m.t, &m.spec, m.fits, 1, places, nplace, count, 0, 1, NULL,
                               NULL, &b->d));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_against_all),
        TEST(test_expect),
        TEST(test_open_top),
        TEST(test_no_rise),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
