/* A book with many studies, for tests/bench.sh: so many copies of one planned study
 * under other names and ids, each with a few readings, beside what is in it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/file.h"
#include "book/book.h"

static void fail(const pl_diags *d)
{
    for (size_t i = 0; i < d->count; i++)
        fprintf(stderr, "%s: %s\n", d->items[i].where, d->items[i].found);
    exit(1);
}

/* One study more: the frozen plan's specimens under ids that no draw gives. */
static void add_one(pl_book *book, const pl_study *frozen, const pl_plan *plan, unsigned k)
{
    pl_arena *a = pl_arena_new(0);
    pl_diags d;
    pl_study s = *frozen;
    pl_plan p = *plan;
    pl_specimen *x = PL_NEWN(a, p.nspecimen, pl_specimen);
    pl_readings r = { 0 };
    pl_source source = { .kind = "breaks", .rig = "", .rig_text = "", .plugin = "" };
    pl_taken taken;
    unsigned number;

    pl_diags_init(&d, a);
    s.name = pl_arena_printf(a, "past-%u", k);
    for (size_t i = 0; i < p.nspecimen; i++) {
        x[i] = plan->specimens[i];
        x[i].id = pl_arena_printf(a, "%u-%zu", k, i);
        pl_readings_add(a, &r,
                        (pl_reading){ .subject = PL_ON_SPECIMEN,
                                      .id = x[i].id,
                                      .quantity = "peak",
                                      .text = "4.2",
                                      .value = 4200,
                                      .unit = "kN",
                                      .where = "breaks.csv:2:7" },
                        &d);
    }
    p.specimens = x;
    p.health = (pl_health){ 0 };
    source.name = "breaks.csv";
    source.digest = pl_digest(a, s.name, strlen(s.name));
    source.readings = &r;
    if (pl_book_freeze(book, &s, &p, &number, &d) ||
        pl_book_take(book, s.name, &source, 1, false, false, &taken, &d))
        fail(&d);
    pl_arena_free(a);
}

int main(int argc, char **argv)
{
    pl_arena *a = pl_arena_new(0);
    const pl_study *s;
    const pl_plan *p;
    pl_book *book;
    pl_diags d;

    pl_diags_init(&d, a);
    if (argc != 4)
        return 2;
    if (pl_book_open(a, argv[1], PL_BOOK_WRITE, &book, &d) ||
        pl_book_plan(a, book, argv[2], 0, &s, &p, &d))
        fail(&d);
    for (unsigned k = 1; k <= (unsigned)atoi(argv[3]); k++)
        add_one(book, s, p, k);
    pl_arena_free(a);
    return 0;
}
