/* Damage: bits flipped and the file cut short at every page. Whoever reads gets what
 * was written or is refused with a reason; nothing crashes, and no wrong figure goes
 * unseen. PLATEN_LONG=1 flips 200 bits in each page instead of 10. */
#define SHOP_IN_MEMORY
#include "shop.h"

#include "base/stream.h"

/* Everything that verbs read, as one text; NULL when something was refused. */
static const char *all_that_is_read(bench *b, const char *path)
{
    pl_book *book = NULL;
    pl_readings readings;
    const pl_marking *marks = NULL;
    const pl_revision *r = NULL;
    const pl_book_rig *rigs = NULL;
    size_t nmark = 0, nrig = 0;
    pl_text t;

    if (pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d) ||
        pl_book_revision(b->a, book, "stair-laps", 0, &r, &b->d) ||
        pl_book_record(b->a, book, "stair-laps", &readings, &marks, &nmark, &b->d) ||
        pl_book_rig_list(b->a, book, &rigs, &nrig, &b->d))
        return NULL;
    pl_text_init(&t, b->a);
    pl_text_add(&t, "%u %u %s %s\n", r->number, (unsigned)r->seed, r->text, r->plan_json);
    for (size_t i = 0; i < readings.count; i++) {
        const pl_reading *x = &readings.items[i];

        pl_text_add(&t, "%d %s %s %s %.17g %s %s\n", (int)x->subject, x->id, x->quantity, x->text,
                    x->value, x->unit, x->where);
    }
    for (size_t i = 0; i < nmark; i++)
        pl_text_add(&t, "%s %d %s %s %s\n", marks[i].specimen, (int)marks[i].kind, marks[i].key,
                    marks[i].value, marks[i].reason);
    for (size_t i = 0; i < nrig; i++)
        pl_text_add(&t, "%s %s\n", rigs[i].name, rigs[i].text);
    return pl_text_done(&t);
}

static void make_book(bench *b, const char *path)
{
    pl_book *book = shop_book(b, path);
    pl_readings first = { 0 }, second = { 0 };
    pl_source s1 = make_source(b, "day1.csv", "1", &first);
    pl_source s2 = make_source(b, "day2.csv", "1", &second);
    pl_rig rig = { .name = "jack", .text = "{ \"bore\": \"50 mm\" }" };
    pl_marking m = {
        .specimen = "K1", .kind = PL_MARK_LOST, .key = "", .value = "", .reason = "x"
    };
    pl_taken done;

    for (unsigned i = 0; i < 200; i++)
        add_reading(b, &first, pl_arena_printf(b->a, "K%u", i % 6 + 1),
                    pl_arena_printf(b->a, "q%u", i), pl_arena_printf(b->a, "%u.5", i), i + 0.5,
                    "kN");
    add_reading(b, &second, "K1", "q0", "7", 7, "kN");
    s1.bytes = "day1.csv 1";
    s1.length = strlen(s1.bytes);
    assert_ok(b, pl_book_rig_add(book, &rig, false, NULL, &b->d));
    assert_ok(b, take_one(b, book, &s1, false, &done));
    assert_ok(b, take_one(b, book, &s2, true, &done));
    assert_ok(b, pl_book_mark(book, "stair-laps", &m, 1, &b->d));
    assert_ok(b, add_fit(b, book, 1, "{}"));
}

static struct {
    unsigned refused, same, checked;
} count;

/* Reads the damaged file and has it checked. */
static void look(const char *path, const char *wanted)
{
    bench *b = NULL;
    pl_book *book = NULL;
    pl_checked checked;
    const char *got;

    bench_open((void **)&b);
    got = all_that_is_read(b, path);
    if (!got)
        assert_true(pl_diags_count(&b->d, PL_REFUSED) > 0);
    else if (strcmp(got, wanted))
        fail_msg("a wrong figure went unseen");
    count.refused += !got;
    count.same += !!got;
    if (!pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d)) {
        pl_code code = pl_book_check(book, &checked, &b->d);

        /* what reading refuses, check does not pass */
        if (!got && code == PL_OK)
            fail_msg("check passes what reading refuses");
        count.checked += code != PL_OK;
    }
    bench_close((void **)&b);
}

static void write_at(const char *path, const char *bytes, size_t n, off_t at)
{
    int fd = open(path, O_WRONLY);

    assert_true(fd >= 0);
    assert_int_equal(pwrite(fd, bytes, n, at), (ssize_t)n);
    close(fd);
}

static void test_flips(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b), *copy = new_book_path(b), *wanted;
    unsigned each = getenv("PLATEN_LONG") ? 200 : 10;
    char *bytes;
    size_t n;
    pl_stream chance;

    make_book(b, path);
    wanted = all_that_is_read(b, path);
    assert_non_null(wanted);
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    copy_file(path, copy);
    pl_stream_init(&chance, 20270501, PL_FOR_TEST, 1);
    memset(&count, 0, sizeof count);
    for (size_t page = 0; page < n / 4096; page++)
        for (unsigned i = 0; i < each; i++) {
            size_t at = page * 4096 + pl_stream_below(&chance, 4096);
            char flipped = (char)(bytes[at] ^ (1 << pl_stream_below(&chance, 8)));

            write_at(copy, &flipped, 1, (off_t)at);
            look(copy, wanted);
            write_at(copy, &bytes[at], 1, (off_t)at);
        }
    print_message("COUNTED: %u bits flipped: %u refused, %u read as they were; check refused %u\n",
                  (unsigned)(n / 4096) * each, count.refused, count.same, count.checked);
    assert_true(count.refused > 0 && count.same > 0);
}

static void test_cut_short(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b), *copy = new_book_path(b), *wanted;
    char *bytes;
    size_t n;

    make_book(b, path);
    wanted = all_that_is_read(b, path);
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    memset(&count, 0, sizeof count);
    for (size_t size = 4096; size <= n; size += 4096)
        for (int less = 0; less < 2; less++) {
            copy_file(path, copy);
            assert_int_equal(truncate(copy, (off_t)size - (less ? 1000 : size == n ? 1 : 0)), 0);
            look(copy, wanted);
        }
    print_message("COUNTED: %u books cut short: %u refused, %u read as they were\n",
                  2 * (unsigned)(n / 4096), count.refused, count.same);
    assert_true(count.refused > 0);
}

/* Figures that a flip in the middle of a row changes, one by one and by name. */
static void test_every_byte_of_a_row(void **state)
{
    static const char needle[] = "specimenK3q1414.5"; /* as SQLite lays a row out */
    bench *b = *state;
    const char *path = new_book_path(b), *copy = new_book_path(b);
    char *bytes, *row = NULL;
    size_t n;

    make_book(b, path);
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    for (size_t i = 0; i + sizeof needle < n && !row; i++)
        if (!memcmp(bytes + i, needle, sizeof needle - 1))
            row = bytes + i;
    assert_non_null(row);
    copy_file(path, copy);
    for (size_t i = 0; i < sizeof needle - 1 + 8 + 2; i++) { /* and its value and unit */
        bench *inner = NULL;
        pl_book *book = NULL;
        pl_readings got;
        char flipped = (char)(row[i] ^ 1);

        write_at(copy, &flipped, 1, row + i - bytes);
        bench_open((void **)&inner);
        assert_ok(inner, pl_book_open(inner->a, copy, PL_BOOK_READ, &book, &inner->d));
        assert_code(inner, PL_EBOOK,
                    pl_book_readings(inner->a, book, "stair-laps", &got, &inner->d));
        assert_finding(inner, "reading 15 (");
        assert_finding(inner, "platen book copy");
        bench_close((void **)&inner);
        write_at(copy, &row[i], 1, row + i - bytes);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_flips), TEST(test_cut_short),
                                        TEST(test_every_byte_of_a_row) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
