/* The one pass over a force-time record. A sample is judged when its successor
 * is known, so that one that stands out alone never becomes the peak. */
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

/* Points of the whole record, evenly thinned: when the table is full every
 * second is kept and the stride doubles. */
static void keep_point(pl_trace *t, const pl_trace_at *s)
{
    if (t->skip) {
        t->skip--;
        return;
    }
    if (t->ncurve == PL_TRACE_CURVE) {
        for (size_t i = 0; i < PL_TRACE_CURVE / 2; i++) {
            t->curve_t[i] = t->curve_t[2 * i];
            t->curve_f[i] = t->curve_f[2 * i];
        }
        t->ncurve = PL_TRACE_CURVE / 2;
        t->stride *= 2;
    }
    t->curve_t[t->ncurve] = s->time_s;
    t->curve_f[t->ncurve++] = s->force_N;
    t->skip = t->stride - 1;
}

/* A sample that stands out alone: far above both neighbours, measured by the
 * record's own steps, with the load still there afterwards (else it is a break). */
static bool is_spike(const pl_trace *t, double a, double b, double c)
{
    double out = b - fmax(a, c), scale = fabs(b - t->base);

    return out > PL_TRACE_SPIKE * scale && out > 8 * t->step && c > a - 0.5 * (b - a);
}

/* A fall from the highest so far. Only the first deep enough counts in the end,
 * and how deep that is is known only with the final peak. */
static void watch_fall(pl_trace *t, const pl_trace_at *s)
{
    double high = t->peak.force_N - t->base, fall = t->peak.force_N - s->force_N;
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

/* Equal values in a row at a new highest: with coarse steps and slow loading
 * every height has them, with a clipped signal only the top. */
static void watch_top(pl_trace *t, const pl_trace_at *s)
{
    if (s->force_N > t->peak.force_N) {
        if (t->peak.force_N - t->base > 0.5 * (s->force_N - t->base) &&
            t->run > t->longest_run_below)
            t->longest_run_below = t->run;
        t->peak = *s;
        t->run = t->last_run = 1;
        t->low_after = HUGE_VAL;
        return;
    }
    if (s->force_N == t->peak.force_N && t->last_run)
        t->run++;
    else
        t->last_run = 0;
    if (s->force_N < t->low_after)
        t->low_after = s->force_N;
    watch_fall(t, s);
}

/* `s` is complete: its successor is known and it is no spike. */
static void take(pl_trace *t, const pl_trace_at *s)
{
    keep_point(t, s);
    t->lowest = fmin(t->lowest, s->force_N);
    watch_top(t, s);
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

static void add_one(pl_trace *t, const pl_trace_at *s)
{
    if (t->nhead < PL_TRACE_HEAD) {
        t->head_t[t->nhead] = s->time_s;
        t->head_f[t->nhead++] = s->force_N;
        if (t->nhead <= 5)
            t->base = median_of(t->head_f, t->nhead);
    }
    if (t->count > 0) {
        double dt = s->time_s - t->last.time_s;

        if (dt < 0 && !t->backward++)
            t->backwards = *s;
        if (dt > 0) {
            t->dt_sum += dt;
            t->dts++;
        }
    }
    if (t->count == 1)
        take(t, &t->last);
    if (t->count >= 2) {
        if (is_spike(t, t->before.force_N, t->last.force_N, s->force_N)) {
            if (!t->spikes++ || t->last.force_N > t->spike.force_N)
                t->spike = t->last;
            t->last.force_N = t->before.force_N; /* as if it had not been */
        } else {
            t->step += (fabs(t->last.force_N - t->before.force_N) - t->step) /
                       fmin((double)t->count, 200);
            take(t, &t->last);
        }
    }
    t->before = t->last;
    t->last = *s;
    t->count++;
}

void pl_trace_add(pl_trace *t, const double *time_s, const double *force_N, size_t n,
                  uint64_t first_line)
{
    for (size_t i = 0; i < n; i++)
        add_one(t, &(pl_trace_at){ time_s[i], force_N[i], first_line ? first_line + i : 0 });
}

/* ---- the end ---- */

/* Mean of the steady stretch at the beginning: samples within a narrow band of
 * the first ones, halved until both halves agree, so that the foot of a ramp is
 * not taken for no load. Source: none, common practice. */
static void find_tare(const pl_trace *t, pl_trace_result *r)
{
    double band = PL_TRACE_NO_LOAD * (t->peak.force_N - t->base);
    size_t n = 0;

    while (n < t->nhead && fabs(t->head_f[n] - t->base) <= band)
        n++;
    for (; n >= 6; n /= 2) {
        double first = 0, second = 0, all = 0;
        size_t half = n / 2;

        for (size_t i = 0; i < n; i++) {
            all += t->head_f[i];
            if (i < half)
                first += t->head_f[i];
            else
                second += t->head_f[i];
        }
        if (fabs(first / (double)half - second / (double)(n - half)) <= 0.1 * band) {
            r->tare_N = all / (double)n;
            r->tare_samples = n;
            return;
        }
    }
    r->doubt[PL_TRACE_NO_TARE] = true;
    r->value[PL_TRACE_NO_TARE] = t->base;
}

/* Least squares of force on time over 20 to 80 % of the peak, on the way up. */
static double find_rate(const pl_trace *t, const pl_trace_result *r)
{
    double n = 0, mt = 0, mf = 0, stt = 0, stf = 0;

    for (size_t i = 0; i < t->ncurve && t->curve_t[i] <= t->peak.time_s; i++) {
        double f = t->curve_f[i] - r->tare_N, dt, df;

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
    if (isfinite(r->rate_N_s) && t->dts) {
        double loss = r->rate_N_s * t->dt_sum / (double)t->dts / r->peak_N;

        r->doubt[PL_TRACE_SAMPLING] = loss > PL_TRACE_SLOW;
        r->value[PL_TRACE_SAMPLING] = loss;
    }
}

void pl_trace_end(pl_trace *t, pl_trace_result *r)
{
    *r = (pl_trace_result){ .time_to_peak_s = NAN, .first_drop_N = NAN, .rate_N_s = NAN };
    if (t->count >= 2)
        take(t, &t->last);
    if (t->count < 3 || !(t->peak.force_N > t->base) ||
        t->base - t->lowest > t->peak.force_N - t->base) {
        r->doubt[PL_TRACE_EMPTY] = true;
        return;
    }
    find_tare(t, r);
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
