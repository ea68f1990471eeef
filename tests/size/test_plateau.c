/* Simulated plateau studies: one study judged on projections against the whole of fit, and what
 * must hold of the chances. */
#include <gsl/gsl_errno.h>

#include "../fit/truths.h"
#include "base/stream.h"
#include "design/onset.h"
#include "fit/plateau.h"
#include "size/plateau.h"
#include "support.h"

static double nothing(double p)
{
    return 9 + 0 * p;
}

/* Draws a study of n a level, gives its sufficient figures and fit's answer on its rows. */
static const pl_plateau *drawn(pl_arena *a, double (*mean)(double), size_t n, double sd,
                               uint64_t draw, double *means, double *ss)
{
    pl_curve_spec spec = { .response = "y", .over = "p" };
    double *p = PL_NEWN(a, NLEVEL * n, double), *y = PL_NEWN(a, NLEVEL * n, double);
    const char **text = PL_NEWN(a, NLEVEL * n, const char *);
    pl_column columns[] = { { "y", "", 1, text, y }, { "p", "", 1, text, p } };
    pl_table table = { "drawn", NLEVEL * n, 2, columns, text };
    pl_plateau *f = NULL;
    pl_stream s;
    pl_diags d;
    size_t nf;

    pl_diags_init(&d, a);
    pl_stream_init(&s, 20, PL_FOR_TEST, draw);
    memset(means, 0, NLEVEL * sizeof *means);
    *ss = 0;
    for (size_t i = 0; i < NLEVEL * n; i++) {
        p[i] = level(i % NLEVEL);
        y[i] = mean(p[i]) + sd * pl_stream_normal(&s);
        text[i] = pl_arena_printf(a, "%.17g", p[i]);
        means[i % NLEVEL] += y[i] / (double)n;
    }
    for (size_t i = 0; i < NLEVEL * n; i++)
        *ss += (y[i] - means[i % NLEVEL]) * (y[i] - means[i % NLEVEL]);
    assert_int_equal(pl_fit_curves(a, &table, &spec, &f, &nf, &d), PL_OK);
    return f;
}

static bool alike(pl_plateau_end end, pl_state state)
{
    return state == PL_REACHED       ? end == PL_END_FOUND
           : state == PL_NOT_REACHED ? end == PL_END_NOT_REACHED
           : state == PL_FALLING     ? end == PL_END_FALLING
           : state == PL_NO_CHANGE   ? end == PL_END_NO_RISE
                                     : end == PL_END_NO_RISE || end == PL_END_TOP_OPEN;
}

static bool near(double point, double truth)
{
    return fabs(log(point / truth)) <= log(1.5);
}

/* The judge against pl_fit_curves, study by study: another code for the same rules. States may
 * differ where a tail area stands within the parabola's reach of its limit. Points lie between
 * the 19 looks of a gap, the first of which are 0.5/19 apart as a share: within such a step of
 * fit's, unless the tail area lies flat about one half, where any place of the flat will do. What
 * counts is whether both call the point near. In the long form, of 4,800 studies 6 states differ;
 * of 1,497 points 80 lie further off than a step, 10 by more than 5 %, and 7 are near by one only.
 */
static void test_judge_against_fit(void **state)
{
    static double (*const truths[])(double) = { exponential, knee_in_log, line_in_log, nothing };
    static const size_t ns[] = { 3, 5, 10 };
    const size_t draws = getenv("PLATEN_LONG") ? 400 : 8;
    size_t differ = 0, all = 0, far = 0, step = 0, unlike = 0, reached = 0;
    bench *b = *state;

    for (size_t c = 0; c < 12; c++) {
        double x[NLEVEL], share = 0.95, *scratch;
        pl_judge_layout *l;
        pl_judge *j;

        for (size_t k = 0; k < NLEVEL; k++)
            x[k] = level(k);
        assert_ok(b, pl_judge_lay_out(b->a, x, NLEVEL, share, &l, &b->d));
        assert_ok(b, pl_judge_make(b->a, l, (unsigned)ns[c % 3], 0, 1, &j, &b->d));
        scratch = pl_judge_scratch(b->a, j);
        for (size_t i = 0; i < draws; i++) {
            pl_arena *a = pl_arena_new(0);
            double means[NLEVEL], ss, point;
            const pl_plateau *f = drawn(a, truths[c / 3], ns[c % 3], i % 2 ? 1.8 : 0.9,
                                        c * 1000 + i, means, &ss);
            pl_plateau_end end = pl_judge_study(j, means, ss, scratch, &point);

            all++;
            differ += !alike(end, f->state);
            if (end == PL_END_FOUND && f->state == PL_REACHED && !f->reason) {
                double off = fabs(log(point / f->onset.at)), truth = onset_of(truths[c / 3]);

                reached++;
                step += off > log(1 + 0.5 / 19);
                far += off > log(1.05);
                unlike += near(point, truth) != near(f->onset.at, truth);
            }
            pl_arena_free(a);
        }
    }
    print_message(
        "%zu of %zu states differ from fit's; of %zu points %zu by over a step, %zu by over "
        "5 %%, %zu in whether they are near\n",
        differ, all, reached, step, far, unlike);
    assert_true(differ * 200 <= all + 199);
    assert_true(reached > all / 6);
    assert_true(step * 10 <= reached && far * 50 <= reached && unlike * 50 <= reached);
}

static pl_plateau_question asked(const pl_plateau_guess *g, double *levels)
{
    pl_plateau_question q = { .levels = levels,
                              .K = NLEVEL,
                              .share = 0.95,
                              .within = 1.5,
                              .guesses = g,
                              .nguess = 1,
                              .seed = 5,
                              .to = 4000,
                              .whole_range = true,
                              .sure_to = 0.005 };

    for (size_t k = 0; k < NLEVEL; k++)
        levels[k] = level(k);
    pl_size_question_init(&q.size);
    q.size.levels = NLEVEL;
    return q;
}

/* More glue-ups find it oftener, a wider ratio too; a pilot's doubt costs; two parts are the
 * whole; a stop on the way leaves what was counted. */
static void test_what_must_hold(void **state)
{
    pl_plateau_guess g = { "saturating-exponential", false, 0.5, 0.9, 1 };
    double x[NLEVEL], before = 0;
    bench *b = *state;
    pl_plateau_answer *w, *one, *other;
    pl_plateau_question q = asked(&g, x);

    q.size.sd = 0.1;
    q.size.relative = true;
    q.size.from = PL_SCATTER_PILOT;
    q.size.sd_df = 5;
    q.to = 2000;
    for (unsigned n = 2; n <= 8; n *= 2) {
        const pl_plateau_cell *c;

        q.size.glue_ups_per_level = n;
        assert_ok(b, pl_plateau_size(b->a, &q, NULL, NULL, &w, &b->d));
        c = w->rows[0].cell;
        assert_true(pl_plateau_chance(&c[PL_SIZE_AS_GIVEN]) > before);
        assert_true(pl_plateau_chance(&c[PL_SIZE_AT_UPPER]) <
                    pl_plateau_chance(&c[PL_SIZE_AS_GIVEN]));
        before = pl_plateau_chance(&c[PL_SIZE_AS_GIVEN]);
    }
    assert_int_equal(w->nrow, 3); /* levels at constant ratio are those asked for */
    q.to = 700;
    assert_ok(b, pl_plateau_size(b->a, &q, NULL, NULL, &one, &b->d));
    q.from = 700;
    q.to = 2000;
    assert_ok(b, pl_plateau_size(b->a, &q, NULL, NULL, &other, &b->d));
    for (int c = 0; c < PL_NSIZE_BASES; c++)
        for (int e = 0; e < PL_NPLATEAU_ENDS; e++)
            assert_int_equal(one->rows[0].cell[c].ends[e] + other->rows[0].cell[c].ends[e],
                             w->rows[0].cell[c].ends[e]);
    q.within = 3;
    q.from = 0;
    assert_ok(b, pl_plateau_size(b->a, &q, NULL, NULL, &one, &b->d));
    assert_true(pl_plateau_chance(&one->rows[0].cell[0]) >= before);
}

/* Strength under a guess: saturating exponential from 0, floor 0.5, 0.95 of the highest level's at
 * 0.9, that being 1; the rate by halving. */
static double guessed(double p)
{
    double low = 0.01, high = 50, top = level(NLEVEL - 1), rate = 0;

    for (int i = 0; i < 100; i++) {
        rate = (low + high) / 2;
        *((1 - exp(-rate * 0.9)) / (1 - exp(-rate * top)) < 0.9 ? &low : &high) = rate;
    }
    return 0.5 + 0.5 * (1 - exp(-rate * p)) / (1 - exp(-rate * top));
}

/* Shares of studies that find it whose rig stops at the limit, by the whole of fit: every joint
 * drawn, the stronger ones at the limit. */
static double found_by_fit(double limit, size_t n, double sd, size_t draws)
{
    size_t found = 0;

    for (size_t i = 0; i < draws; i++) {
        pl_arena *a = pl_arena_new(0);
        pl_curve_spec spec = { .response = "y", .over = "p", .brief = true };
        double *p = PL_NEWN(a, NLEVEL * n, double), *y = PL_NEWN(a, NLEVEL * n, double);
        const char **text = PL_NEWN(a, NLEVEL * n, const char *);
        pl_column columns[] = { { "y", "", 1, text, y }, { "p", "", 1, text, p } };
        pl_table table = { "drawn", NLEVEL * n, 2, columns, text };
        pl_plateau *f = NULL;
        pl_stream s;
        pl_diags d;
        size_t nf;

        pl_diags_init(&d, a);
        pl_stream_init(&s, 21, PL_FOR_TEST, i);
        for (size_t k = 0; k < NLEVEL * n; k++) {
            p[k] = level(k % NLEVEL);
            y[k] = fmin(guessed(p[k]) + sd * pl_stream_normal(&s), limit);
            text[k] = pl_arena_printf(a, "%.17g", p[k]);
        }
        assert_int_equal(pl_fit_curves(a, &table, &spec, &f, &nf, &d), PL_OK);
        found += f->state == PL_REACHED && near(f->onset.at, 0.9);
        pl_arena_free(a);
    }
    return (double)found / (double)draws;
}

/* A rig that stops beyond all joints changes nothing, one that stops at the plateau what fit says
 * of such joints. */
static void test_rig_stops(void **state)
{
    const size_t draws = getenv("PLATEN_LONG") ? 1000 : 40;
    pl_plateau_guess g = { "saturating-exponential", false, 0.5, 0.9, 1 };
    double x[NLEVEL], chance[3], error, by_fit;
    const double limits[] = { 0, 1.9, 1.02 };
    bench *b = *state;
    pl_plateau_answer *w;
    pl_plateau_question q = asked(&g, x);

    q.size.sd = 0.08;
    q.size.glue_ups_per_level = 4;
    q.asked_only = true;
    for (int i = 0; i < 3; i++) {
        q.limit = limits[i];
        assert_ok(b, pl_plateau_size(b->a, &q, NULL, NULL, &w, &b->d));
        assert_int_equal(w->nrow, 1);
        chance[i] = pl_plateau_chance(w->rows[0].cell);
    }
    error = pl_plateau_mc_se(w->rows[0].cell);
    assert_abs("beyond all joints", chance[1], chance[0], 4 * M_SQRT2 * error);
    by_fit = found_by_fit(1.02, 4, 0.08, draws);
    print_message("rig stops at 1.02: found %.3f, by fit %.3f\n", chance[2], by_fit);
    assert_abs("by fit", by_fit, chance[2],
               4 * sqrt(error * error + chance[2] * (1 - chance[2]) / (double)draws));
}

/* The placed layout is design's for the same factor and guess, between the same ends. */
static void test_placed(void **state)
{
    pl_plateau_guess g = { "saturating-exponential", false, 0.5, 0.9, 1 };
    double x[NLEVEL], placed[NLEVEL], steps = 0;
    pl_guess guess = { "saturating-exponential", false, 0.9e6, 0.5, 1 };
    pl_factor f = {
        .name = "p", .nlevel = NLEVEL, .numeric = true, .kind = PL_Q_PRESSURE, .unit = "N/mm2"
    };
    pl_study s = { .name = "s",
                   .factors = &f,
                   .nfactor = 1,
                   .question = { .share = 0.95, .guess = &guess, .nguess = 1 } };
    bench *b = *state;
    pl_plateau_answer *w;
    pl_plateau_question q = asked(&g, x);

    q.kind = PL_Q_PRESSURE;
    q.unit = "N/mm2";
    g.onset = 0.9e6;
    for (size_t k = 0; k < NLEVEL; k++) {
        placed[k] = x[k];
        x[k] *= 1e6;
    }
    assert_true(pl_onset_levels(b->a, &s, 0, placed));
    q.size.sd = 0.08;
    q.size.glue_ups_per_level = 4;
    q.to = 500;
    assert_ok(b, pl_plateau_size(b->a, &q, NULL, NULL, &w, &b->d));
    assert_true(w->has[PL_LAYOUT_PLACED]);
    for (size_t k = 0; k < NLEVEL; k++) {
        assert_rel("place", w->places[PL_LAYOUT_PLACED][k], 1e6 * placed[k], 1e-12);
        steps += fabs(placed[k] * 1e6 / x[k] - 1);
    }
    assert_true(steps > 0.1);
    for (size_t i = 0; i < w->nrow; i++)
        if (w->rows[i].layout == PL_LAYOUT_PLACED) /* it is placed for that guess */
            assert_true(pl_plateau_chance(w->rows[i].cell) >
                        pl_plateau_chance(w->rows[0].cell) - 0.05);
}

static bool at_once(void *self, double done)
{
    (void)self;
    return done >= 0;
}

static void test_stops_when_told(void **state)
{
    pl_plateau_guess g = { "saturating-exponential", false, 0.5, 0.9, 1 };
    double x[NLEVEL];
    bench *b = *state;
    pl_plateau_answer *w;
    pl_plateau_question q = asked(&g, x);

    q.size.sd = 0.1;
    q.to = PL_PLATEAU_DRAWS_MOST;
    assert_ok(b, pl_plateau_size(b->a, &q, at_once, NULL, &w, &b->d));
    assert_true(w->stopped && w->nrow == 1);
    assert_true(w->rows[0].cell[0].draws > 0 && w->rows[0].cell[0].draws <= 16000);
}

static void test_refuses(void **state)
{
    pl_plateau_guess g = { "saturating-exponential", false, 0.5, 3.3, 1 };
    double x[NLEVEL];
    bench *b = *state;
    pl_plateau_answer *w;
    pl_plateau_question q = asked(&g, x);

    q.size.sd = 0.1;
    assert_code(b, PL_EUNFIT, pl_plateau_size(b->a, &q, NULL, NULL, &w, &b->d));
    assert_finding(b, "an earlier onset");
    g.onset = 99;
    g.floor = 0.97;
    q.within = 1;
    assert_code(b, PL_EDOM, pl_plateau_size(b->a, &q, NULL, NULL, &w, &b->d));
    assert_finding(b, "a factor above 1");
    q.within = 1.5;
    assert_code(b, PL_EDOM, pl_plateau_size(b->a, &q, NULL, NULL, &w, &b->d));
    assert_finding(b, "below the share");
    g = (pl_plateau_guess){ "linear-plateau", false, 0.5, 0.9, 1 };
    q.size.glue_ups_per_level = 1;
    assert_code(b, PL_EUNFIT, pl_plateau_size(b->a, &q, NULL, NULL, &w, &b->d));
    assert_finding(b, "never repeated");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_judge_against_fit), TEST(test_what_must_hold), TEST(test_stops_when_told),
        TEST(test_refuses),           TEST(test_rig_stops),      TEST(test_placed),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
