/* What every plan must keep, whatever its study: for the tests of whole plans. */
#ifndef TESTS_DESIGN_PLAN_LAWS_H
#define TESTS_DESIGN_PLAN_LAWS_H

#include "design/ids.h"
#include "shop.h"

/* ---------------------------------------------------- laws of every plan -- */

static inline int level_of(const pl_plan *p, const pl_glue_up *g, int factor)
{
    return p->treatments[g->treatment * p->nfactor + (size_t)factor];
}

static inline void check_counts(bench *b, const shop *w, const pl_plan *p, unsigned n)
{
    size_t *times = PL_NEWN(b->a, p->ntreatment, size_t), m, made = 0;

    assert_int_equal(p->ntreatment, pl_study_treatments(&w->s));
    m = pl_study_specimens_per_glue_up(&w->s);
    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        assert_true(g->treatment < p->ntreatment);
        times[g->treatment] += !g->spare;
        made += !g->spare;
        assert_int_equal(g->glue_order, g->spare ? 0 : i + 1); /* spare ones behind */
        assert_int_equal(g->session == 0, g->spare);
    }
    for (size_t t = 0; t < p->ntreatment; t++)
        assert_int_equal(times[t], n);
    assert_int_equal(made, n * p->ntreatment);
    assert_int_equal(p->nspecimen, p->nglue_up * m);
}

static inline void check_boards(bench *b, const shop *w, const pl_plan *p, unsigned n)
{
    int with = pl_study_with_board(&w->s);
    bool *taken = PL_NEWN(b->a, p->nspecimen + 1, bool);
    size_t v = p->ntreatment / (with >= 0 ? w->s.factors[with].nlevel : 1);
    size_t *on = PL_NEWN(b->a, p->ntreatment, size_t);

    if (!w->s.nboard_kinds)
        assert_int_equal(p->nboard, 0);
    for (size_t k = 0; k < p->nboard; k++) {
        const pl_stock *stock = &w->boards[p->boards[k].stock];
        size_t units = 0, specimens = 0, low = SIZE_MAX, high = 0;

        memset(taken, 0, p->nspecimen + 1);
        memset(on, 0, p->ntreatment * sizeof *on);
        assert_string_equal(p->boards[k].label, pl_arena_printf(b->a, "B%zu", k + 1));
        for (size_t i = 0; i < p->nglue_up; i++) {
            const pl_glue_up *g = &p->glue_ups[i];

            if (g->board != (int)k)
                continue;
            if (with >= 0) /* species never crosses boards */
                assert_string_equal(stock->species,
                                    w->s.factors[with].levels[level_of(p, g, with)].text);
            on[g->treatment] += !g->spare;
            units += !g->spare;
        }
        for (size_t i = 0; i < p->nspecimen; i++)
            if (p->glue_ups[p->specimens[i].glue_up].board == (int)k) {
                assert_in_range(p->specimens[i].place, 1, p->nspecimen);
                assert_false(taken[p->specimens[i].place]);
                taken[p->specimens[i].place] = true;
                specimens++;
            }
        for (size_t i = 1; i <= specimens; i++) /* the places are 1.. without a gap */
            assert_true(taken[i]);
        if (stock->specimens)
            assert_true(specimens <= stock->specimens);
        assert_true(units > 0);
        for (size_t t = 0; t < p->ntreatment; t++)
            if (with < 0 ||
                !strcmp(
                    w->s.factors[with].levels[p->treatments[t * p->nfactor + (size_t)with]].text,
                    stock->species)) {
                low = on[t] < low ? on[t] : low;
                high = on[t] > high ? on[t] : high;
            }
        if (units % v == 0) /* whole sets: every treatment as often as any other */
            assert_int_equal(low, high);
        assert_true(high <= n);
    }
}

static inline void check_sessions(const shop *w, const pl_plan *p)
{
    const pl_times *times = &w->s.times;
    double busy_s = times->hands_on_s + times->clamp_s;
    bool overnight = busy_s > times->session_s;

    for (size_t i = 0; i < p->nglue_up && !p->glue_ups[i].spare; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        assert_in_range(g->session, 1, p->nsession);
        if (i) {
            assert_true(g->session - g[-1].session <= 1);
            if (g->session == g[-1].session && !isnan(busy_s)) /* one pair of hands */
                assert_true(g->start_s >= g[-1].start_s + times->hands_on_s - 1e-6);
        }
        if (w->s.npress) {
            const pl_press *press = &w->presses[g->press];
            bool has = !press->nrig || g->rig < 0;

            assert_in_range(g->station, 1, press->stations);
            for (size_t r = 0; r < press->nrig; r++)
                has = has || press->rigs[r] == g->rig;
            assert_true(has);
        }
        if (isnan(busy_s)) {
            assert_true(isnan(g->start_s));
            continue;
        }
        assert_true(g->start_s + (overnight ? times->hands_on_s : busy_s) <=
                    times->session_s + 1e-3);
        for (size_t j = 0; j < i; j++) { /* no station closes twice at a time */
            const pl_glue_up *o = &p->glue_ups[j];

            if (o->session == g->session && o->press == g->press && o->station == g->station)
                assert_true(!overnight && g->start_s >= o->start_s + busy_s - 1e-6);
        }
    }
    assert_int_equal(p->glue_ups[0].session, 1);
}

static inline void check_specimens(bench *b, const pl_plan *p)
{
    bool *broken = PL_NEWN(b->a, p->nspecimen + 1, bool);

    for (size_t i = 0; i < p->nspecimen; i++) {
        const pl_specimen *x = &p->specimens[i];

        assert_true(x->glue_up < p->nglue_up);
        assert_int_equal(x->spare, p->glue_ups[x->glue_up].spare);
        assert_true(pl_id_valid(x->id));
        assert_string_equal(x->adherends[0], pl_arena_printf(b->a, "%s-a", x->id));
        assert_string_equal(x->adherends[1], pl_arena_printf(b->a, "%s-b", x->id));
        assert_ptr_equal(pl_plan_find(p, x->id), x); /* none twice */
        if (x->spare) {
            assert_int_equal(x->break_order, 0);
            continue;
        }
        assert_in_range(x->break_order, 1, p->nspecimen);
        assert_false(broken[x->break_order]);
        broken[x->break_order] = true;
    }
}

/* Spearman's rank correlation with midranks, the long way. */
static inline double spearman(bench *b, const pl_study *s, const pl_plan *p, int factor)
{
    size_t n = 0;
    double *x = PL_NEWN(b->a, p->nglue_up, double), sxy = 0, sxx = 0, syy = 0;

    for (size_t i = 0; i < p->nglue_up; i++)
        if (!p->glue_ups[i].spare)
            x[n++] = s->factors[factor].levels[level_of(p, &p->glue_ups[i], factor)].si;
    for (size_t i = 0; i < n; i++) {
        double rank = 0.5, mean = ((double)n + 1) / 2, order = (double)i + 1;

        for (size_t j = 0; j < n; j++)
            rank += x[j] < x[i] ? 1 : x[j] == x[i] ? 0.5 : 0;
        sxy += (rank - mean) * (order - mean);
        sxx += (order - mean) * (order - mean);
        syy += (rank - mean) * (rank - mean);
    }
    return sxx > 0 && syy > 0 ? sxy / sqrt(sxx * syy) : 0;
}

/* A session of three levels or more that only rises or only falls. */
static inline bool some_session_runs(const pl_study *s, const pl_plan *p, int factor)
{
    for (unsigned k = 1; k <= p->nsession; k++) {
        size_t up = 0, down = 0;
        double last = NAN;

        for (size_t i = 0; i < p->nglue_up; i++) {
            double x = s->factors[factor].levels[level_of(p, &p->glue_ups[i], factor)].si;

            if (p->glue_ups[i].session != k)
                continue;
            up += x > last;
            down += x < last;
            last = x;
        }
        if ((up >= 2 && !down) || (down >= 2 && !up))
            return true;
    }
    return false;
}

static inline void check_order(bench *b, const shop *w, const pl_plan *p)
{
    int pressed = pl_study_pressed(&w->s);
    double r;

    if (pressed < 0 || w->factors[pressed].nlevel < 2)
        return;
    r = spearman(b, &w->s, p, pressed);
    assert_abs("order balance", p->health.order_balance, fabs(r), 1e-12);
    if (p->health.order_draws < PL_PLAN_ORDER_DRAWS_MOST) {
        assert_true(fabs(r) <= p->health.order_bound + 1e-12);
        assert_false(some_session_runs(&w->s, p, pressed));
    }
}

static inline void check_health(const pl_plan *p)
{
    const pl_health *h = &p->health;

    assert_true(isnan(h->efficiency) || (h->efficiency >= 0 && h->efficiency <= 1 + 1e-9));
    assert_true(isnan(h->efficiency) || h->efficiency <= h->efficiency_bound + 1e-9);
    assert_in_range(h->order_draws, 1, PL_PLAN_ORDER_DRAWS_MOST);
    for (size_t i = 0; i < h->ncannot; i++)
        assert_true(strlen(h->cannot[i]) > 20);
    assert_true(strlen(p->chosen) > 20);
}

static inline void check_plan(bench *b, const shop *w, const pl_plan *p, unsigned n)
{
    check_counts(b, w, p, n);
    check_boards(b, w, p, n);
    check_sessions(w, p);
    check_specimens(b, p);
    check_order(b, w, p);
    check_health(p);
}

static inline const pl_plan *make(bench *b, const shop *w, unsigned n, uint64_t seed)
{
    const pl_plan *p = NULL;

    assert_ok(
        b, pl_plan_make(b->a, &w->s, w->points.at ? &w->points : NULL, n, seed, NULL, &p, &b->d));
    check_plan(b, w, p, n);
    return p;
}

#endif
