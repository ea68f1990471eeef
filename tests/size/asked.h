/* Questions and chances as the tests of size ask for them. */
#ifndef TESTS_SIZE_ASKED_H
#define TESTS_SIZE_ASKED_H

#include "support.h"

#include "size/power.h"
#include "size/size.h"

static inline pl_size_question plain(unsigned levels, double distance, double sd)
{
    pl_size_question q;

    pl_size_question_init(&q);
    q.levels = levels;
    q.worth_noticing = distance;
    q.sd = sd;
    q.relative = true;
    return q;
}

static inline const pl_size_answer *answer(bench *b, const pl_size_question *q)
{
    const pl_size_answer *w = NULL;

    assert_ok(b, pl_size_find(b->a, q, &w, &b->d));
    assert_true(w->nrow > 0);
    return w;
}

static inline double ftest(double df1, double df2, double lambda, double alpha)
{
    pl_real p = { NAN, 0 };

    assert_int_equal(pl_power_ftest(df1, df2, lambda, alpha, &p, NULL), PL_OK);
    assert_true(p.value >= alpha * (1 - 1e-12) && p.value <= 1);
    return p.value;
}

static inline double ttest(double df, double delta, double alpha, int sides)
{
    pl_real p = { NAN, 0 };

    assert_int_equal(pl_power_ttest(df, delta, alpha, sides, &p, NULL), PL_OK);
    return p.value;
}

#endif
