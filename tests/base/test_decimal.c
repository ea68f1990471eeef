/* Decimals against strtod, bit for bit: chosen hard ones, and generated ones: a quarter of
 * a million of the kind that records hold, and a million of the kinds that round badly: many
 * digits, halves between two doubles and a digit off them over the whole range, numbers too
 * small for all their bits, the ends of the range. PLATEN_LONG: ten times as many. */
#include "support.h"

#include <float.h>

#include "base/decimal.h"
#include "base/stream.h"

static void same(const char *text, char point)
{
    char copy[2048], *end;
    size_t n = strlen(text), used;
    double wanted, got = -7;
    const char *stop;

    memcpy(copy, text, n + 1);
    for (char *c = copy; point == ',' && *c; c++)
        *c = *c == ',' ? '.' : *c;
    wanted = strtod(copy, &end);
    used = (size_t)(end - copy);
    stop = pl_decimal(text, text + n, point, &got);
    if (!used || !isfinite(wanted)) {
        if (stop)
            fail_msg("\"%s\": a number, where strtod has none", text);
        return;
    }
    if (stop != text + used || memcmp(&got, &wanted, sizeof got) != 0)
        fail_msg("\"%s\": %.17g and %td bytes, strtod %.17g and %zu", text, got,
                 stop ? stop - text : -1, wanted, used);
}

static void test_chosen(void **state)
{
    static const char *const cases[] = {
        "0",
        "-0",
        "+0",
        "00",
        "-0.0",
        "0e5",
        "-0e-999",
        "1",
        "-1",
        "+1",
        "5.",
        ".5",
        "-.5",
        "+.5e1",
        "0.1",
        "0.2",
        "0.3",
        "123456789012345",
        "999999999999999",
        "1234567890123456",
        "9007199254740993",
        "9007199254740991",
        "9007199254740992.5",
        "0.000123456789012345",
        "00000000000000000000001.5",
        "1e22",
        "1e23",
        "1e-22",
        "1e-23",
        "123456789012345e22",
        "123456789012345e-22",
        "123456789012345e23",
        "8.41e21",
        "9.5e22",
        "2.2250738585072011e-308",
        "2.2250738585072014e-308",
        "4.9406564584124654e-324",
        "2.4703282292062327e-324",
        "2.4703282292062328e-324",
        "1e-400",
        "1.7976931348623157e308",
        "1.7976931348623158e308",
        "1.7976931348623159e308",
        "1e309",
        "-1e999",
        "1e-999999999999",
        "1e999999999999",
        "0e999999999999",
        "1e",
        "1e+",
        "1e-",
        "1ex",
        "1e5x",
        "1.2.3",
        "1..2",
        "--1",
        "+-1",
        "e5",
        ".",
        "-",
        "+",
        "",
        "-.",
        ".e5",
        "5.e3",
        "inf",
        "nan",
        "1 2",
        "1\t",
        "6.9294956446009195e15",
        "3.4e38",
        "179769313486231580793728971405301e276",
        "0.1000000000000000055511151231257827021181583404541015625",
        "0.10000000000000000555111512312578270211815834045410156250000000000000000000000001",
        "9007199254740992.99999999999999999999999999999999999999999999999999999999999999999",
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        same(cases[i], '.');
    same("1,5", ',');
    same("-0,000123456789012345", ',');
    same("1,5e-3", ',');
}

/* 2000 digits: half between two doubles, and a last digit that tips it. */
static void test_very_long(void **state)
{
    char text[2048];

    (void)state;
    memset(text, '0', sizeof text);
    memcpy(text, "9007199254740993.", 17);
    for (int tip = 0; tip < 2; tip++) {
        text[2000] = tip ? '1' : '0';
        text[2001] = '\0';
        same(text, '.');
    }
    memset(text, '0', 2000);
    memcpy(text, "0.", 2);
    memcpy(text + 1990, "12345678e1980", 14);
    same(text, '.');
}

static size_t put_digits(char *out, pl_stream *s, size_t n)
{
    for (size_t i = 0; i < n; i++)
        out[i] = (char)('0' + pl_stream_below(s, 10));
    return n;
}

/* As records hold them: a sign, a few digits, a point, a few digits. */
static void plain(pl_stream *s, char *out)
{
    size_t n = 0;

    if (pl_stream_below(s, 4) == 0)
        out[n++] = '-';
    n += put_digits(out + n, s, pl_stream_below(s, 8));
    if (pl_stream_below(s, 8))
        out[n++] = '.';
    n += put_digits(out + n, s, 1 + pl_stream_below(s, 9));
    out[n] = '\0';
}

/* Up to 40 digits and an exponent about the ends of the exact way or of the range. */
static void long_one(pl_stream *s, char *out)
{
    size_t n = 0;

    if (pl_stream_below(s, 2))
        out[n++] = '-';
    n += put_digits(out + n, s, pl_stream_below(s, 22));
    out[n++] = '.';
    n += put_digits(out + n, s, 1 + pl_stream_below(s, 22));
    (void)sprintf(out + n, "e%d",
                  pl_stream_below(s, 4) ? (int)pl_stream_below(s, 60) - 30
                                        : (int)pl_stream_below(s, 660) - 340);
}

/* Exactly between two neighbouring doubles: 54 bits, which a long double holds even where a
 * double holds fewer. */
static long double between(pl_stream *s, unsigned exponent)
{
    uint64_t bits = (uint64_t)pl_stream_word(s) << 32 | pl_stream_word(s);
    double x;

    bits = (bits & 0xfffffffffffffu) | (uint64_t)exponent << 52;
    memcpy(&x, &bits, sizeof x);
    return ((long double)x + (long double)nextafter(x, INFINITY)) / 2;
}

/* A half written out whole, or a last digit off: the worst to round. */
static void halfway(pl_stream *s, char *out)
{
    size_t n = (size_t)sprintf(out, "%.*Lf", 120, between(s, 1023 - 60 + pl_stream_below(s, 120)));

    if (pl_stream_below(s, 2) && out[n - 1] == '0')
        out[n - 1] = '1';
}

/* A half anywhere in the range, every fourth among those too small for all their bits, to some
 * of its digits: the nearest text below it, the next above it, or itself. 767 digits are the
 * most that any half has. */
static void near_half(pl_stream *s, char *out)
{
    unsigned exponent = pl_stream_below(s, 4) ? pl_stream_below(s, 2046) : pl_stream_below(s, 3);
    int digits = pl_stream_below(s, 16) ? 15 + (int)pl_stream_below(s, 40)
                                        : (int)pl_stream_below(s, 768);
    char *e;

    (void)sprintf(out, "%.*Le", digits, between(s, exponent));
    e = strchr(out, 'e');
    if (pl_stream_below(s, 2) && e[-1] >= '0' && e[-1] < '9')
        e[-1]++;
    else if (pl_stream_below(s, 2) && e[-1] > '0' && e[-1] <= '9')
        e[-1]--;
}

/* The shortest text of any double. */
static void any_bits(pl_stream *s, char *out)
{
    uint64_t bits = (uint64_t)pl_stream_word(s) << 32 | pl_stream_word(s);
    double x;

    memcpy(&x, &bits, sizeof x);
    (void)sprintf(out, "%.*g", 1 + (int)pl_stream_below(s, 20), isfinite(x) ? x : 1.0);
}

static void test_generated(void **state)
{
    static void (*const kinds[])(pl_stream *, char *) = { plain, long_one, halfway, near_half,
                                                          any_bits };
    long count = getenv("PLATEN_LONG") ? 12500000 : 1250000, rounds_up = 0, small = 0;
    char text[1024];
    pl_stream s;

    (void)state;
    pl_stream_init(&s, 20270301, PL_FOR_TEST, 0);
    for (long i = 0; i < count; i++) {
        kinds[i % 5](&s, text);
        same(text, '.');
        if (i % 5 == 3) {
            double x = strtod(text, NULL);

            small += x > 0 && x < DBL_MIN;
            rounds_up += (long double)x > strtold(text, NULL);
        }
    }
    /* they are what they should be: many go up, many down, and a twelfth are too small */
    assert_in_range(rounds_up, count / 5 / 4, count / 5 * 3 / 4);
    assert_in_range(small, count / 5 / 16, count / 5 / 8);
}

/* Any bytes: what strtod takes in the C locale and this does not is hexadecimal,
 * infinities and leading blanks, none of which these bytes can spell. */
static void test_junk(void **state)
{
    static const char letters[] = "0123456789.-+eE,  ";
    char text[24];
    pl_stream s;

    (void)state;
    pl_stream_init(&s, 20270302, PL_FOR_TEST, 0);
    for (int i = 0; i < 50000; i++) {
        size_t n = pl_stream_below(&s, sizeof text - 1);

        for (size_t k = 0; k < n; k++)
            text[k] = letters[pl_stream_below(&s, sizeof letters - 1)];
        text[n] = '\0';
        if (text[0] != ' ')
            same(text, '.');
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_chosen),
        TEST(test_very_long),
        TEST(test_generated),
        TEST(test_junk),
    };

    return cmocka_run_group_tests_name("decimal", tests, NULL, NULL);
}
