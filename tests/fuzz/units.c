/* Unit text: any text is a dimensioned value, or is refused with a reason; what was read
 * can be written and reads the same. */
#include "fuzz.h"

#include <math.h>

#include "base/units.h"

static void of_kind(const char *text, pl_quantity_kind kind)
{
    pl_arena *a = pl_arena_new((size_t)64 << 20);
    double scale = NAN, offset = NAN, back;
    const char *why = NULL, *written;
    pl_dim x = { 0 }, y = { 0 };
    pl_code code = pl_units_read(a, text, kind, &x, &why);

    HOLDS(code == PL_OK || code == PL_EUNIT || code == PL_EVALUE);
    HOLDS(code == PL_OK || (why && why[0]));
    if (!code) {
        HOLDS(isfinite(x.si) && x.unit && x.text);
        back = pl_units_from_si(x.si, kind, x.unit);
        written = pl_units_text(a, x.si, kind, x.unit, 17);
        HOLDS(written);
        /* out to its unit and home again: a few roundings, or beyond what a double holds */
        if (isfinite(back) && fabs(x.si) > 1e-290 && fabs(x.si) < 1e290 && fabs(back) > 1e-290) {
            HOLDS(pl_units_read(a, written, kind, &y, &why) == PL_OK);
            HOLDS(fabs(y.si - x.si) <= 1e-14 * (fabs(x.si) + 300));
        }
    }
    why = NULL;
    code = pl_units_scale(a, text, kind, &scale, &offset, &why);
    HOLDS(code == PL_OK || code == PL_EUNIT || code == PL_EVALUE);
    HOLDS(code ? why && why[0] : isfinite(scale) && scale > 0 && isfinite(offset));
    pl_arena_free(a);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    pl_arena *a = pl_arena_new((size_t)16 << 20);
    char *text = pl_arena_strn(a, (const char *)data, size);
    const char *why = NULL;
    double chance = NAN;
    pl_quantity_kind kind;
    pl_code code;

    if (size > 4096) {
        pl_arena_free(a);
        return 0;
    }
    for (int k = 0; k < PL_Q_COUNT; k++)
        of_kind(text, (pl_quantity_kind)k);
    kind = pl_units_kind(a, text);
    HOLDS(kind <= PL_Q_COUNT);
    code = pl_units_chance(a, text, &chance, &why);
    HOLDS(code ? why && why[0] : chance > 0 && chance < 1);
    pl_arena_free(a);
    return 0;
}
