/* Coding of factors: sum-to-zero columns, cells and their names. */
#include "model/terms.h"

#include "support.h"

static const int wood_code[] = { 0, 0, 1, 1, -1 }, force_code[] = { 0, 2, 1, 0, 1 };
static const char *const woods[] = { "beech", "larch" }, *const forces[] = { "0.4", "0.9", "1.5" };
static const pl_factor_codes wood = { "species", 2, woods, NULL, wood_code };
static const pl_factor_codes force = { "pressure", 3, forces, NULL, force_code };

/* Sum-to-zero coding written out by hand for a 2 x 3 layout. */
static void test_cells_by_hand(void **state)
{
    bench *b = *state;
    const pl_factor_codes *f[2] = { &wood, &force };
    const double wanted[6][2] = { { 1, 0 }, { 0, 1 }, { -1, -1 }, { -1, 0 }, { 0, -1 }, { 1, 1 } };
    pl_term t;

    assert_ok(b, pl_term_make(b->a, f, 2, &t, &b->d));
    assert_string_equal(t.name, "species, pressure");
    assert_int_equal(t.ncol, 2);
    assert_int_equal(t.ncell, 6);
    for (size_t c = 0; c < 6; c++) {
        double code[2];

        pl_term_code(&t, c, code);
        assert_rel("first column", code[0], wanted[c][0], 0);
        assert_rel("second column", code[1], wanted[c][1], 0);
    }
    assert_string_equal(pl_term_cell_name(b->a, &t, 4), "species=larch, pressure=0.9");
    assert_int_equal(pl_term_cell_of_row(&t, 1), 2);
    assert_int_equal(pl_term_cell_of_row(&t, 2), 4);
    assert_int_equal(pl_term_cell_of_row(&t, 4), 6); /* species missing */
}

/* Over all cells every column sums to zero, and columns of different terms are orthogonal. */
static void test_sums_are_zero(void **state)
{
    bench *b = *state;
    static const int none[1] = { 0 };
    static const char *const l[5] = { "a", "b", "c", "d", "e" };
    const pl_factor_codes five = { "five", 5, l, NULL, none }, four = { "four", 4, l, NULL, none },
                          two = { "two", 2, l, NULL, none };
    const pl_factor_codes *f[3] = { &five, &four, &two };
    pl_term t, main_effect;

    assert_ok(b, pl_term_make(b->a, f, 3, &t, &b->d));
    assert_ok(b, pl_term_make(b->a, f, 1, &main_effect, &b->d));
    assert_int_equal(t.ncol, 12);
    for (size_t j = 0; j < t.ncol; j++)
        for (size_t k = 0; k < main_effect.ncol; k++) {
            double sum = 0, product = 0, code[12], alone[4];

            for (size_t c = 0; c < t.ncell; c++) {
                size_t levels[3];

                pl_term_cell(&t, c, levels);
                pl_term_code(&t, c, code);
                pl_term_code(&main_effect, levels[0], alone);
                sum += code[j];
                product += code[j] * alone[k];
            }
            assert_rel("sum", sum, 0, 0);
            assert_rel("product", product, 0, 0);
        }
}

static void test_refusals(void **state)
{
    bench *b = *state;
    static const int one_code[5] = { 0 };
    const pl_factor_codes one = { "glue", 1, woods, NULL, one_code };
    const pl_factor_codes empty = { "open_time", 0, woods, NULL, one_code };
    const pl_factor_codes *f[2] = { &wood, &one }, *twice[2] = { &wood, &wood }, *nothing = &empty;
    pl_term t;

    assert_code(b, PL_EDATA, pl_term_make(b->a, f, 2, &t, &b->d));
    assert_finding(b, "found \"glue\" is beech in every row, expected two levels or more");
    assert_code(b, PL_EDATA, pl_term_make(b->a, &nothing, 1, &t, &b->d));
    assert_finding(b, "\"open_time\" is empty in every row");
    assert_code(b, PL_EUSAGE, pl_term_make(b->a, twice, 2, &t, &b->d));
    assert_finding(b, "\"species\" twice");
    assert_code(b, PL_EUSAGE, pl_term_make(b->a, f, 0, &t, &b->d));
}

/* More cells than memory could ever hold: said, not wrapped around. */
static void test_overflow(void **state)
{
    bench *b = *state;
    static const int code[1] = { 0 };
    pl_factor_codes big[5];
    const pl_factor_codes *f[5];
    pl_term t;

    for (size_t i = 0; i < 5; i++) {
        big[i] = (pl_factor_codes){ (const char *const[]){ "a", "b", "c", "d", "e" }[i], 1u << 20,
                                    woods, NULL, code };
        f[i] = &big[i];
    }
    assert_code(b, PL_ENOMEM, pl_term_make(b->a, f, 5, &t, &b->d));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_cells_by_hand),
        TEST(test_sums_are_zero),
        TEST(test_refusals),
        TEST(test_overflow),
    };

    return cmocka_run_group_tests_name("model/terms", tests, NULL, NULL);
}
