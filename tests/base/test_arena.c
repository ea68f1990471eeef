/* Arenas: budget, overflow, owned handles, marks, failing on demand. */
#include "support.h"

#include <stdalign.h>

#include "base/sanitized.h"

static void test_zeroed_and_aligned(void **state)
{
    bench *b = *state;

    for (size_t n = 1; n < 100; n++) {
        unsigned char *p = pl_arena_get(b->a, n, 1);

        assert_int_equal((uintptr_t)p % alignof(max_align_t), 0);
        for (size_t i = 0; i < n; i++)
            assert_int_equal(p[i], 0);
        memset(p, 0xa5, n); /* must not show in a later block */
    }
    assert_non_null(pl_arena_get(b->a, 0, 8));
    assert_non_null(pl_arena_get(b->a, 8, 0));
}

/* Under the address sanitizer nobody touches what lies behind a piece, nor what a reset has
 * given back. */
static void test_guarded(void **state)
{
#ifdef PL_SANITIZED
    bench *b = *state;

    for (size_t n = 1; n < 70; n++) {
        char *p = pl_arena_get(b->a, n, 1);

        assert_null(__asan_region_is_poisoned(p, n));
        assert_true(__asan_address_is_poisoned(p + n));
    }
    for (size_t n = 1; n < 1000000; n *= 10) {
        pl_mark mark = pl_arena_mark(b->a);
        char *p = pl_arena_get(b->a, n, 1);
        bool same_block = pl_arena_bytes(b->a) == 64 * 1024;

        pl_arena_reset(b->a, mark);
        if (same_block)
            assert_true(__asan_address_is_poisoned(p));
        assert_null(__asan_region_is_poisoned(pl_arena_get(b->a, n, 1), n));
    }
#else
    (void)state;
#endif
}

static void test_overflow(void **state)
{
    bench *b = *state;

    assert_null(pl_arena_get(b->a, SIZE_MAX, 1));
    assert_null(pl_arena_get(b->a, SIZE_MAX / 2, 3));
    assert_null(pl_arena_get(b->a, (size_t)1 << 33, (size_t)1 << 33));
    assert_null(pl_arena_strn(b->a, "x", SIZE_MAX));
    assert_null(pl_arena_grow(b->a, "x", 1, SIZE_MAX / 2, 4));
}

static void test_budget(void **state)
{
    pl_arena *a = pl_arena_new(200000);
    size_t got = 0;

    (void)state;
    while (pl_arena_get(a, 1000, 1))
        got++;
    assert_in_range(got, 190, 200);
    assert_in_range(pl_arena_bytes(a), 190000, 200000);
    assert_null(pl_arena_get(a, 100000, 1));
    pl_arena_free(a);
    pl_arena_free(NULL);
}

static void test_grow(void **state)
{
    bench *b = *state;
    int three[] = { 1, 2, 3 };
    int *p = pl_arena_grow(b->a, three, 3, 5, sizeof *p);

    assert_memory_equal(p, three, sizeof three);
    assert_int_equal(p[3], 0);
    p = pl_arena_grow(b->a, three, 3, 2, sizeof *p);
    assert_memory_equal(p, three, 2 * sizeof *p);
    assert_non_null(pl_arena_grow(b->a, NULL, 0, 2, 1));
}

static void test_strings(void **state)
{
    bench *b = *state;

    assert_string_equal(pl_arena_str(b->a, "larch"), "larch");
    assert_null(pl_arena_str(b->a, NULL));
    assert_string_equal(pl_arena_strn(b->a, "larch", 2), "la");
    assert_string_equal(pl_arena_printf(b->a, "%d mm", 18), "18 mm");
    assert_string_equal(pl_arena_printf(b->a, "%0*d", 300, 7) + 299, "7");
}

static char order[8];

static void drop(void *handle)
{
    strncat(order, handle, 1);
}

static void test_owned(void **state)
{
    pl_arena *a = pl_arena_new(0);
    pl_mark mark;

    (void)state;
    order[0] = '\0';
    assert_non_null(pl_arena_own(a, "1", drop));
    assert_null(pl_arena_own(a, NULL, drop));
    mark = pl_arena_mark(a);
    assert_non_null(pl_arena_own(a, "2", drop));
    assert_non_null(pl_arena_own(a, "3", drop));
    pl_arena_reset(a, mark);
    assert_string_equal(order, "32");
    pl_arena_fail_at(1);
    assert_null(pl_arena_own(a, "4", drop)); /* dropped at once */
    assert_string_equal(order, "324");
    pl_arena_free(a);
    assert_string_equal(order, "3241");
}

static void test_marks(void **state)
{
    bench *b = *state;
    char *kept = pl_arena_str(b->a, "kept"), *first, *again;
    pl_mark outer = pl_arena_mark(b->a), inner;
    size_t held = pl_arena_bytes(b->a);

    first = pl_arena_str(b->a, "scratch");
    inner = pl_arena_mark(b->a);
    assert_non_null(pl_arena_get(b->a, 300000, 1));
    pl_arena_reset(b->a, inner);
    assert_string_equal(first, "scratch");
    assert_int_equal(pl_arena_bytes(b->a), held);
    pl_arena_reset(b->a, outer);
    again = pl_arena_get(b->a, 8, 1);
    assert_ptr_equal(again, first);
    assert_int_equal(again[0], 0); /* zeroed afresh */
    assert_string_equal(kept, "kept");
}

/* A mark of an arena that holds nothing yet. */
static void test_mark_of_empty(void **state)
{
    pl_arena *a = pl_arena_new(0);
    pl_mark mark = pl_arena_mark(a);

    (void)state;
    assert_non_null(pl_arena_get(a, 10, 1));
    pl_arena_reset(a, mark);
    assert_int_equal(pl_arena_bytes(a), 0);
    pl_arena_free(a);
}

static void test_fail_at(void **state)
{
    bench *b = *state;

    pl_arena_fail_at(3);
    assert_non_null(pl_arena_get(b->a, 1, 1));
    assert_non_null(pl_arena_get(b->a, 1, 1));
    assert_null(pl_arena_get(b->a, 1, 1));
    assert_non_null(pl_arena_get(b->a, 1, 1)); /* once */
    assert_int_equal(pl_arena_refusals(b->a), 1);
    pl_arena_fail_at(1);
    pl_arena_fail_at(0);
    assert_non_null(pl_arena_get(b->a, 1, 1));
    assert_int_equal(pl_arena_refusals(b->a), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_zeroed_and_aligned),
        TEST(test_guarded),
        TEST(test_overflow),
        TEST(test_budget),
        TEST(test_grow),
        TEST(test_strings),
        TEST(test_owned),
        TEST(test_marks),
        TEST(test_mark_of_empty),
        TEST(test_fail_at),
    };

    return cmocka_run_group_tests_name("arena", tests, NULL, NULL);
}
