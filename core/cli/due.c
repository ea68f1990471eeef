/* platen due: what to unclamp, break and glue next, over all studies of the book. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/calendar.h"

typedef struct due_options {
    const char *at;
} due_options;

enum { KEY_AT = 1 };

static const struct argp_option options[] = {
    { "at", KEY_AT, "TIME", 0, "as if it were then (2027-03-03 14:05); now if left out", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    due_options *o = run->options;

    (void)key;
    o->at = arg;
    return PL_OK;
}

#define SOON_S 86400.0 /* what begins within a day is said in full */

typedef enum due_state { DUE_OVER, DUE_NOW, DUE_NEXT, DUE_LATER } due_state;
static const char *const state_names[] = { "overdue", "now", "next", "later" };

typedef struct due_item {
    const char *study;
    const pl_task *task;
    due_state state;
    char *when;
} due_item;

typedef struct due_list {
    pl_run *run;
    double now;
    due_item *items;
    size_t count, room;
} due_list;

/* A clamp that was never put on is not due to come off. */
static bool left_to_do(const pl_task *t)
{
    return !t->done && (t->kind != PL_TASK_OPEN || t->begun);
}

static due_state state_of(const pl_task *t, double now)
{
    if (t->by < now)
        return DUE_OVER;
    if (t->from <= now)
        return DUE_NOW;
    return t->from <= now + SOON_S ? DUE_NEXT : DUE_LATER;
}

static pl_code add(due_list *list, const char *study, const pl_task *t)
{
    if (list->count == list->room) {
        list->room = list->room ? 2 * list->room : 32;
        list->items = pl_arena_grow(list->run->arena, list->items, list->count, list->room,
                                    sizeof *list->items);
    }
    if (!list->items)
        return pl_nomem(&list->run->diags);
    list->items[list->count++] = (due_item){ .study = study,
                                             .task = t,
                                             .state = state_of(t, list->now),
                                             .when = pl_calendar_time(list->run->arena, t->from,
                                                                      true) };
    return PL_OK;
}

/* The clamps that are on and the breaking that is ready all count; of the sessions
 * that were not begun only the first does. */
static pl_code add_study(due_list *list, const pl_loaded *l)
{
    pl_run *run = list->run;
    pl_calendar *c = PL_NEW(run->arena, pl_calendar);
    bool session = false;
    pl_code rc = c ? pl_calendar_of(run, l, list->now, c) : pl_nomem(&run->diags);

    for (size_t i = 0; !rc && i < c->ntask; i++) {
        const pl_task *t = &c->tasks[i];

        if (!left_to_do(t) || (t->kind == PL_TASK_GLUE && session))
            continue;
        session = session || t->kind == PL_TASK_GLUE;
        rc = add(list, l->study ? l->study->name : "", t);
    }
    return rc;
}

static int by_state_and_time(const void *left, const void *right)
{
    const due_item *x = left, *y = right;

    if (x->state != y->state)
        return (int)x->state - (int)y->state;
    if (x->task->from != y->task->from)
        return (x->task->from > y->task->from) - (x->task->from < y->task->from);
    return strcmp(x->study, y->study);
}

static void say(due_list *list)
{
    static const char *const heads[] = { "Overdue", "Now", "Within a day", "Later" };
    pl_run *run = list->run;
    pl_jval *out = pl_jadd_array(run->answer, "due");

    if (!list->count)
        pl_text_put(&run->text, "Nothing is due.\n");
    for (size_t i = 0; i < list->count; i++) {
        const due_item *item = &list->items[i];
        pl_jval *o = pl_jadd_object(out, NULL);

        if (!i || list->items[i - 1].state != item->state)
            pl_text_add(&run->text, "%s%s\n", i ? "\n" : "", heads[item->state]);
        pl_text_add(&run->text, "  %-17s %s: %s\n", item->when, item->study, item->task->words);
        pl_jadd_text(o, "study", item->study);
        pl_jadd_text(o, "task", item->task->id);
        pl_jadd_text(o, "state", state_names[item->state]);
        pl_jadd_text(o, "words", item->task->words);
        pl_jadd_number(o, "from", item->task->from);
        pl_jadd_number(o, "by", item->task->by);
    }
}

static pl_code run_due(pl_run *run)
{
    due_options *o = run->options;
    due_list list = { .run = run };
    const pl_book_study *studies = NULL;
    size_t n = 0;
    pl_book *book;
    pl_loaded l = { 0 };
    pl_code rc = PL_OK;

    if (run->narg)
        rc = pl_load(run, run->args[0], PL_LOAD_PLAN, &l);
    if (!rc)
        rc = pl_take_time(run, "--at", o->at, &list.now);
    if (!rc && !run->narg)
        rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);
    if (!rc && !run->narg)
        rc = pl_book_studies(run->arena, book, &studies, &n, &run->diags);
    if (!rc && run->narg)
        rc = add_study(&list, &l);
    for (size_t i = 0; i < n && !rc; i++) {
        rc = pl_load(run, studies[i].name, PL_LOAD_PLAN | PL_LOAD_UNSAID, &l);
        if (!rc)
            rc = add_study(&list, &l);
    }
    if (rc)
        return rc;
    if (list.count)
        qsort(list.items, list.count, sizeof *list.items, by_state_and_time);
    say(&list);
    return PL_OK;
}

const pl_verb pl_verb_due = {
    .name = "due",
    .args = "[STUDY]",
    .summary = "what to unclamp, break and glue next, and what is overdue",
    .words =
        "Says which clamps may come off, which joints are cured, and which session comes next,\n"
        "from the times that were taken into the book; of all studies, or of one. A time that\n"
        "was not taken is taken as planned.",
    .examples = "due\n"
                "due stair-lap --at \"2027-03-03 14:05\"\n",
    .options = options,
    .take = take,
    .options_size = sizeof(due_options),
    .most_args = 1,
    .run = run_due,
};
