/* Files that mean harm, or came to harm: long, deep, endless, or read while
 * memory runs out. */
#include "study_text.h"

/* n copies of one text between two others. */
static char *many(bench *b, const char *before, const char *one, size_t n, const char *after)
{
    pl_text t;

    pl_text_init(&t, b->a);
    pl_text_put(&t, before);
    for (size_t i = 0; i < n; i++)
        pl_text_put(&t, one);
    pl_text_put(&t, after);
    return pl_text_done(&t);
}

static void test_long_text(void **state)
{
    bench *b = *state;
    char *title = many(b, "\"title\": \"", "0123456789", 1000000, "\"");
    const pl_study *s;

    assert_code(b, PL_EVALUE, parse(b, with(b, whole, "\"title\": \"a trial\"", title), &s));
    assert_finding(b, "/title");
    assert_int_equal(b->d.count, 1);
    /* What is long is not repeated. */
    assert_true(strlen(b->d.items[0].found) < 200);
    /* A note may be long. */
    title[1] = 'n', title[2] = 'o', title[3] = 't', title[4] = 'e';
    title = many(b, "\"title\": \"a trial\", \"question\": {\"note\": \"", "0123456789", 1000000,
                 "\",");
    assert_ok(b, parse(b, with(b, whole, "\"title\": \"a trial\",\n  \"question\": {", title), &s));
}

static void test_deep(void **state)
{
    bench *b = *state;
    const pl_study *s;

    assert_int_not_equal(PL_OK, parse(b, many(b, "", "[", 100000, ""), &s));
    assert_int_not_equal(PL_OK, parse(b, many(b, "", "{\"question\":", 100000, ""), &s));
}

static void test_many_levels(void **state)
{
    bench *b = *state;
    char *levels = many(b, "\"levels\": [", "\"0.3 N/mm2\",", 100000, "\"0.4 N/mm2\"]");
    const pl_study *s;
    char *text = with(b, least,
                      "\"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", \"0.9 N/mm2\", \"1.6 N/mm2\"]",
                      levels);

    assert_refused(b, text, PL_EVALUE,
                   "/factors/0/levels: found 100001 in the list, expected a list of 2 to 200 "
                   "levels");
    text = with(b, least, "{\"study\": \"least\"",
                many(b, "{\"study\": \"least\", \"boards\": [", "{},", 100000, "{}]"));
    assert_refused(b, text, PL_EVALUE, "/boards: found 100001 in the list");
    text = with(b, least, "{\"study\": \"least\"",
                many(b, "{\"study\": \"least\", \"rigs\": [", "7,", 100000, "7]"));
    assert_refused(b, text, PL_EVALUE, "/rigs: found 100001 in the list");
    /* Faults beyond what helps anybody are counted, not kept. */
    text = many(b, "{\"study\": \"least\"", ", \"a\": 1", 0, "");
    assert_int_not_equal(PL_OK, parse(b, text, &s));
}

static void test_many_treatments(void **state)
{
    bench *b = *state;
    pl_text t;

    pl_text_init(&t, b->a);
    for (int i = 0; i < 11; i++)
        pl_text_add(&t,
                    "{\"name\": \"f%d\", \"from\": \"1\", \"to\": \"200\", \"count\": 200, "
                    "\"spacing\": \"equal steps\"}, ",
                    i);
    pl_text_put(&t, "{\"name\": \"pressure\",");
    assert_refused(b, with(b, least, "{\"name\": \"pressure\",", pl_text_done(&t)), PL_EVALUE,
                   "/factors: found more than 10000 treatments");
}

/* A board as long as the Earth's orbit, a piece as thin as nothing. */
static void test_absurd_sizes(void **state)
{
    bench *b = *state;
    const pl_study *s;
    char *text = with(b, whole, "\"700 mm\"", "\"3e8 m\"");

    text = with(b, text, "\"length\": \"90 mm\", \"width\": \"36 mm\"",
                "\"length\": \"25 mm\", \"width\": \"36 mm\"");
    assert_ok(b, parse(b, text, &s));
    assert_true(s->boards[0].specimens > 1000);
    text = with(b, whole, "\"700 mm\"", "\"1e300 m\"");
    (void)parse(b, text, &s); /* whatever is said, nothing overflows */
    text = with(b, whole, "\"90 mm\"", "\"1e-300 m\"");
    (void)parse(b, text, &s);
}

/* Every key as a stranger: any kind of value in the place of any other. */
static void test_wrong_kinds(void **state)
{
    static const char *const strangers[] = { "null", "true", "-1",  "1e300",  "\"\"",
                                             "[]",   "{}",   "[1]", "[null]", "{\"a\": 1}" };
    bench *b = *state;
    const pl_study *s;

    for (const char *at = strchr(whole, ':'); at; at = strchr(at + 1, ':')) {
        /* The value ends at the next comma or bracket: crude, but every text it
         * makes is either JSON or refused as none. */
        size_t n = strcspn(at, ",}]");

        if (n < 2)
            continue;
        for (size_t i = 0; i < sizeof strangers / sizeof *strangers; i++) {
            pl_diags_init(&b->d, b->a);
            (void)pl_study_parse(
                b->a, "t.json",
                pl_arena_printf(b->a, "%.*s: %s%s", (int)(at - whole), whole, strangers[i], at + n),
                (size_t)(at - whole) + 2 + strlen(strangers[i]) + strlen(at + n), &s, &b->d);
        }
    }
}

/* Cut anywhere, the file is refused, never believed. */
static void test_cut_short(void **state)
{
    bench *b = *state;
    size_t n = strlen(whole);
    const pl_study *s;

    while (n && whole[n - 1] != '}')
        n--;
    for (size_t i = 0; i < n; i += 7) {
        pl_arena *a = pl_arena_new(0);
        pl_diags d;

        pl_diags_init(&d, a);
        assert_int_not_equal(PL_OK, pl_study_parse(a, "t.json", whole, i, &s, &d));
        assert_true(d.count > 0);
        pl_arena_free(a);
    }
    (void)b;
}

/* Reads text with the n-th allocation failing, for every n, until none fails any
 * more; a failure that is passed over in silence shows as ENOMEM after OK. */
static void starve(const char *text, pl_code code)
{
    unsigned long n, fine = 0;
    pl_code rc;

    for (n = 1; fine < 40; n++) {
        pl_arena *a = pl_arena_new(0);
        const pl_study *s = NULL;
        pl_diags d;

        pl_diags_init(&d, a);
        pl_arena_fail_at(n);
        rc = pl_study_parse(a, "t.json", text, strlen(text), &s, &d);
        if (!rc && !pl_study_words(a, s))
            rc = PL_ENOMEM;
        if (!rc)
            rc = pl_study_advise(a, s, NULL, &d);
        pl_arena_fail_at(0);
        if (rc != PL_ENOMEM ? rc != code : fine > 0)
            fail_msg("allocation %lu failed: %s after %lu that passed", n, pl_code_name(rc), fine);
        fine += rc != PL_ENOMEM;
        pl_arena_free(a);
    }
    assert_true(n > 140);
}

static void test_out_of_memory(void **state)
{
    bench *b = *state;

    starve(whole, PL_OK);
    starve(with(b, least,
                "\"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", \"0.9 N/mm2\", \"1.6 N/mm2\"]",
                "\"from\": \"1 bar\", \"to\": \"9 bar\", \"count\": 5, "
                "\"spacing\": \"constant ratio\""),
           PL_OK);
    starve(with(b, whole, "\"36 mm\"", "36"), PL_EUNIT);
    starve(with(b, whole, "\"title\"", "\"titel\""), PL_EKEY);
    starve(with(b, whole, "\"9 cm2\"", "\"10 cm2\""), PL_ECONFLICT);
    starve(with(b, whole, "\"species\": \"larch\"", "\"species\": \"lrach\""), PL_ECONFLICT);
}

/* A file that would fill the arena ends in ENOMEM. */
static void test_budget(void **state)
{
    bench *b = *state;
    pl_arena *a = pl_arena_new((size_t)256 * 1024);
    char *text = many(b, "{\"factors\": [", "{\"name\": \"a\"},", 20000, "{}]}");
    const pl_study *s;
    pl_diags d;

    pl_diags_init(&d, a);
    assert_int_equal(pl_study_parse(a, "t.json", text, strlen(text), &s, &d), PL_ENOMEM);
    assert_true(d.out_of_memory);
    pl_arena_free(a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_long_text),       TEST(test_deep),          TEST(test_many_levels),
        TEST(test_many_treatments), TEST(test_absurd_sizes),  TEST(test_wrong_kinds),
        TEST(test_cut_short),       TEST(test_out_of_memory), TEST(test_budget),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
