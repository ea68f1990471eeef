/* One shape number for all groups, floors and tops by group. The ratio of onsets is groups.c. */
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/prob.h"
#include "fit/groups.h"

/* Search coordinate ln(s - origin): as curve_work.c. */
#define SEARCH_TOL 1e-7
#define POLISH_FIRST 1e-6L
#define POLISH_MOST 0.1L

typedef struct joint {
    pl_curve_model *m; /* ngroup, on one x1 */
    pl_curve_desk *desk;
    size_t n;
    double origin;
    const char *factor;
    const pl_plateau_group *g;
} joint;

/* ---- search ---- */

static double sum_ss(void *self, double z)
{
    joint *j = self;
    double sum = 0;

    for (size_t k = 0; k < j->n; k++) {
        pl_curve_point p;

        pl_curve_try(&j->m[k].work, j->origin + exp(z), &p);
        sum += p.ss;
    }
    return sum;
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

/* The groups' own grids together, fine enough for each of them. */
static pl_code search(pl_arena *a, joint *j, double *s, bool *at_end, pl_diags *d)
{
    size_t n = 0, most = 0;
    double *z, *ss, at;

    for (size_t k = 0; k < j->n; k++)
        most += j->m[k].work.ngrid;
    z = PL_NEWN(a, most, double);
    ss = PL_NEWN(a, most, double);
    if (!z || !ss || !most)
        return pl_nomem(d);
    for (size_t k = 0; k < j->n; k++)
        for (size_t i = 0; i < j->m[k].work.ngrid; i++)
            if (j->m[k].work.points[i].s > j->origin)
                z[n++] = log(j->m[k].work.points[i].s - j->origin);
    qsort(z, n, sizeof *z, rising);
    for (size_t i = 0; i < n; i++)
        ss[i] = sum_ss(j, z[i]);
    pl_curve_valley_minimum(sum_ss, j, z, ss, n, SEARCH_TOL, &at);
    *s = j->origin + exp(at);
    *at_end = at <= z[0] || at >= z[n - 1];
    return PL_OK;
}

/* ---- last digits ---- */

static bool sum_descent(const joint *j, long double s, long double *out)
{
    *out = 0;
    for (size_t k = 0; k < j->n; k++) {
        long double one;

        if (!pl_curve_desk_descent(&j->desk[k], s, &one))
            return false;
        *out += one;
    }
    return true;
}

static long double polish(const joint *j, long double s)
{
    long double low = s, high = s, flow = 0, fhigh = 0;
    bool found = false;

    for (long double e = POLISH_FIRST; e <= POLISH_MOST && !found; e *= 10) {
        low = s - e * (s - j->origin);
        high = s + e * (s - j->origin);
        if (!sum_descent(j, low, &flow) || !sum_descent(j, high, &fhigh))
            return s;
        found = flow >= 0 && fhigh <= 0;
    }
    if (!found)
        return s;
    for (int i = 0; i < 200 && high - low > 4 * LDBL_EPSILON * fabsl(high); i++) {
        long double t = 0.5L * (low + high), f;

        if (i % 3 && flow > fhigh) /* a chord, a halving every third time */
            t = low + (high - low) * flow / (flow - fhigh);
        if (t <= low || t >= high || !sum_descent(j, t, &f))
            break;
        if (f >= 0)
            low = t, flow = f;
        else
            high = t, fhigh = f;
    }
    return fabsl(flow) < fabsl(fhigh) ? low : high;
}

/* ---- report ---- */

/* The shape's column is shared, all others are a group's own: (J'J)^-1 from the groups' inverses.
 * With 1/w_k the shape's diagonal entry in group k, its variance is 1/sum w_k over all; a floor or
 * top has its variance at a known shape and what the shape's passes on. */
static void tell(pl_arena *a, joint *j, double df, double s2, pl_shared_shape *out)
{
    const pl_curve *c = j->m->curve;
    const bool told = !out->limit;
    double information = 0;
    pl_coef *shape;

    for (size_t k = 0; k < j->n && told; k++)
        information += 1 / (double)j->m[k].inverse[j->m[k].nf * j->m[k].nf - 1];
    for (size_t k = 0; k < j->n; k++) {
        pl_curve_model *m = &j->m[k];
        const size_t from = m->work.floor_fixed ? 1 : 0, p = c->nlinear - from, nf = p + 1;
        double last = told ? (double)m->inverse[nf * nf - 1] : NAN;

        m->df = df;
        m->s2 = s2;
        for (size_t i = 0; i < p; i++) {
            const char *name = pl_arena_printf(a, "%s[%s=%s]", c->linear_names[i + from], j->factor,
                                               j->g[k].name);
            double with = told ? (double)m->inverse[i * nf + p] : NAN;
            double v = told ? (double)m->inverse[i * nf + i] - with * with / last +
                                  with * with / (last * last) / information
                            : NAN;

            out->params[out->nparam++] = pl_curve_coef(m, name, told ? (double)m->beta[i] : NAN,
                                                       s2 * v);
        }
    }
    shape = &out->params[out->nparam++];
    *shape = pl_curve_coef(j->m, c->shape_name, told ? j->m->best.s : NAN, s2 / information);
    shape->at_bound = !told;
    if (told && j->m->work.log_x && c->shape_is_x)
        pl_curve_tell_place(j->m, shape);
}

static void compare_own(const joint *j, double own_ss, double own_df, pl_shared_shape *out)
{
    pl_lack_of_fit *l = &out->own;
    double df = out->residual.df - own_df;

    *l = (pl_lack_of_fit){ NAN, df, own_df, NAN };
    if (own_df > 0 && j->n > 1) {
        l->f = fmax(0, (out->residual.ss - own_ss) / df) / (own_ss / own_df);
        l->p = pl_f_upper(l->f, df, own_df);
    }
}

static pl_code fit_joint(pl_arena *a, joint *j, pl_shared_shape *out, pl_diags *d)
{
    double s = 0, own_ss = 0, own_df = 0, N = 0, K = 1;
    bool at_end = false, fine = true, on_point = false;
    pl_code rc = search(a, j, &s, &at_end, d);

    if (rc)
        return rc;
    for (size_t k = 0; k < j->n; k++) {
        own_ss += j->m[k].ss;
        own_df += j->m[k].df;
        N += (double)j->m[k].rows->n;
        K += (double)(j->m[k].nmean + j->m[k].rows->q);
        on_point = on_point || pl_curve_on_a_point(&j->m[k], s);
    }
    out->limit = at_end ? j->m->curve->limit(&j->m->work.span, s) : NULL;
    if (!at_end && !on_point)
        s = (double)polish(j, s);
    out->residual.ss = sum_ss(j, log(s - j->origin));
    for (size_t k = 0; k < j->n && !at_end; k++)
        fine = fine && pl_curve_desk_settle(&j->m[k], &j->desk[k], s);
    if (fine && !at_end) { /* to the last digits */
        out->residual.ss = 0;
        for (size_t k = 0; k < j->n; k++)
            out->residual.ss += j->m[k].ss;
    } else if (!out->limit) {
        out->limit = "line";
    }
    out->residual.df = own_df + (double)(j->n - 1);
    out->residual.sd = sqrt(out->residual.ss / out->residual.df);
    out->aicc_own = pl_curve_aicc(own_ss, N, K);
    out->aicc = pl_curve_aicc(out->residual.ss, N, K - (double)(j->n - 1));
    tell(a, j, out->residual.df, out->residual.ss / out->residual.df, out);
    compare_own(j, own_ss, own_df, out);
    return PL_OK;
}

/* The model of g for the curve of m; NULL: not fitted there, or its floor is fixed at another. */
static const pl_curve_model *model_of(const pl_plateau_group *g, const pl_curve_model *m)
{
    for (size_t k = 0; k < g->nmodel; k++)
        if (g->models[k].curve == m->curve && g->models[k].work.log_x == m->work.log_x)
            return &g->models[k];
    return NULL;
}

/* The same curve in every group, log curves from the lowest x of all. */
static pl_code gather(pl_arena *a, const pl_plateau_group *g, size_t n, const pl_curve_model *first,
                      joint *j, pl_diags *d)
{
    double x1 = INFINITY;
    pl_code rc = PL_OK;

    *j = (joint){ PL_NEWN(a, n, pl_curve_model),
                  PL_NEWN(a, n, pl_curve_desk),
                  0,
                  INFINITY,
                  g->spec->for_each,
                  g };
    if (!j->m || !j->desk)
        return pl_nomem(d);
    for (size_t k = 0; k < n; k++) {
        if (!model_of(&g[k], first))
            return PL_OK;
        x1 = fmin(x1, g[k].x1);
    }
    for (size_t k = 0; k < n && !rc; k++) {
        const pl_curve_model *own = model_of(&g[k], first);
        const double *floor = own->work.floor_fixed ? &own->work.floor : NULL;

        rc = pl_curve_model_fit(a, own->curve, &g[k].rows, own->work.log_x, x1, g[k].places[0],
                                g[k].places[g[k].nplace - 1], g[k].share, floor, &j->m[k], d);
        if (!rc && !pl_curve_desk_make(a, &j->m[k], &j->desk[k]))
            rc = pl_nomem(d);
        j->origin = fmin(j->origin, rc ? 0 : pl_curve_origin(own->curve, j->m[k].work.span.low));
    }
    j->n = rc ? 0 : n;
    return rc;
}

pl_code pl_groups_shape(pl_arena *a, const pl_plateau_group *g, size_t n, pl_between *b,
                        pl_diags *d)
{
    pl_code rc = PL_OK;

    b->shared = PL_NEWN(a, g->nmodel, pl_shared_shape);
    if (!b->shared)
        return pl_nomem(d);
    for (size_t k = 0; k < g->nmodel && !rc; k++) {
        const pl_curve_model *first = &g->models[k];
        pl_shared_shape *out = &b->shared[b->nshared];
        joint j;

        if (first->curve->nshape != 1 || first->curve->wide || !first->curve->rise)
            continue;
        rc = gather(a, g, n, first, &j, d);
        if (rc || !j.n)
            continue;
        out->name = first->curve->name;
        out->log_x = first->work.log_x;
        out->params = PL_NEWN(a, n * first->curve->nlinear + 1, pl_coef);
        if (!out->params)
            return pl_nomem(d);
        rc = fit_joint(a, &j, out, d);
        b->nshared += !rc;
    }
    return rc;
}
