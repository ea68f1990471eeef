/* Levels added to a study's text: all else stays as it was typed. */
#include "study_text.h"

#include "study/grow.h"

static const pl_study *read_text(bench *b, const char *text)
{
    const pl_study *s = NULL;

    assert_ok(b, pl_study_parse(b->a, "a.json", text, strlen(text), &s, &b->d));
    return s;
}

static void test_listed(void **state)
{
    bench *b = *state;
    const pl_study *s = read_text(b, whole), *grown = NULL;
    const char *const more[] = { "0.75 N/mm2", "2.2 N/mm2" };

    assert_ok(b, pl_study_grow(b->a, s, 0, more, 2, &grown, &b->d));
    assert_string_equal(grown->text,
                        with(b, whole,
                             "{\"name\": \"pressure\", \"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", "
                             "\"0.9 N/mm2\", \"1.6 N/mm2\"],\n     \"set_by\": \"press\"}",
                             "{ \"name\": \"pressure\", \"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", "
                             "\"0.9 N/mm2\", \"1.6 N/mm2\", \"0.75 N/mm2\", \"2.2 N/mm2\"], "
                             "\"set_by\": \"press\" }"));
    assert_int_equal(grown->factors[0].nlevel, 6);
    assert_true(pl_study_grown_from(b->a, grown, s));
    assert_true(pl_study_grown_from(b->a, s, s));
    assert_false(pl_study_grown_from(b->a, s, grown));
    assert_ok(b, pl_study_grow(b->a, s, 0, NULL, 0, &grown, &b->d));
    assert_ptr_equal(grown, s);
}

/* Anything else that changed besides is another study. */
static void test_other_change(void **state)
{
    bench *b = *state;
    const pl_study *s = read_text(b, whole), *grown = NULL, *other;
    const char *const more[] = { "0.75 N/mm2" };

    assert_ok(b, pl_study_grow(b->a, s, 0, more, 1, &grown, &b->d));
    other = read_text(b, with(b, grown->text, "\"5 min\"", "\"6 min\""));
    assert_false(pl_study_grown_from(b->a, other, s));
    other = read_text(b, with(b, grown->text, "\"0.3 N/mm2\", \"0.6", "\"0.2 N/mm2\", \"0.6"));
    assert_false(pl_study_grown_from(b->a, other, s));
}

static void test_spaced(void **state)
{
    bench *b = *state;
    const char *text = with(b, whole,
                            "\"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", \"0.9 N/mm2\", \"1.6 "
                            "N/mm2\"]",
                            "\"from\": \"0.2 N/mm2\", \"to\": \"1.6 N/mm2\", \"count\": 4,"
                            " \"spacing\": \"constant ratio\"");
    const pl_study *s = read_text(b, text), *grown = NULL;
    const char *const more[] = { "3.2 N/mm2" };

    assert_ok(b, pl_study_grow(b->a, s, 0, more, 1, &grown, &b->d));
    assert_int_equal(grown->factors[0].nlevel, 5);
    for (size_t i = 0; i < 4; i++) {
        assert_string_equal(grown->factors[0].levels[i].text, s->factors[0].levels[i].text);
        assert_rel("level", grown->factors[0].levels[i].si, s->factors[0].levels[i].si, 1e-12);
    }
    assert_true(pl_study_grown_from(b->a, grown, s));
}

static void test_refused(void **state)
{
    bench *b = *state;
    const pl_study *s = read_text(b, whole), *grown = NULL;
    const char *const again[] = { "0.6 N/mm2" }, *const other[] = { "3 mm" };

    assert_true(pl_study_grow(b->a, s, 0, again, 1, &grown, &b->d) != PL_OK);
    assert_true(pl_study_grow(b->a, s, 0, other, 1, &grown, &b->d) != PL_OK);
    assert_code(b, PL_EUSAGE, pl_study_grow(b->a, s, 9, again, 1, &grown, &b->d));
    assert_null(grown);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_listed),
        TEST(test_other_change),
        TEST(test_spaced),
        TEST(test_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
