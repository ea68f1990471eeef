/* What one session has time for: which rig makes each treatment, which presses
 * can, and the closings of a session in time order. What goes into them is
 * decided in sessions.c. */
#include <math.h>

#include "base/text.h"
#include "design/draft.h"

/* ------------------------------------------------------- rigs and presses -- */

static size_t presses(const pl_draft *f)
{
    return f->s->npress ? f->s->npress : 1; /* none listed: one with one station */
}

static bool press_takes(const pl_draft *f, size_t press, int rig)
{
    const pl_press *p;

    if (rig < 0 || !f->s->npress || !f->s->presses[press].nrig)
        return true;
    p = &f->s->presses[press];
    for (size_t i = 0; i < p->nrig; i++)
        if (p->rigs[i] == rig)
            return true;
    return false;
}

static bool some_press_takes(const pl_draft *f, int rig)
{
    for (size_t p = 0; p < presses(f); p++)
        if (press_takes(f, p, rig))
            return true;
    return false;
}

/* The rig chosen for the level if some press has it; else the surest of those
 * that some press has. -1: no rig, -2: rigs, but on no press. */
static int rig_for_level(const pl_draft *f, size_t level)
{
    const pl_set_points *points = f->points;
    int chosen = points->chosen[level], best = chosen < 0 ? -1 : -2;
    double least = 0;

    if (chosen >= 0 && some_press_takes(f, chosen))
        return chosen;
    for (size_t r = 0; r < points->nrig; r++) {
        const pl_set_point *at = pl_set_points_at(points, level, r);

        if (!at->can || !some_press_takes(f, (int)r))
            continue;
        if (best < 0 || at->u_N < least) {
            best = (int)r;
            least = at->u_N;
        }
    }
    return best;
}

static void refuse_level(pl_draft *f, size_t level, int why)
{
    const pl_factor *factor = &f->s->factors[f->pressed];

    if (why == -1)
        pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "rigs"), .pointer = "/rigs",
                .found = pl_arena_printf(f->scratch, "no rig that makes %s",
                                         factor->levels[level].text),
                .mend = "leave the level out, or add a rig that makes it");
    else
        pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "presses"), .pointer = "/presses",
                .found = pl_arena_printf(f->scratch, "no press with the rig \"%s\" that makes %s",
                                         f->s->rigs[f->points->chosen[level]].name,
                                         factor->levels[level].text),
                .mend = "name the rig in the press's rigs");
}

static pl_code find_rigs(pl_draft *f)
{
    size_t from = f->d->count, nf = f->s->nfactor;

    for (size_t t = 0; t < f->ntreatment; t++)
        f->rig_of[t] = -1;
    if (!f->points || f->pressed < 0)
        return PL_OK;
    for (size_t level = 0; level < f->points->nlevel; level++) {
        int rig = rig_for_level(f, level);

        if (rig < 0)
            refuse_level(f, level, rig);
        for (size_t t = 0; t < f->ntreatment; t++)
            if ((size_t)f->levels[t * nf + (size_t)f->pressed] == level)
                f->rig_of[t] = rig;
    }
    return pl_diags_code(f->d, from);
}

/* Treatments that the same presses can make are of one kind: the number of the
 * first of them. */
static void find_kinds(pl_draft *f)
{
    size_t np = presses(f);

    for (size_t t = 0; t < f->ntreatment; t++) {
        for (size_t p = 0; p < np; p++)
            f->may[t * np + p] = press_takes(f, p, f->rig_of[t]);
        for (f->kind[t] = 0; f->kind[t] < t; f->kind[t]++) {
            size_t same = 0;

            for (size_t p = 0; p < np; p++)
                same += f->may[t * np + p] == f->may[f->kind[t] * np + p];
            if (same == np)
                break;
        }
    }
}

/* Kinds numbered through. */
static bool number_kinds(pl_draft *f)
{
    f->kind_number = PL_NEWN(f->scratch, f->ntreatment, uint32_t);
    f->kind_row = PL_NEWN(f->scratch, f->ntreatment, size_t);
    f->nkinds = 0;
    for (size_t t = 0; f->kind_number && f->kind_row && t < f->ntreatment; t++) {
        if (f->kind[t] == t)
            f->kind_row[f->nkinds++] = t;
        f->kind_number[t] = f->kind[t] == t ? (uint32_t)f->nkinds - 1 : f->kind_number[f->kind[t]];
    }
    return f->kind_number && f->kind_row;
}

/* ------------------------------------------------------------------ time -- */

typedef struct clock {
    double clamp_s, hands_s, changeover_s, session_s;
    bool known;         /* clamp and session are known */
    size_t per_mix;     /* stations that one mix serves; SIZE_MAX: no limit */
    double breaking_s;  /* on the frame that also breaks, for each of its closings; 0 */
    int breaking_press; /* -1: none */
} clock;

static bool press_used(const pl_draft *f, size_t p)
{
    for (size_t t = 0; t < f->ntreatment; t++)
        if (f->may[t * presses(f) + p])
            return true;
    return false;
}

static size_t stations_of(const pl_draft *f, size_t p)
{
    size_t stations = f->s->npress ? f->s->presses[p].stations : 1;

    if (stations > f->nunit)
        stations = f->nunit; /* more are never loaded */
    return stations ? stations : 1;
}

static clock clock_of(const pl_draft *f)
{
    const pl_times *times = &f->s->times;
    const double pot_s = f->s->adhesive.pot_life_s;
    clock c = { .clamp_s = times->clamp_s,
                .hands_s = pl_study_hands_on_s(f->s),
                .session_s = pl_study_sitting_s(f->s),
                .per_mix = SIZE_MAX,
                .breaking_press = f->s->breaking.press };

    if (!(c.hands_s > 0))
        c.hands_s = 0;
    if (pot_s > 0 && c.hands_s > 0)
        c.per_mix = (size_t)(pot_s / c.hands_s * (1 + 1e-12));
    if (f->s->npress && c.breaking_press >= 0 && f->s->breaking.per_specimen_s > 0)
        c.breaking_s = f->s->breaking.per_specimen_s * (double)pl_study_specimens_per_glue_up(f->s);
    for (size_t p = 0; p < f->s->npress; p++)
        if (press_used(f, p) && f->s->presses[p].changeover_s > c.changeover_s)
            c.changeover_s = f->s->presses[p].changeover_s;
    c.known = c.clamp_s >= 0 && c.session_s > 0;
    return c;
}

/* One pair of hands goes from station to station; when the last is closed, or
 * the first has opened and been changed over, the next round begins. */
static double round_s(const clock *c, size_t stations)
{
    double station = c->hands_s + c->clamp_s + c->changeover_s;
    double hands = c->hands_s * (double)stations;

    return station > hands ? station : hands;
}

/* A closing that begins then is opened before the session ends; where the clamp
 * time alone outlasts a session, it is closed before it ends, once a session. `kept_s`: what the
 * session must leave its press for breaking as many joints as it makes. */
static bool in_time(const clock *c, size_t round, double start_s, double kept_s)
{
    double end_s = start_s + c->hands_s + c->clamp_s + kept_s;
    double slack = 1e-9 * c->session_s; /* 6 x 80 min in 8 h must fit */

    if (!c->known)
        return true;
    if (c->hands_s + c->clamp_s > c->session_s + slack)
        return round == 0 && start_s + c->hands_s + kept_s <= c->session_s + slack;
    return end_s <= c->session_s + slack;
}

static pl_code refuse_time(pl_draft *f, const clock *c)
{
    bool pot = !c->per_mix, frame = c->breaking_s > 0, hours = c->session_s < f->s->times.session_s;

    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, pot ? "adhesive" : "times"),
                   .pointer = pot ? "/adhesive/pot_life" : "/times",
                   .found = pot ? "a pot life shorter than the hands-on time of one glue-up"
                            : frame
                                ? "a session too short to clamp one glue-up and to break one on "
                                  "the same frame"
                            : hours ? "working hours too short for one glue-up"
                                    : "hands-on time longer than a session",
                   .expected = "time for at least one glue-up in a session",
                   .mend = pot     ? "an adhesive that lasts longer, or shorten hands_on"
                           : frame ? "break on another frame, or make the session longer"
                           : hours ? "shorten hands_on, or work longer on some day"
                                   : "shorten hands_on, or make the session longer");
}

typedef struct station {      /* in the order of a round */
    size_t press, number, of; /* number from 0, of so many */
} station;

/* Where along a round, 0 to 1: the stations of each press are spread over it. */
static bool before(const station *a, const station *b)
{
    return (2 * a->number + 1) * b->of < (2 * b->number + 1) * a->of;
}

/* All stations in use, merged so that a press with one station comes in the middle
 * of a round and one with many around it: no press is always first. */
static station *round_order(const pl_draft *f, size_t *count)
{
    station *list;
    size_t total = 0;

    for (size_t p = 0; p < presses(f); p++)
        total += press_used(f, p) ? stations_of(f, p) : 0;
    list = PL_NEWN(f->scratch, total, station);
    *count = 0;
    for (size_t p = 0; list && p < presses(f); p++)
        for (size_t i = 0; press_used(f, p) && i < stations_of(f, p); i++) {
            station one = { p, i, stations_of(f, p) };
            size_t at = (*count)++;

            for (; at > 0 && before(&one, &list[at - 1]); at--)
                list[at] = list[at - 1];
            list[at] = one;
        }
    return list;
}

/* More of one press are never used in a session. */
static size_t most_closings(const pl_draft *f)
{
    return f->nunit + (f->reserve && f->s->reference.given ? f->s->reference.per_session : 0);
}

/* One round's closings; their number. One mix serves a round, for there is no time to mix while
 * hands go from station to station: where it does not last for all, each round goes on with the
 * stations that come next. slots: NULL to count only. */
static size_t fill_round(const pl_draft *f, const clock *c, size_t round, const station *order,
                         size_t count, size_t *of_press, pl_slot *slots)
{
    size_t each = count < c->per_mix ? count : c->per_mix, added = 0;
    double begins_s = c->known ? (double)round * round_s(c, each) : 0;

    for (size_t i = 0; i < each; i++) {
        const station *o = &order[(round * each + i) % count];
        double start_s = begins_s + (double)i * c->hands_s;
        bool breaks = c->breaking_s > 0 && (int)o->press == c->breaking_press;
        double kept_s = breaks ? (double)(of_press[o->press] + 1) * c->breaking_s + c->changeover_s
                               : 0;

        if (of_press[o->press] == most_closings(f) || !in_time(c, round, start_s, kept_s))
            continue;
        of_press[o->press]++;
        if (slots)
            slots[added] = (pl_slot){
                .press = f->s->npress ? (int)o->press : -1,
                .station = (unsigned)o->number + 1,
                .start_s = c->known ? start_s : NAN,
                .round = round,
            };
        added++;
    }
    return added;
}

/* Closings that a session has time for; SIZE_MAX: no memory. */
static size_t fill_rounds(const pl_draft *f, const clock *c, pl_slot *slots)
{
    pl_mark mark = pl_arena_mark(f->scratch);
    size_t count, n = 0, idle = 0, *of_press = PL_NEWN(f->scratch, presses(f), size_t);
    station *order = round_order(f, &count);

    if (!of_press || !order)
        return SIZE_MAX;
    /* a round may find no station free for a while where rounds take turns */
    for (size_t round = 0; c->per_mix && idle <= count; round++) {
        size_t added = fill_round(f, c, round, order, count, of_press, slots ? slots + n : NULL);

        n += added;
        idle = added ? 0 : idle + 1;
        if (!added && c->per_mix >= count)
            break;
    }
    pl_arena_reset(f->scratch, mark);
    return n;
}

/* ------------------------------------------------------------ what limits it -- */

static const char *minutes(const pl_draft *f, double s)
{
    return s >= 7200 ? pl_arena_printf(f->scratch, "%.3g h", s / 3600)
                     : pl_arena_printf(f->scratch, "%.3g min", s / 60);
}

/* More closings with this clock than there are. */
static size_t gain(const pl_draft *f, clock c, size_t now)
{
    size_t n = fill_rounds(f, &c, NULL);

    return n == SIZE_MAX || n < now ? 0 : n - now;
}

/* Limits that stand by themselves: each that alone keeps the session from holding more. */
static void add_limits(const pl_draft *f, const clock *c, pl_text *t, size_t now)
{
    clock eased = *c;
    unsigned at_once = f->s->npress ? f->s->presses[0].specimens_at_once : 1;

    if (pl_study_at_once(f->s) < at_once)
        pl_text_add(t, ", the open time limit (%s: %u of %u joints at once can be closed in time)",
                    minutes(f, f->s->adhesive.open_time_limit_s), pl_study_at_once(f->s), at_once);
    eased.per_mix = SIZE_MAX;
    if (gain(f, eased, now))
        pl_text_add(t, ", the pot life (%s: one mix serves %zu station%s)",
                    minutes(f, f->s->adhesive.pot_life_s), c->per_mix, c->per_mix == 1 ? "" : "s");
    eased = *c;
    eased.breaking_s = 0;
    if (gain(f, eased, now))
        pl_text_add(t, ", breaking on the frame that clamps (%s for each glue-up)",
                    minutes(f, c->breaking_s));
    eased = *c;
    eased.session_s = f->s->times.session_s;
    if (eased.session_s > c->session_s && gain(f, eased, now))
        pl_text_add(t, ", the working hours (%s on the longest day)", minutes(f, c->session_s));
}

/* Of what every session has, the one that gives most when halved. More stations make up for
 * clamping and changing over. */
static void add_main_limit(const pl_draft *f, const clock *c, pl_text *t, size_t now)
{
    clock eased[3] = { *c, *c, *c };
    const char *names[3];
    size_t best = 3, most = 0;

    eased[0].clamp_s /= 2;
    eased[1].hands_s /= 2;
    eased[2].changeover_s /= 2;
    names[0] = pl_arena_printf(f->scratch, "the clamp time (%s) and the number of stations",
                               minutes(f, c->clamp_s));
    names[1] = pl_arena_printf(f->scratch, "the hands-on time (%s for each glue-up)",
                               minutes(f, c->hands_s));
    names[2] = pl_arena_printf(f->scratch, "the changeover (%s) and the number of stations",
                               minutes(f, c->changeover_s));
    for (size_t i = 0; i < 3; i++) {
        size_t more = gain(f, eased[i], now);

        if (more > most) {
            most = more;
            best = i;
        }
    }
    if (best < 3)
        pl_text_add(t, ", %s", names[best] ? names[best] : "");
}

char *pl_draft_limit(const pl_draft *f)
{
    clock c = clock_of(f);
    size_t now = f->nslot;
    char *words;
    pl_text t;

    pl_text_init(&t, f->a);
    if (!c.known)
        return pl_text_done(&t);
    add_limits(f, &c, &t, now);
    add_main_limit(f, &c, &t, now);
    words = pl_text_done(&t);
    return words && *words ? words + 2 : words;
}

static pl_code fill_slots(pl_draft *f)
{
    clock c = clock_of(f);

    f->slots = PL_NEWN(f->scratch, most_closings(f) * presses(f), pl_slot);
    if (!f->slots)
        return pl_nomem(f->d);
    f->nslot = fill_rounds(f, &c, f->slots);
    if (f->nslot == SIZE_MAX)
        return pl_nomem(f->d);
    return f->nslot ? PL_OK : refuse_time(f, &c);
}

/* Each kind of treatment must find a closing in an empty session. */
static pl_code check_kinds(pl_draft *f)
{
    size_t np = presses(f);

    for (size_t t = 0; t < f->ntreatment; t++) {
        bool found = false;

        for (size_t i = 0; i < f->nslot; i++)
            found = found ||
                    (!f->slots[i].reserved &&
                     f->may[t * np + (f->slots[i].press < 0 ? 0 : (size_t)f->slots[i].press)]);
        if (!found) {
            clock c = clock_of(f);

            return refuse_time(f, &c);
        }
    }
    return PL_OK;
}

pl_code pl_draft_slots(pl_draft *f)
{
    pl_code rc;

    f->rig_of = PL_NEWN(f->scratch, f->ntreatment, int);
    f->kind = PL_NEWN(f->scratch, f->ntreatment, uint32_t);
    f->may = pl_arena_get(f->scratch, f->ntreatment, presses(f) * sizeof *f->may);
    if (!f->rig_of || !f->kind || !f->may)
        return pl_nomem(f->d);
    rc = find_rigs(f);
    if (rc)
        return rc;
    find_kinds(f);
    if (!number_kinds(f))
        return pl_nomem(f->d);
    rc = fill_slots(f);
    if (!rc)
        rc = pl_draft_reserve(f);
    if (rc)
        return rc;
    f->owner = PL_NEWN(f->scratch, f->nslot, size_t);
    f->seen = PL_NEWN(f->scratch, f->nslot, unsigned);
    f->next = PL_NEWN(f->scratch, f->nkinds, size_t);
    f->tree = pl_arena_get(f->scratch, f->nkinds, (f->nslot + 1) * sizeof *f->tree);
    if (!f->owner || !f->seen || !f->next || !f->tree)
        return pl_nomem(f->d);
    for (size_t i = 0; i < f->nslot; i++)
        f->owner[i] = SIZE_MAX;
    return check_kinds(f);
}
