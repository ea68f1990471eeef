/* Text building, numbers as text and back, UTF-8, near names. */
#include "support.h"

static void test_building(void **state)
{
    bench *b = *state;
    pl_text t;

    pl_text_init(&t, b->a);
    assert_string_equal(pl_text_done(&t), "");
    pl_text_add(&t, "%s %d", "beech", 3);
    pl_text_put(&t, " 100%s");
    pl_text_bytes(&t, "ab", 1);
    pl_text_bytes(&t, NULL, 0);
    assert_string_equal(pl_text_done(&t), "beech 3 100%sa");
    for (int i = 0; i < 1000; i++)
        pl_text_put(&t, "x");
    assert_int_equal(strlen(pl_text_done(&t)), 14 + 1000);
    pl_arena_fail_at(1);
    for (int i = 0; i < 2000; i++)
        pl_text_put(&t, "x");
    assert_null(pl_text_done(&t)); /* remembered */
    pl_text_put(&t, "y");
    assert_null(pl_text_done(&t));
    pl_arena_fail_at(0);
}

/* What a caller hands on unlooked-at when its maker found no memory. */
static void test_parts_that_failed(void **state)
{
    bench *b = *state;
    pl_text t;

    pl_text_init(&t, b->a);
    pl_text_put(&t, "beech");
    pl_text_put(&t, NULL);
    pl_text_put(&t, "larch");
    assert_null(pl_text_done(&t));
    pl_text_init(&t, b->a);
    pl_text_bytes(&t, NULL, 3);
    assert_null(pl_text_done(&t));
    pl_text_init(&t, b->a);
    pl_text_put(&t, "beech ");
    pl_arena_fail_at(1);
    pl_text_add(&t, "%s", pl_text_number(b->a, 2.5, 3)); /* "(null)" of itself */
    pl_arena_fail_at(0);
    assert_null(pl_text_done(&t));
    pl_text_init(&t, b->a); /* what came before is not its own */
    pl_text_put(&t, "larch");
    assert_string_equal(pl_text_done(&t), "larch");
}

static void number(bench *b, double x, int digits, const char *wanted)
{
    assert_string_equal(pl_text_number(b->a, x, digits), wanted);
}

static void test_number(void **state)
{
    bench *b = *state;

    number(b, 0.0123, 3, "0.0123");
    number(b, 1400, 3, "1400");
    number(b, 1449, 2, "1400");
    number(b, 1.2e-7, 3, "1.2e-07");
    number(b, 0, 3, "0");
    number(b, -0.0, 3, "0");
    number(b, -2.5, 1, "-2"); /* ties to even, as printf */
    number(b, 0.99996, 4, "1");
    number(b, 99999.5, 5, "100000");
    number(b, 99999999, 8, "99999999");
    number(b, 123456789, 9, "123456789");
    number(b, 1e8, 3, "1e+08");
    number(b, 0.1, 17, "0.10000000000000001");
    number(b, 9.80665, 6, "9.80665");
    number(b, NAN, 3, "unknown");
    number(b, INFINITY, 3, "infinite");
    number(b, -INFINITY, 3, "minus infinite");
    number(b, 5e-324, 3, "4.94e-324");
    number(b, 0.0001, 2, "0.0001");
}

static void test_to_number(void **state)
{
    const char *good[] = { "0", "-2.5", "+3", ".5", "5.", "1e3", "1E-3", "007" };
    const double values[] = { 0, -2.5, 3, .5, 5, 1000, .001, 7 };
    const char *bad[] = { "",     "e",  "-",  ".",   "1e",  "1e999", "inf", "nan",
                          "0x10", " 1", "1 ", "1,5", "1-2", "--1",   "1e+", "infinity" };
    double x = 42;

    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        assert_true(pl_text_to_number(good[i], &x));
        assert_true(x == values[i]);
    }
    x = 42;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (pl_text_to_number(bad[i], &x))
            fail_msg("\"%s\" was taken for a number", bad[i]);
    assert_true(x == 42);
}

static void test_to_whole(void **state)
{
    long long x = 42;

    (void)state;
    assert_false(pl_text_to_whole("", 0, 9, &x));
    assert_false(pl_text_to_whole("-1", 0, 9, &x));
    assert_false(pl_text_to_whole("10", 0, 9, &x));
    assert_false(pl_text_to_whole("1.0", 0, 9, &x));
    assert_false(pl_text_to_whole(" 1", 0, 9, &x));
    assert_false(pl_text_to_whole("+1", 0, 9, &x));
    assert_false(pl_text_to_whole("99999999999999999999", 0, INT64_MAX, &x));
    assert_false(pl_text_to_whole("--1", -9, 9, &x));
    assert_int_equal(x, 42);
    assert_true(pl_text_to_whole("9", 0, 9, &x) && x == 9);
    assert_true(pl_text_to_whole("-9", -9, 9, &x) && x == -9);
    assert_true(pl_text_to_whole("9007199254740991", 0, INT64_MAX, &x));
    assert_true(x == 9007199254740991);
}

/* Well-formed and ill-formed sequences by table 3-7 of the Unicode Standard
 * (chapter 3, "Well-Formed UTF-8 Byte Sequences"). */
static void test_utf8(void **state)
{
    const char *good[] = { "",
                           "a",
                           "\xc2\x80",
                           "\xdf\xbf",
                           "\xe0\xa0\x80",
                           "\xed\x9f\xbf",
                           "\xee\x80\x80",
                           "\xf0\x90\x80\x80",
                           "\xf4\x8f\xbf\xbf" };
    const char *bad[] = { "\x80",
                          "\xc0\xaf",
                          "\xc1\xbf",
                          "\xe0\x9f\xbf",
                          "\xed\xa0\x80",
                          "\xf0\x8f\xbf\xbf",
                          "\xf4\x90\x80\x80",
                          "\xf5\x80\x80\x80",
                          "\xff",
                          "\xc2",
                          "\xe1\x80",
                          "\xf1\x80\x80",
                          "\xc2g",
                          "\xe1\x80g" };

    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        assert_int_equal(pl_text_utf8_fault(good[i], strlen(good[i])), strlen(good[i]));
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char text[8] = "ab";

        strcat(text, bad[i]);
        assert_int_equal(pl_text_utf8_fault(text, strlen(text)), 2);
    }
    assert_int_equal(pl_text_width("caf\xc3\xa9 \xe2\x82\xac"), 6);
}

static void test_nearest(void **state)
{
    const char *names[] = { "study", "question", "factors", "joint", "kN" };

    (void)state;
    assert_string_equal(pl_text_nearest("stduy", names, 5), "study");
    assert_string_equal(pl_text_nearest("factor", names, 5), "factors");
    assert_string_equal(pl_text_nearest("qestoin", names, 5), "question");
    assert_string_equal(pl_text_nearest("KN", names, 5), "kN");
    assert_null(pl_text_nearest("xx", names, 5));
    assert_null(pl_text_nearest("", names, 4));
    assert_null(pl_text_nearest(
        "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa", names, 5));
    assert_null(pl_text_nearest("study", names, 0));
}

static void test_list_and_name(void **state)
{
    bench *b = *state;
    const char *woods[] = { "beech", "larch", "oak" };

    assert_string_equal(pl_text_list(b->a, woods, 3, "and"), "beech, larch and oak");
    assert_string_equal(pl_text_list(b->a, woods, 2, "or"), "beech or larch");
    assert_string_equal(pl_text_list(b->a, woods, 1, "or"), "beech");
    assert_string_equal(pl_text_list(b->a, woods, 0, "or"), "");
    assert_true(pl_text_is_name("stairs-2"));
    assert_true(pl_text_is_name("9"));
    assert_false(pl_text_is_name(""));
    assert_false(pl_text_is_name("-a"));
    assert_false(pl_text_is_name("Stairs"));
    assert_false(pl_text_is_name("a b"));
    assert_false(
        pl_text_is_name("aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"));
}

/* Control characters of ASCII and (U+0080 to U+009F) of ISO 6429; é is U+00E9. */
static void test_harmless(void **state)
{
    char text[] = "a\033[31mb\177\tc\n\302\233d\303\251\342\200\256";

    (void)state;
    pl_text_harmless(text);
    assert_string_equal(text, "a?[31mb?\tc\n??d\303\251\342\200\256");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_building),  TEST(test_parts_that_failed), TEST(test_number),
        TEST(test_to_number), TEST(test_to_whole),          TEST(test_utf8),
        TEST(test_nearest),   TEST(test_list_and_name),     TEST(test_harmless),
    };

    return cmocka_run_group_tests_name("text", tests, NULL, NULL);
}
