/* The search for optimal runs: starts, passes of exchange, and the inverse kept up to date. What
 * the columns mean is optimal.c's. */
#include "design/exchange.h"

#include <string.h>

#include "base/stream.h"
#include "design/information.h"

#define START_RIDGE 1e-3 /* lets a start grow from nothing; taken out before runs are exchanged */
#define LEAST_LEFT 1e-9  /* of the determinant: an exchange that loses more is not looked at */
#define PASSES_MOST 200  /* of one start; four to ten is usual */

/* ------------------------------------------------------------- numbers --- */

void pl_scaled_times(pl_scaled *x, double by)
{
    x->m *= by;
    if (!(x->m > 0)) {
        *x = (pl_scaled){ 0, 0 };
        return;
    }
    for (; x->m >= 1; x->m /= 2)
        x->e++;
    for (; x->m < 0.5; x->m *= 2)
        x->e--;
}

static double power(double x, size_t n)
{
    double p = 1;

    while (n--)
        p *= x;
    return p;
}

double pl_scaled_root(pl_scaled x, size_t n)
{
    long whole = x.e >= 0 ? x.e / (long)n : -((-x.e + (long)n - 1) / (long)n);
    double rest = x.m * power(2, (size_t)(x.e - whole * (long)n)), r = 2, k = (double)n;

    if (!(x.m > 0))
        return 0;
    for (;;) { /* rest < 2^n: falling from 2 */
        double next = r - (r - rest / power(r, n - 1)) / k;

        if (!(next < r))
            break;
        r = next;
    }
    return whole >= 0 ? r * power(2, (size_t)whole) : r / power(2, (size_t)-whole);
}

bool pl_symmetric_invert(double *m, size_t n, double *scratch, pl_scaled *det)
{
    for (size_t i = 0; i < n; i++)
        scratch[i] = m[i * n + i];
    for (size_t k = 0; k < n; k++) { /* sweeps: afterwards m is minus the inverse */
        double pivot = m[k * n + k];

        if (!(pivot > PL_INFORMATION_ZERO * scratch[k]))
            return false;
        if (det)
            pl_scaled_times(det, pivot);
        for (size_t i = 0; i < n; i++) {
            double by = m[i * n + k] / pivot;

            if (i == k)
                continue;
            for (size_t j = 0; j < n; j++)
                if (j != k)
                    m[i * n + j] -= by * m[k * n + j];
        }
        for (size_t i = 0; i < n; i++)
            if (i != k) {
                m[i * n + k] /= pivot;
                m[k * n + i] /= pivot;
            }
        m[k * n + k] = -1 / pivot;
    }
    for (size_t i = 0; i < n * n; i++)
        m[i] = -m[i];
    return true;
}

/* --------------------------------------------------------------- views --- */

/* A quadratic form in x: the matrix, and its part in f alone for every candidate. */
typedef struct form {
    double *m, *quad; /* q x q; ncand, NULL when worked out as needed */
} form;

typedef struct view {
    const pl_view *in;
    size_t q;
    double *mean, *moment; /* p, p x p: over what may be made */
    form inverse;          /* of M */
    form middle;           /* I: inverse W inverse */
    double *w;             /* I: q x q; c: q, the aim */
    double *toward;        /* c: inverse times aim */
    double *u, *v;         /* q: inverse times the run in question; I: middle times it */
    double du, gu;         /* its own quadratic forms */
    double *spare;         /* q x q */
    double value;
} view;

typedef struct search {
    const pl_exchange *x;
    size_t nblock;
    double mark; /* of a run's block in x: 1, or 0 without a mean */
    view *views;
    uint32_t *run, *list; /* of this start; candidates to look at */
    uint32_t *used;       /* ncand: runs that have it */
    size_t work, most;
    pl_scaled det;
    pl_stream stream;
} search;

static uint32_t block_of(const search *s, size_t run)
{
    return s->x->block ? s->x->block[run] : 0;
}

static const double *row(const view *v, size_t cand)
{
    return v->in->f + cand * v->in->p;
}

static double dot(const double *x, const double *y, size_t n)
{
    double sum = 0;

    for (size_t i = 0; i < n; i++)
        sum += x[i] * y[i];
    return sum;
}

/* u times x of a candidate in a block. */
static double along(const search *s, const view *v, const double *u, size_t cand, uint32_t block)
{
    return s->mark * u[block] + dot(row(v, cand), u + s->nblock, v->in->p);
}

static void apply(const search *s, const view *v, const double *m, size_t cand, uint32_t block,
                  double *out)
{
    const double *f = row(v, cand);

    for (size_t i = 0; i < v->q; i++)
        out[i] = s->mark * m[i * v->q + block] + dot(f, m + i * v->q + s->nblock, v->in->p);
}

static double quad_part(const search *s, const view *v, const double *m, size_t cand)
{
    const double *f = row(v, cand);
    size_t p = v->in->p, q = v->q;
    double sum = 0;

    for (size_t i = 0; i < p; i++)
        sum += f[i] * dot(f, m + (s->nblock + i) * q + s->nblock, p);
    return sum;
}

static double quad(const search *s, const view *v, const form *of, size_t cand, uint32_t block)
{
    const double *across = of->m + (size_t)block * v->q;
    double own = of->quad ? of->quad[cand] : quad_part(s, v, of->m, cand);

    if (s->mark == 0)
        return own;
    return across[block] + 2 * dot(row(v, cand), across + s->nblock, v->in->p) + own;
}

static void tabulate(const search *s, const view *v, form *of)
{
    for (size_t j = 0; of->quad && j < s->x->of.ncand; j++)
        of->quad[j] = quad_part(s, v, of->m, j);
}

static bool may(const search *s, size_t cand)
{
    return !s->x->of.may || s->x->of.may[cand];
}

/* ----------------------------------------------------------- the inverse -- */

static void add_moments(const search *s, const view *v, double *m)
{
    double all = s->x->of.spread * (double)s->x->nrun, each = all / (double)s->nblock;
    size_t nb = s->nblock, p = v->in->p, q = v->q;

    for (size_t b = 0; b < nb; b++) {
        if (s->mark == 0) /* stands alone */
            m[b * q + b] = 1;
        m[b * q + b] += each;
        for (size_t i = 0; i < p; i++) {
            m[b * q + nb + i] += s->mark * each * v->mean[i];
            m[(nb + i) * q + b] += s->mark * each * v->mean[i];
        }
    }
    for (size_t i = 0; i < p; i++)
        for (size_t j = 0; j < p; j++)
            m[(nb + i) * q + nb + j] += all * v->moment[i * p + j];
}

static void add_run(const search *s, const view *v, double *m, size_t cand, uint32_t block)
{
    const double *f = row(v, cand);
    size_t nb = s->nblock, p = v->in->p, q = v->q;

    m[block * q + block] += s->mark;
    for (size_t i = 0; i < p; i++) {
        m[block * q + nb + i] += s->mark * f[i];
        m[(nb + i) * q + block] += s->mark * f[i];
        for (size_t j = 0; j < p; j++)
            m[(nb + i) * q + nb + j] += f[i] * f[j];
    }
}

/* inverse W inverse, or inverse times aim, and the variance. */
static void look_ahead(const search *s, view *v)
{
    size_t q = v->q;

    v->value = 0;
    if (s->x->of.criterion == PL_CRITERION_C) {
        for (size_t i = 0; i < q; i++) {
            v->toward[i] = dot(v->inverse.m + i * q, v->w, q);
            v->value += v->toward[i] * v->w[i];
        }
        return;
    }
    if (s->x->of.criterion != PL_CRITERION_I)
        return;
    for (size_t i = 0; i < q; i++)
        for (size_t j = 0; j < q; j++)
            v->spare[i * q + j] = dot(v->inverse.m + i * q, v->w + j * q, q);
    for (size_t i = 0; i < q; i++) {
        v->value += v->spare[i * q + i];
        for (size_t j = 0; j < q; j++)
            v->middle.m[i * q + j] = dot(v->spare + i * q, v->inverse.m + j * q, q);
    }
    tabulate(s, v, &v->middle);
}

/* The inverse of the first `made` runs afresh. False: they tell not all columns apart. */
static bool factor(search *s, size_t made, double ridge)
{
    s->det = (pl_scaled){ 0.5, 1 };
    for (size_t k = 0; k < s->x->of.nview; k++) {
        view *v = &s->views[k];
        size_t q = v->q;

        memset(v->inverse.m, 0, q * q * sizeof(double));
        add_moments(s, v, v->inverse.m);
        for (size_t i = 0; i < made; i++)
            add_run(s, v, v->inverse.m, s->run[i], block_of(s, i));
        for (size_t i = 0; i < q; i++)
            v->inverse.m[i * q + i] += ridge;
        if (!pl_symmetric_invert(v->inverse.m, q, v->u, k ? NULL : &s->det))
            return false;
        tabulate(s, v, &v->inverse);
        look_ahead(s, v);
    }
    return true;
}

/* The inverse with one run more (sign 1) or less (-1). */
static void update(search *s, view *v, size_t cand, uint32_t block, double sign)
{
    size_t q = v->q;
    double by;

    apply(s, v, v->inverse.m, cand, block, v->v);
    by = sign / (1 + sign * along(s, v, v->v, cand, block));
    for (size_t i = 0; i < q; i++)
        for (size_t j = 0; j < q; j++)
            v->inverse.m[i * q + j] -= by * v->v[i] * v->v[j];
    for (size_t j = 0; v->inverse.quad && j < s->x->of.ncand; j++) {
        double d = dot(row(v, j), v->v + s->nblock, v->in->p);

        v->inverse.quad[j] -= by * d * d;
    }
}

/* ------------------------------------------------------------- exchange --- */

/* What is needed of the run that may give way. */
static void question(search *s, size_t run)
{
    for (size_t k = 0; k < s->x->of.nview; k++) {
        view *v = &s->views[k];
        uint32_t b = block_of(s, run);

        apply(s, v, v->inverse.m, s->run[run], b, v->u);
        v->du = along(s, v, v->u, s->run[run], b);
        if (s->x->of.criterion == PL_CRITERION_I) {
            apply(s, v, v->middle.m, s->run[run], b, v->v);
            v->gu = along(s, v, v->v, s->run[run], b);
        } else if (s->x->of.criterion == PL_CRITERION_C) {
            v->gu = along(s, v, v->toward, s->run[run], b);
        }
    }
}

/* What candidate j in place of the run in question gains: D: share of the determinant; else
 * how much the variance falls (Meyer & Nachtsheim 1995, sec. 2, for a trace). */
static double gain(const search *s, size_t j, uint32_t b)
{
    pl_criterion what = s->x->of.criterion;
    double total = 0;

    for (size_t k = 0; k < s->x->of.nview; k++) {
        const view *v = &s->views[k];
        double dj = quad(s, v, &v->inverse, j, b), dij = along(s, v, v->u, j, b);
        double left = (1 + dj) * (1 - v->du) + dij * dij, jj, ij, ii = v->gu;

        if (what == PL_CRITERION_D)
            return left - 1;
        if (!(left > LEAST_LEFT))
            return 0;
        if (what == PL_CRITERION_I) {
            jj = quad(s, v, &v->middle, j, b);
            ij = along(s, v, v->v, j, b);
        } else {
            double gj = along(s, v, v->toward, j, b);

            jj = gj * gj;
            ij = gj * v->gu;
            ii = v->gu * v->gu;
        }
        total += v->in->weight * ((1 - v->du) * jj + 2 * dij * ij - (1 + dj) * ii) / left;
    }
    return total;
}

static double total(const search *s)
{
    double sum = 0;

    for (size_t k = 0; k < s->x->of.nview; k++)
        sum += s->views[k].in->weight * s->views[k].value;
    return sum;
}

/* Candidates that may take the run's place: all, or those that differ in one factor. */
static size_t listed(const search *s, uint32_t now)
{
    const pl_exchange *x = s->x;
    size_t n = 0, stride = 1;

    if (!x->radix) {
        for (uint32_t j = 0; j < x->of.ncand; j++)
            if (may(s, j) && j != now && !(x->distinct && s->used[j]))
                s->list[n++] = j;
        return n;
    }
    for (size_t k = x->nradix; k-- > 0; stride *= x->radix[k]) {
        size_t level = now / stride % x->radix[k], base = now - level * stride;

        for (size_t l = 0; l < x->radix[k]; l++) {
            uint32_t j = (uint32_t)(base + l * stride);

            if (l != level && may(s, j) && !(x->distinct && s->used[j]))
                s->list[n++] = j;
        }
    }
    return n;
}

static void move(search *s, size_t run, uint32_t to)
{
    for (size_t k = 0; k < s->x->of.nview; k++) {
        view *v = &s->views[k];

        update(s, v, to, block_of(s, run), 1);
        update(s, v, s->run[run], block_of(s, run), -1);
        look_ahead(s, v);
    }
    s->used[s->run[run]]--;
    s->used[to]++;
    s->run[run] = to;
}

static bool improve(search *s, size_t run, size_t *moves)
{
    size_t n = listed(s, s->run[run]), cost = s->views[0].q;
    double best = 0, least = s->x->of.criterion == PL_CRITERION_D ? PL_EXCHANGE_GAIN
                                                                  : PL_EXCHANGE_GAIN * total(s);
    uint32_t to = 0;

    question(s, run);
    for (size_t i = 0; i < n; i++) {
        double g = gain(s, s->list[i], block_of(s, run));

        if (g > best + least) { /* nearly equal ones: the first */
            best = g;
            to = s->list[i];
        }
    }
    s->work += n * cost * (s->views[0].inverse.quad ? 3 : cost) + cost * cost;
    if (!(best > 0))
        return false;
    move(s, run, to);
    s->work += s->views[0].inverse.quad ? s->x->of.ncand * cost * 2 : cost * cost * 4;
    (*moves)++;
    return true;
}

/* --------------------------------------------------------------- starts --- */

static bool free_for(const search *s, uint32_t cand)
{
    return may(s, cand) && !(s->x->distinct && s->used[cand]);
}

static uint32_t drawn(search *s)
{
    uint32_t at;

    do
        at = pl_stream_below(&s->stream, (uint32_t)s->x->of.ncand);
    while (!free_for(s, at));
    return at;
}

/* The candidate about which least is known, over all views. */
static uint32_t least_known(const search *s, uint32_t block)
{
    uint32_t best = 0;
    double most = -1;

    for (uint32_t j = 0; j < s->x->of.ncand; j++) {
        double d = 0;

        if (!free_for(s, j))
            continue;
        for (size_t k = 0; k < s->x->of.nview; k++)
            d += quad(s, &s->views[k], &s->views[k].inverse, j, block);
        if (d > most * (1 + PL_EXCHANGE_GAIN)) {
            most = d;
            best = j;
        }
    }
    return best;
}

/* Some runs drawn, then each where least is known; with radix, and in every other start, all are
 * drawn. */
static bool start(search *s, size_t number)
{
    const pl_exchange *x = s->x;
    bool all = x->radix || number % 2;
    size_t some = x->nfixed + s->views[0].in->p / 2 + 1;

    memset(s->used, 0, x->of.ncand * sizeof *s->used);
    for (size_t i = 0; i < x->nfixed; i++)
        s->used[s->run[i] = x->run[i]]++;
    if (!all && !factor(s, x->nfixed, START_RIDGE))
        return false;
    for (size_t i = x->nfixed; i < x->nrun; i++) {
        uint32_t b = block_of(s, i);

        s->run[i] = all || i < some ? drawn(s) : least_known(s, b);
        s->used[s->run[i]]++;
        for (size_t k = 0; k < x->of.nview && !all; k++)
            update(s, &s->views[k], s->run[i], b, 1);
        s->work += all ? 1 : 3 * x->of.ncand * s->views[0].q;
    }
    return factor(s, x->nrun, 0);
}

/* Passes until nothing gains, the inverse afresh after each. */
static bool descend(search *s, size_t *moves)
{
    bool moved = true;

    for (size_t pass = 0; moved && pass < PASSES_MOST && s->work < s->most; pass++) {
        moved = false;
        for (size_t i = s->x->nfixed; i < s->x->nrun && s->work < s->most; i++)
            moved = improve(s, i, moves) || moved;
        if (!factor(s, s->x->nrun, 0))
            return false;
    }
    return true;
}

/* ----------------------------------------------------------------- open --- */

static void moments(const search *s, view *v)
{
    size_t n = 0, p = v->in->p;

    for (size_t j = 0; j < s->x->of.ncand; j++) {
        const double *f = row(v, j);

        if (!may(s, j))
            continue;
        n++;
        for (size_t i = 0; i < p; i++) {
            v->mean[i] += f[i];
            for (size_t k = 0; k < p; k++)
                v->moment[i * p + k] += f[i] * f[k];
        }
    }
    for (size_t i = 0; i < p; i++)
        v->mean[i] /= (double)n;
    for (size_t i = 0; i < p * p; i++)
        v->moment[i] /= (double)n;
}

/* What is predicted is the mean over the blocks. */
static void weigh(const search *s, view *v)
{
    size_t nb = s->nblock, p = v->in->p, q = v->q;
    double share = s->mark / (double)nb;

    if (s->x->of.criterion == PL_CRITERION_C) {
        for (size_t i = 0; i < q; i++)
            v->w[i] = i < nb ? share * v->in->aim[0] : v->in->aim[1 + i - nb];
        return;
    }
    for (size_t i = 0; i < q; i++)
        for (size_t j = 0; j < q; j++)
            v->w[i * q + j] = i < nb && j < nb ? share * share
                              : i < nb         ? share * v->mean[j - nb]
                              : j < nb         ? share * v->mean[i - nb]
                                               : v->moment[(i - nb) * p + j - nb];
}

static bool open_view(pl_arena *a, const search *s, view *v, const pl_view *in)
{
    size_t q = s->nblock + in->p, table = s->x->radix ? 0 : s->x->of.ncand;
    bool all = s->x->of.criterion == PL_CRITERION_I;

    *v = (view){ .in = in,
                 .q = q,
                 .mean = PL_NEWN(a, in->p, double),
                 .moment = PL_NEWN(a, in->p * in->p, double),
                 .inverse = { PL_NEWN(a, q * q, double), NULL },
                 .middle = { PL_NEWN(a, q * q, double), NULL },
                 .w = PL_NEWN(a, q * q, double),
                 .toward = PL_NEWN(a, q, double),
                 .u = PL_NEWN(a, q, double),
                 .v = PL_NEWN(a, q, double),
                 .spare = PL_NEWN(a, q * q, double) };
    if (table) {
        v->inverse.quad = PL_NEWN(a, table, double);
        v->middle.quad = PL_NEWN(a, all ? table : 1, double);
    }
    if (!v->mean || !v->moment || !v->inverse.m || !v->middle.m || !v->w || !v->toward || !v->u ||
        !v->v || !v->spare || (table && (!v->inverse.quad || !v->middle.quad)))
        return false;
    moments(s, v);
    weigh(s, v);
    return true;
}

static bool open_search(pl_arena *a, search *s)
{
    const pl_exchange *x = s->x;

    s->views = PL_NEWN(a, x->of.nview, view);
    s->run = PL_NEWN(a, x->nrun, uint32_t);
    s->list = PL_NEWN(a, x->of.ncand, uint32_t);
    s->used = PL_NEWN(a, x->of.ncand, uint32_t);
    if (!s->views || !s->run || !s->list || !s->used)
        return false;
    for (size_t k = 0; k < x->of.nview; k++)
        if (!open_view(a, s, &s->views[k], &x->of.view[k]))
            return false;
    return true;
}

/* The p-th root of what the blocks leave of the determinant, for one run. */
static double root_within(const search *s)
{
    size_t p = s->views[0].in->p;
    pl_scaled det = s->det;

    for (size_t b = 0; b < s->nblock && s->mark > 0; b++) {
        size_t n = 0;

        for (size_t i = 0; i < s->x->nrun; i++)
            n += block_of(s, i) == b;
        pl_scaled_times(&det, 1 / (double)n);
    }
    return p ? pl_scaled_root(det, p) / (double)s->x->nrun : 0;
}

static size_t free_ones(const pl_exchange *x)
{
    size_t n = 0;

    for (size_t j = 0; j < x->of.ncand; j++)
        n += !x->of.may || x->of.may[j];
    return n;
}

static void run_starts(search *s, pl_exchange *x)
{
    double reached = 0;
    uint32_t *fixed = x->run;

    for (size_t k = 0; k < x->starts && s->work < s->most; k++) {
        double value;

        pl_stream_init(&s->stream, x->seed, PL_FOR_PLACES, k);
        if (!start(s, k) || !descend(s, &x->moves))
            continue;
        value = x->of.criterion == PL_CRITERION_D ? root_within(s) : -total(s);
        if (x->starts_done++ &&
            !(value - reached > PL_EXCHANGE_GAIN * (value < 0 ? -value : value)))
            continue;
        reached = value;
        memcpy(fixed, s->run, x->nrun * sizeof *fixed);
    }
    x->value = reached < 0 ? -reached : reached;
}

pl_code pl_exchange_search(pl_arena *a, pl_exchange *x, pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    search s = { .x = x, .nblock = x->block ? x->nblock : 1, .mark = x->of.no_mean ? 0 : 1 };
    size_t n = free_ones(x);
    pl_code rc = PL_OK;

    x->moves = x->starts_done = 0;
    if (!n || (x->distinct && n < x->nrun))
        return PL_EUSAGE;
    s.most = x->work ? x->work : PL_EXCHANGE_WORK;
    if (!open_search(a, &s))
        rc = pl_nomem(diags);
    else
        run_starts(&s, x);
    pl_arena_reset(a, mark);
    return rc ? rc : x->starts_done ? PL_OK : PL_ERANK;
}
