/* Findings: codes, the list, and how one finding reads. Printing is cli's. */
#include "base/diag.h"

#include <stdlib.h>
#include <string.h>

#include "base/text.h"

static const struct {
    const char *name, *text;
    int status;
} codes[PL_NCODES] = {
#define PL_CODE_ROW(name, status, text) { #name, text, status },
    PL_CODE_LIST(PL_CODE_ROW)
#undef PL_CODE_ROW
};

const char *pl_code_name(pl_code code)
{
    return codes[code].name;
}

const char *pl_code_text(pl_code code)
{
    return codes[code].text;
}

int pl_code_exit(pl_code code)
{
    return codes[code].status;
}

const char *pl_severity_name(pl_severity s)
{
    static const char *const names[PL_NSEVERITIES] = { "note", "advice", "refused" };

    return names[s];
}

void pl_diags_init(pl_diags *d, pl_arena *a)
{
    *d = (pl_diags){ .arena = a };
}

pl_code pl_nomem(pl_diags *d)
{
    d->out_of_memory = true;
    return PL_ENOMEM;
}

static const char *keep(pl_diags *d, const char *text)
{
    char *copy = pl_arena_str(d->arena, text ? text : "");

    if (!copy)
        return NULL;
    pl_text_harmless(copy);
    for (char *p = copy; *p; p++)
        if (*p == '\n' || *p == '\t')
            *p = '?';
    return copy;
}

pl_code pl_diags_add(pl_diags *d, pl_diag f)
{
    if (f.code == PL_ENOMEM)
        return pl_nomem(d);
    if (d->count >= PL_DIAGS_MOST) {
        bool first = f.severity == PL_REFUSED && pl_diags_code(d, 0) == PL_OK;

        d->dropped++;
        if (f.severity == PL_REFUSED && !d->lost)
            d->lost = f.code;
        if (!first)
            return f.code;
        d->count--; /* a first refusal takes the last place: never unseen */
    }
    if (d->count == d->room) {
        size_t room = d->room ? 2 * d->room : 16;
        pl_diag *items = pl_arena_grow(d->arena, d->items, d->count, room, sizeof *items);

        if (!items)
            return pl_nomem(d);
        d->items = items;
        d->room = room;
    }
    f.where = keep(d, f.where);
    f.pointer = keep(d, f.pointer);
    f.found = keep(d, f.found);
    f.expected = keep(d, f.expected);
    f.mend = keep(d, f.mend);
    if (!f.where || !f.pointer || !f.found || !f.expected || !f.mend)
        return pl_nomem(d);
    d->items[d->count++] = f;
    return f.code;
}

pl_code pl_diags_code(const pl_diags *d, size_t from)
{
    if (d->out_of_memory)
        return PL_ENOMEM;
    for (size_t i = from; i < d->count; i++)
        if (d->items[i].severity == PL_REFUSED)
            return d->items[i].code;
    return d->lost;
}

size_t pl_diags_count(const pl_diags *d, pl_severity severity)
{
    size_t n = 0;

    for (size_t i = 0; i < d->count; i++)
        n += d->items[i].severity == severity;
    return n;
}

/* "day3.csv:17:5": the length of the file's name, line and column; 0 where there are none. */
typedef struct place {
    size_t file;
    unsigned long line, column;
} place;

static place place_of(const char *where)
{
    size_t end = strlen(where), number[2] = { 0, 0 }, n = 0;
    place p = { .file = end };

    while (n < 2) {
        size_t digits = end;

        while (digits && where[digits - 1] >= '0' && where[digits - 1] <= '9')
            digits--;
        if (digits == end || digits < 2 || where[digits - 1] != ':')
            break;
        number[n++] = digits;
        end = p.file = digits - 1;
    }
    if (n)
        p.line = strtoul(where + number[n - 1], NULL, 10);
    if (n == 2)
        p.column = strtoul(where + number[0], NULL, 10);
    return p;
}

static bool same_file(const pl_diag *x, const pl_diag *y)
{
    size_t n = place_of(x->where).file;

    return n == place_of(y->where).file && !strncmp(x->where, y->where, n);
}

/* Does y, which came later, belong before x of the same file? */
static bool before(const pl_diag *y, const pl_diag *x)
{
    place a = place_of(y->where), b = place_of(x->where);

    return a.line < b.line || (a.line == b.line && a.column < b.column);
}

void pl_diags_sort(pl_diags *d)
{
    for (size_t i = 1; i < d->count; i++) {
        pl_diag one = d->items[i];
        size_t last = i, at; /* behind the last of its file */

        while (last && !same_file(&d->items[last - 1], &one))
            last--;
        if (!last)
            continue;
        at = last;
        while (at && same_file(&d->items[at - 1], &one) && before(&one, &d->items[at - 1]))
            at--;
        memmove(d->items + at + 1, d->items + at, (i - at) * sizeof one);
        d->items[at] = one;
    }
}

char *pl_diag_text(pl_arena *a, const pl_diag *d)
{
    pl_text t;

    pl_text_init(&t, a);
    if (d->where[0])
        pl_text_add(&t, "%s: ", d->where);
    if (d->pointer[0])
        pl_text_add(&t, "%s: ", d->pointer);
    if (d->severity != PL_REFUSED)
        pl_text_add(&t, "%s: ", pl_severity_name(d->severity));
    if (d->expected[0])
        pl_text_add(&t, "found %s, expected %s", d->found, d->expected);
    else
        pl_text_add(&t, "%s", d->found);
    if (d->mend[0])
        pl_text_add(&t, "\n  mend: %s", d->mend);
    return pl_text_done(&t);
}
