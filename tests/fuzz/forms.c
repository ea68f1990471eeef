/* Filled-in forms of a small study: up to three tables, parted by the byte 0x1e. Any text
 * gives readings that can be believed, or findings. */
#include "fuzz.h"

#include <math.h>

#include "../bench/shop.h"

static void believable(const pl_form_file *f)
{
    HOLDS(f->form < PL_NFORMS);
    for (size_t i = 0; i < f->readings.count; i++) {
        const pl_reading *r = &f->readings.items[i];

        HOLDS(r->subject < PL_NSUBJECTS && r->id && r->id[0] && r->quantity && r->quantity[0]);
        HOLDS(r->text && r->unit && r->where && !isinf(r->value));
    }
}

/* One after the other into the book: all are given as known to the missing ones. */
static void read_files(bench *b, pl_form_file *files, size_t n)
{
    const pl_study *s = shop_study(b);
    const pl_plan *p = shop_plan(b);
    const char *const *words;
    size_t nword, before = b->d.count;
    pl_code code = pl_forms_read(b->a, s, p, files, n, NULL, &b->d);

    HOLDS((code == PL_OK) == (pl_diags_code(&b->d, before) == PL_OK));
    for (size_t i = 0; i < n && !code; i++) {
        believable(&files[i]);
        HOLDS(pl_forms_missing(b->a, p, &files[i].readings, &words, &nword, &b->d) == PL_OK);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const names[] = { "a.csv", "b.csv", "c.csv" };
    const char *text = (const char *)data, *end = text + size;
    pl_form_file files[3];
    bench b = { .a = pl_arena_new(0) };
    size_t n = 0;

    setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3", 1);
    pl_diags_init(&b.d, b.a);
    while (n < 3 && text <= end) {
        const char *stop = memchr(text, 0x1e, (size_t)(end - text));

        stop = stop ? stop : end;
        files[n] = (pl_form_file){ 0 };
        if (pl_csv_parse(b.a, names[n], text, (size_t)(stop - text), &files[n].csv, &b.d) == PL_OK)
            n++;
        text = stop + 1;
    }
    same_story(pl_diags_code(&b.d, 0), &b.d);
    pl_diags_init(&b.d, b.a);
    read_files(&b, files, n);
    same_story(pl_diags_code(&b.d, 0), &b.d);
    pl_arena_free(b.a);
    return 0;
}
