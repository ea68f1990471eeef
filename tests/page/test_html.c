/* One self-contained page: escaping, structure, nothing from outside. */
#include "support.h"

#include "markup.h"
#include "page/html.h"

static const char hostile[] = "<script>alert(1)</script> \"quoted\" 'single' & `ls` @x {a}^b_c %s "
                              "</p></style> \x1b[31m \xff \xed\xa0\x80 caf\xc3\xa9";
static const char escaped[] =
    "&lt;script&gt;alert(1)&lt;/script&gt; &quot;quoted&quot; &#39;single&#39; &amp; `ls` @x "
    "{a}^b_c %s &lt;/p&gt;&lt;/style&gt; \xef\xbf\xbd[31m \xef\xbf\xbd "
    "\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd caf\xc3\xa9";

static void test_escape(void **state)
{
    bench *b = *state;
    pl_text t;

    pl_text_init(&t, b->a);
    pl_html_put(&t, hostile);
    assert_string_equal(pl_text_done(&t), escaped);
    pl_text_init(&t, b->a);
    pl_html_put(&t, "");
    assert_string_equal(pl_text_done(&t), "");
}

/* Every text of every function is hostile. */
static pl_page *everything(pl_arena *a)
{
    pl_page *p = pl_page_new(a, hostile, hostile);
    pl_grid *g = pl_grid_new(a);
    const char *items[] = { hostile, "two" };
    const pl_card cards[] = { { hostile, hostile }, { "K7P4", NULL } };

    pl_page_lead(p, hostile);
    for (int i = 0; i < 4; i++) {
        pl_page_section(p, hostile);
        pl_page_heading(p, hostile);
        pl_page_text(p, hostile);
    }
    pl_page_fact(p, hostile, hostile);
    pl_page_fact(p, "b", "c");
    pl_page_box(p, PL_TONE_NOTE, hostile);
    pl_page_box(p, PL_TONE_ADVICE, hostile);
    pl_page_box(p, PL_TONE_CAUTION, hostile);
    pl_page_list(p, items, 2);
    pl_page_tick_list(p, items, 2);
    pl_grid_column(g, PL_SIDE_LEFT, hostile, hostile);
    pl_grid_cell(g, hostile);
    pl_page_grid(p, g, hostile);
    pl_page_fold(p, hostile);
    pl_page_fact(p, "in", "a fold");
    pl_page_fold(p, "another"); /* closes the first */
    pl_page_unfold(p);
    pl_page_unfold(p);
    pl_page_cards(p, cards, 2);
    pl_page_break(p);
    pl_page_fold(p, "left open");
    pl_page_fact(p, "left", "open");
    pl_page_foot(p, hostile);
    return p;
}

static size_t count(const char *s, const char *part)
{
    size_t n = 0;

    for (; (s = strstr(s, part)) != NULL; s += strlen(part))
        n++;
    return n;
}

static void test_everything(void **state)
{
    bench *b = *state;
    char *html = pl_page_done(b->a, everything(b->a));

    assert_markup(html);
    assert_harmless(html);
    /* title twice, above, lead, four sections with three texts and a line of the
     * contents, fact 2, boxes 3, lists 2, grid 4, fold, card 2 and its code, foot */
    assert_int_equal(count(html, escaped), 2 + 1 + 1 + 4 * 4 + 2 + 3 + 2 + 4 + 1 + 3 + 1);
    assert_non_null(strstr(html, "default-src 'none'"));
    assert_non_null(strstr(html, "<a href=\"#s4\">"));
    assert_non_null(strstr(html, "<section id=\"s4\">"));
    assert_int_equal(count(html, "<dl>"), 3);
}

static void test_structure(void **state)
{
    bench *b = *state;
    pl_page *p = pl_page_new(b->a, "T", NULL);
    char *html;

    pl_page_text(p, "one\n\ntwo\nstill two");
    pl_page_section(p, "S");
    pl_page_fact(p, "a", "1");
    pl_page_fact(p, "b", "2");
    html = pl_page_done(b->a, p);
    assert_non_null(strstr(html, "<h1>T</h1>\n</header>\n<p>one</p>\n<p>two\nstill two</p>\n"
                                 "<section id=\"s1\">\n<h2>S</h2>\n<dl>\n"
                                 "<div><dt>a</dt><dd>1</dd></div>\n"
                                 "<div><dt>b</dt><dd>2</dd></div>\n</dl>\n</section>\n"
                                 "</main>\n</body>\n</html>\n"));
    assert_null(strstr(html, "<nav"));
    pl_page_text(p, "behind"); /* done may be called on the way */
    html = pl_page_done(b->a, p);
    assert_non_null(strstr(html, "</dl>\n<p>behind</p>\n</section>\n"));
}

static void test_no_memory(void **state)
{
    char *html = NULL;

    (void)state;
    for (unsigned long n = 1; !html; n++) {
        pl_arena *a = pl_arena_new(0);

        assert_true(n < 1000);
        pl_arena_fail_at(n);
        html = pl_page_done(a, everything(a));
        pl_arena_fail_at(0);
        assert_true(n > 20 || !html);
        pl_arena_free(a);
    }
    pl_page_section(NULL, "x");
    pl_page_raw(NULL, "x");
    assert_null(pl_page_done(NULL, NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_escape),
        TEST(test_everything),
        TEST(test_structure),
        TEST(test_no_memory),
    };

    return cmocka_run_group_tests_name("html", tests, NULL, NULL);
}
