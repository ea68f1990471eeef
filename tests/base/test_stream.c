/* Streams: the generator against its authors' values, and what is built on it. */
#include "support.h"

#include "base/stream.h"

static void check_block(const uint32_t c[4], const uint32_t k[2], const uint32_t wanted[4])
{
    uint32_t got[4];

    pl_philox4x32(c, k, got);
    for (int i = 0; i < 4; i++)
        assert_int_equal(got[i], wanted[i]);
}

/* Known-answer vectors of Random123 (file kat_vectors, philox4x32 10): the
 * first two from memory; all three confirmed by running Random123 1.14.0
 * (Debian librandom123-dev 1.14.0+dfsg-4) on the same counters and keys. */
static void test_philox_known_answers(void **state)
{
    const uint32_t f = 0xffffffffu;

    (void)state;
    check_block((uint32_t[]){ 0, 0, 0, 0 }, (uint32_t[]){ 0, 0 },
                (uint32_t[]){ 0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8 });
    check_block((uint32_t[]){ f, f, f, f }, (uint32_t[]){ f, f },
                (uint32_t[]){ 0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd });
    check_block((uint32_t[]){ 0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344 },
                (uint32_t[]){ 0xa4093822, 0x299f31d0 },
                (uint32_t[]){ 0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1 });
}

/* 4,096 blocks, counter (i, 0, 7, 0), key (20260101, 3), folded into one word by
 * x = rotl(x, 5) ^ word. The value was computed with Random123 1.14.0, which
 * also gave the same words as ours on 4,096 blocks with scattered counters and
 * keys, none different; the package is not needed here. */
static void test_philox_many_blocks(void **state)
{
    uint32_t x = 0, out[4];

    (void)state;
    for (uint32_t i = 0; i < 4096; i++) {
        pl_philox4x32((uint32_t[]){ i, 0, 7, 0 }, (uint32_t[]){ 20260101, 3 }, out);
        for (int j = 0; j < 4; j++)
            x = (x << 5 | x >> 27) ^ out[j];
    }
    assert_int_equal(x, 0x1a1628bf);
}

/* The contract of stream.h: where seed, purpose, draw and word go. */
static void test_stream_layout(void **state)
{
    const uint64_t seed = ((uint64_t)0x12345 << 32) | 0x9abcdef0u;
    const uint64_t draw = ((uint64_t)77 << 32) | 5;
    uint32_t out[4];
    pl_stream s;

    (void)state;
    pl_stream_init(&s, seed, PL_FOR_BREAK_ORDER, draw);
    for (uint32_t block = 0; block < 3; block++) {
        pl_philox4x32((uint32_t[]){ 5, 77, PL_FOR_BREAK_ORDER, block },
                      (uint32_t[]){ 0x9abcdef0u, 0x12345 }, out);
        for (int j = 0; j < 4; j++)
            assert_int_equal(pl_stream_word(&s), out[j]);
    }
}

static void test_stream_below(void **state)
{
    static const uint32_t sizes[] = { 1, 2, 3, 7, 8, 1000, 0x80000001u, 0xffffffffu };
    unsigned count[7] = { 0 };
    pl_stream s;
    double chi2 = 0;

    (void)state;
    pl_stream_init(&s, 42, PL_FOR_TEST, 0);
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++)
        for (int i = 0; i < 1000; i++)
            assert_true(pl_stream_below(&s, sizes[k]) < sizes[k]);
    for (int i = 0; i < 70000; i++)
        count[pl_stream_below(&s, 7)]++;
    for (int i = 0; i < 7; i++)
        chi2 += (count[i] - 1e4) * (count[i] - 1e4) / 1e4;
    assert_true(chi2 < 27.86); /* upper 1e-4 point of chi-square on 6 */
}

static void test_stream_unit_and_normal(void **state)
{
    enum { N = 100000 };
    double sum = 0, squares = 0, fourth = 0, usum = 0;
    pl_stream s;

    (void)state;
    pl_stream_init(&s, 43, PL_FOR_TEST, 1);
    for (int i = 0; i < N; i++) {
        double u = pl_stream_unit(&s), z = pl_stream_normal(&s);

        assert_true(u > 0 && u < 1);
        usum += u;
        sum += z;
        squares += z * z;
        fourth += z * z * z * z;
    }
    /* four standard errors each: sqrt(1/12), 1, sqrt 2 and sqrt 96 over sqrt N */
    assert_abs("mean of units", usum / N, 0.5, 4 * sqrt(1.0 / 12 / N));
    assert_abs("mean of normals", sum / N, 0, 4 / sqrt(N));
    assert_abs("variance", squares / N, 1, 4 * sqrt(2.0 / N));
    assert_abs("fourth moment", fourth / N, 3, 4 * sqrt(96.0 / N));
}

/* The ends of the unit interval: all-ones words must not round to 1. */
static void test_stream_unit_ends(void **state)
{
    pl_stream s;

    (void)state;
    pl_stream_init(&s, 1, PL_FOR_TEST, 0);
    s.used = 0;
    memset(s.words, 0xff, sizeof s.words);
    assert_true(pl_stream_unit(&s) < 1);
    s.used = 0;
    memset(s.words, 0, sizeof s.words);
    assert_true(pl_stream_unit(&s) > 0);
}

/* Every order of four equally often, and the shuffle keeps what it was given. */
static void test_stream_shuffle(void **state)
{
    enum { N = 24000 };
    unsigned count[256] = { 0 }, kinds = 0;
    double chi2 = 0;

    (void)state;
    for (unsigned draw = 0; draw < N; draw++) {
        uint32_t item[4] = { 0, 1, 2, 3 }, seen = 0;
        pl_stream s;

        pl_stream_init(&s, 7, PL_FOR_TEST, draw);
        pl_stream_shuffle(&s, item, 4);
        for (int i = 0; i < 4; i++)
            seen |= 1u << item[i];
        assert_int_equal(seen, 15);
        count[item[0] << 6 | item[1] << 4 | item[2] << 2 | item[3]]++;
    }
    for (int i = 0; i < 256; i++)
        if (count[i]) {
            kinds++;
            chi2 += (count[i] - N / 24.0) * (count[i] - N / 24.0) / (N / 24.0);
        }
    assert_int_equal(kinds, 24);
    assert_true(chi2 < 57.07); /* upper 1e-4 point of chi-square on 23 is 57.07 */
}

static void test_stream_gsl_face(void **state)
{
    gsl_rng *r = pl_stream_gsl_new(99, PL_FOR_DEMO, 4);
    pl_stream s;

    (void)state;
    assert_non_null(r);
    pl_stream_init(&s, 99, PL_FOR_DEMO, 4);
    for (int i = 0; i < 9; i++)
        assert_int_equal(gsl_rng_get(r), pl_stream_word(&s));
    assert_true(gsl_rng_uniform(r) == pl_stream_unit(&s));
    gsl_rng_free(r);
}

static void test_seed_from_system(void **state)
{
    uint64_t a = pl_seed_from_system(), b = pl_seed_from_system();

    (void)state;
    assert_true(a < PL_SEED_LIMIT && b < PL_SEED_LIMIT);
    assert_true(a != b); /* fails once in 2^53 runs */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_philox_known_answers),   TEST(test_philox_many_blocks),
        TEST(test_stream_layout),          TEST(test_stream_below),
        TEST(test_stream_unit_and_normal), TEST(test_stream_unit_ends),
        TEST(test_stream_shuffle),         TEST(test_stream_gsl_face),
        TEST(test_seed_from_system),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
