/* Balanced incomplete blocks: every set of the catalogue, and the reasons against others. */
#include <time.h>

#include "reference/worked/worked.h"

#include "design/balanced.h"

static void check_blocks(bench *b, unsigned v, unsigned nblock, unsigned k, const uint32_t *block)
{
    unsigned lambda = nblock * k / v * (k - 1) / (v - 1);
    unsigned *met = pl_arena_get(b->a, v, v * sizeof *met);

    for (unsigned i = 0; i < nblock; i++)
        for (unsigned p = 0; p < k; p++)
            for (unsigned q = 0; q < k; q++) {
                assert_true(block[i * k + p] < v);
                if (p != q)
                    met[block[i * k + p] * v + block[i * k + q]]++;
            }
    for (unsigned p = 0; p < v; p++)
        for (unsigned q = 0; q < v; q++)
            assert_int_equal(met[p * v + q], p == q ? 0 : lambda);
}

static pl_balanced_found build(bench *b, unsigned v, unsigned nblock, unsigned k)
{
    uint32_t *block = pl_arena_get(b->a, nblock, k * sizeof *block);
    clock_t start = clock();
    pl_balanced_found found = pl_balanced(b->a, v, nblock, k, block);
    double ms = (double)(clock() - start) * 1000 / CLOCKS_PER_SEC;

    if (ms > 20)
        printf("%u in %u blocks of %u: %.0f ms\n", v, nblock, k, ms);
    if (found == PL_BALANCED_BUILT)
        check_blocks(b, v, nblock, k, block);
    return found;
}

/* designs.json, bibd/... (Fisher & Yates XVII-XIX; Cochran & Cox table 11.3; Handbook of
 * Combinatorial Designs), all of them. */
static void test_catalogue(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "designs.json");
    size_t n = 0, built = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        unsigned v, k, nblock;

        if (!worked_in(r, "bibd"))
            continue;
        v = (unsigned)worked_in_value(r, "v");
        k = (unsigned)worked_in_value(r, "k");
        nblock = (unsigned)worked_expected(r, "b");
        assert_null(pl_balanced_refusal(v, nblock, k));
        assert_int_equal(build(b, v, nblock, k), PL_BALANCED_BUILT);
        built++;
        n++;
    }
    printf("%zu balanced designs built\n", built);
    assert_int_equal(n, 38);
    assert_int_equal(build(b, 25, 25, 9), PL_BALANCED_BUILT); /* Denniston 1982: 78 of them */
}

/* designs.json, bibd-nonexist/...; and each reason by itself. */
static void test_none(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "designs.json");
    static const struct {
        unsigned v, b, k;
        const char *says;
    } cases[] = {
        { 8, 13, 4, "equally often" },
        { 8, 60, 4, "no whole number of meetings" },
        { 22, 22, 7, "Bruck, Ryser and Chowla" },
        { 29, 29, 8, "Bruck, Ryser and Chowla" }, /* v odd: z^2 = 6 x^2 + 2 y^2 */
        { 43, 43, 7, "Bruck, Ryser and Chowla" }, /* plane of order 6 */
        { 15, 21, 5, "part of a larger one" },
        { 36, 42, 6, "part of a larger one" },
        { 22, 33, 8, "by computer" },
    };
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        if (!worked_in(r, "bibd-nonexist"))
            continue;
        assert_non_null(pl_balanced_refusal((unsigned)worked_in_value(r, "v"),
                                            (unsigned)worked_expected(r, "b"),
                                            (unsigned)worked_in_value(r, "k")));
        n++;
    }
    assert_int_equal(n, 6);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_non_null(
            strstr(pl_balanced_refusal(cases[i].v, cases[i].b, cases[i].k), cases[i].says));
}

/* Symmetric designs that are known to exist pass the rule: planes, and those of Handbook of
 * Combinatorial Designs ch. II.6 (from memory). */
static void test_rule_lets_pass(void **state)
{
    static const unsigned known[][3] = { { 7, 3, 1 },   { 13, 4, 1 },  { 21, 5, 1 },  { 31, 6, 1 },
                                         { 57, 8, 1 },  { 73, 9, 1 },  { 91, 10, 1 }, { 16, 6, 2 },
                                         { 11, 5, 2 },  { 37, 9, 2 },  { 15, 7, 3 },  { 25, 9, 3 },
                                         { 45, 12, 3 }, { 71, 15, 3 }, { 19, 9, 4 },  { 41, 16, 6 },
                                         { 56, 11, 2 }, { 79, 13, 2 }, { 31, 10, 3 } };

    (void)state;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        assert_null(pl_balanced_refusal(known[i][0], known[i][0], known[i][1]));
}

/* Random small parameters: what is built is balanced, what is refused has a reason, and the
 * rest says that it was not found. */
static void test_small(void **state)
{
    bench *b = *state;
    size_t built = 0, none = 0;

    for (unsigned v = 4; v <= 13; v++)
        for (unsigned k = 2; k < v && k <= 5; k++)
            for (unsigned r = k; r <= 12; r++) {
                unsigned nblock = v * r / k;

                if (v * r % k)
                    continue;
                if (pl_balanced_refusal(v, nblock, k)) {
                    none++;
                    continue;
                }
                assert_int_equal(build(b, v, nblock, k), PL_BALANCED_BUILT);
                built++;
            }
    printf("%zu built, %zu refused\n", built, none);
    assert_true(built > 40 && none > 40);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_catalogue),
        TEST(test_none),
        TEST(test_rule_lets_pass),
        TEST(test_small),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
