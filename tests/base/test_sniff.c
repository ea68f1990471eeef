/* What the sniffer makes of the beginnings of files, one dialect after the other. The
 * files are written here. */
#include "support.h"

#include <iconv.h>
#include <strings.h>

#include "base/sniff.h"

static bool time_and_force(void *self, const char *const *names, size_t n)
{
    bool time = false, force = false;

    (void)self;
    for (size_t i = 0; i < n; i++) {
        time = time || !strcasecmp(names[i], "time");
        force = force || !strcasecmp(names[i], "force");
    }
    return time && force;
}

static const pl_sniff_ask ask = { time_and_force, NULL };

typedef struct looks {
    const char *text;
    const char *says; /* pl_sniff_text */
    char delimiter, point;
    size_t line;
} looks;

static void test_dialects(void **state)
{
    static const looks cases[] = {
        { "time [s],force [N]\n0,0\n0.1,5\n", "", ',', '.', 1 },
        { "time [s];force [N]\n0;0\n0,1;5\n", "semicolons between cells and decimal commas", ';',
          ',', 1 },
        { "time [s];force [N]\n0;0\n0.1;5\n", "semicolons between cells", ';', '.', 1 },
        { "time [s]\tforce [N]\r\n0\t0\r\n0,1\t5\r\n", "tabs between cells and decimal commas",
          '\t', ',', 1 },
        { "time [s]|force [N]\n0|0\n", "bars between cells", '|', '.', 1 },
        { "  time [s]   force [N]\n  0.00   0\n  0.1   5\n", "blanks between cells", ' ', '.', 1 },
        { "time  force\n s     kN\n0,5   1,25\n1,0   2,5\n",
          "blanks between cells, decimal commas and units in the line below it", ' ', ',', 1 },
        { "# made on a Tuesday\n\ntime [s],force [N]\n0,0\n",
          "the header in line 3 and 1 line of words above it", ',', '.', 3 },
        { "# bench 2\n# time [s], force [N]\n0,0\n1,2\n",
          "the header in line 2, a comment and 1 line of words above it", ',', '.', 2 },
        { "time,force\ns,kN\n0,0\n1,2\n", "units in the line below it", ',', '.', 1 },
        { "time,force\n[s],[odd]\n0,0\n1,2\n", "units in the line below it", ',', '.', 1 },
        { "time [s],force [N],\n0,0,\n1,2,\n", "a delimiter behind the last cell", ',', '.', 1 },
        { "time [s],force [N]\n0,0,\n1,2,\n", "a delimiter behind the last cell", ',', '.', 1 },
        { "\xef\xbb\xbftime [s],force [N]\n0,0\n", "", ',', '.', 1 },
        { "Maschine;Pr\xfc"
          "fer 1\ntime [s];force [N]\n0;0,5\n",
          "semicolons between cells, decimal commas, Latin-1, the header in line 2 and 1 line of "
          "words above it",
          ';', ',', 2 },
        { "time [s],force (kN)\r0,0\r0.5,1\r", "", ',', '.', 1 },
        { "\"time [s]\",\"force / kN\"\n\"0\",\"0.5\"\n", "", ',', '.', 1 },
        /* a comma in the words above decides nothing */
        { "a, b, c, d\ne, f, g, h\ntime [s];force [N]\n1;2\n",
          "semicolons between cells, the header in line 3 and 2 lines of words above it", ';', '.',
          3 },
        /* nobody knows this header: it stands above the longest run of numbers */
        { "frame 7\nmade;by;hand\nt;load\n0;0,5\n1;0,7\n2;0,9\n",
          "semicolons between cells, decimal commas, the header in line 3 and 2 lines of words "
          "above it",
          ';', ',', 3 },
        { "", "", ',', '.', 1 },
        { "\n\n", "", ',', '.', 1 },
        { "only words", "", ',', '.', 1 },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pl_sniffed s;

        assert_ok(b, pl_sniff(b->a, cases[i].text, strlen(cases[i].text), &ask, &s));
        assert_string_equal(pl_sniff_text(b->a, &s), cases[i].says);
        assert_int_equal(s.delimiter, cases[i].delimiter);
        assert_int_equal(s.point, cases[i].point);
        assert_int_equal(s.line, cases[i].line);
    }
}

static void test_words_above(void **state)
{
    static const char text[] = "Machine;\"frame of the demo\";;\n"
                               "Operator: invented\n"
                               "# Crosshead speed [mm/min] = 5\n"
                               "Started: 09:14:05\n"
                               "free words\n"
                               "\n"
                               "Time;Force\n"
                               "[s];[kN]\n"
                               "0;0,5\n1;0,7\n";
    bench *b = *state;
    pl_sniffed s;

    assert_ok(b, pl_sniff(b->a, text, sizeof text - 1, &ask, &s));
    assert_int_equal(s.line, 7);
    assert_true(s.units_row);
    assert_int_equal(s.nblock, 5);
    assert_string_equal(pl_sniff_said(&s, "machine"), "frame of the demo");
    assert_string_equal(pl_sniff_said(&s, "OPERATOR"), "invented");
    assert_string_equal(pl_sniff_said(&s, "crosshead speed [mm/min]"), "5");
    assert_string_equal(pl_sniff_said(&s, "started"), "09:14:05");
    assert_string_equal(s.block[4].key, "");
    assert_string_equal(s.block[4].value, "free words");
    assert_int_equal(s.block[4].line, 5);
    assert_null(pl_sniff_said(&s, "speed"));
}

static void test_names(void **state)
{
    static const struct {
        const char *text, *name, *unit;
        bool loose;
    } cases[] = {
        { "peak [kN]", "peak", "kN", false },
        { "peak[kN]", "peak", "kN", false },
        { "note", "note", "", false },
        { "note (long)", "note (long)", "", false },
        { "note (long)", "note (long)", "", true },
        { "peak (kN)", "peak", "kN", true },
        { "peak (kN)", "peak (kN)", "", false },
        { "F / kN", "F", "kN", true },
        { "and/or", "and/or", "", true },
        { "[kN]", "", "kN", true },
        { "", "", "", true },
        { "force [ kN ]", "force", "kN", true },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *name, *unit;

        assert_ok(b, pl_sniff_name(b->a, cases[i].text, cases[i].loose, &name, &unit));
        assert_string_equal(name, cases[i].name);
        assert_string_equal(unit, cases[i].unit);
    }
}

/* Every character of three encodings, in pieces of every length from 1 to 7, against the
 * C library's converter. */
static void against_iconv(bench *b, pl_encoding from, const char *name, const char *bytes, size_t n)
{
    iconv_t cd = iconv_open("UTF-8", name);
    char *wanted = malloc(4 * n), *in = malloc(n), *got = malloc(4 * n + 64), *to = wanted;
    char *source = in;
    size_t left = n, room = 4 * n, length;

    (void)b;
    assert_true(cd != (iconv_t)-1);
    memcpy(in, bytes, n);
    assert_int_equal(iconv(cd, &source, &left, &to, &room), 0);
    length = (size_t)(to - wanted);
    for (size_t step = 1; step < 8; step++) {
        pl_sniff_carry carry = { { 0 }, 0 };
        size_t used = 0;

        for (size_t i = 0; i < n; i += step)
            used += pl_sniff_utf8(from, bytes + i, n - i < step ? n - i : step, i + step >= n,
                                  &carry, got + used);
        assert_int_equal(used, length);
        assert_memory_equal(got, wanted, length);
    }
    iconv_close(cd);
    free(wanted);
    free(in);
    free(got);
}

static void test_encodings(void **state)
{
    bench *b = *state;
    static unsigned char little[0x11000 * 4], big[0x11000 * 4];
    char latin[256];
    size_t n = 0, m = 0;

    for (int i = 1; i < 256; i++) /* without the five that Windows-1252 has not */
        if (!strchr("\x81\x8d\x8f\x90\x9d", i))
            latin[m++] = (char)i;
    against_iconv(b, PL_LATIN1, "WINDOWS-1252", latin, m);
    for (uint32_t c = 1; c < 0x110000; c += c < 0x10000 ? 1 : 0x101) {
        uint32_t units[2] = { c, 0 };

        if (c >= 0xd800 && c < 0xe000)
            continue;
        if (c >= 0x10000) {
            units[0] = 0xd800 + ((c - 0x10000) >> 10);
            units[1] = 0xdc00 + ((c - 0x10000) & 0x3ff);
        }
        for (int k = 0; k < 2 && (!k || units[1]); k++, n += 2) {
            big[n] = little[n + 1] = (unsigned char)(units[k] >> 8);
            big[n + 1] = little[n] = (unsigned char)units[k];
        }
    }
    against_iconv(b, PL_UTF16_LITTLE, "UTF-16LE", (char *)little, n);
    against_iconv(b, PL_UTF16_BIG, "UTF-16BE", (char *)big, n);
}

/* What is no character is marked, not lost and not passed on. */
static void test_broken_utf16(void **state)
{
    static const struct {
        const char *bytes;
        size_t n;
        const char *wanted;
    } cases[] = {
        { "a\0\x00\xd8", 4, "a\xef\xbf\xbd" },
        { "\x00\xd8z\0", 4, "\xef\xbf\xbdz" },
        { "\x00\xdcz\0", 4, "\xef\xbf\xbdz" },
        { "a\0b", 3, "a\xef\xbf\xbd" },
    };
    char out[64];

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pl_sniff_carry carry = { { 0 }, 0 };
        size_t n = pl_sniff_utf8(PL_UTF16_LITTLE, cases[i].bytes, cases[i].n, true, &carry, out);

        assert_int_equal(n, strlen(cases[i].wanted));
        assert_memory_equal(out, cases[i].wanted, n);
    }
}

/* UTF-16 is known without its mark, too; and a stray zero byte does not make it. */
static void test_encoding_found(void **state)
{
    static const char *text = "time [s];force [N]\n0;0,5\n1;0,7\n";
    char little[200], big[200], zero[] = "time [s],force [N]\n0,\0\n1,2\n";
    size_t n = strlen(text);
    bench *b = *state;
    pl_sniffed s;

    for (size_t i = 0; i < n; i++) {
        little[2 * i] = big[2 * i + 1] = text[i];
        little[2 * i + 1] = big[2 * i] = 0;
    }
    assert_ok(b, pl_sniff(b->a, little, 2 * n, &ask, &s));
    assert_int_equal(s.encoding, PL_UTF16_LITTLE);
    assert_int_equal(s.delimiter, ';');
    assert_ok(b, pl_sniff(b->a, big, 2 * n, &ask, &s));
    assert_int_equal(s.encoding, PL_UTF16_BIG);
    assert_int_equal(s.point, ',');
    assert_ok(b, pl_sniff(b->a, zero, sizeof zero - 1, &ask, &s));
    assert_int_equal(s.encoding, PL_UTF8);
}

/* A character that the end of the head cuts in two does not make it Latin-1. */
static void test_cut_character(void **state)
{
    static char head[PL_SNIFF_HEAD];
    bench *b = *state;
    pl_sniffed s;

    for (size_t cut = 1; cut < 4; cut++) {
        memset(head, '0', sizeof head);
        memcpy(head, "time [s],force [N]\n", 19);
        memcpy(head + sizeof head - cut, "\xf0\x9f\x98", cut);
        assert_ok(b, pl_sniff(b->a, head, sizeof head, &ask, &s));
        assert_int_equal(s.encoding, PL_UTF8);
    }
    head[sizeof head / 2] = (char)0xe9;
    assert_ok(b, pl_sniff(b->a, head, sizeof head, &ask, &s));
    assert_int_equal(s.encoding, PL_LATIN1);
}

static void test_no_memory(void **state)
{
    static const char text[] = "a: b\ntime;force (N)\ns;\n0;0,5\n1;0,7\n";
    pl_code code = PL_ENOMEM;

    (void)state;
    for (unsigned long n = 1; code; n++) {
        pl_arena *a = pl_arena_new(0);
        pl_sniffed s;

        assert_true(n < 2000);
        pl_arena_fail_at(n);
        code = pl_sniff(a, text, sizeof text - 1, &ask, &s);
        pl_arena_fail_at(0);
        assert_true(code == PL_OK || code == PL_ENOMEM);
        pl_arena_free(a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_dialects),      TEST(test_words_above),  TEST(test_names),
        TEST(test_encodings),     TEST(test_broken_utf16), TEST(test_encoding_found),
        TEST(test_cut_character), TEST(test_no_memory),
    };

    return cmocka_run_group_tests_name("sniff", tests, NULL, NULL);
}
