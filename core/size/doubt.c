/* What is left open about the scatter, as values of the sd and their weights, and which pilot
 * would leave less open. Which chance is averaged over them is size.c's. */
#include <math.h>
#include <stdlib.h>

#include "base/prob.h"
#include "base/stream.h"
#include "size/aim.h"
#include "size/power.h"
#include "size/precision.h"

/* ------------------------------------------------------- parts of the scatter --- */

#define DRAWS 20000u
#define CLASSES 200u /* of equally many draws, each standing for its mean */

/* The pilot's strata from the inside out: mean square, degrees of freedom, and units of the
 * stratum inside in one of this. A part is what a mean square has over the one inside, over the
 * units; cut at 0. */
typedef struct stratum {
    double ms, df, units;
} stratum;

static bool has_parts(const pl_size_question *q)
{
    return !isnan(q->between_glue_ups) && !isnan(q->within) && q->sd_df >= 1 &&
           q->pilot_specimens > q->sd_df + 1;
}

static double sure_part(double part)
{
    return isnan(part) ? 0 : part;
}

/* Within glue-ups, between them (within boards), between boards. */
static size_t strata_of(const pl_size_question *q, stratum s[3])
{
    double glue_ups = q->sd_df + 1, m = q->pilot_specimens / glue_ups, boards = q->pilot_boards;
    double w = q->within, g = q->between_glue_ups, b = sure_part(q->between_blocks);
    size_t n = 2;

    s[0] = (stratum){ w * w, q->pilot_specimens - glue_ups, 1 };
    s[1] = (stratum){ w * w + m * g * g, q->sd_df, m };
    if (boards < 2 || !(b > 0) || glue_ups <= boards)
        return n;
    s[1].df = glue_ups - boards;
    s[2] = (stratum){ s[1].ms + q->pilot_specimens / boards * b * b, boards - 1,
                      q->pilot_specimens / boards };
    return 3;
}

/* Each mean square drawn as df MS / chi-square(df): what the pilot leaves open of it. */
static double drawn_sd(const pl_size_question *q, const stratum *s, size_t n, unsigned draw)
{
    pl_size_question with = *q;
    double ms[3], part[3] = { 0 };
    pl_stream stream;

    pl_stream_init(&stream, 0, PL_FOR_SCATTER, draw);
    for (size_t i = 0; i < n; i++) {
        ms[i] = s[i].ms * s[i].df / pl_chisq_quantile(pl_stream_unit(&stream), s[i].df);
        part[i] = i ? sqrt(fmax(0, (ms[i] - ms[i - 1]) / s[i].units)) : sqrt(ms[0]);
    }
    with.within = part[0];
    with.between_glue_ups = part[1];
    if (n > 2)
        with.between_blocks = part[2];
    return pl_size_sd(&with);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

static pl_code draw_parts(pl_arena *a, const pl_size_question *q, pl_size_doubt *out, pl_diags *d)
{
    pl_mark mark = pl_arena_mark(a);
    double *sd = PL_NEWN(a, DRAWS, double);
    stratum s[3];
    size_t n = strata_of(q, s), each = DRAWS / CLASSES;

    if (!sd)
        return pl_nomem(d);
    for (unsigned i = 0; i < DRAWS; i++)
        sd[i] = drawn_sd(q, s, n, i);
    qsort(sd, DRAWS, sizeof *sd, by_size);
    out->n = CLASSES;
    for (size_t c = 0; c < CLASSES; c++) {
        out->sd[c] = 0;
        out->weight[c] = 1.0 / CLASSES;
        for (size_t i = 0; i < each; i++)
            out->sd[c] += sd[c * each + i] / (double)each;
    }
    out->upper = sd[(size_t)(q->upper_confidence * DRAWS)];
    out->lower = sd[(size_t)((1 - q->upper_confidence) * DRAWS)];
    pl_arena_reset(a, mark);
    return PL_OK;
}

pl_code pl_size_doubt_of(pl_arena *a, const pl_size_question *q, pl_size_doubt *out, pl_diags *d)
{
    double sd = pl_size_sd(q);

    *out = (pl_size_doubt){ .n = 1, .upper = NAN, .lower = NAN };
    out->sd = PL_NEWN(a, PL_PILOT_NODES, double);
    out->weight = PL_NEWN(a, PL_PILOT_NODES, double);
    if (!out->sd || !out->weight)
        return pl_nomem(d);
    out->sd[0] = sd;
    out->weight[0] = 1;
    if (q->from == PL_SCATTER_GUESSED) {
        out->upper = sd * (q->sd_high / q->sd);
        out->lower = sd * (q->sd_low / q->sd);
    }
    if (q->from != PL_SCATTER_PILOT)
        return PL_OK;
    if (has_parts(q))
        return draw_parts(a, q, out, d);
    out->upper = pl_sd_upper_limit(sd, q->sd_df, q->upper_confidence);
    out->lower = pl_sd_upper_limit(sd, q->sd_df, 1 - q->upper_confidence);
    /* shares on both sides take an integral of two dimensions each */
    out->n = pl_pilot_nodes(q->sd_df, !(q->both_sides && q->relative), out->sd, out->weight);
    for (size_t i = 0; i < out->n; i++)
        out->sd[i] *= sd;
    return PL_OK;
}

/* ------------------------------------------------------------- larger pilots --- */

typedef struct piloted {
    const pl_size_question *q;
    unsigned n;
} piloted;

static double assured_by(const void *ctx, unsigned glue_ups)
{
    const piloted *p = ctx;
    double ratio[PL_PILOT_NODES], weight[PL_PILOT_NODES], sum = 0;
    size_t n = pl_pilot_nodes(glue_ups - 1.0, false, ratio, weight);

    for (size_t i = 0; i < n; i++)
        sum += weight[i] * pl_size_aim_of(p->q)->chance(p->q, p->n, PL_SIZE_OVERALL,
                                                        pl_size_sd(p->q) * ratio[i]);
    return sum;
}

unsigned pl_size_pilot_for(const pl_size_question *q, unsigned n)
{
    piloted p = { q, n };
    const pl_size_aim *aim = pl_size_aim_of(q);

    if (!(aim->error_df(q, n) > 0) ||
        !(aim->chance(q, n, PL_SIZE_OVERALL, pl_size_sd(q)) >= 1 - q->miss_at_most))
        return 0;
    return pl_least_n(assured_by, &p, 1 - q->miss_at_most, (unsigned)q->sd_df + 2, PL_PILOT_MOST);
}

/* n at the upper limit that a pilot of so many would leave if it found the guess's middle. */
static unsigned need_after(pl_arena *a, const pl_size_question *q, unsigned pilot, pl_diags *d)
{
    pl_size_question with = *q;
    pl_mark mark = pl_arena_mark(a);
    const pl_size_answer *w;
    unsigned need = 0;

    with.from = PL_SCATTER_KNOWN;
    with.sd = pl_sd_upper_limit(q->sd, pilot - 1.0, q->upper_confidence);
    if (!pl_size_find(a, &with, &w, d))
        need = w->need_at[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN];
    pl_arena_reset(a, mark);
    return need;
}

unsigned pl_size_pilot_that_pays(pl_arena *a, const pl_size_question *q, pl_diags *d)
{
    double a_level = (double)q->groups * pl_size_replicate(q);
    pl_size_question high = *q;
    const pl_size_answer *w;
    double at_high = INFINITY;

    if (q->from != PL_SCATTER_GUESSED)
        return 0;
    high.from = PL_SCATTER_KNOWN;
    high.sd = q->sd_high;
    if (!pl_size_find(a, &high, &w, d) && w->need_at[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN])
        at_high = a_level * w->need_at[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN];
    for (unsigned pilot = 3; pilot <= 40; pilot++) {
        unsigned n = need_after(a, q, pilot, d);

        if (n && pilot + a_level * n < at_high)
            return pilot;
    }
    return 0;
}
