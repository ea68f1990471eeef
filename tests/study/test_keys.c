/* The key table: the page in docs is made of it, and it holds no slip. */
#include "study_text.h"

#include "base/file.h"
#include "study/keys.h"

#define PAGE "docs/study-file.md"
#define HEADING "## All keys\n\n"

/* PLATEN_REWRITE=1 writes the reference anew, for review. */
static void test_page_in_docs(void **state)
{
    bench *b = *state;
    const char *path = top_path(b->a, PAGE);
    char *page = pl_study_keys_page(b->a), *text, *at;
    size_t length;

    assert_non_null(page);
    assert_ok(b, pl_file_read(b->a, path, &text, &length, &b->d));
    at = strstr(text, HEADING);
    assert_non_null(at);
    at += strlen(HEADING);
    if (getenv("PLATEN_REWRITE")) {
        text = pl_arena_printf(b->a, "%.*s%s", (int)(at - text), text, page);
        assert_ok(b, pl_file_write(path, text, strlen(text), true, &b->d));
        return;
    }
    assert_string_equal(at, page);
}

/* The smallest study on the page passes. */
static void test_study_on_the_page(void **state)
{
    bench *b = *state;
    char *text, *at, *end;
    const pl_study *s;
    size_t length;

    assert_ok(b, pl_file_read(b->a, top_path(b->a, PAGE), &text, &length, &b->d));
    at = strstr(text, "```json\n");
    assert_non_null(at);
    at += strlen("```json\n");
    end = strstr(at, "```");
    assert_non_null(end);
    s = parsed(b, pl_arena_strn(b->a, at, (size_t)(end - at)));
    assert_string_equal(s->name, "first-try");
}

static void check_key(const pl_object *o, const pl_key *k)
{
    bool list = k->is == PL_IS_TEXTS || k->is == PL_IS_UNITS || k->is == PL_IS_OBJECTS ||
                k->is == PL_IS_LEVELS || k->is == PL_IS_RIGS || k->is == PL_IS_APART;

    if (!k->help || !k->help[0] || strchr(k->help, '|'))
        fail_msg("%s.%s: no help, or one that breaks the table", o->title, k->name);
    if (list && (k->high < k->low || k->high < 1))
        fail_msg("%s.%s: no range", o->title, k->name);
    if (k->is == PL_IS_WHOLE && k->high < k->low)
        fail_msg("%s.%s: no range", o->title, k->name);
    if (k->is == PL_IS_TEXT && k->high < 1)
        fail_msg("%s.%s: no length", o->title, k->name);
    if ((k->is == PL_IS_CHOICE || k->is == PL_IS_WORD_OR_OBJECT) && !k->choices)
        fail_msg("%s.%s: no choices", o->title, k->name);
    if ((k->is == PL_IS_OBJECT || k->is == PL_IS_OBJECTS) && !k->of)
        fail_msg("%s.%s: no keys", o->title, k->name);
    if (k->is == PL_IS_DIM && k->quantity == PL_Q_NONE)
        fail_msg("%s.%s: no quantity", o->title, k->name);
    if (k->said && !k->preset)
        fail_msg("%s.%s: says a default that it has not", o->title, k->name);
    /* At the place of a size beyond the struct something else is overwritten. */
    if (k->at >= o->size && k->is != PL_IS_OBJECT)
        fail_msg("%s.%s: outside its struct", o->title, k->name);
}

static void test_table(void **state)
{
    size_t objects = 0, keys = 0;

    (void)state;
    for (; pl_keys_all[objects]; objects++)
        for (size_t i = 0; i < pl_keys_all[objects]->nkey; i++) {
            check_key(pl_keys_all[objects], &pl_keys_all[objects]->keys[i]);
            assert_ptr_equal(pl_keys_find(pl_keys_all[objects], pl_keys_all[objects]->keys[i].name),
                             &pl_keys_all[objects]->keys[i]);
            keys++;
        }
    assert_int_equal(objects, 30);
    assert_true(keys > 80);
}

/* Every object that a key names is among those that are walked. */
static void test_walk_is_whole(void **state)
{
    (void)state;
    for (size_t i = 0; pl_keys_all[i]; i++)
        for (size_t j = 0; j < pl_keys_all[i]->nkey; j++) {
            const pl_object *of = pl_keys_all[i]->keys[j].of;
            bool found = !of;

            for (size_t n = 0; pl_keys_all[n]; n++)
                found = found || pl_keys_all[n] == of;
            if (!found)
                fail_msg("%s is not among pl_keys_all", of->title);
        }
}

/* Choices lie in the order of their enums. */
static bool of_other_levels(pl_arrangement k)
{
    return k == PL_ARRANGE_FRACTION || k == PL_ARRANGE_SCREENING || k == PL_ARRANGE_CENTRAL ||
           k == PL_ARRANGE_BOX_BEHNKEN;
}

static void test_choices_are_enums(void **state)
{
    static const struct {
        const char *from, *to;
    } kinds[] = {
        { "double-lap", "\"width\": \"9 mm\", \"overlap\": \"9 mm\"" },
        { "block-shear", "\"width\": \"9 mm\", \"height\": \"9 mm\"" },
        { "butt-tension", "\"width\": \"9 mm\", \"thickness\": \"9 mm\"" },
        { "other", "\"area\": \"9 mm2\"" },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        const pl_study *s = parsed(
            b, with(b, least, "\"lap\", \"width\": \"36 mm\", \"overlap\": \"25 mm\"",
                    pl_arena_printf(b->a, "\"%s\", %s", kinds[i].from, kinds[i].to)));

        assert_string_equal(pl_joint_kind_name(s->joint.kind), kinds[i].from);
    }
    for (pl_arrangement k = 0; k < PL_NARRANGEMENTS; k++)
        if (!of_other_levels(k) && k != PL_ARRANGE_GRAECO_LATIN && k != PL_ARRANGE_OPTIMAL &&
            k != PL_ARRANGE_SPLIT_PLOT) /* what they need: test_arrangement.c */
            assert_int_equal(parsed(b, with(b, whole, "complete-blocks", pl_arrangement_name(k)))
                                 ->arrangement.kind,
                             k);
    assert_int_equal(parsed(b, with(b, whole, "\"plateau\"", "\"difference\""))->question.aim,
                     PL_AIM_DIFFERENCE);
    assert_string_equal(pl_aim_name(PL_AIM_DIFFERENCE), "difference");
    assert_false(parsed(b, with(b, whole, "\"both\"", "\"one\""))->adhesive.spread_on_both);
}

static void test_page_without_memory(void **state)
{
    bench *b = *state;

    (void)b;
    for (unsigned long n = 1; n < 5; n++) {
        pl_arena *a = pl_arena_new(0);

        pl_arena_fail_at(n);
        assert_null(pl_study_keys_page(a));
        pl_arena_fail_at(0);
        pl_arena_free(a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_page_in_docs),  TEST(test_study_on_the_page), TEST(test_table),
        TEST(test_walk_is_whole), TEST(test_choices_are_enums), TEST(test_page_without_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
