/* The way of a fit to a plugin's child and back. One description of each struct serves both
 * directions, so that what is packed is what is unpacked. What comes back is not believed:
 * counted, in range, its texts cleaned; names and units are put in from this side. */
#include "cli/curve_child.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <string.h>

#include "fit/onset.h"
#include "rigs/find.h"
#include "rigs/wire.h"

#define ROWS_MOST 1000000u
#define COLUMNS_MOST 10000u
#define GRID_MOST 100000u
#define PARAMS_MOST 16u
#define CURVES_MOST 64u
#define SHARED_PARAMS_MOST 100000u

typedef struct courier {
    pl_arena *a;
    pl_text *to;    /* packing; NULL: unpacking */
    pl_unpack from; /* unpacking */
    bool trusted;   /* texts come from the program itself */
    bool bad;
} courier;

/* ---- the small things ---- */

static void size(courier *c, size_t *x, size_t most)
{
    if (c->to) {
        pl_pack_u64(c->to, *x);
        return;
    }
    uint64_t v = pl_unpack_u64(&c->from);

    c->bad = c->bad || c->from.bad || v > most;
    *x = c->bad ? 0 : (size_t)v;
}

static void real(courier *c, double *x)
{
    if (c->to)
        pl_pack_f64(c->to, *x);
    else
        *x = pl_unpack_f64(&c->from);
}

static void flag(courier *c, bool *x)
{
    size_t v = *x;

    size(c, &v, 1);
    *x = v;
}

/* NULL stays NULL. */
static void text(courier *c, const char **x)
{
    bool there = *x != NULL;
    size_t n;

    if (c->to && c->trusted) {
        flag(c, &there);
        if (*x)
            pl_pack_bytes(c->to, *x, strlen(*x));
        return;
    }
    if (c->to) {
        pl_pack_text(c->to, *x);
        return;
    }
    if (c->trusted) {
        flag(c, &there);
        *x = there ? pl_unpack_bytes(c->a, &c->from, &n) : NULL;
    } else {
        *x = pl_unpack_text(c->a, &c->from);
    }
    c->bad = c->bad || c->from.bad;
}

/* A text that must be there. */
static void name(courier *c, const char **x)
{
    text(c, x);
    c->bad = c->bad || (!c->to && !*x);
}

/* Room for n things while unpacking; what is there while packing. */
static void *room(courier *c, const void *there, size_t n, size_t one)
{
    void *fresh;

    if (c->to) { /* is only read then */
        memcpy(&fresh, &there, sizeof fresh);
        return fresh;
    }
    fresh = c->bad ? NULL : pl_arena_get(c->a, n, one);
    c->bad = c->bad || !fresh;
    return fresh;
}

static void reals(courier *c, const double **x, size_t n)
{
    double *v = room(c, *x, n, sizeof *v);

    for (size_t i = 0; i < n && !c->bad; i++)
        real(c, &v[i]);
    *x = v;
}

static void texts(courier *c, const char *const **x, size_t n)
{
    const char **v = room(c, *x, n, sizeof *v);

    for (size_t i = 0; i < n && !c->bad; i++)
        name(c, &v[i]);
    *x = v;
}

/* ---- what goes there ---- */

static void pass_column(courier *c, pl_column *x, size_t nrow)
{
    bool numbers = x->number != NULL;

    name(c, &x->name);
    name(c, &x->unit);
    real(c, &x->scale);
    texts(c, &x->text, nrow);
    flag(c, &numbers);
    if (numbers)
        reals(c, &x->number, nrow);
    else
        x->number = NULL;
}

static void pass_table(courier *c, pl_table *t)
{
    name(c, &t->name);
    size(c, &t->nrow, ROWS_MOST);
    size(c, &t->ncol, COLUMNS_MOST);
    t->columns = room(c, t->columns, t->ncol, sizeof *t->columns);
    for (size_t i = 0; i < t->ncol && !c->bad; i++)
        pass_column(c, &t->columns[i], t->nrow);
    texts(c, &t->row_names, t->nrow);
}

static void pass_spec(courier *c, pl_curve_spec *s)
{
    pl_named_curve *curves;
    pl_curve_start *starts;
    pl_rig_doubt *doubts;

    name(c, &s->response);
    name(c, &s->over);
    text(c, &s->planned);
    text(c, &s->unit);
    size(c, &s->nblock, COLUMNS_MOST);
    texts(c, &s->blocks, s->nblock);
    text(c, &s->for_each);
    size(c, &s->ncurve, CURVES_MOST);
    curves = room(c, s->curves, s->ncurve, sizeof *curves);
    for (size_t i = 0; i < s->ncurve && !c->bad; i++) {
        name(c, &curves[i].curve);
        flag(c, &curves[i].log_x);
    }
    s->curves = curves;
    size(c, &s->nstart, COLUMNS_MOST);
    starts = room(c, s->starts, s->nstart, sizeof *starts);
    for (size_t i = 0; i < s->nstart && !c->bad; i++) {
        name(c, &starts[i].name);
        real(c, &starts[i].value);
    }
    s->starts = starts;
    flag(c, &s->in_proportion);
    flag(c, &s->floor_fixed);
    real(c, &s->floor);
    real(c, &s->share);
    text(c, &s->wood);
    text(c, &s->tie);
    size(c, &s->ndoubt, COLUMNS_MOST);
    doubts = room(c, s->doubts, s->ndoubt, sizeof *doubts);
    for (size_t i = 0; i < s->ndoubt && !c->bad; i++) {
        real(c, &doubts[i].at);
        real(c, &doubts[i].relative);
        name(c, &doubts[i].rig);
    }
    s->doubts = doubts;
}

/* ---- what comes back ---- */

static void pass_coef(courier *c, pl_coef *x)
{
    name(c, &x->name);
    real(c, &x->estimate);
    real(c, &x->se);
    real(c, &x->df);
    real(c, &x->low);
    real(c, &x->high);
    flag(c, &x->at_bound);
    c->bad = c->bad || x->se < 0 || x->df < 0 || x->low > x->high;
}

static void pass_grid(courier *c, size_t *n, const double **x, const double **y, const double **low,
                      const double **high)
{
    size(c, n, GRID_MOST);
    reals(c, x, *n);
    reals(c, y, *n);
    reals(c, low, *n);
    reals(c, high, *n);
    for (size_t i = 1; i < *n && !c->bad; i++)
        c->bad = !((*x)[i] > (*x)[i - 1]);
}

static void pass_curve(courier *c, pl_curve_fit *f)
{
    name(c, &f->name);
    flag(c, &f->log_x);
    flag(c, &f->averaged);
    real(c, &f->weight);
    real(c, &f->aicc);
    size(c, &f->nparam, PARAMS_MOST);
    f->params = room(c, f->params, f->nparam, sizeof *f->params);
    for (size_t i = 0; i < f->nparam && !c->bad; i++)
        pass_coef(c, &f->params[i]);
    real(c, &f->residual.df);
    real(c, &f->residual.ss);
    real(c, &f->residual.sd);
    real(c, &f->lack_of_fit.f);
    real(c, &f->lack_of_fit.df1);
    real(c, &f->lack_of_fit.df2);
    real(c, &f->lack_of_fit.p);
    for (size_t i = 0; i < 3; i++)
        real(c, &f->shape[i]);
    text(c, &f->limit);
    real(c, &f->x1);
    pass_grid(c, &f->ngrid, &f->grid_x, &f->grid_y, &f->grid_low, &f->grid_high);
    c->bad = c->bad || !(f->weight >= 0 && f->weight <= 1 + 1e-9) || !(f->residual.ss >= 0) ||
             !(f->residual.df >= 0) || f->lack_of_fit.p < 0 || f->lack_of_fit.p > 1;
}

static void pass_level(courier *c, pl_level_mean *l, size_t nrow)
{
    real(c, &l->planned);
    name(c, &l->level);
    real(c, &l->at);
    size(c, &l->units, nrow);
    size(c, &l->specimens, nrow);
    real(c, &l->mean);
    real(c, &l->se);
    size(c, &l->wood, nrow);
}

static void pass_step(courier *c, pl_step *s, size_t nlevel)
{
    size(c, &s->lower_from, nlevel);
    size(c, &s->lower_to, nlevel);
    size(c, &s->upper_from, nlevel);
    size(c, &s->upper_to, nlevel);
    real(c, &s->difference);
    real(c, &s->se);
    real(c, &s->t);
    real(c, &s->point);
}

static void pass_bounded(courier *c, pl_bounded *b)
{
    real(c, &b->at);
    real(c, &b->low);
    real(c, &b->high);
    flag(c, &b->low_open);
    flag(c, &b->high_open);
    c->bad = c->bad || b->low > b->high || b->at < b->low || b->at > b->high;
}

static void pass_units(courier *c, pl_plateau *p, size_t nrow)
{
    size_t *row;

    size(c, &p->nunit, nrow);
    reals(c, &p->unit_x, p->nunit);
    reals(c, &p->unit_y, p->nunit);
    reals(c, &p->unit_adjusted, p->nunit);
    reals(c, &p->unit_fitted, p->nunit);
    reals(c, &p->unit_residual, p->nunit);
    row = room(c, p->unit_row, p->nunit, sizeof *row);
    for (size_t i = 0; i < p->nunit && !c->bad; i++)
        size(c, &row[i], nrow - 1);
    p->unit_row = row;
}

static void pass_plateau(courier *c, pl_plateau *p, size_t nrow)
{
    size_t state = p->state;

    text(c, &p->group);
    size(c, &state, PL_NSTATES - 1);
    p->state = (pl_state)state;
    text(c, &p->reason);
    real(c, &p->height);
    real(c, &p->height_low);
    real(c, &p->height_high);
    real(c, &p->share);
    pass_bounded(c, &p->onset);
    pass_bounded(c, &p->onset_itself);
    text(c, &p->doubted_rig);
    pass_bounded(c, &p->range_end);
    real(c, &p->fall_excluded);
    real(c, &p->advised);
    size(c, &p->nlevel, nrow);
    p->levels = room(c, p->levels, p->nlevel, sizeof *p->levels);
    for (size_t i = 0; i < p->nlevel && !c->bad; i++)
        pass_level(c, &p->levels[i], nrow);
    pass_step(c, &p->rise, p->nlevel);
    pass_step(c, &p->fall, p->nlevel);
    real(c, &p->rise_point);
    real(c, &p->error_df);
    real(c, &p->error_sd);
    real(c, &p->change_excluded);
    real(c, &p->even_at);
    size(c, &p->ncurve, CURVES_MOST);
    p->curves = room(c, p->curves, p->ncurve, sizeof *p->curves);
    for (size_t i = 0; i < p->ncurve && !c->bad; i++)
        pass_curve(c, &p->curves[i]);
    size(c, &p->units, nrow);
    size(c, &p->specimens, nrow);
    size(c, &p->unknown_applied, nrow);
    pass_grid(c, &p->ngrid, &p->grid_x, &p->grid_y, &p->grid_low, &p->grid_high);
    pass_units(c, p, nrow);
    /* the one figure that a rig is set by follows from the others */
    c->bad = c->bad || (!isnan(p->advised) && (p->state != PL_REACHED || p->onset.high_open ||
                                               p->advised != p->onset.high));
}

static void pass_ratio(courier *c, pl_onset_ratio *r)
{
    name(c, &r->group);
    name(c, &r->against);
    pass_bounded(c, &r->ratio);
}

static void pass_shared(courier *c, pl_shared_shape *s)
{
    name(c, &s->name);
    flag(c, &s->log_x);
    text(c, &s->limit);
    real(c, &s->aicc);
    real(c, &s->aicc_own);
    size(c, &s->nparam, SHARED_PARAMS_MOST);
    s->params = room(c, s->params, s->nparam, sizeof *s->params);
    for (size_t i = 0; i < s->nparam && !c->bad; i++)
        pass_coef(c, &s->params[i]);
    real(c, &s->residual.df);
    real(c, &s->residual.ss);
    real(c, &s->residual.sd);
    real(c, &s->own.f);
    real(c, &s->own.df1);
    real(c, &s->own.df2);
    real(c, &s->own.p);
}

/* Of several groups; goes behind the last of them. */
static void pass_between(courier *c, pl_between *b)
{
    size(c, &b->nratio, COLUMNS_MOST);
    b->ratios = room(c, b->ratios, b->nratio, sizeof *b->ratios);
    for (size_t i = 0; i < b->nratio && !c->bad; i++)
        pass_ratio(c, &b->ratios[i]);
    size(c, &b->nshared, CURVES_MOST);
    b->shared = room(c, b->shared, b->nshared, sizeof *b->shared);
    for (size_t i = 0; i < b->nshared && !c->bad; i++)
        pass_shared(c, &b->shared[i]);
}

/* ---- in the child ---- */

static pl_code in_child(pl_arena *a, const pl_curve *curve, const char *request, size_t n,
                        pl_text *answer, pl_diags *d)
{
    const unsigned char *bytes = (const unsigned char *)request;
    courier in = { .a = a, .from = { bytes, bytes + n, false }, .trusted = true };
    courier out = { .a = a, .to = answer };
    pl_table table = { 0 };
    pl_curve_spec spec = { 0 };
    pl_plateau *plateaus;
    size_t count;
    pl_code rc;

    gsl_set_error_handler_off();
    pass_table(&in, &table);
    pass_spec(&in, &spec);
    if (in.bad)
        return pl_nomem(d);
    spec.brought = &curve;
    spec.nbrought = 1;
    rc = pl_fit_curves(a, &table, &spec, &plateaus, &count, d);
    if (rc)
        return rc;
    size(&out, &count, count);
    for (size_t i = 0; i < count; i++)
        pass_plateau(&out, &plateaus[i], table.nrow);
    if (count > 1) {
        pl_between between = *plateaus[0].between;

        pass_between(&out, &between);
    }
    return answer->failed ? pl_nomem(d) : PL_OK;
}

const pl_rig_services pl_curve_services = { .curve = in_child };

/* ---- in the parent ---- */

typedef struct taking {
    pl_arena *a;
    const pl_table *table;
    const pl_curve_spec *spec;
    pl_plateau *plateaus;
    size_t count;
} taking;

/* What the plugin's child has no say in. */
static void name_own(const taking *t, pl_plateau *p)
{
    p->response = t->spec->response;
    p->unit = pl_table_find(t->table, p->response)->unit;
    p->over = t->spec->over;
    p->over_unit = pl_table_find(t->table, p->over)->unit;
    p->answer = "joint";
    p->group_factor = t->spec->for_each;
}

static void take_between(taking *t, courier *c)
{
    pl_between *b = room(c, NULL, 1, sizeof *b);

    if (!b || c->bad)
        return;
    pass_between(c, b);
    b->factor = t->spec->for_each;
    for (size_t i = 0; i < t->count; i++)
        t->plateaus[i].between = b;
}

static const char *take_answer(void *self, const char *answer, size_t n)
{
    taking *t = self;
    const unsigned char *bytes = (const unsigned char *)answer;
    courier c = { .a = t->a, .from = { bytes, bytes + n, false } };
    size_t most = t->spec->for_each ? t->table->nrow : 1;

    size(&c, &t->count, most);
    t->plateaus = room(&c, NULL, t->count, sizeof *t->plateaus);
    for (size_t i = 0; i < t->count && !c.bad; i++) {
        pl_plateau *p = &t->plateaus[i];

        pass_plateau(&c, p, t->table->nrow);
        c.bad = c.bad || !p->group != !t->spec->for_each || p->ncurve > t->spec->ncurve;
        if (!c.bad)
            name_own(t, p);
    }
    if (t->count > 1 && !c.bad)
        take_between(t, &c);
    return c.bad || c.from.bad || c.from.at != c.from.end ? "a fit that cannot be" : NULL;
}

/* The one plugin among the named curves; NULL: none, or none that can be found. */
static pl_code which_plugin(pl_run *run, const pl_curve_spec *spec, const char **out)
{
    *out = NULL;
    for (size_t i = 0; i < spec->ncurve; i++) {
        const char *curve = spec->curves[i].curve;
        pl_plugin_file file;
        pl_diags quiet;
        pl_code rc;

        if (pl_curve_find(curve) || (*out && !strcmp(*out, curve)))
            continue;
        pl_diags_init(&quiet, run->arena);
        rc = pl_find_plugin(run->arena, curve, &file, &quiet);
        if (rc == PL_EKEY) /* the fit says what there is */
            continue;
        if (rc)
            return pl_find_plugin(run->arena, curve, &file, &run->diags);
        if (*out)
            return pl_usage(run, "", pl_arena_printf(run->arena, "\"%s\" and \"%s\"", *out, curve),
                            "one plugin's curve in a fit, beside any of the built-in ones", "");
        *out = curve;
    }
    return PL_OK;
}

/* Random blocks are taken as fixed there, and that is said. */
static pl_code fix_randoms(pl_run *run, pl_curve_spec *s)
{
    const char **blocks = PL_NEWN(run->arena, s->nblock + s->nrandom, const char *);

    if (!blocks)
        return pl_nomem(&run->diags);
    if (s->nrandom)
        pl_remark(&run->diags, "",
                  .found = "with a curve from a plugin random blocks are taken as fixed");
    for (size_t i = 0; i < s->nblock; i++)
        blocks[i] = s->blocks[i];
    for (size_t i = 0; i < s->nrandom; i++)
        blocks[s->nblock++] = s->randoms[i];
    s->blocks = blocks;
    s->nrandom = 0;
    return PL_OK;
}

/* Wall time of a fit: far more than any needs. */
#define LIMIT_S 60.0
#define LIMIT_ROW_S 0.01

pl_code pl_curves_fit(pl_run *run, const pl_table *t, const pl_curve_spec *spec, pl_plateau **out,
                      size_t *nout)
{
    taking took = { .a = run->arena, .table = t, .spec = spec };
    pl_text request;
    courier c = { .a = run->arena, .to = &request, .trusted = true };
    pl_table table = *t;
    pl_curve_spec copy = *spec;
    const char *plugin;
    pl_code rc = which_plugin(run, spec, &plugin);

    if (rc)
        return rc;
    if (!plugin)
        return pl_fit_curves(run->arena, t, spec, out, nout, &run->diags);
    if (t->nrow > ROWS_MOST || t->ncol > COLUMNS_MOST || spec->ncurve > CURVES_MOST)
        return pl_fail(&run->diags, PL_EDATA, t->name, .found = "a table too large for a plugin");
    rc = fix_randoms(run, &copy);
    if (rc)
        return rc;
    pl_text_init(&request, run->arena);
    pass_table(&c, &table);
    pass_spec(&c, &copy);
    if (request.failed)
        return pl_nomem(&run->diags);
    rc = pl_rigs_curve(run->arena, plugin,
                       &(pl_curve_visit){ .request = &request,
                                          .take = take_answer,
                                          .self = &took,
                                          .limit_s = LIMIT_S + LIMIT_ROW_S * (double)t->nrow },
                       &run->diags);
    *out = took.plateaus;
    *nout = took.count;
    return rc;
}
