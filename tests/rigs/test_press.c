/* Set points and the way back, against hand calculations of the trade. Cases
 * marked WORKED stand in the project's worked examples, section 2 "Force and
 * pressure"; their working is repeated beside each. */
#include "shop.h"

#include <time.h>

static const double pi = 3.14159265358979323846;

/* Force at one dial reading, SI. */
static double force_of(bench *b, const char *rig_text, double dial, pl_quantity_kind kind,
                       double *u_N)
{
    pl_rig rig = rig_of(b, rig_text);
    double f, u;

    assert_ok(b, pl_rigs_forces(b->a, &rig, &dial, kind, 1, &f, &u, &b->d));
    if (u_N)
        *u_N = u;
    return f;
}

static pl_set_point point_of(bench *b, const char *rig_text, double force_N)
{
    pl_rig rig = rig_of(b, rig_text);
    pl_set_points p;

    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, &force_N, 1, 1e-3, &p, &b->d));
    assert_int_equal(p.chosen[0], p.at[0].can ? 0 : -1);
    return p.at[0];
}

#define BORE4(more)                                                           \
    "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\": {\"bore\": " \
    "\"4 in\"" more "}, \"dial\": {\"unit\": \"psi\", \"to\": \"300 psi\"}}"

/* Common practice, no source: a 4 in bore at 250 psi gives 3141.6 lbf, which is about
 * 1400 psi on a lap of 1.5 in x 1.5 in. pi/4 x 16 x 250 = 3141.593. */
static void test_bore_4_inch_at_250_psi(void **state)
{
    bench *b = *state;
    double f = force_of(b, BORE4(", \"friction\": 0"), 250 * PSI, PL_Q_PRESSURE, NULL);

    assert_abs("lbf", f / LBF, 3141.6, 0.05);
    assert_rel("psi on the lap", f / LBF / (1.5 * 1.5), 1400, 0.005);
}

/* WORKED: pi x 4^2/4 x 90 = 1130.97 lbf = 5030.82 N; 15 % friction: x 0.85 = 961.33
 * lbf = 4276.20 N; pulling with a 1 in rod: pi (16 - 1)/4 x 90 = 1060.29 lbf. */
static void test_bore_4_inch_at_90_psi(void **state)
{
    bench *b = *state;
    double plain = force_of(b, BORE4(", \"friction\": 0"), 90 * PSI, PL_Q_PRESSURE, NULL);
    double rubbing = force_of(b, BORE4(", \"friction\": \"15 %\""), 90 * PSI, PL_Q_PRESSURE, NULL);
    double pulling = force_of(b, BORE4(", \"rod\": \"1 in\", \"side\": \"pull\""), 90 * PSI,
                              PL_Q_PRESSURE, NULL);
    double pushing = force_of(b, BORE4(", \"rod\": \"1 in\", \"side\": \"push\""), 90 * PSI,
                              PL_Q_PRESSURE, NULL);

    assert_abs("plain, lbf", plain / LBF, 1130.97, 0.005);
    assert_abs("plain, N", plain, 5030.82, 0.005);
    assert_abs("15 %, lbf", rubbing / LBF, 961.33, 0.005);
    assert_abs("15 %, N", rubbing, 4276.20, 0.005);
    assert_abs("pulling, lbf", pulling / LBF, 1060.29, 0.005);
    assert_rel("the rod takes nothing when pushing", pushing, plain, 1e-14);
    /* WORKED: that push on 2 x 6 in is 94.25 psi = 649.82 kPa, on 1.5 x 2 in 2.5993 N/mm2 */
    assert_abs("kPa on 2 x 6 in", plain / (12 * INCH * INCH) / 1e3, 649.82, 0.005);
    assert_abs("N/mm2 on 1.5 x 2 in", plain / (3 * INCH * INCH) / 1e6, 2.5993, 0.00005);
}

/* WORKED: 50 mm bore at 6 bar: pi x 50^2/4 x 0.6 = 1178.10 N. */
static void test_bore_50_mm_at_6_bar(void **state)
{
    bench *b = *state;
    double f = force_of(b,
                        "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\": {\"bore\": "
                        "\"50 mm\", \"friction\": 0}, \"dial\": {\"unit\": \"bar\"}}",
                        6e5, PL_Q_PRESSURE, NULL);

    assert_abs("N", f, 1178.10, 0.005);
}

/* WORKED: 150 psi on 24 in2 with a 4 in bore needs 150 x 24/12.566371 = 286.48 psi,
 * beyond shop air; the smallest bore for 120 psi is sqrt(4 x 3600/(120 pi)) = 6.18 in. */
static void test_shop_air_cannot(void **state)
{
    bench *b = *state;
    pl_set_point p = point_of(b, BORE4(", \"friction\": 0, \"supply\": \"120 psi\""),
                              150 * 24 * LBF);

    assert_false(p.can);
    assert_string_equal(p.reason, "needs 286.5 psi; the supply gives 120 psi");
    /* of the 1000 mm2 asked for: 1000 x 120/286.48 = 418.9 mm2, rounded down */
    assert_string_equal(p.mend, "a bore of at least 6.187 in, or a supply of 286.5 psi; or "
                                "pressing at most 418 mm2 instead of 1000 mm2 at once");
    p = point_of(b,
                 "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\": {\"bore\": \"6.187 "
                 "in\", \"friction\": 0, \"supply\": \"120 psi\"}, \"dial\": {\"unit\": \"psi\"}}",
                 150 * 24 * LBF);
    assert_true(p.can);
}

/* Common practice, no source: with a breakaway of 2.5 psi on a 2 in bore a demand of
 * 1.2 psi on a lap of 1.5 in x 1.5 in (2.7 lbf, 0.86 psi in the cylinder) is refused by
 * the cylinder and given to dead weight. 2.7 lbf = 12.01 N = 1.2247 kg. */
static void test_breakaway_goes_to_dead_weight(void **state)
{
    bench *b = *state;
    pl_rig rigs[2];
    pl_set_points p;
    double force = 1.2 * PSI * (1.5 * INCH) * (1.5 * INCH);

    rigs[0] = rig_of(b, "{\"name\": \"small-air\", \"kind\": \"piston-press\", \"settings\": "
                        "{\"bore\": \"2 in\", \"breakaway\": \"2.5 psi\"}, \"dial\": {\"unit\": "
                        "\"psi\", \"to\": \"30 psi\"}}");
    rigs[1] = rig_of(b, "{\"name\": \"stack\", \"kind\": \"dead-weight\", \"settings\": "
                        "{\"masses\": [[\"1 lb\", 3], [\"0.5 lb\", 1], [\"0.2 lb\", 1]]}}");
    assert_abs("lbf", force / LBF, 2.7, 1e-9);
    assert_ok(b, pl_rigs_set_points(b->a, rigs, 2, &force, 1, 2.25 * INCH * INCH, &p, &b->d));
    assert_false(p.at[0].can);
    assert_string_equal(p.at[0].reason,
                        "needs 0.8594 psi; the seal lets the piston move above 2.5 psi");
    /* 2.25 in2 = 1451.6 mm2; times 2.5/0.8594 = 4222.6 mm2, where the seal just does not move */
    assert_string_equal(p.at[0].mend, "dead weights, or a bore under 1.171 in; or pressing at "
                                      "least 4230 mm2 instead of 1452 mm2 at once");
    assert_int_equal(p.chosen[0], 1);
    assert_true(p.at[1].can);
    assert_rel("lbf", p.at[1].gives_N / LBF, 2.7, 1e-9); /* 1 lb of mass weighs 1 lbf */
    assert_int_equal(p.at[1].nparts, 3);
    assert_string_equal(p.at[1].parts[0], "1 lb x 2");
    assert_string_equal(p.at[1].parts[1], "0.5 lb");
    assert_string_equal(p.at[1].parts[2], "0.2 lb");
    assert_true(isnan(p.at[1].dial));
    assert_string_equal(p.at[1].dial_unit, "");
}

/* WORKED: 25 x 9.80665 = 245.17 N, on 25 x 25 mm 0.39227 N/mm2; lever 10 : 1 with 20 kg:
 * 10 x 20 x 9.80665 = 1961.33 N. */
static void test_masses_and_lever(void **state)
{
    bench *b = *state;
    pl_set_point p = point_of(b,
                              "{\"name\": \"w\", \"kind\": \"dead-weight\", \"settings\": "
                              "{\"masses\": [[\"25 kg\", 1]]}}",
                              245);

    assert_true(p.can);
    assert_abs("N", p.gives_N, 245.17, 0.005);
    assert_abs("N/mm2", p.gives_N / 625, 0.39227, 0.000005);
    p = point_of(b,
                 "{\"name\": \"w\", \"kind\": \"dead-weight\", \"settings\": {\"masses\": [[\"20 "
                 "kg\", 1], [\"7 kg\", 3]], \"ratio\": 10}}",
                 1961);
    assert_abs("N", p.gives_N, 1961.33, 0.005);
    assert_int_equal(p.nparts, 1);
    assert_string_equal(p.parts[0], "20 kg");
    /* limits of error 1 % of the masses and 2 % of the ratio, rectangular (GUM 4.3.7) */
    assert_rel("u", p.u_N, 1961.33 * hypot(0.01, 0.02) / sqrt(3), 1e-12);
}

/* Platen 1.2 kg under the lever, hanger 0.6 kg on it, 5 to 1: the empty stand gives
 * (1.2 + 5 x 0.6) x 9.80665 = 41.188 N, and no level below it. */
static void test_platen_and_hanger_count(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_file(b, "tests/rigs/lever-stand.json");
    const double g = 9.80665;
    double force[] = { 30, 4.2 * g, 9.2 * g, 5000 };
    pl_set_points p;

    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, force, 4, 1.2e-3, &p, &b->d));
    assert_false(p.at[0].can);
    /* the empty stand is 5 % too much for 41.188/1.05 N; 30 N want 1200 mm2 */
    assert_string_equal(p.at[0].mend, "a lighter platen or hanger; or pressing at least 1570 mm2 "
                                      "instead of 1200 mm2 at once");
    assert_non_null(strstr(p.at[0].reason, "gives 41.19 N with no mass"));
    assert_true(p.at[1].can);
    assert_int_equal(p.at[1].nparts, 0);
    assert_rel("one kilogram", p.at[2].gives_N, force[2], 1e-12);
    assert_string_equal(p.at[2].parts[0], "1 kg");
    assert_false(p.at[3].can);
    /* 76.5 + 0.6 kg hung: (1.2 + 5 x 77.1) g = 3792.2 N; 1207.8 N more are 24.63 kg */
    assert_string_equal(p.at[3].mend, "a further 24.63 kg; or pressing at most 958 mm2 "
                                      "instead of 1200 mm2 at once"); /* all of it /0.95 */
}

/* WORKED: class 1.6 on 0-10 bar is +-0.16 bar everywhere: +-8 % at 2 bar. Grade A on
 * 0-100 psi is +-2 psi at 10 or 90 psi and +-1 psi at 50 psi. The bore is taken as
 * exact here, so that the gauge is all there is. */
static void test_gauge_classes(void **state)
{
#define GAUGED(dial)                                                               \
    "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\": {\"bore\": \"50 " \
    "mm\", \"friction\": 0, \"bore_within\": \"0 mm\"}, \"dial\": " dial "}"
    bench *b = *state;
    const char *en = GAUGED("{\"unit\": \"bar\", \"to\": \"10 bar\", \"class\": \"1.6 %\"}");
    const char *grade = GAUGED("{\"unit\": \"psi\", \"to\": \"100 psi\", \"class\": \"2-1-2 %\"}");
    double u, f = force_of(b, en, 2e5, PL_Q_PRESSURE, &u);

    assert_rel("8 % at 2 bar", sqrt(3) * u / f, 0.08, 1e-9);
    f = force_of(b, en, 8e5, PL_Q_PRESSURE, &u);
    assert_rel("2 % at 8 bar", sqrt(3) * u / f, 0.02, 1e-9);
    f = force_of(b, grade, 10 * PSI, PL_Q_PRESSURE, &u);
    assert_rel("2 psi at 10", sqrt(3) * u / f * 10, 2, 1e-9);
    f = force_of(b, grade, 50 * PSI, PL_Q_PRESSURE, &u);
    assert_rel("1 psi at 50", sqrt(3) * u / f * 50, 1, 1e-9);
    f = force_of(b, grade, 90 * PSI, PL_Q_PRESSURE, &u);
    assert_rel("2 psi at 90", sqrt(3) * u / f * 90, 2, 1e-9);
}

/* Every part of the budget at 4 bar on the 63 mm cylinder, by hand:
 *   full     4e5 x pi/4 x 0.063^2
 *   friction 12 % known to half of itself, rectangular: full x 0.06 / sqrt 3
 *   area     bore within 0.1 mm: full x 2 x 0.0001/0.063 / sqrt 3
 *   seal     anywhere from 0 to 0.25 bar held back: 0.25e5 A / sqrt 12
 *   gauge    class 1.6 of 10 bar: 0.16e5 A (1 - 0.12) / sqrt 3
 *   reading  a quarter of the 0.2 bar mark: 0.05e5 A (1 - 0.12) / sqrt 3, not common to the rig */
static void test_budget(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_file(b, "tests/rigs/air-63.json");
    double A = pi / 4 * 0.063 * 0.063, force = 4e5 * A * 0.88, full = 4e5 * A;
    double fixed = sqrt(pow(full * 0.06, 2) / 3 + pow(full * 2 * 0.0001 / 0.063, 2) / 3 +
                        pow(0.25e5 * A, 2) / 12 + pow(0.16e5 * A * 0.88, 2) / 3);
    pl_set_points p;

    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, &force, 1, 1.2e-3, &p, &b->d));
    assert_true(p.at[0].can);
    assert_rel("dial", p.at[0].dial, 4, 1e-14);
    assert_string_equal(p.at[0].dial_unit, "bar");
    assert_rel("gives", p.at[0].gives_N, force, 1e-12);
    assert_rel("u of the rig", p.at[0].u_rig_N, fixed, 1e-9);
    assert_rel("u", p.at[0].u_N, hypot(fixed, 0.05e5 * A * 0.88 / sqrt(3)), 1e-9);
    assert_rel("accepted from", p.at[0].accept_low, 3.8, 1e-12);
    assert_rel("accepted to", p.at[0].accept_high, 4.2, 1e-12);
    assert_string_equal(p.at[0].rated, "10 bar");
}

/* Half marks, both ways, over the whole dial: rising, and back to the same mark. */
static void test_round_trip(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_file(b, "tests/rigs/air-63.json");
    double dial[70], force[70], u[70];
    size_t n = 0;
    pl_set_points p;

    for (int half = 3; half <= 72; half++)
        dial[n++] = half * 0.1e5;
    assert_ok(b, pl_rigs_forces(b->a, &rig, dial, PL_Q_PRESSURE, n, force, u, &b->d));
    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, force, n, 1.2e-3, &p, &b->d));
    for (size_t i = 0; i < n; i++) {
        assert_true(p.at[i].can);
        assert_rel("the same mark", p.at[i].dial * 1e5, dial[i], 1e-12);
        assert_rel("the same force", p.at[i].gives_N, force[i], 1e-12);
        if (i)
            assert_true(p.at[i].gives_N > p.at[i - 1].gives_N);
    }
}

/* Any force: the dial rises with it, stands on a half mark, and is the nearest one. */
static void test_rounding_rises(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_file(b, "tests/rigs/air-63.json");
    double force[60], before = 0;
    pl_set_points p;

    for (int i = 0; i < 60; i++)
        force[i] = 400 * pow(1.0297, i); /* to about 2250 N */
    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, force, 60, 1.2e-3, &p, &b->d));
    for (int i = 0; i < 60; i++) {
        const pl_set_point *q = &p.at[i];
        double half = q->dial / 0.1, wanted = force[i] / (pi / 4 * 0.063 * 0.063 * 0.88) / 1e5;

        if (!q->can) {
            assert_true(fabs(half * 0.1 - wanted) > 0.04 || isnan(half));
            continue;
        }
        assert_abs("on a half mark", half, round(half), 1e-9);
        assert_true(fabs(q->dial - wanted) <= 0.05 + 1e-9);
        assert_true(q->dial >= before);
        before = q->dial;
    }
}

/* Neither a force nor a reading above what is rated, nor past the end of the dial. */
static void test_never_above_rated(void **state)
{
#define RATED(rated, to)                                                            \
    "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\": {\"bore\": \"100 " \
    "mm\", \"friction\": 0}, \"rated\": " rated ", \"dial\": {\"unit\": \"bar\", "  \
    "\"marks\": \"0.5 bar\", \"to\": " to "}}"
    bench *b = *state;
    double A = pi / 4 * 0.01;
    pl_set_point p = point_of(b, RATED("\"6 bar\"", "\"10 bar\""), 6.01e5 * A);

    assert_false(p.can);
    assert_string_equal(p.reason, "needs 6.01 bar; gauge and rating go to 6 bar");
    p = point_of(b, RATED("\"6 bar\"", "\"10 bar\""), 5.999e5 * A);
    assert_true(p.can);
    assert_rel("not rounded over it", p.dial, 6, 1e-14);
    assert_true(p.accept_high <= 6);
    p = point_of(b, RATED("\"4 kN\"", "\"10 bar\""), 4100);
    assert_false(p.can);
    assert_non_null(strstr(p.mend, "another rig: a rated limit is never exceeded; or pressing at "
                                   "most "));
    p = point_of(b, RATED("\"20 bar\"", "\"10 bar\""), 12e5 * A);
    assert_false(p.can);
    assert_string_equal(p.reason, "needs 12 bar; gauge and rating go to 10 bar");
    /* sqrt(12/10) x 100 mm = 109.54 mm, and a thousandth */
    assert_non_null(strstr(p.mend, "a bore of at least 109.7 mm; or pressing at most 833 mm2"));
}

/* A half mark too coarse for the level: 0.25 bar steps cannot make 0.33 bar. */
static void test_marks_too_coarse(void **state)
{
    bench *b = *state;
    pl_set_point p = point_of(b, RATED("\"6 bar\"", "\"10 bar\""), 0.33e5 * pi / 4 * 0.01);

    assert_false(p.can);
    assert_non_null(strstr(p.reason, "24 % off"));
    /* marks a fifth of 0.33 bar, half of them set: 5 % off at most. 0.25 bar serves down from
     * 0.25/0.95 = 0.26316 bar: 797 of 1000 mm2 */
    assert_string_equal(p.mend, "a dial with a mark every 0.066 bar, or a smaller rig; or pressing "
                                "at most 797 mm2 instead of 1000 mm2 at once");
}

/* Eight levels from low to high, 120 to 2160 N. By the budget above the cylinder is within
 * 10 % from 480 N up (8 % there, 15 % at 240 N); the weights reach 515 N. The cylinder makes
 * six levels surely and takes all six, the third too, although the weights are listed first. */
static void test_chosen(void **state)
{
    bench *b = *state;
    pl_rig rigs[3];
    const double level[] = { 0.1e6, 0.2e6, 0.4e6, 0.6e6, 0.9e6, 1.2e6, 1.6e6, 1.8e6 };
    double force[8], area = 40e-3 * 30e-3;
    pl_set_points p;

    rigs[0] = rig_of(b, "{\"name\": \"small\", \"kind\": \"dead-weight\", \"settings\": "
                        "{\"ratio\": 5, \"masses\": [[\"0.5 kg\", 1], [\"1 kg\", 10]]}}");
    rigs[1] = rig_file(b, "tests/rigs/air-63.json");
    rigs[2] = rig_file(b, "tests/rigs/cell-25.json");
    for (int i = 0; i < 8; i++)
        force[i] = level[i] * area;
    assert_ok(b, pl_rigs_set_points(b->a, rigs, 3, force, 8, area, &p, &b->d));
    for (size_t i = 0; i < 8; i++) {
        const pl_set_point *hung = pl_set_points_at(&p, i, 0), *air = pl_set_points_at(&p, i, 1);
        bool most = air->can && air->u_N <= 0.1 * air->gives_N;

        assert_int_equal(p.chosen[i], i < 2 ? 0 : 1);
        assert_true(i < 2 ? hung->can && !most : most);
        assert_true(hung->can == (i < 3)); /* and yet the cylinder takes the third */
        assert_false(pl_set_points_at(&p, i, 2)->can);
        assert_string_equal(pl_set_points_at(&p, i, 2)->reason, "this kind of rig does not press");
    }
}

/* Nearest subset: against trying every one of 2^14 subsets, for odd masses. */
static void test_nearest_subset_is_nearest(void **state)
{
    bench *b = *state;
    const double kg[14] = { 0.113, 0.227, 0.454, 0.51,  0.68,  0.907, 1.134,
                            1.361, 1.814, 2.268, 2.722, 3.402, 4.536, 5.443 };
    double force[25];
    pl_text t;
    pl_rig rig;
    pl_set_points p;

    pl_text_init(&t, b->a);
    pl_text_put(&t, "{\"name\": \"w\", \"kind\": \"dead-weight\", \"settings\": {\"masses\": [");
    for (int i = 0; i < 14; i++)
        pl_text_add(&t, "%s[\"%.3f kg\", 1]", i ? ", " : "", kg[i]);
    pl_text_put(&t, "]}}");
    rig = rig_of(b, pl_text_done(&t));
    for (int i = 0; i < 25; i++)
        force[i] = 9.80665 * (1.0371 + 0.99173 * i);
    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, force, 25, 1e-3, &p, &b->d));
    for (int i = 0; i < 25; i++) {
        double best = HUGE_VAL;

        for (unsigned s = 0; s < 1u << 14; s++) {
            double sum = 0;

            for (int k = 0; k < 14; k++)
                if (s >> k & 1)
                    sum += kg[k];
            best = fmin(best, fabs(sum * 9.80665 - force[i]));
        }
        if (!p.at[i].can)
            fail_msg("%s", p.at[i].reason);
        assert_abs("off by", fabs(p.at[i].gives_N - force[i]), best, 1e-7);
    }
}

/* Thirty pieces, all different: a load that a hidden subset makes exactly is found, and
 * twenty of them within the child's time. Of equal sums the fewest pieces. */
static void test_thirty_pieces(void **state)
{
    bench *b = *state;
    double kg[30], force[20];
    unsigned seed = 12345;
    pl_text t;
    pl_rig rig;
    pl_set_points p;
    struct timespec from, to;

    pl_text_init(&t, b->a);
    pl_text_put(&t, "{\"name\": \"w\", \"kind\": \"dead-weight\", \"settings\": {\"masses\": [");
    for (int i = 0; i < 30; i++) {
        seed = seed * 1103515245u + 12345u;
        kg[i] = (double)(seed >> 8 & 0xfffff) / 1e5 + 0.1;
        pl_text_add(&t, "%s[\"%.6f kg\", 1]", i ? ", " : "", kg[i]);
    }
    pl_text_put(&t, "]}}");
    rig = rig_of(b, pl_text_done(&t));
    for (int i = 0; i < 20; i++) {
        force[i] = 0;
        for (int k = 0; k < 30; k++) {
            seed = seed * 1103515245u + 12345u;
            if (seed >> 16 & 1)
                force[i] += kg[k] * 9.80665;
        }
    }
    clock_gettime(CLOCK_MONOTONIC, &from);
    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, force, 20, 1e-3, &p, &b->d));
    clock_gettime(CLOCK_MONOTONIC, &to);
    for (int i = 0; i < 20; i++)
        assert_abs("exact", p.at[i].gives_N, force[i], 2e-5);
    print_message("20 loads from 30 pieces: %.0f ms\n",
                  1e3 * (double)(to.tv_sec - from.tv_sec) +
                      1e-6 * (double)(to.tv_nsec - from.tv_nsec));
    assert_int_equal(
        point_of(b,
                 "{\"name\": \"w\", \"kind\": \"dead-weight\", \"settings\": {\"masses\": [[\"1 "
                 "kg\", 5], [\"5 kg\", 1], [\"2 kg\", 3]]}}",
                 5 * 9.80665)
            .nparts,
        1);
}

/* All faults of a rig file in one run, each at its place. */
static void test_faults_of_a_rig_file(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\":\n"
                           "  {\"boer\": \"63 mm\", \"friction\": \"120 %\",\n"
                           "   \"supply\": \"8 mm\", \"side\": \"pul\", \"rod\": true},\n"
                           " \"rated\": \"3 h\",\n"
                           " \"dial\": {\"unit\": \"kN\", \"class\": \"1.6\"}}");

    assert_int_not_equal(pl_rigs_check(b->a, &rig, &b->d), PL_OK);
    assert_finding(b, "rig.json:2: /settings/boer");
    assert_finding(b, "is \"bore\" meant?");
    assert_finding(b, "no setting \"bore\"");
    assert_finding(b, "rig.json:2: /settings/friction: found \"120 %\", expected 0 % to 90 %");
    assert_finding(b, "rig.json:3: /settings/supply");
    assert_finding(b, "is \"pull\" meant?");
    assert_finding(b, "/settings/rod");
    assert_finding(b, "rig.json:4: /rated");
    assert_finding(b, "rig.json:5: /dial/unit: found \"kN\", expected a pressure");
    assert_finding(b, "/dial/class");
}

static void test_check_says_what_it_takes(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\": "
                           "{\"bore\": \"63 mm\"}, \"dial\": {\"unit\": \"bar\"}}");

    assert_ok(b, pl_rigs_check(b->a, &rig, &b->d));
    assert_finding(b, "not stated, so taken: rod 0 mm, side push, medium air, friction 0");
    assert_finding(b, "no class");
    assert_finding(b, "no marks");
    assert_finding(b, "no rated limit");
}

static void test_shipped_rigs_are_sound(void **state)
{
    bench *b = *state;
    static const char *const files[] = { "designs/rigs/weights.json", "designs/rigs/air-press.json",
                                         "designs/rigs/pull-bench.json" };

    for (int i = 0; i < 3; i++) {
        pl_rig rig = rig_file(b, files[i]);

        assert_ok(b, pl_rigs_check(b->a, &rig, &b->d));
    }
}

static void test_unknown_kind(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, "{\"name\": \"c\",\n \"kind\": \"piston-pres\"}");

    assert_code(b, PL_EKEY, pl_rigs_check(b->a, &rig, &b->d));
    assert_finding(b, "rig.json:2: /kind");
    assert_finding(b, "is \"piston-press\" meant?");
}

/* The way back of a bench in kN; plain forces pass a rig whose dial is a pressure. */
static void test_way_back(void **state)
{
    bench *b = *state;
    pl_rig bench_rig = rig_file(b, "tests/rigs/cell-25.json");
    pl_rig air = rig_file(b, "tests/rigs/air-63.json");
    double shown[2] = { 6000, 300 }, f[2], u[2], low = 0.1e5;

    assert_int_equal(pl_rigs_dial_kind(b->a, &bench_rig), PL_Q_FORCE);
    assert_int_equal(pl_rigs_dial_kind(b->a, &air), PL_Q_PRESSURE);
    assert_ok(b, pl_rigs_forces(b->a, &bench_rig, shown, PL_Q_FORCE, 2, f, u, &b->d));
    assert_rel("identity", f[0], 6000, 1e-15);
    /* 0.5 % of the reading, 0.1 % of 25 kN and a quarter of 10 N, each rectangular */
    assert_rel("u", u[0], sqrt((30 * 30 + 25 * 25 + 2.5 * 2.5) / 3), 1e-9);
    assert_finding(b, "300 N is below 500 N, the lowest force it was verified at");
    assert_ok(b, pl_rigs_forces(b->a, &air, shown, PL_Q_FORCE, 2, f, u, &b->d));
    assert_rel("as it is", f[1], 300, 0);
    assert_true(isnan(u[1]));
    assert_code(b, PL_EUNIT, pl_rigs_forces(b->a, &air, shown, PL_Q_LENGTH, 1, f, u, &b->d));
    assert_code(b, PL_ERANGE, pl_rigs_forces(b->a, &air, &low, PL_Q_PRESSURE, 1, f, u, &b->d));
    assert_true(isnan(f[0]));
    assert_finding(b, "at 0.1 bar the piston does not move yet");
}

/* A reading beyond the end of the dial is a slip of the pencil, not a force. */
static void test_beyond_the_dial(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, BORE4(", \"friction\": 0"));
    double dial[] = { 300 * PSI, 301 * PSI }, f[2], u[2];

    assert_code(b, PL_ERANGE, pl_rigs_forces(b->a, &rig, dial, PL_Q_PRESSURE, 2, f, u, &b->d));
    assert_true(isfinite(f[0]));
    assert_true(isnan(f[1]));
    assert_finding(b, "its dial ends at 300 psi");
}

static void test_kinds(void **state)
{
    bench *b = *state;
    pl_rig_kinds k;
    bool bore = false;

    assert_ok(b, pl_rigs_kinds(b->a, &k, &b->d));
    assert_true(k.count >= 3);
    for (size_t i = 0; i < k.count; i++) {
        const pl_rig_kind *kind = &k.items[i];

        if (!strcmp(kind->name, "load-cell")) {
            assert_true(!kind->presses && kind->reads_back && kind->reads_files);
            assert_string_equal(kind->columns[0], "time [s]");
            assert_string_equal(kind->columns[1], "force [N]");
        }
        if (strcmp(kind->name, "piston-press") != 0)
            continue;
        assert_true(kind->presses && kind->reads_back && !kind->reads_files);
        assert_string_equal(kind->dial, "Pa");
        for (size_t s = 0; s < kind->nsetting; s++)
            bore = bore || (!strcmp(kind->settings[s].name, "bore") && kind->settings[s].required &&
                            !strcmp(kind->settings[s].unit, "m"));
    }
    assert_true(bore);
}

/* The n-th allocation fails, for every n: an error or the same answer, never a crash. */
static void test_out_of_memory(void **state)
{
    bench *b = *state;
    pl_rig rigs[2];
    const double force[] = { 120, 4200 }; /* above the stand's 4 kN: neither */
    unsigned long n = 1, failed = 0;
    pl_code code;

    rigs[0] = rig_file(b, "tests/rigs/lever-stand.json");
    rigs[1] = rig_file(b, "tests/rigs/air-63.json");
    for (bool whole = false; !whole && n < 2000; n += n < 60 ? 1 : 7) {
        pl_arena *a = pl_arena_new(0);
        pl_set_points p;
        pl_diags d;

        pl_diags_init(&d, a);
        pl_arena_fail_at(n);
        code = pl_rigs_set_points(a, rigs, 2, force, 2, 1e-3, &p, &d);
        /* not used up: every allocation was reached */
        pl_arena_fail_at(0);
        whole = code == PL_OK && n > 300;
        failed += code != PL_OK;
        if (code == PL_OK && (p.chosen[0] != 0 || p.chosen[1] != -1))
            fail_msg("allocation %lu: %d %d %s", n, p.chosen[0], p.chosen[1], p.at[3].reason);
        pl_arena_free(a);
    }
    assert_true(failed > 20);
}

static const struct CMUnitTest tests[] = {
    TEST(test_bore_4_inch_at_250_psi),
    TEST(test_bore_4_inch_at_90_psi),
    TEST(test_bore_50_mm_at_6_bar),
    TEST(test_shop_air_cannot),
    TEST(test_breakaway_goes_to_dead_weight),
    TEST(test_masses_and_lever),
    TEST(test_platen_and_hanger_count),
    TEST(test_gauge_classes),
    TEST(test_budget),
    TEST(test_round_trip),
    TEST(test_rounding_rises),
    TEST(test_never_above_rated),
    TEST(test_marks_too_coarse),
    TEST(test_chosen),
    TEST(test_nearest_subset_is_nearest),
    TEST(test_thirty_pieces),
    TEST(test_faults_of_a_rig_file),
    TEST(test_check_says_what_it_takes),
    TEST(test_shipped_rigs_are_sound),
    TEST(test_unknown_kind),
    TEST(test_way_back),
    TEST(test_beyond_the_dial),
    TEST(test_kinds),
    TEST(test_out_of_memory),
};

MAIN_OF_RIGS(tests, "plugins")
