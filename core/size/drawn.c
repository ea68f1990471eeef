/* Experiments drawn and counted. What theory knows of them is power.c's; how a curve is found in
 * drawn studies is plateau.c's. */
#include "size/drawn.h"

#include <math.h>
#include <string.h>

#include "base/clones.h"
#include "base/lanes.h"
#include "base/prob.h"
#include "base/stream.h"
#include "base/threads.h"
#include "size/aim.h"
#include "size/weibull.h"

#define N PL_DRAWN_BATCH
#define AT(p) (*(pl_lanes *)(void *)(p))
#define HELD(p) (*(const pl_lanes *)(const void *)(p))
#define PARTS 3 /* sets of levels that scatter alike: each of the named two, and the others */

static const char *const names[PL_NDRAWN_SCATTERS] = { "alike", "in-proportion", "weakest-link" };

const char *pl_drawn_scatter_name(pl_drawn_scatter s)
{
    return names[s];
}

bool pl_drawn_scatter_find(const char *name, pl_drawn_scatter *out)
{
    for (int i = 0; i < PL_NDRAWN_SCATTERS; i++)
        if (!strcmp(name, names[i])) {
            *out = (pl_drawn_scatter)i;
            return true;
        }
    return false;
}

double pl_drawn_chance(const pl_drawn_row *r, pl_size_test t)
{
    return r->draws ? (double)r->seen[t] / (double)r->draws : NAN;
}

double pl_drawn_mc_se(const pl_drawn_row *r, pl_size_test t)
{
    double n = (double)r->draws + 2, p = ((double)r->seen[t] + 1) / n;

    return r->draws ? sqrt(p * (1 - p) / n) : NAN;
}

/* ---- one batch ---- */

typedef struct layout { /* one number of glue-ups per level */
    size_t K;
    unsigned n;
    bool blocks, each_joint, weibull;
    double off[PL_DRAWN_LEVELS_MOST]; /* of a level's mean from the middle one */
    double sd[PL_DRAWN_LEVELS_MOST];
    size_t nparts;
    double part_sd[PARTS], part_df[PARTS];
    double shape, times, less;    /* Weibull: times E^(1/shape) - less has mean 0, variance 1 */
    double limit[PL_NSIZE_TESTS]; /* of a sum of squares over that of the error */
    uint64_t seed;
} layout;

/* Of n joints: their sum, and the sum of their squares; and onto the blocks' sums. */
PL_CLONES static void add_up(const double *z, size_t n, double sd, double *block, double *sum,
                             double *squares)
{
    for (size_t d = 0; d < N; d += PL_LANES) {
        pl_lanes s = { 0 }, q = { 0 };

        for (size_t i = 0; i < n; i++) {
            pl_lanes v = HELD(z + i * N + d);

            s += v;
            q += v * v;
        }
        AT(sum + d) = s;
        AT(squares + d) = q;
    }
    for (size_t i = 0; block && i < n * N; i += PL_LANES)
        AT(block + i) += HELD(z + i) * sd;
}

/* Units to Weibull deviates: E = -ln u. */
PL_CLONES static void to_chains(double *u, size_t n, double shape, double times, double less)
{
    for (size_t i = 0; i < n; i += PL_LANES) {
        pl_lanes v = HELD(u + i);

        pl_lanes_log(&v, &v);
        v = -v;
        pl_lanes_log(&v, &v);
        v *= 1 / shape;
        pl_lanes_exp(&v, &v);
        AT(u + i) = v * times - less;
    }
}

/* From the error what the blocks take: sum of b^2 / K - (sum of b)^2 / (K n). */
PL_CLONES static void take_blocks(const layout *l, const double *block, double *error)
{
    for (size_t d = 0; d < N; d += PL_LANES) {
        pl_lanes all = { 0 }, taken = { 0 };

        for (size_t i = 0; i < l->n; i++) {
            all += HELD(block + i * N + d);
            taken += HELD(block + i * N + d) * HELD(block + i * N + d);
        }
        AT(error + d) -= (taken - all * all / (double)l->n) / (double)l->K;
    }
}

/* Every joint of one batch: level means less the middle one, and the error's sum of squares. */
static void draw_joints(const layout *l, uint64_t draw, double *z, double *mean, double *error)
{
    const size_t n = l->n;
    double *block = l->blocks ? z + n * N : NULL, sum[N], squares[N];

    for (size_t i = 0; block && i < n * N; i++)
        block[i] = 0;
    for (size_t d = 0; d < N; d++)
        error[d] = 0;
    for (size_t k = 0; k < l->K; k++) {
        const uint32_t from = (uint32_t)(k * n * N / 2); /* enough for units */
        const double sd = l->sd[k];

        if (l->weibull) {
            pl_stream_units(l->seed, PL_FOR_DIFFERENCE, draw, from, z, n * N);
            to_chains(z, n * N, l->shape, l->times, l->less);
        } else {
            pl_stream_normals(l->seed, PL_FOR_DIFFERENCE, draw, from, z, n * N);
        }
        add_up(z, n, sd, block, sum, squares);
        for (size_t d = 0; d < N; d++) {
            const double m = sum[d] / (double)n;

            error[d] += sd * sd * (squares[d] - m * sum[d]);
            mean[k * N + d] = l->off[k] + sd * m;
        }
    }
    if (block)
        take_blocks(l, block, error);
}

/* The same from what normal joints leave of themselves. */
static void draw_sums(const layout *l, uint64_t draw, double *z, double *mean, double *error)
{
    const double root = 1 / sqrt(l->n);
    uint32_t from = (uint32_t)l->K * N / 4;

    pl_stream_normals(l->seed, PL_FOR_DIFFERENCE, draw, 0, mean, l->K * N);
    for (size_t k = 0; k < l->K; k++)
        for (size_t d = 0; d < N; d++)
            mean[k * N + d] = l->off[k] + l->sd[k] * root * mean[k * N + d];
    for (size_t d = 0; d < N; d++)
        error[d] = 0;
    for (size_t p = 0; p < l->nparts; p++, from += N) {
        pl_stream_chisqs(l->seed, PL_FOR_DIFFERENCE, draw, from, l->part_df[p], z, N);
        for (size_t d = 0; d < N; d++)
            error[d] += l->part_sd[p] * l->part_sd[p] * z[d];
    }
}

/* The means of levels that scatter alike leave two numbers: how far the first lies above the
 * second, which is the only distance there is, and the squares of all other comparisons, a
 * chi-square on K - 2. As sums of squares over n. */
static void draw_squares(const layout *l, uint64_t draw, double *z, double *named, double *all,
                         double *error)
{
    const double variance = l->sd[0] * l->sd[0];
    const double apart = (l->off[0] - l->off[1]) * sqrt(0.5), scale = l->sd[0] / sqrt(l->n);

    pl_stream_normals(l->seed, PL_FOR_DIFFERENCE, draw, 0, z, N);
    for (size_t d = 0; d < N; d++)
        named[d] = (apart + scale * z[d]) * (apart + scale * z[d]);
    memcpy(all, named, N * sizeof *all);
    if (l->K > 2)
        pl_stream_chisqs(l->seed, PL_FOR_DIFFERENCE, draw, N, (double)l->K - 2, z, N);
    for (size_t d = 0; d < N && l->K > 2; d++)
        all[d] += variance / l->n * z[d];
    pl_stream_chisqs(l->seed, PL_FOR_DIFFERENCE, draw, 2 * N, l->part_df[0], error, N);
    for (size_t d = 0; d < N; d++)
        error[d] *= variance;
}

/* Of level means their squares about their mean, and half the square of the named two's distance.
 */
PL_CLONES static void squares_of(const layout *l, const double *mean, double *named, double *all)
{
    for (size_t d = 0; d < N; d += PL_LANES) {
        pl_lanes s = { 0 }, q = { 0 }, apart = HELD(mean + d) - HELD(mean + N + d);

        for (size_t k = 0; k < l->K; k++) {
            s += HELD(mean + k * N + d);
            q += HELD(mean + k * N + d) * HELD(mean + k * N + d);
        }
        AT(all + d) = q - s * s / (double)l->K;
        AT(named + d) = apart * apart * 0.5;
    }
}

PL_CLONES static uint64_t count_far(const double *squares, const double *error, double limit)
{
    pl_lane_bits seen = { 0 };
    uint64_t n = 0;

    for (size_t d = 0; d < N; d += PL_LANES) {
        pl_lanes over = HELD(error + d) * limit;
        pl_lane_bits far;

        pl_lanes_less(&over, &HELD(squares + d), &far);
        seen -= far;
    }
    for (int i = 0; i < PL_LANES; i++)
        n += (uint64_t)seen[i];
    return n;
}

static void run_batch(const layout *l, uint64_t batch, double *room, uint64_t *seen)
{
    const uint64_t draw = (uint64_t)l->n << 40 | batch;
    double *named = room, *all = named + N, *error = all + N, *mean = error + N;
    double *z = mean + l->K * N;

    if (l->each_joint)
        draw_joints(l, draw, z, mean, error);
    else if (l->nparts > 1)
        draw_sums(l, draw, z, mean, error);
    else
        draw_squares(l, draw, z, named, all, error);
    if (l->each_joint || l->nparts > 1)
        squares_of(l, mean, named, all);
    seen[PL_SIZE_OVERALL] = count_far(all, error, l->limit[PL_SIZE_OVERALL]);
    seen[PL_SIZE_PAIR] = count_far(named, error, l->limit[PL_SIZE_PAIR]);
}

static size_t room_of(const layout *l)
{
    return (l->K + 3 + (l->each_joint ? 2 * (size_t)l->n : 1)) * N;
}

static pl_code count(pl_arena *a, const layout *l, uint64_t draws, pl_drawn_row *r, pl_diags *d)
{
    const uint64_t batches = (draws + N - 1) / N;
    const int threads = PL_THREADS;
    double **room = PL_NEWN(a, (size_t)threads, double *);
    uint64_t overall = 0, pair = 0;

    for (int i = 0; room && i < threads; i++)
        if (!(room[i] = PL_NEWN(a, room_of(l), double)))
            return pl_nomem(d);
    if (!room)
        return pl_nomem(d);
#pragma omp parallel for schedule(dynamic, 16) reduction(+ : overall, pair) num_threads(threads)
    for (uint64_t i = 0; i < batches; i++) {
        uint64_t seen[PL_NSIZE_TESTS] = { 0 };

        run_batch(l, i, room[PL_THREAD], seen);
        overall += seen[PL_SIZE_OVERALL];
        pair += seen[PL_SIZE_PAIR];
    }
    r->draws = batches * N;
    r->seen[PL_SIZE_OVERALL] = overall;
    r->seen[PL_SIZE_PAIR] = pair;
    return PL_OK;
}

/* ---- the question ---- */

static pl_code unfit(pl_diags *d, const char *found, const char *expected, const char *mend)
{
    return pl_fail(d, PL_EUNFIT, "size", .found = found, .expected = expected, .mend = mend);
}

static bool several_factors(const pl_size_question *s)
{
    for (size_t i = 0; i < s->neffect; i++)
        if (s->effects[i].kind == PL_SIZE_MEETING || s->effects[i].whole)
            return true;
    return s->groups > 1 || s->across > 1 || s->columns || s->runs || s->other_df != 0;
}

static pl_code check(const pl_drawn_question *q, const pl_size_answer *w, pl_diags *d)
{
    const pl_size_question *s = q->size;

    if (s->aim != PL_AIM_DIFFERENCE || isnan(s->worth_noticing))
        return unfit(d, "no difference to notice", "the aim difference, with its distance",
                     "drawn joints try that one out");
    if (several_factors(s) || (s->block_size && s->block_size != s->levels))
        return unfit(d, "several groups or factors, or blocks that do not hold every level once",
                     "levels of one factor, without blocks or in complete ones",
                     "leave the others out, and draw for one factor at a time");
    if (s->levels > PL_DRAWN_LEVELS_MOST)
        return unfit(d, "more than 64 levels", "64 or fewer", "");
    if (q->scatter == PL_DRAWN_ALIKE)
        return PL_OK;
    if (!s->relative)
        return unfit(d, "scatter as a strength", "scatter and difference as shares",
                     "what grows with the strength is stated as a share of it, such as \"12 %\"");
    if (!(s->worth_noticing < 2) ||
        (q->scatter == PL_DRAWN_WEAKEST_LINK && isnan(pl_weibull_shape_of(w->sd))))
        return unfit(d, "a level without any strength", "a smaller difference or scatter", "");
    return PL_OK;
}

static void lay_out(const pl_drawn_question *q, double sd, unsigned n, layout *l)
{
    const pl_size_question *s = q->size;
    const double df = pl_size_error_df(s, n), half = s->worth_noticing / 2;
    const bool grows = q->scatter != PL_DRAWN_ALIKE;

    *l = (layout){ .K = s->levels,
                   .n = n,
                   .blocks = s->block_size > 0,
                   .weibull = q->scatter == PL_DRAWN_WEAKEST_LINK,
                   .seed = q->seed };
    l->each_joint = q->each_joint || l->weibull || (l->blocks && grows);
    for (size_t k = 0; k < l->K; k++) {
        l->off[k] = k == 0 ? half : k == 1 ? -half : 0;
        l->sd[k] = grows ? sd * (1 + l->off[k]) : sd;
    }
    l->nparts = !grows ? 1 : l->K > 2 ? 3 : 2;
    for (size_t p = 0; p < l->nparts; p++) {
        l->part_sd[p] = l->sd[p];
        l->part_df[p] = !grows ? df : p < 2 ? n - 1.0 : (n - 1.0) * ((double)l->K - 2);
    }
    if (l->weibull) {
        const double mean = tgamma(1 + 1 / (l->shape = pl_weibull_shape_of(sd)));

        l->times = 1 / (mean * sd);
        l->less = 1 / sd;
    }
    for (int t = 0; t < PL_NSIZE_TESTS; t++) {
        const double df1 = t == PL_SIZE_PAIR ? 1 : (double)l->K - 1;

        l->limit[t] = pl_f_quantile_upper(s->false_alarm, df1, df) * df1 / (df * n);
    }
}

pl_code pl_drawn_size(pl_arena *a, const pl_drawn_question *q, const pl_size_answer *w,
                      pl_drawn_watch watch, void *self, pl_drawn_answer **out, pl_diags *d)
{
    pl_drawn_answer *o = PL_NEW(a, pl_drawn_answer);
    layout *l = PL_NEW(a, layout);
    double all = 0, done = 0;
    pl_code rc = check(q, w, d);

    *out = NULL;
    if (!rc && (!o || !l || !(o->rows = PL_NEWN(a, w->nrow, pl_drawn_row))))
        rc = pl_nomem(d);
    for (size_t i = 0; i < w->nrow; i++)
        all += w->table[i].glue_ups_per_level;
    for (size_t i = 0; i < w->nrow && !rc && !o->stopped; i++) {
        pl_drawn_row *r = &o->rows[o->nrow];
        const pl_size_row *known = &w->table[i];
        pl_mark mark = pl_arena_mark(a);

        *r = (pl_drawn_row){ .glue_ups_per_level = known->glue_ups_per_level };
        for (int t = 0; t < PL_NSIZE_TESTS; t++)
            r->exact[t] = known->chance[t][PL_SIZE_AS_GIVEN];
        lay_out(q, w->sd, r->glue_ups_per_level, l);
        rc = count(a, l, q->draws, r, d);
        pl_arena_reset(a, mark);
        o->nrow += !rc;
        done += r->glue_ups_per_level;
        o->stopped = watch && i + 1 < w->nrow && watch(self, done / all);
    }
    *out = rc ? NULL : o;
    return rc;
}

/* ---- words ---- */

char *pl_size_drawn_words(pl_arena *a, const pl_drawn_question *q, const pl_size_answer *w,
                          const pl_drawn_answer *drawn)
{
    static const char *const how[PL_NDRAWN_SCATTERS] = {
        "that scatter alike at every level", "whose scatter grows with their strength",
        "that break like chains, at the weakest of many links"
    };
    const pl_drawn_row *r = NULL;
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < drawn->nrow; i++)
        if (drawn->rows[i].glue_ups_per_level == w->limits.glue_ups_per_level)
            r = &drawn->rows[i];
    if (r) {
        const double p = pl_drawn_chance(r, PL_SIZE_OVERALL);
        const double se = pl_drawn_mc_se(r, PL_SIZE_OVERALL);
        const double more = p - r->exact[PL_SIZE_OVERALL];

        pl_text_add(&t,
                    "Tried out on %llu drawn studies of joints %s: %u per level notice the "
                    "difference %s (%.2f %%, sure to %.1g %%; the count above has %.2f %%).",
                    (unsigned long long)r->draws, how[q->scatter], r->glue_ups_per_level,
                    pl_size_often(&t, p), 100 * p, 200 * se, 100 * r->exact[PL_SIZE_OVERALL]);
        if (fabs(more) > 0.02 && fabs(more) > 3 * se)
            pl_text_add(&t, " That is %s often than counted: go by the drawn figure.",
                        more < 0 ? "less" : "more");
        pl_text_put(&t, "\n");
    }
    return pl_text_done(&t);
}
