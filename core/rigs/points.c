/* Set points: asks one child per kind, checks every number that comes back,
 * holds the limits once more, and chooses a rig for each level. */
#include <math.h>
#include <string.h>

#include <platen/plugin.h>

#include "base/text.h"
#include "rigs/ask.h"
#include "rigs/dial.h"

typedef struct pressing {
    const pl_rig *rigs;
    size_t nrig, nlevel;
    const double *force_N;
    pl_set_point *at;
    pl_dial *dials; /* as the parent reads them: the limits hold here too */
    bool *seen;     /* nlevel x nrig */
    double area_m2;
} pressing;

static bool take_parts(pl_arena *a, pl_unpack *u, pl_set_point *p)
{
    uint32_t n = pl_unpack_u32(u);
    const char **list = n <= PLATEN_PARTS_MOST ? PL_NEWN(a, n, const char *) : NULL;

    for (uint32_t i = 0; list && i < n; i++) {
        list[i] = pl_unpack_text(a, u);
        if (!list[i])
            return false;
    }
    p->parts = list;
    p->nparts = list ? n : 0;
    return list && !u->bad;
}

static const char *or_none(const char *s)
{
    return s ? s : "";
}

#define SLACK 1e-3 /* of the third digit: the search leaves less */

/* What the plugin said would do, and the pressed area that would: pressures are what is asked
 * for, so the force goes with it. Rounded to the safe side. */
static const char *mend_with_area(pl_arena *a, const pressing *w, const char *mend, double reach_N,
                                  double asked_N)
{
    double mm2 = 1e6 * w->area_m2 * reach_N / asked_N, ten;
    bool less = reach_N < asked_N;
    const char *area;

    if (!(w->area_m2 > 0) || !isfinite(reach_N) || !(reach_N > 0))
        return mend;
    ten = pow(10, floor(log10(mm2)) - 2);
    mm2 = ten * (less ? floor(mm2 / ten + SLACK) : ceil(mm2 / ten - SLACK));
    area = pl_arena_printf(a, "pressing %s %s mm2 instead of %s mm2 at once",
                           less ? "at most" : "at least", pl_text_number(a, mm2, 3),
                           pl_text_number(a, 1e6 * w->area_m2, 4));
    return mend[0] ? pl_arena_printf(a, "%s; or %s", mend, area) : area;
}

/* One point of rig number r; NULL or what is wrong with it. */
static const char *take_point(pl_arena *a, pressing *w, pl_unpack *u, const size_t *map, size_t n)
{
    uint32_t r = pl_unpack_u32(u), level = pl_unpack_u32(u), can = pl_unpack_u32(u);
    double dial = pl_unpack_f64(u), shown = pl_unpack_f64(u), force = pl_unpack_f64(u);
    double u_N = pl_unpack_f64(u), u_rig = pl_unpack_f64(u);
    double low = pl_unpack_f64(u), high = pl_unpack_f64(u), reach = pl_unpack_f64(u);
    pl_set_point *p;
    const pl_dial *limits;

    if (u->bad || r >= n || level >= w->nlevel || can > 1)
        return "a set point of no rig or level";
    p = &w->at[level * w->nrig + map[r]];
    limits = &w->dials[map[r]];
    if (w->seen[level * w->nrig + map[r]])
        return "the same set point twice";
    w->seen[level * w->nrig + map[r]] = true;
    if (!take_parts(a, u, p))
        return "parts that cannot be read";
    p->reason = pl_unpack_text(a, u);
    p->mend = or_none(pl_unpack_text(a, u));
    if (u->bad)
        return "a set point that cannot be read";
    if (!can) {
        p->reason = p->reason ? p->reason : "out of its range";
        p->mend = mend_with_area(a, w, p->mend, reach, p->asked_N);
        if (!p->mend)
            p->mend = ""; /* no memory: the reason alone */
        return NULL;
    }
    if (!isfinite(force) || !(force > 0) || !isfinite(u_N) || u_N < 0 || !isfinite(u_rig) ||
        u_rig < 0 || u_rig > u_N * (1 + 1e-9))
        return "a force or uncertainty out of range";
    if (limits->there && (!isfinite(dial) || dial < 0 || !isfinite(shown) || !isfinite(low) ||
                          !isfinite(high) || low > shown || shown > high))
        return "a dial reading out of range";
    if ((limits->there && dial > pl_dial_most(limits) * (1 + 1e-9)) ||
        force > limits->rated_force_N * (1 + 1e-9))
        return "a set point above a limit";
    *p = (pl_set_point){ .can = true,
                         .rig = p->rig,
                         .kind = p->kind,
                         .dial = limits->there ? shown : NAN,
                         .dial_unit = limits->unit,
                         .asked_N = p->asked_N,
                         .gives_N = force,
                         .u_N = u_N,
                         .u_rig_N = u_rig,
                         .accept_low = limits->there ? low : NAN,
                         .accept_high = limits->there ? high : NAN,
                         .parts = p->parts,
                         .nparts = p->nparts,
                         .rated = p->rated,
                         .reason = "",
                         .mend = "" };
    return NULL;
}

/* A larger force never has a smaller dial reading, nor the same rig a smaller force. NULL: so. */
static const char *falls(pl_arena *a, const pressing *w, size_t rig)
{
    for (size_t i = 0; i < w->nlevel; i++)
        for (size_t k = 0; k < w->nlevel; k++) {
            const pl_set_point *p = &w->at[i * w->nrig + rig], *q = &w->at[k * w->nrig + rig];

            if (p->can && q->can && p->asked_N < q->asked_N &&
                (p->dial > q->dial * (1 + 1e-9) || p->gives_N > q->gives_N * (1 + 1e-9)))
                return pl_arena_printf(
                    a, "a larger force at a smaller dial reading (%s N and %s N)",
                    pl_text_number(a, p->asked_N, 4), pl_text_number(a, q->asked_N, 4));
        }
    return NULL;
}

static void give_up(pressing *w, size_t rig, const char *reason, const char *mend)
{
    for (size_t i = 0; i < w->nlevel; i++) {
        pl_set_point *p = &w->at[i * w->nrig + rig];

        *p = (pl_set_point){ .rig = p->rig,
                             .kind = p->kind,
                             .dial = NAN,
                             .dial_unit = p->dial_unit,
                             .asked_N = p->asked_N,
                             .gives_N = NAN,
                             .u_N = NAN,
                             .u_rig_N = NAN,
                             .accept_low = NAN,
                             .accept_high = NAN,
                             .rated = p->rated,
                             .reason = reason,
                             .mend = mend };
    }
}

static pl_code visit_kind(pl_arena *a, pressing *w, const size_t *map, size_t n, pl_diags *d)
{
    pl_plugin_file file;
    pl_answer answer;
    pl_message type;
    pl_unpack u;
    pl_text work;
    size_t before = d->count;
    const char *wrong;
    pl_code code = pl_ask_find(a, &w->rigs[map[0]], &file, d);

    if (code)
        return code;
    pl_text_init(&work, a);
    pl_pack_u32(&work, (uint32_t)w->nlevel);
    for (size_t i = 0; i < w->nlevel; i++)
        pl_pack_f64(&work, w->force_N[i]);
    pl_pack_u32(&work, (uint32_t)n);
    for (size_t i = 0; i < n; i++)
        pl_ask_rig(&work, &w->rigs[map[i]]);
    code = pl_child_visit(a, &file, PL_WORK_PRESS, &work, -1, pl_child_limit(), &answer, d);
    if (code)
        return code;
    while (pl_answer_next(a, &answer, &type, &u, d)) {
        wrong = type == PL_MSG_POINT ? take_point(a, w, &u, map, n) : "words nobody asked for";
        if (wrong)
            return pl_ask_lie(d, &file, wrong);
    }
    for (size_t i = 0; i < n; i++)
        if ((wrong = falls(a, w, map[i])) != NULL)
            return pl_ask_lie(d, &file, wrong);
    code = pl_answer_end(&answer, before, d);
    for (size_t i = 0; i < n * w->nlevel && !code; i++)
        if (!w->seen[i / n * w->nrig + map[i % n]])
            return pl_ask_lie(d, &file, "fewer set points than were asked for");
    return code;
}

/* Every rig of the same kind in one visit. */
static void press_kind(pl_arena *a, pressing *w, size_t first, bool *done, pl_diags *d)
{
    size_t *map = PL_NEWN(a, w->nrig, size_t), n = 0;
    pl_code code;

    for (size_t r = first; map && r < w->nrig; r++)
        if (!done[r] && !strcmp(w->rigs[r].kind, w->rigs[first].kind)) {
            done[r] = true;
            map[n++] = r;
        }
    code = map ? visit_kind(a, w, map, n, d) : pl_nomem(d);
    for (size_t i = 0; map && i < n; i++) {
        bool whole = true;

        for (size_t k = 0; k < w->nlevel; k++)
            whole = whole && w->seen[k * w->nrig + map[i]];
        if (code == PL_EPLUGIN)
            give_up(w, map[i], "its plugin failed", "mend the plugin or take another rig");
        else if (!whole)
            give_up(w, map[i], "its rig file is refused", "mend the rig file");
    }
}

static bool sure(const pl_set_point *p)
{
    return p->can && p->u_N <= PL_RIG_SURE_MOST * p->gives_N;
}

static void choose(const pressing *w, int *chosen)
{
    size_t most = 0, best = w->nrig;

    for (size_t r = 0; r < w->nrig; r++) {
        size_t n = 0;

        for (size_t i = 0; i < w->nlevel; i++)
            n += sure(&w->at[i * w->nrig + r]);
        if (n > most) {
            most = n;
            best = r;
        }
    }
    for (size_t i = 0; i < w->nlevel; i++) {
        const pl_set_point *row = &w->at[i * w->nrig];

        chosen[i] = -1;
        if (best < w->nrig && sure(&row[best]))
            chosen[i] = (int)best;
        for (size_t r = 0; r < w->nrig && chosen[i] < 0; r++)
            if (sure(&row[r]))
                chosen[i] = (int)r;
        if (best < w->nrig && chosen[i] < 0 && row[best].can)
            chosen[i] = (int)best;
        for (size_t r = 0; r < w->nrig && chosen[i] < 0; r++)
            if (row[r].can)
                chosen[i] = (int)r;
    }
}

pl_code pl_rigs_set_points(pl_arena *a, const pl_rig *rigs, size_t nrig, const double *force_N,
                           size_t nlevel, double area_m2, pl_set_points *out, pl_diags *d)
{
    pressing w = {
        .rigs = rigs, .nrig = nrig, .nlevel = nlevel, .force_N = force_N, .area_m2 = area_m2
    };
    bool *done = PL_NEWN(a, nrig, bool);
    int *chosen = PL_NEWN(a, nlevel, int);
    size_t before = d->count;
    pl_diags quiet; /* the child says the same of the dial, once */

    *out = (pl_set_points){ 0 };
    w.at = nlevel > PL_ASK_MOST ? NULL : PL_NEWN(a, nlevel * nrig, pl_set_point);
    w.dials = PL_NEWN(a, nrig, pl_dial);
    w.seen = PL_NEWN(a, nlevel * nrig, bool);
    if (!done || !chosen || !w.at || !w.dials || !w.seen)
        return pl_nomem(d);
    pl_diags_init(&quiet, a);
    for (size_t r = 0; r < nrig; r++) {
        (void)pl_dial_read(a, rigs[r].written, "", &w.dials[r], &quiet);
        for (size_t i = 0; i < nlevel; i++)
            w.at[i * nrig + r] = (pl_set_point){ .rig = rigs[r].name,
                                                 .kind = rigs[r].kind,
                                                 .dial_unit = w.dials[r].unit,
                                                 .asked_N = force_N[i],
                                                 .dial = NAN,
                                                 .gives_N = NAN,
                                                 .u_N = NAN,
                                                 .u_rig_N = NAN,
                                                 .accept_low = NAN,
                                                 .accept_high = NAN,
                                                 .rated = w.dials[r].rated,
                                                 .reason = "",
                                                 .mend = "" };
    }
    for (size_t r = 0; r < nrig; r++)
        if (!done[r])
            press_kind(a, &w, r, done, d);
    choose(&w, chosen);
    *out = (pl_set_points){
        .nlevel = nlevel, .nrig = nrig, .at = w.at, .chosen = chosen, .area_m2 = area_m2
    };
    return pl_diags_code(d, before);
}
