/* A curve plugin, the child's side: its curve in the shape in which the built-in ones are known,
 * every number looked at, and the service that does the computation with it. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "model/curve.h"
#include "rigs/inside.h"
#include "rigs/rigs.h"

/* Of g in 1 - g and g: rounding. */
#define ROUNDING 1e-9

static const pl_rig_services *services;

void pl_rigs_services(const pl_rig_services *s)
{
    services = s;
}

static void lied(pl_brought *b, const char *call, const char *what)
{
    if (!b->lie[0])
        snprintf(b->lie, sizeof b->lie, "gave %s from %s", what, call);
}

/* true: out is filled and finite. */
static bool fine(pl_brought *b, const char *call, int rc, const double *out, size_t n)
{
    if (rc == PLATEN_ERANGE)
        return false;
    if (rc != PLATEN_OK) {
        char code[24];

        snprintf(code, sizeof code, "code %d", rc);
        lied(b, call, code);
        return false;
    }
    for (size_t i = 0; i < n; i++)
        if (!isfinite(out[i])) {
            lied(b, call, "a number that cannot be");
            return false;
        }
    return true;
}

/* A floor and a top: 1 - g and g, and g does not fall from one point to a later one. */
static void hold_to_rise(pl_brought *b, const double *u, size_t n, const double *out)
{
    for (size_t i = 0; i < n; i++) {
        double g = out[2 * i + 1], size = 1 + fabs(g);

        if (fabs(out[2 * i] + g - 1) > ROUNDING * size)
            lied(b, "curve_columns", "two columns that are not 1 - g and g");
        else if (i > 0 && u[i] > u[i - 1] && g < out[2 * i - 1] - ROUNDING * size)
            lied(b, "curve_columns", "a curve that falls");
    }
}

static bool columns(void *self, const double *u, size_t n, const double *shape, double *out)
{
    pl_brought *b = self;
    const platen_plugin *p = &b->in->p;

    if (!fine(b, "curve_columns", p->curve_columns(u, n, shape, out), out, n * p->nlinear))
        return false;
    if (p->curve_flags & PLATEN_RISES)
        hold_to_rise(b, u, n, out);
    return !b->lie[0];
}

static bool gradient(void *self, const double *u, size_t n, const double *shape, size_t k,
                     double *out)
{
    pl_brought *b = self;
    const platen_plugin *p = &b->in->p;

    return fine(b, "curve_gradient", p->curve_gradient(u, n, shape, k, out), out, n * p->nlinear);
}

static bool offset(void *self, const double *u, size_t n, const double *shape, double *out)
{
    pl_brought *b = self;

    return fine(b, "curve_offset", b->in->p.curve_offset(u, n, shape, out), out, n);
}

static bool offset_gradient(void *self, const double *u, size_t n, const double *shape, size_t k,
                            double *out)
{
    pl_brought *b = self;

    return fine(b, "curve_offset_gradient", b->in->p.curve_offset_gradient(u, n, shape, k, out),
                out, n);
}

static bool range(void *self, const double *u, size_t n, double *low, double *high)
{
    pl_brought *b = self;
    const platen_plugin *p = &b->in->p;

    if (!fine(b, "curve_range", p->curve_range(u, n, low, high), low, p->nshape) ||
        !fine(b, "curve_range", PLATEN_OK, high, p->nshape))
        return false;
    for (size_t i = 0; i < p->nshape; i++)
        if (!(low[i] < high[i])) {
            lied(b, "curve_range", "a range that is none");
            return false;
        }
    return true;
}

static pl_curve as_curve(const platen_plugin *p, const pl_curve_wide *wide)
{
    pl_curve c = { .name = p->name,
                   .nlinear = p->nlinear,
                   .nshape = p->nshape,
                   .rises = wide->goes_up,
                   .wide = wide };

    for (size_t i = 0; i < p->nlinear; i++)
        c.linear_names[i] = p->linear_names[i];
    return c;
}

pl_code pl_inside_curve_begin(pl_inside *in, pl_brought **out)
{
    const platen_plugin *p = &in->p;
    pl_brought *b = PL_NEW(in->a, pl_brought);
    pl_curve_wide *wide = PL_NEW(in->a, pl_curve_wide);
    pl_curve *curve = PL_NEW(in->a, pl_curve);

    if (!b || !wide || !curve)
        return pl_nomem(&in->d);
    if (p->role != PLATEN_CURVE)
        return pl_fail(&in->d, PL_EKEY, in->path,
                       .found = pl_arena_printf(in->a, "plugin \"%s\", a kind of rig", in->name),
                       .expected = "a curve");
    *wide = (pl_curve_wide){ .goes_up = (p->curve_flags & PLATEN_RISES) != 0,
                             .log = (p->curve_flags & PLATEN_LOG) != 0,
                             .limit_low = p->limit_low,
                             .limit_high = p->limit_high,
                             .self = b,
                             .columns = columns,
                             .gradient = gradient,
                             .offset = p->curve_offset ? offset : NULL,
                             .offset_gradient = p->curve_offset_gradient ? offset_gradient : NULL,
                             .range = range };
    for (size_t i = 0; i < p->nshape; i++)
        wide->shape_names[i] = p->shape_names[i];
    *curve = as_curve(p, wide);
    *b = (pl_brought){ .in = in, .curve = curve, .before = in->d.count };
    *out = b;
    pl_inside_stage(in, PL_STAGE_CURVE);
    return PL_OK;
}

pl_code pl_inside_curve_end(pl_brought *b, pl_code code)
{
    if (!b->lie[0])
        return code;
    b->in->d.count = b->before; /* whatever was found out with it */
    return pl_inside_blame(b->in, b->lie);
}

pl_code pl_inside_curve(pl_inside *in)
{
    size_t n;
    const char *request = pl_unpack_bytes(in->a, &in->work, &n);
    pl_brought *b = NULL;
    pl_text answer;
    pl_code code;

    if (!request || !services || !services->curve)
        return pl_inside_blame(in, "was sent broken work");
    code = pl_inside_curve_begin(in, &b);
    if (code || !b)
        return code;
    pl_text_init(&answer, in->a);
    code = pl_inside_curve_end(b, services->curve(in->a, b->curve, request, n, &answer, &in->d));
    if (!code)
        pl_pack_message(&in->answer, PL_MSG_CURVE, &answer);
    return code;
}
