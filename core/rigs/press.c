/* Set points and the way back: asks the plugin, rounds to what the dial can
 * show, adds the errors of the dial, keeps below the limits. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "rigs/inside.h"
#include "rigs/rigs.h"

/* Widest marks, of the reading, that still miss by no more than PL_RIG_MISS_MOST: half marks are
 * set, so a reading is off by a quarter of a mark. */
#define MARK_MOST (4 * PL_RIG_MISS_MOST)

/* A limit of error +-a, nothing more known of it: rectangular (GUM 4.3.7). */
static double rectangular(double a)
{
    return a / sqrt(3);
}

typedef struct point {
    bool can;
    double dial, shown; /* SI, and in the dial's unit */
    double force_N, u_N, u_rig_N;
    double low, high; /* accepted, dial's unit */
    double reach_N;   /* when it cannot: the nearest force that it can make; NAN: none found */
    bool beyond;      /* it cannot because the plugin says so: beyond an end of its range */
    const char *reason, *mend;
    const char *parts[PLATEN_PARTS_MOST];
    uint32_t nparts;
} point;

/* Both are the host's after the call, but a plugin may have filled them to the brim. */
static const char *kept(pl_inside *in, char *text)
{
    text[PLATEN_TEXT_MOST - 1] = 0;
    return text[0] ? pl_arena_str(in->a, text) : NULL;
}

static int call_back(pl_inside *in, double dial, platen_force *out)
{
    int rc = in->p.back(&in->host, in->rig->values, dial, out);

    pl_inside_returned(in);
    return rc;
}

/* N per SI unit of the dial at a reading, over the width of its error: the chord
 * upwards, or downwards where the rig ends. */
static double slope(pl_inside *in, double dial, double width, double force_N)
{
    double h = width > 0 ? width : 1e-3 * dial;
    platen_force f = { 0 };

    if (call_back(in, dial + h, &f) == PLATEN_OK)
        return (f.force_N - force_N) / h;
    f = (platen_force){ 0 };
    if (dial > h && call_back(in, dial - h, &f) == PLATEN_OK)
        return (force_N - f.force_N) / h;
    return force_N / dial;
}

/* The line through points against a scale stands in for settings and gauge class. */
static int calibrated_force(const pl_calibration *c, double dial, double reading_error, point *out)
{
    out->force_N = pl_calibration_force(c, dial);
    out->u_rig_N = pl_calibration_u_rig(c, dial);
    out->u_N = hypot(out->u_rig_N, hypot(c->s, c->b * rectangular(reading_error)));
    if (out->force_N > 0)
        return PLATEN_OK;
    out->reason = "by its calibration no force is left there";
    return PLATEN_ERANGE;
}

/* Force at a dial reading with all parts of its uncertainty. */
static int force_at(pl_inside *in, double dial, double reading_error, point *out)
{
    platen_force f = { 0 };
    double error = pl_dial_error(&in->rig->dial, dial), s = 0;
    int rc = call_back(in, dial, &f);

    if (rc != PLATEN_OK) {
        out->reason = kept(in, f.reason);
        return rc;
    }
    if (in->rig->calibration.there)
        return calibrated_force(&in->rig->calibration, dial, reading_error, out);
    if (error > 0 || reading_error > 0)
        s = slope(in, dial, error > 0 ? error : reading_error, f.force_N);
    out->force_N = f.force_N;
    out->u_rig_N = hypot(f.u_rig_N, s * rectangular(error));
    out->u_N = hypot(out->u_rig_N, hypot(f.u_each_N, s * rectangular(reading_error)));
    return rc;
}

/* "5 kg x 2" for each; false: a part that cannot be. */
static bool parts_text(pl_inside *in, const platen_set_point *sp, point *out)
{
    if (sp->nparts > PLATEN_PARTS_MOST)
        return false;
    for (uint32_t i = 0; i < sp->nparts; i++) {
        const platen_part *p = &sp->parts[i];
        const char *text;

        if (p->setting >= in->p.nsettings || !p->count || p->count > 1000000 || !isfinite(p->value))
            return false;
        text = in->host.show(in->host.self, (int)p->setting, p->value);
        out->parts[i] = p->count > 1 ? pl_arena_printf(in->a, "%s x %u", text, p->count) : text;
    }
    out->nparts = sp->nparts;
    return true;
}

static void cannot(point *out, const char *reason, const char *mend)
{
    out->can = false;
    out->reason = reason;
    out->mend = mend;
}

/* Rounds; a half mark up where the rig cannot give the lower one. */
static int settle(pl_inside *in, double wanted, point *out)
{
    const pl_dial *dial = &in->rig->dial;
    double most = pl_dial_most(dial), read = pl_dial_reading_error(dial);
    int rc;

    out->dial = pl_dial_round(dial, wanted, &out->shown);
    rc = force_at(in, out->dial, read, out);
    if (rc == PLATEN_ERANGE && dial->mark > 0 && out->dial + dial->mark / 2 <= most) {
        out->dial = pl_dial_round(dial, out->dial + dial->mark / 2, &out->shown);
        rc = force_at(in, out->dial, read, out);
    }
    if (rc == PLATEN_OK)
        pl_dial_accept(dial, out->dial, &out->low, &out->high);
    return rc;
}

static const char *show_force(pl_inside *in, double x)
{
    return in->host.show(in->host.self, PLATEN_AS_FORCE, x);
}

static const char *show_dial(pl_inside *in, double x)
{
    return in->host.show(in->host.self, PLATEN_AS_DIAL, x);
}

/* The limits hold whatever the plugin says. */
static void judge(pl_inside *in, double wanted, double asked_N, const char *mend, point *out)
{
    const pl_dial *dial = &in->rig->dial;
    double most = pl_dial_most(dial), miss = fabs(out->force_N - asked_N) / asked_N;

    if (dial->there && wanted > most * (1 + 1e-9)) {
        bool rated = dial->rated_dial <= dial->to;

        cannot(out,
               pl_arena_printf(in->a, "needs %s; %s %s", show_dial(in, wanted),
                               rated ? "it is rated for" : "its dial ends at", show_dial(in, most)),
               rated ? "another rig: a rated limit is never exceeded"
                     : pl_arena_printf(in->a, "a dial to %s at least", show_dial(in, wanted)));
    } else if (out->force_N > dial->rated_force_N * (1 + 1e-9)) {
        cannot(out,
               pl_arena_printf(in->a, "gives %s; it is rated for %s", show_force(in, out->force_N),
                               show_force(in, dial->rated_force_N)),
               "another rig: a rated limit is never exceeded");
    } else if (miss > PL_RIG_MISS_MOST) {
        cannot(out,
               pl_arena_printf(in->a, "the nearest it can be set to gives %s, %.2g %% off",
                               show_force(in, out->force_N), 100 * miss),
               mend ? mend
               : dial->there
                   ? pl_arena_printf(in->a, "a dial with a mark every %s, or a smaller rig",
                                     show_dial(in, MARK_MOST * wanted))
                   : NULL);
    } else {
        out->can = true;
    }
}

static pl_code lied(pl_inside *in, const char *call, int rc, const char *what)
{
    return pl_inside_blame(in, rc == PLATEN_OK
                                   ? pl_arena_printf(in->a, "gave %s from %s", what, call)
                                   : pl_arena_printf(in->a, "gave code %d from %s", rc, call));
}

static bool fair(const point *p)
{
    return isfinite(p->force_N) && p->force_N > 0 && isfinite(p->u_rig_N) && p->u_rig_N >= 0 &&
           isfinite(p->u_N) && p->u_N >= 0;
}

static pl_code ask_point(pl_inside *in, double asked_N, platen_set_point *sp, point *out)
{
    const pl_rig_inside *rig = in->rig;
    double wanted;
    int rc;

    *out = (point){ .dial = NAN, .shown = NAN, .low = NAN, .high = NAN, .reach_N = NAN };
    *sp = (platen_set_point){ .dial = NAN };
    rc = in->p.set_point(&in->host, rig->values, &rig->limits, asked_N, sp);
    pl_inside_returned(in);
    if (rc == PLATEN_ERANGE) {
        cannot(out, kept(in, sp->reason), kept(in, sp->mend));
        out->reason = out->reason ? out->reason : "out of its range";
        out->beyond = true;
        return PL_OK;
    }
    if (rc != PLATEN_OK)
        return lied(in, "set_point", rc, "");
    if (!parts_text(in, sp, out))
        return lied(in, "set_point", PLATEN_OK, "parts that cannot be");
    wanted = sp->dial;
    if (rig->dial.there) {
        if (!isfinite(wanted) || wanted < 0)
            return lied(in, "set_point", PLATEN_OK, "a dial reading that cannot be");
        if (rig->calibration.there)
            wanted = pl_calibration_dial(&rig->calibration, asked_N);
        if (wanted < 0) {
            cannot(out, "by its calibration even no pressure gives more", "dead weights");
            return PL_OK;
        }
        rc = settle(in, wanted, out);
        if (rc == PLATEN_ERANGE) {
            cannot(out, out->reason ? out->reason : "the dial cannot show it", NULL);
            return PL_OK;
        }
        if (rc != PLATEN_OK)
            return lied(in, "back", rc, "");
    } else {
        out->force_N = sp->force_N;
        out->u_rig_N = sp->u_rig_N;
        out->u_N = hypot(sp->u_rig_N, sp->u_each_N);
    }
    if (!fair(out))
        return lied(in, rig->dial.there ? "back" : "set_point", PLATEN_OK,
                    "a force or uncertainty that cannot be");
    judge(in, wanted, asked_N, kept(in, sp->mend), out);
    if (out->can && rig->calibration.there && pl_calibration_beyond(&rig->calibration, out->dial))
        pl_json_advise(&in->d, pl_json_get(rig->at, "calibrations"),
                       pl_arena_printf(in->a, "a set point of %s", show_dial(in, out->dial)),
                       pl_arena_printf(in->a, "within the points, %s to %s",
                                       show_dial(in, rig->calibration.low),
                                       show_dial(in, rig->calibration.high)),
                       "calibrate as far as you press");
    return PL_OK;
}

/* The force nearest to one that cannot be made which can: looked for on both sides in steps of
 * an eighth of an octave (9 %: narrower than the band of PL_RIG_MISS_MOST) up to fourfold, then
 * of octaves; then by halving the way. What is said on the way is said to nobody. */
#define REACH_FINE 16
#define REACH_MOST 28
#define REACH_STEPS 20
static double octaves(int k)
{
    return k <= REACH_FINE ? k / 8.0 : k - REACH_FINE + 2.0;
}

static pl_code find_reach(pl_inside *in, double asked_N, platen_set_point *sp, double *reach_N)
{
    pl_diags said = in->d;
    double can = NAN, cannot_N = asked_N;
    point p;
    pl_code code = PL_OK;

    for (int k = 1; k <= REACH_MOST && isnan(can) && !code; k++)
        for (int up = 0; up < 2 && isnan(can) && !code; up++) {
            double force = asked_N * exp2(up ? octaves(k) : -octaves(k));

            code = ask_point(in, force, sp, &p);
            if (!code && p.can) {
                can = force;
                cannot_N = asked_N * exp2(up ? octaves(k - 1) : -octaves(k - 1));
            }
        }
    for (int i = 0; i < REACH_STEPS && !isnan(can) && !code; i++) {
        double half = sqrt(can * cannot_N);

        code = ask_point(in, half, sp, &p);
        *(!code && p.can ? &can : &cannot_N) = half;
    }
    *reach_N = can;
    if (!code)
        in->d = said;
    return code;
}

/* The ends of one rig's range, too low and too high, as found: a level beyond one has that for
 * its answer. NAN: not found yet. */
typedef struct ends {
    double reach_N[2];
} ends;

static double known_end(const ends *e, double asked_N)
{
    return asked_N < e->reach_N[0] ? e->reach_N[0] : asked_N > e->reach_N[1] ? e->reach_N[1] : NAN;
}

static pl_code answer_point(pl_inside *in, double asked_N, ends *e, point *out)
{
    platen_set_point *sp = PL_NEW(in->a, platen_set_point);
    double reach_N;
    pl_code code;

    *out = (point){ .dial = NAN, .shown = NAN, .low = NAN, .high = NAN, .reach_N = NAN };
    if (!sp)
        return pl_nomem(&in->d);
    if (!in->p.set_point) {
        cannot(out, "this kind of rig does not press", "a rig that presses");
        return PL_OK;
    }
    pl_inside_stage(in, PL_STAGE_SET_POINT);
    code = ask_point(in, asked_N, sp, out);
    if (code || out->can)
        return code;
    reach_N = out->beyond ? known_end(e, asked_N) : NAN;
    if (isnan(reach_N))
        code = find_reach(in, asked_N, sp, &reach_N);
    if (out->beyond && !isnan(reach_N))
        e->reach_N[reach_N < asked_N] = reach_N;
    out->reach_N = reach_N;
    return code;
}

static void send_point(pl_inside *in, uint32_t rig, uint32_t level, const point *p)
{
    pl_text t;

    pl_text_init(&t, in->a);
    pl_pack_u32(&t, rig);
    pl_pack_u32(&t, level);
    pl_pack_u32(&t, p->can);
    pl_pack_f64(&t, p->dial);
    pl_pack_f64(&t, p->shown);
    pl_pack_f64(&t, p->force_N);
    pl_pack_f64(&t, p->u_N);
    pl_pack_f64(&t, p->u_rig_N);
    pl_pack_f64(&t, p->low);
    pl_pack_f64(&t, p->high);
    pl_pack_f64(&t, p->reach_N);
    pl_pack_u32(&t, p->nparts);
    for (uint32_t i = 0; i < p->nparts; i++)
        pl_pack_text(&t, p->parts[i]);
    pl_pack_text(&t, p->reason);
    pl_pack_text(&t, p->mend);
    pl_pack_message(&in->answer, PL_MSG_POINT, &t);
}

static bool read_numbers(pl_inside *in, double **out, uint32_t *n)
{
    *n = pl_unpack_u32(&in->work);
    *out = PL_NEWN(in->a, *n, double);
    for (uint32_t i = 0; *out && i < *n; i++)
        (*out)[i] = pl_unpack_f64(&in->work);
    return *out && !in->work.bad;
}

pl_code pl_inside_press(pl_inside *in)
{
    uint32_t nlevel, nrig;
    double *force;
    size_t before = in->d.count;

    if (!read_numbers(in, &force, &nlevel))
        return pl_inside_blame(in, "was sent broken work");
    nrig = pl_unpack_u32(&in->work);
    for (uint32_t r = 0; r < nrig; r++) {
        pl_rig_inside *rig = PL_NEW(in->a, pl_rig_inside);
        pl_code code;
        ends e;

        if (!rig)
            return pl_nomem(&in->d);
        code = pl_inside_rig(in, rig);
        if (code == PL_EPLUGIN || code == PL_ENOMEM)
            return code;
        in->rig = rig;
        e = (ends){ { NAN, NAN } };
        for (uint32_t i = 0; !code && i < nlevel; i++) {
            point p;

            code = answer_point(in, force[i], &e, &p);
            if (code)
                return code;
            send_point(in, r, i, &p);
        }
        in->rig = NULL;
    }
    return pl_diags_code(&in->d, before);
}

/* No pointer stands beyond the end of its dial. */
static bool beyond_dial(pl_inside *in, double dial, point *out)
{
    if (dial <= in->rig->dial.to * (1 + 1e-9))
        return false;
    out->reason = pl_arena_printf(in->a, "%s, but its dial ends at %s", show_dial(in, dial),
                                  show_dial(in, in->rig->dial.to));
    return true;
}

pl_code pl_inside_back(pl_inside *in)
{
    pl_rig_inside *rig = PL_NEW(in->a, pl_rig_inside);
    pl_code code = rig ? pl_inside_rig(in, rig) : pl_nomem(&in->d);
    uint32_t n;
    double *dial;

    if (code)
        return code;
    if (!read_numbers(in, &dial, &n))
        return pl_inside_blame(in, "was sent broken work");
    if (!in->p.back)
        return pl_inside_blame(in, "has no way back from a dial reading to a force");
    in->rig = rig;
    pl_inside_stage(in, PL_STAGE_BACK);
    for (uint32_t i = 0; i < n; i++) {
        point p = { 0 };
        pl_text t;
        int rc = beyond_dial(in, dial[i], &p)
                     ? PLATEN_ERANGE
                     : force_at(in, dial[i], pl_dial_reading_error(&rig->dial), &p);

        if (rc != PLATEN_OK && rc != PLATEN_ERANGE)
            return lied(in, "back", rc, "");
        if (rc == PLATEN_OK && (!isfinite(p.force_N) || !isfinite(p.u_N) || p.u_N < 0))
            return lied(in, "back", PLATEN_OK, "a force or uncertainty that cannot be");
        pl_text_init(&t, in->a);
        pl_pack_u32(&t, i);
        pl_pack_u32(&t, rc == PLATEN_OK);
        pl_pack_f64(&t, p.force_N);
        pl_pack_f64(&t, p.u_N);
        pl_pack_text(&t, p.reason);
        pl_pack_message(&in->answer, PL_MSG_FORCE, &t);
    }
    in->rig = NULL;
    return PL_OK;
}
