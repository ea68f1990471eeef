/* Joins plan and readings into the table that the fit starts from. */
#include <math.h>
#include <string.h>

#include "cli/join.h"
#include "fit/ties.h"
#include "report/answer.h"

static const char *level_text(const pl_join_work *j, const pl_glue_up *g, size_t f)
{
    return j->s->factors[f].levels[j->p->treatments[g->treatment * j->p->nfactor + f]].text;
}

typedef struct columns {
    pl_table *t; /* with reference joints and the columns that tie */
    size_t ties; /* place of the first of these */
    size_t row;
    const char **row_names;
    const char ***text;
    double **number;
} columns;

static const char *const fixed_names[] = {
    "strength",      PL_COLUMN_MADE, "glue_up",       "board",   "session",      "rig",
    "glue_order",    "break_order",  "wood",          "peak",    PL_COLUMN_DAY,  PL_COLUMN_BREAK,
    PL_COLUMN_LEAST, PL_COLUMN_MOST, PL_COLUMN_SHARE, "stretch", "inner_stretch"
};
enum {
    C_STRENGTH,
    C_MADE,
    C_GLUE_UP,
    C_BOARD,
    C_SESSION,
    C_RIG,
    C_GLUE_ORDER,
    C_BREAK_ORDER,
    C_WOOD,
    C_PEAK,
    C_DAY,
    C_FAILURE,
    C_LEAST,
    C_MOST,
    C_SHARE,
    C_STRETCH, /* of the outermost layer; the others follow */
    C_FIXED = C_STRETCH + PL_LAYERS_MOST
};

/* Behind the factors: what reference joints tie, beside sessions and rigs (fit/ties.h). */
static const char *const tie_names[] = { PL_TIE_PRESS, PL_TIE_BREAKING_RIG, PL_TIE_BROKEN_BY,
                                         PL_TIE_REFERENCE };
enum { T_PRESS, T_BREAKING_RIG, T_BROKEN_BY, T_REFERENCE, T_COUNT };

static void put_text(columns *c, size_t col, const char *text)
{
    c->text[col][c->row] = text ? text : "";
    c->number[col][c->row] = NAN;
}

static void put_number(pl_join_work *j, columns *c, size_t col, double x)
{
    c->text[col][c->row] = isnan(x) ? "" : pl_text_number(j->a, x, 17);
    c->number[col][c->row] = x;
}

static pl_code make_columns(pl_join_work *j, size_t nrow, columns *c)
{
    size_t nfactor = j->s->nfactor, ncol = C_FIXED + nfactor + j->s->nother + T_COUNT;
    const char *why;

    *c = (columns){ .t = PL_NEW(j->a, pl_table),
                    .text = PL_NEWN(j->a, ncol, const char **),
                    .number = PL_NEWN(j->a, ncol, double *),
                    .ties = ncol - T_COUNT };
    if (!c->t || !c->text || !c->number)
        return pl_nomem(&j->run->diags);
    c->t->name = j->s->name;
    c->t->nrow = nrow;
    c->t->ncol = ncol;
    c->t->columns = PL_NEWN(j->a, ncol, pl_column);
    c->t->row_names = c->row_names = PL_NEWN(j->a, nrow, const char *);
    if (!c->t->columns || !c->row_names)
        return pl_nomem(&j->run->diags);
    for (size_t i = 0; i < ncol; i++) {
        pl_column *col = &c->t->columns[i];
        const pl_factor *f = i < C_FIXED || i >= C_FIXED + nfactor ? NULL
                                                                   : &j->s->factors[i - C_FIXED];
        const pl_response *r = i < C_FIXED + nfactor || i >= c->ties
                                   ? NULL
                                   : &j->s->others[i - C_FIXED - nfactor];
        double offset;

        c->text[i] = PL_NEWN(j->a, nrow, const char *);
        c->number[i] = PL_NEWN(j->a, nrow, double);
        if (!c->text[i] || !c->number[i])
            return pl_nomem(&j->run->diags);
        col->name = f             ? f->name
                    : r           ? r->name
                    : i < C_FIXED ? fixed_names[i]
                                  : tie_names[i - c->ties];
        col->unit = f && f->numeric ? f->unit : r ? r->unit : "";
        col->scale = r ? r->scale : 1;
        col->text = c->text[i];
        if (f && f->numeric)
            (void)pl_units_scale(j->a, f->unit, f->kind, &col->scale, &offset, &why);
        if (i == C_STRENGTH || i == C_LEAST || i == C_MOST) {
            col->unit = j->s->show_in[0];
            (void)pl_units_scale(j->a, col->unit, PL_Q_PRESSURE, &col->scale, &offset, &why);
        } else if (i == C_PEAK) {
            col->unit = "kN";
            col->scale = 1000;
        } else if (i == C_MADE && pl_study_pressed(j->s) >= 0) {
            f = &j->s->factors[pl_study_pressed(j->s)];
            col->unit = f->unit;
            (void)pl_units_scale(j->a, f->unit, f->kind, &col->scale, &offset, &why);
        }
        if (i == C_BOARD || i == C_GLUE_UP || i == C_RIG || i == C_DAY || i == C_FAILURE ||
            (i >= C_STRETCH && i < C_FIXED) || (f && !f->numeric) ||
            (i >= c->ties && i != c->ties + T_REFERENCE))
            continue;
        col->number = c->number[i];
    }
    return PL_OK;
}

/* "cohesive, 10 % wood": as it was judged; "" when it was not. */
static const char *failure_text(pl_join_work *j, const pl_broken *b)
{
    const char *mode = pl_mode_name(b->mode);

    if (isnan(b->wood_share))
        return mode;
    return pl_arena_printf(j->a, "%s%s%s %% wood", mode, mode[0] ? ", " : "",
                           pl_text_number(j->a, 100 * b->wood_share, 3));
}

/* A glue-up made in another session than planned, or with another level of what is hard to change,
 * was not in the stretch planned for it. */
static const char *stretch_text(pl_join_work *j, const pl_glue_up *g, unsigned layer)
{
    const pl_glue_up *planned = pl_plan_find_glue_up(j->l->plan, g->label);
    bool same = planned && planned->session == g->session;

    if (!g->stretch[layer])
        return "";
    for (size_t f = 0; same && f < j->s->nfactor; f++)
        same = pl_study_layer_of(j->s, f) > layer ||
               j->p->treatments[g->treatment * j->p->nfactor + f] ==
                   j->l->plan->treatments[planned->treatment * j->p->nfactor + f];
    return pl_arena_printf(j->a, "%u%s%s", g->stretch[layer], same ? "" : " ",
                           same ? "" : g->label);
}

/* An open end is an empty cell. */
static double held(double x)
{
    return isinf(x) ? NAN : x;
}

/* Who broke it, as a number: names stay in the forms. */
static const char *broken_by(pl_join_work *j, const char *who)
{
    if (!who[0])
        return "";
    for (size_t i = 0; i < j->nbreaker; i++)
        if (!strcmp(j->breakers[i], who))
            return pl_arena_printf(j->a, "%zu", i + 1);
    j->breakers[j->nbreaker++] = who;
    return pl_arena_printf(j->a, "%zu", j->nbreaker);
}

static void fill_ties(pl_join_work *j, columns *c, const pl_specimen *x)
{
    const pl_glue_up *g = &j->p->glue_ups[x->glue_up];
    const char *rig = pl_join_word(j, PL_ON_SPECIMEN, x->id, "rig");
    int planned = j->s->breaking.rig;

    put_text(c, c->ties + T_PRESS, g->press >= 0 ? j->s->presses[g->press].name : "");
    put_text(c, c->ties + T_BREAKING_RIG,
             rig[0]         ? rig
             : planned >= 0 ? j->s->rigs[planned].name
                            : "");
    put_text(c, c->ties + T_BROKEN_BY,
             broken_by(j, pl_join_word(j, PL_ON_SPECIMEN, x->id, "operator")));
    put_number(j, c, c->ties + T_REFERENCE, g->reference);
}

/* In SI, a percentage as a fraction. A first drop read on a dial is no force: it is not there. */
static double response_value(const pl_join_work *j, const pl_response *r, const pl_specimen *x,
                             const pl_glue_up *g)
{
    const pl_reading *reading = r->on_glue_up
                                    ? pl_readings_find(j->r, PL_ON_GLUE_UP, g->label, r->column)
                                    : pl_readings_find(j->r, PL_ON_SPECIMEN, x->id, r->column);
    bool fits = reading &&
                (r->quantity == PL_Q_NONE || pl_units_kind(j->a, reading->unit) == r->quantity);

    return fits ? reading->value : NAN;
}

static void fill_row(pl_join_work *j, columns *c, const pl_specimen *x, const pl_broken *b)
{
    const pl_glue_up *g = &j->p->glue_ups[x->glue_up];
    const pl_made *m = &j->made[x->glue_up];
    pl_column *cols = c->t->columns;

    put_number(j, c, C_STRENGTH, b->peak_N / b->area_m2 / cols[C_STRENGTH].scale);
    put_number(j, c, C_MADE, m->applied_Pa / cols[C_MADE].scale);
    put_text(c, C_GLUE_UP, g->label);
    put_text(c, C_BOARD, g->board >= 0 ? j->p->boards[g->board].label : "");
    put_number(j, c, C_SESSION, g->session);
    put_text(c, C_RIG, m->rig >= 0 ? j->s->rigs[m->rig].name : "");
    put_number(j, c, C_GLUE_ORDER, g->glue_order);
    put_number(j, c, C_BREAK_ORDER, x->break_order);
    put_number(j, c, C_WOOD, b->wood);
    put_number(j, c, C_PEAK, b->peak_N / cols[C_PEAK].scale);
    put_text(c, C_DAY,
             pl_join_word(j, PL_ON_SESSION, pl_arena_printf(j->a, "%u", g->session), "date"));
    put_text(c, C_FAILURE, failure_text(j, b));
    put_number(j, c, C_LEAST, held(b->least_N / b->area_m2 / cols[C_LEAST].scale));
    put_number(j, c, C_MOST, held(b->most_N / b->area_m2 / cols[C_MOST].scale));
    put_number(j, c, C_SHARE, b->wood_share);
    for (unsigned l = 0; l < PL_LAYERS_MOST; l++)
        put_text(c, C_STRETCH + l, stretch_text(j, g, l));
    for (size_t f = 0; f < j->s->nfactor; f++) {
        const pl_factor *factor = &j->s->factors[f];
        size_t col = C_FIXED + f;

        if (g->reference) { /* a treatment of its own */
            put_text(c, col, "");
            continue;
        }
        c->text[col][c->row] = level_text(j, g, f);
        c->number[col][c->row] =
            factor->numeric
                ? factor->levels[j->p->treatments[g->treatment * j->p->nfactor + f]].si /
                      cols[col].scale
                : NAN;
    }
    fill_ties(j, c, x);
    for (size_t k = 0; k < j->s->nother; k++) {
        size_t col = C_FIXED + j->s->nfactor + k;

        put_number(j, c, col, response_value(j, &j->s->others[k], x, g) / cols[col].scale);
    }
    c->row_names[c->row++] = x->id;
}

static bool is_reference(const pl_join_work *j, size_t specimen)
{
    return j->p->glue_ups[j->p->specimens[specimen].glue_up].reference;
}

/* What it held is known, or a bound of it. */
static bool says_something(const pl_join_work *j, size_t i)
{
    const pl_broken *b = &j->broken[i];

    return !j->p->specimens[i].spare && !j->out[i] && !b->invalid && !is_reference(j, i) &&
           b->mode != PL_MODE_FIXTURE && !isnan(b->least_N) && !isnan(b->most_N);
}

/* Between changes of what is hard to change a reference joint would be a stretch of its own: it
 * tells nothing there. */
static bool ties(const pl_join_work *j, size_t specimen)
{
    return j->broken[specimen].counts && is_reference(j, specimen) && !pl_study_layers(j->s);
}

/* Reference joints tie sessions and are no data on a level: how they held, session by session. */
static void say_references(pl_join_work *j)
{
    double *sum = PL_NEWN(j->a, j->p->nsession + 1, double), all = 0;
    size_t *n = PL_NEWN(j->a, j->p->nsession + 1, size_t), count = 0;
    pl_text t;

    for (size_t i = 0; sum && n && i < j->p->nspecimen; i++)
        if (is_reference(j, i) && j->broken[i].counts) {
            unsigned session = j->p->glue_ups[j->p->specimens[i].glue_up].session;
            double y = j->broken[i].peak_N / j->broken[i].area_m2;

            sum[session] += y;
            all += y;
            n[session]++;
            count++;
        }
    if (!count)
        return;
    pl_text_init(&t, j->a);
    pl_text_add(&t,
                "the reference joint, no level but a treatment of its own%s, held %s on average of "
                "%zu; session",
                pl_study_layers(j->s) ? "" : " that tells sessions apart",
                pl_study_show(j->a, j->s, all / (double)count, 3), count);
    for (unsigned k = 1; k <= j->p->nsession; k++)
        if (n[k])
            pl_text_add(&t, " %u: %+.3g %%,", k,
                        100 * (sum[k] / (double)n[k] / (all / (double)count) - 1));
    pl_text_put(&t, " by which sessions stood above or below one another, give or take the scatter "
                    "of single joints");
    pl_join_note(j, pl_text_done(&t));
}

static pl_code refuse_empty(pl_join_work *j, size_t tested)
{
    pl_diags *d = &j->run->diags;

    if (tested)
        return pl_fail(d, PL_EDATA, j->s->name,
                       .found = pl_arena_printf(j->a,
                                                "%zu joints, of each of which only a bound is "
                                                "known: not broken, or fallen apart",
                                                tested),
                       .expected = "joints that broke at a load that was read",
                       .mend = "smaller joints or a stronger rig; or more careful hands");
    return pl_fail(d, PL_EDATA, j->s->name, .found = "no joint that was broken yet",
                   .expected = "readings in the book",
                   .mend = pl_arena_printf(
                       j->a, "fill in the break form and: platen take %s breaks.csv", j->s->name));
}

pl_code pl_join(pl_run *run, const pl_loaded *l, const pl_readings *readings, pl_joined *out)
{
    pl_join_work j = {
        .run = run, .a = run->arena, .l = l, .s = l->study, .p = l->plan, .r = readings
    };
    size_t used = 0, planned = 0, broke = 0, excluded = 0, refusals = pl_arena_refusals(run->arena);
    size_t tested = 0, tying = 0;
    pl_table *table;
    columns c, all;
    pl_code rc;

    j.made = PL_NEWN(j.a, j.p->nglue_up, pl_made);
    j.broken = PL_NEWN(j.a, j.p->nspecimen, pl_broken);
    if (!j.made || !j.broken)
        return pl_nomem(&run->diags);
    rc = pl_join_recorded(&j);
    if (!rc)
        rc = pl_join_marks(&j);
    if (!rc)
        rc = pl_join_applied(&j);
    if (!rc)
        rc = pl_join_breaks(&j);
    if (rc)
        return rc;
    for (size_t i = 0; i < j.p->nspecimen; i++) {
        planned += !j.p->specimens[i].spare;
        broke += j.broken[i].broke;
        used += j.broken[i].counts && !is_reference(&j, i);
        excluded += (j.broken[i].invalid || (j.out[i] && j.out[i]->kind == PL_MARK_EXCLUDED)) &&
                    !isnan(j.broken[i].peak_N);
        tested += says_something(&j, i);
        tying += ties(&j, i);
    }
    if (!used)
        return refuse_empty(&j, tested);
    say_references(&j);
    rc = make_columns(&j, used + tying, &c);
    if (!rc)
        rc = make_columns(&j, tested, &all);
    j.breakers = PL_NEWN(j.a, j.p->nspecimen, const char *);
    table = PL_NEW(j.a, pl_table);
    if (rc || !j.breakers || !table)
        return rc ? rc : pl_nomem(&run->diags);
    for (size_t i = 0; i < j.p->nspecimen; i++) {
        if (j.broken[i].counts && !is_reference(&j, i))
            fill_row(&j, &c, &j.p->specimens[i], &j.broken[i]);
        if (says_something(&j, i))
            fill_row(&j, &all, &j.p->specimens[i], &j.broken[i]);
    }
    for (size_t i = 0; i < j.p->nspecimen; i++)
        if (ties(&j, i))
            fill_row(&j, &c, &j.p->specimens[i], &j.broken[i]);
    *table = *c.t; /* the joints that are compared stand first */
    table->nrow = used;
    if (pl_arena_refusals(j.a) != refusals) /* a cell or note is not there: no fit from it */
        return pl_nomem(&run->diags);
    *out = (pl_joined){ .table = table,
                        .held = all.t,
                        .tied = c.t,
                        .notes = j.notes.items,
                        .nnote = j.notes.count,
                        .planned = planned,
                        .broken = broke,
                        .used = used,
                        .tying = tying,
                        .excluded = excluded,
                        .ncolumn = c.ties };
    return PL_OK;
}
