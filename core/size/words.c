/* The answer about numbers in shop words. Figures with their statistics names are
 * the caller's, under Details. */
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "base/text.h"
#include "size/aim.h"

#define NOT_NULL(s) ((s) ? (s) : "")

/* A distance or scatter: "12 %", "1.2 N/mm2". */
const char *pl_size_amount(pl_text *t, const pl_size_question *q, double x)
{
    char *s;

    if (q->relative)
        s = pl_text_number(t->arena, 100 * x, 3);
    else if (q->unit)
        s = pl_units_text(t->arena, x, q->kind, q->unit, 3);
    else
        s = pl_text_number(t->arena, x, 3);
    if (s && q->relative)
        s = pl_arena_printf(t->arena, "%s %%", s);
    t->failed |= !s;
    return NOT_NULL(s);
}

static char *times_in(pl_arena *a, const char *about, double part, int whole)
{
    return pl_arena_printf(a, "%s%.0f time%s in %d", about, part, part > 1.5 ? "s" : "", whole);
}

char *pl_size_how_often(pl_arena *a, double chance)
{
    if (isnan(chance))
        return pl_arena_str(a, "unknown");
    if (chance < 0.005)
        return pl_arena_str(a, "less than 1 time in 200");
    if (chance > 0.995)
        return pl_arena_str(a, "nearly always");
    return chance < 0.095 || chance > 0.905 ? times_in(a, "about ", round(100 * chance), 100)
                                            : times_in(a, "about ", round(10 * chance), 10);
}

/* A chance that was asked for: as it was, if it is so many in 10, 20 or 100. */
const char *pl_size_asked(pl_text *t, double chance)
{
    static const int whole[] = { 10, 20, 100, 1000 };
    char *s = NULL;

    for (size_t i = 0; i < 4 && !s; i++)
        if (fabs(chance * whole[i] - round(chance * whole[i])) < 1e-9)
            s = times_in(t->arena, "", round(chance * whole[i]), whole[i]);
    if (!s)
        s = pl_size_how_often(t->arena, chance);
    t->failed |= !s;
    return NOT_NULL(s);
}

const char *pl_size_often(pl_text *t, double chance)
{
    char *s = pl_size_how_often(t->arena, chance);

    t->failed |= !s;
    return NOT_NULL(s);
}

/* What the aims have in common: the scatter, blocks, and what a glue-up counts. */
static void say_scatter(pl_text *t, const pl_size_question *q, const pl_size_answer *w)
{
    if (q->from == PL_SCATTER_GUESSED)
        pl_text_add(t, "Nobody has said how much equal joints differ; %s: %s is taken.\n",
                    NOT_NULL(q->guess_words), pl_size_amount(t, q, w->sd));
    else
        pl_text_add(t, "Equal glue-ups differ by %s (scatter).\n", pl_size_amount(t, q, w->sd));
    if (q->block_size)
        pl_text_add(t, "Levels are compared within blocks (a board, a session) of %u glue-ups.\n",
                    q->block_size);
    if (q->specimens_per_glue_up > 1)
        pl_text_add(t,
                    "A glue-up counts once, whether one specimen comes from it or all %u: what is "
                    "pressed together is alike.\n",
                    q->specimens_per_glue_up);
}

char *pl_size_asks(pl_arena *a, const pl_size_question *q)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_size_aim_of(q)->say_question(&t, q);
    return pl_text_done(&t);
}

char *pl_size_scatter_words(pl_arena *a, const pl_size_question *q)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_text_put(&t, pl_size_amount(&t, q, pl_size_sd(q)));
    if (q->from == PL_SCATTER_GUESSED)
        pl_text_put(&t, ", the middle of what is common in the trade");
    else if (q->from == PL_SCATTER_PILOT)
        pl_text_add(&t, ", found on %.0f glue-ups", q->sd_df + 1);
    return pl_text_done(&t);
}

static void say_total(pl_text *t, const pl_size_row *r)
{
    pl_text_add(t, " (%zu glue-ups", r->glue_ups);
    if (r->specimens != r->glue_ups)
        pl_text_add(t, ", %zu specimens", r->specimens);
    pl_text_put(t, " in all)");
}

static void say_need(pl_text *t, const pl_size_question *q, const pl_size_answer *w)
{
    if (!w->need) {
        pl_text_add(t,
                    "Not even %u glue-ups per level would do: %s, or make equal joints differ "
                    "less.\n",
                    q->cap, pl_size_aim_of(q)->too_much);
        return;
    }
    pl_text_add(t, "That takes %u glue-ups per level", w->need->glue_ups_per_level);
    say_total(t, w->need);
    pl_text_put(t, q->from == PL_SCATTER_KNOWN ? ".\n" : " if the scatter is as stated.\n");
}

static void say_within(pl_text *t, unsigned n, unsigned cap)
{
    if (n)
        pl_text_add(t, "%u per level", n);
    else
        pl_text_add(t, "more than %u per level", cap);
}

/* What a pilot, or a guess, leaves open. */
static void say_doubt(pl_text *t, const pl_size_question *q, const pl_size_answer *w)
{
    const unsigned *need = w->need_at[PL_SIZE_OVERALL];

    if (q->from == PL_SCATTER_KNOWN)
        return;
    if (q->from == PL_SCATTER_PILOT)
        pl_text_add(t, "It comes from %.0f glue-ups, which leaves it open: it may well be %s. ",
                    q->sd_df + 1, pl_size_amount(t, q, w->sd_upper));
    else
        pl_text_add(t, "At the high end, %s, ", pl_size_amount(t, q, w->sd_upper));
    pl_text_put(t, q->from == PL_SCATTER_PILOT ? "To be on the safe side make " : "it takes ");
    say_within(t, need[PL_SIZE_AT_UPPER], q->cap);
    pl_text_put(t, ".\n");
    if (q->from != PL_SCATTER_PILOT)
        return;
    if (w->stopped) {
        pl_text_add(t, "Stopped by hand before all that those %.0f leave open was weighed.\n",
                    q->sd_df + 1);
        return;
    }
    pl_text_add(t, "Weighing all that those %.0f leave open, success %s takes ", q->sd_df + 1,
                pl_size_asked(t, 1 - q->miss_at_most));
    say_within(t, need[PL_SIZE_ASSURED], q->cap);
    pl_text_put(t, ".\n");
}

static void say_width(pl_text *t, const pl_size_question *q, const pl_size_answer *w)
{
    const pl_size_row *r = w->need;

    if (isnan(q->width_at_most) || !r)
        return;
    pl_text_add(t,
                "With %u per level those limits come out %s apart on average, and at most %s %s.\n",
                r->glue_ups_per_level, pl_size_amount(t, q, r->width),
                pl_size_amount(t, q, q->width_at_most),
                pl_size_often(t, r->width_chance[PL_SIZE_AS_GIVEN]));
}

/* Where every level is made in several treatments, a number counts for each of those. */
static char *per_treatment(pl_arena *a, const pl_size_question *q, char *words)
{
    static const char level[] = "per level";
    pl_text t;

    if (!words || pl_size_replicate(q) == q->levels)
        return words;
    pl_text_init(&t, a);
    for (char *at; (at = strstr(words, level)); words = at + sizeof level - 1) {
        pl_text_bytes(&t, words, (size_t)(at - words));
        pl_text_put(&t, "per treatment");
    }
    pl_text_put(&t, words);
    return pl_text_done(&t);
}

char *pl_size_words(pl_arena *a, const pl_size_question *q, const pl_size_answer *answer)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_size_aim_of(q)->say_question(&t, q);
    if (!q->relative && (!q->unit || !*q->unit))
        pl_text_put(&t,
                    "Numbers without a unit stand in the unit you typed: all of them in the same "
                    "one.\n");
    say_scatter(&t, q, answer);
    say_need(&t, q, answer);
    say_doubt(&t, q, answer);
    say_width(&t, q, answer);
    pl_size_aim_of(q)->say_limits(&t, q, answer);
    return per_treatment(a, q, pl_text_done(&t));
}

char *pl_size_pilot_words(pl_arena *a, const pl_size_question *q, const pl_size_answer *w,
                          unsigned most, pl_diags *d)
{
    unsigned n = most < q->cap ? most : q->cap, assured, pilot;
    pl_text t;

    pl_text_init(&t, a);
    assured = w->need_at[PL_SIZE_OVERALL][PL_SIZE_ASSURED];
    if (q->from == PL_SCATTER_GUESSED) {
        pilot = pl_size_pilot_that_pays(a, q, d);
        if (pilot)
            pl_text_add(&t,
                        "A pilot pays: %u equal joints, each from a glue-up of its own, made and "
                        "broken first, cost less than they are likely to save.\n",
                        pilot);
        else
            pl_text_put(&t, "No pilot saves more than it takes; so few are best made at once.\n");
    } else if (q->from == PL_SCATTER_PILOT && !isnan(q->worth_noticing) && !w->stopped &&
               (!assured || assured > n)) {
        pilot = pl_size_pilot_for(q, n);
        if (pilot)
            pl_text_add(&t,
                        "With %u per level, the most there can be, success %s would take a scatter "
                        "found on %u glue-ups in place of %.0f.\n",
                        n, pl_size_asked(&t, 1 - q->miss_at_most), pilot, q->sd_df + 1);
        else
            pl_text_add(&t, "With %u per level, the most there can be, no pilot makes it sure.\n",
                        n);
    }
    return pl_text_done(&t);
}

static void say_family(pl_text *t, const pl_size_question *q, pl_size_family f, const char *what)
{
    pl_text_add(t, "%s takes ", what);
    say_within(t, pl_size_family_need(q, f), q->cap);
}

char *pl_size_family_words(pl_arena *a, const pl_size_question *q)
{
    pl_text t;

    pl_text_init(&t, a);
    if (q->levels > 2 && q->levels <= PL_RANGE_MOST) {
        say_family(&t, q, PL_SIZE_AGAINST_ONE, "Comparing each level with one named beforehand");
        say_family(&t, q, PL_SIZE_ALL_PAIRS, ", comparing every pair");
        pl_text_add(&t, ", if all those comparisons together may raise a false alarm %s.\n",
                    pl_size_asked(&t, q->false_alarm));
    }
    return per_treatment(a, q, pl_text_done(&t));
}
