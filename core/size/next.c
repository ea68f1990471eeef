/* Where to make further glue-ups: the choice among places. What there is to choose from is
 * next_places.c, what it would bring next_expect.c. */
#include "size/next.h"

#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

#include "fit/curve_rows.h"

#define SCAN 240 /* places at which an onset is looked for */

/* ----------------------------------------------------------------- curves ---- */

static double u_of(const pl_next_curve *c, double x)
{
    return c->fit->log_x ? log(x / c->fit->x1) : x;
}

static void columns_at(const pl_next_curve *c, const double *u, size_t n, double *out)
{
    const pl_curve *curve = c->fit->curve;

    for (size_t i = 0; c->line && i < n; i++) {
        out[2 * i] = 1;
        out[2 * i + 1] = u[i];
    }
    for (size_t i = 0; !c->line && i < n; i++) {
        long double at = u[i], row[PL_CURVE_LINEAR_MOST];

        curve->columns(curve, &at, 1, c->fit->shape[0], row);
        for (size_t j = 0; j < c->nlinear; j++)
            out[i * c->nlinear + j] = (double)row[j];
    }
}

/* The linear numbers from the picture of the fitted mean, whatever they are called. */
static bool solve_beta(pl_arena *a, pl_next_curve *c)
{
    const size_t n = c->fit->ngrid, p = c->nlinear;
    double *u = PL_NEWN(a, n, double), *rows = PL_NEWN(a, n * p, double);
    long double *X = PL_NEWN(a, n * p, long double), *y = PL_NEWN(a, n, long double);
    long double beta[PL_CURVE_LINEAR_MOST], rss;

    if (!u || !rows || !X || !y || n < p)
        return false;
    for (size_t i = 0; i < n; i++) {
        u[i] = u_of(c, c->fit->grid_x[i]);
        y[i] = c->fit->grid_y[i];
    }
    columns_at(c, u, n, rows);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < p; j++)
            X[j * n + i] = rows[i * p + j];
    if (!pl_long_lsq(X, y, n, p, beta, NULL, NULL, &rss))
        return false;
    for (size_t j = 0; j < p; j++)
        c->beta[j] = (double)beta[j];
    for (size_t j = 0; j < p; j++)
        if (!isfinite(c->beta[j]))
            return false;
    return true;
}

static bool ready(pl_arena *a, const pl_curve_fit *fit, pl_next_curve *c)
{
    const pl_curve *curve = fit->curve;
    double low = fit->ngrid ? fit->grid_x[0] : NAN;
    double high = fit->ngrid ? fit->grid_x[fit->ngrid - 1] : NAN, wide;

    *c = (pl_next_curve){
        .fit = fit, .weight = fit->weight, .sd = fit->residual.sd, .df = fit->residual.df
    };
    if (!(fit->weight > 0) || !(c->sd > 0) || !curve || curve->wide || !fit->ngrid ||
        (fit->limit && strcmp(fit->limit, "line") != 0))
        return false;
    c->line = fit->limit != NULL;
    c->nlinear = c->line ? 2 : curve->nlinear;
    c->n = c->nlinear + (!c->line && curve->gradient);
    if (!c->line && !curve->columns)
        return false;
    wide = u_of(c, high) - u_of(c, low);
    c->step = fmax(fabs(fit->shape[0]), 0.1 * wide);
    return solve_beta(a, c);
}

pl_code pl_next_curves(pl_arena *a, const pl_plateau *p, pl_next_curve **out, size_t *n,
                       pl_diags *d)
{
    pl_next_curve *c = PL_NEWN(a, p->ncurve, pl_next_curve);
    double sum = 0;

    if (!c)
        return pl_nomem(d);
    *n = 0;
    for (size_t i = 0; i < p->ncurve; i++)
        if (ready(a, &p->curves[i], &c[*n]))
            sum += c[(*n)++].weight;
    for (size_t i = 0; i < *n; i++)
        c[i].weight /= sum;
    *out = c;
    return d->out_of_memory ? PL_ENOMEM : PL_OK;
}

double pl_next_mean(const pl_next_curve *c, double x, double *f)
{
    const pl_curve *curve = c->fit->curve;
    double u = u_of(c, x), row[PL_CURVE_LINEAR_MOST], y = 0;

    columns_at(c, &u, 1, row);
    for (size_t j = 0; j < c->nlinear; j++)
        y += c->beta[j] * row[j];
    if (!f)
        return y;
    memcpy(f, row, c->nlinear * sizeof *row);
    if (c->n > c->nlinear) {
        long double at = u, slope[PL_CURVE_LINEAR_MOST];

        curve->gradient(&at, 1, c->fit->shape[0], slope);
        f[c->nlinear] = 0;
        for (size_t j = 0; j < c->nlinear; j++)
            f[c->nlinear] += c->beta[j] * (double)slope[j];
        f[c->nlinear] *= c->step;
    }
    return y;
}

/* -------------------------------------------------------------- information -- */

/* What the choice needs of one curve: information of what is made, the gradient of the onset. */
typedef struct aim {
    const pl_next_curve *c;
    double M[PL_NEXT_FEATURES_MOST * PL_NEXT_FEATURES_MOST]; /* of units made, in 1/sd^2 */
    double g[PL_NEXT_FEATURES_MOST]; /* of the onset: of ln x where x is above zero */
    double *f;                       /* nplace x PL_NEXT_FEATURES_MOST */
} aim;

typedef struct chooser {
    const pl_next_place *places;
    size_t nplace;
    aim *aims;
    size_t naim;
    double low, high; /* the range with what is to be made */
    bool ratio;
    double cap; /* most variance of an onset that lies somewhere in the range */
} chooser;

static double scan_x(const chooser *k, size_t i)
{
    double t = (double)i / SCAN;

    return k->ratio ? k->low * pow(k->high / k->low, t) : k->low + (k->high - k->low) * t;
}

/* Lowest place where the mean is a share of its largest; *top: where that is. */
static double onset_of(const chooser *k, const pl_next_curve *c, double share, double *top)
{
    double best = -INFINITY, low, high;
    size_t i = 0;

    for (size_t j = 0; j <= SCAN; j++) {
        double y = pl_next_mean(c, scan_x(k, j), NULL);

        if (y > best * (1 + 1e-12)) {
            best = y;
            *top = scan_x(k, j);
        }
    }
    while (i < SCAN && pl_next_mean(c, scan_x(k, i), NULL) < share * best)
        i++;
    if (!i)
        return k->low;
    low = scan_x(k, i - 1);
    high = scan_x(k, i);
    for (int step = 0; step < 60; step++) {
        double mid = 0.5 * (low + high);

        if (pl_next_mean(c, mid, NULL) < share * best)
            low = mid;
        else
            high = mid;
    }
    return high;
}

/* d onset / d numbers = -(f(t) - share f(top)) / m'(t), over t for ln t. */
static void find_gradient(const chooser *k, aim *m, double share)
{
    double at[PL_NEXT_FEATURES_MOST], top_f[PL_NEXT_FEATURES_MOST], top = k->high;
    double t = onset_of(k, m->c, share, &top);
    double step = 1e-3 * (k->ratio ? t : k->high - k->low), slope;

    /* from below: a knee has its rise there */
    slope = (pl_next_mean(m->c, t, at) - pl_next_mean(m->c, t - step, NULL)) / step;
    pl_next_mean(m->c, top, top_f);
    for (size_t j = 0; j < m->c->n; j++)
        m->g[j] = -(at[j] - share * top_f[j]) / (slope * (k->ratio ? t : 1));
}

/* Information of the units of the fit with their blocks taken out. A prior of one step's scatter
 * on the shape number keeps a curve that the data hardly place from being all that counts. */
static pl_code find_made(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                         const pl_plateau *p, aim *m, pl_diags *d)
{
    const size_t n = p->nunit, q = m->c->n;
    pl_block_factor *blocks = PL_NEWN(a, spec->nblock, pl_block_factor);
    size_t *unit = PL_NEWN(a, n, size_t), ncol = 0;
    long double *v = PL_NEWN(a, n * q, long double);
    const double *columns = NULL;
    pl_curve_rows rows;
    pl_code rc = PL_OK;

    if (!blocks || !unit || !v)
        return pl_nomem(d);
    for (size_t b = 0; b < spec->nblock && !rc; b++) {
        pl_factor_codes codes;
        int *code = PL_NEWN(a, n, int);

        rc = pl_table_factor(a, table, spec->blocks[b], &codes, d);
        if (!rc && !code)
            rc = pl_nomem(d);
        for (size_t i = 0; i < n && !rc; i++)
            code[i] = codes.code[p->unit_row[i]];
        blocks[b] = (pl_block_factor){ .nlevel = codes.nlevel, .code = code };
    }
    for (size_t i = 0; i < n; i++)
        unit[i] = i;
    if (!rc)
        rc = pl_curve_blocks(a, blocks, spec->nblock, unit, n, n, &columns, &ncol, d);
    if (!rc)
        rc = pl_curve_rows_make(a, p->unit_x, p->unit_y, n, columns, ncol, NULL, &rows, d);
    if (rc)
        return rc;
    for (size_t i = 0; i < n; i++) {
        double f[PL_NEXT_FEATURES_MOST];

        pl_next_mean(m->c, p->unit_x[i], f);
        for (size_t j = 0; j < q; j++)
            v[j * n + i] = f[j];
    }
    for (size_t j = 0; j < q; j++)
        pl_curve_rows_leave(&rows, v + j * n);
    for (size_t j = 0; j < q; j++)
        for (size_t l = 0; l < q; l++) {
            long double sum = 0;

            for (size_t i = rows.n - rows.left; i < rows.n; i++)
                sum += v[j * n + i] * v[l * n + i];
            m->M[j * q + l] = (double)sum / (m->c->sd * m->c->sd);
        }
    if (q > m->c->nlinear)
        m->M[q * q - 1] += 1;
    return PL_OK;
}

/* Variance of the onset after making count[] in one block; capped. */
static double variance_of(const chooser *k, const aim *m, const size_t *count)
{
    const size_t q = m->c->n;
    double M[PL_NEXT_FEATURES_MOST * PL_NEXT_FEATURES_MOST], sum[PL_NEXT_FEATURES_MOST] = { 0 };
    double x[PL_NEXT_FEATURES_MOST], N = 0, s2 = m->c->sd * m->c->sd, v = 0;
    gsl_matrix_view view = gsl_matrix_view_array(M, q, q);
    gsl_vector_const_view g = gsl_vector_const_view_array(m->g, q);
    gsl_vector_view at = gsl_vector_view_array(x, q);

    memcpy(M, m->M, q * q * sizeof *M);
    for (size_t i = 0; i < k->nplace; i++) {
        const double *f = m->f + i * PL_NEXT_FEATURES_MOST, c = (double)count[i];

        N += c;
        for (size_t j = 0; j < q && count[i]; j++) {
            sum[j] += c * f[j];
            for (size_t l = 0; l < q; l++)
                M[j * q + l] += c * f[j] * f[l] / s2;
        }
    }
    for (size_t j = 0; j < q && N > 0; j++)
        for (size_t l = 0; l < q; l++)
            M[j * q + l] -= sum[j] * sum[l] / (N * s2);
    if (gsl_linalg_cholesky_decomp1(&view.matrix) ||
        gsl_linalg_cholesky_solve(&view.matrix, &g.vector, &at.vector))
        return k->cap;
    for (size_t j = 0; j < q; j++)
        v += m->g[j] * x[j];
    return v >= 0 && v < k->cap ? v : k->cap;
}

static double loss(const chooser *k, const size_t *count)
{
    double sum = 0;

    for (size_t i = 0; i < k->naim; i++)
        sum += k->aims[i].c->weight * variance_of(k, &k->aims[i], count);
    return sum;
}

/* ----------------------------------------------------------------- choice ---- */

/* The place nearest to x among those of the group's own levels. */
static size_t own_level(const pl_plateau *p, const pl_next_place *places, size_t n, double x,
                        int side)
{
    size_t best = n;

    for (size_t i = 0; i < n; i++) {
        bool own = false;

        for (size_t l = 0; l < p->nlevel; l++)
            own = own || fabs(pl_next_level_x(&p->levels[l]) - places[i].x) <= 1e-9 * places[i].x;
        if (!own || (side < 0 && places[i].x >= x) || (side > 0 && places[i].x < x))
            continue;
        if (best == n || fabs(places[i].x - x) < fabs(places[best].x - x))
            best = i;
    }
    return best;
}

/* What must be made whatever the curves say: one level on the rise and one on the plateau again;
 * with an open end half of the round beyond it. Returns how many that are. */
static size_t force(const pl_plateau *p, const pl_next_place *places, size_t n, size_t glue_ups,
                    size_t *count)
{
    const pl_next_need need = pl_next_need_of(p);
    const double low = pl_next_level_x(&p->levels[0]),
                 high = pl_next_level_x(&p->levels[p->nlevel - 1]);
    const double onset = isnan(p->onset.at) ? high : p->onset.at;
    size_t rise = own_level(p, places, n, onset, -1), top, beyond = 0, made = 0;

    top = own_level(p, places, n,
                    need == PL_NEXT_NARROW && !p->onset.high_open ? p->onset.high : high, 1);
    if (rise == n)
        rise = own_level(p, places, n, low, 0);
    if (top == n)
        top = own_level(p, places, n, high, 0);
    count[rise]++;
    count[top]++;
    for (size_t i = 0; i < n; i++)
        beyond += (need == PL_NEXT_HIGHER && places[i].x > high) ||
                  (need == PL_NEXT_LOWER && places[i].x < low);
    made = 2;
    for (size_t left = beyond ? glue_ups / 2 : 0; left && made < glue_ups;)
        for (size_t i = 0; i < n && left && made < glue_ups; i++)
            if ((need == PL_NEXT_HIGHER && places[i].x > high) ||
                (need == PL_NEXT_LOWER && places[i].x < low)) {
                count[i]++;
                made++;
                left--;
            }
    return made;
}

/* One more where it helps most; then single glue-ups move while that helps. forced: the least. */
static void fill(const chooser *k, size_t *count, const size_t *forced, size_t left)
{
    for (; left; left--) {
        size_t best = 0;
        double least = INFINITY;

        for (size_t i = 0; i < k->nplace; i++) {
            double v;

            count[i]++;
            v = loss(k, count);
            count[i]--;
            if (v < least * (1 - 1e-9)) {
                least = v;
                best = i;
            }
        }
        count[best]++;
    }
    for (bool moved = true; moved;) {
        double now = loss(k, count);

        moved = false;
        for (size_t i = 0; i < k->nplace && !moved; i++)
            for (size_t j = 0; j < k->nplace && count[i] > forced[i] && !moved; j++) {
                if (j == i)
                    continue;
                count[i]--;
                count[j]++;
                moved = loss(k, count) < now * (1 - 1e-6);
                if (!moved) {
                    count[i]++;
                    count[j]--;
                }
            }
    }
}

/* Nothing to go by: every level of the group in turn, from the lowest. */
static void spread(const pl_plateau *p, const pl_next_place *places, size_t n, size_t *count,
                   size_t left)
{
    while (left)
        for (size_t l = 0; l < p->nlevel && left; l++) {
            size_t at = own_level(p, places, n, pl_next_level_x(&p->levels[l]), 0);

            count[at]++;
            left--;
        }
}

static pl_code begin(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                     const pl_plateau *p, chooser *k, const size_t *forced, pl_diags *d)
{
    pl_next_curve *curves;
    double range;
    pl_code rc = pl_next_curves(a, p, &curves, &k->naim, d);

    if (rc)
        return rc;
    k->low = pl_next_level_x(&p->levels[0]);
    k->high = pl_next_level_x(&p->levels[p->nlevel - 1]);
    for (size_t i = 0; i < k->nplace; i++)
        if (forced[i]) {
            k->low = fmin(k->low, k->places[i].x);
            k->high = fmax(k->high, k->places[i].x);
        }
    k->ratio = k->low > 0;
    range = k->ratio ? log(k->high / k->low) : k->high - k->low;
    k->cap = range * range / 12; /* of a place anywhere in the range */
    k->aims = PL_NEWN(a, k->naim, aim);
    if (!k->aims)
        return pl_nomem(d);
    for (size_t i = 0; i < k->naim && !rc; i++) {
        aim *m = &k->aims[i];

        m->c = &curves[i];
        m->f = PL_NEWN(a, k->nplace * PL_NEXT_FEATURES_MOST, double);
        if (!m->f)
            return pl_nomem(d);
        for (size_t j = 0; j < k->nplace; j++)
            if (k->places[j].x > 0 || !m->c->fit->log_x)
                pl_next_mean(m->c, k->places[j].x, m->f + j * PL_NEXT_FEATURES_MOST);
        find_gradient(k, m, p->share);
        rc = find_made(a, table, spec, p, m, d);
    }
    return rc;
}

/* Two forced levels may be one and the same; the round then still has its number. */
pl_code pl_next_choose(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                       const pl_plateau *p, const pl_next_place *places, size_t nplace,
                       size_t glue_ups, size_t *count, pl_diags *d)
{
    chooser k = { .places = places, .nplace = nplace };
    size_t *forced = PL_NEWN(a, nplace, size_t), made;
    pl_code rc;

    memset(count, 0, nplace * sizeof *count);
    if (glue_ups < PL_NEXT_GLUE_UPS_LEAST)
        return pl_fail(
            d, PL_EUSAGE, table->name,
            .found = pl_arena_printf(d->arena, "%zu glue-ups for %s", glue_ups,
                                     p->group ? p->group : "the next round"),
            .expected = pl_arena_printf(d->arena, "at least %d of them", PL_NEXT_GLUE_UPS_LEAST));
    if (!forced)
        return pl_nomem(d);
    made = force(p, places, nplace, glue_ups, count);
    memcpy(forced, count, nplace * sizeof *forced);
    rc = begin(a, table, spec, p, &k, forced, d);
    if (rc)
        return rc;
    if (k.naim && pl_next_need_of(p) != PL_NEXT_REPEAT)
        fill(&k, count, forced, glue_ups - made);
    else
        spread(p, places, nplace, count, glue_ups - made);
    return PL_OK;
}
