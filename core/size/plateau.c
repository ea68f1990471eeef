/* Plateau studies drawn in blocks and counted by how they end. One study is judged by
 * plateau_judge.c; words are plateau_words.c. */
#include "size/plateau.h"

#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "base/stream.h"
#include "base/threads.h"
#include "design/onset.h"
#include "model/curve.h"
#include "size/power.h"

/* Numbers per level looked at, until all chances asked about are reached. */
static const unsigned ladder[] = {
    2,  3,  4,  5,  6,  7,  8,  9,  10, 12, 14,
    16, 18, 20, 24, 28, 32, 40, 50, 60, 80, PL_PLATEAU_GLUE_UPS_MOST
};
#define RUNGS (sizeof ladder / sizeof *ladder)
#define ROUND 8u /* blocks between two looks at the error, shared out to threads */

const char *pl_plateau_end_name(pl_plateau_end e)
{
    static const char *const names[PL_NPLATEAU_ENDS] = { "found",       "too_far", "top_open",
                                                         "not_reached", "no_rise", "falling" };

    return names[e];
}

const char *pl_plateau_layout_name(pl_plateau_layout l)
{
    static const char *const names[PL_NPLATEAU_LAYOUTS] = { "asked", "constant-ratio",
                                                            "equal-steps", "placed-for-guess" };

    return names[l];
}

double pl_plateau_chance(const pl_plateau_cell *c)
{
    return c->draws ? (double)c->ends[PL_END_FOUND] / (double)c->draws : NAN;
}

double pl_plateau_mc_se(const pl_plateau_cell *c)
{
    double n = (double)c->draws + 2, p = ((double)c->ends[PL_END_FOUND] + 1) / n;

    return c->draws ? sqrt(p * (1 - p) / n) : NAN;
}

/* ---- guesses ---- */

static double span_u(const pl_plateau_question *q, bool log_x, double x)
{
    return log_x ? log(x / q->levels[0]) : x;
}

/* Where a curve starts. */
static double start_u(const pl_plateau_question *q, bool log_x)
{
    return log_x ? 0 : fmin(q->levels[0], 0);
}

static double rise_at(const pl_plateau_question *q, const pl_curve *c, bool log_x, double s,
                      double x)
{
    double u = span_u(q, log_x, x), h;

    c->rise(&u, 1, start_u(q, log_x), span_u(q, log_x, q->levels[q->K - 1]), s, &h);
    return h;
}

/* The shape number with which the share is reached at the onset: the rise at the onset grows or
 * falls with it all the way, so halving finds it. NAN when no shape has it. */
static double shape_of(const pl_plateau_question *q, const pl_plateau_guess *g, const pl_curve *c)
{
    double u[PL_PLATEAU_LEVELS_MOST], z[PL_CURVE_GRID_MOST], origin, low, high;
    double wanted = (q->share - g->floor) / (1 - g->floor);
    pl_curve_span span = { u, q->K, 0, 0 };
    bool grows;
    size_t n;

    for (size_t k = 0; k < q->K; k++)
        u[k] = span_u(q, g->log_x, q->levels[k]);
    span.low = start_u(q, g->log_x);
    span.high = u[q->K - 1];
    n = c->grid(&span, z);
    origin = pl_curve_origin(c, span.low);
    low = z[0];
    high = z[n - 1];
    grows = rise_at(q, c, g->log_x, origin + exp(high), g->onset) >
            rise_at(q, c, g->log_x, origin + exp(low), g->onset);
    for (int end = 0; end < 2; end++) {
        double h = rise_at(q, c, g->log_x, origin + exp(end ? high : low), g->onset);

        if ((end == grows) ? h < wanted : h > wanted)
            return NAN;
    }
    for (int i = 0; i < 200; i++) {
        double middle = 0.5 * (low + high);

        *((rise_at(q, c, g->log_x, origin + exp(middle), g->onset) < wanted) == grows
              ? &low
              : &high) = middle;
    }
    return origin + exp(0.5 * (low + high));
}

/* Strength at x under a guess; the highest level's is 1. */
static double mean_at(const pl_plateau_question *q, const pl_plateau_guess *g, double shape,
                      double x)
{
    double h = rise_at(q, pl_curve_find(g->curve), g->log_x, shape, x);

    return g->floor + (1 - g->floor) * h;
}

static void range_fault(pl_diags *d, const char *where, double found, const char *expected)
{
    pl_fail(d, PL_EDOM, where, .found = pl_arena_printf(d->arena, "%g", found),
            .expected = expected);
}

static void check_guess(const pl_plateau_question *q, const pl_plateau_guess *g, double *shape,
                        pl_diags *d)
{
    const pl_curve *c = pl_curve_find(g->curve);
    size_t before = d->count;

    *shape = NAN;
    if (!c || !c->rises || c->wide || c->nshape != 1) {
        pl_fail(d, PL_EDOM, "guess", .found = g->curve,
                .expected = "linear-plateau, quadratic-plateau, saturating-exponential or "
                            "saturating-hyperbola");
        return;
    }
    if (!(g->floor >= 0 && g->floor < q->share))
        range_fault(d, "guess: floor", g->floor,
                    "a share of the highest strength, below the share at which the rise is done");
    if (!(g->onset > q->levels[0] && g->onset < q->levels[q->K - 1]))
        range_fault(d, "guess: onset", g->onset, "a place between the lowest and highest level");
    if (!(g->weight > 0))
        range_fault(d, "guess: weight", g->weight, "above 0");
    if (g->log_x && !(q->levels[0] > 0))
        range_fault(d, "guess: scale", q->levels[0], "a lowest level above zero, for log x");
    if (d->count != before)
        return;
    *shape = shape_of(q, g, c);
    if (isnan(*shape))
        pl_fail(d, PL_EUNFIT, "guess",
                .found = pl_arena_printf(d->arena,
                                         "%s cannot reach %g %% of its highest strength first at "
                                         "such a place",
                                         g->curve, 100 * q->share),
                .expected = "an earlier onset, or a lower floor",
                .mend = "linear-plateau takes any onset that is left of the highest level");
}

static pl_code check(const pl_plateau_question *q, double *shape, pl_diags *d)
{
    size_t from = d->count;
    const pl_size_question *s = &q->size;

    if (q->K < 3 || q->K > PL_PLATEAU_LEVELS_MOST)
        range_fault(d, "levels", (double)q->K, "3 to 24 levels");
    for (size_t k = 1; k < q->K && k < PL_PLATEAU_LEVELS_MOST; k++)
        if (!(q->levels[k] > q->levels[k - 1]))
            range_fault(d, "levels", q->levels[k], "levels that rise");
    if (!(q->within > 1 && q->within <= 100))
        range_fault(d, "within", q->within, "a factor above 1");
    if (!(q->share >= 0.5 && q->share < 1))
        range_fault(d, "share", q->share, "0.5 or more, below 1");
    if (!(s->sd > 0 && s->sd < 1))
        range_fault(d, "scatter", s->sd, "above 0 and below the strength itself");
    if (s->from == PL_SCATTER_PILOT && !(s->sd_df >= 1))
        range_fault(d, "scatter-from", s->sd_df + 1, "2 glue-ups or more");
    if (!(s->miss_at_most > 0 && s->miss_at_most < 1))
        range_fault(d, "miss-at-most", s->miss_at_most, "a chance between 0 and 1");
    if (!(q->sure_to > 0 && q->sure_to < 0.5))
        range_fault(d, "sure-to", q->sure_to, "above 0 and below 50 %");
    if (!(q->from < q->to && q->to <= PL_PLATEAU_DRAWS_MOST))
        range_fault(d, "draws", (double)q->to, "at least one, 1000000000 at most");
    if (!q->nguess || q->nguess > PL_PLATEAU_GUESSES_MOST)
        range_fault(d, "guess", (double)q->nguess, "1 to 20 guesses of the curve");
    if (d->count == from)
        for (size_t i = 0; i < q->nguess; i++)
            check_guess(q, &q->guesses[i], &shape[i], d);
    return d->out_of_memory ? PL_ENOMEM : pl_diags_code(d, from);
}

/* ---- one draw ---- */

typedef struct work {
    const pl_plateau_question *q;
    const pl_judge *judge;
    pl_size_basis basis;
    unsigned n;
    double efficiency;
    double *mean;   /* nguess x K: true means */
    double *before; /* nguess: weights summed up, the last 1 */
    double sd, sd_upper;
    double *scratch[64]; /* one a thread */
    int threads;
} work;

static double scatter_of(const work *w, pl_stream *s)
{
    double df = w->q->size.sd_df;

    if (w->basis == PL_SIZE_AT_UPPER)
        return w->sd_upper;
    return w->basis == PL_SIZE_ASSURED ? w->sd * sqrt(df / pl_stream_chisq(s, df)) : w->sd;
}

/* Mean of n joints of a level and, added to *ss, their squares about it, when the rig stops at the
 * limit. */
static double stopped_mean(const work *w, double truth, double sd, pl_stream *s, double *ss)
{
    double mean = 0, squares = 0;

    for (unsigned i = 0; i < w->n; i++) { /* Welford 1962, Technometrics 4:419 */
        double y = fmin(truth + sd * pl_stream_normal(s), w->q->limit), off = y - mean;

        mean += off / (i + 1);
        squares += off * (y - mean);
    }
    *ss += squares;
    return mean;
}

static pl_plateau_end draw_one(const work *w, uint64_t draw, double *scratch)
{
    const pl_plateau_question *q = w->q;
    const double df = pl_judge_error_df(w->judge);
    double mean[PL_PLATEAU_LEVELS_MOST], ss = 0, sd, point, pick;
    const double *truth;
    pl_plateau_end end;
    pl_stream s;
    size_t g = 0;

    pl_stream_init(&s, q->seed, PL_FOR_PLATEAU, draw);
    pick = pl_stream_unit(&s);
    while (g + 1 < q->nguess && pick > w->before[g])
        g++;
    truth = w->mean + g * q->K;
    for (size_t k = 0; k < q->K; k++)
        mean[k] = pl_stream_normal(&s);
    sd = scatter_of(w, &s);
    for (size_t k = 0; k < q->K; k++) {
        double own = q->size.relative ? sd * truth[k] : sd;

        if (q->limit > 0) {
            mean[k] = stopped_mean(w, truth[k], own, &s, &ss);
            continue;
        }
        mean[k] = truth[k] + mean[k] * own / sqrt(w->n * w->efficiency);
        if (q->size.relative) /* blocks take an even part of each level's freedom */
            ss += own * own * pl_stream_chisq(&s, df / (double)q->K);
    }
    if (q->limit > 0) /* what blocks take is taken from all alike */
        ss *= df / ((double)q->K * (w->n - 1.0));
    else if (!q->size.relative)
        ss = sd * sd * pl_stream_chisq(&s, df);
    end = pl_judge_study(w->judge, mean, ss, scratch, &point);
    if (end == PL_END_FOUND && !(fabs(log(point / q->guesses[g].onset)) <= log(q->within)))
        end = PL_END_FAR;
    return end;
}

static void count_block(const work *w, uint64_t from, uint64_t to, double *scratch,
                        pl_plateau_cell *out)
{
    memset(out, 0, sizeof *out);
    for (uint64_t i = from; i < to; i++)
        out->ends[draw_one(w, i, scratch)]++;
    out->draws = to - from;
}

static void add(pl_plateau_cell *to, const pl_plateau_cell *from)
{
    to->draws += from->draws;
    for (int e = 0; e < PL_NPLATEAU_ENDS; e++)
        to->ends[e] += from->ends[e];
}

typedef struct watching {
    pl_plateau_watch watch;
    void *self;
    double done, share; /* behind already; of this cell */
    bool stopped;
} watching;

/* All blocks of a cell, in order: what lies behind the block at which it is sure is dropped,
 * whatever thread had done it. */
static void count_cell(const work *w, watching *watch, pl_plateau_cell *cell)
{
    const pl_plateau_question *q = w->q;
    pl_plateau_cell part[ROUND];
    bool sure = false;

    for (uint64_t from = q->from; from < q->to && !sure && !watch->stopped;
         from += ROUND * PL_PLATEAU_BLOCK) {
        memset(part, 0, sizeof part);
#pragma omp parallel for schedule(dynamic, 1) num_threads(w->threads)
        for (unsigned b = 0; b < ROUND; b++) {
            uint64_t begin = from + b * PL_PLATEAU_BLOCK, end = begin + PL_PLATEAU_BLOCK;
            int thread = PL_THREAD;

            if (begin < q->to)
                count_block(w, begin, end < q->to ? end : q->to, w->scratch[thread], &part[b]);
        }
        for (unsigned b = 0; b < ROUND && !sure && part[b].draws; b++) {
            add(cell, &part[b]);
            sure = !q->whole_range && pl_plateau_mc_se(cell) <= q->sure_to;
        }
        if (watch->watch)
            watch->stopped = watch->watch(watch->self, watch->done + watch->share *
                                                                         (double)(from - q->from) /
                                                                         (double)(q->to - q->from));
    }
}

/* ---- layouts and numbers ---- */

/* As many levels between the same ends where the guesses are told most surely; the search is
 * design's, which asks a study: this one has the factor and the guesses alone. */
static bool place_levels(pl_arena *a, const pl_plateau_question *q, double *x)
{
    pl_guess *guesses = PL_NEWN(a, q->nguess, pl_guess);
    const char *unit = q->unit ? q->unit : "1", *why;
    pl_factor f = { .name = "x", .nlevel = q->K, .numeric = true, .kind = q->kind, .unit = unit };
    pl_study s = { .name = "x", .factors = &f, .nfactor = 1 };
    double scale, offset;

    if (!guesses || pl_units_scale(a, unit, q->kind, &scale, &offset, &why))
        return false;
    for (size_t g = 0; g < q->nguess; g++)
        guesses[g] = (pl_guess){ q->guesses[g].curve, q->guesses[g].log_x, q->guesses[g].onset,
                                 q->guesses[g].floor, q->guesses[g].weight };
    s.question = (pl_question){ .share = q->share, .guess = guesses, .nguess = q->nguess };
    for (size_t k = 0; k < q->K; k++)
        x[k] = (q->levels[k] - offset) / scale;
    if (!pl_onset_levels(a, &s, 0, x))
        return false;
    for (size_t k = 0; k < q->K; k++)
        x[k] = scale * x[k] + offset;
    return true;
}

static void lay_out(pl_arena *a, const pl_plateau_question *q, pl_plateau_answer *w)
{
    const double low = q->levels[0], high = q->levels[q->K - 1];

    for (size_t k = 0; k < q->K; k++) {
        double part = (double)k / (double)(q->K - 1);

        w->places[PL_LAYOUT_ASKED][k] = q->levels[k];
        w->places[PL_LAYOUT_STEPS][k] = low + part * (high - low);
        w->places[PL_LAYOUT_RATIO][k] = low > 0 ? low * pow(high / low, part) : NAN;
    }
    if (q->asked_only || !place_levels(a, q, w->places[PL_LAYOUT_PLACED]))
        memcpy(w->places[PL_LAYOUT_PLACED], w->places[PL_LAYOUT_ASKED],
               sizeof w->places[PL_LAYOUT_ASKED]);
    for (int l = 0; l < PL_NPLATEAU_LAYOUTS; l++) {
        w->has[l] = l == PL_LAYOUT_ASKED;
        for (size_t k = 1; k + 1 < q->K && !q->asked_only; k++)
            /* the same to what a dial shows is the same */
            w->has[l] |= fabs(w->places[l][k] - q->levels[k]) > 0.01 * (high - low);
    }
}

pl_size_basis pl_plateau_advised(const pl_plateau_question *q)
{
    return q->size.from == PL_SCATTER_PILOT     ? PL_SIZE_ASSURED
           : q->size.from == PL_SCATTER_GUESSED ? PL_SIZE_AT_UPPER
                                                : PL_SIZE_AS_GIVEN;
}

static bool applies(const pl_plateau_question *q, pl_size_basis b)
{
    if (q->advised_only)
        return b == pl_plateau_advised(q);
    return b == PL_SIZE_AS_GIVEN || (b == PL_SIZE_AT_UPPER ? q->size.from != PL_SCATTER_KNOWN
                                                           : q->size.from == PL_SCATTER_PILOT);
}

/* Which numbers are looked at: the one asked about alone, or the ladder. */
static size_t rungs(const pl_plateau_question *q)
{
    return q->size.glue_ups_per_level ? 1 : RUNGS;
}

static unsigned rung(const pl_plateau_question *q, size_t i)
{
    return q->size.glue_ups_per_level ? q->size.glue_ups_per_level : ladder[i];
}

void pl_plateau_needs(const pl_plateau_question *q, pl_plateau_answer *w)
{
    memset(w->need, 0, sizeof w->need);
    for (size_t i = w->nrow; i-- > 0;)
        for (int b = 0; b < PL_NSIZE_BASES; b++)
            if (pl_plateau_chance(&w->rows[i].cell[b]) >= 1 - q->size.miss_at_most)
                w->need[w->rows[i].layout][b] = w->rows[i].glue_ups_per_level;
}

typedef struct sizing {
    const pl_plateau_question *q;
    const double *shape;
    pl_plateau_answer *out;
    work w;
    watching watch;
    pl_diags *d;
} sizing;

static pl_code make_truth(pl_arena *a, sizing *z)
{
    const pl_plateau_question *q = z->q;
    double sum = 0, so_far = 0;

    z->w.mean = PL_NEWN(a, q->nguess * q->K, double);
    z->w.before = PL_NEWN(a, q->nguess, double);
    if (!z->w.mean || !z->w.before)
        return pl_nomem(z->d);
    for (size_t g = 0; g < q->nguess; g++)
        sum += q->guesses[g].weight;
    for (size_t g = 0; g < q->nguess; g++) {
        so_far += q->guesses[g].weight / sum;
        z->w.before[g] = so_far;
    }
    return PL_OK;
}

/* All that is asked of one number; *enough: every chance asked about is reached. */
static pl_code count_row(pl_arena *a, sizing *z, pl_plateau_layout l, const pl_judge_layout *layout,
                         unsigned n, bool *enough)
{
    const pl_plateau_question *q = z->q;
    const double blocks = (double)q->K * (n - 1.0) - pl_size_error_df(&q->size, n);
    pl_plateau_row *row = &z->out->rows[z->out->nrow];
    pl_mark mark = pl_arena_mark(a);
    pl_judge *judge = NULL;
    pl_code rc;

    z->w.n = n;
    z->w.efficiency = pl_size_efficiency(&q->size);
    rc = pl_judge_make(a, layout, n, blocks, z->w.efficiency, &judge, z->d);
    z->w.judge = judge;
    for (int t = 0; t < z->w.threads && !rc; t++)
        if (!(z->w.scratch[t] = pl_judge_scratch(a, judge)))
            rc = pl_nomem(z->d);
    if (rc)
        return rc;
    for (size_t g = 0; g < q->nguess; g++)
        for (size_t k = 0; k < q->K; k++)
            z->w.mean[g * q->K + k] = mean_at(q, &q->guesses[g], z->shape[g], z->out->places[l][k]);
    *row = (pl_plateau_row){ .layout = l, .glue_ups_per_level = n };
    *enough = true;
    for (int b = 0; b < PL_NSIZE_BASES; b++) {
        if (!applies(q, (pl_size_basis)b))
            continue;
        z->w.basis = (pl_size_basis)b;
        count_cell(&z->w, &z->watch, &row->cell[b]);
        z->watch.done += z->watch.share;
        *enough = *enough && pl_plateau_chance(&row->cell[b]) >= 1 - q->size.miss_at_most;
    }
    z->out->nrow += row->cell[q->advised_only ? pl_plateau_advised(q) : PL_SIZE_AS_GIVEN].draws > 0;
    pl_arena_reset(a, mark);
    return PL_OK;
}

static pl_code count_layout(pl_arena *a, sizing *z, pl_plateau_layout l)
{
    const pl_plateau_question *q = z->q;
    bool enough = false, any = false;
    pl_judge_layout *layout;
    pl_mark mark = pl_arena_mark(a);
    pl_code rc = pl_judge_lay_out(a, z->out->places[l], q->K, q->share, &layout, z->d);

    for (size_t i = 0; i < rungs(q) && !rc && !z->watch.stopped; i++) {
        unsigned n = rung(q, i);

        if (!(pl_size_error_df(&q->size, n) >= 1) && rungs(q) > 1)
            continue;
        any = true;
        rc = count_row(a, z, l, layout, n, &enough);
        if (enough && !q->whole_range)
            break;
    }
    if (!rc)
        pl_arena_reset(a, mark);
    return rc || any ? rc
                     : pl_fail(z->d, PL_EUNFIT, "", .found = "no error to compare with",
                               .expected = "two glue-ups per level or more");
}

static int threads_of(void)
{
    return PL_THREADS < 1 ? 1 : PL_THREADS > 64 ? 64 : PL_THREADS;
}

static double upper_of(const pl_size_question *s, double sd)
{
    return s->from == PL_SCATTER_PILOT     ? pl_sd_upper_limit(sd, s->sd_df, s->upper_confidence)
           : s->from == PL_SCATTER_GUESSED ? s->sd_high
                                           : NAN;
}

pl_code pl_plateau_size(pl_arena *a, const pl_plateau_question *q, pl_plateau_watch watch,
                        void *self, pl_plateau_answer **out, pl_diags *d)
{
    double shape[PL_PLATEAU_GUESSES_MOST] = { 0 };
    pl_plateau_answer *w = PL_NEW(a, pl_plateau_answer);
    sizing z = { .q = q, .shape = shape, .out = w, .d = d };
    double cells = 0;
    pl_code rc = w ? check(q, shape, d) : pl_nomem(d);

    *out = NULL;
    if (rc)
        return rc;
    w->rows = PL_NEWN(a, PL_NPLATEAU_LAYOUTS * RUNGS, pl_plateau_row);
    rc = w->rows ? make_truth(a, &z) : pl_nomem(d);
    if (rc)
        return rc;
    z.w.q = q;
    z.w.threads = threads_of();
    z.w.sd = pl_size_sd(&q->size);
    z.w.sd_upper = w->sd_upper = upper_of(&q->size, z.w.sd);
    lay_out(a, q, w);
    for (int l = 0; l < PL_NPLATEAU_LAYOUTS; l++)
        for (int b = 0; b < PL_NSIZE_BASES && w->has[l]; b++)
            cells += applies(q, (pl_size_basis)b) ? (double)rungs(q) : 0;
    z.watch = (watching){ .watch = watch, .self = self, .share = 1 / cells };
    for (int l = 0; l < PL_NPLATEAU_LAYOUTS && !rc && !z.watch.stopped; l++)
        if (w->has[l])
            rc = count_layout(a, &z, (pl_plateau_layout)l);
    w->stopped = z.watch.stopped;
    pl_plateau_needs(q, w);
    *out = w;
    return rc;
}
