/* Folding and brightness. What is expected was worked out by hand. */
#include "support.h"

#include "page/terminal.h"

static void expect(bench *b, const char *text, size_t width, const char *wanted)
{
    assert_string_equal(pl_terminal_text(b->a, text, width, false), wanted);
}

static void test_folds_at_words(void **state)
{
    bench *b = *state;

    expect(b, "glue it and press it", 9, "glue it\nand press\nit");
    expect(b, "glue it and press it", 0, "glue it and press it");
    expect(b, "glue it\n\nand press it\n", 9, "glue it\n\nand press\nit\n");
    /* what fits to the last column stays; a blank at the fold is dropped */
    expect(b, "12345 789", 9, "12345 789");
    expect(b, "12345 7890 x", 10, "12345 7890\nx");
    /* no word fits: it stands alone and whole */
    expect(b, "a stair-builder's-own-word b", 10, "a\nstair-builder's-own-word\nb");
    /* columns, not bytes */
    expect(b, "m\xc3\xa9l\xc3\xa8ze m\xc3\xa9l\xc3\xa8ze", 13,
           "m\xc3\xa9l\xc3\xa8ze m\xc3\xa9l\xc3\xa8ze");
    expect(b, "m\xc3\xa9l\xc3\xa8ze m\xc3\xa9l\xc3\xa8ze", 12,
           "m\xc3\xa9l\xc3\xa8ze\nm\xc3\xa9l\xc3\xa8ze");
}

static void test_hangs(void **state)
{
    bench *b = *state;

    expect(b, "- one two three four", 12, "- one two\n  three four");
    expect(b, "  mend: do it over again", 14, "  mend: do it\n  over again");
    /* columns parted by two blanks or more: below the last of them */
    expect(b, "  0.1 bar   set it and leave it", 24,
           "  0.1 bar   set it and\n            leave it");
    /* columns that begin beyond the middle are a table: left whole */
    expect(b, "beech       oak         larch and more of it", 24,
           "beech       oak         larch and more of it");
}

static void test_bright(void **state)
{
    bench *b = *state;
    pl_text t;
    char *text;

    pl_text_init(&t, b->a);
    pl_bright_sentences(&t, "Set 1.3 N/mm2. Not 0.9.\n\nLarch: 0.7.\n\nMore. Words.\n", 2);
    text = pl_text_done(&t);
    assert_string_equal(pl_terminal_text(b->a, text, 0, true),
                        "\033[1mSet 1.3 N/mm2.\033[0m Not 0.9.\n\n\033[1mLarch: 0.7.\033[0m\n\n"
                        "More. Words.\n");
    assert_string_equal(pl_terminal_text(b->a, text, 0, false),
                        "Set 1.3 N/mm2. Not 0.9.\n\nLarch: 0.7.\n\nMore. Words.\n");
    /* the marks take no column */
    assert_string_equal(pl_terminal_text(b->a, text, 23, false),
                        "Set 1.3 N/mm2. Not 0.9.\n\nLarch: 0.7.\n\nMore. Words.\n");
    /* more sentences asked for than there are */
    pl_text_init(&t, b->a);
    pl_bright_sentences(&t, "One", 5);
    assert_string_equal(pl_terminal_text(b->a, pl_text_done(&t), 80, true), "\033[1mOne\033[0m");
}

/* Whatever the text: no line of words is wider, and no word is lost. */
static void test_loses_nothing(void **state)
{
    bench *b = *state;
    const char *text = "Beech: squeezing harder stopped helping at about 0.9 N/mm2 (131 psi). "
                       "The true point lies between 0.73 and 1.3 N/mm2.";

    for (size_t width = 15; width < 120; width++) {
        char *folded = pl_terminal_text(b->a, text, width, false);
        size_t columns = 0, i;

        for (i = 0; folded[i]; i++) {
            columns = folded[i] == '\n' ? 0 : columns + 1;
            assert_true(columns <= width);
            assert_true(folded[i] == text[i] || (folded[i] == '\n' && text[i] == ' '));
        }
        assert_int_equal(text[i], 0);
    }
}

static void test_no_memory(void **state)
{
    bool done = false;

    (void)state;
    for (unsigned long n = 1; !done; n++) {
        pl_arena *a = pl_arena_new(0);

        assert_true(n < 100);
        pl_arena_fail_at(n);
        done = pl_terminal_text(a, "one two three", 7, true) != NULL;
        pl_arena_fail_at(0);
        pl_arena_free(a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_folds_at_words), TEST(test_hangs),     TEST(test_bright),
        TEST(test_loses_nothing),  TEST(test_no_memory),
    };

    return cmocka_run_group_tests_name("terminal", tests, NULL, NULL);
}
