/* The battery for a curve plugin, the child's side: what it gives over a grid of points and shape
 * numbers, again, in another order, and its derivatives against differences. That every number is
 * finite and a rise rises is looked at wherever a curve is asked (curve_inside.c). */
#include <math.h>
#include <string.h>

#include "model/curve.h"
#include "rigs/inside.h"

#define NU 24      /* points */
#define NSHARE 4   /* shape numbers of each kind: the ends of its range and two between */
#define LINEAR 4   /* columns at most */
#define STEP 1e-5  /* of a shape number: central differences are then good to some 1e-10 */
#define AGREE 1e-4 /* of the largest derivative; one that is wrong is off by far more */

/* Widths of the data: a logarithm's, and pressures in a small unit. */
static const double widths[] = { 6, 2000 };

typedef struct trial {
    pl_inside *in;
    const pl_curve *c;
    const pl_curve_wide *w;
    double u[NU], low[PL_CURVE_SHAPES_MOST], high[PL_CURVE_SHAPES_MOST];
    double out[NU * LINEAR], again[NU * LINEAR];
    size_t defined;    /* shape numbers where it was */
    uint64_t digest;   /* of all bits that it gave */
    const char *other; /* another answer than before; "" */
    const char *slope; /* a derivative unlike the differences; "" */
} trial;

static void digest(trial *t, const double *x, size_t n)
{
    const unsigned char *bytes = (const unsigned char *)x;

    for (size_t i = 0; i < n * sizeof *x; i++) /* FNV-1a; any would do */
        t->digest = (t->digest ^ bytes[i]) * 1099511628211u;
}

static const char *shape_text(trial *t, const double *shape)
{
    pl_text text;

    pl_text_init(&text, t->in->a);
    for (size_t k = 0; k < t->c->nshape; k++)
        pl_text_add(&text, "%s%s %.4g", k ? ", " : "at ", t->w->shape_names[k], shape[k]);
    return pl_text_done(&text);
}

static double shape_at(const trial *t, size_t k, size_t share)
{
    double p = (double)share / (NSHARE - 1);

    if (share == 0 || share == NSHARE - 1)
        return share ? t->high[k] : t->low[k];
    return t->low[k] > 0 ? t->low[k] * pow(t->high[k] / t->low[k], p)
                         : t->low[k] + p * (t->high[k] - t->low[k]);
}

/* The same points from last to first, one by one in between, give the same bits. */
static void ask_again(trial *t, const double *shape)
{
    const size_t m = t->c->nlinear;

    for (size_t i = NU; i > 0 && !t->other[0]; i--)
        if (!t->w->columns(t->w->self, &t->u[i - 1], 1, shape, t->again) ||
            memcmp(t->again, t->out + (i - 1) * m, m * sizeof *t->again) != 0)
            t->other = pl_arena_printf(t->in->a, "another answer for a point alone %s",
                                       shape_text(t, shape));
    if (!t->other[0] && (!t->w->columns(t->w->self, t->u, NU, shape, t->again) ||
                         memcmp(t->again, t->out, NU * m * sizeof *t->again) != 0))
        t->other = pl_arena_printf(t->in->a, "another answer than before %s", shape_text(t, shape));
}

/* Within the range only: beyond an end a curve has become its limit. */
static void compare_slope(trial *t, double *shape, size_t k)
{
    const size_t n = NU * t->c->nlinear;
    const double s = shape[k], h = STEP * (s != 0 ? fabs(s) : t->high[k] - t->low[k]);
    double given[NU * LINEAR], up[NU * LINEAR], most = 0, size = 0, off = 0;
    bool good = t->w->gradient(t->w->self, t->u, NU, shape, k, given);

    shape[k] = s + h;
    good = good && t->w->columns(t->w->self, t->u, NU, shape, up);
    shape[k] = s - h;
    good = good && t->w->columns(t->w->self, t->u, NU, shape, t->again);
    shape[k] = s;
    if (!good)
        return;
    digest(t, given, n);
    for (size_t i = 0; i < n; i++) {
        double d = (up[i] - t->again[i]) / (2 * h);

        off = fmax(off, fabs(d - given[i]));
        most = fmax(most, fmax(fabs(d), fabs(given[i])));
        size = fmax(size, fabs(t->out[i]));
    }
    if (off > AGREE * most + 1e-10 * size / h && !t->slope[0])
        t->slope = pl_arena_printf(t->in->a, "by %s %s: off by %.2g of %.2g", t->w->shape_names[k],
                                   shape_text(t, shape), off, most);
}

static void try_shape(trial *t, double *shape, bool within)
{
    const size_t n = NU * t->c->nlinear;

    if (!t->w->columns(t->w->self, t->u, NU, shape, t->out))
        return;
    t->defined++;
    digest(t, t->out, n);
    if (t->w->offset && t->w->offset(t->w->self, t->u, NU, shape, t->again))
        digest(t, t->again, NU);
    ask_again(t, shape);
    for (size_t k = 0; k < t->c->nshape && within; k++)
        compare_slope(t, shape, k);
}

static void try_width(trial *t, double width)
{
    double shape[PL_CURVE_SHAPES_MOST] = { 0 };
    size_t all = 1;

    for (size_t i = 0; i < NU; i++) /* not evenly, and none at zero for those that divide by u */
        t->u[i] = width * (0.02 + 0.98 * pow((double)i / (NU - 1), 1.5));
    for (size_t k = 0; k < t->c->nshape; k++)
        all *= NSHARE;
    if (t->c->nshape && !t->w->range(t->w->self, t->u, NU, t->low, t->high))
        return;
    for (size_t at = 0; at < all; at++) {
        bool within = true;

        for (size_t k = 0, rest = at; k < t->c->nshape; k++, rest /= NSHARE) {
            size_t share = rest % NSHARE;

            shape[k] = shape_at(t, k, share);
            within = within && share > 0 && share < NSHARE - 1;
        }
        try_shape(t, shape, within);
    }
}

pl_code pl_inside_curve_try(pl_inside *in)
{
    pl_brought *b = NULL;
    trial *t = PL_NEW(in->a, trial);
    pl_text answer;
    pl_code code = t ? pl_inside_curve_begin(in, &b) : pl_nomem(&in->d);

    if (code || !b)
        return code;
    *t = (trial){ .in = in,
                  .c = b->curve,
                  .w = b->curve->wide,
                  .digest = 14695981039346656037u,
                  .other = "",
                  .slope = "" };
    for (size_t i = 0; i < sizeof widths / sizeof *widths && !b->lie[0]; i++)
        try_width(t, widths[i]);
    code = pl_inside_curve_end(b, PL_OK);
    pl_text_init(&answer, in->a);
    pl_pack_u64(&answer, t->defined);
    pl_pack_u64(&answer, t->digest);
    pl_pack_text(&answer, t->other);
    pl_pack_text(&answer, t->slope);
    if (!code)
        pl_pack_message(&in->answer, PL_MSG_CURVE, &answer);
    return code;
}
