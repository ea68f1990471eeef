/* Fractions of two levels: published word-length patterns, and what they must do. */
#include "reference/worked/worked.h"

#include "design/fraction.h"

static unsigned log2_of(unsigned runs)
{
    return runs > 1 ? 1 + log2_of(runs / 2) : 0;
}

/* "E=ABC,F=BCD" -> products by factor. Letters skip I. */
static unsigned read_generators(const char *text, uint32_t *generated)
{
    unsigned n = 0;

    for (const char *at = text; at; at = strchr(at, ',')) {
        uint32_t bits = 0;
        char of;

        at += *at == ',';
        of = *at;
        for (const char *c = at + 2; *c && *c != ','; c++)
            bits |= 1u << (*c - 'A' - (*c > 'I'));
        generated[of - 'A' - (of > 'I')] = bits;
        n++;
    }
    return n;
}

static void check_pattern(const pl_fraction *f, const pl_json *expected)
{
    const pl_json *list = pl_json_get(expected, "wlp_A3_up");

    assert_int_equal(f->resolution, worked_value(pl_json_get(expected, "resolution")));
    for (size_t i = 0; i < list->count; i++)
        assert_int_equal(f->length[3 + i], pl_json_at(list, i)->number);
}

/* designs.json, ff2/...: Box & Hunter 1961; Fries & Hunter 1980; Chen, Sun & Wu 1993, each
 * recomputed there by going through all generator sets. The tabled generators reach them too. */
static void test_minimum_aberration(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "designs.json");
    pl_fraction *f = PL_NEW(b->a, pl_fraction);
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        const pl_json *published = pl_json_get(r, "published");
        uint32_t generated[PL_FRACTION_FACTORS_MOST] = { 0 };
        unsigned k, q;

        if (!worked_in(r, "ff2"))
            continue;
        k = (unsigned)worked_in_value(r, "factors");
        q = log2_of((unsigned)worked_in_value(r, "runs"));
        assert_true(pl_fraction_search(f, k, q));
        assert_true(f->gone_through);
        check_pattern(f, pl_json_get(r, "expected"));
        assert_int_equal(read_generators(pl_json_get(published, "generators")->string, generated),
                         k - q);
        assert_true(pl_fraction_from(f, k, generated));
        check_pattern(f, pl_json_get(r, "expected"));
        n++;
    }
    assert_int_equal(n, 12);
}

/* Every factor is low and high equally often, products of fewer factors than the resolution
 * are balanced, and the defining words are 1 in every run. */
static void test_laws(void **state)
{
    bench *b = *state;
    pl_fraction *f = PL_NEW(b->a, pl_fraction);

    for (unsigned k = 3; k <= 9; k++)
        for (unsigned q = 2; q < k && q <= 5; q++) {
            unsigned runs = 1u << q;

            if (k >= runs) {
                assert_false(pl_fraction_search(f, k, q));
                continue;
            }
            assert_true(pl_fraction_search(f, k, q));
            assert_int_equal(f->nword, (1u << (k - q)) - 1);
            for (uint32_t word = 1; word < 1u << k; word++) {
                unsigned letters = (unsigned)__builtin_popcount(word);
                int sum = 0;
                bool defining = false;

                for (unsigned run = 0; run < runs; run++) {
                    int p = 1;

                    for (unsigned i = 0; i < k; i++)
                        if (word >> i & 1)
                            p *= pl_fraction_level(f, run, i);
                    sum += p;
                }
                for (size_t i = 0; i < f->nword; i++)
                    defining = defining || f->word[i] == word;
                assert_int_equal(sum, defining ? (int)runs : 0);
                if (letters < f->resolution)
                    assert_int_equal(sum, 0);
            }
        }
}

/* The table of most factors of resolution 5 (and the rules for 3 and 4) against the search:
 * so many factors have it, one more has not. */
static void test_runs(void **state)
{
    bench *b = *state;
    pl_fraction *f = PL_NEW(b->a, pl_fraction);

    for (unsigned resolution = 3; resolution <= 5; resolution++)
        for (unsigned k = 3; k <= 11; k++) {
            unsigned runs = pl_fraction_runs(k, resolution), q = log2_of(runs);

            if (runs > 64)
                continue;
            assert_true(pl_fraction_search(f, k, q));
            assert_true(!f->nword || f->resolution >= resolution);
            if (runs < 8 || q == k || !pl_fraction_search(f, k, q - 1))
                continue;
            assert_true(f->gone_through);
            assert_true(f->resolution < resolution);
        }
    assert_int_equal(pl_fraction_runs(21, 3), 0);
}

static void test_refused(void **state)
{
    bench *b = *state;
    pl_fraction *f = PL_NEW(b->a, pl_fraction);
    const uint32_t twice[5] = { 0, 0, 0, 7, 7 }, chained[5] = { 0, 0, 0, 3, 9 };
    const uint32_t itself[4] = { 0, 0, 0, 1 };

    assert_false(pl_fraction_from(f, 5, twice));   /* two factors follow one another */
    assert_false(pl_fraction_from(f, 5, chained)); /* of a factor that is not free */
    assert_false(pl_fraction_from(f, 4, itself));
    assert_false(pl_fraction_search(f, 4, 2)); /* more factors than runs - 1 */
    assert_false(pl_fraction_search(f, 25, 6));
    assert_false(pl_fraction_search(f, 3, 4));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_minimum_aberration),
        TEST(test_laws),
        TEST(test_runs),
        TEST(test_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
