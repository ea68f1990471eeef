/* Newton's steps on the concave log-likelihood, free and with one linear condition; limits by
 * profile. One reading's part is censored_row.c's, models of tables are censored_linear.c's. */
#include "fit/censored.h"

#include <float.h>
#include <math.h>
#include <string.h>

#include <gsl/gsl_eigen.h>

#include "base/prob.h"

/* What is left of a column after those before it, below this share of its length: it depends on
 * them. Doubles, orthogonalised twice, leave 1e-15. */
#define RANK_TOL 1e-10
#define STEPS_MOST 300
/* g' H^-1 g, twice what a Newton step gains: below this the step taken is the last. */
#define GAIN_LEAST 1e-22
/* Information of a direction of unit length: a share of 1 comes from exact readings; one that runs
 * away stops where it gains less than GAIN_LEAST, at about 1e-11 of that. */
#define OPEN_BELOW 1e-7
/* Share of a functional that must lie along an open direction. */
#define OPEN_SHARE 1e-5
/* 1/sigma in units of the first fit: an exact fit of all that is exact. */
#define TAU_MOST 1e7

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

/* Orthonormal columns by two passes of Gram and Schmidt; R so that X = Q R. */
static pl_code orthogonalise(const pl_censored_data *data, pl_censored *c, pl_diags *d)
{
    const size_t n = c->n, p = c->p;
    pl_code rc = PL_OK;

    for (size_t j = 0; j < p; j++) {
        double *q = c->Q + j * n, length = 0, left;

        for (size_t i = 0; i < n; i++)
            q[i] = data->X[i * p + j];
        length = sqrt(dot(q, q, n));
        for (int pass = 0; pass < 2; pass++)
            for (size_t k = 0; k < j; k++) {
                double s = dot(c->Q + k * n, q, n);

                c->R[k * p + j] += s;
                for (size_t i = 0; i < n; i++)
                    q[i] -= s * c->Q[k * n + i];
            }
        left = sqrt(dot(q, q, n));
        if (!(left > RANK_TOL * length)) {
            rc = pl_fail(d, PL_ERANK, data->where,
                         .found = data->names ? pl_arena_printf(d->arena, "\"%s\"", data->names[j])
                                              : pl_arena_printf(d->arena, "column %zu", j + 1),
                         .expected = "something that can be told apart from the other effects and "
                                     "blocks");
            left = 1;
        }
        c->R[j * p + j] = left;
        for (size_t i = 0; i < n; i++)
            q[i] /= left;
    }
    return rc;
}

/* x = R^-1 b and x = R^-T b, in place. */
static void solve_R(const pl_censored *c, double *b)
{
    for (size_t j = c->p; j-- > 0;) {
        for (size_t k = j + 1; k < c->p; k++)
            b[j] -= c->R[j * c->p + k] * b[k];
        b[j] /= c->R[j * c->p + j];
    }
}

static void solve_Rt(const pl_censored *c, double *b)
{
    for (size_t j = 0; j < c->p; j++) {
        for (size_t k = 0; k < j; k++)
            b[j] -= c->R[k * c->p + j] * b[k];
        b[j] /= c->R[j * c->p + j];
    }
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
    const size_t n = c->n, p = c->p;
    double ss = 0, spread = 0, *e = c->desk;

    for (size_t i = 0; i < n; i++) {
        e[i] = middle(c, i);
        spread = fmax(spread, fabs(e[i] - middle(c, 0)));
    }
    for (size_t j = 0; j < p; j++) {
        c->first[j] = dot(c->Q + j * n, e, n);
        for (size_t i = 0; i < n; i++)
            e[i] -= c->first[j] * c->Q[j * n + i];
    }
    ss = dot(e, e, n);
    c->scale = sqrt(ss / (double)n);
    if (!(c->scale > 1e-9 * spread))
        c->scale = spread > 0 ? spread : 1;
    for (size_t i = 0; i < n; i++) {
        double fit = middle(c, i) - e[i];

        c->low[i] = (c->low[i] - fit) / c->scale;
        c->high[i] = (c->high[i] - fit) / c->scale;
    }
    solve_R(c, c->first);
}

static bool make_room(pl_arena *a, pl_censored *c)
{
    const size_t n = c->n, p = c->p, m = p + 1;

    c->Q = PL_NEWN(a, n * p, double);
    c->R = PL_NEWN(a, p * p, double);
    c->first = PL_NEWN(a, m, double);
    c->low = PL_NEWN(a, n, double);
    c->high = PL_NEWN(a, n, double);
    c->theta = PL_NEWN(a, m, double);
    c->warm = PL_NEWN(a, m, double);
    c->beta = PL_NEWN(a, m, double);
    c->cov = PL_NEWN(a, m * m, double);
    c->open = PL_NEWN(a, m * m, double);
    c->desk = PL_NEWN(a, n + 3 * m * m + 8 * m, double);
    return c->Q && c->R && c->first && c->low && c->high && c->theta && c->warm && c->beta &&
           c->cov && c->open && c->desk;
}

/* ---- the likelihood and Newton's steps ---- */

/* Log-likelihood at theta = (delta, tau); g and minus the second derivatives H when not NULL. */
static double likelihood(const pl_censored *c, const double *theta, double *g, double *H)
{
    const size_t n = c->n, p = c->p, m = p + 1;
    const double tau = theta[p];
    double sum = 0;

    if (!(tau > 0))
        return -INFINITY;
    if (g) {
        memset(g, 0, m * sizeof *g);
        memset(H, 0, m * m * sizeof *H);
    }
    for (size_t i = 0; i < n; i++) {
        pl_row_part r;
        double eta = 0;

        for (size_t j = 0; j < p; j++)
            eta += c->Q[j * n + i] * theta[j];
        pl_row_likelihood(c->law, c->low[i], c->high[i], eta, tau, &r);
        if (!isfinite(r.value))
            return -INFINITY;
        sum += r.value;
        if (!g)
            continue;
        for (size_t j = 0; j < p; j++) {
            double x = c->Q[j * n + i];

            if (x == 0)
                continue;
            g[j] += r.ge * x;
            for (size_t k = 0; k <= j; k++)
                H[j * m + k] -= r.hee * x * c->Q[k * n + i];
            H[p * m + j] -= r.het * x;
        }
        g[p] += r.gt;
        H[p * m + p] -= r.htt;
    }
    for (size_t j = 0; g && j < m; j++)
        for (size_t k = 0; k < j; k++)
            H[k * m + j] = H[j * m + k];
    return sum;
}

/* Solves (H + ridge) x = b by Cholesky's triangle L; false when it is not positive. from: the
 * first row and column that take part. */
static bool solve(const double *H, const double *b, size_t m, size_t from, double ridge, double *L,
                  double *x)
{
    for (size_t j = from; j < m; j++)
        for (size_t k = from; k <= j; k++) {
            double s = H[j * m + k] + (j == k ? ridge * (H[j * m + j] + 1e-3) : 0);

            for (size_t l = from; l < k; l++)
                s -= L[j * m + l] * L[k * m + l];
            if (j == k && !(s > 1e-14 * H[j * m + j] && s > DBL_MIN))
                return false;
            L[j * m + k] = j == k ? sqrt(s) : s / L[k * m + k];
        }
    for (size_t j = from; j < m; j++) {
        x[j] = b[j];
        for (size_t l = from; l < j; l++)
            x[j] -= L[j * m + l] * x[l];
        x[j] /= L[j * m + j];
    }
    for (size_t j = m; j-- > from;) {
        for (size_t l = j + 1; l < m; l++)
            x[j] -= L[l * m + j] * x[l];
        x[j] /= L[j * m + j];
    }
    return true;
}

/* v <- v - 2 w (w'v): the mirror that turns the condition onto the first axis. */
static void mirror(const double *w, double *v, size_t m, size_t stride)
{
    double s = 0;

    for (size_t i = 0; i < m; i++)
        s += w[i] * v[i * stride];
    for (size_t i = 0; i < m; i++)
        v[i * stride] -= 2 * s * w[i];
}

/* Goes up from theta, along directions without a part in `condition` (of length 1; NULL: all). */
static double climb(pl_censored *c, double *theta, const double *condition)
{
    const size_t m = c->p + 1;
    double *g = c->desk + c->n, *H = g + m, *L = H + m * m, *step = L + m * m, *w = step + m,
           *next = w + m;
    double value = likelihood(c, theta, g, H);

    if (condition) {
        double s = condition[0] > 0 ? 1 : -1;

        memcpy(w, condition, m * sizeof *w);
        w[0] += s;
        s = sqrt(dot(w, w, m));
        for (size_t i = 0; i < m; i++)
            w[i] /= s;
    }
    for (int turn = 0; turn < STEPS_MOST && isfinite(value); turn++) {
        double ridge = 0, gain, part = 1, there = -INFINITY;

        if (condition) {
            mirror(w, g, m, 1);
            for (size_t j = 0; j < m; j++)
                mirror(w, H + j, m, m);
            for (size_t j = 0; j < m; j++)
                mirror(w, H + j * m, m, 1);
        }
        while (!solve(H, g, m, condition ? 1 : 0, ridge, L, step) && ridge < 1e6)
            ridge = ridge > 0 ? 10 * ridge : 1e-12;
        if (condition)
            step[0] = 0;
        gain = condition ? dot(g + 1, step + 1, m - 1) : dot(g, step, m);
        if (condition)
            mirror(w, step, m, 1);
        if (!isfinite(gain))
            break;
        for (int halving = 0; halving < 60; halving++, part *= 0.5) {
            for (size_t j = 0; j < m; j++)
                next[j] = theta[j] + part * step[j];
            there = likelihood(c, next, NULL, NULL);
            if (there >= value - 1e-13 * fabs(value) &&
                (there >= value + 1e-4 * part * gain || gain < 1e-10))
                break;
            there = -INFINITY;
        }
        if (!isfinite(there))
            break;
        memcpy(theta, next, m * sizeof *theta);
        value = likelihood(c, theta, g, H);
        if (gain < GAIN_LEAST || theta[c->p] > TAU_MOST)
            break;
    }
    return value;
}

/* ---- what the top is like ---- */

/* Covariances of beta and ln sigma, and the directions that run away. */
static pl_code judge(pl_censored *c, pl_diags *d)
{
    const size_t p = c->p, m = p + 1;
    double *g = c->desk + c->n, *H = g + m, *J = H + m * m;
    gsl_matrix *A = gsl_matrix_alloc(m, m), *V = gsl_matrix_alloc(m, m);
    gsl_vector *e = gsl_vector_alloc(m);
    gsl_eigen_symmv_workspace *w = gsl_eigen_symmv_alloc(m);
    const double tau = c->theta[p];

    if (!A || !V || !e || !w) {
        gsl_matrix_free(A), gsl_matrix_free(V), gsl_vector_free(e), gsl_eigen_symmv_free(w);
        return pl_nomem(d);
    }
    likelihood(c, c->theta, g, H);
    for (size_t j = 0; j < m; j++)
        for (size_t k = 0; k < m; k++)
            gsl_matrix_set(A, j, k, H[j * m + k]);
    gsl_eigen_symmv(A, e, V, w);
    for (size_t r = 0; r < m; r++) {
        double *v = J, value = gsl_vector_get(e, r);

        for (size_t j = 0; j < m; j++)
            v[j] = gsl_matrix_get(V, j, r);
        if (!(value > OPEN_BELOW)) {
            double along = dot(v, c->theta, m) < 0 ? -1 : 1;

            for (size_t j = 0; j < m; j++)
                c->open[c->nopen * m + j] = along * v[j];
            c->nopen++;
            continue;
        }
        /* to beta = scale R^-1 delta / tau and ln sigma = ln scale - ln tau */
        for (size_t j = 0; j < p; j++)
            v[j] = v[j] - c->theta[j] * v[p] / tau;
        solve_R(c, v);
        for (size_t j = 0; j < p; j++)
            v[j] *= c->scale / tau;
        v[p] = -v[p] / tau;
        for (size_t j = 0; j < m; j++)
            for (size_t k = 0; k < m; k++)
                c->cov[j * m + k] += v[j] * v[k] / value;
    }
    gsl_matrix_free(A), gsl_matrix_free(V), gsl_vector_free(e), gsl_eigen_symmv_free(w);
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
        rc = orthogonalise(data, &c, d);
    if (rc)
        return rc;
    take_first_fit(&c);
    c.theta[p] = 1;
    c.log_likelihood = climb(&c, c.theta, NULL);
    if (!(c.theta[p] < TAU_MOST) || !isfinite(c.log_likelihood))
        return pl_fail(d, PL_EDATA, data->where,
                       .found = pl_arena_printf(d->arena,
                                                "the %zu readings that are no bounds lie on the "
                                                "fit: the scatter runs to nothing",
                                                c.exact + c.between),
                       .expected = "readings that differ among themselves",
                       .mend = "fewer effects or blocks, or more joints");
    memcpy(c.warm, c.theta, (p + 1) * sizeof *c.warm);
    rc = judge(&c, d);
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
    solve_R(&c, c.beta);
    for (size_t j = 0; j < p; j++)
        c.beta[j] = c.first[j] + c.scale * c.beta[j] / c.theta[p];
    c.sigma = c.scale / c.theta[p];
    /* readings were scaled: each density by 1/scale */
    c.jacobian -= (double)c.exact * log(c.scale);
    c.log_likelihood += c.jacobian;
    *out = c;
    return PL_OK;
}

/* ---- held ---- */

double pl_censored_held(pl_censored *c, const double *g, double gs, double v)
{
    const size_t p = c->p, m = p + 1;
    double *condition = c->desk + c->n + 3 * m * m + 5 * m, *theta = condition + m, length, wanted;

    memcpy(condition, g, p * sizeof *g);
    solve_Rt(c, condition);
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
    if (!isfinite(likelihood(c, theta, NULL, NULL))) { /* start afresh, nearer the middle */
        memset(theta, 0, m * sizeof *theta);
        theta[p] = length > 0 && dot(condition, condition, p) < 1e-30 ? -gs / length / condition[p]
                                                                      : 1;
        length = -gs / length - condition[p] * theta[p];
        wanted = dot(condition, condition, p);
        for (size_t j = 0; j < p && wanted > 0; j++)
            theta[j] = length * condition[j] / wanted;
    }
    wanted = climb(c, theta, condition);
    if (!isfinite(wanted))
        return -INFINITY;
    memcpy(c->warm, theta, m * sizeof *theta);
    return wanted + c->jacobian;
}

/* Of g in terms of delta, into room. */
static const double *turned(const pl_censored *c, const double *g, double *room)
{
    memcpy(room, g, c->p * sizeof *g);
    solve_Rt(c, room);
    return room;
}

int pl_censored_runs(const pl_censored *c, const double *g)
{
    const size_t p = c->p, m = p + 1;
    const double *t = turned(c, g, c->desk);
    double length = sqrt(dot(t, t, p)), along = 0, part = 0;

    for (size_t r = 0; r < c->nopen; r++) {
        const double *v = c->open + r * m;

        along += dot(t, v, p) * dot(v, c->theta, m);
        part = fmax(part, fabs(dot(t, v, p)));
    }
    return !(part > OPEN_SHARE * length) ? 0 : along > 0 ? 1 : -1;
}

double pl_censored_value(const pl_censored *c, const double *g, double gs, double *se)
{
    const size_t p = c->p, m = p + 1;
    double s = gs * c->sigma, v = 0;

    for (size_t j = 0; j < m; j++)
        for (size_t k = 0; k < m; k++)
            v += (j < p ? g[j] : s) * c->cov[j * m + k] * (k < p ? g[k] : s);
    if (se)
        *se = pl_censored_runs(c, g) ? NAN : sqrt(fmax(v, 0));
    return dot(g, c->beta, p) + s;
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

    memcpy(s->c->warm, s->c->theta, (s->c->p + 1) * sizeof *s->c->warm);
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
