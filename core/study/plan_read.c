/* Plan read back from its JSON object. The object may come from a damaged or
 * foreign book, so every place in it is checked before it is used. */
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "study/plan.h"
#include "study/record.h"

#define SEED_MOST (((long long)1 << 53) - 1) /* whole numbers that JSON carries exactly */

typedef struct reader {
    pl_record r;
    const pl_study *s;
    pl_plan *p;
} reader;

static void *take(reader *rd, size_t n, size_t size)
{
    void *p = pl_arena_get(rd->r.a, n, size);

    if (!p)
        pl_record_nomem(&rd->r);
    return p;
}

/* Place of a press by name; -1 for null. */
static int press_of(reader *rd, const pl_json *object)
{
    const char *name = pl_record_text(&rd->r, object, "press");

    for (size_t i = 0; name && i < rd->s->npress; i++)
        if (!strcmp(rd->s->presses[i].name, name))
            return (int)i;
    if (name)
        pl_record_fail(&rd->r, pl_json_get(object, "press"), "a press of the study");
    return -1;
}

static int rig_of(reader *rd, const pl_json *object)
{
    const char *name = pl_record_text(&rd->r, object, "rig");

    for (size_t i = 0; name && i < rd->s->nrig; i++)
        if (!strcmp(rd->s->rigs[i].name, name))
            return (int)i;
    if (name)
        pl_record_fail(&rd->r, pl_json_get(object, "rig"), "a rig of the study");
    return -1;
}

static int board_of(reader *rd, const pl_json *object)
{
    const char *label = pl_record_text(&rd->r, object, "board");

    for (size_t i = 0; label && i < rd->p->nboard; i++)
        if (!strcmp(rd->p->boards[i].label, label))
            return (int)i;
    if (label)
        pl_record_fail(&rd->r, pl_json_get(object, "board"), "a board of the plan");
    return -1;
}

static void read_treatments(reader *rd, const pl_json *object)
{
    const pl_json *list = pl_record_list(&rd->r, object, "treatments");
    size_t n = rd->s->nfactor;
    int *places;

    places = list ? take(rd, list->count, n * sizeof *places) : NULL;
    if (!places)
        return;
    rd->p->treatments = places;
    rd->p->ntreatment = list->count;
    for (const pl_json *t = list->child; t; t = t->next) {
        const pl_json *levels = pl_record_list(&rd->r, t, "levels");
        const pl_json *v = levels ? levels->child : NULL;

        if (levels && levels->count != n) {
            pl_record_fail(&rd->r, levels, "one level place for each factor of the study");
            continue;
        }
        for (size_t f = 0; v; v = v->next, f++) {
            double x = v->kind == PL_JSON_NUMBER ? v->number : -1;

            if (x == floor(x) && x >= 0 && x < (double)rd->s->factors[f].nlevel)
                places[t->index * n + f] = (int)x;
            else
                pl_record_fail(&rd->r, v, "the place of a level of the study");
        }
    }
}

static void read_boards(reader *rd, const pl_json *object)
{
    const pl_json *list = pl_record_list(&rd->r, object, "boards");

    rd->p->boards = list ? take(rd, list->count, sizeof *rd->p->boards) : NULL;
    if (!rd->p->boards)
        return;
    for (const pl_json *b = list->child; b; b = b->next)
        rd->p->boards[b->index] = (pl_plan_board){
            .label = pl_record_word(&rd->r, b, "board"),
            .stock = (int)pl_record_whole(&rd->r, b, "stock", -1,
                                          (long long)rd->s->nboard_kinds - 1),
            .species = pl_record_text(&rd->r, b, "species"),
        };
    rd->p->nboard = list->count;
}

static void read_glue_ups(reader *rd, const pl_json *object)
{
    const pl_json *list = pl_record_list(&rd->r, object, "glue_ups");
    pl_record *r = &rd->r;

    rd->p->glue_ups = list ? take(rd, list->count, sizeof *rd->p->glue_ups) : NULL;
    if (!rd->p->glue_ups)
        return;
    for (const pl_json *g = list->child; g; g = g->next) {
        rd->p->glue_ups[g->index] = (pl_glue_up){
            .label = pl_record_word(r, g, "glue_up"),
            .treatment = (size_t)pl_record_whole(
                r, g, "treatment_row", 0, rd->p->ntreatment ? (long long)rd->p->ntreatment - 1 : 0),
            .board = board_of(rd, g),
            .session = (unsigned)pl_record_whole(r, g, "session", 0, UINT_MAX),
            .press = press_of(rd, g),
            .station = (unsigned)pl_record_whole(r, g, "station", 0, UINT_MAX),
            .rig = rig_of(rd, g),
            .glue_order = (unsigned)pl_record_whole(r, g, "glue_order", 0, UINT_MAX),
            .start_s = pl_record_number(r, g, "start"),
            .spare = pl_record_bool(r, g, "spare"),
            .instead = pl_json_get(g, "instead_of") ? pl_record_text(r, g, "instead_of") : NULL,
            .reference = pl_json_get(g, "reference") && pl_record_bool(r, g, "reference"),
            .pair = pl_json_get(g, "bridging_pair")
                        ? (unsigned)pl_record_whole(r, g, "bridging_pair", 0, UINT_MAX)
                        : 0,
        };
        for (unsigned l = 0; l < PL_LAYERS_MOST; l++) /* plans without layers have none */
            if (pl_json_get(g, pl_stretch_name(l)))
                rd->p->glue_ups[g->index].stretch[l] = (unsigned)pl_record_whole(
                    r, g, pl_stretch_name(l), 0, UINT_MAX);
    }
    if (list->count && !rd->p->ntreatment)
        pl_record_fail(r, list, "no glue-ups without treatments");
    rd->p->nglue_up = list->count;
}

/* Specimens follow their glue-ups' order in every plan made here, so the search
 * starts where the last one ended. */
static size_t glue_up_of(reader *rd, const pl_json *object, size_t from)
{
    const char *label = pl_record_word(&rd->r, object, "glue_up");
    size_t n = rd->p->nglue_up;

    for (size_t i = 0; i < n; i++)
        if (!strcmp(rd->p->glue_ups[(from + i) % n].label, label))
            return (from + i) % n;
    if (!rd->r.bad)
        pl_record_fail(&rd->r, pl_json_get(object, "glue_up"), "a glue-up of the plan");
    return 0;
}

static void read_specimens(reader *rd, const pl_json *object)
{
    const pl_json *list = pl_record_list(&rd->r, object, "specimens");
    pl_record *r = &rd->r;
    size_t last = 0;

    rd->p->specimens = list ? take(rd, list->count, sizeof *rd->p->specimens) : NULL;
    if (!rd->p->specimens)
        return;
    for (const pl_json *v = list->child; v; v = v->next) {
        pl_specimen *sp = &rd->p->specimens[v->index];
        const pl_json *pieces = pl_record_list(r, v, "adherends");

        *sp = (pl_specimen){
            .id = pl_record_word(r, v, "id"),
            .glue_up = glue_up_of(rd, v, last),
            .place = (unsigned)pl_record_whole(r, v, "place", 0, UINT_MAX),
            .break_order = (unsigned)pl_record_whole(r, v, "break_order", 0, UINT_MAX),
            .spare = pl_record_bool(r, v, "spare"),
        };
        last = sp->glue_up;
        if (pieces && pieces->count != rd->s->joint.adherends)
            pl_record_fail(r, pieces, "a label for each piece of the joint");
        for (const pl_json *piece = pieces ? pieces->child : NULL;
             piece && piece->index < PL_ADHERENDS_MOST; piece = piece->next) {
            if (piece->kind == PL_JSON_STRING)
                sp->adherends[piece->index] = pl_arena_str(r->a, piece->string);
            else if (piece->kind != PL_JSON_NULL)
                pl_record_fail(r, piece, "a label or null");
            if (piece->kind == PL_JSON_STRING && !sp->adherends[piece->index])
                pl_record_nomem(r);
        }
    }
    rd->p->nspecimen = list->count;
}

static pl_set_point read_point(pl_record *r, const pl_json *v)
{
    pl_set_point at = {
        .can = pl_record_bool(r, v, "can"),
        .rig = pl_record_text(r, v, "rig"),
        .kind = pl_record_text(r, v, "kind"),
        .dial = pl_record_number(r, v, "dial"),
        .dial_unit = pl_record_text(r, v, "dial_unit"),
        .asked_N = pl_record_number(r, v, "asked_force"),
        .gives_N = pl_record_number(r, v, "gives_force"),
        .u_N = pl_record_number(r, v, "uncertainty_force"),
        .u_rig_N = pl_record_number(r, v, "uncertainty_rig_force"),
        .accept_low = pl_record_number(r, v, "accept_low"),
        .accept_high = pl_record_number(r, v, "accept_high"),
        .rated = pl_record_text(r, v, "rated"),
        .reason = pl_record_text(r, v, "reason"),
        .mend = pl_record_text(r, v, "mend"),
    };

    at.parts = pl_record_texts(r, v, "parts", &at.nparts);
    return at;
}

static void read_chosen(reader *rd, const pl_json *points)
{
    pl_set_points *p = &rd->p->points;
    const pl_json *list = pl_record_list(&rd->r, points, "chosen");
    int *chosen;

    if (!list || !list->count)
        return;
    chosen = take(rd, list->count, sizeof *chosen);
    if (!chosen)
        return;
    if (list->count != p->nlevel)
        pl_record_fail(&rd->r, list, "one rig place for each level");
    for (const pl_json *v = list->child; v; v = v->next) {
        double x = v->kind == PL_JSON_NUMBER ? v->number : -2;

        if (x == floor(x) && x >= -1 && x < (double)p->nrig)
            chosen[v->index] = (int)x;
        else
            pl_record_fail(&rd->r, v, "the place of a rig, or -1");
    }
    p->chosen = chosen;
}

static void read_most(reader *rd, const pl_json *points)
{
    pl_set_points *p = &rd->p->points;
    const pl_json *list = pl_record_list(&rd->r, points, "most_force");
    double *most;

    if (!list || !list->count)
        return;
    most = take(rd, list->count, sizeof *most);
    if (!most)
        return;
    if (list->count != p->nrig)
        pl_record_fail(&rd->r, list, "one force for each rig");
    for (const pl_json *v = list->child; v; v = v->next) {
        most[v->index] = v->kind == PL_JSON_NUMBER ? v->number : NAN;
        if (v->kind != PL_JSON_NUMBER && v->kind != PL_JSON_NULL)
            pl_record_fail(&rd->r, v, "a number or null");
    }
    p->most_N = most;
}

static void read_points(reader *rd, const pl_json *object)
{
    const pl_json *points = pl_record_object(&rd->r, object, "set_points");
    pl_set_points *p = &rd->p->points;
    int pressed = pl_study_pressed(rd->s);
    const pl_json *list;
    pl_set_point *at;

    p->nlevel = (size_t)pl_record_whole(&rd->r, points, "levels", 0, INT_MAX);
    p->nrig = (size_t)pl_record_whole(&rd->r, points, "rigs", 0, INT_MAX);
    p->area_m2 = pl_record_number(&rd->r, points, "area");
    read_chosen(rd, points);
    read_most(rd, points);
    list = pl_record_list(&rd->r, points, "at");
    if (!list || !list->count)
        return;
    if (list->count != p->nlevel * p->nrig || pressed < 0 ||
        p->nlevel != rd->s->factors[pressed].nlevel || p->nrig != rd->s->nrig)
        pl_record_fail(&rd->r, list, "a set point for each level on each rig of the study");
    at = take(rd, list->count, sizeof *at);
    for (const pl_json *v = at ? list->child : NULL; v; v = v->next)
        at[v->index] = read_point(&rd->r, v);
    p->at = at;
}

/* Keys of fractions; plans of older books have none. */
static void read_fraction(reader *rd, const pl_json *health)
{
    const pl_json *list = pl_json_get(health, "word_lengths");
    pl_health *h = &rd->p->health;

    if (pl_json_get(health, "aliases"))
        h->aliases = pl_record_texts(&rd->r, health, "aliases", &h->nalias);
    if (!list || list->kind != PL_JSON_ARRAY || !list->count)
        return;
    h->word_lengths = take(rd, list->count, sizeof *h->word_lengths);
    for (const pl_json *v = h->word_lengths ? list->child : NULL; v; v = v->next) {
        double x = v->kind == PL_JSON_NUMBER ? v->number : -1;

        if (x == floor(x) && x >= 0 && x <= UINT_MAX)
            h->word_lengths[h->nword_length++] = (unsigned)x;
        else
            pl_record_fail(&rd->r, v, "a whole number");
    }
}

/* Plans of older books say nothing of it. */
static void read_allocations(reader *rd, const pl_json *health)
{
    const pl_json *v = pl_json_get(health, "allocations");
    pl_health *h = &rd->p->health;
    const char *count;

    h->least_p = NAN;
    if (!v || v->kind != PL_JSON_OBJECT)
        return;
    count = pl_json_get(v, "count") ? pl_json_get(v, "count")->string : NULL;
    if (count && strlen(count) < sizeof h->allocations.exact)
        snprintf(h->allocations.exact, sizeof h->allocations.exact, "%s", count);
    h->allocations.mantissa = pl_record_number(&rd->r, v, "mantissa");
    h->allocations.power = (int)pl_record_whole(&rd->r, v, "power_of_ten", 0, INT_MAX);
    h->allocations_at_most = pl_record_bool(&rd->r, v, "at_most");
    h->least_p = pl_record_number(&rd->r, v, "least_p");
}

static void read_drawn(reader *rd, const pl_json *object)
{
    const pl_json *v = pl_json_get(object, "drawn");

    if (!v)
        return;
    rd->p->drawn.seed = (uint64_t)pl_record_whole(&rd->r, v, "seed", 0, SEED_MOST);
    rd->p->drawn.glue_ups_per_level = (unsigned)pl_record_whole(&rd->r, v, "glue_ups_per_level", 1,
                                                                UINT_MAX);
}

/* Plans of older books have none. */
static void read_strata(reader *rd, const pl_json *health)
{
    const pl_json *list = pl_json_get(health, "strata");
    pl_health *h = &rd->p->health;

    if (!list || list->kind != PL_JSON_ARRAY || !list->count)
        return;
    h->strata = take(rd, list->count, sizeof *h->strata);
    for (const pl_json *v = h->strata ? list->child : NULL; v; v = v->next) {
        pl_stratum *one = &h->strata[h->nstratum++];

        one->unit = pl_record_word(&rd->r, v, "unit");
        one->judges = pl_record_texts(&rd->r, v, "judges", &one->njudge);
        one->df = (size_t)pl_record_whole(&rd->r, v, "df", 0, UINT_MAX);
    }
}

static void read_health(reader *rd, const pl_json *object)
{
    const pl_json *v = pl_record_object(&rd->r, object, "health");
    pl_health *h = &rd->p->health;
    pl_record *r = &rd->r;

    h->efficiency = pl_record_number(r, v, "efficiency");
    h->efficiency_bound = pl_record_number(r, v, "efficiency_bound");
    h->order_balance = pl_record_number(r, v, "order_balance");
    h->rig_confounding = pl_record_number(r, v, "rig_confounding");
    h->unit_df = (size_t)pl_record_whole(r, v, "unit_df", 0, UINT_MAX);
    h->cannot = pl_record_texts(r, v, "cannot", &h->ncannot);
    h->order_bound = pl_record_number(r, v, "order_bound");
    h->order_draws = (unsigned)pl_record_whole(r, v, "order_draws", 0, UINT_MAX);
    if (v) {
        read_fraction(rd, v);
        read_allocations(rd, v);
    }
    if (v && pl_json_get(v, "criterion_efficiency"))
        h->criterion_efficiency = pl_record_number(r, v, "criterion_efficiency");
    if (v)
        read_strata(rd, v);
}

/* Plans of older books have none. */
static void read_chances(reader *rd, const pl_json *object)
{
    const pl_json *o = pl_json_get(object, "chances"), *list;
    pl_record *r = &rd->r;
    pl_chances *c;

    if (!o || o->kind == PL_JSON_NULL)
        return;
    o = pl_record_object(r, object, "chances");
    c = o ? take(rd, 1, sizeof *c) : NULL;
    list = c ? pl_record_list(r, o, "table") : NULL;
    if (!list)
        return;
    c->asked = pl_record_text(r, o, "asked");
    c->scatter = pl_record_text(r, o, "scatter");
    c->glue_ups_per_level = (unsigned)pl_record_whole(r, o, "glue_ups_per_level", 1, UINT_MAX);
    c->enough = pl_record_number(r, o, "enough");
    c->per_level = take(rd, list->count, sizeof *c->per_level);
    c->chance = take(rd, list->count, sizeof *c->chance);
    c->low = take(rd, list->count, sizeof *c->low);
    c->high = take(rd, list->count, sizeof *c->high);
    if (!c->per_level || !c->chance || !c->low || !c->high)
        return;
    for (const pl_json *v = list->child; v; v = v->next, c->n++) {
        c->per_level[c->n] = (double)pl_record_whole(r, v, "glue_ups_per_level", 1, UINT_MAX);
        c->chance[c->n] = pl_record_number(r, v, "power");
        c->low[c->n] = pl_record_number(r, v, "power_at_upper");
        c->high[c->n] = pl_record_number(r, v, "power_at_lower");
    }
    rd->p->chances = c;
}

pl_code pl_plan_from_json(pl_arena *a, const pl_study *s, const pl_json *object,
                          const pl_plan **out, pl_diags *d)
{
    reader rd = { .r = { .a = a, .d = d }, .s = s, .p = PL_NEW(a, pl_plan) };

    if (!rd.p)
        return pl_nomem(d);
    rd.p->nfactor = s->nfactor;
    rd.p->revision = (unsigned)pl_record_whole(&rd.r, object, "revision", 0, UINT_MAX);
    rd.p->seed = (uint64_t)pl_record_whole(&rd.r, object, "seed", 0, SEED_MOST);
    read_drawn(&rd, object);
    rd.p->chosen = pl_record_text(&rd.r, object, "chosen");
    rd.p->nsession = (unsigned)pl_record_whole(&rd.r, object, "sessions", 0, UINT_MAX);
    read_treatments(&rd, object);
    read_boards(&rd, object);
    read_glue_ups(&rd, object);
    read_specimens(&rd, object);
    read_points(&rd, object);
    read_health(&rd, object);
    read_chances(&rd, object);
    if (rd.r.bad)
        return rd.r.bad;
    *out = rd.p;
    return PL_OK;
}
