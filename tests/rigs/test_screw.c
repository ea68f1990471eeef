/* The screw press: torque to force and its wide band. Cases marked WORKED stand in
 * the project's worked examples, section 2 "Force and pressure". */
#include "shop.h"

#define SCREW(more)                                                            \
    "{\"name\": \"s\", \"kind\": \"screw-press\", \"settings\": {\"thread\": " \
    "\"12 mm\"" more "}, \"dial\": {\"unit\": \"N.m\", \"to\": \"60 N.m\"}}"

static double force_of(bench *b, const char *text, double torque, double *u_N)
{
    pl_rig rig = rig_of(b, text);
    double f = NAN;

    assert_ok(b, pl_rigs_forces(b->a, &rig, &torque, PL_Q_TORQUE, 1, &f, u_N, &b->d));
    return f;
}

/* WORKED: T/(K D) for D = 12 mm, T = 20 N.m: K = 0.20 8333 N, 0.15 11111 N, 0.30 5556 N. */
static void test_worked(void **state)
{
    bench *b = *state;
    double u;

    assert_abs("K 0.20", force_of(b, SCREW(", \"nut_factor\": 0.20"), 20, &u), 8333, 0.5);
    assert_abs("K 0.15", force_of(b, SCREW(", \"nut_factor\": 0.15"), 20, &u), 11111, 0.5);
    assert_abs("K 0.30", force_of(b, SCREW(", \"nut_factor\": 0.30"), 20, &u), 5556, 0.5);
    assert_abs("two screws", force_of(b, SCREW(", \"nut_factor\": 0.20, \"screws\": 2"), 20, &u),
               16667, 0.5);
}

/* Derived by hand: 30 % and 10 % as half-widths of rectangles: sqrt(0.3^2 + 0.1^2)/sqrt 3 =
 * 0.18257; the nut factor anywhere from 0.086 to 0.52: 0.434/sqrt 12/0.2 = 0.62642. */
static void test_wide_band(void **state)
{
    bench *b = *state;
    double u, f = force_of(b, SCREW(", \"nut_factor\": 0.20"), 20, &u);

    assert_rel("stated", u / f, 0.182574185835, 1e-10);
    f = force_of(b, SCREW(""), 20, &u);
    assert_rel("not stated", u / f, sqrt(0.6264249728 * 0.6264249728 + 0.03), 1e-6);
}

static void test_set_point(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, SCREW(", \"nut_factor\": 0.20"));
    double force_N[] = { 5000, 15000, 40000 }, torque, back, u;
    pl_set_points p;

    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, force_N, 3, 1e-3, &p, &b->d));
    for (size_t i = 0; i < 2; i++) {
        assert_true(p.at[i].can);
        assert_rel("gives", p.at[i].gives_N, force_N[i], 0.05);
        torque = p.at[i].dial;
        back = force_of(b, SCREW(", \"nut_factor\": 0.20"), torque, &u);
        assert_rel("there and back", back, p.at[i].gives_N, 1e-12);
    }
    assert_false(p.at[2].can); /* 96 N.m on a wrench that ends at 60 */
    assert_non_null(strstr(p.at[2].reason, "96 N.m"));
    /* 60/96 of the 1000 mm2 */
    assert_string_equal(p.at[2].mend, "2 screws of this kind on one joint; or pressing at most "
                                      "625 mm2 instead of 1000 mm2 at once");
}

static void test_factor_is_asked_for(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, SCREW(""));
    double force_N = 5000;
    pl_set_points p;

    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, &force_N, 1, 1e-3, &p, &b->d));
    assert_true(p.at[0].can);
    assert_finding(b, "0.086 to 0.52");
}

static const struct CMUnitTest tests[] = {
    TEST(test_worked),
    TEST(test_wide_band),
    TEST(test_set_point),
    TEST(test_factor_is_asked_for),
};

MAIN_OF_RIGS(tests, "plugins")
