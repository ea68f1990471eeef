/* The fit, what runs away, values with their errors, and limits by profile. Newton's steps are
 * censored_system.c's, models of tables censored_linear.c's. */
#include "fit/censored.h"

#include <float.h>
#include <math.h>
#include <string.h>

#include <gsl/gsl_eigen.h>

#include "base/prob.h"

/* g' H^-1 g, twice what a Newton step gains: below this the step taken is the last. */
#define GAIN_LEAST 1e-22
/* Information of a direction of unit length: a share of 1 comes from exact readings; one that runs
 * away stops where it gains less than GAIN_LEAST, at about 1e-11 of that. */
#define OPEN_BELOW 1e-7
/* Share of a functional that must lie along an open direction. */
#define OPEN_SHARE 1e-5

static double dot(const double *a, const double *b, size_t n)
{
    double s = 0;

    for (size_t i = 0; i < n; i++)
        s += a[i] * b[i];
    return s;
}

/* ---- making ready ---- */

static pl_code check_reading(const pl_censored_data *data, size_t i, pl_diags *d)
{
    const double low = data->low[i], high = data->high[i];
    const bool logs = pl_law_of_logs(data->law);

    if (isnan(low) || isnan(high) || low > high || (isinf(low) && isinf(high)) || low == INFINITY ||
        high == -INFINITY)
        return pl_fail(
            d, PL_EVALUE, data->where,
            .found = pl_arena_printf(d->arena, "reading %zu lies from %g to %g", i + 1, low, high),
            .expected = "bounds in rising order, one of them a number");
    if (logs && (high <= 0 || (low == high && low <= 0)))
        return pl_fail(d, PL_EVALUE, data->where,
                       .found = pl_arena_printf(d->arena, "a strength of %g", high),
                       .expected = pl_arena_printf(d->arena, "strengths above zero: the law is %s",
                                                   pl_law_name(data->law)),
                       .mend = "take the normal law, or see what that reading is");
    return PL_OK;
}

/* Bounds on the scale of the law; a lower bound that says nothing is none. */
static pl_code take_readings(const pl_censored_data *data, pl_censored *c, pl_diags *d)
{
    const bool logs = pl_law_of_logs(c->law);
    pl_code rc = PL_OK;
    double lowest = INFINITY, highest = -INFINITY;

    for (size_t i = 0; i < c->n; i++) {
        pl_code one = check_reading(data, i, d);

        rc = rc ? rc : one;
        if (one)
            continue;
        c->low[i] = !logs ? data->low[i] : data->low[i] > 0 ? log(data->low[i]) : -INFINITY;
        c->high[i] = logs ? log(data->high[i]) : data->high[i];
        if (data->low[i] == data->high[i]) {
            c->exact++;
            c->jacobian -= logs ? c->low[i] : 0;
        } else if (isinf(c->high[i])) {
            c->above++;
        } else if (isinf(c->low[i])) {
            c->below++;
        } else {
            c->between++;
        }
        if (!isinf(c->high[i]) && !isinf(c->low[i])) {
            lowest = fmin(lowest, c->low[i]);
            highest = fmax(highest, c->high[i]);
        }
    }
    if (rc)
        return rc;
    if (!c->n)
        return pl_fail(d, PL_EDATA, data->where, .found = "no reading",
                       .expected = "readings to fit");
    if (!c->exact && !c->between)
        return pl_fail(
            d, PL_EDATA, data->where,
            .found = pl_arena_printf(d->arena, "%zu readings, every one only a bound", c->n),
            .expected = "some whose own strength is known",
            .mend = "bounds alone say how strong it is at least, not how strong it is");
    if (!c->between && lowest == highest && !c->below)
        return pl_fail(d, PL_EDATA, data->where,
                       .found = pl_arena_printf(d->arena, "all %zu strengths are equal", c->exact),
                       .expected = "strengths that differ: there is no scatter to judge by");
    return PL_OK;
}

/* A reading as one number, for the first fit only. */
static double middle(const pl_censored *c, size_t i)
{
    return isinf(c->high[i])  ? c->low[i]
           : isinf(c->low[i]) ? c->high[i]
                              : 0.5 * c->low[i] + 0.5 * c->high[i];
}

/* Takes a plain fit off and scales by what it leaves, so that the search starts near 0 and 1. */
static void take_first_fit(pl_censored *c)
{
    const pl_censored_system *s = &c->system;
    const size_t n = c->n, B = s->nblock;
    double ss = 0, spread = 0;

    for (size_t i = 0; i < n; i++) {
        const double y = middle(c, i);

        spread = fmax(spread, fabs(y - middle(c, 0)));
        if (B)
            c->first[s->block[i]] += s->size[s->block[i]] * y;
        for (size_t j = 0; j < s->p; j++)
            c->first[B + j] += s->z[i * s->stride + j] * y;
    }
    for (size_t i = 0; i < n; i++) {
        double fit = B ? s->size[s->block[i]] * c->first[s->block[i]] : 0, e;

        for (size_t j = 0; j < s->p; j++)
            fit += s->z[i * s->stride + j] * c->first[B + j];
        e = middle(c, i) - fit;
        ss += e * e;
        c->low[i] -= fit;
        c->high[i] -= fit;
    }
    c->scale = sqrt(ss / (double)n);
    if (!(c->scale > 1e-9 * spread))
        c->scale = spread > 0 ? spread : 1;
    for (size_t i = 0; i < n; i++) {
        c->low[i] /= c->scale;
        c->high[i] /= c->scale;
    }
    pl_censored_frame_solve(&c->frame, c->first);
}

static bool make_room(pl_arena *a, pl_censored *c)
{
    const size_t n = c->n, m = c->p + 1;

    c->first = PL_NEWN(a, m, double);
    c->low = PL_NEWN(a, n, double);
    c->high = PL_NEWN(a, n, double);
    c->theta = PL_NEWN(a, m, double);
    c->warm = PL_NEWN(a, m, double);
    c->beta = PL_NEWN(a, m, double);
    c->g = PL_NEWN(a, 4 * m, double);
    return c->first && c->low && c->high && c->theta && c->warm && c->beta && c->g;
}

static bool make_desk(pl_arena *a, pl_censored *c)
{
    c->desk = PL_NEWN(a, pl_censored_desk(&c->system), double);
    c->H = PL_NEWN(a, pl_censored_second(&c->system), double);
    c->factors = PL_NEWN(a, pl_censored_second(&c->system), double);
    return c->desk && c->H && c->factors;
}

static pl_code make_system(pl_arena *a, const pl_censored_data *data, pl_censored *c, pl_diags *d)
{
    size_t dependent;
    pl_code rc = pl_censored_frame_make(a, data->X, c->n, c->p, data->q, 0, &c->frame, &dependent,
                                        d);

    if (rc)
        return rc;
    if (dependent < c->p)
        return pl_fail(d, PL_ERANK, data->where,
                       .found = data->names
                                    ? pl_arena_printf(d->arena, "\"%s\"", data->names[dependent])
                                    : pl_arena_printf(d->arena, "column %zu", dependent + 1),
                       .expected = "something that can be told apart from the other effects and "
                                   "blocks");
    c->system = c->frame.system;
    c->system.law = c->law;
    c->system.low = c->low;
    c->system.high = c->high;
    return make_desk(a, c) ? PL_OK : pl_nomem(d);
}

/* ---- what the top is like ---- */

/* Axes of the information and what it holds of each; those with nothing run away. */
static pl_code find_open(pl_arena *a, pl_censored *c, pl_diags *d)
{
    const size_t m = c->p + 1;
    gsl_matrix *A = gsl_matrix_alloc(m, m), *V = gsl_matrix_alloc(m, m);
    gsl_vector *e = gsl_vector_alloc(m);
    gsl_eigen_symmv_workspace *w = gsl_eigen_symmv_alloc(m);

    c->open = PL_NEWN(a, m * m, double);
    c->axes = PL_NEWN(a, m * m, double);
    c->bend = PL_NEWN(a, m, double);
    if (!A || !V || !e || !w || !c->open || !c->axes || !c->bend) {
        gsl_matrix_free(A), gsl_matrix_free(V), gsl_vector_free(e), gsl_eigen_symmv_free(w);
        return pl_nomem(d);
    }
    for (size_t j = 0; j < m; j++)
        for (size_t k = 0; k < m; k++)
            gsl_matrix_set(A, j, k, pl_censored_entry(&c->system, c->H, j, k));
    gsl_eigen_symmv(A, e, V, w);
    for (size_t r = 0; r < m; r++) {
        double *v = c->axes + r * m, along;

        c->bend[r] = gsl_vector_get(e, r);
        for (size_t j = 0; j < m; j++)
            v[j] = gsl_matrix_get(V, j, r);
        if (c->bend[r] > OPEN_BELOW)
            continue;
        along = dot(v, c->theta, m) < 0 ? -1 : 1;
        for (size_t j = 0; j < m; j++)
            c->open[c->nopen * m + j] = along * v[j];
        c->nopen++;
    }
    gsl_matrix_free(A), gsl_matrix_free(V), gsl_vector_free(e), gsl_eigen_symmv_free(w);
    return PL_OK;
}

/* Whether something runs away: only then the axes are wanted. */
static pl_code judge(pl_arena *a, pl_censored *c, pl_diags *d)
{
    (void)pl_censored_at(&c->system, c->theta, c->g, c->H);
    if (!pl_censored_factor(&c->system, c->H, 0, OPEN_BELOW, c->factors) ||
        !pl_censored_factor(&c->system, c->H, 0, 0, c->factors))
        return find_open(a, c, d);
    return PL_OK;
}

pl_code pl_censored_fit(pl_arena *a, const pl_censored_data *data, pl_censored *out, pl_diags *d)
{
    pl_censored c = { .n = data->n, .p = data->p, .law = data->law };
    const size_t p = data->p;
    pl_code rc;

    *out = c;
    if (!make_room(a, &c))
        return pl_nomem(d);
    rc = take_readings(data, &c, d);
    if (!rc)
        rc = make_system(a, data, &c, d);
    if (rc)
        return rc;
    take_first_fit(&c);
    c.theta[p] = 1;
    c.log_likelihood = pl_censored_climb(&c.system, c.theta, NULL, GAIN_LEAST, c.desk);
    if (!(c.theta[p] < PL_CENSORED_TAU_MOST) || !isfinite(c.log_likelihood))
        return pl_fail(d, PL_EDATA, data->where,
                       .found = pl_arena_printf(d->arena,
                                                "the %zu readings that are no bounds lie on the "
                                                "fit: the scatter runs to nothing",
                                                c.exact + c.between),
                       .expected = "readings that differ among themselves",
                       .mend = "fewer effects or blocks, or more joints");
    rc = judge(a, &c, d);
    if (rc)
        return rc;
    if (c.exact + c.between + c.nopen <= p)
        return pl_fail(d, PL_EDATA, data->where,
                       .found = pl_arena_printf(d->arena,
                                                "%zu readings that are no bounds, %zu numbers to "
                                                "estimate beside the scatter",
                                                c.exact + c.between, p - c.nopen),
                       .expected = "more readings than numbers",
                       .mend = "fewer effects or blocks, or more joints");
    memcpy(c.beta, c.theta, p * sizeof *c.beta);
    pl_censored_frame_solve(&c.frame, c.beta);
    for (size_t j = 0; j < p; j++)
        c.beta[j] = c.first[j] + c.scale * c.beta[j] / c.theta[p];
    c.sigma = c.scale / c.theta[p];
    /* readings were scaled: each density by 1/scale */
    c.jacobian -= (double)c.exact * log(c.scale);
    c.log_likelihood += c.jacobian;
    pl_censored_rewind(&c);
    *out = c;
    return PL_OK;
}

/* ---- held ---- */

double pl_censored_held(pl_censored *c, const double *g, double gs, double v)
{
    const size_t p = c->p, m = p + 1;
    double *condition = c->g + m, *theta = condition + m, length, wanted;

    memcpy(condition, g, p * sizeof *g);
    pl_censored_frame_solve_turned(&c->frame, condition);
    condition[p] = (dot(g, c->first, p) - v) / c->scale;
    length = dot(condition, condition, p);
    memcpy(theta, c->warm, m * sizeof *theta);
    if (length > 0) { /* from where the last search ended, straight to the condition */
        double off = -gs - dot(condition, theta, m);

        for (size_t j = 0; j < p; j++)
            theta[j] += off * condition[j] / length;
    } else {
        wanted = -gs / condition[p];
        if (!(wanted > 0) || !isfinite(wanted))
            return -INFINITY;
        /* delta goes with tau: means stay where they are */
        for (size_t j = 0; j < p; j++)
            theta[j] *= wanted / theta[p];
        theta[p] = wanted;
    }
    length = sqrt(dot(condition, condition, m));
    for (size_t j = 0; j < m; j++)
        condition[j] /= length;
    if (!isfinite(
            pl_censored_at(&c->system, theta, NULL, NULL))) { /* start afresh, nearer the middle */
        memset(theta, 0, m * sizeof *theta);
        theta[p] = length > 0 && dot(condition, condition, p) < 1e-30 ? -gs / length / condition[p]
                                                                      : 1;
        length = -gs / length - condition[p] * theta[p];
        wanted = dot(condition, condition, p);
        for (size_t j = 0; j < p && wanted > 0; j++)
            theta[j] = length * condition[j] / wanted;
    }
    wanted = pl_censored_climb(&c->system, theta, condition, GAIN_LEAST, c->desk);
    if (!isfinite(wanted))
        return -INFINITY;
    memcpy(c->warm, theta, m * sizeof *theta);
    return wanted + c->jacobian;
}

void pl_censored_rewind(pl_censored *c)
{
    memcpy(c->warm, c->theta, (c->p + 1) * sizeof *c->warm);
}

/* Of g in terms of delta. */
static const double *turned(pl_censored *c, const double *g)
{
    memcpy(c->g, g, c->p * sizeof *g);
    pl_censored_frame_solve_turned(&c->frame, c->g);
    return c->g;
}

static int runs(const pl_censored *c, const double *t)
{
    const size_t p = c->p, m = p + 1;
    double length = sqrt(dot(t, t, p)), along = 0, part = 0;

    for (size_t r = 0; r < c->nopen; r++) {
        const double *v = c->open + r * m;

        along += dot(t, v, p) * dot(v, c->theta, m);
        part = fmax(part, fabs(dot(t, v, p)));
    }
    return !(part > OPEN_SHARE * length) ? 0 : along > 0 ? 1 : -1;
}

int pl_censored_runs(pl_censored *c, const double *g)
{
    return c->nopen ? runs(c, turned(c, g)) : 0;
}

/* g'beta + gs sigma is scale (t'delta + gs)/tau and what the first fit holds: its variance by the
 * information, open directions left out. */
static double variance(const pl_censored *c, double *t, double gs, double *room)
{
    const size_t p = c->p, m = p + 1;
    const double tau = c->theta[p], by = c->scale / tau;
    double v = 0;

    t[p] = -(dot(t, c->theta, p) + gs) / tau;
    if (!c->nopen) {
        pl_censored_back(&c->system, c->H, c->factors, t, room);
        return by * by * dot(t, room, m);
    }
    for (size_t r = 0; r < m; r++) {
        double along = dot(c->axes + r * m, t, m);

        if (c->bend[r] > OPEN_BELOW)
            v += along * along / c->bend[r];
    }
    return by * by * v;
}

double pl_censored_value(pl_censored *c, const double *g, double gs, double *se)
{
    const size_t p = c->p;

    if (se) {
        (void)turned(c, g);
        *se = runs(c, c->g) ? NAN : sqrt(fmax(variance(c, c->g, gs, c->g + p + 1), 0));
    }
    return dot(g, c->beta, p) + gs * c->sigma;
}

/* ---- limits ---- */

typedef struct slope {
    pl_censored *c;
    const double *g;
    double gs, at, root; /* root of twice the drop */
    int side;
} slope;

/* Signed root of the likelihood ratio less what is wanted, at distance x on one side. */
static double beyond(const slope *s, double x)
{
    double l = pl_censored_held(s->c, s->g, s->gs, s->at + s->side * x);

    return sqrt(2 * fmax(s->c->log_likelihood - l, 0)) - s->root;
}

/* The distance where the likelihood has fallen far enough; INFINITY when it never does. */
static double distance(const slope *s, double first)
{
    double a = 0, b = first, fa = -s->root, fb;
    const bool sigma = dot(s->g, s->g, s->c->p) == 0;

    pl_censored_rewind(s->c);
    if (sigma && s->side < 0) /* a scatter stays above zero */
        b = fmin(b, 0.5 * s->at);
    for (int i = 0; (fb = beyond(s, b)) < 0; i++) {
        if (i == 200)
            return INFINITY;
        a = b, fa = fb;
        b = sigma && s->side < 0 ? 0.5 * (b + s->at) : b + first * (i < 8 ? 1 : i);
        if (sigma && s->side < 0 && b >= s->at)
            return INFINITY;
    }
    for (int i = 0, last = 0; i < 100 && b - a > 1e-14 * (b + fabs(s->at)); i++) {
        double x = i % 4 == 3 || !isfinite(fb) ? 0.5 * (a + b) : a + (b - a) * fa / (fa - fb), f;

        if (!(x > a && x < b))
            x = 0.5 * (a + b);
        if (!(x > a && x < b))
            break;
        f = beyond(s, x);
        if (fabs(f) < 1e-14)
            return x;
        if (f < 0) {
            a = x, fa = f;
            fb *= last == -1 ? 0.5 : 1;
            last = -1;
        } else {
            b = x, fb = f;
            fa *= last == 1 ? 0.5 : 1;
            last = 1;
        }
    }
    return 0.5 * (a + b);
}

void pl_censored_limits(pl_censored *c, const double *g, double gs, double drop, pl_bounded *out)
{
    const int runs = pl_censored_runs(c, g);
    double se, at = pl_censored_value(c, g, gs, &se), far[2] = { INFINITY, INFINITY };
    slope s = { c, g, gs, at, sqrt(2 * drop), 0 };

    if (!(se > 0))
        se = c->sigma;
    for (int k = 0; k < 2; k++) {
        s.side = k ? 1 : -1;
        if (runs != s.side)
            far[k] = distance(&s, s.root * se);
    }
    *out = (pl_bounded){ runs ? NAN : at, at - far[0], at + far[1], isinf(far[0]), isinf(far[1]) };
    if (out->low_open)
        out->low = NAN;
    if (out->high_open)
        out->high = NAN;
}

double pl_censored_df(const pl_censored *c)
{
    const double df = (double)(c->exact + c->between + c->nopen) - (double)c->p;

    return df > 1 ? df : 1;
}

double pl_censored_drop(const pl_censored *c, double sure)
{
    const double df = pl_censored_df(c), t = pl_t_quantile(0.5 + 0.5 * sure, df);

    return 0.5 * (double)(c->exact + c->between) * log1p(t * t / df);
}
