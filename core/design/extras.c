/* Joints beside those that a plan compares: the reference joint of every session, in a closing
 * that is kept for it, and pairs that bridge two rigs, in closings that are left. Their wood comes
 * first from boards that nothing else uses. */
#include <math.h>
#include <string.h>

#include "base/stream.h"
#include "base/text.h"
#include "design/draft.h"

#define PAIRS_UNKNOWN 4 /* where the scatter is not known: common practice, no source */
#define PAIRS_MOST 200

/* ------------------------------------------------------- reference joints -- */

/* The treatment of the plan with these levels; ntreatment: none. */
static size_t row_like(const pl_draft *f, const int *levels)
{
    size_t n = f->s->nfactor, t = 0;

    while (t < f->ntreatment && memcmp(f->levels + t * n, levels, n * sizeof *levels))
        t++;
    return t;
}

static bool takes(const pl_draft *f, size_t slot, int rig)
{
    const pl_press *press;

    if (f->slots[slot].press < 0 || rig < 0)
        return true;
    press = &f->s->presses[f->slots[slot].press];
    for (size_t i = 0; i < press->nrig; i++)
        if (press->rigs[i] == rig)
            return true;
    return !press->nrig;
}

pl_code pl_draft_reserve(pl_draft *f)
{
    const pl_reference *r = &f->s->reference;
    size_t most = f->nslot < f->nunit ? f->nslot : f->nunit, count = 0, at = 0;

    if (!f->reserve || !r->given)
        return PL_OK;
    f->reference_row = row_like(f, r->levels);
    if (f->reference_row == f->ntreatment)
        return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "reference_joint"),
                       .pointer = "/reference_joint/treatment",
                       .found = "a combination that the plan does not make",
                       .expected = "one that it makes",
                       .mend = "name levels that are made together");
    for (size_t i = 0; i < most; i++)
        count += takes(f, i, f->rig_of[f->reference_row]);
    for (size_t i = 0, seen = 0; i < most && at < r->per_session; i++) {
        if (!takes(f, i, f->rig_of[f->reference_row]))
            continue;
        if (seen++ == (2 * at + 1) * count / (2 * r->per_session)) { /* spread over the session */
            f->slots[i].reserved = true;
            at++;
        }
    }
    if (at == r->per_session)
        return PL_OK;
    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "reference_joint"),
                   .pointer = "/reference_joint/per_session",
                   .found = pl_arena_printf(f->scratch, "%u reference joints", r->per_session),
                   .expected = pl_arena_printf(f->scratch,
                                               "at most %zu: a session has no more "
                                               "closings for them",
                                               at),
                   .mend = "make fewer, or lengthen the session");
}

/* ---------------------------------------------------------------- pairs ---- */

/* Scatter over the standard error that the difference may have, 0 when not known. */
static double ratio_of(const pl_study *s)
{
    pl_worth most = s->bridging.at_most;
    double sd = s->scatter.sd_Pa, mean = s->breaking.expected_strength_Pa;

    if (!most.text) {
        most = s->question.worth_noticing;
        most.value /= 2;
    }
    if (s->scatter.unknown || !(most.value > 0))
        return 0;
    if (most.relative && s->scatter.cv > 0)
        return s->scatter.cv / most.value;
    if (isnan(sd))
        sd = s->scatter.cv * mean;
    if (most.relative)
        most.value *= mean;
    return sd > 0 && most.value > 0 ? sd / most.value : 0;
}

/* Least b with sqrt(2 / b) sd at most what it may be. */
static size_t pairs_needed(double ratio)
{
    size_t b = 1;

    while (b < PAIRS_MOST && (double)b < 2 * ratio * ratio * (1 - 1e-12))
        b++;
    return b;
}

/* Pairs that the budget has room for beside the plan's own glue-ups. */
static size_t pairs_in_budget(const pl_draft *f)
{
    const pl_budget *b = &f->s->budget;
    size_t own = f->nunit + f->nreference, n = PAIRS_MOST;

    if (b->specimens) {
        size_t left = b->specimens / f->m > own ? b->specimens / f->m - own : 0;

        n = left / 2 < n ? left / 2 : n;
    }
    while (n && b->press_s > 0 && pl_study_press_s(f->s, own + 2 * n) > b->press_s)
        n--;
    return n;
}

static bool makes(const pl_draft *f, size_t level, int rig)
{
    bool some = false;

    for (size_t p = 0; p < f->s->npress; p++)
        for (size_t i = 0; i < f->s->presses[p].nrig; i++)
            some = some || f->s->presses[p].rigs[i] == rig;
    return pl_set_points_at(f->points, level, (size_t)rig)->can && (some || !f->s->npress);
}

static int rig_at(const pl_draft *f, size_t level)
{
    for (size_t t = 0; t < f->ntreatment; t++)
        if ((size_t)f->levels[t * f->s->nfactor + (size_t)f->pressed] == level)
            return f->rig_of[t];
    return -1;
}

/* The lowest level that both make, or the one asked for; -1: none. */
static int common_level(const pl_draft *f, int one, int other)
{
    const pl_factor *k = &f->s->factors[f->pressed];
    int best = -1;

    for (size_t i = 0; i < k->nlevel; i++)
        if ((f->s->bridging.level < 0 || f->s->bridging.level == (int)i) && rig_at(f, i) >= 0 &&
            makes(f, i, one) && makes(f, i, other) &&
            (best < 0 || k->levels[i].si < k->levels[best].si))
            best = (int)i;
    return best;
}

size_t pl_draft_pairs_needed(const pl_study *s)
{
    double ratio = ratio_of(s);

    return s->bridging.pairs ? s->bridging.pairs : ratio > 0 ? pairs_needed(ratio) : PAIRS_UNKNOWN;
}

/* Each two rigs once that share out neighbouring levels. */
pl_code pl_draft_bridges(pl_draft *f)
{
    const pl_factor *k;
    size_t *level;

    if (!f->points || f->pressed < 0)
        return PL_OK;
    k = &f->s->factors[f->pressed];
    level = pl_draft_rising(f);
    f->bridges = PL_NEWN(f->scratch, k->nlevel, pl_bridge);
    if (!level || !f->bridges)
        return pl_nomem(f->d);
    for (size_t i = 1; i < k->nlevel; i++) {
        int a = rig_at(f, level[i - 1]), b = rig_at(f, level[i]);
        size_t at = 0;

        if (a < 0 || b < 0 || a == b)
            continue;
        while (at < f->nbridge && !((f->bridges[at].one == a && f->bridges[at].other == b) ||
                                    (f->bridges[at].one == b && f->bridges[at].other == a)))
            at++;
        if (at == f->nbridge)
            f->bridges[f->nbridge++] = (pl_bridge){ .one = a,
                                                    .other = b,
                                                    .level = common_level(f, a, b) };
    }
    return PL_OK;
}

static void count_pairs(pl_draft *f)
{
    double ratio = ratio_of(f->s);
    size_t can = 0, room = pairs_in_budget(f);
    size_t need = ratio > 0 ? pairs_needed(ratio) : PAIRS_UNKNOWN;

    for (size_t i = 0; i < f->nbridge; i++)
        can += f->bridges[i].level >= 0;
    for (size_t i = 0; i < f->nbridge; i++) {
        pl_bridge *b = &f->bridges[i];

        if (b->level < 0)
            continue;
        b->ratio = ratio;
        b->need = need;
        b->room = room / can;
        if (!f->s->bridging.given)
            continue;
        b->pairs = f->s->bridging.pairs ? f->s->bridging.pairs : need < b->room ? need : b->room;
        f->npair += b->pairs;
    }
}

/* ------------------------------------------------------------- closings ---- */

typedef struct sitting {
    bool *used; /* nsession x nslot */
    size_t nsession;
} sitting;

static size_t free_slot(const pl_draft *f, const bool *used, int rig, size_t not_this,
                        pl_stream *stream)
{
    uint32_t count = 0, pick;

    for (size_t i = 0; i < f->nslot; i++)
        count += !used[i] && !f->slots[i].reserved && i != not_this && takes(f, i, rig);
    if (!count)
        return f->nslot;
    pick = pl_stream_below(stream, count);
    for (size_t i = 0; i < f->nslot; i++)
        if (!used[i] && !f->slots[i].reserved && i != not_this && takes(f, i, rig) && !pick--)
            return i;
    return f->nslot;
}

/* The k-th treatment at the level, of the groups in turn. */
static size_t row_at(const pl_draft *f, size_t level, size_t k)
{
    size_t g = k % f->ngroup, turn = k / f->ngroup, n = 0;

    for (size_t i = 0; i < f->v; i++)
        n += (size_t)f->levels[f->row_of[g * f->v + i] * f->s->nfactor + (size_t)f->pressed] ==
             level;
    for (size_t i = 0; i < f->v && n; i++) {
        size_t t = f->row_of[g * f->v + i];

        if ((size_t)f->levels[t * f->s->nfactor + (size_t)f->pressed] == level && !(turn-- % n))
            return t;
    }
    return f->row_of[g * f->v];
}

/* Both glue-ups of a pair in one session: the next that has room, else a new one. False: not even
 * an empty one has. */
static bool place_pair(pl_draft *f, const pl_bridge *b, size_t row, sitting *s, size_t *turn,
                       pl_stream *stream)
{
    for (size_t tried = 0; tried <= f->nsession; tried++) {
        size_t k = tried < f->nsession ? (*turn + tried) % f->nsession : f->nsession;
        bool *used = s->used + k * f->nslot;
        size_t one = free_slot(f, used, b->one, SIZE_MAX, stream), other = f->nslot;

        if (one < f->nslot)
            other = free_slot(f, used, b->other, one, stream);
        if (other == f->nslot)
            continue;
        f->nsession += k == f->nsession;
        used[one] = used[other] = true;
        f->placed++;
        f->extras[f->nextra++] = (pl_extra){
            .row = row, .rig = b->one, .session = k, .slot = one, .pair = f->placed
        };
        f->extras[f->nextra++] = (pl_extra){
            .row = row, .rig = b->other, .session = k, .slot = other, .pair = f->placed
        };
        *turn = (k + 1) % f->nsession;
        return true;
    }
    return false;
}

static pl_code place_pairs(pl_draft *f, pl_stream *stream)
{
    sitting s = { .used = pl_arena_get(f->scratch, f->nsession + f->npair + 1,
                                       f->nslot * sizeof *s.used) };
    size_t turn = 0;

    if (!s.used)
        return pl_nomem(f->d);
    for (size_t u = 0; u < f->nunit; u++)
        s.used[f->units[u].session * f->nslot + f->units[u].slot] = true;
    if (f->nsession > 1)
        turn = pl_stream_below(stream, (uint32_t)f->nsession);
    for (size_t i = 0; i < f->nbridge; i++)
        for (size_t k = 0; k < f->bridges[i].pairs; k++)
            if (!place_pair(f, &f->bridges[i], row_at(f, (size_t)f->bridges[i].level, k), &s, &turn,
                            stream))
                return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "bridging"),
                               .pointer = "/bridging",
                               .found = "a session without closings for both joints of a pair",
                               .mend = "lengthen the session, or leave bridging out");
    return PL_OK;
}

static void place_references(pl_draft *f)
{
    for (size_t k = 0; k < f->nsession; k++)
        for (size_t i = 0; i < f->nslot && f->s->reference.given; i++)
            if (f->slots[i].reserved)
                f->extras[f->nextra++] = (pl_extra){ .row = f->reference_row,
                                                     .rig = f->rig_of[f->reference_row],
                                                     .session = k,
                                                     .slot = i };
}

/* ---------------------------------------------------------------- boards ---- */

static size_t room_left(const pl_draft_board *b)
{
    return b->room == SIZE_MAX ? SIZE_MAX : b->room - b->size - b->spares - b->extras;
}

/* A board of the group with room for n: one that extras are cut from already, then one that
 * nothing uses, then any. nboard: none. */
static size_t board_for(const pl_draft *f, size_t group, size_t n)
{
    for (unsigned way = 0; way < 3; way++)
        for (size_t b = 0; b < f->nboard; b++) {
            const pl_draft_board *x = &f->boards[b];

            if (x->group != group || room_left(x) < n || (way == 0 && (x->size || !x->extras)) ||
                (way == 1 && (x->size || x->extras)))
                continue;
            return b;
        }
    return f->nboard;
}

static pl_code give_board(pl_draft *f, pl_extra *e, size_t n)
{
    size_t group = f->group_of[e->row], b = f->have_boards ? board_for(f, group, n) : 0;
    const char *name = pl_draft_group(f, group);

    for (size_t i = 0; i < n; i++)
        e[i].board = f->have_boards ? (int)b : -1;
    if (!f->have_boards)
        return PL_OK;
    if (b == f->nboard)
        return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "boards"), .pointer = "/boards",
                       .found = pl_arena_printf(f->scratch,
                                                "%s%sboards without room for the joints that tell "
                                                "rigs or sessions apart",
                                                name, *name ? " " : ""),
                       .expected = pl_arena_printf(f->scratch, "room for %zu glue-ups more of them",
                                                   f->nextra),
                       .mend = "add a board, or ask for fewer of these joints");
    f->boards[b].extras += n;
    return PL_OK;
}

/* Pairs first: both of one on one board. */
static pl_code give_boards(pl_draft *f)
{
    pl_code rc = PL_OK;
    int place = 0;

    for (size_t i = 0; i < f->nextra && !rc; i += f->extras[i].pair ? 2 : 1)
        if (f->extras[i].pair)
            rc = give_board(f, &f->extras[i], 2);
    for (size_t i = 0; i < f->nextra && !rc; i++)
        if (!f->extras[i].pair)
            rc = give_board(f, &f->extras[i], 1);
    for (size_t b = 0; b < f->nboard; b++)
        place += f->boards[b].place >= 0;
    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].place < 0 && f->boards[b].extras)
            f->boards[b].place = place++;
    return rc;
}

/* Pairs stay side by side in the list until boards are given; then by session and closing. */
static void sort_extras(pl_draft *f)
{
    for (size_t i = 1; i < f->nextra; i++)
        for (size_t k = i; k > 0; k--) {
            pl_extra *a = &f->extras[k - 1], *b = &f->extras[k], kept = *b;

            if (a->session < b->session || (a->session == b->session && a->slot < b->slot))
                break;
            *b = *a;
            *a = kept;
        }
}

pl_code pl_draft_extras(pl_draft *f)
{
    pl_stream stream;
    pl_code rc = pl_draft_bridges(f);

    f->nreference = f->s->reference.given ? f->nsession * f->s->reference.per_session : 0;
    if (rc)
        return rc;
    count_pairs(f);
    f->extras = PL_NEWN(f->scratch,
                        2 * f->npair +
                            (f->nsession + f->npair) * (size_t)f->s->reference.per_session + 1,
                        pl_extra);
    if (!f->extras)
        return pl_nomem(f->d);
    pl_stream_init(&stream, f->seed, PL_FOR_EXTRAS, 0);
    if (f->npair)
        rc = place_pairs(f, &stream);
    if (rc)
        return rc;
    place_references(f);
    rc = give_boards(f);
    sort_extras(f);
    return rc;
}

/* ----------------------------------------------------------------- words ---- */

/* "0.8 N/mm2" or "15 %": two standard errors of the difference. */
static const char *within(pl_draft *f, double pairs, const pl_bridge *b)
{
    pl_worth most = f->s->bridging.at_most;
    double twice;

    if (!most.text) {
        most = f->s->question.worth_noticing;
        most.value /= 2;
    }
    if (!(b->ratio > 0) || !(pairs > 0))
        return NULL;
    twice = 2 * sqrt(2 / pairs) * b->ratio * most.value;
    return most.relative ? pl_arena_printf(f->a, "%s %%", pl_text_number(f->a, 100 * twice, 2))
                         : pl_study_show(f->a, f->s, twice, 2);
}

/* A difference of strength may be bridged anywhere, one of pressure where strength still rises. */
#define ANYWHERE \
    "; a rig that presses harder than it says shows there only if joints still gain by pressure"

char *pl_draft_bridge_words(pl_draft *f, size_t bridge)
{
    const pl_bridge *b = &f->bridges[bridge];
    const char *one = f->s->rigs[b->one].name, *other = f->s->rigs[b->other].name;
    const pl_factor *k = &f->s->factors[f->pressed];
    const char *known, *level;

    if (b->level < 0)
        return pl_arena_printf(f->a,
                               "no level is made both by %s and by %s: nothing bridges them; a "
                               "level that both can make would",
                               one, other);
    level = k->levels[b->level].text;
    known = within(f, (double)(b->pairs ? b->pairs : b->need), b);
    if (b->pairs)
        return pl_arena_printf(
            f->a,
            "%zu pair%s at %s, one joint by %s and one by %s, tell the two rigs apart%s%s%s%s",
            b->pairs, b->pairs == 1 ? "" : "s", level, one, other, known ? " to within about " : "",
            known ? known : "",
            b->pairs < b->need ? ", less surely than asked, for the budget ends there" : "",
            ANYWHERE);
    if (f->s->bridging.given || b->room < b->need)
        return pl_arena_printf(
            f->a,
            "to tell %s from %s takes %zu pairs at %s, one joint by each; the budget has room for "
            "%zu",
            one, other, b->need, level, b->room);
    return pl_arena_printf(
        f->a,
        "%zu pairs more at %s, one joint by %s and one by %s, would tell the two "
        "rigs apart%s%s: \"bridging\": {} in the study asks for them",
        b->need, level, one, other, known ? " to within about " : "", known ? known : "");
}
