/* The one pass over a force-time record. A sample is judged when its successor is known,
 * so that one that stands out alone never becomes the peak. Samples are collected into
 * blocks of a fixed length, wherever the batches end: what few blocks have (spikes, gaps,
 * a load that goes) is looked for once a block. */
#include "rigs/trace.h"

#include <math.h>
#include <string.h>

void pl_trace_init(pl_trace *t)
{
    memset(t, 0, sizeof *t);
    t->stride = 1;
    t->low_after = t->lowest = HUGE_VAL;
    t->peak.force_N = -HUGE_VAL;
}

/* Points of the whole record, evenly thinned: when the table is full every second is kept
 * and the stride doubles. */
static void keep_points(pl_trace *t, size_t from, size_t to)
{
    size_t i = from;

    for (; t->skip < to - i; i += (size_t)t->skip + 1, t->skip = t->stride - 1) {
        if (t->ncurve == PL_TRACE_CURVE) {
            for (size_t k = 0; k < PL_TRACE_CURVE / 2; k++) {
                t->curve_t[k] = t->curve_t[2 * k];
                t->curve_f[k] = t->curve_f[2 * k];
            }
            t->ncurve = PL_TRACE_CURVE / 2;
            t->stride *= 2;
        }
        t->curve_t[t->ncurve] = t->t[i + t->skip];
        t->curve_f[t->ncurve++] = t->f[i + t->skip];
    }
    t->skip -= to - i;
}

/* A fall from the highest so far. Only the first deep enough counts in the end,
 * and how deep that is is known only with the final peak. */
static void watch_fall(pl_trace *t, double force_N)
{
    double high = t->peak.force_N - t->base, fall = t->peak.force_N - force_N;
    size_t n = 0;

    if (!(high > 0) || fall <= PL_TRACE_FIRST_DROP * high)
        return;
    for (size_t i = 0; i < t->nheld; i++) /* too low to matter by now */
        if (t->held[i].at.force_N - t->base >= 0.1 * high)
            t->held[n++] = t->held[i];
    t->nheld = n;
    if (n && t->held[n - 1].at.line == t->peak.line && t->held[n - 1].at.time_s == t->peak.time_s) {
        t->held[n - 1].depth_N = fmax(t->held[n - 1].depth_N, fall);
        return;
    }
    if (n < PL_TRACE_HELD) {
        t->held[n].at = t->peak;
        t->held[n].depth_N = fall;
        t->nheld++;
    }
}

/* Equal values in a row at a new highest: with coarse steps and slow loading every height
 * has them, with a clipped signal only the top. */
static void new_peak(pl_trace *t, size_t i)
{
    if (t->peak.force_N - t->base > 0.5 * (t->f[i] - t->base) && t->run > t->longest_run_below)
        t->longest_run_below = t->run;
    t->peak = (pl_trace_at){ t->t[i], t->f[i], t->line[i] };
    t->run = t->last_run = 1;
    t->low_after = HUGE_VAL;
}

/* The least of from..to-1, HUGE_VAL for none; four at once, so that none waits for another. */
static double least(const double *f, size_t from, size_t to)
{
    double a = HUGE_VAL, b = a, c = a, d = a;
    size_t i = from;

    for (; i + 4 <= to; i += 4) {
        a = f[i] < a ? f[i] : a;
        b = f[i + 1] < b ? f[i + 1] : b;
        c = f[i + 2] < c ? f[i + 2] : c;
        d = f[i + 3] < d ? f[i + 3] : d;
    }
    for (; i < to; i++)
        a = f[i] < a ? f[i] : a;
    return fmin(fmin(a, b), fmin(c, d));
}

/* Judged samples, spikes already evened out, from..to-1. */
static void watch(pl_trace *t, size_t from, size_t to)
{
    double peak = t->peak.force_N, floor = peak - PL_TRACE_FIRST_DROP * (peak - t->base);
    size_t behind = from; /* the first behind the peak */
    bool at_top = t->last_run != 0;

    for (size_t i = from; i < to; i++) {
        double f = t->f[i];

        if (f > peak) {
            new_peak(t, i);
            peak = f;
            floor = peak - PL_TRACE_FIRST_DROP * (peak - t->base);
            behind = i + 1;
            at_top = true;
            continue;
        }
        if (at_top) {
            at_top = f == peak;
            t->run += at_top;
        }
        if (f < floor)
            watch_fall(t, f);
    }
    t->last_run = at_top;
    t->low_after = fmin(t->low_after, least(t->f, behind, to));
}

static double median_of(const double *x, size_t n)
{
    double s[5];

    for (size_t i = 0; i < n; i++) {
        size_t k = i;

        for (; k > 0 && s[k - 1] > x[i]; k--)
            s[k] = s[k - 1];
        s[k] = x[i];
    }
    return n ? s[n / 2] : 0;
}

/* ---- loads ---- */

/* Loads that turn out to be seating fall out when room is needed. */
static void keep_load(pl_loads *l)
{
    size_t n = 0;

    if (l->n == PL_TRACE_LOADS) {
        for (size_t i = 0; i < l->n; i++)
            if (l->ended[i] >= PL_TRACE_LOAD * l->high)
                l->ended[n++] = l->ended[i];
        l->n = n;
    }
    if (l->n < PL_TRACE_LOADS)
        l->ended[l->n++] = l->now;
}

/* True when a load has just ended. Heights are above no load. */
static bool next_sample(pl_loads *l, double force_N)
{
    double f;

    if (l->count < 5) {
        l->first[l->count++] = force_N;
        l->base = median_of(l->first, (size_t)l->count);
    }
    f = force_N - l->base;
    l->now = fmax(l->now, f);
    l->high = fmax(l->high, f);
    l->rest = f <= PL_TRACE_UNLOADED * l->high ? l->rest + 1 : 0;
    if (l->rest < PL_TRACE_REST || l->now < PL_TRACE_LOAD * l->high || !(l->now > 0))
        return false;
    keep_load(l);
    l->now = 0;
    return true;
}

static size_t count_loads(const pl_loads *l)
{
    size_t n = l->now > 0 && l->now >= PL_TRACE_LOAD * l->high;

    for (size_t i = 0; i < l->n; i++)
        n += l->ended[i] >= PL_TRACE_LOAD * l->high;
    return n;
}

/* A block in which the force never comes near no load needs only its highest. */
static void watch_loads(pl_trace *t, size_t from, size_t to, double low, double high)
{
    pl_loads *l = &t->loads;

    if (l->count < 5 || low - l->base <= PL_TRACE_UNLOADED * fmax(l->high, high - l->base)) {
        for (size_t i = from; i < to; i++)
            (void)next_sample(l, t->f[i]);
        return;
    }
    l->now = fmax(l->now, high - l->base);
    l->high = fmax(l->high, high - l->base);
    l->rest = 0;
}

/* ---- blocks ---- */

/* What one pass over a block tells: with it most blocks need no second look. */
typedef struct scan {
    double low, high;       /* of the forces but the first */
    double change;          /* sum of |change| */
    double out;             /* furthest that one stands above both its neighbours */
    double dt_low, dt_high; /* of the intervals */
} scan;

#define LANES 8
#define LEAST(x, y) ((x) < (y) ? (x) : (y))
#define GREATEST(x, y) ((x) > (y) ? (x) : (y))

/* In eight lanes, so that wide registers can take several at once; the lanes are added in
 * a fixed order. n >= 2. */
static inline __attribute__((always_inline)) void scan_lanes(const double *restrict t,
                                                             const double *restrict f, size_t n,
                                                             scan *out)
{
    double low[LANES], high[LANES], change[LANES], above[LANES], dt_low[LANES], dt_high[LANES];
    size_t i = 1;

    for (size_t j = 0; j < LANES; j++) {
        low[j] = dt_low[j] = HUGE_VAL;
        high[j] = above[j] = dt_high[j] = -HUGE_VAL;
        change[j] = 0;
    }
    for (; i + LANES < n; i += LANES)
        for (size_t j = 0; j < LANES; j++) {
            double x = f[i + j], up = x - f[i + j - 1], down = x - f[i + j + 1];
            double dt = t[i + j] - t[i + j - 1];

            low[j] = LEAST(x, low[j]);
            high[j] = GREATEST(x, high[j]);
            change[j] += fabs(up);
            up = LEAST(up, down);
            above[j] = GREATEST(up, above[j]);
            dt_low[j] = LEAST(dt, dt_low[j]);
            dt_high[j] = GREATEST(dt, dt_high[j]);
        }
    for (; i < n; i++) {
        double up = f[i] - f[i - 1], down = i + 1 < n ? f[i] - f[i + 1] : -HUGE_VAL;
        double dt = t[i] - t[i - 1];

        low[0] = fmin(low[0], f[i]);
        high[0] = fmax(high[0], f[i]);
        change[0] += fabs(up);
        above[0] = fmax(above[0], fmin(up, down));
        dt_low[0] = fmin(dt_low[0], dt);
        dt_high[0] = fmax(dt_high[0], dt);
    }
    *out = (scan){ low[0], high[0], change[0], above[0], dt_low[0], dt_high[0] };
    for (size_t j = 1; j < LANES; j++) {
        out->low = fmin(out->low, low[j]);
        out->high = fmax(out->high, high[j]);
        out->change += change[j];
        out->out = fmax(out->out, above[j]);
        out->dt_low = fmin(out->dt_low, dt_low[j]);
        out->dt_high = fmax(out->dt_high, dt_high[j]);
    }
}

#if defined(__x86_64__)
__attribute__((target("avx2"))) static void scan_wide(const double *t, const double *f, size_t n,
                                                      scan *out)
{
    scan_lanes(t, f, n, out);
}
#endif

static void scan_block(const double *t, const double *f, size_t n, scan *out)
{
#if defined(__x86_64__)
    if (__builtin_cpu_supports("avx2")) {
        scan_wide(t, f, n, out);
        return;
    }
#endif
    scan_lanes(t, f, n, out);
}

/* Intervals between the n samples. */
static void watch_times(pl_trace *t, size_t n, const scan *s)
{
    double limit = t->usual_dt > 0 ? PL_TRACE_GAP * t->usual_dt : HUGE_VAL;

    if (s->dt_low > 0 && s->dt_high <= limit) {
        t->dt_sum += t->t[n - 1] - t->t[0];
        t->dts += n - 1;
        return;
    }
    for (size_t i = 1; i < n; i++) {
        double dt = t->t[i] - t->t[i - 1];
        pl_trace_at at = { t->t[i], t->f[i], t->line[i] };

        if (dt < 0 && !t->backward++)
            t->backwards = at;
        t->dt_sum += dt > 0 ? dt : 0;
        t->dts += dt > 0;
        if (!(dt > limit))
            continue;
        t->gaps++;
        if (dt > t->gap_s) {
            t->gap_s = dt;
            t->gap = at;
        }
    }
}

/* Median of up to 64 intervals at the beginning. */
static void find_usual_dt(pl_trace *t, size_t n)
{
    double dts[64];
    size_t m = 0;

    for (size_t i = 1; i < n && m < 64; i++) {
        double dt = t->t[i] - t->t[i - 1];
        size_t k = m;

        if (!(dt > 0))
            continue;
        for (; k > 0 && dts[k - 1] > dt; k--)
            dts[k] = dts[k - 1];
        dts[k] = dt;
        m++;
    }
    t->usual_dt = m ? dts[m / 2] : 0;
}

/* A sample that stands out alone: far above both neighbours, measured by the record's own
 * steps, with the load still there afterwards (else it is a break). */
static bool is_spike(const pl_trace *t, size_t i)
{
    double a = t->f[i - 1], b = t->f[i], c = t->f[i + 1];
    double out = b - fmax(a, c);

    return out > PL_TRACE_SPIKE * fabs(b - t->base) && out > 8 * t->step && c > a - 0.5 * (b - a);
}

static void take_run(pl_trace *t, size_t from, size_t to)
{
    if (from >= to)
        return;
    watch(t, from, to);
    keep_points(t, from, to);
}

/* Samples from..to-1 of n, in runs between the spikes, which are evened out. */
static void judge(pl_trace *t, size_t from, size_t to, size_t n, scan *s)
{
    size_t begin = from, last = to < n - 1 ? to : n - 1;
    uint64_t before = t->spikes;
    bool look = s->out > 8 * t->step;

    for (size_t i = from; look && i < last; i++) {
        if (!i || !is_spike(t, i))
            continue;
        take_run(t, begin, i);
        begin = i + 1;
        if (!t->spikes++ || t->f[i] > t->spike.force_N)
            t->spike = (pl_trace_at){ t->t[i], t->f[i], t->line[i] };
        t->f[i] = t->f[i - 1]; /* as if it had not been */
    }
    take_run(t, begin, to);
    if (t->spikes > before && n > 1)
        scan_block(t->t, t->f, n, s);
}

static void keep_head(pl_trace *t, size_t from, size_t to)
{
    for (size_t i = from; i < to && t->nhead < PL_TRACE_HEAD; i++) {
        t->head_t[t->nhead] = t->t[i];
        t->head_f[t->nhead++] = t->f[i];
        if (t->nhead <= 5)
            t->base = median_of(t->head_f, t->nhead);
    }
}

/* Judges what is held back but the last sample; with `all` that one too. */
static void take_block(pl_trace *t, bool all)
{
    size_t n = t->held_back, from = t->begun ? 1 : 0, to = all ? n : n - 1;
    scan s = { .low = HUGE_VAL, .high = -HUGE_VAL, .out = -HUGE_VAL };

    keep_head(t, from, n);
    if (n > 1)
        scan_block(t->t, t->f, n, &s);
    if (!t->begun)
        find_usual_dt(t, n);
    if (n > 1) /* a quarter of this block's mean |change| counts, all of the first */
        t->step += (s.change / (double)(n - 1) - t->step) * (t->begun ? 0.25 : 1);
    judge(t, from, to, n, &s); /* the first of all has none before it and is no spike */
    if (!from) {
        s.low = fmin(s.low, t->f[0]);
        s.high = fmax(s.high, t->f[0]);
    }
    if (to > from) {
        t->lowest = fmin(t->lowest, s.low); /* the last may be in it early: it comes anyway */
        watch_loads(t, from, to, s.low, s.high);
    }
    t->begun = true;
    if (n < 2)
        return;
    watch_times(t, to, &s);
    t->last = (pl_trace_at){ t->t[n - 1], t->f[n - 1], t->line[n - 1] };
    for (size_t i = 0; i < 2; i++) {
        t->t[i] = t->t[n - 2 + i];
        t->f[i] = t->f[n - 2 + i];
        t->line[i] = t->line[n - 2 + i];
    }
    t->held_back = 2;
}

void pl_trace_add(pl_trace *t, const double *time_s, const double *force_N, size_t n,
                  uint64_t first_line)
{
    t->count += n;
    while (n > 0) {
        size_t room = PL_TRACE_BLOCK + 2 - t->held_back, k = n < room ? n : room;

        memcpy(t->t + t->held_back, time_s, k * sizeof *time_s);
        memcpy(t->f + t->held_back, force_N, k * sizeof *force_N);
        for (size_t i = 0; i < k; i++)
            t->line[t->held_back + i] = first_line ? first_line + i : 0;
        t->held_back += k;
        time_s += k;
        force_N += k;
        n -= k;
        first_line += first_line ? k : 0;
        if (t->held_back == PL_TRACE_BLOCK + 2)
            take_block(t, false);
    }
}

/* ---- the end ---- */

/* Mean and standard error of n samples. */
static double mean_of(const double *x, size_t n, double *error)
{
    double mean = 0, ss = 0;

    for (size_t i = 0; i < n; i++)
        mean += x[i] / (double)n;
    for (size_t i = 0; i < n; i++)
        ss += (x[i] - mean) * (x[i] - mean);
    *error = sqrt(ss / (double)(n - 1) / (double)n);
    return mean;
}

/* Mean of the steady stretch at the beginning: samples within a narrow band of the first
 * ones, halved until both halves agree, by a fiftieth of the band or by twice what the
 * first half's own noise explains, so that the foot of a ramp is not taken for no load.
 * Source: none, common practice. */
static void find_tare(const pl_trace *t, pl_trace_result *r)
{
    double band = PL_TRACE_NO_LOAD * (t->peak.force_N - t->base);
    size_t n = 0;

    while (n < t->nhead && fabs(t->head_f[n] - t->base) <= band)
        n++;
    for (; n >= 6; n /= 2) {
        size_t half = n / 2;
        double noise, other, first = mean_of(t->head_f, half, &noise);
        double apart = mean_of(t->head_f + half, n - half, &other) - first;

        if (fabs(apart) <= fmax(0.02 * band, 2 * M_SQRT2 * noise)) {
            r->tare_N = mean_of(t->head_f, n, &other);
            r->tare_samples = n;
            return;
        }
    }
    r->doubt[PL_TRACE_NO_TARE] = true;
    r->value[PL_TRACE_NO_TARE] = t->base;
}

/* Least squares of force on time over 20 to 80 % of the peak, on the way up; seating
 * before it that went back below 20 % is not part of it. */
static double find_rate(const pl_trace *t, const pl_trace_result *r)
{
    double n = 0, mt = 0, mf = 0, stt = 0, stf = 0;

    for (size_t i = 0; i < t->ncurve && t->curve_t[i] <= t->peak.time_s; i++) {
        double f = t->curve_f[i] - r->tare_N, dt, df;

        if (f < 0.2 * r->peak_N)
            n = mt = mf = stt = stf = 0;
        if (f < 0.2 * r->peak_N || f > 0.8 * r->peak_N)
            continue;
        n++;
        dt = t->curve_t[i] - mt;
        df = t->curve_f[i] - mf;
        mt += dt / n;
        mf += df / n;
        stt += dt * (t->curve_t[i] - mt);
        stf += dt * (t->curve_f[i] - mf);
    }
    return n >= 3 && stt > 0 && stf > 0 ? stf / stt : NAN;
}

static double find_start(const pl_trace *t, const pl_trace_result *r)
{
    double leave = r->tare_N + PL_TRACE_NO_LOAD * r->peak_N;
    double start = t->ncurve ? t->curve_t[0] : 0;

    for (size_t i = 0; i < t->nhead; i++)
        if (t->head_f[i] > leave)
            return t->head_t[i ? i - 1 : 0];
    for (size_t i = 0; i < t->ncurve && t->curve_f[i] <= leave; i++)
        start = t->curve_t[i];
    return start;
}

static void find_first_drop(const pl_trace *t, pl_trace_result *r)
{
    for (size_t i = 0; i < t->nheld; i++) {
        double high = t->held[i].at.force_N - r->tare_N, depth = t->held[i].depth_N;

        if (t->held[i].at.force_N >= t->peak.force_N)
            return; /* the break itself: nothing higher came after it */
        if (high < 0.1 * r->peak_N || depth < 0.02 * r->peak_N ||
            depth <= PL_TRACE_FIRST_DROP * high)
            continue;
        r->first_drop_N = high;
        r->first_drop_line = t->held[i].at.line;
        return;
    }
}

static void find_doubts(const pl_trace *t, pl_trace_result *r)
{
    bool at_end = t->last.force_N == t->peak.force_N && t->last.time_s == t->peak.time_s;
    double fall = t->peak.force_N - t->low_after;

    r->doubt[PL_TRACE_ENDS_AT_PEAK] = at_end || t->low_after == HUGE_VAL;
    r->doubt[PL_TRACE_NO_BREAK] = !r->doubt[PL_TRACE_ENDS_AT_PEAK] &&
                                  fall < PL_TRACE_DROP * r->peak_N;
    r->doubt[PL_TRACE_FLAT_TOP] = t->run >= 3 && t->run > 3 * t->longest_run_below;
    r->value[PL_TRACE_FLAT_TOP] = (double)t->run;
    r->doubt[PL_TRACE_SPIKES] = t->spikes > 0 && t->spike.force_N > t->peak.force_N;
    r->value[PL_TRACE_SPIKES] = t->spike.force_N - r->tare_N;
    r->line[PL_TRACE_SPIKES] = t->spike.line;
    r->doubt[PL_TRACE_BACKWARDS] = t->backward > 0;
    r->line[PL_TRACE_BACKWARDS] = t->backwards.line;
    r->doubt[PL_TRACE_DROPPED] = t->gaps > 0 && t->count > 16 && !t->backward &&
                                 (double)t->gaps <= fmax(1, PL_TRACE_GAPS_MOST * (double)t->dts);
    r->value[PL_TRACE_DROPPED] = (double)t->gaps;
    r->line[PL_TRACE_DROPPED] = t->gap.line;
    r->gap_s = t->gap_s;
    r->value[PL_TRACE_LOADS_MORE] = (double)count_loads(&t->loads);
    r->doubt[PL_TRACE_LOADS_MORE] = r->value[PL_TRACE_LOADS_MORE] > 1;
    if (isfinite(r->rate_N_s) && t->dts) {
        double loss = r->rate_N_s * t->dt_sum / (double)t->dts / r->peak_N;

        r->doubt[PL_TRACE_SAMPLING] = loss > PL_TRACE_SLOW;
        r->value[PL_TRACE_SAMPLING] = loss;
    }
}

void pl_trace_end(pl_trace *t, pl_trace_result *r)
{
    *r = (pl_trace_result){ .time_to_peak_s = NAN, .first_drop_N = NAN, .rate_N_s = NAN };
    if (t->count)
        take_block(t, true);
    if (t->count < 3 || !(t->peak.force_N > t->base) ||
        t->base - t->lowest > t->peak.force_N - t->base) {
        r->doubt[PL_TRACE_EMPTY] = true;
        return;
    }
    find_tare(t, r);
    if (!(t->peak.force_N > r->tare_N)) { /* begun under load and below zero all the way */
        r->doubt[PL_TRACE_EMPTY] = true;
        return;
    }
    r->found = true;
    r->peak_N = t->peak.force_N - r->tare_N;
    r->peak_line = t->peak.line;
    if (!t->backward) {
        r->rate_N_s = find_rate(t, r);
        r->time_to_peak_s = t->peak.time_s - find_start(t, r);
    }
    find_first_drop(t, r);
    find_doubts(t, r);
}

/* ---- several loads ---- */

void pl_trace_split_init(pl_trace_split *s)
{
    memset(&s->loads, 0, sizeof s->loads);
    s->n = 0;
    pl_trace_init(&s->piece);
}

static void drop_seating(pl_trace_split *s)
{
    size_t n = 0;

    for (size_t i = 0; i < s->n; i++)
        if (s->ended[i].found && s->ended[i].peak_N >= PL_TRACE_LOAD * s->loads.high)
            s->ended[n++] = s->ended[i];
    s->n = n;
}

static void end_piece(pl_trace_split *s)
{
    if (s->n == PL_TRACE_LOADS)
        drop_seating(s);
    if (s->n < PL_TRACE_LOADS)
        pl_trace_end(&s->piece, &s->ended[s->n++]);
    pl_trace_init(&s->piece);
}

void pl_trace_split_add(pl_trace_split *s, const double *time_s, const double *force_N, size_t n,
                        uint64_t first_line)
{
    for (size_t i = 0; i < n; i++) {
        pl_trace_add(&s->piece, &time_s[i], &force_N[i], 1, first_line ? first_line + i : 0);
        if (next_sample(&s->loads, force_N[i]))
            end_piece(s);
    }
}

void pl_trace_split_end(pl_trace_split *s)
{
    end_piece(s);
    drop_seating(s);
}
