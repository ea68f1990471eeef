/* Reading JSON strictly with places, and writing it. The grammar is RFC 8259. */
#include "support.h"

#include "base/json.h"

static pl_code parse(bench *b, const char *text, const pl_json **out)
{
    return pl_json_parse(b->a, "stairs.json", text, strlen(text), out, &b->d);
}

/* The text is refused with this code, and this is the whole finding. */
static void refused(bench *b, const char *text, pl_code code, const char *finding)
{
    const pl_json *v = NULL;
    size_t from = b->d.count;

    assert_code(b, code, parse(b, text, &v));
    assert_null(v);
    assert_true(b->d.count > from);
    assert_string_equal(pl_diag_text(b->a, &b->d.items[from]), finding);
}

static void test_tree(void **state)
{
    bench *b = *state;
    const pl_json *v, *joint, *levels;

    assert_ok(b, parse(b,
                       "\xef\xbb\xbf{\n  \"joint\": {\"width\": \"18 mm\", \"a/b~\": true},\n"
                       "  \"levels\": [0.25, -1e2, null,\r\n \"caf\\u00e9 \\ud83d\\ude00\"]\n}\n",
                       &v));
    assert_int_equal(v->kind, PL_JSON_OBJECT);
    assert_int_equal(v->count, 2);
    joint = pl_json_get(v, "joint");
    assert_string_equal(pl_json_get(joint, "width")->string, "18 mm");
    assert_true(pl_json_get(joint, "a/b~")->truth);
    assert_string_equal(pl_json_pointer(b->a, pl_json_get(joint, "a/b~")), "/joint/a~1b~0");
    assert_null(pl_json_get(joint, "Width"));
    levels = pl_json_get(v, "levels");
    assert_int_equal(levels->count, 4);
    assert_true(pl_json_at(levels, 1)->number == -100);
    assert_string_equal(pl_json_at(levels, 1)->raw, "-1e2");
    assert_string_equal(pl_json_at(levels, 3)->string, "caf\xc3\xa9 \xf0\x9f\x98\x80");
    assert_string_equal(pl_json_pointer(b->a, pl_json_at(levels, 3)), "/levels/3");
    assert_string_equal(pl_json_where(b->a, pl_json_at(levels, 2)), "stairs.json:3");
    assert_string_equal(pl_json_where(b->a, pl_json_at(levels, 3)), "stairs.json:4");
    assert_string_equal(pl_json_pointer(b->a, v), "");
    assert_null(pl_json_at(levels, 4));
    assert_ptr_equal(pl_json_at(levels, 0)->parent, levels);
}

static void test_shown(void **state)
{
    bench *b = *state;
    const pl_json *v;
    const char *sixty =
        "\"123456789012345678901234567890123456789012345678901234567\xc3\xa9 more\"";

    assert_ok(b, parse(b, "[0.50, \"2.5 in2\",\n  {\"a\":\n   [1,  2]}]", &v));
    assert_string_equal(pl_json_shown(b->a, pl_json_at(v, 0)), "0.50");
    assert_string_equal(pl_json_shown(b->a, pl_json_at(v, 1)), "\"2.5 in2\"");
    assert_string_equal(pl_json_shown(b->a, pl_json_at(v, 2)), "{\"a\": [1, 2]}");
    assert_ok(b, parse(b, sixty, &v));
    assert_string_equal(pl_json_shown(b->a, v),
                        "\"123456789012345678901234567890123456789012345678901234567"
                        "\xc3\xa9...\"");
    pl_json_fail(&b->d, PL_EUNIT, v, "a", "b", "c");
    assert_finding(b, "stairs.json:1: found a, expected b\n  mend: c");
    pl_json_advise(&b->d, v, "doubtful", NULL, NULL);
    assert_finding(b, "stairs.json:1: advice: doubtful");
}

static void test_refusals(void **state)
{
    bench *b = *state;

    refused(b, "{\"a\": 1,\n \"b\": 2, \"\\u0061\": 3}", PL_EKEY,
            "stairs.json:2:10: /a: found \"a\" a second time, expected each key once in its "
            "object\n  mend: the first stands on line 1");
    refused(b, "{\"a\": 1}\n{", PL_ESYNTAX,
            "stairs.json:2:1: found '{', expected nothing after the end");
    refused(b, "{\"a\": [1, 007]}", PL_ESYNTAX,
            "stairs.json:1:11: /a/1: found '007', expected a number without leading zeros\n"
            "  mend: a text with zeros in front stands in quotes");
    refused(b, "[1e999]", PL_EVALUE,
            "stairs.json:1:2: /0: found '1e999', expected a number below 1.8e308");
    refused(b, "[\"a\xff\"]", PL_ESYNTAX,
            "stairs.json:1:4: /0: found byte 0xff, expected UTF-8\n  mend: save the file as UTF-8");
    refused(b, "[\"\\u0000\"]", PL_ESYNTAX,
            "stairs.json:1:3: /0: found '\\u0000', expected a text without NUL");
    refused(b, "[\"\\ud800x\"]", PL_ESYNTAX,
            "stairs.json:1:3: /0: found '\\ud800', half of a surrogate pair, expected a whole "
            "character");
    refused(b, "[\"\\udc00\"]", PL_ESYNTAX,
            "stairs.json:1:3: /0: found '\\udc00', half of a surrogate pair, expected a whole "
            "character");
    refused(b, "[\"a\tb\"]", PL_ESYNTAX,
            "stairs.json:1:4: /0: found control character 9 in a text, expected printable "
            "characters\n  mend: a tab is written \\t");
    refused(b, "[\"\\x\"]", PL_ESYNTAX,
            "stairs.json:1:3: /0: found '\\x', expected one of \\\" \\\\ \\/ \\b \\f \\n \\r \\t, "
            "or \\u and four digits\n  mend: a backslash itself is written \\\\");
    refused(b, "[\"\\u12g4\"]", PL_ESYNTAX,
            "stairs.json:1:3: /0: found '\\u' without four hexadecimal digits, expected as in "
            "\\u00e9");
    refused(b, "[1, 2,]", PL_ESYNTAX,
            "stairs.json:1:6: found a comma before ']', expected no comma after the last member");
    refused(b, "[1 2]", PL_ESYNTAX,
            "stairs.json:1:4: /0: found '2', expected a comma or ']'\n"
            "  mend: a comma is missing before it");
    refused(b, "{\"hold\": 45 min, \"x\": 1}", PL_ESYNTAX,
            "stairs.json:1:13: /hold: found 'min', expected a comma or '}'\n"
            "  mend: a value with its unit stands in quotes: \"0.7 N/mm2\"");
    refused(b, "{hold: 1}", PL_ESYNTAX,
            "stairs.json:1:2: found hold, expected a key in double quotes");
    refused(b, "{\"a\" 1}", PL_ESYNTAX,
            "stairs.json:1:6: /a: found '1', expected a colon after "
            "the key");
    refused(b, "[True]", PL_ESYNTAX,
            "stairs.json:1:2: /0: found 'True', expected a value\n"
            "  mend: true, false and null are written in small letters");
    refused(b, "[NaN]", PL_ESYNTAX,
            "stairs.json:1:2: /0: found 'NaN', expected a value\n"
            "  mend: texts stand in double quotes");
    refused(b, "[1] // note", PL_ESYNTAX,
            "stairs.json:1:5: found '//', expected nothing after the end");
    refused(b, "[// note\n1]", PL_ESYNTAX,
            "stairs.json:1:2: /0: found '//', expected a value\n"
            "  mend: JSON has no comments; every object takes a \"note\"");
    refused(b, "['a']", PL_ESYNTAX,
            "stairs.json:1:2: /0: found ''a'', expected a value\n"
            "  mend: texts stand in double quotes");
    refused(b, "[\"a\n\"]", PL_ESYNTAX,
            "stairs.json:1:2: /0: found a text that is not closed on its line, expected a closing "
            "quote\n  mend: a line break within a text is written \\n");
    refused(b, "{\"a\": [1", PL_ESYNTAX,
            "stairs.json:1:9: /a/0: found the end of the text, expected a comma or ']'\n"
            "  mend: a bracket or a quote is not closed");
    refused(b, "", PL_ESYNTAX,
            "stairs.json:1:1: found the end of the text, expected a value\n"
            "  mend: a bracket or a quote is not closed");
    refused(b, "[.5]", PL_ESYNTAX, "stairs.json:1:2: /0: found '.5', expected a value");
    refused(b, "[1.]", PL_ESYNTAX,
            "stairs.json:1:4: /0: found ']', expected a digit after the point");
    refused(b, "[1e+]", PL_ESYNTAX,
            "stairs.json:1:5: /0: found ']', expected a digit in the exponent");
    refused(b, "[-]", PL_ESYNTAX,
            "stairs.json:1:3: /0: found ']', expected a digit\n"
            "  mend: write 0.5, not .5; no \"+\" before a number");
    refused(b, "[0.1111111111111111111111111111111111111111111111111111111111111]", PL_EVALUE,
            "stairs.json:1:2: /0: found a number of 63 characters, expected at most 60 "
            "characters\n  mend: 17 digits say all that a number here can hold");
}

static void test_nul_and_depth(void **state)
{
    bench *b = *state;
    const pl_json *v;
    char deep[2 * 65 + 1];

    assert_code(b, PL_ESYNTAX, pl_json_parse(b->a, "x", "[1,\0]", 5, &v, &b->d));
    assert_finding(b, "x:1:4: /1: found a NUL byte, expected a value");
    assert_code(b, PL_ESYNTAX, pl_json_parse(b->a, "y", "[\"\0\"]", 5, &v, &b->d));
    assert_finding(b, "y:1:3: /0: found a NUL byte, expected printable characters");

    memset(deep, '[', 65);
    memset(deep + 65, ']', 65);
    deep[130] = '\0';
    assert_code(b, PL_ESYNTAX, parse(b, deep, &v));
    assert_finding(b, "stairs.json:1:65: ");
    assert_finding(b, "found brackets nested deeper than 64, expected at most 64 levels");
    assert_ok(b, pl_json_parse(b->a, "x", deep + 1, 128, &v, &b->d));
    memset(deep, '[', 130); /* hostile: never closed */
    assert_code(b, PL_ESYNTAX, parse(b, deep, &v));
}

/* Six faults, one run. */
static void test_all_faults(void **state)
{
    bench *b = *state;
    const pl_json *v;

    assert_code(
        b, PL_ESYNTAX,
        parse(b, "{\"a\": 01,\n \"b\": 1e400,\n \"a\": [1 2,],\n \"c\": \"\\q\",\n \"d\": yes\n",
              &v));
    assert_int_equal(b->d.count, 8);
    assert_finding(b, "stairs.json:1:7: /a: found '01'");
    assert_finding(b, "stairs.json:2:7: /b: found '1e400'");
    assert_finding(b, "stairs.json:3:2: /a: found \"a\" a second time");
    assert_finding(b, "stairs.json:3:10: /a/0: found '2'");
    assert_finding(b, "stairs.json:3:11: /a: found a comma before ']'");
    assert_finding(b, "stairs.json:4:8: /c: found '\\q'");
    assert_finding(b, "stairs.json:5:7: /d: found 'yes'");
    assert_finding(b, "found the end of the text, expected a comma or '}'");
}

/* What the scan lets through, cJSON reads: else a fault would pass as missing
 * memory. Every cut and every changed byte of a text with all of the grammar. */
static void test_scan_agrees(void **state)
{
    bench *b = *state;
    const char *text = "{\"a\":[0,-0.5e-3,1E+2,\"\\\"\\u00e9\\ud83d\\ude00\"],\"b\":{},\"c\":[],"
                       "\"d\":true,\"e\":null , \"f\":false}";
    const char changes[] = "{}[]\",:\\0-+.eE1 tu\n\x01\x80";
    size_t n = strlen(text), accepted = 0;

    for (size_t i = 0; i < n; i++)
        for (size_t c = 0; c < sizeof changes; c++) {
            pl_mark mark = pl_arena_mark(b->a);
            char *copy = pl_arena_str(b->a, text);
            const pl_json *v;
            pl_diags d;
            pl_code code;

            pl_diags_init(&d, b->a);
            copy[i] = changes[c];
            code = pl_json_parse(b->a, "x", copy, n, &v, &d);
            assert_int_not_equal(code, PL_ENOMEM);
            assert_int_equal(code == PL_OK, d.count == 0);
            accepted += code == PL_OK;
            code = pl_json_parse(b->a, "x", text, i, &v, &d);
            assert_int_equal(code, PL_ESYNTAX);
            pl_arena_reset(b->a, mark);
        }
    assert_true(accepted > 100);
}

static void test_read(void **state)
{
    bench *b = *state;
    const pl_json *v;

    assert_code(b, PL_ENOFILE, pl_json_read(b->a, "no/such.json", &v, &b->d));
    assert_finding(b, "no/such.json: found no such file, expected a file that can be read");
}

static void test_write(void **state)
{
    bench *b = *state;
    pl_jval *o = pl_jobject(b->a), *list, *inner;
    const pl_json *v;
    char *text;

    pl_jadd_number(o, "tenth", 0.1);
    pl_jadd_number(o, "third", 1.0 / 3);
    pl_jadd_number(o, "large", 1e300);
    pl_jadd_number(o, "none", NAN);
    pl_jadd_number(o, "open", INFINITY);
    pl_jadd_whole(o, "seed", 9007199254740993LL);
    pl_jadd_text(o, "text", "tab\t\"quoted\" \xff \x01");
    pl_jadd_text(o, "absent", NULL);
    pl_jadd_bool(o, "yes", true);
    list = pl_jadd_array(o, "list");
    pl_jadd_number(list, NULL, 2);
    inner = pl_jadd_object(list, NULL);
    pl_jadd_null(inner, "nothing");
    pl_jadd_array(o, "empty");
    text = pl_jtext(b->a, o);
    assert_string_equal(text, "{\n"
                              "  \"tenth\": 0.1,\n"
                              "  \"third\": 0.3333333333333333,\n"
                              "  \"large\": 1e+300,\n"
                              "  \"none\": null,\n"
                              "  \"open\": null,\n"
                              "  \"seed\": 9007199254740993,\n"
                              "  \"text\": \"tab\\t\\\"quoted\\\" \xef\xbf\xbd \\u0001\",\n"
                              "  \"absent\": null,\n"
                              "  \"yes\": true,\n"
                              "  \"list\": [2, {\n"
                              "      \"nothing\": null\n"
                              "    }],\n"
                              "  \"empty\": []\n"
                              "}\n");
    assert_ok(b, parse(b, text, &v));
    assert_true(pl_json_get(v, "third")->number == 1.0 / 3);
}

/* What was closed by a later member may be gone on with, at any depth, before and after the text
 * was asked for. */
static void test_write_late(void **state)
{
    bench *b = *state;
    pl_jval *o = pl_jobject(b->a), *one = pl_jadd_object(o, "one"), *two = pl_jadd_array(o, "two");
    pl_jval *list = pl_jadd_array(one, "list"), *inner;

    pl_jadd_whole(list, NULL, 1);
    pl_jadd_whole(two, NULL, -2);
    inner = pl_jadd_object(list, NULL); /* two is open, one and its list are not */
    pl_jadd_bool(one, "last", true);
    pl_jadd_text(inner, "late", "\xc3\xa4");
    pl_jadd_null(two, NULL);
    assert_string_equal(pl_jtext(b->a, o), "{\n"
                                           "  \"one\": {\n"
                                           "    \"list\": [1, {\n"
                                           "        \"late\": \"\xc3\xa4\"\n"
                                           "      }],\n"
                                           "    \"last\": true\n"
                                           "  },\n"
                                           "  \"two\": [-2, null]\n"
                                           "}\n");
    pl_jadd_number(two, NULL, -0.0);
    pl_jadd_object(o, "more");
    assert_string_equal(pl_jtext(b->a, o), "{\n"
                                           "  \"one\": {\n"
                                           "    \"list\": [1, {\n"
                                           "        \"late\": \"\xc3\xa4\"\n"
                                           "      }],\n"
                                           "    \"last\": true\n"
                                           "  },\n"
                                           "  \"two\": [-2, null, -0],\n"
                                           "  \"more\": {\n"
                                           "  }\n"
                                           "}\n");
    assert_true(pl_jhas(o, "two"));
    assert_false(pl_jhas(o, "list"));
}

/* Members given back serve the next; the text is the same, and the dense one has no blanks. */
static void test_write_long(void **state)
{
    bench *b = *state;
    char *whole[2];

    for (int given = 0; given < 2; given++) {
        pl_arena *a = pl_arena_new(0);
        pl_jval *o = pl_jobject_dense(a), *list = pl_jadd_array(o, "list");

        for (int i = 0; i < 20000; i++) {
            pl_jval *one = pl_jadd_object(list, NULL), *in = pl_jadd_array(one, "in");

            pl_jadd_whole(in, NULL, i);
            pl_jadd_text(one, "a b", "c d");
            if (given)
                pl_jdone(one);
        }
        whole[given] = pl_jtext(b->a, o);
        pl_arena_free(a);
    }
    assert_string_equal(whole[0], whole[1]);
    assert_memory_equal(whole[0], "{\"list\":[{\"in\":[0],\"a b\":\"c d\"},{", 33);
}

/* 17 digits bring every double back (IEEE 754-2008, 5.12.2): the hard ones. */
static void test_numbers_return(void **state)
{
    bench *b = *state;
    const double hard[] = { 5e-324,    2.2250738585072014e-308, 1.7976931348623157e308,
                            0.1 + 0.2, 9007199254740993.0,      -0.0 };
    pl_jval *o = pl_jobject(b->a), *list = pl_jadd_array(o, "hard");
    const pl_json *v;

    for (size_t i = 0; i < sizeof hard / sizeof *hard; i++)
        pl_jadd_number(list, NULL, hard[i]);
    assert_ok(b, parse(b, pl_jtext(b->a, o), &v));
    v = pl_json_get(v, "hard");
    for (size_t i = 0; i < sizeof hard / sizeof *hard; i++)
        assert_memory_equal(&pl_json_at(v, i)->number, &hard[i], sizeof hard[i]);
}

static void test_write_findings(void **state)
{
    bench *b = *state;
    pl_jval *o = pl_jobject(b->a);

    pl_fail(&b->d, PL_EUNIT, "x.json:2", .pointer = "/a", .found = "\"bar\"",
            .expected = "a length", .mend = "mm");
    pl_remark(&b->d, "", .found = "so");
    pl_jadd_findings(o, &b->d);
    assert_string_equal(pl_jtext(b->a, o), "{\n"
                                           "  \"findings\": [{\n"
                                           "      \"severity\": \"refused\",\n"
                                           "      \"code\": \"EUNIT\",\n"
                                           "      \"where\": \"x.json:2\",\n"
                                           "      \"pointer\": \"/a\",\n"
                                           "      \"found\": \"\\\"bar\\\"\",\n"
                                           "      \"expected\": \"a length\",\n"
                                           "      \"mend\": \"mm\"\n"
                                           "    }, {\n"
                                           "      \"severity\": \"note\",\n"
                                           "      \"where\": \"\",\n"
                                           "      \"found\": \"so\",\n"
                                           "      \"expected\": \"\",\n"
                                           "      \"mend\": \"\"\n"
                                           "    }]\n"
                                           "}\n");
}

/* Whether the failure asked for n allocations ago is still to come. */
static bool still_armed(pl_arena *a, unsigned long n)
{
    while (n--)
        if (!pl_arena_get(a, 0, 0))
            return true;
    return false;
}

/* The n-th allocation fails, for every n: PL_ENOMEM and nothing worse. */
static void test_no_memory(void **state)
{
    const char *good = "{\"a\": [1, \"x\", {\"k\\u0041\": null}], \"b\": -2.5}";
    const char *bad = "{\"a\": 01, \"a\": [1e999 \"\xff\\q\"], \"\\u0062\": yes, b: 1}";
    const char *texts[] = { good, bad };

    (void)state;
    for (size_t t = 0; t < 2; t++) {
        bool armed = false;

        for (unsigned long n = 1; !armed; n++) {
            const pl_json *v = NULL;
            pl_code code;
            bench b;

            b.a = pl_arena_new(0);
            pl_diags_init(&b.d, b.a);
            pl_arena_fail_at(n);
            code = parse(&b, texts[t], &v);
            armed = still_armed(b.a, n);
            pl_arena_fail_at(0);
            assert_int_equal(code, !armed ? PL_ENOMEM : t ? PL_ESYNTAX : PL_OK);
            assert_true(code == PL_OK || !v);
            assert_true(!armed || n > 10);
            pl_arena_free(b.a);
        }
    }
}

static void test_write_no_memory(void **state)
{
    unsigned long n = 0;
    char *text;

    (void)state;
    do {
        pl_arena *a = pl_arena_new(0);
        pl_jval *o, *list;

        pl_arena_fail_at(++n);
        o = pl_jobject(a);
        list = pl_jadd_array(o, "a");
        pl_jadd_text(list, NULL, pl_arena_str(a, "b")); /* never null for want of memory */
        pl_jadd_number(pl_jadd_object(list, NULL), "c", 1);
        text = pl_jtext(a, o);
        pl_arena_fail_at(0);
        if (text)
            assert_string_equal(text, "{\n  \"a\": [\"b\", {\n      \"c\": 1\n    }]\n}\n");
        pl_arena_free(a);
    } while (!text && n < 100);
    assert_true(n > 5 && n < 100);
}

static void test_budget(void **state)
{
    pl_arena *a = pl_arena_new((size_t)1 << 20);
    size_t n = (size_t)2 << 20;
    char *text = malloc(n);
    const pl_json *v;
    pl_diags d;

    (void)state;
    pl_diags_init(&d, a);
    memset(text, '[', n);
    for (size_t i = 0; i < n; i++)
        text[i] = i % 2 ? ',' : '1';
    text[0] = '[';
    assert_int_equal(pl_json_parse(a, "x", text, n, &v, &d), PL_ENOMEM);
    assert_int_equal(pl_json_parse(a, "x", text, 300000, &v, &d), PL_ENOMEM);
    free(text);
    pl_arena_free(a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_tree),          TEST(test_shown),           TEST(test_refusals),
        TEST(test_nul_and_depth), TEST(test_all_faults),      TEST(test_scan_agrees),
        TEST(test_read),          TEST(test_write),           TEST(test_write_late),
        TEST(test_write_long),    TEST(test_numbers_return),  TEST(test_write_findings),
        TEST(test_no_memory),     TEST(test_write_no_memory), TEST(test_budget),
    };

    return cmocka_run_group_tests_name("json", tests, NULL, NULL);
}
