/* Tables of a linear model under "Details". Words are linear_words.c's. */
#include <math.h>

#include "report/details.h"
#include "report/say.h"

pl_grid *pl_details_effects(pl_arena *a, const pl_linear_fit *l)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "effect", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "sum of squares is", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "df", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "sum of squares", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "mean square", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "F", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "p", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "judged against", NULL);
    for (size_t i = 0; i < l->neffect; i++) {
        const pl_effect *e = &l->effects[i];

        if (i && e->kind != l->effects[i - 1].kind)
            pl_grid_rule(g);
        pl_grid_cell(g, e->name);
        pl_grid_cell(g, pl_ss_kind_name(e->kind));
        pl_grid_number(g, e->df, 6);
        pl_grid_number(g, e->ss, 6);
        pl_grid_number(g, e->ms, 6);
        pl_grid_number(g, e->f, 6);
        pl_grid_cell(g, pl_say_p(a, e->p));
        pl_grid_cell(g, e->error);
    }
    pl_grid_rule(g);
    pl_grid_cell(g, "residual");
    pl_grid_cell(g, "");
    pl_grid_number(g, l->residual.df, 6);
    pl_grid_number(g, l->residual.ss, 6);
    pl_grid_number(g, l->residual.df > 0 ? l->residual.ss / l->residual.df : NAN, 6);
    return g;
}

static pl_grid *coefs(pl_arena *a, const pl_linear_fit *l)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "coefficient", NULL);
    pl_details_coef_columns(g);
    for (size_t i = 0; i < l->ncoef; i++) {
        pl_grid_cell(g, l->coefs[i].name);
        pl_details_coef_cells(g, &l->coefs[i]);
    }
    return g;
}

pl_grid *pl_details_means(pl_arena *a, const pl_linear_fit *l)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "factor", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "level", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "rows", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "mean", l->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "standard error", l->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "low", l->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "high", l->unit);
    for (size_t i = 0; i < l->nmean; i++) {
        const pl_mean *m = &l->means[i];

        pl_grid_cell(g, i && m->factor == l->means[i - 1].factor ? "" : m->factor);
        pl_grid_cell(g, m->level);
        pl_grid_cellf(g, "%zu", m->n);
        pl_details_beside(g, m->estimate, m->se);
        pl_details_beside(g, m->se, m->se);
        pl_details_beside(g, m->low, m->se);
        pl_details_beside(g, m->high, m->se);
    }
    return g;
}

static pl_grid *contrasts(pl_arena *a, const pl_linear_fit *l)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "of", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "contrast", NULL);
    pl_details_coef_columns(g);
    pl_grid_column(g, PL_SIDE_RIGHT, "p", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "judged against", NULL);
    for (size_t i = 0; i < l->ncontrast; i++) {
        const pl_contrast *c = &l->contrasts[i];

        pl_grid_cell(g, c->factor);
        pl_grid_cell(g, c->name);
        pl_details_coef_cells(
            g, &(pl_coef){ c->name, c->estimate, c->se, c->df, c->low, c->high, false });
        pl_grid_cell(g, pl_say_p(a, c->p));
        pl_grid_cell(g, c->error);
    }
    return g;
}

static pl_grid *variances(pl_arena *a, const pl_linear_fit *l)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "scatter between", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "sd", l->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "levels", NULL);
    for (size_t i = 0; i < l->nvariance; i++) {
        pl_grid_cell(g, l->variance[i].name);
        pl_grid_number(g, l->variance[i].sd, 11);
        pl_grid_cellf(g, "%zu", l->variance[i].levels);
    }
    return g;
}

/* An interval as a bar: "----o---" on one scale for all, "|" at no difference. */
static char *bar(pl_arena *a, const pl_comparison *c, double low, double high)
{
    enum { WIDE = 25 };
    char text[WIDE + 1];
    double step = (high - low) / (WIDE - 1);
    double to = isnan(c->high) ? high : c->high;

    for (int i = 0; i < WIDE; i++) {
        double x = low + i * step;

        text[i] = x >= c->low - step / 2 && x <= to + step / 2 ? '-' : ' ';
        if (fabs(x) <= step / 2)
            text[i] = text[i] == '-' ? '+' : '|';
        if (fabs(x - c->estimate) <= step / 2)
            text[i] = 'o';
    }
    text[WIDE] = 0;
    return pl_arena_str(a, text);
}

pl_grid *pl_details_comparisons(pl_arena *a, const pl_linear_fit *l, bool bars)
{
    pl_grid *g = pl_grid_new(a);
    double low = 0, high = 0;

    pl_grid_column(g, PL_SIDE_LEFT, "level", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "less", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "difference", l->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "low", l->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "high", l->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "p (Holm)", NULL);
    if (bars)
        pl_grid_column(g, PL_SIDE_LEFT, "| no difference", NULL);
    for (size_t i = 0; i < l->ncomparison; i++) {
        const pl_comparison *c = &l->comparisons[i];

        low = fmin(low, fmin(c->low, c->estimate));
        high = fmax(high, isnan(c->high) ? c->estimate : fmax(c->high, c->estimate));
    }
    for (size_t i = 0; i < l->ncomparison; i++) {
        const pl_comparison *c = &l->comparisons[i];

        pl_grid_cell(g, c->level);
        if (isnan(c->margin))
            pl_grid_cell(g, c->against);
        else
            pl_grid_cell(g, pl_arena_printf(a, "%s times %s", pl_text_number(a, 1 - c->margin, 4),
                                            c->against));
        pl_grid_number(g, c->estimate, 5);
        pl_grid_number(g, c->low, 5);
        pl_grid_number(g, c->high, 5);
        pl_grid_cell(g, pl_say_p(a, c->p_holm));
        if (bars)
            pl_grid_cell(g, bar(a, c, low, high));
    }
    return g;
}

/* The answer that does not lead, in the same tables. */
static void beside(pl_arena *a, const pl_linear_fit *l, pl_text *t)
{
    const char *head = l->recovered_leads ? "within blocks only" : "with what blocks tell";
    pl_linear_fit other = *l;

    other.effects = l->beside->effects;
    other.neffect = l->beside->neffect;
    other.means = l->beside->means;
    other.nmean = l->beside->nmean;
    other.coefs = l->beside->coefs;
    other.ncoef = l->beside->ncoef;
    pl_details_add(t, a, "Scatter of random blocks", variances(a, l));
    if (other.neffect)
        pl_details_add(t, a, pl_arena_printf(a, "Effects, %s", head),
                       pl_details_effects(a, &other));
    if (other.nmean)
        pl_details_add(t, a, pl_arena_printf(a, "Level means, %s", head),
                       pl_details_means(a, &other));
    pl_details_add(t, a, pl_arena_printf(a, "Coefficients, %s", head), coefs(a, &other));
}

void pl_linear_details(pl_arena *a, const pl_linear_fit *l, pl_text *t)
{
    if (l->neffect)
        pl_details_add(t, a, "Effects", pl_details_effects(a, l));
    if (l->nmean)
        pl_details_add(t, a, "Level means", pl_details_means(a, l));
    if (l->ncontrast)
        pl_details_add(t, a, "Contrasts", contrasts(a, l));
    if (l->ncomparison)
        pl_details_add(t, a, "Comparisons", pl_details_comparisons(a, l, true));
    if (l->ncoef)
        pl_details_add(t, a, "Coefficients", coefs(a, l));
    if (l->nvariance)
        beside(a, l, t);
    pl_text_add(t, "Residual sd %s on %s df; R squared %s\n", pl_text_number(a, l->residual.sd, 11),
                pl_text_number(a, l->residual.df, 6), pl_text_number(a, l->r_squared, 11));
}
