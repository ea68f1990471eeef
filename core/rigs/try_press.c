/* The battery for pressing and for the way back from a dial reading. */
#include <math.h>
#include <string.h>

#include "rigs/ask.h"
#include "rigs/dial.h"
#include "rigs/try_inner.h"

/* Forces asked for at first: a shop's whole range and far beyond, evenly in the logarithm. */
#define NCOARSE 301 /* 9.6 % apart: a single load is found, being made within 5 % either way */
#define NFORCE 121  /* within its own range */
#define LEAST_N 1e-3
#define MOST_N 1e9
#define NDIAL 201
#define BEYOND 1e-2                  /* just outside a range: this share of its end */
#define NO_REASON "out of its range" /* what the program says where the plugin says nothing */
#define ROUNDING 1e-9

#define A_RISING_POINT \
    "a rising set point with its standard uncertainty, or PLATEN_ERANGE and a reason"
#define NEVER_SMALLER "state u_rig_N and u_each_N; a larger force never has a smaller reading"

static const pl_try_check
    rises = { "set points rise with the force, each with its uncertainty or a "
              "reason",
              A_RISING_POINT, NEVER_SMALLER },
    within = { "set points rise within its range, looked at closely", A_RISING_POINT,
               NEVER_SMALLER };

/* "at 120 N: what" */
static const char *at_force(pl_try *t, double force_N, const char *what)
{
    return pl_arena_printf(t->a, "at %s N: %s", pl_text_number(t->a, force_N, 4), what);
}

/* *answered false: the plugin failed, and with it the check. That set points rise is held to
 * wherever they are asked for. */
static pl_code ask(pl_try *t, const pl_rig *rig, pl_try_check check, const double *force_N,
                   size_t n, pl_set_points *out, bool *answered)
{
    pl_diags quiet;
    pl_code rc;

    pl_diags_init(&quiet, t->a);
    rc = pl_rigs_set_points(t->a, rig, 1, force_N, n, NAN, out, &quiet);
    *answered = !rc;
    return pl_try_failed(t, rc, check, &quiet);
}

static void spread(double *force_N, size_t n, double least, double most)
{
    for (size_t i = 0; i < n; i++)
        force_N[i] = least * pow(most / least, (double)i / (double)(n - 1));
}

static const char *fault_of_point(const pl_set_point *p)
{
    if (p->can)
        return p->u_N > 0 ? NULL : "no uncertainty";
    return p->reason && p->reason[0] && strcmp(p->reason, NO_REASON) != 0
               ? NULL
               : "refused without a reason";
}

static const char *fault_of_points(pl_try *t, const pl_set_points *points, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const char *fault = fault_of_point(&points->at[i]);

        if (fault)
            return at_force(t, points->at[i].asked_N, fault);
    }
    return "";
}

static bool same_point(const pl_set_point *x, const pl_set_point *y)
{
    bool same = x->can == y->can && x->nparts == y->nparts;

    for (size_t i = 0; same && i < x->nparts; i++)
        same = !strcmp(x->parts[i], y->parts[i]);
    if (!same || !x->can)
        return same && !strcmp(x->reason, y->reason) && !strcmp(x->mend, y->mend);
    return pl_try_same_bits(x->gives_N, y->gives_N) && pl_try_same_bits(x->u_N, y->u_N) &&
           pl_try_same_bits(x->u_rig_N, y->u_rig_N) &&
           (isnan(x->dial) || pl_try_same_bits(x->dial, y->dial));
}

/* Once more in another process, and once in the opposite order. */
static pl_code try_again(pl_try *t, const double *force_N, size_t n, const pl_set_points *first)
{
    static const pl_try_check checks[2] = {
        { "the same question has the same answer, bit for bit", "the same set point",
          "nothing but settings, limits and force may enter: no addresses, clocks or chance" },
        { "what was asked before does not matter", "the same set point, bit for bit",
          "set_point and back keep nothing from call to call" }
    };
    double *turned = PL_NEWN(t->a, n, double);
    pl_code rc = turned ? PL_OK : pl_nomem(t->d);

    for (size_t i = 0; i < n && !rc; i++)
        turned[i] = force_N[n - 1 - i];
    for (int back = 0; back < 2 && !rc; back++) {
        const char *found = "";
        pl_set_points second;
        bool answered;

        rc = ask(t, &t->rig, checks[back], back ? turned : force_N, n, &second, &answered);
        if (rc || !answered)
            return rc;
        for (size_t i = 0; i < n && !found[0]; i++)
            if (!same_point(&first->at[i], &second.at[back ? n - 1 - i : i]))
                found = at_force(t, force_N[i], "another answer than before");
        rc = pl_try_note(t, checks[back], found);
    }
    return rc;
}

/* ---- the ends of its range ---- */

typedef struct ends {
    double least_N, most_N;  /* both can be made */
    double below_N, above_N; /* neither can; 0 and HUGE_VAL: not found */
} ends;

static void narrow(const pl_set_points *points, size_t n, ends *e)
{
    for (size_t i = 0; i < n; i++) {
        const pl_set_point *p = &points->at[i];

        if (!p->can)
            continue;
        e->least_N = fmin(e->least_N, p->asked_N);
        e->most_N = fmax(e->most_N, p->asked_N);
    }
    for (size_t i = 0; i < n; i++) {
        const pl_set_point *p = &points->at[i];

        if (!p->can && p->asked_N < e->least_N)
            e->below_N = fmax(e->below_N, p->asked_N);
        if (!p->can && p->asked_N > e->most_N)
            e->above_N = fmin(e->above_N, p->asked_N);
    }
}

/* Twice a finer look between the last that it could and the first that it could not. */
static pl_code find_ends(pl_try *t, const pl_set_points *coarse, ends *e, bool *answered)
{
    enum { FINE = 60 };
    pl_code rc = PL_OK;

    *e = (ends){ HUGE_VAL, 0, 0, HUGE_VAL };
    narrow(coarse, NCOARSE, e);
    *answered = true;
    for (int round = 0; round < 2 && !rc && *answered; round++) {
        double force_N[2 * FINE];
        pl_set_points points;

        spread(force_N, FINE, e->below_N > 0 ? e->below_N : e->least_N / 2, e->least_N);
        spread(force_N + FINE, FINE, e->most_N, isfinite(e->above_N) ? e->above_N : 2 * e->most_N);
        rc = ask(t, &t->rig, within, force_N, (size_t)2 * FINE, &points, answered);
        if (!rc && *answered)
            narrow(&points, (size_t)2 * FINE, e);
    }
    return rc;
}

static pl_code try_within(pl_try *t, const ends *e)
{
    static const pl_try_check check = { "just beyond either end of its range it says why not",
                                        "PLATEN_ERANGE with a reason in the shop's units",
                                        "write out->reason, with host->show for its numbers" };
    double force_N[NFORCE + 2];
    const char *found = "";
    pl_set_points points;
    bool answered;
    pl_code rc;

    force_N[0] = e->least_N * (1 - BEYOND);
    spread(force_N + 1, NFORCE, e->least_N, e->most_N);
    force_N[NFORCE + 1] = e->most_N * (1 + BEYOND);
    rc = ask(t, &t->rig, within, force_N, NFORCE + 2, &points, &answered);
    if (rc || !answered)
        return rc;
    for (int end = 0; end < 2 && !found[0]; end++) {
        const pl_set_point *p = &points.at[end ? NFORCE + 1 : 0];
        const char *fault = p->can ? NULL : fault_of_point(p);

        if (fault)
            found = at_force(t, p->asked_N, fault);
    }
    rc = pl_try_note(t, check, found);
    if (!rc)
        rc = pl_try_note(t, within, fault_of_points(t, &points, NFORCE + 2));
    return rc ? rc : try_again(t, force_N, NFORCE + 2, &points);
}

/* ---- from force to dial and back ---- */

/* On a dial without marks nothing is rounded: what back gives there is the force asked for. */
static pl_code try_round_trip(pl_try *t, const ends *e)
{
    static const pl_try_check check = { "from force to dial and back is the same force",
                                        "back(set_point(F).dial) is F, to nine digits",
                                        "let back undo set_point exactly" };
    double force_N[NFORCE];
    const char *found = "";
    pl_set_points points;
    size_t can = 0;
    bool answered;
    pl_rig bare;
    pl_code rc = pl_try_bare(t, &bare, t->d);

    if (rc)
        return rc;
    spread(force_N, NFORCE, e->least_N, e->most_N);
    rc = ask(t, &bare, check, force_N, NFORCE, &points, &answered);
    if (rc || !answered)
        return rc;
    for (size_t i = 0; i < NFORCE && !found[0]; i++) {
        const pl_set_point *p = &points.at[i];

        can += p->can;
        if (p->can && !(fabs(p->gives_N - force_N[i]) <= ROUNDING * force_N[i]))
            found = at_force(t, force_N[i], pl_arena_printf(t->a, "%.10g N come back", p->gives_N));
        else if (!p->can && strstr(p->reason, "nearest it can be set to"))
            found = at_force(t, force_N[i], p->reason);
    }
    return can || found[0] ? pl_try_note(t, check, found) : PL_OK;
}

pl_code pl_try_pressing(pl_try *t)
{
    static const pl_try_check presses = { "there is a force that it presses", "some that it can",
                                          "look at the settings of the rig file" },
                              beyond = { "a force beyond all rigs is refused", "a refusal",
                                         "compare with what the settings allow" };
    double force_N[NCOARSE];
    pl_set_points points;
    bool answered, can = false;
    ends e;
    pl_code rc;

    spread(force_N, NCOARSE, LEAST_N, MOST_N);
    rc = ask(t, &t->rig, rises, force_N, NCOARSE, &points, &answered);
    if (rc || !answered)
        return rc;
    for (size_t i = 0; i < NCOARSE; i++)
        can = can || points.at[i].can;
    rc = pl_try_note(t, rises, fault_of_points(t, &points, NCOARSE));
    if (!rc)
        rc = pl_try_note(t, presses, can ? "" : "every force was refused");
    if (!rc && t->out->rig[0]) /* a rig made up has no limits */
        rc = pl_try_note(t, beyond, points.at[NCOARSE - 1].can ? "1e9 N was accepted" : "");
    if (rc || !can)
        return rc;
    rc = find_ends(t, &points, &e, &answered);
    if (rc || !answered)
        return rc;
    t->out->least_N = e.least_N;
    t->out->most_N = e.most_N;
    rc = try_within(t, &e);
    return rc || !t->kind.reads_back ? rc : try_round_trip(t, &e);
}

/* ---- over the whole dial ---- */

static pl_code ask_back(pl_try *t, pl_try_check check, pl_quantity_kind kind, const double *dial,
                        double *force_N, double *u_N, bool *answered)
{
    pl_diags quiet;
    pl_code rc;

    pl_diags_init(&quiet, t->a);
    rc = pl_rigs_forces(t->a, &t->rig, dial, kind, NDIAL, force_N, u_N, &quiet);
    *answered = rc != PL_EPLUGIN;
    if (rc == PL_ERANGE) /* some readings have no force, and a reason */
        return PL_OK;
    return pl_try_failed(t, rc, check, &quiet);
}

/* The end of its dial; where none is stated, a long way up. */
static double end_of_dial(pl_try *t)
{
    pl_diags quiet;
    pl_dial dial;

    pl_diags_init(&quiet, t->a);
    (void)pl_dial_read(t->a, t->rig.written, "", &dial, &quiet);
    return isfinite(dial.to) ? dial.to : isfinite(dial.rated_dial) ? 1.2 * dial.rated_dial : 1e6;
}

pl_code pl_try_way_back(pl_try *t)
{
    static const pl_try_check rising = { "a larger reading never means a smaller force",
                                         "forces that rise along the dial",
                                         "back of a larger reading is a larger force" },
                              same = { "the same reading has the same force, bit for bit",
                                       "the same force",
                                       "nothing but settings and reading may enter back" };
    pl_quantity_kind kind = pl_rigs_dial_kind(t->a, &t->rig);
    double dial[NDIAL], force_N[NDIAL], u_N[NDIAL], force2_N[NDIAL], u2_N[NDIAL], end, most = 0;
    const char *fell = "", *other = "";
    bool answered;
    pl_code rc;

    if (kind == PL_Q_NONE)
        return PL_OK;
    end = end_of_dial(t);
    for (int i = 0; i < NDIAL; i++)
        dial[i] = i == 1 ? 1e-9 * end : end * i / (NDIAL - 1);
    rc = ask_back(t, rising, kind, dial, force_N, u_N, &answered);
    if (!rc && answered)
        rc = ask_back(t, same, kind, dial, force2_N, u2_N, &answered);
    if (rc || !answered)
        return rc;
    for (int i = 0; i < NDIAL; i++) {
        const char *at = pl_arena_printf(t->a, "at %.4g of the dial's end", dial[i] / end);

        if (force_N[i] < most * (1 - ROUNDING) && !fell[0])
            fell = pl_arena_printf(t->a, "%s: less than below it", at);
        most = fmax(most, force_N[i]);
        if ((!pl_try_same_bits(force_N[i], force2_N[i]) || !pl_try_same_bits(u_N[i], u2_N[i])) &&
            !other[0])
            other = pl_arena_printf(t->a, "%s: another answer than before", at);
    }
    rc = pl_try_note(t, rising, fell);
    return rc ? rc : pl_try_note(t, same, other);
}
