/* Effects: the contrasts that a plan shows where it does not make every combination, how
 * free of blocks they are, and what each is mixed up with. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "design/draft.h"
#include "design/fraction.h"
#include "design/information.h"
#include "design/spread.h"

#define ASKED_WEIGHT 16 /* against 1 for products of two factors: those give way to blocks */

static bool by_effects(const pl_draft *f)
{
    switch (f->s->arrangement.kind) {
    case PL_ARRANGE_FRACTION:
    case PL_ARRANGE_SCREENING:
    case PL_ARRANGE_GRAECO_LATIN:
    case PL_ARRANGE_CENTRAL:
    case PL_ARRANGE_BOX_BEHNKEN:
        return true;
    default:
        return false;
    }
}

/* ------------------------------------------------------------- contrasts -- */

/* Level l against those before it (Helmert): 1 .. 1, -j, 0 .. 0. */
static double helmert(int level, size_t j)
{
    return (size_t)level < j ? 1 : (size_t)level == j ? -(double)j : 0;
}

static int level_of(const pl_draft *f, size_t t, size_t factor)
{
    return f->levels[t * f->s->nfactor + factor];
}

/* Columns of single factors; nothing is written when x is NULL: only counted. */
static size_t single_columns(const pl_draft *f, double *x)
{
    size_t at = 0;

    for (size_t k = 0; k < f->s->nfactor; k++)
        for (size_t j = 1; (int)k != f->with_board && j < f->s->factors[k].nlevel; j++, at++)
            for (size_t t = 0; x && t < f->ntreatment; t++)
                x[t * f->nx + at] = helmert(level_of(f, t, k), j);
    return at;
}

double pl_draft_coded(const pl_factor *k, int level)
{
    double low = k->levels[0].si, high = low;

    for (size_t l = 1; l < k->nlevel; l++) {
        low = k->levels[l].si < low ? k->levels[l].si : low;
        high = k->levels[l].si > high ? k->levels[l].si : high;
    }
    return (2 * k->levels[level].si - low - high) / (high - low);
}

static double coded(const pl_draft *f, size_t t, size_t factor)
{
    return pl_draft_coded(&f->s->factors[factor], level_of(f, t, factor));
}

void pl_draft_effects_centre(pl_draft *f)
{
    for (size_t j = 0; j < f->nx; j++) {
        double mean = 0;

        f->x_weight[j] = 1;
        for (size_t t = 0; t < f->ntreatment; t++)
            mean += f->x[t * f->nx + j];
        mean /= (double)f->ntreatment;
        for (size_t t = 0; t < f->ntreatment; t++)
            f->x[t * f->nx + j] -= mean;
    }
}

/* Slopes, squares and products of two measured factors, less their means: all are asked. */
static pl_code surface_columns(pl_draft *f)
{
    size_t n = f->s->nfactor;

    f->nasked = f->nx = n + n * (n + 1) / 2;
    f->x = pl_arena_get(f->scratch, f->ntreatment, f->nx * sizeof *f->x);
    f->x_weight = PL_NEWN(f->scratch, f->nx, double);
    if (!f->x || !f->x_weight)
        return pl_nomem(f->d);
    for (size_t t = 0; t < f->ntreatment; t++) {
        double *x = f->x + t * f->nx;
        size_t at = n;

        for (size_t i = 0; i < n; i++) {
            x[i] = coded(f, t, i);
            for (size_t k = 0; k <= i; k++)
                x[at++] = coded(f, t, i) * coded(f, t, k);
        }
    }
    pl_draft_effects_centre(f);
    return PL_OK;
}

/* Is column c the same as an earlier one, but for its sign? */
static bool repeated(const pl_draft *f, size_t c)
{
    for (size_t j = 0; j < c; j++) {
        double dot = 0;

        for (size_t t = 0; t < f->ntreatment; t++)
            dot += f->x[t * f->nx + j] * f->x[t * f->nx + c];
        if (fabs(dot) > (double)f->ntreatment - 0.5) /* signs: all alike or all opposite */
            return true;
    }
    return false;
}

/* Products of two factors of two levels, those left out that stand there already. */
static size_t product_columns(pl_draft *f, size_t at)
{
    for (size_t i = 0; i < f->s->nfactor; i++)
        for (size_t k = 0; k < i; k++) {
            for (size_t t = 0; t < f->ntreatment; t++)
                f->x[t * f->nx + at] = helmert(level_of(f, t, i), 1) *
                                       helmert(level_of(f, t, k), 1);
            at += !repeated(f, at);
        }
    return at;
}

/* Gives up columns that were not needed. */
static void narrow(pl_draft *f, size_t nx)
{
    for (size_t t = 0; t < f->ntreatment; t++)
        memmove(f->x + t * nx, f->x + t * f->nx, nx * sizeof *f->x);
    f->nx = nx;
}

pl_code pl_draft_effects(pl_draft *f)
{
    bool products = f->s->arrangement.kind != PL_ARRANGE_GRAECO_LATIN;
    size_t pairs = f->s->nfactor * (f->s->nfactor - 1) / 2;

    if (!by_effects(f))
        return f->s->napart && f->s->arrangement.kind != PL_ARRANGE_OPTIMAL ? pl_draft_partly(f)
                                                                            : PL_OK;
    if (f->s->arrangement.kind == PL_ARRANGE_CENTRAL ||
        f->s->arrangement.kind == PL_ARRANGE_BOX_BEHNKEN)
        return surface_columns(f);
    f->nasked = single_columns(f, NULL);
    f->nx = f->nasked + (products ? pairs : 0);
    f->x = pl_arena_get(f->scratch, f->ntreatment, f->nx * sizeof *f->x);
    f->x_weight = PL_NEWN(f->scratch, f->nx, double);
    if (!f->x || !f->x_weight)
        return pl_nomem(f->d);
    single_columns(f, f->x);
    if (products)
        narrow(f, product_columns(f, f->nasked));
    for (size_t j = 0; j < f->nx; j++)
        f->x_weight[j] = j < f->nasked ? ASKED_WEIGHT : 1;
    return PL_OK;
}

/* ------------------------------------------------------ freedom of blocks -- */

pl_code pl_draft_layout(pl_draft *f, bool boards, bool sessions, pl_layout *l)
{
    size_t *treatment = PL_NEWN(f->scratch, f->nunit, size_t);
    size_t *board = PL_NEWN(f->scratch, f->nunit, size_t);
    size_t *session = PL_NEWN(f->scratch, f->nunit, size_t);

    boards = boards && !f->own_boards;
    sessions = sessions && !(f->nlayer && f->split);
    if (!treatment || !board || !session)
        return pl_nomem(f->d);
    *l = (pl_layout){ .nunit = f->nunit, .ngroup = f->ngroup, .v = f->v, .treatment = treatment };
    for (size_t u = 0; u < f->nunit; u++) {
        const pl_draft_unit *unit = &f->units[u];

        treatment[u] = unit->group * f->v + unit->local;
        board[u] = boards ? (size_t)unit->board : f->nx ? unit->group : 0;
        session[u] = unit->session;
    }
    if (boards || f->nx || !sessions) {
        l->block[l->nkind] = board; /* of effects, groups always are blocks */
        l->nblock[l->nkind++] = boards ? f->nboard : f->nx ? f->ngroup : 1;
    }
    if (sessions) {
        l->block[l->nkind] = session;
        l->nblock[l->nkind++] = f->nsession;
    }
    return PL_OK;
}

typedef struct gram { /* of the contrasts asked, blocks taken out */
    size_t p;
    double *m, *diag; /* p x p; diag: nothing taken out */
    bool *out;        /* nothing left of it */
    size_t blocks;    /* rank of the blocks */
} gram;

/* x' C x for the information C on the combinations. */
static pl_code open_gram(pl_draft *f, bool boards, bool sessions, gram *g)
{
    size_t p = f->nasked, all = f->ngroup * f->v;
    pl_information in;
    pl_layout l;
    pl_code rc = pl_draft_layout(f, boards, sessions, &l);

    if (!rc)
        rc = pl_layout_information(f->scratch, &l, &in, f->d);
    *g = (gram){ .p = p };
    g->m = pl_arena_get(f->scratch, p, p * sizeof *g->m);
    g->diag = PL_NEWN(f->scratch, p, double);
    g->out = PL_NEWN(f->scratch, p, bool);
    if (rc || !g->m || !g->diag || !g->out)
        return rc ? rc : pl_nomem(f->d);
    g->blocks = in.rank;
    for (size_t s = 0; s < all; s++) {
        const double *x = f->x + f->row_of[s] * f->nx;

        for (size_t i = 0; i < p; i++)
            g->diag[i] += in.count[s] * x[i] * x[i];
        for (size_t t = 0; t < all; t++) {
            const double *y = f->x + f->row_of[t] * f->nx;

            for (size_t i = 0; i < p; i++)
                for (size_t j = 0; x[i] != 0 && j < p; j++)
                    g->m[i * p + j] += x[i] * in.c[s * all + t] * y[j];
        }
    }
    return PL_OK;
}

/* Sweeps column k (Beaton 1964): afterwards the part swept is the inverse, with a minus. */
static bool sweep(gram *g, size_t k)
{
    size_t p = g->p;
    double *m = g->m, pivot = m[k * p + k];

    if (!(pivot > PL_INFORMATION_ZERO * g->diag[k])) {
        g->out[k] = true; /* nothing is left of it: as if it were not there */
        return false;
    }
    for (size_t i = 0; i < p; i++)
        for (size_t j = 0; i != k && !g->out[i] && j < p; j++)
            if (j != k && !g->out[j])
                m[i * p + j] -= m[i * p + k] * m[k * p + j] / pivot;
    for (size_t i = 0; i < p; i++)
        if (i != k) {
            m[i * p + k] /= pivot;
            m[k * p + i] /= pivot;
        }
    m[k * p + k] = -1 / pivot;
    return true;
}

/* Variances of the contrasts, in sigma^2; INFINITY where there is none. */
static pl_code variances(pl_draft *f, bool boards, bool sessions, double *variance, size_t *rank)
{
    gram g;
    pl_code rc = open_gram(f, boards, sessions, &g);

    if (rc)
        return rc;
    *rank = g.blocks;
    for (size_t k = 0; k < g.p; k++)
        *rank += sweep(&g, k);
    for (size_t j = 0; j < f->nasked; j++)
        variance[j] = g.out[j] ? INFINITY : -g.m[j * g.p + j];
    return PL_OK;
}

pl_code pl_draft_effects_measure(pl_draft *f, bool sessions, double *efficiency, size_t *df)
{
    double *with = PL_NEWN(f->scratch, f->nasked, double), sum = 0;
    double *without = PL_NEWN(f->scratch, f->nasked, double);
    size_t rank = 0, free_rank = 0;
    pl_code rc;

    if (!with || !without)
        return pl_nomem(f->d);
    rc = variances(f, f->have_boards, sessions, with, &rank);
    if (!rc)
        rc = variances(f, false, false, without, &free_rank);
    if (rc)
        return rc;
    for (size_t j = 0; j < f->nasked; j++)
        sum += with[j] / without[j];
    *efficiency = isfinite(sum) ? (double)f->nasked / sum : 0;
    *df = f->nunit - rank;
    return PL_OK;
}

pl_code pl_draft_effects_spread(pl_draft *f, const uint32_t *block, size_t nblock,
                                const double *weight, const uint32_t *pen, size_t starts,
                                size_t work)
{
    uint32_t *row = PL_NEWN(f->scratch, f->nunit, uint32_t);
    pl_spread s = { .nunit = f->nunit,
                    .nblock = nblock,
                    .nx = f->nx,
                    .x = f->x,
                    .x_weight = f->x_weight,
                    .row = row,
                    .block = block,
                    .weight = weight,
                    .pen = pen,
                    .kind = f->kind,
                    .starts = starts,
                    .work = work };
    pl_code rc;

    if (!row)
        return pl_nomem(f->d);
    for (size_t u = 0; u < f->nunit; u++)
        row[u] = (uint32_t)f->units[u].treatment;
    rc = pl_spread_improve(f->scratch, &s, f->d);
    for (size_t u = 0; u < f->nunit && !rc; u++) {
        f->units[u].treatment = row[u];
        f->units[u].local = f->local_of[row[u]];
    }
    return rc;
}

/* --------------------------------------------------------------- aliases -- */

/* "pressure", "pressure x temper" */
static void add_effect(pl_text *t, const pl_study *s, uint32_t word)
{
    bool first = true;

    for (size_t k = 0; k < s->nfactor; k++)
        if (word >> k & 1) {
            pl_text_add(t, "%s%s", first ? "" : " x ", s->factors[k].name);
            first = false;
        }
}

static int first_of(uint32_t word)
{
    return __builtin_ctz(word);
}

/* One line for a single factor or a product of two that comes first in its chain; false:
 * nothing to say, or no memory. */
static bool chain(pl_draft *f, uint32_t effect, const char **line)
{
    const pl_fraction *r = f->fraction;
    size_t others = 0;
    pl_text t;

    pl_text_init(&t, f->a);
    add_effect(&t, f->s, effect);
    for (unsigned wanted = 1; wanted <= 2; wanted++)
        for (size_t i = 0; i < r->nword; i++) {
            uint32_t other = r->word[i] ^ effect;

            if ((unsigned)__builtin_popcount(other) != wanted)
                continue;
            if (wanted < (unsigned)__builtin_popcount(effect) ||
                (wanted == (unsigned)__builtin_popcount(effect) &&
                 first_of(other) < first_of(effect)))
                return false; /* said already, by the one that comes first */
            pl_text_put(&t, " = ");
            add_effect(&t, f->s, other);
            others++;
        }
    *line = others ? pl_text_done(&t) : NULL;
    return *line != NULL;
}

pl_code pl_draft_aliases(pl_draft *f, const char *const **out, size_t *count)
{
    size_t k = f->s->nfactor;
    const char **list = PL_NEWN(f->a, k + k * (k - 1) / 2, const char *);

    *count = 0;
    if (!list)
        return pl_nomem(f->d);
    for (size_t i = 0; f->fraction && i < k; i++)
        *count += chain(f, 1u << i, &list[*count]);
    for (size_t i = 0; f->fraction && i < k; i++)
        for (size_t j = i + 1; j < k; j++)
            *count += chain(f, 1u << i | 1u << j, &list[*count]);
    *out = list;
    return f->d->out_of_memory ? PL_ENOMEM : PL_OK;
}
