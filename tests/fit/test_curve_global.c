/* The optimum found is the global one: against brute force on 200 invented sets. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>

#include "base/stream.h"
#include "fit/curve.h"
#include "support.h"

#define UNITS_MOST 40

typedef struct invented {
    size_t n, q;
    double x[UNITS_MOST], y[UNITS_MOST], block[UNITS_MOST * 2];
} invented;

/* 4 to 7 levels of 2 to 5 units, some as made rather than as planned, some with 3 sessions, over a
 * truth that is a plateau, a line, a step, a curve that falls, or nothing. */
static invented invent(uint64_t draw)
{
    invented k = { 0 };
    pl_stream s;
    size_t levels, per, kind = draw % 6;
    double x = 0, noise;
    bool jitter = draw % 3 == 1;

    pl_stream_init(&s, 20, PL_FOR_TEST, draw);
    levels = 4 + pl_stream_below(&s, 4);
    per = 2 + pl_stream_below(&s, 4);
    noise = 0.1 + 2 * pl_stream_unit(&s);
    k.q = draw % 4 == 2 ? 2 : 0;
    if (draw % 5 == 0)
        x = -1; /* the first level then lies at 0 */
    for (size_t l = 0; l < levels; l++) {
        x = x < 0 ? 0 : x + 0.2 + 0.8 * pl_stream_unit(&s);
        for (size_t i = 0; i < per && k.n < UNITS_MOST; i++) {
            double at = jitter && x > 0 ? x * (1 + 0.05 * pl_stream_normal(&s)) : x;
            double rise = kind == 0   ? fmin(at / 1.3, 1)
                          : kind == 1 ? at / 3
                          : kind == 2 ? at > 0.9
                          : kind == 3 ? 1 - exp(-2 * at)
                          : kind == 4 ? -fmin(at, 1.5)
                                      : 0;

            k.x[k.n] = at;
            k.y[k.n] = 5 + 4 * rise + noise * pl_stream_normal(&s);
            if (k.q) {
                size_t b = (i + l) % 3;

                k.block[2 * k.n] = b == 0 ? 1 : b == 2 ? -1 : 0;
                k.block[2 * k.n + 1] = b == 1 ? 1 : b == 2 ? -1 : 0;
            }
            k.n++;
        }
    }
    return k;
}

/* Residual sum of squares of the curve's own g by GSL's QR on dense columns. */
static double dense_ss(const invented *k, const double *g, const double *floor)
{
    size_t p = k->q + (floor ? 1 : 2);
    gsl_matrix *X;
    gsl_vector *y, *tau, *b, *r;
    double ss = 0, length = 0, mean = 0;

    for (size_t i = 0; i < k->n; i++)
        mean += g[i] / (double)k->n;
    for (size_t i = 0; i < k->n; i++)
        length += (g[i] - mean) * (g[i] - mean);
    length = sqrt(length);
    if (!floor && !(length > 1e-12)) /* a constant: no second column, QR would divide by 0 */
        return INFINITY;
    X = gsl_matrix_calloc(k->n, p);
    y = gsl_vector_alloc(k->n);
    tau = gsl_vector_alloc(p);
    b = gsl_vector_alloc(p);
    r = gsl_vector_alloc(k->n);
    for (size_t i = 0; i < k->n; i++) {
        /* centred and scaled: the same span, well conditioned */
        gsl_matrix_set(X, i, 0, floor ? g[i] : (g[i] - mean) / length);
        if (!floor)
            gsl_matrix_set(X, i, 1, 1);
        for (size_t j = 0; j < k->q; j++)
            gsl_matrix_set(X, i, p - k->q + j, k->block[i * k->q + j]);
        gsl_vector_set(y, i, k->y[i] - (floor ? *floor : 0));
    }
    gsl_linalg_QR_decomp(X, tau);
    gsl_linalg_QR_lssolve(X, tau, y, b, r);
    for (size_t i = 0; i < k->n; i++)
        ss += gsl_vector_get(r, i) * gsl_vector_get(r, i);
    gsl_matrix_free(X);
    gsl_vector_free(y);
    gsl_vector_free(tau);
    gsl_vector_free(b);
    gsl_vector_free(r);
    return isfinite(ss) ? ss : INFINITY;
}

/* With the floor free any multiple of g plus a constant spans the same: exp(-su) keeps the digits
 * that 1 - exp(-su) loses at fast rates. */
static double brute_ss(const invented *k, const char *name, double s, const double *floor)
{
    double g[UNITS_MOST];

    for (size_t i = 0; i < k->n; i++) {
        double u = k->x[i];

        g[i] = !strcmp(name, "linear-plateau")           ? fmin(u / s, 1)
               : !strcmp(name, "quadratic-plateau")      ? 1 - pow(fmax(1 - u / s, 0), 2)
               : !strcmp(name, "saturating-exponential") ? (floor ? -expm1(-s * u) : exp(-s * u))
                                                         : u / (s + u);
    }
    return dense_ss(k, g, floor);
}

/* Least over a fine grid: nobody's search, so an upper bound of the true least. */
static double brute(const invented *k, const char *name, const double *floor)
{
    const bool knee = strstr(name, "plateau") != NULL;
    double high = 0, best = INFINITY;

    for (size_t i = 0; i < k->n; i++)
        high = fmax(high, k->x[i]);
    for (int i = 1; i <= 600; i++) {
        double f = i / 600.0;
        double s = knee ? high * f * (!strcmp(name, "linear-plateau") ? 1 : 2)
                        : exp(log(1e-2) + log(1e4) * f);

        best = fmin(best, brute_ss(k, name, s, floor));
    }
    return best;
}

static void test_global_optimum(void **state)
{
    static const char *const names[] = { "linear-plateau", "quadratic-plateau",
                                         "saturating-exponential", "saturating-hyperbola" };
    bench *b = *state;
    size_t limits = 0, draws = getenv("PLATEN_LONG") ? 2000 : 200;

    for (uint64_t draw = 0; draw < draws; draw++) {
        invented k = invent(draw);
        pl_mark mark = pl_arena_mark(b->a);
        pl_curve_rows rows;
        double low = INFINITY, high = 0, floor = 5;

        for (size_t i = 0; i < k.n; i++) {
            low = fmin(low, k.x[i]);
            high = fmax(high, k.x[i]);
        }
        assert_ok(b, pl_curve_rows_make(b->a, k.x, k.y, k.n, k.block, k.q, NULL, &rows, &b->d));
        for (size_t c = 0; c < 4; c++) {
            const double *fixed = draw % 7 == 3 ? &floor : NULL;
            pl_curve_model m;
            double wanted = brute(&k, names[c], fixed);

            assert_ok(b, pl_curve_model_fit(b->a, pl_curve_find(names[c]), &rows, false, 1, low,
                                            high, 0.95, fixed, &m, &b->d));
            limits += m.best.limit != NULL;
            if (!(m.ss <= wanted * (1 + 1e-10)))
                fail_msg("draw %zu, %s: %.17g, brute force finds %.17g", (size_t)draw, names[c],
                         m.ss, wanted);
            /* and what is claimed is there: the same shape gives it to the dense fit */
            if (!m.best.limit)
                assert_rel(names[c], m.ss, brute_ss(&k, names[c], m.best.s, fixed), 1e-9);
        }
        pl_arena_reset(b->a, mark);
    }
    assert_true(limits > 20); /* the sets do reach the edges */
}

/* Held fits: never below the free one, equal to it at the onset, and continuous there. */
static void test_held(void **state)
{
    bench *b = *state;

    for (uint64_t draw = 0; draw < 40; draw++) {
        invented k = invent(draw);
        pl_curve_rows rows;
        double low = INFINITY, high = 0;

        for (size_t i = 0; i < k.n; i++) {
            low = fmin(low, k.x[i]);
            high = fmax(high, k.x[i]);
        }
        assert_ok(b, pl_curve_rows_make(b->a, k.x, k.y, k.n, k.block, k.q, NULL, &rows, &b->d));
        for (size_t c = 0; c < 4; c++) {
            static const char *const names[] = { "line", "linear-plateau", "quadratic-plateau",
                                                 "saturating-exponential" };
            pl_curve_model m;

            assert_ok(b, pl_curve_model_fit(b->a, pl_curve_find(names[c]), &rows, false, 1, low,
                                            high, 0.95, NULL, &m, &b->d));
            for (int i = 1; i < 20; i++) {
                double t = low + (high - low) * i / 20;

                if (!(pl_curve_model_held(&m, PL_HELD_ONSET, t) >= m.best.ss * (1 - 1e-9)))
                    fail_msg("%s held at %g is below its optimum", names[c], t);
            }
            if (m.onset > low && m.onset < high)
                assert_rel(names[c], pl_curve_model_held(&m, PL_HELD_ONSET, m.onset), m.best.ss,
                           1e-7);
            if (m.end > low && m.end < high)
                assert_rel(names[c], pl_curve_model_held(&m, PL_HELD_END, m.end), m.best.ss, 1e-7);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_global_optimum), TEST(test_held) };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
