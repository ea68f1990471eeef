/* The trace work on records whose answers are known by construction. */
#include "shop.h"

#include "rigs/trace.h"

enum { MOST = 20000 };

typedef struct record {
    double t[MOST], f[MOST];
    size_t n;
} record;

static record rec;

static void add(double t, double f)
{
    rec.t[rec.n] = t;
    rec.f[rec.n++] = f;
}

/* no_load samples at zero_N, then a ramp of rate N/s at dt to peak_N above zero, then a
 * break to a twentieth. */
static void make(size_t no_load, double zero_N, double rate, double dt, double peak_N)
{
    double t0 = 0;

    rec.n = 0;
    for (size_t i = 0; i < no_load; i++)
        add((double)i * dt, zero_N + ((i * 7) % 3 == 0 ? 0.1 : -0.05) * (zero_N != 0));
    t0 = (double)no_load * dt;
    for (size_t i = 1; (double)i * dt * rate <= peak_N * (1 + 1e-12); i++)
        add(t0 + (double)(i - 1) * dt, zero_N + (double)i * dt * rate);
    for (int i = 0; i < 10; i++)
        add(rec.t[rec.n - 1] + dt, zero_N + peak_N / 20);
}

/* In batches of odd lengths: no batch border may show. */
static pl_trace_result run(void)
{
    pl_trace *t = malloc(sizeof *t);
    pl_trace_result r;

    assert_non_null(t);
    pl_trace_init(t);
    for (size_t i = 0, step; i < rec.n; i += step) {
        step = i % 3 == 0 ? 1 : 137;
        step = step > rec.n - i ? rec.n - i : step;
        pl_trace_add(t, rec.t + i, rec.f + i, step, 2 + i);
    }
    pl_trace_end(t, &r);
    free(t);
    return r;
}

static void no_doubt_but(const pl_trace_result *r, int one)
{
    for (int i = 0; i < PL_TRACE_NDOUBTS; i++)
        if (r->doubt[i] != (i == one))
            fail_msg("doubt %d is %d", i, r->doubt[i]);
}

/* 100 samples at 12 N, then 250 N/s at 100 Hz for 20 s to 5000 N. */
static void test_plain_ramp(void **state)
{
    pl_trace_result r;

    (void)state;
    make(100, 12, 250, 0.01, 5000);
    r = run();
    no_doubt_but(&r, -1);
    assert_abs("tare", r.tare_N, 12, 0.02);
    assert_in_range(r.tare_samples, 50, 100); /* halved away from the foot of the ramp */
    assert_rel("peak", r.peak_N, 5000, 1e-5);
    assert_int_equal(r.peak_line, 2 + 100 + 2000 - 1);
    assert_rel("rate", r.rate_N_s, 250, 1e-9);
    /* left no load (1 % of the peak) at 0.2 s, at the peak after 20 s */
    assert_abs("time", r.time_to_peak_s, 19.8, 0.011);
    assert_true(isnan(r.first_drop_N));
}

/* Longer than all tables: thinned points still give the rate. */
static void test_long_record(void **state)
{
    pl_trace_result r;

    (void)state;
    make(1500, 0, 100, 0.005, 9000);
    r = run();
    assert_true(rec.n > 4 * PL_TRACE_CURVE);
    no_doubt_but(&r, -1);
    assert_rel("peak", r.peak_N, 9000, 1e-12);
    assert_rel("rate", r.rate_N_s, 100, 1e-9);
    assert_abs("time", r.time_to_peak_s, 89.1, 0.05);
}

/* Begins under load: nothing is taken off, and it is said. */
static void test_no_no_load_stretch(void **state)
{
    pl_trace_result r;

    (void)state;
    make(0, 0, 250, 0.01, 5000);
    r = run();
    no_doubt_but(&r, PL_TRACE_NO_TARE);
    assert_int_equal(r.tare_samples, 0);
    assert_rel("peak", r.peak_N, 5000, 1e-12);
}

/* Preload counts: 3 % seating held for a while is above the tare. */
static void test_preload_counts(void **state)
{
    size_t n;
    pl_trace_result r;

    (void)state;
    make(50, 0, 250, 0.01, 5000);
    n = rec.n;
    for (size_t i = 50; i < n; i++)
        if (rec.f[i] < 150)
            rec.f[i] = 150;
    r = run();
    assert_abs("tare", r.tare_N, 0, 1e-12);
    assert_rel("peak", r.peak_N, 5000, 1e-12);
}

/* First cracking at 3000 N: a fall of 8 % that recovers. A fall of 4 % is none. */
static void test_first_drop(void **state)
{
    pl_trace_result r;

    (void)state;
    make(100, 0, 250, 0.01, 5000);
    for (size_t i = 1300; i < 1330; i++)
        rec.f[i] = 0.92 * rec.f[1299];
    r = run();
    no_doubt_but(&r, -1);
    assert_rel("first drop", r.first_drop_N, rec.f[1299], 1e-12);
    assert_int_equal(r.first_drop_line, 2 + 1299);
    assert_rel("peak", r.peak_N, 5000, 1e-12);
    make(100, 0, 250, 0.01, 5000);
    for (size_t i = 1300; i < 1330; i++)
        rec.f[i] = 0.96 * rec.f[1299];
    r = run();
    assert_true(isnan(r.first_drop_N));
}

/* Noise about no load never counts as a first drop. */
static void test_noise_is_no_drop(void **state)
{
    pl_trace_result r;
    unsigned seed = 7;

    (void)state;
    make(900, 0, 250, 0.01, 5000);
    for (size_t i = 0; i < rec.n; i++) {
        seed = seed * 1103515245u + 12345u;
        rec.f[i] += ((double)(seed >> 16 & 0xff) - 127.5) / 25; /* +-5 N */
    }
    r = run();
    assert_true(isnan(r.first_drop_N));
    no_doubt_but(&r, -1);
    assert_rel("peak", r.peak_N, 5000, 0.0015);
}

static void test_ends_at_peak(void **state)
{
    pl_trace_result r;

    (void)state;
    make(100, 0, 250, 0.01, 5000);
    rec.n -= 10;
    r = run();
    no_doubt_but(&r, PL_TRACE_ENDS_AT_PEAK);
    assert_rel("peak", r.peak_N, 5000, 1e-12);
}

/* Unloaded to 85 %: no break. To 79 %: a break (a fall of at least 20 %). */
static void test_no_break(void **state)
{
    pl_trace_result r;

    (void)state;
    make(100, 0, 250, 0.01, 5000);
    for (size_t i = rec.n - 10; i < rec.n; i++)
        rec.f[i] = 0.85 * 5000;
    r = run();
    no_doubt_but(&r, PL_TRACE_NO_BREAK);
    for (size_t i = rec.n - 10; i < rec.n; i++)
        rec.f[i] = 0.79 * 5000;
    r = run();
    no_doubt_but(&r, -1);
}

/* Clipped at 4000 N; and a coarse display that repeats every height is not clipped. */
static void test_flat_top(void **state)
{
    pl_trace_result r;

    (void)state;
    make(100, 0, 250, 0.01, 5000);
    for (size_t i = 0; i < rec.n; i++)
        rec.f[i] = fmin(rec.f[i], 4000);
    r = run();
    no_doubt_but(&r, PL_TRACE_FLAT_TOP);
    assert_rel("times", r.value[PL_TRACE_FLAT_TOP], 401, 1e-12);
    make(100, 0, 250, 0.01, 5000);
    for (size_t i = 0; i < rec.n; i++)
        rec.f[i] = 10 * floor(rec.f[i] / 10 + 1e-9); /* four of each */
    r = run();
    no_doubt_but(&r, -1);
}

/* One sample at 6000 N in the middle: not the peak. One near the top that stays: it is. */
static void test_spike(void **state)
{
    pl_trace_result r;

    (void)state;
    make(100, 0, 250, 0.01, 5000);
    rec.f[1000] = 6000;
    r = run();
    no_doubt_but(&r, PL_TRACE_SPIKES);
    assert_rel("peak", r.peak_N, 5000, 1e-12);
    assert_rel("spike", r.value[PL_TRACE_SPIKES], 6000, 1e-12);
    assert_int_equal(r.line[PL_TRACE_SPIKES], 1002);
    assert_rel("rate", r.rate_N_s, 250, 1e-9);
    /* the last sample before the break is a peak, not a spike: the load is gone after it */
    make(100, 0, 250, 0.01, 5000);
    rec.f[rec.n - 11] = 5400;
    r = run();
    no_doubt_but(&r, -1);
    assert_rel("peak", r.peak_N, 5400, 1e-12);
}

/* A ramp of T = 20 s at f: up to 1/(T f) of the peak is lost: 2.5 % at 2 Hz, 0.5 % at
 * 10 Hz (derived; rate x interval / peak). */
static void test_slow_sampling(void **state)
{
    pl_trace_result r;

    (void)state;
    make(10, 0, 250, 0.5, 5000);
    r = run();
    no_doubt_but(&r, PL_TRACE_SAMPLING);
    assert_rel("2.5 %", r.value[PL_TRACE_SAMPLING], 0.025, 1e-9);
    make(20, 0, 250, 0.1, 5000);
    r = run();
    no_doubt_but(&r, -1);
}

/* What is really missed: a ramp of 20 s that breaks anywhere between two samples. Worst
 * and mean miss at 2 Hz 2.5 and 1.25 %, at 10 Hz 0.5 and 0.25 % (derived: 1/(T f), and half
 * of it). The doubt's value bounds every single miss. */
static void test_sampling_misses(void **state)
{
    static const double hz[] = { 2, 10 };

    (void)state;
    for (size_t k = 0; k < 2; k++) {
        double dt = 1 / hz[k], worst = 0, sum = 0;
        int phases = 200;

        for (int p = 0; p < phases; p++) {
            double shift = dt * (p + 0.5) / phases, miss; /* from the last sample to the break */
            pl_trace_result r;

            rec.n = 0;
            for (int i = 0; i < 20; i++)
                add(i * dt, 0);
            for (double t = 20 - shift; t > 0; t -= dt) /* backwards from the last sample */
                rec.n++;
            for (size_t i = rec.n; i > 20; i--) {
                rec.t[i - 1] = (double)(i - 1) * dt;
                rec.f[i - 1] = 250 * (20 - shift - (double)(rec.n - i) * dt);
            }
            for (int i = 0; i < 10; i++)
                add((double)rec.n * dt, 100);
            r = run();
            miss = 1 - r.peak_N / 5000;
            worst = fmax(worst, miss);
            sum += miss;
            if (!(miss <= r.value[PL_TRACE_SAMPLING]))
                fail_msg("missed %g, said %g", miss, r.value[PL_TRACE_SAMPLING]);
        }
        assert_rel("worst", worst, 1 / (20 * hz[k]), 0.01);
        assert_rel("mean", sum / phases, 1 / (40 * hz[k]), 0.01);
    }
}

/* 30 of 2000 samples never came; a clock that is irregular throughout is none of these. */
static void test_dropped_samples(void **state)
{
    pl_trace_result r;

    (void)state;
    make(100, 0, 250, 0.01, 5000);
    for (size_t i = 900; i + 30 < rec.n; i++) {
        rec.t[i] = rec.t[i + 30];
        rec.f[i] = rec.f[i + 30];
    }
    rec.n -= 30;
    r = run();
    no_doubt_but(&r, PL_TRACE_DROPPED);
    assert_rel("gaps", r.value[PL_TRACE_DROPPED], 1, 0);
    assert_rel("longest", r.gap_s, 0.31, 1e-9);
    assert_int_equal(r.line[PL_TRACE_DROPPED], 902);
    make(100, 0, 250, 0.01, 5000);
    for (size_t i = 0; i < rec.n; i++)
        rec.t[i] += (double)(i / 7) * 0.05;
    r = run();
    assert_false(r.doubt[PL_TRACE_DROPPED]);
}

/* n loads of these heights, no load between. */
static void several(const double *high, size_t n)
{
    rec.n = 0;
    for (size_t k = 0; k < n; k++) {
        for (int i = 0; i < 50; i++)
            add((double)rec.n * 0.01, i % 3 * 0.1);
        for (int i = 1; i <= 400; i++)
            add((double)rec.n * 0.01, high[k] * i / 400);
    }
    for (int i = 0; i < 50; i++)
        add((double)rec.n * 0.01, 0);
}

static void test_several_loads(void **state)
{
    static const double high[] = { 3000, 5000, 900, 4000 }; /* the third: 18 %, seating */
    static pl_trace_split split;
    pl_trace_result r;

    (void)state;
    several(high, 4);
    r = run();
    no_doubt_but(&r, PL_TRACE_LOADS_MORE);
    assert_rel("loads", r.value[PL_TRACE_LOADS_MORE], 3, 0);
    pl_trace_split_init(&split);
    for (size_t i = 0; i < rec.n; i += 100)
        pl_trace_split_add(&split, rec.t + i, rec.f + i, rec.n - i < 100 ? rec.n - i : 100, 2 + i);
    pl_trace_split_end(&split);
    assert_int_equal(split.n, 3);
    for (size_t k = 0; k < 3; k++) {
        const pl_trace_result *one = &split.ended[k];

        /* the tare may hold some of the ramp's foot: a hundredth of its band, 1 % of the
         * peak; and the made-up noise of 0.1 N */
        assert_abs("peak", one->peak_N, high[k == 2 ? 3 : k],
                   0.01 * PL_TRACE_NO_LOAD * high[k == 2 ? 3 : k] + 0.2);
        assert_rel("rate", one->rate_N_s, high[k == 2 ? 3 : k] / 4, 1e-6);
        assert_false(pl_trace_held(one));
    }
    assert_int_equal(split.ended[1].peak_line, 2 + 450 + 50 + 400 - 1);
    /* a first cracking that nearly lets go for two samples is one load */
    make(100, 0, 250, 0.01, 5000);
    rec.f[1300] = rec.f[1301] = 20;
    r = run();
    no_doubt_but(&r, -1);
    assert_rel("first drop", r.first_drop_N, rec.f[1299], 1e-12);
}

/* More than can be told apart: seating falls out, the rest is counted up to the limit. */
static void test_many_loads(void **state)
{
    static pl_trace_split split;
    pl_trace_result r;

    (void)state;
    rec.n = 0;
    for (int k = 0; k < 200; k++) {
        for (int i = 0; i < 8; i++)
            add((double)rec.n, 0);
        for (int i = 1; i <= 10; i++)
            add((double)rec.n, i * (k < 150 ? 1 : 20));
    }
    r = run();
    assert_true(r.value[PL_TRACE_LOADS_MORE] > 40);
    pl_trace_split_init(&split);
    pl_trace_split_add(&split, rec.t, rec.f, rec.n, 2);
    pl_trace_split_end(&split);
    assert_true(split.n > 40);
    for (size_t i = 0; i < split.n; i++)
        assert_rel("peak", split.ended[i].peak_N, 200, 1e-12);
}

static void test_time_backwards(void **state)
{
    pl_trace_result r;

    (void)state;
    make(100, 0, 250, 0.01, 5000);
    rec.t[700] -= 1;
    r = run();
    no_doubt_but(&r, PL_TRACE_BACKWARDS);
    assert_int_equal(r.line[PL_TRACE_BACKWARDS], 702);
    assert_rel("peak", r.peak_N, 5000, 1e-12);
    assert_true(isnan(r.time_to_peak_s) && isnan(r.rate_N_s));
}

static void test_nothing_there(void **state)
{
    pl_trace_result r;

    (void)state;
    rec.n = 0;
    r = run();
    no_doubt_but(&r, PL_TRACE_EMPTY);
    assert_false(r.found);
    for (int i = 0; i < 50; i++)
        add(i, 3);
    r = run();
    no_doubt_but(&r, PL_TRACE_EMPTY);
    rec.n = 0;
    for (int i = 0; i < 50; i++)
        add(i, -i); /* force counted downwards */
    r = run();
    no_doubt_but(&r, PL_TRACE_EMPTY);
}

static const struct CMUnitTest tests[] = {
    cmocka_unit_test(test_plain_ramp),         cmocka_unit_test(test_long_record),
    cmocka_unit_test(test_no_no_load_stretch), cmocka_unit_test(test_preload_counts),
    cmocka_unit_test(test_first_drop),         cmocka_unit_test(test_noise_is_no_drop),
    cmocka_unit_test(test_ends_at_peak),       cmocka_unit_test(test_no_break),
    cmocka_unit_test(test_flat_top),           cmocka_unit_test(test_spike),
    cmocka_unit_test(test_slow_sampling),      cmocka_unit_test(test_time_backwards),
    cmocka_unit_test(test_nothing_there),      cmocka_unit_test(test_sampling_misses),
    cmocka_unit_test(test_dropped_samples),    cmocka_unit_test(test_several_loads),
    cmocka_unit_test(test_many_loads),
};

int main(void)
{
    return cmocka_run_group_tests(tests, NULL, NULL);
}
