/* SPDX-License-Identifier: 0BSD
 * dead-weight: the nearest load that the shop's own masses make, directly or over a
 * lever. Formulas and their sources: README.md beside this file. */
#include <math.h>
#include <stdio.h>

#include <platen/plugin.h>

enum { MASSES, RATIO, HANGER, PLATEN, MASSES_WITHIN, RATIO_WITHIN, GRAVITY };

static const platen_setting settings[] = {
    { "masses", "the shop's set: each mass and how many of it there are", "kg", "1", NULL,
      PLATEN_PAIRS, PLATEN_REQUIRED | PLATEN_WHOLE, 1e-3, 1e4, 1, 100, 0 },
    PLATEN_A_NUMBER("ratio", "lever: force on the joint over weight hung", "1", 0.01, 1000, 1),
    PLATEN_A_NUMBER("hanger", "what hangs there before any mass", "kg", 0, 1e4, 0),
    PLATEN_A_NUMBER("platen", "mass that rests on the joint itself", "kg", 0, 1e4, 0),
    PLATEN_A_NUMBER("masses_within", "limit of error of a mass, a share", "1", 0, 0.2, 0.01),
    PLATEN_A_NUMBER("ratio_within", "limit of error of the ratio, a share", "1", 0, 0.5, 0.02),
    PLATEN_A_NUMBER("gravity", "free fall in m/s2", "1", 9.78, 9.84, 9.80665),
};

#define HALF_MOST ((size_t)1 << 17) /* sums of half the set: 17 pieces that share no sum */
#define SAME 1e-9                   /* kg: closer sums are one */

typedef struct stack {
    double sum;
    uint32_t pieces;
    uint64_t code; /* how many of each, mixed radix over the half's kinds */
} stack;

/* One more piece: the rising list and the same list that much heavier become one;
 * of equal sums the one with fewer pieces stays. 0: too many. */
static size_t merge(const stack *in, size_t n, double mass, uint64_t radix, stack *out)
{
    size_t a = 0, b = 0, k = 0;

    while (b < n) {
        stack next = { in[b].sum + mass, in[b].pieces + 1, in[b].code + radix };

        if (a < n && in[a].sum <= next.sum)
            next = in[a++];
        else
            b++;
        if (!k || next.sum - out[k - 1].sum > SAME) {
            if (k == HALF_MOST)
                return 0;
            out[k++] = next;
        } else if (next.pieces < out[k - 1].pieces) {
            out[k - 1] = next;
        }
    }
    return k;
}

/* No more sums of a half than ways to take of each kind none to all. */
static size_t sums_at_most(const platen_value *set, uint32_t i)
{
    double ways = 1;

    for (; i < set->count; i += 2)
        ways *= set->list[2 * i + 1] + 1;
    return ways < (double)HALF_MOST ? (size_t)ways : HALF_MOST;
}

/* All sums of every second kind of mass, rising; their number, or 0. */
static size_t half_sums(const platen_host *host, const platen_value *set, uint32_t i, stack **out)
{
    size_t room = sums_at_most(set, i);
    stack *now = host->alloc(host->self, room * sizeof *now), *swap;
    stack *then = host->alloc(host->self, room * sizeof *then);
    size_t n = now && then ? 1 : 0;
    double radix = 1; /* exact below 2^53 */

    for (; i < set->count && n; i += 2) {
        for (double c = 0; c < set->list[2 * i + 1] && n; c++) {
            n = radix < 1e13 ? merge(now, n, set->list[2 * i], (uint64_t)radix, then) : 0;
            swap = now;
            now = then;
            then = swap;
        }
        radix *= set->list[2 * i + 1] + 1;
    }
    *out = now;
    return n;
}

/* The nearest sum of the whole set: one rising list against one falling. Its parts go to out. */
static double nearest(const platen_host *host, const platen_value *set, double mass,
                      platen_set_point *out)
{
    stack *x, *y, best[2] = { { 0, UINT32_MAX / 2, 0 }, { 0, 0, 0 } };
    size_t n = half_sums(host, set, 0, &x), j = half_sums(host, set, 1, &y);
    double off = HUGE_VAL;

    for (size_t i = 0; i < n && j > 0;) {
        double d = x[i].sum + y[j - 1].sum - mass;
        uint32_t pieces = x[i].pieces + y[j - 1].pieces;

        if (fabs(d) < off - SAME ||
            (fabs(d) < off + SAME && pieces < best[0].pieces + best[1].pieces)) {
            off = fabs(d);
            best[0] = x[i];
            best[1] = y[j - 1];
        }
        d > 0 ? j-- : i++;
    }
    for (uint32_t i = 0; i < set->count; i++) {
        uint64_t radix = (uint64_t)set->list[2 * i + 1] + 1, count = best[i % 2].code % radix;

        best[i % 2].code /= radix;
        if (count)
            out->parts[out->nparts++] = (platen_part){ set->list[2 * i], (uint32_t)count, MASSES };
    }
    return off < HUGE_VAL ? best[0].sum + best[1].sum : NAN;
}

static int set_point(const platen_host *host, const platen_value *s, const platen_limits *limits,
                     double force_N, platen_set_point *out)
{
    double per_kg = s[GRAVITY].number * s[RATIO].number, own = s[PLATEN].number * s[GRAVITY].number;
    double empty = own + s[HANGER].number * per_kg, full = empty, m = NAN;
    double mass = (force_N - empty) / per_kg;

    (void)limits;
    for (uint32_t i = 0; i < s[MASSES].count; i++)
        full += s[MASSES].list[2 * i] * s[MASSES].list[2 * i + 1] * per_kg;
    snprintf(out->mend, sizeof out->mend,
             mass <= 0        ? "a lighter platen or hanger"
             : full < force_N ? "a further %s"
                              : "a mass of %s",
             host->show(host->self, MASSES, full < force_N ? (force_N - full) / per_kg : mass));
    if (force_N >= 0.95 * empty && full >= 0.95 * force_N)
        m = nearest(host, &s[MASSES], mass, out);
    if (isnan(m) || !(empty + m * per_kg > 0)) { /* none of them, and no platen: that is no load */
        out->nparts = 0;
        snprintf(out->reason, sizeof out->reason, "gives %s with no mass and %s with all of them",
                 host->show(host->self, PLATEN_AS_FORCE, empty),
                 host->show(host->self, PLATEN_AS_FORCE, full));
        return PLATEN_ERANGE;
    }
    out->force_N = empty + m * per_kg;
    out->u_rig_N = hypot(out->force_N * s[MASSES_WITHIN].number,
                         s[RATIO].number == 1 ? 0 : (out->force_N - own) * s[RATIO_WITHIN].number) /
                   sqrt(3);
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_RIG),
    .name = "dead-weight",
    .summary = "masses of the shop's set, directly or over a lever",
    PLATEN_SETTINGS(settings),
    .set_point = set_point,
};

PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)
{
    return &plugin;
}
