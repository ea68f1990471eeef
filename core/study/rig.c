/* A rig written out: what can be checked without its plugin. */
#include "study/rig.h"

#include "study/fill.h"

pl_code pl_rig_from_json(pl_arena *a, const pl_json *object, pl_rig *out, pl_diags *d)
{
    pl_fill f = { .a = a, .d = d };
    pl_raw_rig *raw = PL_NEW(a, pl_raw_rig);
    char *text;

    if (!raw)
        return pl_nomem(d);
    pl_fill_object(&f, &pl_keys_rig, object, "", raw);
    if (f.bad)
        return f.bad;
    text = pl_arena_strn(a, object->doc->text + object->offset, object->end - object->offset);
    if (!text)
        return pl_nomem(d);
    *out = (pl_rig){ .name = raw->name, .kind = raw->kind, .text = text, .written = object };
    return PL_OK;
}
