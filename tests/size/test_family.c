/* Two levels compared as one of many, against R. */
#include "asked.h"

#include <gsl/gsl_errno.h>

#include "base/prob.h"
#include "size/size.h"

/* R 4.2.2, levels 5, n 6, D/sigma 1.7: df 25, d <- qtukey(.95, 5, 25)/sqrt(2);
 * delta <- 1.7*sqrt(6/2); pt(d, 25, delta, lower.tail=FALSE) + pt(-d, 25, delta). R's qtukey is
 * good to about 1e-7. Dunnett: d = 2.6093 (printed 2.61 for 4 contrasts and 24 df, Dunnett 1964,
 * from memory: 5e-3 of d) only bounds the chance. */
static void test_against_r(void **state)
{
    pl_size_question q = plain(5, 1.7 * 0.137, 0.137);
    double pairs = pl_size_family_chance(&q, PL_SIZE_ALL_PAIRS, 6);
    double one = pl_size_family_chance(&q, PL_SIZE_AGAINST_ONE, 6);

    (void)state;
    assert_abs("all pairs", pairs, 0.5141131574, 1e-6);
    assert_true(one > pairs);
    assert_abs("Dunnett 1964", pl_size_family_point(PL_SIZE_AGAINST_ONE, 5, 24, 0.05), 2.61, 5e-3);
}

/* Two levels: no family, so the t test's own need; more levels need more. */
static void test_needs(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(2, 0.15, 0.12);
    const pl_size_answer *w = NULL;
    unsigned before = 0;

    assert_ok(b, pl_size_find(b->a, &q, &w, &b->d));
    for (int f = 0; f < PL_NSIZE_FAMILIES; f++)
        assert_int_equal(pl_size_family_need(&q, (pl_size_family)f),
                         w->need_at[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN]);
    for (q.levels = 3; q.levels < 12; q.levels += 4) {
        unsigned one = pl_size_family_need(&q, PL_SIZE_AGAINST_ONE);
        unsigned pairs = pl_size_family_need(&q, PL_SIZE_ALL_PAIRS);

        assert_ok(b, pl_size_find(b->a, &q, &w, &b->d));
        assert_true(pairs >= one && one >= w->need_at[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN]);
        assert_true(pairs > before);
        assert_true(pl_size_family_chance(&q, PL_SIZE_ALL_PAIRS, pairs) >= 0.9);
        assert_true(pl_size_family_chance(&q, PL_SIZE_ALL_PAIRS, pairs - 1) < 0.9);
        before = pairs;
    }
    assert_true(isnan(pl_size_family_chance(&q, PL_SIZE_ALL_PAIRS, 1)));
    q.worth_noticing = 1e-3;
    assert_int_equal(pl_size_family_need(&q, PL_SIZE_ALL_PAIRS), 0);
    assert_non_null(strstr(pl_size_family_words(b->a, &q), "more than 200 per level"));
    q.levels = 2;
    assert_string_equal(pl_size_family_words(b->a, &q), "");
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_against_r), TEST(test_needs) };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
