/* Coding of factors and their interactions. Which terms a model has is fit's. */
#include "model/terms.h"

#include <string.h>

#include "base/text.h"

static pl_code check_factors(const pl_factor_codes *const *f, size_t n, pl_diags *d)
{
    if (!n || n > PL_TERM_FACTORS_MOST)
        return pl_fail(d, PL_EUSAGE, "effect", .found = pl_arena_printf(d->arena, "%zu factors", n),
                       .expected = pl_arena_printf(d->arena, "1 to %d", PL_TERM_FACTORS_MOST));
    for (size_t i = 0; i < n; i++) {
        for (size_t j = 0; j < i; j++)
            if (!strcmp(f[i]->name, f[j]->name))
                return pl_fail(d, PL_EUSAGE, "effect",
                               .found = pl_arena_printf(d->arena, "\"%s\" twice", f[i]->name),
                               .expected = "each factor once in an effect");
        if (f[i]->nlevel < 2)
            return pl_fail(d, PL_EDATA, "effect",
                           .found = f[i]->nlevel
                                        ? pl_arena_printf(d->arena, "\"%s\" is %s in every row",
                                                          f[i]->name, f[i]->levels[0])
                                        : pl_arena_printf(d->arena, "\"%s\" is empty in every row",
                                                          f[i]->name),
                           .expected = "two levels or more",
                           .mend = "an effect is a difference between levels: leave this one out");
    }
    return PL_OK;
}

pl_code pl_term_make(pl_arena *a, const pl_factor_codes *const *factors, size_t nfactor,
                     pl_term *out, pl_diags *diags)
{
    const char *name = "";
    pl_code rc = check_factors(factors, nfactor, diags);

    if (rc)
        return rc;
    *out = (pl_term){ .nfactor = nfactor, .ncol = 1, .ncell = 1 };
    for (size_t i = 0; i < nfactor; i++) {
        out->factors[i] = factors[i];
        /* a product past size_t is past any memory: the columns will not be had */
        if (__builtin_mul_overflow(out->ncol, factors[i]->nlevel - 1, &out->ncol) ||
            __builtin_mul_overflow(out->ncell, factors[i]->nlevel, &out->ncell))
            return pl_nomem(diags);
        name = name ? pl_arena_printf(a, "%s%s%s", name, i ? ", " : "", factors[i]->name) : NULL;
    }
    out->name = name;
    return name ? PL_OK : pl_nomem(diags);
}

void pl_term_cell(const pl_term *t, size_t c, size_t *levels)
{
    for (size_t i = t->nfactor; i-- > 0;) {
        levels[i] = c % t->factors[i]->nlevel;
        c /= t->factors[i]->nlevel;
    }
}

size_t pl_term_cell_of_row(const pl_term *t, size_t row)
{
    size_t c = 0;

    for (size_t i = 0; i < t->nfactor; i++) {
        int code = t->factors[i]->code[row];

        if (code < 0)
            return t->ncell;
        c = c * t->factors[i]->nlevel + (size_t)code;
    }
    return c;
}

void pl_term_code(const pl_term *t, size_t cell, double *out)
{
    size_t levels[PL_TERM_FACTORS_MOST];

    pl_term_cell(t, cell, levels);
    for (size_t j = 0; j < t->ncol; j++) {
        size_t rest = j;

        out[j] = 1;
        for (size_t i = t->nfactor; i-- > 0;) {
            size_t last = t->factors[i]->nlevel - 1, column = rest % last;

            rest /= last;
            out[j] *= levels[i] == last ? -1 : levels[i] == column ? 1 : 0;
        }
    }
}

char *pl_term_cell_name(pl_arena *a, const pl_term *t, size_t cell)
{
    size_t levels[PL_TERM_FACTORS_MOST];
    pl_text s;

    pl_term_cell(t, cell, levels);
    pl_text_init(&s, a);
    for (size_t i = 0; i < t->nfactor; i++)
        pl_text_add(&s, "%s%s=%s", i ? ", " : "", t->factors[i]->name,
                    t->factors[i]->levels[levels[i]]);
    return pl_text_done(&s);
}
