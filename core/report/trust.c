/* "Can these figures be trusted?" in words and as JSON. The tests are fit/trust.c's and, for drift,
 * the linear model's; the pictures are pictures.c's. */
#include "report/trust.h"

#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/boxcox.h"
#include "fit/plateau.h"
#include "fit/trust.h"
#include "report/say.h"

#define SELDOM 0.01 /* what chance alone does less often than this is pointed out */

typedef struct look {
    pl_spread spread;
    pl_far_off far;
    const size_t *level; /* of each unit */
} look;

static size_t level_of(const pl_fit_answer *f, const pl_plateau *p, size_t unit)
{
    const pl_column *planned = f->spec && f->spec->planned
                                   ? pl_table_find(f->table, f->spec->planned)
                                   : NULL;
    const char *text = planned ? planned->text[p->unit_row[unit]] : NULL;
    size_t best = 0;

    for (size_t k = 0; k < p->nlevel; k++) {
        if (text && !strcmp(p->levels[k].level, text))
            return k;
        if (fabs(p->levels[k].at - p->unit_x[unit]) < fabs(p->levels[best].at - p->unit_x[unit]))
            best = k;
    }
    return best;
}

static pl_code look_at(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p, look *out,
                       pl_diags *d)
{
    size_t *level = PL_NEWN(a, p->nunit, size_t);
    double *residual = PL_NEWN(a, p->nunit, double), *adjusted = PL_NEWN(a, p->nunit, double);

    if (!level || !residual || !adjusted)
        return pl_nomem(d);
    for (size_t i = 0; i < p->nunit; i++)
        level[i] = level_of(f, p, i);
    out->level = level;
    for (size_t i = 0; i < p->nunit; i++) { /* in proportion: shares of the mean are to be alike */
        double mean = p->even_at > 0 ? p->unit_fitted[i] / p->even_at : 1;

        residual[i] = p->unit_residual[i] / mean;
        adjusted[i] = p->even_at > 0 ? residual[i] : p->unit_adjusted[i];
    }
    out->far = pl_trust_far_off(residual, p->nunit, p->error_df);
    return pl_trust_spread(a, adjusted, level, p->nunit, p->nlevel, &out->spread, d);
}

/* "1 time in 40" of what chance alone does. */
static const char *seldom(pl_arena *a, double p)
{
    return p < 0.001 ? "less than 1 time in 1000"
                     : pl_arena_printf(a, "about 1 time in %s",
                                       pl_text_number(a, round(1 / p), p > 0.1 ? 1 : 2));
}

/* ---------------------------------------------------------------- words ---- */

static void say_drift(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    const pl_coef *c = f->drift;
    const char *unit = f->plateaus[0].unit;
    double p;

    if (!c || !(c->df > 0) || !(c->se > 0))
        return;
    p = 2 * pl_t_upper(fabs(c->estimate) / c->se, c->df);
    if (p >= SELDOM) {
        pl_text_add(
            t,
            "Order of gluing: no drift shows; from one glue-up to the next strength changes "
            "by something between %s and %s %s.\n",
            pl_text_number(a, c->low, 2), pl_text_number(a, c->high, 2), unit);
        return;
    }
    pl_text_add(
        t,
        "Order of gluing: strength %s by about %s %s from one glue-up to the next; chance "
        "alone would do that %s. Something warmed up, dried out or was learnt. The order was "
        "drawn at random, so no level had the better of it, but all ranges are wider for it.\n",
        c->estimate > 0 ? "grew" : "fell", pl_text_number(a, fabs(c->estimate), 2), unit,
        seldom(a, p));
}

static void say_spread(pl_arena *a, const pl_plateau *p, const look *k, const char *who, pl_text *t)
{
    const pl_spread *s = &k->spread;
    double chance = isnan(s->levene_p) ? s->bartlett_p : s->levene_p;

    if (isnan(chance))
        return;
    pl_text_add(t, "%s: joints of one level differ least at %s (%s %s) and most at %s (%s): ", who,
                p->levels[s->least].level, pl_text_number(a, s->least_sd, 2), p->unit,
                p->levels[s->most].level, pl_text_number(a, s->most_sd, 2));
    if (chance >= SELDOM)
        pl_text_put(t, "no more than chance makes them.\n");
    else
        pl_text_add(t,
                    "chance alone would make them so unlike %s. Ranges are then too narrow where "
                    "joints differ much and too wide where they differ little.\n",
                    seldom(a, chance));
}

static void say_far(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p, const look *k,
                    const char *who, pl_text *t)
{
    if (k->far.at == p->nunit)
        return;
    if (k->far.p >= SELDOM) {
        pl_text_add(t, "%s: no single joint lies far off.\n", who);
        return;
    }
    pl_text_add(t,
                "%s: %s lies far %s the others of its level; chance alone would put one so far off "
                "%s. Look it up: a label, a figure, a knot. It counts until you exclude it, with a "
                "reason.\n",
                who, f->table->row_names[p->unit_row[k->far.at]], k->far.t > 0 ? "above" : "below",
                seldom(a, k->far.p));
}

/* The scatter found beside the one that the study expected, as strengths. */
typedef struct scatter {
    double found, df, expected;
    double pilot_df; /* behind the one expected; INFINITY when the study does not say */
    double f, chance;
} scatter;

/* level: the mean at which the scatter found stands. false: nothing was found or expected. */
static bool look_at_scatter(const pl_fit_answer *f, const char *response, double found, double df,
                            double level, scatter *out)
{
    const pl_column *y = pl_table_find(f->table, response);
    const pl_scatter *s = f->study ? &f->study->scatter : NULL;

    if (!s || s->unknown || !y || !(df > 0) || !(found > 0))
        return false;
    *out = (scatter){ .found = found, .df = df };
    out->expected = isnan(s->cv) ? s->sd_Pa / y->scale : s->cv * level;
    out->pilot_df = s->glue_ups > 1 ? s->glue_ups - 1.0 : INFINITY;
    out->f = pow(found / out->expected, 2);
    /* the pilot's own scatter is one of a few glue-ups: an F, a chi-square where it is not said */
    out->chance = out->f > 1 ? pl_f_upper(out->f, df, out->pilot_df)
                             : pl_f_upper(1 / out->f, out->pilot_df, df);
    return out->expected > 0;
}

static bool plateau_scatter(const pl_fit_answer *f, const pl_plateau *p, scatter *out)
{
    return look_at_scatter(f, p->response, p->error_sd, p->error_df,
                           p->even_at > 0 ? p->even_at : p->height, out);
}

/* Of a study without curves: equal joints by its linear model. */
static bool linear_scatter(const pl_fit_answer *f, scatter *out)
{
    const pl_linear_fit *l = f->linear;

    return !f->nplateau && l && l->ncoef &&
           look_at_scatter(f, l->response, l->residual.sd, l->residual.df, l->coefs[0].estimate,
                           out);
}

static void say_scatter(pl_arena *a, const scatter *s, const char *unit, const char *who,
                        pl_text *t)
{
    pl_text_add(t, "%s: equal joints differ by %s %s; the study expected %s", who,
                pl_text_number(a, s->found, 2), unit, pl_text_number(a, s->expected, 2));
    if (isfinite(s->pilot_df))
        pl_text_add(t, ", found on %s glue-ups", pl_text_number(a, s->pilot_df + 1, 4));
    pl_text_put(t, s->chance >= SELDOM ? ". That agrees.\n"
                   : s->f > 1
                       ? ". That is more than chance explains: the number of joints was worked "
                         "out for less scatter.\n"
                       : ". That is less than chance explains: good work, or a pilot that was "
                         "mixed from several boards.\n");
}

/* "the logarithm of time", "time to the power -0.8" */
static const char *power_name(pl_arena *a, double power, const char *what)
{
    static const struct {
        double power;
        const char *name;
    } plain[] = { { -1, "one over" },
                  { 0, "the logarithm of" },
                  { 0.5, "the square root of" },
                  { 2, "the square of" } };

    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++)
        if (fabs(power - plain[i].power) < 0.005)
            return pl_arena_printf(a, "%s %s", plain[i].name, what);
    return pl_arena_printf(a, "%s to the power %s", what, pl_text_number(a, power, 2));
}

static const char *reach(pl_arena *a, double limit, bool open, const char *way)
{
    return open ? pl_arena_printf(a, "%s %s%g", way, way[0] == 'l' ? "-" : "", PL_BOXCOX_MOST)
                : pl_text_number(a, limit, 2);
}

/* The plain power nearest the middle among those that fit; the found one when none does. */
static double plain_power(const pl_boxcox *p)
{
    static const double plain[] = { 0, 0.5, -1, -0.5, 2, -2 };
    double best = p->power, off = INFINITY;

    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++)
        if ((p->low_open || plain[i] >= p->low) && (p->high_open || plain[i] <= p->high) &&
            fabs(plain[i] - p->power) < off) {
            off = fabs(plain[i] - p->power);
            best = plain[i];
        }
    return best;
}

void pl_power_words(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    const pl_boxcox *p = f->power;
    const char *what = f->linear ? f->linear->response : "strength", *low, *high;
    const char *who = f->study ? "joints" : "readings";

    if (!p)
        return;
    low = reach(a, p->low, p->low_open, "less than");
    high = reach(a, p->high, p->high_open, "more than");
    if ((p->low_open || p->low <= 1) && (p->high_open || p->high >= 1)) {
        pl_text_add(t,
                    "Scale: %s as it is will do: no other scale makes %s of one level scatter "
                    "more evenly than chance explains (powers from %s to %s do as well).\n",
                    what, who, low, high);
        return;
    }
    pl_text_add(t,
                "Scale: %s of one level would scatter more evenly in %s (powers from %s to %s "
                "do; power 1, %s as it is, does not). Ranges are then too narrow where %s is %s "
                "and too wide where it is %s.\n",
                who, power_name(a, plain_power(p), what), low, high, what, what,
                p->power < 1 ? "high" : "low", p->power < 1 ? "low" : "high");
}

void pl_power_json(pl_jval *object, const pl_fit_answer *f)
{
    pl_jval *o;

    if (!f->power)
        return;
    o = pl_jadd_object(object, "box_cox");
    pl_jadd_number(o, "power", f->power->power);
    pl_jadd_number(o, "low", f->power->low);
    pl_jadd_number(o, "high", f->power->high);
    pl_jadd_bool(o, "low_open", f->power->low_open);
    pl_jadd_bool(o, "high_open", f->power->high_open);
    pl_jadd_whole(o, "units", (long long)f->power->units);
}

pl_code pl_trust_words(pl_arena *a, const pl_fit_answer *f, pl_text *t, pl_diags *d)
{
    scatter s;

    if (f->nplateau)
        say_drift(a, f, t);
    for (size_t i = 0; i < f->nplateau; i++) {
        const pl_plateau *p = &f->plateaus[i];
        const char *who = pl_say_group(a, p);
        look k;
        pl_code rc = look_at(a, f, p, &k, d);

        if (rc)
            return rc;
        say_spread(a, p, &k, who, t);
        say_far(a, f, p, &k, who, t);
        if (plateau_scatter(f, p, &s))
            say_scatter(a, &s, p->unit, who, t);
    }
    if (linear_scatter(f, &s))
        say_scatter(a, &s, f->linear->unit, "All joints", t);
    pl_power_words(a, f, t);
    pl_drawn_words(a, f, t);
    return PL_OK;
}

/* ----------------------------------------------------------------- json ---- */

static void put_check(pl_jval *list, const pl_plateau *p, const char *name, double statistic,
                      double df1, double df2, double chance)
{
    pl_jval *o;

    if (isnan(statistic))
        return;
    o = pl_jadd_object(list, NULL);
    pl_jadd_text(o, "name", name);
    if (p && p->group)
        pl_jadd_text(pl_jadd_object(o, "group"), p->group_factor, p->group);
    pl_jadd_number(o, "statistic", statistic);
    pl_jadd_number(o, "df1", df1);
    pl_jadd_number(o, "df2", df2);
    pl_jadd_number(o, "p", chance);
}

/* Memory that runs out is seen when the text is made. */
void pl_trust_json(pl_jval *object, const pl_fit_answer *f)
{
    pl_jval *list = pl_jadd_array(object, "checks");
    const pl_coef *c = f->drift;
    pl_arena *a = pl_arena_new(0);
    pl_diags unsaid;
    scatter s;

    if (!a)
        return;
    pl_diags_init(&unsaid, a);
    if (c && c->df > 0 && c->se > 0) {
        double t = c->estimate / c->se;

        put_check(list, NULL, "drift", t, c->df, NAN, 2 * pl_t_upper(fabs(t), c->df));
    }
    for (size_t i = 0; i < f->nplateau; i++) {
        const pl_plateau *p = &f->plateaus[i];
        look k;

        if (look_at(a, f, p, &k, &unsaid))
            break;
        put_check(list, p, "spread-bartlett", k.spread.bartlett, k.spread.bartlett_df, NAN,
                  k.spread.bartlett_p);
        put_check(list, p, "spread-levene", k.spread.levene, k.spread.levene_df1,
                  k.spread.levene_df2, k.spread.levene_p);
        put_check(list, p, "far-off", k.far.t, p->error_df - 1, NAN, k.far.p);
        if (plateau_scatter(f, p, &s))
            put_check(list, p, "scatter", s.f, s.df, s.pilot_df, s.chance);
    }
    pl_arena_free(a);
}
