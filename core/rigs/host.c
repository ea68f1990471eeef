/* Host services that a plugin may call at any time: memory, notes, numbers in
 * the shop's units. Those for records are in record.c. */
#include <math.h>
#include <string.h>

#include "rigs/inside.h"

#define NOTES_MOST 100

static void *host_alloc(void *self, size_t n)
{
    pl_inside *in = self;

    return pl_arena_get(in->lent, n, 1);
}

static void host_note(void *self, int level, const char *text)
{
    pl_inside *in = self;
    pl_diag f = { .code = PL_OK, .severity = PL_NOTE };

    if (!text || in->d.count >= NOTES_MOST)
        return;
    if (level == PLATEN_ADVICE)
        f.severity = PL_ADVICE;
    else if (level != PLATEN_NOTE)
        f = (pl_diag){ .code = PL_EDATA, .severity = PL_REFUSED };
    f.where = in->record ? in->record : in->rig ? pl_json_where(in->a, in->rig->at) : in->path;
    f.found = pl_arena_printf(in->a, "%s: %.*s", in->name, PLATEN_TEXT_MOST, text);
    (void)pl_diags_add(&in->d, f);
}

static const char *host_show(void *self, int as, double x)
{
    pl_inside *in = self;
    const pl_rig_inside *rig = in->rig;
    const char *text = NULL;

    if (!rig || !isfinite(x))
        text = "unknown";
    else if (as == PLATEN_AS_FORCE)
        text = fabs(x) < 10e3 ? pl_units_text(in->a, x, PL_Q_FORCE, "N", 4)
                              : pl_units_text(in->a, x, PL_Q_FORCE, "kN", 4);
    else if (as == PLATEN_AS_DIAL)
        text = pl_units_text(in->a, x, rig->dial.kind, rig->dial.unit, 4);
    else if (as >= 0 && (uint32_t)as < in->p.nsettings && in->p.settings[as].unit)
        text = pl_units_text(in->a, x, pl_dial_si_kind(in->a, in->p.settings[as].unit),
                             rig->units[as], 4);
    return text ? text : "unknown";
}

#define LENT_MOST ((size_t)200 << 20)

void pl_inside_returned(pl_inside *in)
{
    pl_arena_reset(in->lent, in->lent_empty);
}

pl_code pl_inside_host(pl_inside *in)
{
    in->lent = pl_arena_new(LENT_MOST);
    if (!in->lent)
        return PL_ENOMEM;
    in->lent_empty = pl_arena_mark(in->lent);
    in->host = (platen_host){ .size = sizeof(platen_host),
                              .abi = PLATEN_ABI,
                              .self = in,
                              .alloc = host_alloc,
                              .note = host_note,
                              .show = host_show };
    return PL_OK;
}
