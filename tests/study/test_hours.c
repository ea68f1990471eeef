/* Working hours, days off, the time zone, and what breaking needs. */
#include "study_text.h"

static const char cure[] = "\"cure\": {\"at_least\": \"3 d\"}";

static const char *hours(bench *b, const char *more)
{
    return with(b, whole, cure, pl_arena_printf(b->a, "%s, %s", cure, more));
}

static void test_read(void **state)
{
    bench *b = *state;
    const pl_study *s = parsed(
        b, hours(b, "\"zone\": \"Europe/Vienna\", \"work\": {\"mon-thu\": \"07:30-16:00\", "
                    "\"sat\": \"09:00-12:00\", \"note\": \"x\", \"off\": [\"2027-05-01\"]}"));
    const pl_work_hours *w = &s->times.work;

    assert_true(w->given);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(w->from_min[i], 450);
        assert_int_equal(w->to_min[i], 960);
    }
    assert_int_equal(w->to_min[4], 0);
    assert_int_equal(w->from_min[5], 540);
    assert_int_equal(w->to_min[6], 0);
    assert_int_equal(w->noff, 1);
    assert_string_equal(w->off[0], "2027-05-01");
    assert_string_equal(s->times.zone, "Europe/Vienna");
}

static void test_absent(void **state)
{
    bench *b = *state;
    const pl_study *s = parsed(b, whole);

    assert_false(s->times.work.given);
    assert_int_equal(s->times.work.from_min[4], 480);
    assert_int_equal(s->times.work.to_min[4], 1020);
    assert_int_equal(s->times.work.to_min[5], 0);
    assert_null(s->times.zone);
    assert_int_equal(s->breaking.press, -1);
    assert_true(isnan(s->times.cure_at_most_s));
}

static void test_refused(void **state)
{
    static const struct {
        const char *more, *says;
        pl_code code;
    } cases[] = {
        { "\"work\": {\"monday\": \"08:00-17:00\"}",
          "/times/work"
          "/monday: found \"monday\"",
          PL_EKEY },
        { "\"work\": {\"fri-mon\": \"08:00-17:00\"}", "a week begins on Monday", PL_EKEY },
        { "\"work\": {\"mon\": \"17:00-08:00\"}",
          "/times/work"
          "/mon: found \"17:00-08:00\"",
          PL_EVALUE },
        { "\"work\": {\"mon\": \"8-17\"}", "expected hours", PL_EVALUE },
        { "\"work\": {\"mon\": \"08:00-25:00\"}", "expected hours", PL_EVALUE },
        { "\"work\": {\"mon\": 8}", "expected hours", PL_EVALUE },
        { "\"work\": {\"off\": \"2027-05-01\"}", "a list of at most 400 days", PL_EVALUE },
        { "\"work\": {\"off\": [\"2027-02-30\"]}",
          "/times/work"
          "/off/0: found \"2027-02-30\"",
          PL_EVALUE },
        { "\"work\": {\"off\": [\"1.5.2027\"]}", "expected a day", PL_EVALUE },
        { "\"work\": []", "/times/work", PL_EVALUE },
        { "\"zone\": \"Europe/Nowhere\"", "/times/zone: found \"Europe/Nowhere\"", PL_EVALUE },
        { "\"zone\": \"../../../etc/passwd\"", "a time zone's name", PL_EVALUE },
        { "\"zone\": \":/etc/localtime\"", "a time zone's name", PL_EVALUE },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_refused(b, hours(b, cases[i].more), cases[i].code, cases[i].says);
    assert_refused(b,
                   with(b, whole, cure, "\"cure\": {\"at_least\": \"3 d\", \"at_most\": \"2 d\"}"),
                   PL_ECONFLICT, "/times/cure/at_most: found \"2 d\", expected at least as long");
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_read), TEST(test_absent), TEST(test_refused) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
