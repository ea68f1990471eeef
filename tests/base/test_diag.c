/* Findings: codes, how one reads, the full list, and no memory. */
#include "support.h"

static void test_codes(void **state)
{
    (void)state;
    assert_string_equal(pl_code_name(PL_EUNIT), "EUNIT");
    assert_string_equal(pl_code_text(PL_OK), "done");
    for (int c = 0; c < PL_NCODES; c++) {
        assert_non_null(pl_code_text((pl_code)c));
        assert_in_range(pl_code_exit((pl_code)c), 0, 5);
        assert_int_equal(pl_code_exit((pl_code)c) == 0, c == PL_OK);
    }
    assert_int_equal(pl_code_exit(PL_EDATA), 1);
    assert_int_equal(pl_code_exit(PL_EUSAGE), 2);
    assert_int_equal(pl_code_exit(PL_EUNIT), 3);
    assert_int_equal(pl_code_exit(PL_EPLUGIN), 4);
    assert_int_equal(pl_code_exit(PL_EWRITE), 5);
}

static void test_reads(void **state)
{
    bench *b = *state;
    char found[] = "\"2.5 in2\"";

    assert_int_equal(pl_fail(&b->d, PL_ECONFLICT, "stairs.json:41", .pointer = "/joint/stated_area",
                             .found = found, .expected = "2.25 in2",
                             .mend = "leave stated_area out, or correct it"),
                     PL_ECONFLICT);
    found[1] = '9'; /* texts are copied */
    assert_string_equal(pl_diag_text(b->a, &b->d.items[0]),
                        "stairs.json:41: /joint/stated_area: found \"2.5 in2\", expected 2.25 in2\n"
                        "  mend: leave stated_area out, or correct it");
    pl_advise(&b->d, "book", .found = "one board of beech");
    assert_string_equal(pl_diag_text(b->a, &b->d.items[1]), "book: advice: one board of beech");
    pl_remark(&b->d, NULL, .found = "a\nb\x1b[31m\x7f");
    assert_string_equal(pl_diag_text(b->a, &b->d.items[2]), "note: a?b?[31m?");
    assert_int_equal(pl_diags_count(&b->d, PL_REFUSED), 1);
    assert_int_equal(pl_diags_count(&b->d, PL_ADVICE), 1);
    assert_int_equal(pl_diags_count(&b->d, PL_NOTE), 1);
    assert_string_equal(pl_severity_name(PL_ADVICE), "advice");
}

static void test_code(void **state)
{
    bench *b = *state;

    assert_int_equal(pl_diags_code(&b->d, 0), PL_OK);
    pl_advise(&b->d, "", .found = "x");
    assert_int_equal(pl_diags_code(&b->d, 0), PL_OK);
    pl_fail(&b->d, PL_EUNIT, "", .found = "x");
    pl_fail(&b->d, PL_EKEY, "", .found = "x");
    assert_int_equal(pl_diags_code(&b->d, 0), PL_EUNIT);
    assert_int_equal(pl_diags_code(&b->d, 2), PL_EKEY);
    assert_int_equal(pl_diags_code(&b->d, 3), PL_OK);
    assert_int_equal(pl_nomem(&b->d), PL_ENOMEM);
    assert_int_equal(pl_diags_code(&b->d, 3), PL_ENOMEM);
}

/* A list full of advice still shows a refusal; a list full of refusals still
 * tells by its code that there was one more. */
static void test_full(void **state)
{
    bench *b = *state;
    size_t from;

    for (int i = 0; i < PL_DIAGS_MOST + 50; i++)
        pl_advise(&b->d, "", .found = "x");
    assert_int_equal(b->d.count, PL_DIAGS_MOST);
    assert_int_equal(b->d.dropped, 50);
    assert_int_equal(pl_diags_code(&b->d, 0), PL_OK);
    from = b->d.count;
    assert_int_equal(pl_fail(&b->d, PL_EUNIT, "", .found = "y"), PL_EUNIT);
    assert_int_equal(b->d.count, PL_DIAGS_MOST);
    assert_string_equal(b->d.items[PL_DIAGS_MOST - 1].found, "y");
    assert_int_equal(pl_diags_code(&b->d, from), PL_EUNIT);
    assert_int_equal(pl_fail(&b->d, PL_EKEY, "", .found = "z"), PL_EKEY);
    assert_string_equal(b->d.items[PL_DIAGS_MOST - 1].found, "y");
}

static void test_no_memory(void **state)
{
    (void)state;
    for (unsigned long n = 1; n <= 6; n++) {
        bench b;

        b.a = pl_arena_new(0);
        pl_diags_init(&b.d, b.a);
        pl_arena_fail_at(n);
        assert_int_equal(pl_fail(&b.d, PL_EUNIT, "w", .found = "f"), PL_ENOMEM);
        pl_arena_fail_at(0);
        assert_int_equal(b.d.count, 0);
        assert_int_equal(pl_diags_code(&b.d, 0), PL_ENOMEM);
        assert_int_equal(pl_fail(&b.d, PL_ENOMEM, ""), PL_ENOMEM);
        pl_arena_free(b.a);
    }
}

static void test_sort(void **state)
{
    static const char *const came[] = { "b.csv:20:3", "study",     "b.csv:3:7", "a.json:9",
                                        "b.csv:20:1", "a.json:10", "x:y:1",     "a.json:2",
                                        "b.csv:20:1", ":7",        "study" };
    static const char *const sorted[] = { "b.csv:3:7", "b.csv:20:1", "b.csv:20:1", "b.csv:20:3",
                                          "study",     "study",      "a.json:2",   "a.json:9",
                                          "a.json:10", "x:y:1",      ":7" };
    bench *b = *state;

    for (size_t i = 0; i < 11; i++)
        pl_advise(&b->d, came[i], .found = pl_arena_printf(b->a, "%zu", i));
    pl_diags_sort(&b->d);
    for (size_t i = 0; i < 11; i++)
        assert_string_equal(b->d.items[i].where, sorted[i]);
    assert_string_equal(b->d.items[1].found, "4"); /* of one place: as they came */
    assert_string_equal(b->d.items[2].found, "8");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_codes), TEST(test_reads), TEST(test_code),
        TEST(test_full),  TEST(test_sort),  TEST(test_no_memory),
    };

    return cmocka_run_group_tests_name("diag", tests, NULL, NULL);
}
