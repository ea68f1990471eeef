/* Random studies of every arrangement, invented: what each plan must hold, the same plan from the
 * same seed, nothing lost on its way through JSON, and none through a book. 1,500 studies; 20,000
 * with PLATEN_LONG. */
#define SHOP_IN_MEMORY
#include "../book/shop.h"

#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "design/ids.h"
#include "design/plan_make.h"

#define STUDIES 1500
#define STUDIES_LONG 20000
#define BOOK_EVERY 20

/* ------------------------------------------------------------------ studies -- */

typedef struct writer {
    pl_stream *r;
    pl_text t;
    unsigned nfactor, levels;
    bool species;
} writer;

static unsigned pick(writer *w, unsigned from, unsigned to)
{
    return from + pl_stream_below(w->r, to - from + 1);
}

static void add_named(writer *w, const char *name, unsigned levels, const char *rest)
{
    pl_text_add(&w->t, "%s{\"name\": \"%s\", \"levels\": [", w->nfactor++ ? ", " : "", name);
    for (unsigned i = 0; i < levels; i++)
        pl_text_add(&w->t, "%s\"%s %c\"", i ? ", " : "", name, 'a' + (int)i);
    pl_text_add(&w->t, "]%s}", rest);
}

static void add_measured(writer *w, unsigned i, unsigned count)
{
    static const char *const units[] = { "mm", "min", "g/m2", "degC", "N/mm2", "m", "s" };

    pl_text_add(&w->t,
                "%s{\"name\": \"dial %u\", \"from\": \"2 %s\", \"to\": \"10 %s\", \"count\": "
                "%u, \"set_by\": \"hand\"}",
                w->nfactor++ ? ", " : "", i, units[i], units[i], count);
}

static void add_species(writer *w)
{
    if (w->species)
        pl_text_put(&w->t, ", {\"name\": \"species\", \"levels\": [\"beech\", \"larch\"], "
                           "\"comes_with\": \"board\"}");
}

/* Factors, and the arrangement that goes with them; NULL: none is asked for. */
static const char *add_factors(writer *w, pl_arena *a, pl_arrangement kind, unsigned *n)
{
    const char *name = pl_arrangement_name(kind);
    unsigned k;

    *n = pick(w, 1, 3);
    switch (kind) {
    case PL_ARRANGE_FRACTION:
    case PL_ARRANGE_SCREENING:
        k = pick(w, 4, 6);
        for (unsigned i = 0; i < k; i++)
            add_named(w, pl_arena_printf(a, "f%u", i), 2, "");
        *n = 1;
        return pl_arena_printf(a, "\"kind\": \"%s\"", name);
    case PL_ARRANGE_LATIN:
    case PL_ARRANGE_GRAECO_LATIN:
        w->levels = kind == PL_ARRANGE_LATIN ? pick(w, 2, 5) : pick(w, 3, 5);
        add_named(w, "glue", w->levels, "");
        if (kind == PL_ARRANGE_GRAECO_LATIN)
            add_named(w, "pads", w->levels, "");
        *n = kind == PL_ARRANGE_LATIN ? w->levels : 1;
        return pl_arena_printf(a, "\"kind\": \"%s\"", name);
    case PL_ARRANGE_CENTRAL:
    case PL_ARRANGE_BOX_BEHNKEN:
        k = pick(w, 3, 4);
        w->species = false;
        for (unsigned i = 0; i < k; i++)
            add_measured(w, i, kind == PL_ARRANGE_CENTRAL ? 5 : 3);
        *n = 1;
        return pl_arena_printf(a, "\"kind\": \"%s\"%s", name,
                               kind == PL_ARRANGE_CENTRAL && pick(w, 0, 1)
                                   ? ", \"axial\": \"orthogonal-blocks\""
                                   : "");
    case PL_ARRANGE_OPTIMAL:
        add_measured(w, 0, 3);
        add_named(w, "glue", 3, "");
        w->species = false;
        *n = 1;
        return "\"kind\": \"optimal\", \"runs\": 12";
    case PL_ARRANGE_SPLIT_PLOT:
        add_named(w, "room", 2,
                  pick(w, 0, 1) ? ", \"hard_to_change\": \"yes\""
                                : ", \"hard_to_change\": \"very\"");
        add_named(w, "paste", pick(w, 2, 3), pick(w, 0, 1) ? ", \"hard_to_change\": \"yes\"" : "");
        add_named(w, "pads", 2, "");
        return "\"kind\": \"split-plot\"";
    default:
        add_named(w, "glue", pick(w, 2, 5), "");
        if (pick(w, 0, 1))
            add_named(w, "pads", 2, "");
        return kind == PL_ARRANGE_AUTO ? NULL : pl_arena_printf(a, "\"kind\": \"%s\"", name);
    }
}

static char *study_text(pl_arena *a, pl_stream *r, size_t number, pl_arrangement kind, unsigned *n)
{
    bool wood = pl_stream_below(r, 4) || kind == PL_ARRANGE_LATIN ||
                kind == PL_ARRANGE_GRAECO_LATIN || kind == PL_ARRANGE_INCOMPLETE_BLOCKS ||
                kind == PL_ARRANGE_ROW_COLUMN;
    writer w = { .r = r, .species = wood && pl_stream_below(r, 2) };
    const char *arrangement;
    unsigned boards, hold;

    pl_text_init(&w.t, a);
    pl_text_add(&w.t,
                "{\"study\": \"random-%zu\", \"question\": {\"aim\": \"difference\", "
                "\"worth_noticing\": \"10 %%\"}, \"factors\": [",
                number);
    arrangement = add_factors(&w, a, kind, n);
    add_species(&w);
    boards = pick(&w, 3, 12);
    hold = pick(&w, 3, 20);
    pl_text_add(&w.t,
                "], \"glue_ups_per_level\": %u, \"joint\": {\"kind\": \"lap\", \"width\": \"30 "
                "mm\", \"overlap\": \"20 mm\", \"specimens_per_glue_up\": %u}",
                *n, pick(&w, 1, 2));
    if (wood)
        pl_text_add(&w.t,
                    ", \"boards\": [{\"species\": \"beech\", \"count\": %u, \"specimens\": %u}, "
                    "{\"species\": \"%s\", \"count\": %u, \"specimens\": %u}], \"cutting\": "
                    "{\"spare_joints\": \"1 in 10\"}",
                    boards, 2 * hold, w.species ? "larch" : "oak", boards, 2 * hold);
    pl_text_add(&w.t,
                ", \"presses\": [{\"name\": \"bench\", \"stations\": %u}], \"times\": "
                "{\"clamp\": \"40 min\", \"hands_on\": \"4 min\"}",
                pick(&w, 1, 6));
    if (arrangement)
        pl_text_add(&w.t, ", \"arrangement\": {%s}", arrangement);
    pl_text_put(&w.t, "}\n");
    return pl_text_done(&w.t);
}

/* --------------------------------------------------------------------- laws -- */

static void check_specimens(bench *b, const pl_plan *p)
{
    bool *broken = PL_NEWN(b->a, p->nspecimen + 1, bool);
    size_t m = p->nspecimen / p->nglue_up;

    assert_int_equal(p->nspecimen, p->nglue_up * m);
    for (size_t i = 0; i < p->nspecimen; i++) {
        const pl_specimen *x = &p->specimens[i];

        assert_int_equal(x->glue_up, i / m); /* every glue-up has its own, each once */
        assert_true(pl_id_valid(x->id));
        assert_ptr_equal(pl_plan_find(p, x->id), x);
        assert_int_equal(x->break_order == 0, x->spare);
        assert_false(x->break_order && broken[x->break_order]);
        broken[x->break_order] = x->break_order;
    }
}

/* Treatments as often as asked, boards within their room and of one wood, sessions and orders
 * rising. */
static void check_glue_ups(bench *b, const pl_study *s, const pl_plan *p, unsigned n)
{
    size_t *times = PL_NEWN(b->a, p->ntreatment, size_t),
           *held = PL_NEWN(b->a, p->nboard + 1, size_t);
    int with = pl_study_with_board(s);
    size_t made = 0;

    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        if (g->board >= 0)
            held[g->board] += p->nspecimen / p->nglue_up;
        if (g->spare)
            continue;
        made++;
        times[g->treatment]++;
        assert_int_equal(g->glue_order, i + 1);
        assert_true(!i || (g->session >= g[-1].session && g->session <= g[-1].session + 1));
        if (with >= 0 && g->board >= 0)
            assert_string_equal(p->boards[g->board].species,
                                s->factors[with]
                                    .levels[p->treatments[g->treatment * p->nfactor + (size_t)with]]
                                    .text);
    }
    assert_int_equal(made, n * p->ntreatment);
    for (size_t t = 0; t < p->ntreatment && !s->arrangement.centre; t++)
        assert_true(times[t] == n || s->arrangement.kind == PL_ARRANGE_OPTIMAL);
    for (size_t k = 0; k < p->nboard; k++)
        assert_true(held[k] <= s->boards[p->boards[k].stock].specimens);
}

/* What is hard to change changes from stretch to stretch only. */
static void check_stretches(const pl_study *s, const pl_plan *p)
{
    for (size_t i = 1; i < p->nglue_up && !p->glue_ups[i].spare; i++)
        for (unsigned l = 0; l < pl_study_layers(s); l++) {
            const pl_glue_up *g = &p->glue_ups[i];

            assert_true(g->stretch[l] == g[-1].stretch[l] || g->stretch[l] == g[-1].stretch[l] + 1);
            for (size_t f = 0; f < p->nfactor && g->stretch[l] == g[-1].stretch[l]; f++)
                if (pl_study_layer_of(s, f) <= l)
                    assert_int_equal(p->treatments[g->treatment * p->nfactor + f],
                                     p->treatments[g[-1].treatment * p->nfactor + f]);
        }
}

/* Balance where it is promised: nothing lost to blocks by squares and complete sets within a
 * session. */
static void check_balance(const pl_study *s, const pl_plan *p)
{
    if (s->arrangement.kind == PL_ARRANGE_LATIN || s->arrangement.kind == PL_ARRANGE_GRAECO_LATIN)
        assert_rel("a square", p->health.efficiency, 1, 1e-9);
    if (strstr(p->chosen, ", balanced: ") && p->nsession == 1)
        assert_rel("balanced", p->health.efficiency, p->health.efficiency_bound, 1e-9);
}

static char *text_of(pl_arena *a, const pl_study *s, const pl_plan *p)
{
    pl_jval *object = pl_jobject(a);

    assert_int_equal(pl_plan_to_json(s, p, object), PL_OK);
    return pl_jtext(a, object);
}

static void check_again(bench *b, const pl_study *s, const pl_plan *p, unsigned n, uint64_t seed)
{
    char *text = text_of(b->a, s, p);
    const pl_plan *again = NULL, *back = NULL;
    const pl_json *json;

    assert_ok(b, pl_plan_make(b->a, s, NULL, n, seed, NULL, &again, &b->d));
    assert_string_equal(text_of(b->a, s, again), text);
    assert_ok(b, pl_json_parse(b->a, "plan", text, strlen(text), &json, &b->d));
    assert_ok(b, pl_plan_from_json(b->a, s, json, &back, &b->d));
    assert_string_equal(text_of(b->a, s, back), text);
}

/* Drawn anew with ids that nobody bears, frozen, and read back. */
static void check_book(bench *b, const char *path, const pl_study *s, unsigned n, uint64_t seed)
{
    pl_plan *kept = PL_NEW(b->a, pl_plan);
    pl_issued issued = { 0 };
    const pl_plan *p = NULL, *back = NULL;
    const pl_study *read = NULL;
    pl_book *book;

    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d));
    assert_ok(b, pl_book_ids(b->a, book, &issued.ids, &issued.count, &b->d));
    assert_ok(b, pl_plan_make(b->a, s, NULL, n, seed, &issued, &p, &b->d));
    *kept = *p;
    assert_ok(b, pl_book_freeze(book, s, kept, &kept->revision, &b->d));
    assert_ok(b, pl_book_plan(b->a, book, s->name, 0, &read, &back, &b->d));
    assert_string_equal(read->text, s->text);
    assert_string_equal(text_of(b->a, read, back), text_of(b->a, s, kept));
}

/* ---------------------------------------------------------------------- all -- */

typedef struct tally {
    size_t made[PL_NARRANGEMENTS], refused, kept;
} tally;

static void one_study(size_t number, const char *book, pl_stream *r, tally *t)
{
    pl_arrangement kind = (pl_arrangement)(number % PL_NARRANGEMENTS);
    const pl_study *s = NULL;
    const pl_plan *p = NULL;
    unsigned n;
    char *text;
    void *own;
    bench *b;

    bench_open(&own);
    b = own;
    text = study_text(b->a, r, number, kind, &n);
    assert_ok(b, pl_study_parse(b->a, "random.json", text, strlen(text), &s, &b->d));
    if (pl_plan_make(b->a, s, NULL, n, number, NULL, &p, &b->d)) {
        assert_true(b->d.count > 0); /* and says why */
        t->refused++;
        bench_close(&own);
        return;
    }
    t->made[kind]++;
    check_specimens(b, p);
    check_glue_ups(b, s, p, n);
    check_stretches(s, p);
    check_balance(s, p);
    check_again(b, s, p, n, number);
    if (t->made[kind] % BOOK_EVERY == 1) {
        check_book(b, book, s, n, number);
        t->kept++;
    }
    bench_close(&own);
}

static void test_random_plans(void **state)
{
    const char *folder = new_folder(*state);
    bench *b = *state;
    size_t studies = getenv("PLATEN_LONG") ? STUDIES_LONG : STUDIES, made = 0;
    tally t = { 0 };
    pl_stream r;

    pl_stream_init(&r, 11, PL_FOR_TEST, 0);
    for (size_t i = 0; i < studies; i++)
        one_study(i, pl_file_join(b->a, folder, "platen.book"), &r, &t);
    for (pl_arrangement k = 0; k < PL_NARRANGEMENTS; k++) {
        print_message("%s: %zu plans\n", pl_arrangement_name(k), t.made[k]);
        assert_true(t.made[k] > studies / PL_NARRANGEMENTS / 4);
        made += t.made[k];
    }
    print_message("%zu plans of %zu random studies, %zu refused; %zu through a book\n", made,
                  studies, t.refused, t.kept);
    assert_int_equal(made + t.refused, studies);
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_random_plans) };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
