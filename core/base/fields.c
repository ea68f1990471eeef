/* Strict reading of tables that were written by the program itself. */
#include "base/fields.h"

#include <string.h>

pl_code pl_fields_bad(pl_fields *x, const char *found, const char *expected)
{
    return pl_fail(x->d, PL_ESYNTAX,
                   x->line ? pl_arena_printf(x->a, "%s:%zu", x->file, x->line) : x->file,
                   .found = found, .expected = expected, .mend = x->mend);
}

/* The doubled quotes are taken out. */
static pl_code read_quoted(pl_fields *x, pl_field *c)
{
    const char *p = ++x->s;
    char *to;

    for (; p < x->end; p++)
        if (*p == '"' && (p + 1 == x->end || *++p != '"'))
            break;
    to = pl_arena_get(x->a, (size_t)(p - x->s) + 1, 1);
    if (!to)
        return pl_nomem(x->d);
    *c = (pl_field){ .bytes = to, .quoted = true };
    while (x->s < x->end) {
        if (*x->s == '\n')
            x->line++;
        if (*x->s == '"' && (x->s + 1 == x->end || x->s[1] != '"')) {
            x->s++;
            return PL_OK;
        }
        x->s += *x->s == '"';
        c->bytes[c->n++] = *x->s++;
    }
    return pl_fields_bad(x, "a text without its end", "a quote");
}

static pl_code read_one(pl_fields *x, pl_field *c)
{
    const char *from = x->s;

    if (x->s < x->end && *x->s == '"')
        return read_quoted(x, c);
    while (x->s < x->end && *x->s != ',' && *x->s != '\n')
        x->s++;
    *c = (pl_field){ .bytes = pl_arena_strn(x->a, from, (size_t)(x->s - from)),
                     .n = (size_t)(x->s - from) };
    return c->bytes ? PL_OK : pl_nomem(x->d);
}

pl_code pl_fields_line(pl_fields *x, pl_field *out, int n)
{
    x->line++;
    for (int i = 0; i < n; i++) {
        pl_code code = read_one(x, &out[i]);

        if (code)
            return code;
        if (x->s == x->end || *x->s != (i == n - 1 ? '\n' : ','))
            return pl_fields_bad(x, "a line of another length",
                                 pl_arena_printf(x->a, "%d cells", n));
        x->s++;
    }
    return PL_OK;
}

pl_code pl_fields_header(pl_fields *x, const char *const *names, int n)
{
    pl_field *cells = PL_NEWN(x->a, (size_t)n, pl_field);
    pl_code code = cells ? pl_fields_line(x, cells, n) : pl_nomem(x->d);

    for (int i = 0; i < n && !code; i++)
        if (strcmp(cells[i].bytes, names[i]))
            code = pl_fields_bad(x, pl_arena_printf(x->a, "column \"%.40s\"", cells[i].bytes),
                                 names[i]);
    return code;
}
