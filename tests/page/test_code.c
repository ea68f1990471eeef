/* Codes to scan: what can be told of one without a reader. tests/cli/test_browser.sh
 * reads one back where a reader is installed. */
#include "support.h"

#include <stdio.h>
#include <string.h>

#include "page/code.h"

/* The dark modules of a code's path as a grid. */
static size_t modules(const char *svg, bool dark[200][200])
{
    const char *at = strstr(svg, "shape-rendering");
    int x, y, run, back;
    size_t n = 0;

    assert_non_null(at);
    while ((at = strchr(at + 1, 'M')) && sscanf(at, "M%d %dh%dv1h-%dz", &x, &y, &run, &back) == 4) {
        assert_int_equal(run, back);
        for (int i = 0; i < run; i++, n++)
            dark[y][x + i] = true;
    }
    return n;
}

/* ISO/IEC 18004, 6.3: a 21 x 21 code has three finder patterns, dark squares of 7
 * with a light ring and a dark core of 3, and a timing row and column between. */
static void test_finders(void **state)
{
    static const int corners[3][2] = { { 0, 0 }, { 14, 0 }, { 0, 14 } };
    static bool dark[200][200];
    bench *b = *state;
    pl_text t;

    pl_text_init(&t, b->a);
    pl_html_code(&t, "K7M3-a");
    assert_non_null(strstr(pl_text_done(&t), "viewBox=\"-4 -4 29 29\""));
    assert_true(modules(pl_text_done(&t), dark) > 150);
    for (size_t c = 0; c < 3; c++)
        for (int y = 0; y < 7; y++)
            for (int x = 0; x < 7; x++) {
                int ring = x < y ? x : y, far = 6 - (x > y ? x : y);

                ring = ring < far ? ring : far;
                assert_int_equal(dark[corners[c][1] + y][corners[c][0] + x], ring != 1);
            }
    for (int i = 8; i < 13; i++) {
        assert_int_equal(dark[6][i], i % 2 == 0);
        assert_int_equal(dark[i][6], i % 2 == 0);
    }
}

/* Another text is another code; a text that no code holds, and none, fail. */
static void test_texts(void **state)
{
    bench *b = *state;
    pl_text one, other, bad;
    char *big = pl_arena_get(b->a, 4001, 1);

    pl_text_init(&one, b->a);
    pl_text_init(&other, b->a);
    pl_html_code(&one, "K7M3-a");
    pl_html_code(&other, "K7M3-b\"><script>");
    assert_string_not_equal(pl_text_done(&one), pl_text_done(&other));
    assert_null(strstr(pl_text_done(&other), "<script>"));
    memset(big, 'x', 4000);
    pl_text_init(&bad, b->a);
    pl_html_code(&bad, big);
    assert_null(pl_text_done(&bad));
    pl_text_init(&bad, b->a);
    pl_html_code(&bad, NULL);
    assert_null(pl_text_done(&bad));
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_finders), TEST(test_texts) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
