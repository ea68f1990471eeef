/* The power of the response: one linear fit a power. What it means for the reader is report's. */
#include "fit/boxcox.h"

#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/curve_work.h"
#include "fit/units.h"

#define STEP 0.5       /* of the first look along the powers */
#define FOUND 1e-9     /* of the power and of its limits */
#define BLOCKS_MOST 64 /* fixed and random together */

typedef struct powers {
    pl_arena *a;
    pl_table table;       /* as given, with a column of its own for the response */
    pl_linear_spec spec;  /* all blocks fixed, rows as they are */
    const double *log_of; /* ln of each value over the geometric mean; NAN where missing */
    double mean;          /* geometric */
    double *z;
    size_t n;
    double above; /* what the likelihood is compared with when a limit is looked for */
    bool out_of_memory;
} powers;

/* Which rows the model takes: those with nothing missing in what it uses. */
static pl_code rows_used(pl_arena *a, const pl_table *t, const pl_linear_spec *spec, bool *used,
                         bool *fine)
{
    pl_linear_fit f = { 0 };
    pl_diags unsaid;
    pl_code rc;

    pl_diags_init(&unsaid, a);
    rc = pl_fit_linear(a, t, spec, &f, &unsaid);
    *fine = !rc && f.residual.df > 0;
    for (size_t i = 0; *fine && i < f.nrow; i++)
        used[f.rows[i]] = true;
    return rc == PL_ENOMEM ? rc : PL_OK;
}

static pl_code take_column(pl_arena *a, const pl_table *t, const char *name, powers *w, bool *fine)
{
    const pl_column *y = pl_table_find(t, name);
    double *logs = PL_NEWN(a, t->nrow, double), sum = 0;
    bool *used = PL_NEWN(a, t->nrow, bool);
    pl_code rc;
    pl_column *columns = PL_NEWN(a, t->ncol, pl_column);

    w->z = PL_NEWN(a, t->nrow, double);
    *fine = y && y->number;
    if (!logs || !columns || !w->z || !used)
        return PL_ENOMEM;
    rc = *fine ? rows_used(a, t, &w->spec, used, fine) : PL_OK;
    if (rc)
        return rc;
    for (size_t i = 0; *fine && i < t->nrow; i++) {
        if (!used[i])
            continue;
        *fine = y->number[i] > 0 && isfinite(y->number[i]);
        logs[i] = log(y->number[i]);
        sum += logs[i];
        w->n++;
    }
    if (!*fine || !w->n)
        return PL_OK;
    w->mean = exp(sum / (double)w->n);
    for (size_t i = 0; i < t->nrow; i++)
        logs[i] = used[i] ? logs[i] - sum / (double)w->n : NAN;
    memcpy(columns, t->columns, t->ncol * sizeof *columns);
    for (size_t j = 0; j < t->ncol; j++)
        if (&t->columns[j] == y)
            columns[j].number = w->z;
    w->table = *t;
    w->table.columns = columns;
    w->log_of = logs;
    return PL_OK;
}

/* z but for a constant, which the model has: (exp(lambda ln(y/g)) - 1) / lambda times g. */
static double likelihood(void *self, double power)
{
    powers *w = self;
    pl_mark mark = pl_arena_mark(w->a);
    pl_linear_fit f = { 0 };
    pl_diags unsaid;
    pl_code rc;
    double rss;

    for (size_t i = 0; i < w->table.nrow; i++)
        w->z[i] = w->mean * (power == 0 ? w->log_of[i] : expm1(power * w->log_of[i]) / power);
    pl_diags_init(&unsaid, w->a);
    rc = pl_fit_linear(w->a, &w->table, &w->spec, &f, &unsaid);
    rss = rc ? NAN : f.residual.ss;
    if (!rc && !(f.residual.df > 0))
        rss = NAN;
    w->out_of_memory = w->out_of_memory || rc == PL_ENOMEM;
    pl_arena_reset(w->a, mark);
    return rss > 0 ? -0.5 * (double)w->n * log(rss) : NAN;
}

static double unlikelihood(void *self, double power)
{
    double l = likelihood(self, power);

    return isnan(l) ? INFINITY : -l;
}

/* Rows as units, and every block a fixed one. */
static pl_code prepare(pl_arena *a, const pl_table *t, const pl_linear_spec *spec, powers *w,
                       bool *fine)
{
    const char **blocks = PL_NEWN(a, BLOCKS_MOST, const char *);
    const pl_table *rows = t;
    pl_diags unsaid;
    pl_units units;

    *w = (powers){ .a = a, .spec = *spec };
    *fine = spec->nblock + spec->nrandom <= BLOCKS_MOST && !spec->through_zero;
    if (!blocks)
        return PL_ENOMEM;
    if (!*fine)
        return PL_OK;
    if (spec->unit) {
        pl_code rc;

        pl_diags_init(&unsaid, a);
        rc = pl_fit_units(a, t, spec->unit, spec->response, &units, &unsaid);
        *fine = !rc;
        if (rc)
            return rc == PL_ENOMEM ? rc : PL_OK;
        rows = units.table;
    }
    w->spec.unit = NULL;
    w->spec.nblock = w->spec.nrandom = 0;
    for (size_t i = 0; i < spec->nblock; i++)
        blocks[w->spec.nblock++] = spec->blocks[i];
    for (size_t i = 0; i < spec->nrandom; i++)
        blocks[w->spec.nblock++] = spec->randoms[i];
    w->spec.blocks = blocks;
    w->spec.designed = false;
    w->spec.ncontrast = 0;
    return take_column(a, rows, spec->response, w, fine);
}

double pl_boxcox_likelihood(pl_arena *a, const pl_table *t, const pl_linear_spec *spec,
                            double power)
{
    powers w;
    bool fine;
    pl_code rc = prepare(a, t, spec, &w, &fine);

    return rc || !fine || !w.n ? NAN : likelihood(&w, power);
}

/* Where the likelihood comes down to `above`, from the power outwards; NAN: not within reach. */
static double limit(powers *w, double from, double end)
{
    double inside = from, outside = end, l = likelihood(w, end);

    if (isnan(l) || l > w->above)
        return NAN;
    while (fabs(outside - inside) > FOUND) {
        double middle = 0.5 * (inside + outside);

        if (likelihood(w, middle) > w->above)
            inside = middle;
        else
            outside = middle;
    }
    return 0.5 * (inside + outside);
}

pl_code pl_boxcox_fit(pl_arena *a, const pl_table *t, const pl_linear_spec *spec, pl_boxcox *out,
                      bool *fitted, pl_diags *diags)
{
    powers w;
    double best = INFINITY, at = 0;
    pl_code rc = prepare(a, t, spec, &w, fitted);

    *out = (pl_boxcox){ .power = NAN, .low = NAN, .high = NAN };
    if (rc)
        return pl_nomem(diags);
    if (!*fitted || !w.n)
        return PL_OK;
    for (double p = -PL_BOXCOX_MOST; p <= PL_BOXCOX_MOST; p += STEP) {
        double l = unlikelihood(&w, p);

        if (l < best) {
            best = l;
            at = p;
        }
    }
    *fitted = isfinite(best);
    if (*fitted) {
        best = pl_curve_minimum(unlikelihood, &w, fmax(at - STEP, -PL_BOXCOX_MOST),
                                fmin(at + STEP, PL_BOXCOX_MOST), FOUND, &out->power);
        w.above = -best - 0.5 * pl_chisq_quantile(0.95, 1);
        out->low = limit(&w, out->power, -PL_BOXCOX_MOST);
        out->high = limit(&w, out->power, PL_BOXCOX_MOST);
        out->low_open = isnan(out->low);
        out->high_open = isnan(out->high);
        out->units = w.n;
    }
    return w.out_of_memory ? pl_nomem(diags) : PL_OK;
}
