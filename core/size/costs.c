/* Costs of a number per level: wood, press hours, days, money, and the best use of a fixed
 * budget. How many there must be is size.c's. */
#include "size/costs.h"

#include <limits.h>
#include <math.h>
#include <string.h>

#include "size/aim.h"
#include "size/power.h"

/* Boards that so many specimens take, spread evenly over the kinds that serve. */
static size_t boards_for(const pl_study *s, size_t specimens)
{
    int with = pl_study_with_board(s);
    size_t boards = 0;

    for (size_t i = 0; i < s->nboard_kinds; i++) {
        size_t alike = 0, share = specimens;

        if (!s->boards[i].specimens)
            return 0;
        for (size_t k = 0; k < s->nboard_kinds; k++)
            alike += with < 0 || !strcmp(s->boards[k].species, s->boards[i].species);
        if (with >= 0)
            share = (specimens + s->factors[with].nlevel - 1) / s->factors[with].nlevel;
        share = (share + alike - 1) / alike;
        boards += (share + s->boards[i].specimens - 1) / s->boards[i].specimens;
    }
    return boards;
}

/* Stations work side by side; hands do not. */
static double days_for(const pl_study *s, size_t glue_ups, double press_s)
{
    double stations = 0, sitting = s->times.session_s, hands = s->times.hands_on_s;

    for (size_t i = 0; i < s->npress; i++)
        stations += s->presses[i].stations;
    if (!(press_s > 0) || !(stations > 0) || !(sitting > 0))
        return NAN;
    return ceil(fmax(press_s / stations, (double)glue_ups * hands) / sitting - 1e-9);
}

static double priced(double sum, double price, double amount)
{
    if (isnan(price))
        return sum;
    return (isnan(sum) ? 0 : sum) + (amount > 0 ? price * amount : 0);
}

void pl_size_cost(const pl_study *s, unsigned n, pl_size_costs *out)
{
    const pl_budget *b = &s->budget;
    pl_size_costs c = { .glue_ups = n * pl_study_treatments(s), .money = NAN };

    c.specimens = c.glue_ups * pl_study_specimens_per_glue_up(s);
    c.boards = boards_for(s, c.specimens);
    c.press_s = pl_study_press_s(s, c.glue_ups);
    c.days = days_for(s, c.glue_ups, c.press_s);
    c.money = priced(c.money, b->glue_up, (double)c.glue_ups);
    c.money = priced(c.money, b->specimen, (double)c.specimens);
    c.money = priced(c.money, b->board, (double)c.boards);
    c.money = priced(c.money, b->press_hour, c.press_s / 3600);
    c.money = priced(c.money, b->day, c.days);
    c.over = (b->specimens && c.specimens > b->specimens) || c.press_s > b->press_s ||
             c.money > b->money;
    *out = c;
}

#define N_MOST 1000000u /* no budget in sight is this large */

unsigned pl_size_within_budget(const pl_study *s)
{
    unsigned low = 0, high = N_MOST;
    pl_size_costs c;

    pl_size_cost(s, N_MOST, &c);
    if (!c.over)
        return UINT_MAX;
    while (high - low > 1) {
        unsigned middle = low + (high - low) / 2;

        pl_size_cost(s, middle, &c);
        *(c.over ? &high : &low) = middle;
    }
    return low;
}

void pl_size_trades(const pl_size_question *q, unsigned glue_ups_per_level, pl_size_trade *out,
                    size_t *n)
{
    unsigned all = glue_ups_per_level * q->levels;

    *n = 0;
    if (q->aim != PL_AIM_DIFFERENCE || q->columns || pl_size_replicate(q) > q->levels ||
        q->levels < 3 || isnan(q->worth_noticing))
        return;
    for (unsigned levels = q->levels; levels >= 2; levels--) {
        pl_size_question with = *q;
        pl_size_trade *t = &out[(*n)++];

        with.levels = levels;
        if (with.block_size > levels && q->block_size == q->levels)
            with.block_size = levels;
        *t = (pl_size_trade){ .levels = levels, .glue_ups_per_level = all / levels };
        for (int k = 0; k < PL_NSIZE_TESTS; k++)
            t->chance[k] = pl_size_error_df(&with, t->glue_ups_per_level) > 0
                               ? pl_size_aim_difference.chance(&with, t->glue_ups_per_level,
                                                               (pl_size_test)k, pl_size_sd(&with))
                               : NAN;
    }
}

double pl_size_best_specimens(const pl_study *s)
{
    const pl_scatter *c = &s->scatter;
    const pl_budget *b = &s->budget;
    double glue_up = priced(priced(NAN, b->glue_up, 1), b->press_hour,
                            pl_study_press_s(s, 1) / 3600);

    return sqrt(glue_up / b->specimen) * c->within / c->between_glue_ups;
}

static void say_costs(pl_text *t, const pl_study *s, unsigned n)
{
    pl_size_costs c;

    pl_size_cost(s, n, &c);
    pl_text_add(t, "%u of each treatment: %zu glue-up%s and %zu specimen%s", n, c.glue_ups,
                c.glue_ups == 1 ? "" : "s", c.specimens, c.specimens == 1 ? "" : "s");
    if (c.boards)
        pl_text_add(t, ", %zu board%s", c.boards, c.boards == 1 ? "" : "s");
    if (c.press_s > 0)
        pl_text_add(t, ", %s press hours", pl_text_number(t->arena, c.press_s / 3600, 3));
    if (c.days > 0)
        pl_text_add(t, ", %.0f day%s at the bench at least", c.days, c.days > 1 ? "s" : "");
    if (!isnan(c.money))
        pl_text_add(t, ", %s %s", pl_text_number(t->arena, c.money, 4), s->budget.currency);
    pl_text_put(t, c.over ? ": more than the budget.\n" : ".\n");
}

static void say_trades(pl_text *t, const pl_size_question *q, unsigned n)
{
    pl_size_trade *list = PL_NEWN(t->arena, q->levels, pl_size_trade);
    size_t count = 0;

    if (!list || n < 2)
        return;
    pl_size_trades(q, n, list, &count);
    if (!count)
        return;
    pl_text_put(t, "The same glue-ups on fewer levels notice two named ones that far apart");
    for (size_t i = 0; i<count; i += count> 4 ? (count - 1) / 3 : 1)
        pl_text_add(t, "%s %u of %u %s", i ? "," : ":", list[i].levels, list[i].glue_ups_per_level,
                    pl_size_often(t, list[i].chance[PL_SIZE_PAIR]));
    pl_text_put(t, ".\n");
}

char *pl_size_cost_words(pl_arena *a, const pl_study *s, const pl_size_question *q, unsigned n)
{
    unsigned most = pl_size_within_budget(s);
    double best = pl_size_best_specimens(s);
    pl_text t;

    pl_text_init(&t, a);
    if (!n)
        return pl_text_done(&t);
    say_costs(&t, s, n);
    if (most != UINT_MAX)
        pl_text_add(&t, "The budget has room for %u of each.\n", most);
    say_trades(&t, q, most < n ? most : n);
    if (best > 0 && isfinite(best))
        pl_text_add(&t,
                    "The steadiest answer for the money comes from about %.0f specimen%s a "
                    "glue-up.\n",
                    fmax(1, round(best)), best >= 1.5 ? "s" : "");
    return pl_text_done(&t);
}
