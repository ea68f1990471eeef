/* Designs for a curved surface: published axial distances, runs and determinants, and plans
 * made of them. */
#include "plan_laws.h"
#include "reference/worked/worked.h"

#include "study/second_order.h"

/* designs.json, ccd/...: Box & Wilson 1951; Box & Hunter 1957. Corners there are 2^(k-p); here
 * the half from five factors on, so that k = 8 in a quarter is only held as a formula. */
static void test_axial(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "designs.json");
    static const unsigned centre[] = { 1, 2, 3, 4, 5, 6, 8 };
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        unsigned k, p, corners;

        if (!worked_in(r, "ccd"))
            continue;
        k = (unsigned)worked_in_value(r, "k");
        p = (unsigned)worked_in_value(r, "fraction_p");
        corners = (unsigned)worked_expected(r, "F");
        assert_int_equal(corners, 1u << (k - p));
        if (k <= PL_SECOND_ORDER_MOST && p == (k >= 5))
            assert_int_equal(pl_central_corners(k), corners);
        assert_rel("rotatable", pl_central_axial(k, corners, PL_AXIAL_ROTATABLE, 4),
                   worked_expected(r, "alpha_rotatable"), 1e-12);
        for (size_t i = 0; i < sizeof centre / sizeof *centre; i++)
            assert_rel(
                "orthogonal", pl_central_axial(k, corners, PL_AXIAL_ORTHOGONAL, centre[i]),
                worked_expected(r, pl_arena_printf(b->a, "alpha_orthogonal_n0_%u", centre[i])),
                1e-12);
        n++;
    }
    assert_int_equal(n, 5);
    assert_rel("face", pl_central_axial(3, 8, PL_AXIAL_FACE_CENTRED, 4), 1, 0);
}

/* Factors of so many rising levels, equal steps. */
static void measured(bench *b, shop *w, size_t nfactor, size_t nlevel)
{
    static const char *const names[] = { "spread", "warmth", "time", "age", "grain", "pads" };

    shop_pressure(b, w, nlevel, false);
    for (size_t k = 1; k < nfactor; k++)
        shop_factor(b, w, names[k - 1], nlevel)->numeric = true;
    for (size_t k = 0; k < nfactor; k++)
        for (size_t i = 0; i < nlevel; i++)
            w->factors[k].levels[i] = (pl_level){ .text = pl_arena_printf(b->a, "%zu", i + 1),
                                                  .si = (double)i + 1 };
}

/* Determinant of X'X of the full second-order surface, levels coded -1, 0, 1. */
static double determinant(bench *b, const pl_plan *p)
{
    size_t k = p->nfactor, m = 1 + 2 * k + k * (k - 1) / 2;
    double *a = pl_arena_get(b->a, m, m * sizeof *a), det = 1;

    for (size_t g = 0; g < p->nglue_up; g++) {
        double x[64] = { 1 };
        size_t at = 1;

        for (size_t i = 0; i < k; i++) {
            double xi = level_of(p, &p->glue_ups[g], (int)i) - 1;

            x[at++] = xi;
            for (size_t j = 0; j <= i; j++)
                x[at++] = xi * (level_of(p, &p->glue_ups[g], (int)j) - 1);
        }
        for (size_t i = 0; i < m; i++)
            for (size_t j = 0; j < m; j++)
                a[i * m + j] += x[i] * x[j];
    }
    for (size_t i = 0; i < m; i++) {
        det *= a[i * m + i];
        for (size_t r = i + 1; r < m; r++)
            for (size_t c = m; c-- > i;)
                a[r * m + c] -= a[r * m + i] / a[i * m + i] * a[i * m + c];
    }
    return det;
}

/* designs.json, bbd/...: Box & Behnken 1960; the determinant sees every run. */
static void test_box_behnken(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "designs.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        unsigned k, centre;
        const pl_plan *p;
        shop w;

        if (!worked_in(r, "bbd"))
            continue;
        k = (unsigned)worked_in_value(r, "k");
        centre = (unsigned)worked_in_value(r, "centre");
        assert_int_equal(pl_box_behnken_runs(k), worked_expected(r, "noncentre_runs"));
        shop_open(&w);
        measured(b, &w, k, 3);
        w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_BOX_BEHNKEN,
                                        .centre = centre,
                                        .runs = pl_box_behnken_runs(k) + centre };
        shop_press(&w, "bench press", 4, -1);
        assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, 3, NULL, &p, &b->d));
        check_sessions(&w, p);
        check_specimens(b, p);
        assert_int_equal(p->nglue_up, worked_expected(r, "total_runs"));
        assert_rel("det", determinant(b, p), worked_expected(r, "det_XtX"), 1e-10);
        n++;
    }
    assert_int_equal(n, 3);
    assert_int_equal(pl_box_behnken_runs(4) + 3, 27); /* published totals: 27 and 54 runs */
    assert_int_equal(pl_box_behnken_runs(6) + 6, 54);
    assert_int_equal(pl_box_behnken_runs(2), 0);
}

/* Corners, axes and middle, each as often as they should come; contrasts of corners free of
 * one another for 2 to 7 factors. */
static void test_central(void **state)
{
    bench *b = *state;

    for (unsigned k = 2; k <= 7; k++)
        for (unsigned face = 0; face <= 1; face++) {
            unsigned corners = pl_central_corners(k), count[3] = { 0 }, out = face ? 2 : 4;
            const pl_plan *p;
            shop w;

            shop_open(&w);
            measured(b, &w, k, out + 1);
            w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_CENTRAL,
                                            .axial = face ? PL_AXIAL_FACE_CENTRED
                                                          : PL_AXIAL_ROTATABLE,
                                            .centre = 5,
                                            .runs = corners + 2 * k + 5 };
            shop_press(&w, "bench press", 4, -1);
            assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, k, NULL, &p, &b->d));
            check_specimens(b, p);
            assert_int_equal(p->nglue_up, corners + 2 * k + 5);
            for (size_t g = 0; g < p->nglue_up; g++) {
                unsigned off = 0, far = 0;

                for (unsigned i = 0; i < k; i++) {
                    unsigned level = (unsigned)level_of(p, &p->glue_ups[g], (int)i);

                    off += level != out / 2;
                    far += level == 0 || level == out;
                }
                assert_true(off == 0 || off == k || (off == 1 && far == 1));
                assert_true(face || off < 2 || far == 0);
                count[off == 0 ? 0 : off == 1 ? 1 : 2]++;
            }
            assert_int_equal(count[0], 5);
            assert_int_equal(count[1], 2 * k);
            assert_int_equal(count[2], corners);
            assert_true(p->health.efficiency > 0.5 && p->health.efficiency <= 1 + 1e-9);
        }
}

/* designs.json, ccd-block/... and ccd-centre/...: Box & Hunter 1957. Corners there are 2^(k-p). */
static void test_middle(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "designs.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        unsigned k, corners;

        if (!worked_in(r, "ccd-block") && !worked_in(r, "ccd-centre"))
            continue;
        k = (unsigned)worked_in_value(r, "k");
        corners = 1u << (k - (unsigned)worked_in_value(r, "fraction_p"));
        n++;
        if (worked_in(r, "ccd-block")) {
            assert_rel(
                "alpha",
                pl_central_blocked(k, corners, (unsigned)worked_in_value(r, "factorial_blocks"),
                                   (unsigned)worked_in_value(r, "centre_per_factorial_block"),
                                   (unsigned)worked_in_value(r, "centre_in_axial_block")),
                worked_expected(r, "alpha"), 1e-12);
            continue;
        }
        assert_abs("orthogonal", pl_central_middle(k, corners, false),
                   worked_expected(r, "n0_orthogonal_exact"), 1e-6); /* six decimals are given */
        assert_rel("even", pl_central_middle(k, corners, true),
                   worked_expected(r, "n0_uniform_precision_exact"), 1e-9);
        assert_int_equal((int)(pl_central_middle(k, corners, false) + 0.5),
                         worked_expected(r, "n0_orthogonal_rotatable"));
        assert_int_equal((int)(pl_central_middle(k, corners, true) + 0.5),
                         worked_expected(r, "n0_uniform_precision"));
    }
    assert_int_equal(n, 8);
}

/* Blocks on boards or in sessions cost nothing: with the distance that the records give slopes,
 * squares and products are free of them. */
static void test_in_blocks(void **state)
{
    bench *b = *state;

    for (unsigned k = 2; k <= 7; k++)
        for (unsigned boards = 0; boards <= 1; boards++) {
            unsigned corners = pl_central_corners(k), blocks = pl_central_corner_blocks(k);
            unsigned middle = 3, axes = 2, runs = corners + 2 * k + blocks * middle + axes;
            double alpha = pl_central_blocked(k, corners, blocks, middle, axes);
            unsigned count[4] = { 0 };
            const pl_plan *p;
            shop w;

            shop_open(&w);
            measured(b, &w, k, 5);
            for (unsigned i = 0; i < k; i++) {
                double place[] = { -alpha, -1, 0, 1, alpha };

                for (unsigned l = 0; l < 5; l++)
                    w.factors[i].levels[l].si = 10 + place[l];
            }
            w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_CENTRAL,
                                            .axial = PL_AXIAL_BLOCKS,
                                            .corner_blocks = blocks,
                                            .centre = blocks * middle + axes,
                                            .centre_axes = axes,
                                            .runs = runs };
            if (boards)
                shop_boards(&w, "", blocks + 1, corners + 3);
            shop_press(&w, "bench press", boards ? 90 : 40, -1);
            w.s.times.hands_on_s = 60; /* no block is cut up */
            if (!boards)
                w.s.times.clamp_s = 20000; /* one round */
            if (!boards && corners / blocks + middle > 40)
                continue;
            assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, k, NULL, &p, &b->d));
            check_specimens(b, p);
            assert_int_equal(p->nglue_up, runs);
            assert_rel("efficiency", p->health.efficiency, 1, 1e-9);
            for (size_t g = 0; g < p->nglue_up && boards; g++)
                count[p->glue_ups[g].board]++;
            if (boards) {
                assert_int_equal(p->nboard, blocks + 1);
                for (unsigned i = 0; i <= blocks; i++)
                    assert_true(count[i] == corners / blocks + middle || count[i] == 2 * k + axes);
            }
        }
}

static void test_in_blocks_refused(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    measured(b, &w, 3, 5);
    w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_CENTRAL,
                                    .axial = PL_AXIAL_BLOCKS,
                                    .corner_blocks = 2,
                                    .centre = 6,
                                    .centre_axes = 2,
                                    .runs = 20 };
    shop_boards(&w, "", 2, 20);
    shop_press(&w, "bench press", 4, -1);
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b,
                   "boards for fewer than 3 blocks, expected 3 boards that hold up to 8 glue-ups");
    w.s.nboard_kinds = 0;
    w.s.times.clamp_s = 20000;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "a session too short for a block of the design");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_axial),  TEST(test_box_behnken), TEST(test_central),
        TEST(test_middle), TEST(test_in_blocks),   TEST(test_in_blocks_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
