/* Optimal designs of a study: candidates, the columns that are asked, the runs of each group
 * inside its boards, and how near they come to what can be had. The search itself is exchange.c's.
 */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "design/draft.h"
#include "design/exchange.h"
#include "design/information.h"
#include "design/onset.h"
#include "design/plan_grow.h"
#include "design/weights.h"

#define STARTS ((size_t)20)
#define SEARCH_SEED 0u     /* one search for all plans: seeds only say which set lies where */
#define TABLE_MOST 2000000 /* candidates times columns; above: one factor at a time */
#define SPREAD 0.01        /* of the runs for an onset, for curves other than the guess */
#define NEAR_BOUND 1e-4    /* weights stop so near to the bound */

typedef struct column {
    int one, other; /* factors; other -1: a factor by itself */
} column;

typedef struct asked {
    pl_draft *f;
    pl_asks asks;
    size_t ncand, nx;
    const int *levels; /* ncand x nfactor: all combinations */
    column *of;        /* nx */
    double *x;         /* ncand x nx: of the first view */
    size_t nview;      /* 1, or guesses of the onset */
    double **of_view;  /* nview x ncand x nx */
    double **rise;     /* nview x levels of the factor asked along x 2; NULL: no onset is asked */
    double (*aim)[3];  /* nview: mean, and these two */
    size_t now;        /* the view whose columns are worked out */
    bool *may;         /* ncand: of the group in hand */
    bool *lost;        /* nx: cannot be told from the columns before */
} asked;

static pl_code refuse(pl_draft *f, pl_code code, const char *key, const char *found,
                      const char *expected, const char *mend)
{
    return pl_fail(f->d, code, pl_draft_where(f, key),
                   .pointer = pl_arena_printf(f->scratch, "/%s", key), .found = found,
                   .expected = expected, .mend = mend);
}

/* --------------------------------------------------------------- columns -- */

static bool rises(const asked *q, size_t k)
{
    return q->rise && q->f->s->question.over == (int)k;
}

static bool sloped(const asked *q, size_t k)
{
    return q->asks == PL_ASKS_CURVED && q->f->s->factors[k].numeric;
}

/* Columns of a factor that enter products: its slope, or each level against those before it
 * (Helmert). */
static size_t own_columns(const asked *q, size_t k)
{
    if ((int)k == q->f->with_board)
        return 0;
    if (rises(q, k))
        return PL_ONSET_COLUMNS;
    return sloped(q, k) ? 1 : q->f->s->factors[k].nlevel - 1;
}

static double own(const asked *q, size_t k, int level, size_t j)
{
    if (q->rise && rises(q, k))
        return q->rise[q->now][PL_ONSET_COLUMNS * (size_t)level + j];
    if (sloped(q, k))
        return pl_draft_coded(&q->f->s->factors[k], level);
    return (size_t)level <= j ? 1 : (size_t)level == j + 1 ? -(double)(j + 1) : 0;
}

/* One row of columns: single factors, squares, products. Returns their number; levels NULL:
 * only what the columns are of. */
static size_t row_of(const asked *q, const int *levels, double *out, column *of)
{
    size_t at = 0, nf = q->f->s->nfactor;

    for (size_t k = 0; k < nf; k++)
        for (size_t j = 0; j < own_columns(q, k); j++, at++)
            if (levels)
                out[at] = own(q, k, levels[k], j);
            else if (of)
                of[at] = (column){ (int)k, -1 };
    for (size_t k = 0; k < nf; k++) {
        if (!own_columns(q, k) || !sloped(q, k) || q->f->s->factors[k].nlevel < 3)
            continue;
        if (levels)
            out[at] = own(q, k, levels[k], 0) * own(q, k, levels[k], 0);
        else if (of)
            of[at] = (column){ (int)k, (int)k };
        at++;
    }
    for (size_t k = 1; k < nf && q->asks != PL_ASKS_SINGLE; k++)
        for (size_t i = 0; i < k; i++) {
            size_t ni = own_columns(q, i), nk = own_columns(q, k);

            for (size_t c = 0; c < ni * nk; c++, at++)
                if (levels)
                    out[at] = own(q, i, levels[i], c / nk) * own(q, k, levels[k], c % nk);
                else if (of)
                    of[at] = (column){ (int)i, (int)k };
        }
    return at;
}

/* "the effect of glue", "the bend of pressure", "the joint effect of glue and pads" */
static const char *name_of(const pl_draft *f, column c)
{
    const char *one = f->s->factors[c.one].name;

    if (c.other < 0)
        return pl_arena_printf(f->scratch, "the effect of %s", one);
    if (c.other == c.one)
        return pl_arena_printf(f->scratch, "the bend of %s", one);
    return pl_arena_printf(f->scratch, "the joint effect of %s and %s", one,
                           f->s->factors[c.other].name);
}

/* ------------------------------------------------------------ candidates -- */

static bool rig_makes(const pl_draft *f, const int *levels)
{
    return !f->points || f->pressed < 0 || f->points->chosen[levels[f->pressed]] >= 0;
}

static void mark_group(asked *q, size_t g)
{
    const pl_draft *f = q->f;

    for (size_t t = 0; t < q->ncand; t++) {
        const int *levels = q->levels + t * f->s->nfactor;

        q->may[t] = (f->with_board < 0 || (size_t)levels[f->with_board] == g) &&
                    pl_study_may_meet(f->s, levels) && rig_makes(f, levels);
    }
}

/* The guesses' columns at the levels asked along. */
static pl_code open_rises(asked *q)
{
    const pl_draft *f = q->f;
    const pl_question *ask = &f->s->question;
    const pl_factor *over = &f->s->factors[ask->over];
    double *x = PL_NEWN(f->scratch, over->nlevel, double), low = INFINITY, high = 0;

    q->nview = ask->nguess;
    q->rise = PL_NEWN(f->scratch, q->nview, double *);
    q->aim = pl_arena_get(f->scratch, q->nview, sizeof *q->aim);
    if (!x || !q->rise || !q->aim)
        return pl_nomem(f->d);
    for (size_t l = 0; l < over->nlevel; l++) {
        x[l] = over->levels[l].si;
        low = x[l] < low ? x[l] : low;
        high = x[l] > high ? x[l] : high;
    }
    for (size_t g = 0; g < q->nview; g++) {
        q->rise[g] = PL_NEWN(f->scratch, PL_ONSET_COLUMNS * over->nlevel, double);
        if (!q->rise[g])
            return pl_nomem(f->d);
        if (!pl_onset_view(&ask->guess[g], ask->share, low, high, x, over->nlevel, q->rise[g],
                           q->aim[g]))
            return refuse(
                q->f, PL_EUNFIT, "question",
                pl_arena_printf(f->scratch,
                                "guess %zu: no %s that starts so high ends its rise there", g + 1,
                                ask->guess[g].curve),
                "a guess that the levels can hold", "a lower floor, or an earlier onset");
    }
    return PL_OK;
}

static pl_code open_asked(pl_draft *f, pl_asks asks, asked *q)
{
    size_t nf = f->s->nfactor, nx;
    bool onset = f->s->arrangement.kind == PL_ARRANGE_OPTIMAL &&
                 f->s->arrangement.criterion == PL_CRITERION_C;
    int *levels;
    pl_code rc;

    *q = (asked){ .f = f, .asks = asks, .ncand = 1, .nview = 1 };
    rc = onset ? open_rises(q) : PL_OK;
    if (rc)
        return rc;
    q->nx = nx = row_of(q, NULL, NULL, NULL);
    for (size_t k = 0; k < nf; k++)
        q->ncand *= f->s->factors[k].nlevel;
    q->levels = levels = pl_arena_get(f->scratch, q->ncand, nf * sizeof *levels);
    q->of = PL_NEWN(f->scratch, nx, column);
    q->may = PL_NEWN(f->scratch, q->ncand, bool);
    q->lost = PL_NEWN(f->scratch, nx, bool);
    q->of_view = PL_NEWN(f->scratch, q->nview, double *);
    if (!levels || !q->of || !q->may || !q->lost || !q->of_view)
        return pl_nomem(f->d);
    row_of(q, NULL, NULL, q->of);
    for (size_t t = 0; t < q->ncand; t++)
        pl_study_combination(f->s, t, levels + t * nf);
    for (q->now = 0; q->now < q->nview; q->now++) {
        double *x = pl_arena_get(f->scratch, q->ncand, nx * sizeof *x);

        if (!x)
            return pl_nomem(f->d);
        for (size_t t = 0; t < q->ncand; t++)
            row_of(q, levels + t * nf, x + t * nx, NULL);
        q->of_view[q->now] = x;
    }
    q->x = q->of_view[0];
    return PL_OK;
}

static double entry(const asked *q, size_t t, size_t i)
{
    return i ? q->x[t * q->nx + i - 1] : 1;
}

/* Marks columns that the candidates of a group do not tell from those before them. */
static pl_code tell_apart(asked *q)
{
    size_t n = q->nx + 1;
    double *m = pl_arena_get(q->f->scratch, n, n * sizeof *m);
    double *diagonal = PL_NEWN(q->f->scratch, n, double);

    if (!m || !diagonal)
        return pl_nomem(q->f->d);
    for (size_t t = 0; t < q->ncand; t++)
        for (size_t i = 0; q->may[t] && i < n; i++)
            for (size_t j = 0; j < n; j++)
                m[i * n + j] += entry(q, t, i) * entry(q, t, j);
    for (size_t i = 0; i < n; i++)
        diagonal[i] = m[i * n + i];
    for (size_t k = 0; k < n; k++) {
        double pivot = m[k * n + k];

        if (!(pivot > PL_INFORMATION_ZERO * diagonal[k])) {
            if (k)
                q->lost[k - 1] = true;
            continue;
        }
        for (size_t i = k + 1; i < n; i++)
            for (size_t j = n; j-- > k;)
                m[i * n + j] -= m[i * n + k] / pivot * m[k * n + j];
    }
    return PL_OK;
}

/* Columns of the same effect, and how many of them are lost. */
static size_t lost_of(const asked *q, column of, size_t *all)
{
    size_t n = 0;

    *all = 0;
    for (size_t c = 0; c < q->nx; c++)
        if (q->of[c].one == of.one && q->of[c].other == of.other) {
            (*all)++;
            n += q->lost[c];
        }
    return n;
}

static bool first_of(const asked *q, size_t c)
{
    return !c || q->of[c].one != q->of[c - 1].one || q->of[c].other != q->of[c - 1].other;
}

/* Says what is lost, and refuses when it is a single factor's. */
static pl_code say_lost(asked *q)
{
    pl_draft *f = q->f;

    f->partly = PL_NEWN(f->a, q->nx, const char *);
    if (!f->partly)
        return pl_nomem(f->d);
    for (size_t c = 0; c < q->nx; c++) {
        size_t all, lost = lost_of(q, q->of[c], &all);

        if (!lost || !first_of(q, c))
            continue;
        if (q->of[c].other < 0)
            return refuse(f, PL_EUNFIT, f->s->napart ? "not_together" : "arrangement",
                          pl_arena_printf(f->scratch, "%s cannot be told from the others",
                                          name_of(f, q->of[c])),
                          "combinations that set each factor apart",
                          "let more of them meet, or leave that factor out");
        f->partly[f->npartly] = pl_arena_printf(
            f->a, "%s is shown %s: some combinations never occur", name_of(f, q->of[c]),
            lost == all ? "not at all" : "only in part");
        if (!f->partly[f->npartly++])
            return pl_nomem(f->d);
    }
    return PL_OK;
}

/* Takes out the columns that some group cannot tell. */
static pl_code drop_lost(asked *q)
{
    size_t kept = 0, was = q->nx;
    pl_code rc = q->x ? say_lost(q) : pl_nomem(q->f->d);

    for (size_t c = 0; q->x && c < was && !rc; c++) {
        if (q->lost[c])
            continue;
        for (size_t t = 0; t < q->ncand; t++)
            q->x[t * was + kept] = q->x[t * was + c];
        q->of[kept++] = q->of[c];
    }
    for (size_t t = 0; q->x && t < q->ncand && !rc; t++)
        memmove(q->x + t * kept, q->x + t * was, kept * sizeof *q->x);
    q->nx = kept;
    return rc;
}

/* ------------------------------------------------------------------ runs -- */

static size_t allowed(const asked *q)
{
    size_t n = 0;

    for (size_t t = 0; t < q->ncand; t++)
        n += q->may[t];
    return n;
}

static pl_code check_group(asked *q, size_t g)
{
    pl_draft *f = q->f;
    const char *name = pl_draft_group(f, g), *of = *name ? " of " : "";

    if (allowed(q))
        return PL_OK;
    return refuse(f, PL_EUNFIT, f->s->napart ? "not_together" : "rigs",
                  pl_arena_printf(f->scratch,
                                  "no combination%s%s is left that may meet and that "
                                  "a rig can press",
                                  of, name),
                  "some combinations to choose from",
                  "let more of them meet, or add a rig for the pressures that are left");
}

/* Boards of the group as blocks, in order, where none holds the whole set. */
static size_t blocks_of(const pl_draft *f, size_t g, uint32_t *block)
{
    size_t n = 0, at = 0;

    for (size_t b = 0; b < f->nboard; b++) {
        if (f->boards[b].group != g || !f->boards[b].size)
            continue;
        for (size_t i = 0; i < f->boards[b].size; i++)
            block[at++] = (uint32_t)n;
        n++;
    }
    return n;
}

/* Share of what no weights can pass. */
static double efficiency(const asked *q, const pl_exchange *x, const pl_weights *w)
{
    double n = (double)x->nrun;

    return q->f->s->arrangement.criterion == PL_CRITERION_D ? x->value / w->bound
                                                            : w->bound / n / x->value;
}

static pl_code refuse_rank(asked *q, size_t nblock)
{
    pl_draft *f = q->f;

    return refuse(f, PL_EUNFIT, "arrangement",
                  nblock > 1 ? pl_arena_printf(f->scratch,
                                               "%zu runs on %zu boards do not tell %zu figures "
                                               "from one another and from the boards",
                                               f->v, nblock, q->nx + 1)
                             : pl_arena_printf(f->scratch,
                                               "%zu runs do not tell %zu figures from one another",
                                               f->v, q->nx + 1),
                  pl_arena_printf(f->scratch, "at least %zu runs", q->nx + nblock),
                  "more runs, longer boards, or ask for fewer effects");
}

/* One view, or one a guess, its aim among the columns of the factor asked along. */
static pl_view *views_of(asked *q)
{
    const pl_draft *f = q->f;
    pl_view *view = PL_NEWN(f->scratch, q->nview, pl_view);
    double total = 0;

    for (size_t g = 0; view && g < q->nview; g++) {
        double *aim = PL_NEWN(f->scratch, q->nx + 1, double);

        view[g] = (pl_view){ .p = q->nx, .f = q->of_view[g], .weight = 1 };
        if (!q->rise)
            continue;
        if (!aim)
            return NULL;
        aim[0] = q->aim[g][0];
        for (size_t c = 0, at = 1; c < q->nx; c++)
            if (q->of[c].one == f->s->question.over)
                aim[1 + c] = q->aim[g][at++];
        view[g].aim = aim;
        view[g].weight = f->s->question.guess[g].weight;
        total += view[g].weight;
    }
    for (size_t g = 0; view && q->rise && g < q->nview; g++)
        view[g].weight /= total;
    return view;
}

/* Of the onset, every level that can be made is made once, so that the fit sees the whole curve;
 * these come first, spread over the places: order[i] is the place of run i. Returns their number.
 */
static size_t lay_levels(const asked *q, uint32_t *run, size_t *order)
{
    const pl_draft *f = q->f;
    size_t n = 0, v = f->v, over = (size_t)f->s->question.over, nf = f->s->nfactor, at = 0;
    size_t nlevel = q->rise ? f->s->factors[over].nlevel : 0;

    for (size_t l = 0; l < nlevel && nlevel + 2 <= v; l++) {
        size_t may = 0, pick = 0;

        for (size_t t = 0; t < q->ncand; t++)
            may += q->may[t] && (size_t)q->levels[t * nf + over] == l;
        for (size_t t = 0; may && t < q->ncand; t++)
            if (q->may[t] && (size_t)q->levels[t * nf + over] == l && pick++ == l % may)
                run[n++] = (uint32_t)t;
    }
    for (size_t i = 0; i < n; i++)
        order[i] = i * v / n;
    for (size_t i = 0; i < v; i++) {
        bool taken = false;

        for (size_t k = 0; k < n; k++)
            taken = taken || order[k] == i;
        if (!taken)
            order[n + at++] = i;
    }
    return n;
}

/* The rows of one group. */
static pl_code choose(asked *q, size_t g)
{
    pl_draft *f = q->f;
    size_t nf = f->s->nfactor, *order = PL_NEWN(f->scratch, f->v, size_t);
    uint32_t *radix = PL_NEWN(f->scratch, nf, uint32_t);
    uint32_t *block = PL_NEWN(f->scratch, f->v, uint32_t),
             *own = PL_NEWN(f->scratch, f->v, uint32_t);
    pl_view *view = views_of(q);
    pl_region of = { f->s->arrangement.criterion, q->ncand, q->nview, view, q->may, false,
                     q->rise ? SPREAD : 0 };
    pl_weights w = { .of = of, .aim = NEAR_BOUND, .w = PL_NEWN(f->scratch, q->ncand, double) };
    pl_exchange x = { .of = of,
                      .nrun = f->v,
                      .starts = STARTS,
                      .seed = SEARCH_SEED,
                      .run = PL_NEWN(f->scratch, f->v, uint32_t) };
    pl_code rc;

    if (!order || !radix || !w.w || !block || !own || !view || !x.run)
        return pl_nomem(f->d);
    for (size_t k = 0; k < nf; k++)
        radix[k] = (uint32_t)f->s->factors[k].nlevel;
    x.radix = q->ncand * q->nx > TABLE_MOST ? radix : NULL;
    x.nradix = nf;
    x.nfixed = lay_levels(q, x.run, order);
    if (f->have_boards && !f->complete) {
        x.nblock = blocks_of(f, g, block);
        for (size_t i = 0; i < f->v; i++)
            own[i] = block[order[i]];
        x.block = own;
    }
    rc = pl_exchange_search(f->scratch, &x, f->d);
    if (rc == PL_ERANK)
        return refuse_rank(q, x.block ? x.nblock : 1);
    if (!rc)
        rc = pl_weights_find(f->scratch, &w, f->d);
    if (rc)
        return rc;
    for (size_t i = 0; i < f->v; i++)
        memcpy(f->levels + (g * f->v + order[i]) * nf, q->levels + x.run[i] * nf,
               nf * sizeof *q->levels);
    if (!g || efficiency(q, &x, &w) < f->reached)
        f->reached = efficiency(q, &x, &w);
    return PL_OK;
}

/* The columns of the rows chosen, less their means: all are asked. */
static pl_code fill_effects(asked *q)
{
    pl_draft *f = q->f;
    size_t nf = f->s->nfactor;

    f->nasked = f->nx = q->nx;
    f->x = pl_arena_get(f->scratch, f->ntreatment, f->nx * sizeof *f->x);
    f->x_weight = PL_NEWN(f->scratch, f->nx, double);
    if (!f->x || !f->x_weight)
        return pl_nomem(f->d);
    for (size_t t = 0; t < f->ntreatment; t++) {
        size_t at = 0;

        for (size_t k = 0; k < nf; k++)
            at = at * f->s->factors[k].nlevel + (size_t)f->levels[t * nf + k];
        memcpy(f->x + t * q->nx, q->x + at * q->nx, q->nx * sizeof *q->x);
    }
    pl_draft_effects_centre(f);
    return PL_OK;
}

/* Opens the columns, and leaves out those that the combinations left do not tell apart. */
static pl_code open_told(pl_draft *f, pl_asks asks, asked *q)
{
    pl_code rc = open_asked(f, asks, q);

    for (size_t g = 0; g < f->ngroup && !rc; g++) {
        mark_group(q, g);
        rc = check_group(q, g);
        if (!rc)
            rc = tell_apart(q);
    }
    return rc;
}

pl_code pl_draft_optimal(pl_draft *f)
{
    pl_code rc;
    asked q;

    if (f->n != 1)
        return refuse(f, PL_EUNFIT, "glue_ups_per_level", "an optimal arrangement made twice",
                      "1: `runs` counts its glue-ups", "ask for more runs");
    rc = open_told(f, f->s->arrangement.asks, &q);
    if (!rc)
        rc = drop_lost(&q);
    for (size_t g = 0; g < f->ngroup && !rc; g++) {
        mark_group(&q, g);
        rc = choose(&q, g);
    }
    return rc ? rc : fill_effects(&q);
}

pl_code pl_draft_partly(pl_draft *f)
{
    asked q;
    pl_code rc = open_told(f, PL_ASKS_PAIRS, &q);

    return rc ? rc : say_lost(&q);
}

/* ------------------------------------------------------------ a further round -- */

/* Is it compared: made or to be made, and neither spare nor beside the others? */
static bool compared(const pl_glue_up *g)
{
    return !g->spare && !g->reference && !g->pair && !g->instead;
}

static uint32_t candidate_of(const pl_draft *f, const int *levels)
{
    size_t at = 0;

    for (size_t k = 0; k < f->s->nfactor; k++)
        at = at * f->s->factors[k].nlevel + (size_t)levels[k];
    return (uint32_t)at;
}

/* The runs of a group that the plan has, in front. Returns their number. */
static size_t lay_old(const pl_draft *f, const pl_plan *old, size_t g, uint32_t *run)
{
    size_t n = 0;

    for (size_t i = 0; i < old->nglue_up; i++) {
        const int *levels = old->treatments + old->glue_ups[i].treatment * old->nfactor;

        if (compared(&old->glue_ups[i]) &&
            (f->with_board < 0 || (size_t)levels[f->with_board] == g))
            run[n++] = candidate_of(f, levels);
    }
    return n;
}

/* n runs of a group more; the round is a block of its own. */
static pl_code choose_more(asked *q, const pl_plan *old, size_t g, size_t n, int *levels,
                           double *reached)
{
    pl_draft *f = q->f;
    size_t nf = f->s->nfactor, most = old->nglue_up + n;
    pl_view *view = views_of(q);
    pl_region of = { .criterion = f->s->arrangement.criterion,
                     .ncand = q->ncand,
                     .nview = q->nview,
                     .view = view,
                     .may = q->may };
    uint32_t *radix = PL_NEWN(f->scratch, nf, uint32_t);
    uint32_t *block = PL_NEWN(f->scratch, most, uint32_t);
    pl_weights w = { .of = of, .aim = NEAR_BOUND, .w = PL_NEWN(f->scratch, q->ncand, double) };
    pl_exchange x = { .of = of,
                      .block = block,
                      .nblock = 2,
                      .starts = STARTS,
                      .seed = SEARCH_SEED,
                      .run = PL_NEWN(f->scratch, most, uint32_t) };
    pl_code rc;

    if (!view || !radix || !block || !w.w || !x.run)
        return pl_nomem(f->d);
    for (size_t k = 0; k < nf; k++)
        radix[k] = (uint32_t)f->s->factors[k].nlevel;
    x.radix = q->ncand * q->nx > TABLE_MOST ? radix : NULL;
    x.nradix = nf;
    x.nfixed = lay_old(f, old, g, x.run);
    f->v = x.nrun = x.nfixed + n;
    for (size_t i = x.nfixed; i < x.nrun; i++)
        block[i] = 1;
    if (!x.nfixed) { /* nothing was made of this wood */
        memset(block, 0, x.nrun * sizeof *block);
        x.nblock = 1;
    }
    rc = pl_exchange_search(f->scratch, &x, f->d);
    if (rc == PL_ERANK)
        return refuse_rank(q, x.nblock);
    if (!rc)
        rc = pl_weights_find(f->scratch, &w, f->d);
    if (rc)
        return rc;
    for (size_t i = 0; i < n; i++)
        memcpy(levels + i * nf, q->levels + x.run[x.nfixed + i] * nf, nf * sizeof *levels);
    if (efficiency(q, &x, &w) < *reached)
        *reached = efficiency(q, &x, &w);
    return PL_OK;
}

pl_code pl_optimal_further(pl_arena *a, const pl_study *s, const pl_set_points *points,
                           const pl_plan *old, size_t n, int *levels, double *reached, pl_diags *d)
{
    pl_draft f = { .s = s,
                   .points = points,
                   .a = a,
                   .scratch = pl_arena_new(0),
                   .d = d,
                   .pressed = pl_study_pressed(s),
                   .with_board = pl_study_with_board(s) };
    size_t done = 0;
    pl_code rc;
    asked q;

    if (!f.scratch)
        return pl_nomem(d);
    *reached = 1;
    f.ngroup = f.with_board >= 0 ? s->factors[f.with_board].nlevel : 1;
    rc = open_told(&f, s->arrangement.asks, &q);
    if (!rc)
        rc = drop_lost(&q);
    for (size_t g = 0; g < f.ngroup && !rc; g++) {
        size_t own = n / f.ngroup + (g < n % f.ngroup);

        mark_group(&q, g);
        if (own)
            rc = choose_more(&q, old, g, own, levels + done * s->nfactor, reached);
        done += own;
    }
    pl_arena_free(f.scratch);
    return rc;
}
