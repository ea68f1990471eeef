/* How pieces lie along a board: random boards with stretches that are not to be used. */
#include "study_text.h"

#include "base/stream.h"
#include "study/cutting.h"

/* 20 mm off each end of 900 mm: 860; pieces of 110 with 3 between: 7 in 788, an eighth needs 901. A
 * knot from 200 to 260 lies in the second (133 to 243): from 260 on 260 + 5 x 113 - 3 = 822, a
 * sixth needs 935. */
static void test_by_hand(void **state)
{
    static const pl_defect knot[] = { { 0.2, 0.26 } };
    bench *b = *state;
    pl_stock stock = { .length_m = 0.9, .width_m = 0.095, .count = 1 };
    double start_m[10] = { 0 };
    pl_study s = { .name = "s" };

    (void)b;
    s.joint.adherend.length_m = 0.11;
    s.joint.adherend.width_m = 0.04;
    s.cutting = (pl_cutting){ .kerf_m = 0.003, .discard_ends_m = 0.02 };
    assert_int_equal(pl_cutting_columns(&s, &stock, NULL, 0), 7);
    assert_int_equal(pl_cutting_rows(&s, &stock), 2);
    stock.defects = knot;
    stock.ndefect = 1;
    assert_int_equal(pl_cutting_columns(&s, &stock, start_m, 10), 6);
    assert_rel("first", start_m[0], 0.02, 1e-12);
    assert_rel("behind the knot", start_m[1], 0.26, 1e-12);
    assert_rel("next", start_m[2], 0.373, 1e-12);
    stock.length_m = 0.149; /* one short of 110 and both ends */
    assert_int_equal(pl_cutting_columns(&s, &stock, NULL, 0), 0);
}

/* Nothing overlaps, the kerf is kept, nothing lies in an end or a bad stretch, and no column more
 * would fit (the definition, tried nanometre gap by gap). */
static void test_random(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 3000; seed++) {
        pl_defect bad[6];
        double start_m[400], gap_m;
        pl_stock stock = { .count = 1, .defects = bad };
        pl_study s = { .name = "s" };
        pl_stream r;
        size_t n;

        pl_stream_init(&r, seed, PL_FOR_TEST, 0);
        stock.length_m = 1e-3 * (50 + pl_stream_below(&r, 3000));
        stock.width_m = 0.1;
        s.joint.adherend.length_m = 1e-3 * (10 + pl_stream_below(&r, 200));
        s.joint.adherend.width_m = 0.04;
        s.cutting.kerf_m = 1e-3 * pl_stream_below(&r, 5);
        s.cutting.discard_ends_m = 1e-3 * pl_stream_below(&r, 40);
        stock.ndefect = pl_stream_below(&r, 7);
        for (size_t i = 0; i < stock.ndefect; i++) {
            bad[i].from_m = 1e-3 * pl_stream_below(&r, 3000);
            bad[i].to_m = bad[i].from_m + 1e-3 * (1 + pl_stream_below(&r, 300));
        }
        n = pl_cutting_columns(&s, &stock, start_m, 400);
        assert_true(n < 400);
        for (size_t i = 0; i < n; i++) {
            double end_m = start_m[i] + s.joint.adherend.length_m;

            assert_true(start_m[i] >= s.cutting.discard_ends_m - 1e-9);
            assert_true(end_m <= stock.length_m - s.cutting.discard_ends_m + 1e-9);
            if (i)
                assert_true(start_m[i] - start_m[i - 1] >=
                            s.joint.adherend.length_m + s.cutting.kerf_m - 1e-9);
            for (size_t k = 0; k < stock.ndefect; k++)
                assert_true(end_m <= bad[k].from_m + 1e-9 || start_m[i] >= bad[k].to_m - 1e-9);
        }
        /* between two columns, or behind the last, no millimetre start would have done */
        for (size_t i = 0; i <= n; i++) {
            double low = i ? start_m[i - 1] + s.joint.adherend.length_m + s.cutting.kerf_m
                           : s.cutting.discard_ends_m;
            double high = i < n ? start_m[i]
                                : stock.length_m - s.cutting.discard_ends_m -
                                      s.joint.adherend.length_m + 1e-3;

            for (gap_m = low; gap_m < high - 1e-3 + 1e-9; gap_m += 1e-3) {
                bool touches = false;

                for (size_t k = 0; k < stock.ndefect; k++)
                    touches = touches || (gap_m < bad[k].to_m - 1e-9 &&
                                          gap_m + s.joint.adherend.length_m > bad[k].from_m + 1e-9);
                assert_true(touches);
            }
        }
    }
}

/* In a study: counted, and refused with what is taken away. */
static void test_in_a_study(void **state)
{
    bench *b = *state;
    const pl_study *s;

    assert_ok(b, parse(b,
                       with(b, whole, "\"length\": \"700 mm\",",
                            "\"length\": \"700 mm\", \"defects\": [{\"from\": \"200 mm\", "
                            "\"to\": \"380 mm\"}],"),
                       &s));
    /* 25 to 675 mm: from 25, one of 90 ends at 115, the next would touch 200 (118 to 208); from
     * 380: 380, 473, 566 (to 656). Four columns of two: four joints. */
    assert_int_equal(s->boards[0].specimens, 4);
    assert_code(b, PL_ECONFLICT,
                parse(b,
                      with(b, whole, "\"length\": \"700 mm\",",
                           "\"length\": \"150 mm\", \"defects\": [{\"from\": \"60 mm\", "
                           "\"to\": \"90 mm\"}],"),
                      &s));
    assert_finding(b, "a board too small for one specimen");
    assert_finding(b, "less 25 mm at each end and 1 stretch of 30 mm in all not to be used");
    assert_code(b, PL_EVALUE,
                parse(b,
                      with(b, whole, "\"length\": \"700 mm\",",
                           "\"length\": \"700 mm\", \"defects\": [{\"from\": \"90 mm\", "
                           "\"to\": \"60 mm\"}],"),
                      &s));
    assert_finding(b, "expected more than 90 mm");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_by_hand),
        TEST(test_random),
        TEST(test_in_a_study),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
