/* Fields and screening designs: published first rows, and orthogonality of all built. */
#include "reference/worked/worked.h"

#include "design/field.h"
#include "design/screening.h"

/* designs.json, pb/...: Plackett & Burman 1946, first rows; and those of 12 and 20 runs, from
 * memory, which squares modulo 11 and 19 give. */
static void test_first_rows(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "designs.json");
    static const struct {
        unsigned runs;
        const char *row;
    } more[] = { { 12, "++-+++---+-" }, { 20, "++--++++-+-+----++-" } };
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        const char *row;
        unsigned runs;
        int8_t *x;

        if (!worked_in(r, "pb"))
            continue;
        runs = (unsigned)worked_in_value(r, "N");
        row = pl_json_get(pl_json_get(r, "expected"), "first_row")->string;
        x = pl_screening(b->a, runs);
        assert_non_null(x);
        for (unsigned j = 0; j < runs - 1; j++)
            assert_int_equal(x[j], row[j] == '+' ? 1 : -1);
        n++;
    }
    assert_int_equal(n, 3);
    for (size_t i = 0; i < 2; i++) {
        /* The published rows go on to the right; any shift of them is the same design. */
        int8_t *x = pl_screening(b->a, more[i].runs);
        unsigned q = more[i].runs - 1;
        bool same = false;

        for (unsigned shift = 0; shift < q && !same; shift++) {
            same = true;
            for (unsigned j = 0; j < q; j++)
                same = same && x[(j + shift) % q] == (more[i].row[j] == '+' ? 1 : -1);
        }
        assert_true(same);
    }
}

static void test_orthogonal(void **state)
{
    bench *b = *state;
    size_t n = 0;

    for (unsigned runs = 1; runs <= PL_SCREENING_RUNS_MOST + 4; runs++) {
        int8_t *x = pl_screening(b->a, runs);
        bool wanted = runs % 4 == 0 && runs <= PL_SCREENING_RUNS_MOST && runs > 3 && runs != 92 &&
                      runs != 116;

        assert_int_equal(pl_screening_exists(runs), wanted);
        assert_int_equal(x != NULL, wanted);
        if (!x)
            continue;
        n++;
        for (unsigned i = 0; i < runs - 1; i++)
            for (unsigned j = 0; j <= i; j++) {
                int dot = 0, sum = 0;

                for (unsigned r = 0; r < runs; r++) {
                    dot += x[r * (runs - 1) + i] * x[r * (runs - 1) + j];
                    sum += x[r * (runs - 1) + i];
                }
                assert_int_equal(dot, i == j ? (int)runs : 0);
                assert_int_equal(sum, 0);
            }
    }
    assert_int_equal(n, 30);
    assert_int_equal(pl_screening_next(89), 96);
    assert_int_equal(pl_screening_next(129), 0);
}

/* Sums and products are those of a field: every law, for every order that is small enough. */
static void test_fields(void **state)
{
    bench *b = *state;
    pl_field *f = PL_NEW(b->a, pl_field);
    size_t n = 0;

    for (unsigned q = 0; q <= 32; q++) {
        if (!pl_field_init(f, q))
            continue;
        n++;
        for (unsigned x = 0; x < q; x++) {
            assert_int_equal(f->add[x][f->minus[x]], 0);
            assert_int_equal(f->mul[x][1 % q], x);
            for (unsigned y = 0; y < q; y++)
                for (unsigned z = 0; z < q; z++) {
                    assert_int_equal(f->mul[x][f->add[y][z]], f->add[f->mul[x][y]][f->mul[x][z]]);
                    assert_int_equal(f->mul[x][f->mul[y][z]], f->mul[f->mul[x][y]][z]);
                    assert_int_equal(f->add[x][f->add[y][z]], f->add[f->add[x][y]][z]);
                }
        }
    }
    assert_int_equal(n, 18); /* 2 3 4 5 7 8 9 11 13 16 17 19 23 25 27 29 31 32 */
    assert_true(pl_field_init(f, 81) && pl_field_primitive(f) > 1);
    assert_true(pl_field_init(f, 128));
    assert_false(pl_field_init(f, 129));
    assert_false(pl_field_init(f, 6));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_first_rows),
        TEST(test_orthogonal),
        TEST(test_fields),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
