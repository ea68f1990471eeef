/* The randomisation test of one factor of a study: its plan drawn again. Drawing is
 * design/redraw.c's; blocks of a table without a plan are randomise.c's. */
#include <math.h>
#include <string.h>

#include "base/stream.h"
#include "base/text.h"
#include "design/redraw.h"
#include "fit/matching.h"
#include "fit/randomise.h"
#include "fit/units.h"

#define TIE 1e-10    /* sums of squares that differ by less than this share are equal */
#define UNTOLD 1e-9  /* a pivot below this share of its level's count: not to be told apart */
#define DEPENDS 1e-9 /* a column of which less is left depends on those before it */

typedef struct figure {
    size_t n, k, q; /* units, levels, columns taken out */
    double *basis;  /* n x q, orthonormal */
    double *y;      /* n: what these columns leave */
    const size_t *glue_up;
    const pl_plan *plan;
    size_t factor, rank;
    double *count, *total, *c, *shares; /* k, k, k x k, k x q */
    double made, most;                  /* of the plan as it stands; of all that were seen */
    uint64_t far, at_most;              /* as far as made; as far as the most */
} figure;

/* ------------------------------------------------------------------ figure -- */

static size_t level_of(const figure *f, size_t treatment)
{
    return (size_t)f->plan->treatments[treatment * f->plan->nfactor + f->factor];
}

/* Q' C^- Q, C = R - S S' eliminated level by level; levels that the others give are passed over. */
static double eliminate(figure *f)
{
    const size_t k = f->k;
    double ss = 0;

    f->rank = 0;
    for (size_t j = 0; j < k; j++) {
        double pivot = f->c[j * k + j];

        if (pivot <= UNTOLD * f->count[j] || !(f->count[j] > 0))
            continue;
        f->rank++;
        ss += f->total[j] * f->total[j] / pivot;
        for (size_t i = j + 1; i < k; i++) {
            double ratio = f->c[i * k + j] / pivot;

            for (size_t l = j; l < k; l++)
                f->c[i * k + l] -= ratio * f->c[j * k + l];
            f->total[i] -= ratio * f->total[j];
        }
    }
    return ss;
}

static double figure_of(figure *f, const size_t *treatment)
{
    const size_t k = f->k, q = f->q;

    memset(f->count, 0, k * sizeof *f->count);
    memset(f->total, 0, k * sizeof *f->total);
    memset(f->c, 0, k * k * sizeof *f->c);
    memset(f->shares, 0, k * q * sizeof *f->shares);
    for (size_t i = 0; i < f->n; i++) {
        size_t l = level_of(f, treatment[f->glue_up[i]]);

        f->count[l]++;
        f->total[l] += f->y[i];
        for (size_t j = 0; j < q; j++)
            f->shares[l * q + j] += f->basis[i * q + j];
    }
    for (size_t i = 0; i < k; i++) {
        f->c[i * k + i] = f->count[i];
        for (size_t j = 0; j < k; j++)
            for (size_t l = 0; l < q; l++)
                f->c[i * k + j] -= f->shares[i * q + l] * f->shares[j * q + l];
    }
    return eliminate(f);
}

static bool see(void *context, const size_t *treatment)
{
    figure *f = context;
    double ss = figure_of(f, treatment);

    f->far += ss >= f->made * (1 - TIE);
    if (ss > f->most * (1 + TIE)) {
        f->most = ss;
        f->at_most = 0;
    }
    f->at_most += ss >= f->most * (1 - TIE);
    return true;
}

/* --------------------------------------------------- what is taken out of y -- */

/* v freed of the columns so far, twice for safety; joins them when something is left. */
static void join_basis(double *basis, size_t *q, double *v, size_t n)
{
    double length = 0, left = 0;

    for (size_t i = 0; i < n; i++)
        length += v[i] * v[i];
    for (int pass = 0; pass < 2; pass++)
        for (size_t j = 0; j < *q; j++) {
            double s = 0;

            for (size_t i = 0; i < n; i++)
                s += basis[j * n + i] * v[i];
            for (size_t i = 0; i < n; i++)
                v[i] -= s * basis[j * n + i];
        }
    for (size_t i = 0; i < n; i++)
        left += v[i] * v[i];
    if (!(left > DEPENDS * DEPENDS * length) || !(length > 0))
        return;
    for (size_t i = 0; i < n; i++)
        basis[*q * n + i] = v[i] / sqrt(left);
    ++*q;
}

/* Names of the columns whose levels are taken out: blocks, then the other factors as drawn. */
typedef struct held {
    const char *blocks[PL_MATCHING_BLOCKS_MOST];
    size_t nblock;
    const char *unit;
} held;

static pl_code take_out(pl_arena *a, const pl_units *u, const pl_randomise_plan_spec *spec,
                        const held *h, figure *f, pl_diags *d)
{
    const pl_study *s = spec->study;
    size_t room = 1, q = 0;
    pl_factor_codes blocks[PL_MATCHING_BLOCKS_MOST] = { 0 };
    double *v = PL_NEWN(a, f->n, double), *columns;
    pl_code rc = v ? PL_OK : pl_nomem(d);

    for (size_t b = 0; b < h->nblock && !rc; b++) {
        rc = pl_table_factor(a, u->table, h->blocks[b], &blocks[b], d);
        room += blocks[b].nlevel;
    }
    for (size_t k = 0; k < s->nfactor; k++)
        room += k == spec->factor ? 0 : s->factors[k].nlevel;
    columns = PL_NEWN(a, room * f->n, double);
    f->basis = PL_NEWN(a, room * f->n, double);
    if (rc || !v || !columns || !f->basis)
        return rc ? rc : pl_nomem(d);
    for (size_t i = 0; i < f->n; i++)
        v[i] = 1;
    join_basis(columns, &q, v, f->n);
    for (size_t b = 0; b < h->nblock; b++)
        for (size_t l = 0; l < blocks[b].nlevel && q < f->n; l++) {
            for (size_t i = 0; i < f->n; i++)
                v[i] = blocks[b].code[i] == (int)l;
            join_basis(columns, &q, v, f->n);
        }
    for (size_t k = 0; k < s->nfactor; k++)
        for (size_t l = 0; k != spec->factor && l < s->factors[k].nlevel && q < f->n; l++) {
            for (size_t i = 0; i < f->n; i++) {
                size_t t = f->plan->glue_ups[f->glue_up[i]].treatment;

                v[i] = f->plan->treatments[t * f->plan->nfactor + k] == (int)l;
            }
            join_basis(columns, &q, v, f->n);
        }
    for (size_t j = 0; j < q; j++) {
        double along = 0;

        for (size_t i = 0; i < f->n; i++)
            along += columns[j * f->n + i] * f->y[i];
        for (size_t i = 0; i < f->n; i++) {
            f->y[i] -= along * columns[j * f->n + i];
            f->basis[i * q + j] = columns[j * f->n + i];
        }
    }
    f->q = q;
    return PL_OK;
}

/* Readings by unit, and a glue-up of each. */
static pl_code gather(pl_arena *a, const pl_table *t, const pl_units *u,
                      const pl_randomise_plan_spec *spec, figure *f, pl_diags *d)
{
    const pl_column *label = pl_table_find(t, "glue_up");
    const double *y = pl_table_find(u->table, spec->response)->number;
    size_t *glue_up = PL_NEWN(a, u->nunit, size_t);

    f->plan = spec->plan;
    f->factor = spec->factor;
    f->k = spec->study->factors[spec->factor].nlevel;
    f->n = u->nunit;
    f->y = PL_NEWN(a, u->nunit, double);
    f->count = PL_NEWN(a, f->k, double);
    f->total = PL_NEWN(a, f->k, double);
    f->c = PL_NEWN(a, f->k * f->k, double);
    if (!glue_up || !f->y || !f->count || !f->total || !f->c)
        return pl_nomem(d);
    for (size_t i = 0; i < u->nunit; i++) {
        const char *name = label->text[u->first[i]];
        const pl_glue_up *g = pl_plan_find_glue_up(spec->plan, name);

        if (!g)
            return pl_fail(d, PL_EDATA, t->name,
                           .found = pl_arena_printf(d->arena, "glue-up \"%s\"", name),
                           .expected = "a glue-up of the plan");
        glue_up[i] = (size_t)(g - spec->plan->glue_ups);
        f->y[i] = y[i];
    }
    f->glue_up = glue_up;
    return PL_OK;
}

/* -------------------------------------------------------------------- test -- */

/* Glue-ups that were drawn and have no reading; that were made at another level than drawn. */
static void compare_with_bench(const pl_table *t, const pl_randomise_plan_spec *spec,
                               pl_drawn_again *out)
{
    const pl_column *label = pl_table_find(t, "glue_up");
    const pl_factor *factor = &spec->study->factors[spec->factor];
    const pl_column *level = pl_table_find(t, factor->name);
    const pl_column *y = pl_table_find(t, spec->response);

    for (size_t i = 0; i < spec->plan->nglue_up; i++) {
        const pl_glue_up *g = &spec->plan->glue_ups[i];
        const char *drawn =
            factor
                ->levels[spec->plan->treatments[g->treatment * spec->plan->nfactor + spec->factor]]
                .text;
        bool read = false, other = false;

        if (g->spare || g->reference)
            continue;
        for (size_t r = 0; r < t->nrow; r++)
            if (!strcmp(label->text[r], g->label) && isfinite(y->number[r])) {
                read = true;
                other = other || (level && strcmp(level->text[r], drawn) != 0);
            }
        out->lost += !read;
        out->otherwise += other;
    }
}

static pl_code draw(pl_redraw *r, figure *f, const pl_randomise_plan_spec *spec, size_t *treatment,
                    pl_drawn_again *out, pl_diags *d)
{
    size_t taken;
    bool listed;
    pl_code rc = pl_redraw_each(r, PL_RANDOMISE_PLAN_LISTED_MOST, see, f, &listed, &taken, d);

    out->all = listed;
    out->draws = listed ? taken : spec->draws;
    for (uint64_t i = 0; i < spec->draws && !listed && !rc; i++) {
        pl_stream s;

        pl_stream_init(&s, spec->seed, PL_FOR_RANDOMISE, i);
        rc = pl_redraw_draw(r, &s, treatment, d);
        if (!rc)
            see(f, treatment);
    }
    out->as_far = f->far;
    return rc;
}

static void tell(const pl_redraw *r, const figure *f, pl_drawn_again *out)
{
    const double N = (double)out->draws;

    out->units = f->n;
    out->ss = f->made;
    if (out->all) {
        out->p = (double)out->as_far / N;
        out->p_least = (double)f->at_most / N;
        return;
    }
    pl_allocations n = pl_redraw_count(r);

    out->p = (1 + (double)out->as_far) / (1 + N);
    out->mc_se = sqrt(out->p * (1 - out->p) / (1 + N));
    out->p_least = 1 / (1 + N);
    if (n.mantissa > 0) /* no fewer than that one assignment itself */
        out->p_least = fmax(out->p_least, pow(10, -n.power) / n.mantissa);
}

static const char *listed_blocks(pl_arena *a, const held *h)
{
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < h->nblock; i++)
        pl_text_add(&t, "%s%s", i ? ", " : "", h->blocks[i]);
    return h->nblock ? pl_text_done(&t) : "";
}

pl_code pl_randomise_plan(pl_arena *a, const pl_table *t, const pl_randomise_plan_spec *spec,
                          pl_drawn_again *out, const char **why, pl_diags *d)
{
    held h = { 0 };
    pl_units u = { 0 };
    figure f = { 0 };
    pl_redraw *r = NULL;
    size_t *treatment = PL_NEWN(a, spec->plan->nglue_up, size_t);
    pl_drawn_again x = { .factor = spec->study->factors[spec->factor].name, .seed = spec->seed };
    pl_code rc = pl_match_curve(a, spec->study, t, spec->factor, h.blocks, &h.nblock, &h.unit, d);

    *out = (pl_drawn_again){ 0 };
    *why = NULL;
    if (!rc)
        rc = treatment ? pl_redraw_open(a, spec->study, spec->plan, &r, d) : pl_nomem(d);
    if (rc || !r)
        return rc;
    x.narrower = !pl_redraw_follows(r);
    rc = pl_redraw_alone(r, spec->factor, why, d);
    if (!rc && !*why)
        rc = pl_fit_units(a, t, h.unit, spec->response, &u, d);
    if (rc || *why)
        return rc;
    rc = gather(a, t, &u, spec, &f, d);
    if (!rc)
        rc = take_out(a, &u, spec, &h, &f, d);
    f.shares = PL_NEWN(a, f.k * f.q, double);
    if (rc || !f.shares)
        return rc ? rc : pl_nomem(d);
    for (size_t i = 0; i < spec->plan->nglue_up; i++)
        treatment[i] = spec->plan->glue_ups[i].treatment;
    f.made = figure_of(&f, treatment);
    if (!f.rank) {
        *why = "its levels cannot be told from the blocks and the other factors";
        return PL_OK;
    }
    x.unit = h.unit;
    x.within = listed_blocks(a, &h);
    rc = x.within ? draw(r, &f, spec, treatment, &x, d) : pl_nomem(d);
    tell(r, &f, &x);
    compare_with_bench(t, spec, &x);
    *out = x;
    return rc;
}
