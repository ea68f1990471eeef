/* Plan: finding its parts, and writing it as JSON. Reading it back is
 * plan_read.c's; making one is design's. */
#include "study/plan.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Letters in either case, blanks anywhere: as a pencilled id comes in. */
static bool same_id(const char *a, const char *b)
{
    for (;; a++, b++) {
        while (isspace((unsigned char)*a))
            a++;
        while (isspace((unsigned char)*b))
            b++;
        if (toupper((unsigned char)*a) != toupper((unsigned char)*b))
            return false;
        if (!*a)
            return true;
    }
}

const char *pl_stretch_name(unsigned layer)
{
    return layer ? "inner_stretch" : "stretch";
}

const pl_specimen *pl_plan_find(const pl_plan *p, const char *id)
{
    for (size_t i = 0; i < p->nspecimen; i++)
        if (same_id(p->specimens[i].id, id))
            return &p->specimens[i];
    return NULL;
}

const pl_glue_up *pl_plan_find_glue_up(const pl_plan *p, const char *label)
{
    for (size_t i = 0; i < p->nglue_up; i++)
        if (same_id(p->glue_ups[i].label, label))
            return &p->glue_ups[i];
    return NULL;
}

/* `near`: where it is looked for first. A grown plan has most of the old one at its old place. */
static const pl_glue_up *with_label(const pl_plan *p, const char *label, size_t near)
{
    if (near < p->nglue_up && !strcmp(p->glue_ups[near].label, label))
        return &p->glue_ups[near];
    for (size_t i = 0; i < p->nglue_up; i++)
        if (!strcmp(p->glue_ups[i].label, label))
            return &p->glue_ups[i];
    return NULL;
}

bool pl_plan_grown_from(const pl_plan *plan, const pl_plan *old)
{
    if (plan->ntreatment < old->ntreatment || plan->nfactor != old->nfactor ||
        memcmp(plan->treatments, old->treatments,
               old->ntreatment * old->nfactor * sizeof *old->treatments))
        return false;
    for (size_t i = 0; i < old->nglue_up; i++) {
        const pl_glue_up *was = &old->glue_ups[i], *is = with_label(plan, was->label, i);

        if (!is || is->board != was->board)
            return false;
        if (!was->spare && (is->spare || is->treatment != was->treatment ||
                            is->session != was->session || is->glue_order != was->glue_order))
            return false;
    }
    for (size_t i = 0; i < old->nspecimen; i++) {
        const pl_specimen *was = &old->specimens[i];
        const pl_specimen *is = i < plan->nspecimen ? &plan->specimens[i] : NULL;

        if (!is || strcmp(is->id, was->id) != 0)
            is = pl_plan_find(plan, was->id);
        if (!is || is->place != was->place ||
            (!was->spare && is->break_order != was->break_order) ||
            strcmp(plan->glue_ups[is->glue_up].label, old->glue_ups[was->glue_up].label) != 0)
            return false;
    }
    return true;
}

static size_t keep_glue_ups(const pl_plan *p, const bool *keep, size_t *now, pl_glue_up *to)
{
    size_t n = 0;

    for (size_t i = 0; i < p->nglue_up; i++) {
        now[i] = n;
        if (keep[i])
            to[n++] = p->glue_ups[i];
    }
    return n;
}

static size_t keep_boards(const pl_plan *p, pl_plan *part, int *place)
{
    size_t n = 0;

    for (size_t b = 0; b < p->nboard; b++)
        place[b] = -1;
    for (size_t i = 0; i < part->nglue_up; i++)
        if (part->glue_ups[i].board >= 0)
            place[part->glue_ups[i].board] = 0;
    for (size_t b = 0; b < p->nboard; b++)
        if (!place[b]) {
            place[b] = (int)n;
            part->boards[n++] = p->boards[b];
        }
    for (size_t i = 0; i < part->nglue_up; i++)
        if (part->glue_ups[i].board >= 0)
            part->glue_ups[i].board = place[part->glue_ups[i].board];
    return n;
}

pl_code pl_plan_part(pl_arena *a, const pl_plan *p, const bool *keep, const pl_plan **out,
                     pl_diags *d)
{
    pl_plan *part = PL_NEW(a, pl_plan);
    size_t *now = PL_NEWN(a, p->nglue_up, size_t);
    int *place = PL_NEWN(a, p->nboard, int);

    if (!part || !now || !place)
        return pl_nomem(d);
    *part = *p;
    part->glue_ups = PL_NEWN(a, p->nglue_up, pl_glue_up);
    part->specimens = PL_NEWN(a, p->nspecimen, pl_specimen);
    part->boards = PL_NEWN(a, p->nboard, pl_plan_board);
    if (!part->glue_ups || !part->specimens || !part->boards)
        return pl_nomem(d);
    part->nglue_up = keep_glue_ups(p, keep, now, part->glue_ups);
    part->nspecimen = 0;
    for (size_t i = 0; i < p->nspecimen; i++)
        if (keep[p->specimens[i].glue_up]) {
            part->specimens[part->nspecimen] = p->specimens[i];
            part->specimens[part->nspecimen++].glue_up = now[p->specimens[i].glue_up];
        }
    part->nboard = keep_boards(p, part, place);
    *out = part;
    return PL_OK;
}

/* "pressure": {"value": 0.7, "unit": "N/mm2"}, "species": "beech". A spare has
 * only what comes with its board. */
static void put_treatment(pl_jval *to, const pl_study *s, const int *levels, bool spare)
{
    pl_jval *treatment = pl_jadd_object(to, "treatment");

    for (size_t f = 0; f < s->nfactor; f++) {
        const pl_factor *factor = &s->factors[f];
        const pl_level *level = &factor->levels[levels[f]];
        pl_jval *value;

        if (spare && !factor->comes_with_board)
            continue;
        if (!factor->numeric) {
            pl_jadd_text(treatment, factor->name, level->text);
            continue;
        }
        /* The level's text is a number with its unit: the number as typed. */
        value = pl_jadd_object(treatment, factor->name);
        pl_jadd_number(value, "value", strtod(level->text, NULL));
        pl_jadd_text(value, "unit", factor->unit);
    }
}

static void put_texts(pl_jval *to, const char *key, const char *const *texts, size_t n)
{
    pl_jval *list = pl_jadd_array(to, key);

    for (size_t i = 0; i < n; i++)
        pl_jadd_text(list, NULL, texts[i]);
}

/* The set point of a glue-up, with what it gives as pressure on the bond. */
static void put_set_point(pl_jval *to, const pl_study *s, const pl_plan *p, const pl_glue_up *g)
{
    int pressed = pl_study_pressed(s);
    const pl_set_point *at;
    pl_jval *set;

    if (pressed < 0 || g->rig < 0 || g->spare || !p->points.at) {
        pl_jadd_null(to, "set_point");
        return;
    }
    at = pl_set_points_at(&p->points,
                          (size_t)p->treatments[g->treatment * p->nfactor + (size_t)pressed],
                          (size_t)g->rig);
    set = pl_jadd_object(to, "set_point");
    pl_jadd_number(set, "value", at->dial);
    pl_jadd_text(set, "unit", at->dial_unit);
    pl_jadd_number(set, "gives", at->gives_N / p->points.area_m2);
    pl_jadd_number(set, "uncertainty", at->u_N / p->points.area_m2);
    pl_jadd_number(set, "accept_low", at->accept_low);
    pl_jadd_number(set, "accept_high", at->accept_high);
    put_texts(set, "parts", at->parts, at->nparts);
}

static const char *press_name(const pl_study *s, int press)
{
    return press < 0 ? NULL : s->presses[press].name;
}

static const char *rig_name(const pl_study *s, int rig)
{
    return rig < 0 ? NULL : s->rigs[rig].name;
}

static const char *board_label(const pl_plan *p, int board)
{
    return board < 0 ? NULL : p->boards[board].label;
}

/* Only where there is one. */
static void put_stretch(pl_jval *to, const pl_glue_up *g)
{
    for (unsigned l = 0; l < PL_LAYERS_MOST; l++)
        if (g->stretch[l])
            pl_jadd_whole(to, pl_stretch_name(l), g->stretch[l]);
}

/* What its glue-up says of a specimen: what it is, and where, when and how it was glued. */
static void put_treated(pl_jval *one, const pl_study *s, const pl_plan *p, const pl_glue_up *g)
{
    pl_jval *blocks;

    put_treatment(one, s, p->treatments + g->treatment * p->nfactor, g->spare);
    blocks = pl_jadd_object(one, "blocks");
    if (g->board >= 0)
        pl_jadd_text(blocks, "board", board_label(p, g->board));
    pl_jadd_whole(blocks, "session", g->session);
    put_stretch(blocks, g);
}

static void put_glued(pl_jval *one, const pl_study *s, const pl_plan *p, const pl_glue_up *g)
{
    pl_jadd_whole(one, "session", g->session);
    pl_jadd_text(one, "press", press_name(s, g->press));
    pl_jadd_text(one, "rig", rig_name(s, g->rig));
    put_set_point(one, s, p, g);
    pl_jadd_whole(one, "glue_order", g->glue_order);
    pl_jadd_number(one, "start", g->start_s);
    pl_jadd_bool(one, "reference", g->reference);
    pl_jadd_whole(one, "bridging_pair", g->pair);
}

static void put_specimens(pl_jval *to, const pl_study *s, const pl_plan *p, bool kept)
{
    pl_jval *list = pl_jadd_array(to, "specimens");

    for (size_t i = 0; i < p->nspecimen; i++) {
        const pl_specimen *sp = &p->specimens[i];
        const pl_glue_up *g = &p->glue_ups[sp->glue_up];
        pl_jval *one = pl_jadd_object(list, NULL);

        pl_jadd_text(one, "id", sp->id);
        if (!kept)
            put_treated(one, s, p, g);
        put_texts(one, "adherends", sp->adherends, s->joint.adherends);
        pl_jadd_text(one, "glue_up", g->label);
        if (!kept)
            put_glued(one, s, p, g);
        pl_jadd_whole(one, "break_order", sp->break_order);
        pl_jadd_whole(one, "place", sp->place);
        pl_jadd_bool(one, "spare", sp->spare);
        pl_jdone(one);
    }
}

static void put_glue_ups(pl_jval *to, const pl_study *s, const pl_plan *p)
{
    pl_jval *list = pl_jadd_array(to, "glue_ups");

    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];
        pl_jval *one = pl_jadd_object(list, NULL);

        pl_jadd_text(one, "glue_up", g->label);
        pl_jadd_whole(one, "treatment_row", (long long)g->treatment);
        pl_jadd_text(one, "board", board_label(p, g->board));
        pl_jadd_whole(one, "session", g->session);
        pl_jadd_text(one, "press", press_name(s, g->press));
        pl_jadd_whole(one, "station", g->station);
        pl_jadd_text(one, "rig", rig_name(s, g->rig));
        pl_jadd_whole(one, "glue_order", g->glue_order);
        pl_jadd_number(one, "start", g->start_s);
        pl_jadd_bool(one, "spare", g->spare);
        pl_jadd_bool(one, "reference", g->reference);
        pl_jadd_whole(one, "bridging_pair", g->pair);
        put_stretch(one, g);
        pl_jadd_text(one, "instead_of", g->instead);
        pl_jdone(one);
    }
}

static void put_treatments(pl_jval *to, const pl_study *s, const pl_plan *p)
{
    pl_jval *list = pl_jadd_array(to, "treatments");

    for (size_t t = 0; t < p->ntreatment; t++) {
        const int *levels = p->treatments + t * p->nfactor;
        pl_jval *one = pl_jadd_object(list, NULL);
        pl_jval *places = pl_jadd_array(one, "levels");

        for (size_t f = 0; f < p->nfactor; f++)
            pl_jadd_whole(places, NULL, levels[f]);
        put_treatment(one, s, levels, false);
    }
}

static void put_boards(pl_jval *to, const pl_plan *p)
{
    pl_jval *list = pl_jadd_array(to, "boards");

    for (size_t i = 0; i < p->nboard; i++) {
        pl_jval *one = pl_jadd_object(list, NULL);

        pl_jadd_text(one, "board", p->boards[i].label);
        pl_jadd_whole(one, "stock", p->boards[i].stock);
        pl_jadd_text(one, "species", p->boards[i].species);
        pl_jdone(one);
    }
}

static void put_point(pl_jval *list, const pl_set_point *at)
{
    pl_jval *one = pl_jadd_object(list, NULL);

    pl_jadd_bool(one, "can", at->can);
    pl_jadd_text(one, "rig", at->rig);
    pl_jadd_text(one, "kind", at->kind);
    pl_jadd_number(one, "dial", at->dial);
    pl_jadd_text(one, "dial_unit", at->dial_unit);
    pl_jadd_number(one, "asked_force", at->asked_N);
    pl_jadd_number(one, "gives_force", at->gives_N);
    pl_jadd_number(one, "uncertainty_force", at->u_N);
    pl_jadd_number(one, "uncertainty_rig_force", at->u_rig_N);
    pl_jadd_number(one, "accept_low", at->accept_low);
    pl_jadd_number(one, "accept_high", at->accept_high);
    put_texts(one, "parts", at->parts, at->nparts);
    pl_jadd_text(one, "rated", at->rated);
    pl_jadd_text(one, "reason", at->reason);
    pl_jadd_text(one, "mend", at->mend);
}

static void put_points(pl_jval *to, const pl_set_points *p)
{
    pl_jval *points = pl_jadd_object(to, "set_points");
    pl_jval *list;

    pl_jadd_whole(points, "levels", (long long)p->nlevel);
    pl_jadd_whole(points, "rigs", (long long)p->nrig);
    pl_jadd_number(points, "area", p->area_m2);
    list = pl_jadd_array(points, "chosen");
    for (size_t i = 0; p->chosen && i < p->nlevel; i++)
        pl_jadd_whole(list, NULL, p->chosen[i]);
    list = pl_jadd_array(points, "most_force");
    for (size_t i = 0; p->most_N && i < p->nrig; i++)
        pl_jadd_number(list, NULL, p->most_N[i]);
    list = pl_jadd_array(points, "at");
    for (size_t i = 0; p->at && i < p->nlevel * p->nrig; i++)
        put_point(list, &p->at[i]);
}

/* null where they are not counted. */
static void put_allocations(pl_jval *health, const pl_health *h)
{
    pl_jval *n;

    if (!(h->allocations.mantissa > 0)) {
        pl_jadd_null(health, "allocations");
        return;
    }
    n = pl_jadd_object(health, "allocations");
    pl_jadd_text(n, "count", *h->allocations.exact ? h->allocations.exact : NULL);
    pl_jadd_number(n, "mantissa", h->allocations.mantissa);
    pl_jadd_whole(n, "power_of_ten", h->allocations.power);
    pl_jadd_bool(n, "at_most", h->allocations_at_most);
    pl_jadd_number(n, "least_p", h->least_p);
}

static void put_strata(pl_jval *to, const pl_health *h)
{
    pl_jval *list = pl_jadd_array(to, "strata");

    for (size_t i = 0; i < h->nstratum; i++) {
        pl_jval *one = pl_jadd_object(list, NULL);

        pl_jadd_text(one, "unit", h->strata[i].unit);
        put_texts(one, "judges", h->strata[i].judges, h->strata[i].njudge);
        pl_jadd_whole(one, "df", (long long)h->strata[i].df);
    }
}

static void put_health(pl_jval *to, const pl_health *h)
{
    pl_jval *health = pl_jadd_object(to, "health"), *list;

    pl_jadd_number(health, "efficiency", h->efficiency);
    pl_jadd_number(health, "efficiency_bound", h->efficiency_bound);
    pl_jadd_number(health, "order_balance", h->order_balance);
    pl_jadd_number(health, "rig_confounding", h->rig_confounding);
    pl_jadd_whole(health, "unit_df", (long long)h->unit_df);
    put_texts(health, "cannot", h->cannot, h->ncannot);
    pl_jadd_number(health, "order_bound", h->order_bound);
    pl_jadd_whole(health, "order_draws", h->order_draws);
    put_texts(health, "aliases", h->aliases, h->nalias);
    list = pl_jadd_array(health, "word_lengths");
    for (size_t i = 0; i < h->nword_length; i++)
        pl_jadd_whole(list, NULL, h->word_lengths[i]);
    put_allocations(health, h);
    if (h->criterion_efficiency > 0)
        pl_jadd_number(health, "criterion_efficiency", h->criterion_efficiency);
    put_strata(health, h);
}

static void put_chances(pl_jval *to, const pl_chances *c)
{
    pl_jval *o, *list;

    if (!c) {
        pl_jadd_null(to, "chances");
        return;
    }
    o = pl_jadd_object(to, "chances");
    pl_jadd_text(o, "asked", c->asked);
    pl_jadd_text(o, "scatter", c->scatter);
    pl_jadd_whole(o, "glue_ups_per_level", c->glue_ups_per_level);
    pl_jadd_number(o, "enough", c->enough);
    list = pl_jadd_array(o, "table");
    for (size_t i = 0; i < c->n; i++) {
        pl_jval *row = pl_jadd_object(list, NULL);

        pl_jadd_whole(row, "glue_ups_per_level", (long long)c->per_level[i]);
        pl_jadd_number(row, "power", c->chance[i]);
        pl_jadd_number(row, "power_at_upper", c->low[i]);
        pl_jadd_number(row, "power_at_lower", c->high[i]);
    }
}

static pl_code to_json(const pl_study *s, const pl_plan *p, bool kept, pl_jval *object)
{
    if (p->nfactor != s->nfactor || p->seed >> 53)
        return PL_EVALUE;
    pl_jadd_whole(object, "revision", p->revision);
    pl_jadd_whole(object, "seed", (long long)p->seed);
    if (p->drawn.glue_ups_per_level) {
        pl_jval *drawn = pl_jadd_object(object, "drawn");

        pl_jadd_whole(drawn, "seed", (long long)p->drawn.seed);
        pl_jadd_whole(drawn, "glue_ups_per_level", p->drawn.glue_ups_per_level);
    }
    pl_jadd_text(object, "chosen", p->chosen);
    pl_jadd_whole(object, "sessions", p->nsession);
    put_specimens(object, s, p, kept);
    put_glue_ups(object, s, p);
    put_treatments(object, s, p);
    put_boards(object, p);
    put_points(object, &p->points);
    put_health(object, &p->health);
    put_chances(object, p->chances);
    return PL_OK;
}

pl_code pl_plan_to_json(const pl_study *s, const pl_plan *p, pl_jval *object)
{
    return to_json(s, p, false, object);
}

pl_code pl_plan_to_kept(const pl_study *s, const pl_plan *p, pl_jval *object)
{
    return to_json(s, p, true, object);
}
