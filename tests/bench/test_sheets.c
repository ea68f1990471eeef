/* Sheets: which files, what must stand on them and what must not, and none
 * written over another. How they look is for eyes; see docs/forms.md. */
#include "shop.h"

#include <dirent.h>
#include <sys/stat.h>

#include "base/file.h"

static const char *new_folder(bench *b)
{
    const char *top = getenv("TMPDIR");
    char *name = pl_arena_printf(b->a, "%s/platen-sheets-XXXXXX", top ? top : "/tmp");

    assert_non_null(mkdtemp(name));
    return name;
}

static void drop_folder(const char *name)
{
    DIR *dir = opendir(name);
    struct dirent *e;

    while (dir && (e = readdir(dir)))
        if (e->d_name[0] != '.')
            unlinkat(dirfd(dir), e->d_name, 0);
    if (dir)
        closedir(dir);
    rmdir(name);
}

static const char *page_of(bench *b, const char *folder, const char *name)
{
    char *bytes = NULL;
    size_t n;

    assert_ok(b, pl_file_read(b->a, pl_file_join(b->a, folder, name), &bytes, &n, &b->d));
    return bytes;
}

static void has(const char *page, const char *part)
{
    if (!strstr(page, part))
        fail_msg("the page does not say \"%s\"", part);
}

static void has_not(const char *page, const char *part)
{
    if (strstr(page, part))
        fail_msg("the page says \"%s\"", part);
}

/* The body of a page: its head has style rules with all kinds of words. */
static const char *body_of(const char *page)
{
    const char *body = strstr(page, "<body>");

    assert_non_null(body);
    return body;
}

static const char *write_all(bench *b, pl_sheets *out)
{
    const char *folder = new_folder(b);
    pl_sheet_options o = { .folder = folder, .peak_unit = "bar" };

    assert_ok(b, pl_sheets_write(b->a, shop_study(b), shop_plan(b), &o, out, &b->d));
    return folder;
}

static void test_files(void **state)
{
    static const char *const names[] = {
        "cutting-list.html",      "cut-map.html",     "labels.html", "glue-up-session-1.html",
        "glue-up-session-2.html", "break-sheet.html", "boards.csv",  "sessions.csv",
        "glue-ups.csv",           "breaks.csv"
    };
    bench *b = *state;
    pl_sheets out;
    const char *folder = write_all(b, &out);

    assert_int_equal(out.count, 10);
    for (size_t i = 0; i < out.count; i++) {
        assert_string_equal(out.files[i], pl_file_join(b->a, folder, names[i]));
        assert_true(pl_file_exists(out.files[i]));
    }
    assert_string_equal(page_of(b, folder, "breaks.csv"),
                        pl_form_write(b->a, PL_FORM_BREAKS, shop_study(b), shop_plan(b), "bar"));
    drop_folder(folder);
}

/* One name taken: nothing is written; with replace, everything is. */
static void test_never_over_another(void **state)
{
    bench *b = *state;
    const char *folder = new_folder(b), *taken = pl_file_join(b->a, folder, "breaks.csv");
    pl_sheet_options o = { .folder = folder };
    pl_sheets out;

    assert_ok(b, pl_file_write(taken, "mine", 4, false, &b->d));
    assert_code(b, PL_EWRITE, pl_sheets_write(b->a, shop_study(b), shop_plan(b), &o, &out, &b->d));
    assert_finding(b, "breaks.csv: found a file that is there already");
    assert_false(pl_file_exists(pl_file_join(b->a, folder, "cutting-list.html")));
    assert_string_equal(page_of(b, folder, "breaks.csv"), "mine");
    o.replace = true;
    assert_ok(b, pl_sheets_write(b->a, shop_study(b), shop_plan(b), &o, &out, &b->d));
    has(page_of(b, folder, "breaks.csv"), "specimen,");
    drop_folder(folder);
}

static void test_one_session(void **state)
{
    bench *b = *state;
    const char *folder = new_folder(b);
    pl_sheet_options o = { .folder = folder, .session = 2 };
    pl_sheets out;

    assert_ok(b, pl_sheets_write(b->a, shop_study(b), shop_plan(b), &o, &out, &b->d));
    assert_int_equal(out.count, 1);
    has(out.files[0], "glue-up-session-2.html");
    o.session = 3;
    assert_code(b, PL_EUSAGE, pl_sheets_write(b->a, shop_study(b), shop_plan(b), &o, &out, &b->d));
    assert_finding(b, "found session 3, expected 1 to 2");
    drop_folder(folder);
}

/* Whoever judges wood failure gets these. No pressure, no rig that presses, no
 * set point, no glue-up; the study's title is not ours to judge. */
static void test_blind(void **state)
{
    static const char *const pages[] = { "labels.html", "break-sheet.html", "cut-map.html" };
    static const char *const secrets[] = { "0.3 N/mm2", "1.1 N/mm2", "jack", "weights", "16.5",
                                           "4.5 bar",   "kg",        ">G1<", "pressure" };
    bench *b = *state;
    pl_sheets out;
    const char *folder = write_all(b, &out);

    for (size_t i = 0; i < sizeof pages / sizeof *pages; i++)
        for (size_t k = 0; k < sizeof secrets / sizeof *secrets; k++)
            has_not(body_of(page_of(b, folder, pages[i])), secrets[k]);
    drop_folder(folder);
}

static void test_break_sheet(void **state)
{
    bench *b = *state;
    pl_sheets out;
    const char *folder = write_all(b, &out);
    const char *page = body_of(page_of(b, folder, "break-sheet.html"));
    static const char *const order[] = { "H2W3", "R4T9", "Z5C5", "K7MN", "D8NN", "B9XH" };
    const char *at = page;

    for (size_t i = 0; i < 6; i++) {
        at = strstr(at, order[i]);
        assert_non_null(at);
    }
    has_not(page, "V3G6"); /* spare */
    /* 11 N/mm2 x 40 mm x 30 mm = 13.2 kN */
    has(page, "up to about 13 kN");
    has(page, "7 d after pressing");
    has(page, "pull-bench");
    has(page, "eye protection");
    has(page, "bar</span>");
    has(page, "Lap joints, &lt;pressed&gt; &amp; broken");
    drop_folder(folder);
}

static void test_glue_up_sheet(void **state)
{
    bench *b = *state;
    pl_sheets out;
    const char *folder = write_all(b, &out);
    const char *page = body_of(page_of(b, folder, "glue-up-session-1.html"));

    has(page, "16.5\xc2\xa0"
              "bar");
    has(page, "16.1\xc2\xa0to\xc2\xa0"
              "16.9");
    has(page, "20\xc2\xa0kg + 10\xc2\xa0kg + 5\xc2\xa0kg\xc2\xa0x\xc2\xa0"
              "1");
    has(page, "K7MN-a + K7MN-b");
    has(page, "jack: never above 20 bar, its rated limit");
    has(page, "weights: never above 60 kg, its rated limit");
    has(page, "Stored energy");
    has(page, "Weights fall");
    has(page, "Pinch points");
    has(page, "Guards");
    has(page, "Eye protection");
    has(page, "come first");
    has(page, "4 min after spreading");
    has(page, "45 min after pressing");
    has(page, "Whoever judges wood failure does not get to see");
    /* 0.18 kg/m2 x 1200 mm2 = 0.216 g */
    has(page, "0.22 g a glue-up");
    has(page, ">0:50<"); /* the second begins 3000 s after the first */
    has(page, "Back to zero, then come up to the mark from below");
    has(page, "outside: write what it was and carry on");
    has(page, "no later than 8 min after spreading");
    has(page, "clamp until<small>45 min after pressing");
    has(page, "revision 1, drawn with seed 7");
    has(page, "no rig above its rated limit");
    has_not(page, "Z5C5"); /* of session 2 */
    drop_folder(folder);
}

static void test_cutting(void **state)
{
    bench *b = *state;
    pl_sheets out;
    const char *folder = write_all(b, &out);
    const char *page = body_of(page_of(b, folder, "cutting-list.html"));

    has(page, "6 joints in 6 glue-ups and 2 sessions, and 1 spare");
    has(page, "14 pieces of 110 mm x 40 mm x 20 mm, 2 to a joint");
    has(page, "900 mm x 95 mm x 20 mm");
    has(page, "Saw cut 3 mm");
    has(page, "1.3 g"); /* six times 0.216 g */
    /* four joints on the board, two pieces each, two of them side by side: both ends of
     * 20 mm and four times 110 mm and a saw cut of 3 mm */
    has(page, ">0.9<");
    has(page, ">0.492<");
    has(page, "1 of 20 kg, 1 of 10 kg, 1 of 5 kg");
    has(page, "4 flat, stiff blocks of at least 40 mm x 30 mm");
    has(page, "At the saw");
    page = body_of(page_of(b, folder, "cut-map.html"));
    has(page, "stroke-dasharray"); /* the spare */
    has(page, ">V3G6-b<");
    /* 4 joints of board 1, two pieces each, side by side: 40 mm and a saw cut */
    has(page, "<rect x=\"20.0\" y=\"0.0\" width=\"110.0\" height=\"40.0\"");
    has(page, "<rect x=\"20.0\" y=\"43.0\" width=\"110.0\" height=\"40.0\"");
    has(page, "<rect x=\"133.0\" y=\"0.0\"");
    page = body_of(page_of(b, folder, "labels.html"));
    has(page, "<b>K7MN-a</b>");
    has(page, "<b>V3G6-b</b>");
    drop_folder(folder);
}

static size_t times(const char *page, const char *part)
{
    size_t n = 0;

    for (const char *at = page; (at = strstr(at, part)); at++)
        n++;
    return n;
}

/* 14 labels of 100 x 50 mm: two across and five down on A4, so two sheets, with
 * 5 mm left and 23.5 mm above; letter holds the same. */
static void test_label_paper(void **state)
{
    static const pl_label_paper a4 = { { 210, 297 }, { 100, 50 }, { 0, 0 } };
    static const pl_label_paper small = { { 210, 297 }, { 211, 50 }, { 0, 0 } };
    bench *b = *state;
    const char *folder = new_folder(b), *page;
    pl_sheet_options o = { .folder = folder, .labels = &a4 };
    pl_sheets out;

    assert_ok(b, pl_sheets_write(b->a, shop_study(b), shop_plan(b), &o, &out, &b->d));
    page = body_of(page_of(b, folder, "labels.html"));
    assert_int_equal(times(page, "<div class=\"stock\">"), 2);
    assert_int_equal(times(page, "<svg class=\"code\""), 14);
    has(page, "repeat(2,100mm)");
    has(page, "padding:23.500mm 0 0 5.000mm");
    has(page, "K7MN-a as a code to scan");
    o.labels = &small;
    o.replace = true;
    assert_code(b, PL_EUSAGE, pl_sheets_write(b->a, shop_study(b), shop_plan(b), &o, &out, &b->d));
    assert_finding(b, "--labels: found a label larger than the paper");
    drop_folder(folder);
}

static void test_arena_fails(void **state)
{
    bench *b = *state;
    const char *folder = new_folder(b);
    pl_code code = PL_ENOMEM;
    unsigned long n = 0;

    while (code != PL_OK) {
        bench *inner = NULL;
        const pl_study *s;
        pl_plan *p;
        pl_sheets out;
        pl_sheet_options o = { .folder = folder, .replace = true };

        bench_open((void **)&inner);
        s = shop_study(inner);
        p = shop_plan(inner);
        pl_arena_fail_at(++n);
        code = pl_sheets_write(inner->a, s, p, &o, &out, &inner->d);
        pl_arena_fail_at(0);
        if (code)
            assert_int_equal(code, PL_ENOMEM);
        bench_close((void **)&inner);
    }
    print_message("    %lu allocations\n", n - 1);
    assert_true(n > 100);
    has(page_of(b, folder, "glue-up-session-1.html"), "16.1\xc2\xa0to\xc2\xa0"
                                                      "16.9");
    drop_folder(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_files),   TEST(test_never_over_another), TEST(test_one_session),
        TEST(test_blind),   TEST(test_break_sheet),        TEST(test_glue_up_sheet),
        TEST(test_cutting), TEST(test_label_paper),        TEST(test_arena_fails),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
