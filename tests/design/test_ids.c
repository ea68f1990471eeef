/* Ids: what a wrong pencil stroke can and cannot do. */
#include "design/ids.h"

#include <ctype.h>

#include "base/stream.h"
#include "support.h"

static const char signs[] = PL_ID_SIGNS;

/* Every valid id, with each single sign changed to each other one, and with any
 * two signs exchanged: none is valid. */
static void test_every_slip(void **state)
{
    size_t valid = 0;

    (void)state;
    for (size_t code = 0; code < PL_ID_COUNT * PL_ID_BASE; code++) {
        char id[] = { signs[code % 29], signs[code / 29 % 29], signs[code / 841 % 29],
                      signs[code / 24389], '\0' };

        if (!pl_id_valid(id))
            continue;
        valid++;
        for (size_t i = 0; i < PL_ID_LENGTH; i++) {
            char kept = id[i];

            for (size_t s = 0; s < PL_ID_BASE; s++) {
                id[i] = signs[s];
                if (signs[s] != kept && pl_id_valid(id))
                    fail_msg("%s is valid with one sign wrong", id);
            }
            id[i] = kept;
            for (size_t j = 0; j < i; j++) {
                id[i] = id[j];
                id[j] = kept;
                if (id[i] != id[j] && pl_id_valid(id))
                    fail_msg("%s is valid with two signs exchanged", id);
                id[j] = id[i];
                id[i] = kept;
            }
        }
    }
    assert_int_equal(valid, PL_ID_COUNT); /* one check sign for each three */
}

static void test_alphabet(void **state)
{
    (void)state;
    assert_int_equal(strlen(signs), PL_ID_BASE);
    assert_null(strpbrk(signs, "01OIAEU"));
    for (size_t i = 0; i < PL_ID_BASE; i++)
        assert_ptr_equal(strchr(signs, signs[i]), signs + i); /* none twice */
}

static void test_what_is_no_id(void **state)
{
    /* By hand: 2 is 0, 3 is 1, B is 8: (0 + 2 x 1 + 3 x 8) mod 29 = 26 = X. */
    static const char *const wrong[] = { "", "23B", "23BX2", "23BW", "23BO", "2 BX", "23B\xc3" };

    (void)state;
    assert_true(pl_id_valid("23BX"));
    assert_true(pl_id_valid("23bx"));
    assert_false(pl_id_valid(NULL));
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        assert_false(pl_id_valid(wrong[i]));
}

static void test_drawn(void **state)
{
    bench *b = *state;
    const char **one, **same, **other;
    size_t shared = 0;

    assert_ok(b, pl_ids_draw(b->a, 7, 10000, NULL, 0, &one, &b->d));
    assert_ok(b, pl_ids_draw(b->a, 7, 10000, NULL, 0, &same, &b->d));
    assert_ok(b, pl_ids_draw(b->a, 8, 100, NULL, 0, &other, &b->d));
    for (size_t i = 0; i < 10000; i++) {
        assert_true(pl_id_valid(one[i]));
        assert_string_equal(one[i], same[i]);
        for (size_t j = 0; j < i && i < 2000; j++)
            assert_true(memcmp(one[i], one[j], 4) != 0);
        shared += i < 100 && !strcmp(one[i], other[i]);
    }
    assert_true(shared < 3);
}

/* What was issued is not issued again; past half of the short ids come long ones. */
static void test_issued(void **state)
{
    bench *b = *state;
    const char **first, **second, **third, **fourth;

    assert_ok(b, pl_ids_draw(b->a, 3, 6000, NULL, 0, &first, &b->d));
    assert_ok(b, pl_ids_draw(b->a, 3, 6000, first, 6000, &second, &b->d));
    for (size_t i = 0; i < 6000; i += 7)
        for (size_t j = 0; j < 6000; j++)
            assert_string_not_equal(second[i], first[j]);
    assert_int_equal(strlen(second[0]), PL_ID_LENGTH);
    assert_ok(b, pl_ids_draw(b->a, 3, PL_ID_COUNT / 2, NULL, 0, &first, &b->d));
    assert_ok(b, pl_ids_draw(b->a, 4, 50, first, PL_ID_COUNT / 2, &third, &b->d));
    assert_ok(b, pl_ids_draw(b->a, 4, 50, third, 50, &fourth, &b->d));
    for (size_t i = 0; i < 50; i++) {
        assert_int_equal(strlen(third[i]), PL_ID_LENGTH + 1);
        assert_true(pl_id_valid(third[i]));
        assert_int_equal(strlen(fourth[i]), PL_ID_LENGTH);
    }
}

/* Half a million joints: ids of six signs, no two alike, each slip caught; ten million are too
 * many. */
static void test_longest(void **state)
{
    bench *b = *state;
    const size_t n = PL_ID_COUNT * PL_ID_BASE / 2 + 1;
    const char **ids = NULL;

    assert_ok(b, pl_ids_draw(b->a, 5, n, NULL, 0, &ids, &b->d));
    for (size_t k = 0; k < 50; k++) {
        assert_int_equal(strlen(ids[k]), PL_ID_LENGTH + 2);
        for (size_t i = 0; i < PL_ID_LENGTH + 2; i++) {
            char id[PL_ID_LENGTH + 3];

            strcpy(id, ids[k]);
            for (size_t s = 0; s < PL_ID_BASE; s++) {
                id[i] = signs[s];
                assert_true(pl_id_valid(id) == (signs[s] == ids[k][i]));
            }
            strcpy(id, ids[k]);
            for (size_t j = 0; j < i; j++) {
                id[i] = ids[k][j];
                id[j] = ids[k][i];
                assert_true(pl_id_valid(id) == (id[i] == id[j]));
                strcpy(id, ids[k]);
            }
        }
    }
    assert_code(b, PL_EUNFIT, pl_ids_draw(b->a, 5, PL_IDS_MOST + 1, NULL, 0, &ids, &b->d));
    assert_finding(b, "labels that are free");
}

/* One wrong sign and any exchange of two are caught in long ids too. */
static void test_long_slips(void **state)
{
    bench *b = *state;
    const char **used, **ids;

    assert_ok(b, pl_ids_draw(b->a, 3, PL_ID_COUNT / 2, NULL, 0, &used, &b->d));
    assert_ok(b, pl_ids_draw(b->a, 5, 200, used, PL_ID_COUNT / 2, &ids, &b->d));
    for (size_t k = 0; k < 200; k++)
        for (size_t i = 0; i <= PL_ID_LENGTH; i++) {
            char id[PL_ID_LENGTH + 2];

            strcpy(id, ids[k]);
            for (size_t s = 0; s < PL_ID_BASE; s++) {
                id[i] = signs[s];
                assert_true(pl_id_valid(id) == (signs[s] == ids[k][i]));
            }
            for (size_t j = 0; j < i; j++) {
                strcpy(id, ids[k]);
                id[i] = ids[k][j];
                id[j] = ids[k][i];
                assert_true(pl_id_valid(id) == (id[i] == id[j]));
            }
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_every_slip), TEST(test_alphabet), TEST(test_what_is_no_id), TEST(test_drawn),
        TEST(test_issued),     TEST(test_longest),  TEST(test_long_slips),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
