/* Optimal designs: published support points, weights and determinants; the search held against
 * going through every design; runs that stay, blocks, and what may not meet. */
#include "plan_laws.h"
#include "reference/worked/worked.h"

#include "design/exchange.h"
#include "design/plan_grow.h"
#include "design/weights.h"

/* ------------------------------------------------------- published optima -- */

/* One regressor: p columns at x, and what the curve is made of. */
typedef struct line {
    size_t p;
    bool no_mean;
    void (*row)(const struct line *l, double x, double *f);
    double a, b, low, high;
} line;

static void row_poly(const line *l, double x, double *f)
{
    double power = 1;

    for (size_t i = 0; i < l->p; i++)
        f[i] = power *= x;
}

static void row_hyperbola(const line *l, double x, double *f) /* Vmax a, K b */
{
    f[0] = x / (l->b + x);
    f[1] = -l->a * x / (l->b + x) / (l->b + x);
}

static void row_decay(const line *l, double x, double *f)
{
    f[0] = exp(-l->a * x);
    f[1] = -x * exp(-l->a * x);
}

static void row_rise(const line *l, double x, double *f)
{
    f[0] = 1 - exp(-l->a * x);
    f[1] = x * exp(-l->a * x);
}

static void row_emax(const line *l, double x, double *f)
{
    f[0] = x / (l->a + x);
    f[1] = -x / (l->a + x) / (l->a + x);
}

static void row_log(const line *l, double x, double *f)
{
    f[0] = log(x + l->a);
    f[1] = 1 / (x + l->a);
}

static void row_two_steps(const line *l, double x, double *f) /* theta a, b: derivatives */
{
    double t = l->a, u = l->b, d = t - u, rise = exp(-u * x) - exp(-t * x);

    f[0] = -u / d / d * rise + t / d * x * exp(-t * x);
    f[1] = t / d / d * rise - t / d * x * exp(-u * x);
}

static void rows(const line *l, const double *x, size_t n, double *f)
{
    for (size_t i = 0; i < n; i++)
        l->row(l, x[i], f + i * l->p);
}

/* p-th root of the determinant of one run's share with equal weights at x. */
static double reached(const line *l, const double *x, size_t n)
{
    double m[100] = { 0 }, f[10], scratch[10];
    size_t q = l->p + 1;
    pl_scaled det = { 0.5, 1 };

    for (size_t i = 0; i < n; i++) {
        f[0] = l->no_mean ? 0 : 1;
        l->row(l, x[i], f + 1);
        for (size_t r = 0; r < q; r++)
            for (size_t c = 0; c < q; c++)
                m[r * q + c] += f[r] * f[c] / (double)n;
    }
    m[0] += l->no_mean;
    if (!pl_symmetric_invert(m, q, scratch, &det))
        return 0;
    return pl_scaled_root(det, l->p);
}

/* Each point to the top of the parabola through its own surroundings, again and again. */
static void sharpen(const line *l, double *x, size_t n)
{
    for (int round = 0; round < 60; round++)
        for (size_t i = 0; i < n; i++) {
            double h = (l->high - l->low) * (round < 30 ? 1e-3 : 5e-5), at = x[i], y[3];

            for (int k = 0; k < 3; k++) {
                x[i] = at + (k - 1) * h;
                y[k] = reached(l, x, n);
            }
            x[i] = at + h / 2 * (y[0] - y[2]) / (y[0] - 2 * y[1] + y[2]);
            if (!(y[0] - 2 * y[1] + y[2] < 0) || x[i] < l->low || x[i] > l->high)
                x[i] = at <= (l->low + l->high) / 2 ? fmax(l->low, fmin(at, x[i])) : l->high;
            if (at == l->low || at == l->high) /* an end is kept when the way in loses */
                x[i] = at;
        }
}

/* As many runs as columns, chosen from a grid, then sharpened: the support. */
static void find_support(bench *b, const line *l, double *x, size_t n)
{
    enum { GRID = 401 };
    double *grid = PL_NEWN(b->a, GRID, double), *f = PL_NEWN(b->a, GRID * l->p, double);
    double *weight = PL_NEWN(b->a, GRID, double);
    uint32_t run[10];
    pl_view view = { .p = l->p, .f = f, .weight = 1 };
    pl_exchange e = { .of = { .criterion = PL_CRITERION_D,
                              .ncand = GRID,
                              .nview = 1,
                              .view = &view,
                              .no_mean = l->no_mean },
                      .nrun = n,
                      .starts = 20,
                      .run = run };
    pl_weights w = { .of = e.of, .aim = 1e-3, .w = weight };

    for (size_t i = 0; i < GRID; i++)
        grid[i] = l->low + (l->high - l->low) * (double)i / (GRID - 1);
    rows(l, grid, GRID, f);
    assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
    assert_ok(b, pl_weights_find(b->a, &w, &b->d));
    for (size_t i = 0; i < n; i++) {
        size_t at = i;

        for (; at > 0 && x[at - 1] > grid[run[i]]; at--)
            x[at] = x[at - 1];
        x[at] = grid[run[i]];
    }
    assert_rel("exact and continuous", e.value, w.value, 2e-3);
    sharpen(l, x, n);
    assert_true(reached(l, x, n) <= w.bound * (1 + 2e-3));
}

/* Support points and the determinant of a record. */
static void check_support(bench *b, const pl_json *r, line l)
{
    const pl_json *expected = pl_json_get(r, "expected"), *list = pl_json_get(expected, "support");
    double x[10], det = worked_expected(r, "det_M"), largest = 0;
    size_t n = list->count;

    assert_int_equal(n, l.p + !l.no_mean);
    find_support(b, &l, x, n);
    for (size_t i = 0; i < n; i++)
        largest = fmax(largest, fabs(worked_value(pl_json_at(list, i))));
    for (size_t i = 0; i < n; i++)
        assert_abs(worked_id(r), x[i], worked_value(pl_json_at(list, i)), 1e-6 * largest);
    if (!isnan(det))
        assert_rel("det", pow(reached(&l, x, n), (double)l.p), det, 1e-8);
}

static double in(const pl_json *r, const char *key)
{
    return worked_in_value(r, key);
}

static void test_support(void **state)
{
    bench *b = *state;
    size_t n = 0;

    for (const pl_json *r = worked_list(b, "designs.json")->child; r; r = r->next, n++) {
        if (worked_in(r, "dopt-poly"))
            check_support(b, r, (line){ (size_t)in(r, "degree"), false, row_poly, 0, 0, -1, 1 });
        else if (worked_in(r, "dopt-mm"))
            check_support(
                b, r,
                (line){ 2, true, row_hyperbola, in(r, "Vmax"), in(r, "K"), 0, in(r, "xmax") });
        else if (worked_in(r, "dopt-decay"))
            check_support(b, r,
                          (line){ 2, true, row_decay, in(r, "theta"), 0, in(r, "a"), in(r, "b") });
        else if (worked_in(r, "dopt-rise"))
            check_support(b, r, (line){ 2, true, row_rise, in(r, "theta"), 0, 0, in(r, "b") });
        else if (worked_in(r, "dopt-asymptotic"))
            check_support(b, r,
                          (line){ 2, false, row_decay, in(r, "theta"), 0, in(r, "a"), in(r, "b") });
        else if (worked_in(r, "dopt-emax"))
            check_support(b, r,
                          (line){ 2, false, row_emax, in(r, "ED50"), 0, in(r, "a"), in(r, "b") });
        else if (worked_in(r, "dopt-loglin"))
            check_support(b, r, (line){ 2, false, row_log, in(r, "c"), 0, in(r, "a"), in(r, "b") });
        else if (!strcmp(worked_id(r), "designs:dopt/box-lucas"))
            check_support(b, r, (line){ 2, true, row_two_steps, 0.7, 0.2, 0.01, 20 });
        else
            n--;
    }
    assert_int_equal(n, 16);
}

/* The nine points of the square: published weights of corners, edges and centre. */
static void test_square(void **state)
{
    bench *b = *state;
    double f[9][5], w[9], equal = 1;
    pl_view view = { .p = 5, .f = &f[0][0], .weight = 1 };
    pl_weights x = { .of = { .criterion = PL_CRITERION_D, .ncand = 9, .nview = 1, .view = &view },
                     .aim = 1e-14,
                     .w = w };
    uint32_t run[9];
    pl_exchange e = { .of = x.of, .nrun = 9, .distinct = true, .starts = 1, .run = run };
    size_t n = 0;

    for (int i = 0; i < 9; i++) {
        double u = i / 3 - 1, v = i % 3 - 1;

        memcpy(f[i], (double[]){ u, v, u * u, v * v, u * v }, sizeof f[i]);
    }
    assert_ok(b, pl_weights_find(b->a, &x, &b->d));
    assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
    for (const pl_json *r = worked_list(b, "designs.json")->child; r; r = r->next) {
        if (!strcmp(worked_id(r), "designs:dopt/quad2-square")) {
            for (int i = 0; i < 9; i++)
                assert_abs("weight", w[i],
                           worked_expected(r, i == 4       ? "w_centre"
                                              : i % 2 == 0 ? "w_each_corner"
                                                           : "w_each_edge"),
                           1e-6);
            assert_rel("det", pow(x.value, 5), worked_expected(r, "det"), 1e-8);
            assert_rel("bound", pow(x.bound, 5), worked_expected(r, "det"), 1e-8);
            n++;
        } else if (worked_in(r, "deff")) {
            assert_rel("det", pow(e.value, 5), worked_expected(r, "det_M"), 1e-8);
            assert_rel("D efficiency", pow(e.value / x.value, 5. / 6), worked_expected(r, "D_eff"),
                       1e-8);
            n++;
        }
        equal += worked_in(r, "dopt");
    }
    assert_int_equal(n, 2);
}

/* Parts of a mixture in tenths, columns x_i and x_i x_j: vertices and middles of edges. */
static void test_mixture(void **state)
{
    bench *b = *state;
    size_t n = 0;

    for (const pl_json *r = worked_list(b, "designs.json")->child; r; r = r->next) {
        size_t k = (size_t)in(r, "components"), p = k * (k + 1) / 2, ncand = 0;
        double *f = PL_NEWN(b->a, 14641 * 10, double), *w = PL_NEWN(b->a, 14641, double);
        pl_view view = { .p = p, .f = f, .weight = 1 };
        uint32_t run[10];
        pl_exchange e;

        if (!worked_in(r, "dopt-mixture"))
            continue;
        for (unsigned t = 0; t < 14641; t++) { /* 11^4 */
            double x[4], *row = f + ncand * p;
            unsigned part[4] = { t % 11, t / 11 % 11, t / 121 % 11, t / 1331 };
            size_t at = k;

            if (part[0] + part[1] + part[2] + part[3] != 10 || (k == 2 && t >= 121))
                continue;
            for (size_t i = 0; i < k; i++) {
                row[i] = x[i] = part[i] / 10.;
                for (size_t j = 0; j < i; j++)
                    row[at++] = x[i] * x[j];
            }
            ncand++;
        }
        e = (pl_exchange){ .of = { PL_CRITERION_D, ncand, 1, &view, NULL, true, 0 },
                           .nrun = p,
                           .starts = 5,
                           .run = run };
        assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
        assert_int_equal(worked_expected(r, "n_support"), p);
        assert_rel("det", pow(e.value, (double)p), worked_expected(r, "det_M"), 1e-10);
        assert_ok(b,
                  pl_weights_find(b->a, &(pl_weights){ .of = e.of, .aim = 1e-3, .w = w }, &b->d));
        n++;
    }
    assert_int_equal(n, 2);
}

/* Determinant by elimination with pivots; columns 1 and the signs of each run. */
static double determinant(const double *f, const uint32_t *run, size_t n)
{
    double m[16][16], det = 1;

    for (size_t i = 0; i < n; i++) {
        m[i][0] = 1;
        for (size_t k = 1; k < n; k++)
            m[i][k] = f[run[i] * (n - 1) + k - 1];
    }
    for (size_t k = 0; k < n; k++) {
        size_t top = k;

        for (size_t i = k; i < n; i++)
            top = fabs(m[i][k]) > fabs(m[top][k]) ? i : top;
        for (size_t c = 0; c < n; c++) {
            double kept = m[k][c];

            m[k][c] = m[top][c];
            m[top][c] = kept;
        }
        det *= m[k][k];
        for (size_t i = k + 1; i < n; i++)
            for (size_t c = n; c-- > k;)
                m[i][c] -= m[i][k] / m[k][k] * m[k][c];
    }
    return fabs(det);
}

/* Largest determinants of signs (Barba 1933 and others): n runs of n - 1 factors of two levels,
 * by coordinate exchange. */
static void test_largest_determinants(void **state)
{
    bench *b = *state;
    size_t seen = 0;

    for (const pl_json *r = worked_list(b, "designs.json")->child; r; r = r->next) {
        size_t n = (size_t)in(r, "n"), ncand;
        double *f, most = worked_expected(r, "maxdet"), p;
        uint32_t radix[16], run[16];
        pl_view view;
        pl_exchange e;

        if (!worked_in(r, "maxdet"))
            continue;
        seen++;
        if (n == 1) {
            assert_true(most == 1); /* a sign: nothing to search */
            continue;
        }
        ncand = (size_t)1 << (n - 1);
        f = PL_NEWN(b->a, ncand * (n - 1), double);
        for (size_t t = 0; t < ncand; t++)
            for (size_t k = 0; k < n - 1; k++)
                f[t * (n - 1) + k] = t >> (n - 2 - k) & 1 ? 1 : -1;
        for (size_t k = 0; k < n - 1; k++)
            radix[k] = 2;
        view = (pl_view){ .p = n - 1, .f = f, .weight = 1 };
        e = (pl_exchange){
            .of = { .criterion = PL_CRITERION_D, .ncand = ncand, .nview = 1, .view = &view },
            .nrun = n,
            .radix = radix,
            .nradix = n - 1,
            .starts = 4000,
            .work = (size_t)2000000000,
            .run = run
        };
        assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
        assert_rel("largest determinant", determinant(f, run, n), most, 1e-12);
        p = (double)n - 1;
        assert_rel("as a design", pow(e.value, p / (double)n),
                   worked_expected(r, "D_efficiency_of_saturated_first_order"), 1e-9);
    }
    assert_int_equal(seen, 8);
}

/* -------------------------------------------------- against going through -- */

/* Every choice of 5 of 7 points on a line, repeats allowed, columns x and x^2: none better. */
static void test_gone_through(void **state)
{
    bench *b = *state;
    double f[7][2], best[2] = { 0, INFINITY }, even[9] = { 0 };
    pl_view view = { .p = 2, .f = &f[0][0], .weight = 1 };
    uint32_t run[5];

    for (int i = 0; i < 7; i++) {
        double x = i / 3. - 1 + (i == 2) * 0.07, row[3] = { 1, x, x * x };

        f[i][0] = x;
        f[i][1] = x * x;
        for (int k = 0; k < 9; k++)
            even[k] += row[k / 3] * row[k % 3] / 7;
    }
    for (int t = 0; t < 16807; t++) {
        double m[9] = { 0 }, scratch[3], trace = 0;
        pl_scaled det = { 0.5, 1 };
        int rest = t;

        for (int i = 0; i < 5; i++, rest /= 7) {
            double row[3] = { 1, f[rest % 7][0], f[rest % 7][1] };

            for (int k = 0; k < 9; k++)
                m[k] += row[k / 3] * row[k % 3];
        }
        if (!pl_symmetric_invert(m, 3, scratch, &det))
            continue;
        for (int k = 0; k < 9; k++)
            trace += m[k] * even[k];
        best[0] = fmax(best[0], ldexp(det.m, (int)det.e));
        best[1] = fmin(best[1], trace);
    }
    for (int c = 0; c < 2; c++) {
        pl_exchange e = { .of = { .criterion = c ? PL_CRITERION_I : PL_CRITERION_D,
                                  .ncand = 7,
                                  .nview = 1,
                                  .view = &view },
                          .nrun = 5,
                          .starts = 10,
                          .run = run };
        double w[7];
        pl_weights x = { .of = e.of, .aim = 1e-9, .w = w };

        assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
        assert_ok(b, pl_weights_find(b->a, &x, &b->d));
        if (c) {
            assert_rel("mean variance", e.value, best[1], 1e-12);
            assert_true(x.bound / 5 <= e.value);
            assert_rel("I bound", x.bound, x.value, 1e-7);
        } else {
            assert_rel("determinant", pow(5 * e.value, 2) * 5, best[0], 1e-12);
            assert_true(x.bound >= e.value);
        }
    }
}

/* One guess: the variance of x at 0.3 of a straight line; every choice of 4 of 5 places. */
static void test_one_aim(void **state)
{
    bench *b = *state;
    double x[5] = { -1, -0.4, 0, 0.5, 1 }, aim[2] = { 1, 0.3 }, best = INFINITY, w[5];
    pl_view view = { .p = 1, .f = x, .aim = aim, .weight = 1 };
    uint32_t run[4];
    pl_exchange e = { .of = { .criterion = PL_CRITERION_C, .ncand = 5, .nview = 1, .view = &view },
                      .nrun = 4,
                      .starts = 10,
                      .run = run };
    pl_weights c = { .of = e.of, .aim = 1e-3, .w = w };

    for (int t = 0; t < 625; t++) {
        double sum = 0, square = 0;
        int rest = t;

        for (int i = 0; i < 4; i++, rest /= 5) {
            sum += x[rest % 5];
            square += x[rest % 5] * x[rest % 5];
        }
        square -= sum * sum / 4;
        if (square > 1e-9)
            best = fmin(best, 0.25 + (0.3 - sum / 4) * (0.3 - sum / 4) / square);
    }
    assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
    assert_rel("variance", e.value, best, 1e-12);
    assert_ok(b, pl_weights_find(b->a, &c, &b->d));
    assert_true(c.bound / 4 <= best + 1e-12);
    assert_rel("one run's worth: Elfving 1952, between the ends", c.bound, 1, 2e-3);
}

/* Runs that were made stay, in a block of their own, and the others make up for them. */
static void test_fixed(void **state)
{
    bench *b = *state;
    double f[27][3];
    bool may[27];
    pl_view view = { .p = 3, .f = &f[0][0], .weight = 1 };
    uint32_t run[10] = { 26, 26, 25, 26 }, block[10] = { 0, 0, 0, 0, 1, 1, 1, 2, 2, 2 };
    pl_exchange e = { .of = { PL_CRITERION_D, 27, 1, &view, may, false, 0 },
                      .nrun = 10,
                      .nfixed = 4,
                      .block = block,
                      .nblock = 3,
                      .starts = 3,
                      .run = run };
    uint32_t again[10];

    for (int t = 0; t < 27; t++) {
        f[t][0] = t / 9 - 1;
        f[t][1] = t / 3 % 3 - 1;
        f[t][2] = t % 3 - 1;
        may[t] = t != 0 && t < 24; /* the fixed ones may not be made any more */
    }
    assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
    assert_memory_equal(run, ((uint32_t[]){ 26, 26, 25, 26 }), 4 * sizeof *run);
    for (int i = 4; i < 10; i++)
        assert_true(may[run[i]]);
    memcpy(again, run, sizeof run);
    assert_ok(b, pl_exchange_search(b->a, &e, &b->d));
    assert_memory_equal(run, again, sizeof run);
    memset(may, 0, sizeof may);
    assert_code(b, PL_EUSAGE, pl_exchange_search(b->a, &e, &b->d));
    may[3] = true; /* one point tells nothing */
    e.nfixed = 0;
    assert_code(b, PL_ERANK, pl_exchange_search(b->a, &e, &b->d));
}

/* ------------------------------------------------------------------ plans -- */

static void levels_of(bench *b, shop *w, const char *name, size_t nlevel, bool numeric)
{
    pl_factor *f = shop_factor(b, w, name, nlevel);

    f->numeric = numeric;
    for (size_t i = 0; i < nlevel; i++)
        f->levels[i] = (pl_level){ .text = pl_arena_printf(b->a, "%s%zu", numeric ? "" : name,
                                                           i + 1),
                                   .si = numeric ? (double)i + 1 : NAN };
}

static void apart(bench *b, shop *w, size_t one, size_t level, size_t other, size_t level2)
{
    pl_apart *list = PL_NEWN(b->a, w->s.napart + 1, pl_apart);
    const bool **in = PL_NEWN(b->a, w->s.nfactor, const bool *);
    bool *x = PL_NEWN(b->a, w->factors[one].nlevel, bool);
    bool *y = PL_NEWN(b->a, w->factors[other].nlevel, bool);

    if (w->s.napart)
        memcpy(list, w->s.apart, w->s.napart * sizeof *list);
    x[level] = y[level2] = true;
    in[one] = x;
    in[other] = y;
    list[w->s.napart++].in = in;
    w->s.apart = list;
}

/* No board holds more than it has room for, and each its own wood only. */
static void check_room(const shop *w, const pl_plan *p)
{
    int with = pl_study_with_board(&w->s);

    for (size_t k = 0; k < p->nboard; k++) {
        const pl_stock *stock = &w->boards[p->boards[k].stock];
        size_t n = 0;

        for (size_t i = 0; i < p->nglue_up; i++) {
            const pl_glue_up *g = &p->glue_ups[i];

            if (g->board != (int)k)
                continue;
            n++;
            if (with >= 0)
                assert_string_equal(stock->species,
                                    w->s.factors[with].levels[level_of(p, g, with)].text);
        }
        assert_in_range(n, 1, stock->specimens);
    }
}

static void check_meeting(const shop *w, const pl_plan *p)
{
    size_t made = 0;

    for (size_t g = 0; g < p->nglue_up; g++) {
        if (p->glue_ups[g].spare)
            continue;
        made++;
        assert_true(
            pl_study_may_meet(&w->s, p->treatments + p->glue_ups[g].treatment * p->nfactor));
    }
    if (w->s.arrangement.runs)
        assert_int_equal(made, w->s.arrangement.runs);
}

static const pl_plan *draw(bench *b, const shop *w, uint64_t seed)
{
    const pl_plan *p = NULL;

    assert_ok(b, pl_plan_make(b->a, &w->s, NULL, 1, seed, NULL, &p, &b->d));
    check_room(w, p);
    assert_true(fabs(spearman(b, &w->s, p, 0)) <= p->health.order_balance + 1e-12);
    check_sessions(w, p);
    check_specimens(b, p);
    check_health(p);
    check_meeting(w, p);
    return p;
}

/* Random studies: what may not meet never does, sets keep their size, same seed same plan, and
 * the plan is there again after writing and reading. */
static void test_random_plans(void **state)
{
    size_t made = 0, good = 0;
    pl_stream r;

    (void)state;
    pl_stream_init(&r, 5, PL_FOR_TEST, 1);
    for (size_t k = 0; k < 120; k++) {
        bool species = pl_stream_below(&r, 2), curved = pl_stream_below(&r, 2);
        size_t n2 = 2 + pl_stream_below(&r, 3);
        const pl_plan *p, *back;
        pl_jval *object;
        const pl_json *json;
        char *text;
        void *own;
        bench *b;
        shop w;

        bench_open(&own);
        b = own;
        shop_open(&w);
        shop_pressure(b, &w, 3, pl_stream_below(&r, 2));
        levels_of(b, &w, "glue", n2, false);
        levels_of(b, &w, "warmth", 3, true);
        if (species)
            shop_words(b, &w, "species", woods, 2, true);
        apart(b, &w, 0, pl_stream_below(&r, 3), 1, pl_stream_below(&r, (uint32_t)n2));
        apart(b, &w, 1, pl_stream_below(&r, (uint32_t)n2), 2, pl_stream_below(&r, 3));
        w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_OPTIMAL,
                                        .criterion = pl_stream_below(&r, 2) ? PL_CRITERION_D
                                                                            : PL_CRITERION_I,
                                        .asks = curved ? PL_ASKS_CURVED : PL_ASKS_SINGLE,
                                        .runs = (species ? 2 : 1) * (24 + pl_stream_below(&r, 9)) };
        if (pl_stream_below(&r, 3)) {
            shop_boards(&w, species ? "beech" : "", 9, 6 + pl_stream_below(&r, 20));
            if (species)
                shop_boards(&w, "larch", 9, 6 + pl_stream_below(&r, 20));
        }
        shop_press(&w, "bench press", 1 + pl_stream_below(&r, 3), -1);
        p = draw(b, &w, k);
        assert_string_equal(shop_text(b, &w.s, p), shop_text(b, &w.s, draw(b, &w, k)));
        object = pl_jobject(b->a);
        assert_ok(b, pl_plan_to_json(&w.s, p, object));
        text = pl_jtext(b->a, object);
        assert_ok(b, pl_json_parse(b->a, "p", text, strlen(text), &json, &b->d));
        assert_ok(b, pl_plan_from_json(b->a, &w.s, json, &back, &b->d));
        assert_string_equal(shop_text(b, &w.s, back), shop_text(b, &w.s, p));
        assert_true(back->health.criterion_efficiency == p->health.criterion_efficiency);
        assert_true(p->health.criterion_efficiency > 0 && p->health.criterion_efficiency <= 1);
        good += p->health.criterion_efficiency > 0.8;
        made++;
        bench_close(&own);
    }
    printf("%zu of %zu within a fifth of what no choice can pass\n", good, made);
    assert_true(good > made / 2);
}

/* Six columns: the plan, the round, slope, square and paste, slope times paste. */
static double determinant_of(const int *rows, size_t nold, size_t n)
{
    double m[6][6] = { { 0 } }, det = 1;

    for (size_t i = 0; i < n; i++) {
        double x = rows[2 * i] - 1, z = rows[2 * i + 1] ? -1 : 1;
        double row[6] = { i < nold, i >= nold, x, x * x, z, x * z };

        for (int j = 0; j < 6; j++)
            for (int k = 0; k < 6; k++)
                m[j][k] += row[j] * row[k];
    }
    for (int k = 0; k < 6; k++) {
        det *= m[k][k];
        if (!(m[k][k] > 1e-9))
            return 0;
        for (int i = k + 1; i < 6; i++)
            for (int j = 5; j >= k; j--)
                m[i][j] -= m[i][k] / m[k][k] * m[k][j];
    }
    return det;
}

/* A further round of three and of four: no other three or four, of all 216 and 1296 orders of six
 * combinations gone through, leave a larger determinant beside what the plan has. */
static void test_round_gone_through(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    int rows[40 * 2], more[4 * 2];
    double reached;
    size_t nold = 0;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 3, false);
    levels_of(b, &w, "paste", 2, false);
    shop_press(&w, "bench press", 2, -1);
    w.s.arrangement = (pl_arrange){
        .kind = PL_ARRANGE_OPTIMAL, .criterion = PL_CRITERION_D, .asks = PL_ASKS_CURVED, .runs = 7
    };
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, 2, NULL, &p, &b->d));
    for (size_t i = 0; i < p->nglue_up; i++)
        memcpy(rows + 2 * nold++, p->treatments + 2 * p->glue_ups[i].treatment, sizeof rows[0] * 2);
    assert_int_equal(nold, 7);
    for (size_t n = 3; n <= 4; n++) {
        double best = 0, ours;

        assert_ok(b, pl_optimal_further(b->a, &w.s, NULL, p, n, more, &reached, &b->d));
        assert_true(reached > 0.5 && reached <= 1);
        memcpy(rows + 2 * nold, more, n * 2 * sizeof *more);
        ours = determinant_of(rows, nold, nold + n);
        for (size_t code = 0; code < (n == 3 ? 216u : 1296u); code++) {
            for (size_t i = 0, rest = code; i < n; i++, rest /= 6) {
                rows[2 * (nold + i)] = (int)(rest % 6 / 2);
                rows[2 * (nold + i) + 1] = (int)(rest % 6 % 2);
            }
            best = fmax(best, determinant_of(rows, nold, nold + n));
        }
        assert_rel("largest determinant of all rounds", ours, best, 1e-9);
    }
}

/* All combinations but those that may not meet: estimability is said, and the count is kept. */
static void test_combinations_left_out(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 4, false);
    levels_of(b, &w, "glue", 3, false);
    apart(b, &w, 0, 3, 1, 2);
    apart(b, &w, 0, 2, 1, 2);
    shop_press(&w, "bench press", 2, -1);
    assert_int_equal(pl_study_treatments(&w.s), 10);
    p = make(b, &w, 2, 1);
    check_meeting(&w, p);
    assert_int_equal(p->ntreatment, 10);
    assert_non_null(strstr(shop_text(b, &w.s, p),
                           "the joint effect of pressure and glue is shown only in part"));
    w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_SCREENING, .runs = 8 };
    w.factors[0].nlevel = w.factors[1].nlevel = 2;
    w.s.napart = 0;
    apart(b, &w, 0, 1, 1, 1);
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "2 of the 8 combinations of a screening may not meet");
    assert_finding(b, "arrangement kind optimal, runs 8, chooses among those that may");
}

static void test_refused(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 2, false);
    levels_of(b, &w, "glue", 2, false);
    apart(b, &w, 0, 0, 1, 1); /* the two now always change together, but for one row */
    apart(b, &w, 0, 1, 1, 0);
    w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_OPTIMAL, .asks = PL_ASKS_SINGLE, .runs = 8 };
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "the effect of glue cannot be told from the others");
    w.s.napart = 0;
    shop_rig(&w, "jack");
    shop_points(&w, 2, 2, -1, -1);
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, &w.points, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "no combination is left that may meet and that a rig can press");
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 2, 1, NULL, &p, &b->d));
    assert_finding(b, "`runs` counts its glue-ups");
    shop_boards(&w, "", 9, 1);
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "8 runs on 8 boards do not tell 3 figures from one another");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_support),
        TEST(test_square),
        TEST(test_mixture),
        TEST(test_largest_determinants),
        TEST(test_gone_through),
        TEST(test_one_aim),
        TEST(test_fixed),
        TEST(test_random_plans),
        TEST(test_round_gone_through),
        TEST(test_combinations_left_out),
        TEST(test_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
