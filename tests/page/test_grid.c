/* Grids as text and as HTML. */
#include "support.h"

#include "page/grid.h"

static pl_grid *sample(pl_arena *a)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "wood", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "pressure", "N/mm\xc2\xb2");
    pl_grid_column(g, PL_SIDE_LEFT, "remark", NULL);
    pl_grid_cell(g, "beech");
    pl_grid_number(g, 0.7, 3);
    pl_grid_cell(g, "two closings, one of them twelve minutes late");
    pl_grid_rule(g);
    pl_grid_cellf(g, "%s", "m\xc3\xa9l\xc3\xa8ze");
    pl_grid_number(g, 12.25, 4);
    pl_grid_cell(g, NULL);
    pl_grid_cell(g, "<b>&\"\n");
    pl_grid_number(g, NAN, 3);
    pl_grid_blank(g);
    pl_grid_cell(g, "oak");
    pl_grid_number(g, INFINITY, 3);
    return g; /* the last row is not full */
}

static void test_text(void **state)
{
    bench *b = *state;
    const pl_grid *g = sample(b->a);

    assert_int_equal(pl_grid_rows(g), 4);
    assert_string_equal(pl_grid_text(b->a, g, 0),
                        "wood    pressure  remark\n"
                        "           N/mm\xc2\xb2\n"
                        "------  --------  ---------------------------------------------\n"
                        "beech        0.7  two closings, one of them twelve minutes late\n"
                        "------  --------  ---------------------------------------------\n"
                        "m\xc3\xa9l\xc3\xa8ze     12.25\n"
                        "<b>&\"             ______\n"
                        "oak         open\n");
}

static void test_broken_lines(void **state)
{
    bench *b = *state;
    pl_grid *g = sample(b->a);
    const char *text = pl_grid_text(b->a, g, 40);

    assert_string_equal(text, "wood    pressure  remark\n"
                              "           N/mm\xc2\xb2\n"
                              "------  --------  ----------------------\n"
                              "beech        0.7  two closings, one of\n"
                              "                  them twelve minutes\n"
                              "                  late\n"
                              "------  --------  ----------------------\n"
                              "m\xc3\xa9l\xc3\xa8ze     12.25\n"
                              "<b>&\"             ______\n"
                              "oak         open\n");
    g = pl_grid_new(b->a); /* a word that is longer than its column */
    pl_grid_column(g, PL_SIDE_LEFT, "path", NULL);
    pl_grid_cell(g, "0123456789\xc3\xa9"
                    "23456789\x1b[2J");
    assert_string_equal(pl_grid_text(b->a, g, 5), "path\n----------\n0123456789\n"
                                                  "\xc3\xa9"
                                                  "23456789?\n[2J\n");
}

/* Headings give way before texts do. */
static void test_broken_headings(void **state)
{
    bench *b = *state;
    pl_grid *g = pl_grid_new(b->a);

    pl_grid_column(g, PL_SIDE_RIGHT, "glue-ups per level", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "chance", "%");
    pl_grid_column(g, PL_SIDE_LEFT, "seen", NULL);
    pl_grid_cell(g, "12");
    pl_grid_cell(g, "9.73");
    pl_grid_cell(g, "a drop of 15 %");
    assert_string_equal(pl_grid_text(b->a, g, 34), "  glue-ups  chance  seen\n"
                                                   " per level\n"
                                                   "                 %\n"
                                                   "----------  ------  --------------\n"
                                                   "        12    9.73  a drop of 15 %\n");
    /* and what must be broken is broken behind hyphens */
    g = pl_grid_new(b->a);
    pl_grid_column(g, PL_SIDE_LEFT, "curve", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "df", NULL);
    pl_grid_cell(g, "linear-plateau");
    pl_grid_cell(g, "-7");
    assert_string_equal(pl_grid_text(b->a, g, 16), "curve         df\n"
                                                   "------------  --\n"
                                                   "linear-       -7\n"
                                                   "plateau\n");
}

static void test_html(void **state)
{
    bench *b = *state;
    pl_text t;

    pl_text_init(&t, b->a);
    pl_grid_html(&t, sample(b->a), "a < b");
    assert_string_equal(
        pl_text_done(&t),
        "<div class=\"scroll\"><table>\n<caption>a &lt; b</caption>\n"
        "<thead><tr><th scope=\"col\">wood</th><th scope=\"col\" class=\"n\">pressure "
        "<span class=\"unit\">N/mm\xc2\xb2</span></th>"
        "<th scope=\"col\" class=\"long\">remark</th></tr></thead>\n<tbody>\n"
        "<tr><td>beech</td><td class=\"n\">0.7</td>"
        "<td>two closings, one of them twelve minutes late</td></tr>\n"
        "<tr class=\"rule\"><td>m\xc3\xa9l\xc3\xa8ze</td><td class=\"n\">12.25</td><td></td></tr>\n"
        "<tr><td>&lt;b&gt;&amp;&quot;\n</td><td class=\"n\"></td><td class=\"fill\"></td></tr>\n"
        "<tr><td>oak</td><td class=\"n\">open</td><td></td></tr>\n"
        "</tbody></table></div>\n");
}

static void test_no_memory(void **state)
{
    bool done = false;

    (void)state;
    for (unsigned long n = 1; !done; n++) {
        pl_arena *a = pl_arena_new(0);
        pl_text t;
        char *text, *html;

        assert_true(n < 1000);
        pl_arena_fail_at(n);
        text = pl_grid_text(a, sample(a), 40);
        pl_arena_fail_at(n);
        pl_text_init(&t, a);
        pl_grid_html(&t, sample(a), "c");
        html = pl_text_done(&t);
        pl_arena_fail_at(0);
        done = text && html;
        assert_true(n > 10 || (!text && !html));
        pl_arena_free(a);
    }
    assert_null(pl_grid_text(NULL, NULL, 0));
    pl_grid_column(NULL, PL_SIDE_LEFT, "x", NULL);
    pl_grid_cell(NULL, "x");
    pl_grid_cellf(NULL, "x");
    pl_grid_number(NULL, 1, 1);
    pl_grid_rule(NULL);
    assert_int_equal(pl_grid_rows(NULL), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_text), TEST(test_broken_lines), TEST(test_broken_headings),
        TEST(test_html), TEST(test_no_memory),
    };

    return cmocka_run_group_tests_name("grid", tests, NULL, NULL);
}
