/* Which kinds of rig there are, and what each declares. */
#include <math.h>
#include <string.h>

#include <platen/plugin.h>

#include "base/text.h"
#include "rigs/ask.h"

static const char *const kind_names[] = { "", "number", "choice", "flag", "numbers", "pairs" };

static bool take_setting(pl_arena *a, pl_unpack *u, pl_rig_setting *s)
{
    uint32_t kind, flags;

    s->name = pl_unpack_text(a, u);
    s->help = pl_unpack_text(a, u);
    kind = pl_unpack_u32(u);
    flags = pl_unpack_u32(u);
    s->unit = pl_unpack_text(a, u);
    s->unit2 = pl_unpack_text(a, u);
    s->low = pl_unpack_f64(u);
    s->high = pl_unpack_f64(u);
    s->preset = pl_unpack_f64(u);
    s->nchoice = pl_unpack_u32(u);
    if (u->bad || !s->name || !s->help || !s->unit || !s->unit2 || kind < 1 || kind > 5 ||
        s->nchoice > 64)
        return false;
    s->kind = kind_names[kind];
    s->required = (flags & PLATEN_REQUIRED) != 0;
    if (s->required || kind > PLATEN_FLAG)
        s->preset = NAN;
    s->choices = PL_NEWN(a, s->nchoice, const char *);
    for (size_t i = 0; s->choices && i < s->nchoice; i++) {
        s->choices[i] = pl_unpack_text(a, u);
        if (!s->choices[i])
            return false;
    }
    return s->choices && !u->bad;
}

static bool take_columns(pl_arena *a, pl_unpack *u, pl_rig_kind *k)
{
    k->ncolumn = pl_unpack_u32(u);
    if (u->bad || k->ncolumn > 64)
        return false;
    k->columns = PL_NEWN(a, k->ncolumn, const char *);
    for (size_t i = 0; k->columns && i < k->ncolumn; i++) {
        const char *name = pl_unpack_text(a, u), *unit = pl_unpack_text(a, u);
        bool optional = pl_unpack_u32(u) != 0;

        if (u->bad || !name || !unit)
            return false;
        k->columns[i] = pl_arena_printf(a, "%s%s%s%s%s", name, unit[0] ? " [" : "", unit,
                                        unit[0] ? "]" : "", optional ? " (may be absent)" : "");
    }
    return k->columns != NULL;
}

static bool take_kind(pl_arena *a, pl_unpack *u, pl_rig_kind *k)
{
    uint32_t role;

    k->summary = pl_unpack_text(a, u);
    role = pl_unpack_u32(u);
    k->role = role == PLATEN_CURVE ? "curve" : "rig";
    k->dial = pl_unpack_text(a, u);
    k->presses = pl_unpack_u32(u) != 0;
    k->reads_back = pl_unpack_u32(u) != 0;
    k->reads_files = pl_unpack_u32(u) != 0;
    if (u->bad || !k->summary || !k->dial || !take_columns(a, u, k))
        return false;
    k->nsetting = pl_unpack_u32(u);
    if (u->bad || k->nsetting > 64)
        return false;
    k->settings = PL_NEWN(a, k->nsetting, pl_rig_setting);
    for (size_t i = 0; k->settings && i < k->nsetting; i++)
        if (!take_setting(a, u, &k->settings[i]))
            return false;
    return k->settings != NULL;
}

pl_code pl_rigs_kind(pl_arena *a, const char *name, pl_rig_kind *out, pl_diags *d)
{
    pl_plugin_file file;
    pl_answer answer;
    pl_message type;
    pl_unpack u;
    pl_text nothing;
    bool got = false;
    size_t before = d->count;
    pl_code code = pl_find_plugin(a, name, &file, d);

    if (code)
        return code;
    pl_text_init(&nothing, a);
    code = pl_child_visit(a, &file, PL_WORK_KIND, &nothing, -1, pl_child_limit(), &answer, d);
    if (code)
        return code;
    *out = (pl_rig_kind){ .name = file.name, .file = file.path };
    while (pl_answer_next(a, &answer, &type, &u, d)) {
        if (type != PL_MSG_KIND || got || !take_kind(a, &u, out))
            return pl_ask_lie(d, &file, "its declaration cannot be read");
        got = true;
    }
    code = pl_answer_end(&answer, before, d);
    return code || got ? code : pl_ask_lie(d, &file, "no declaration");
}

pl_code pl_rigs_kinds(pl_arena *a, pl_rig_kinds *out, pl_diags *d)
{
    const char *const *names;
    size_t n, before = d->count;
    pl_code code = pl_find_names(a, &names, &n, d);

    if (code && code != PL_EPLUGIN)
        return code;
    *out = (pl_rig_kinds){ .items = PL_NEWN(a, n, pl_rig_kind) };
    if (!out->items)
        return pl_nomem(d);
    for (size_t i = 0; i < n; i++) {
        code = pl_rigs_kind(a, names[i], &out->items[out->count], d);
        if (code == PL_OK)
            out->count++;
        else if (code != PL_EPLUGIN)
            return code;
    }
    return pl_diags_code(d, before);
}

/* A curve is no kind of rig. A plugin that cannot be asked may be one, and is named. */
pl_code pl_kind_unknown(pl_arena *a, const char *name, pl_diags *d)
{
    const char *const *names = NULL, **rigs, *near;
    size_t n = 0, nrig = 0;
    pl_diags quiet;

    pl_diags_init(&quiet, a);
    (void)pl_find_names(a, &names, &n,
                        &quiet); /* refused folders are said by whoever lists kinds */
    rigs = PL_NEWN(a, n, const char *);
    if (!rigs)
        return pl_nomem(d);
    for (size_t i = 0; i < n; i++) {
        pl_rig_kind kind = { .role = "" };

        if (pl_rigs_kind(a, names[i], &kind, &quiet) || !kind.role || !strcmp(kind.role, "rig"))
            rigs[nrig++] = names[i];
    }
    near = pl_text_nearest(name, rigs, nrig);
    for (size_t i = 0; i < nrig && !near && name[0]; i++)
        if (!strncmp(rigs[i], name, strlen(name)))
            near = rigs[i];
    return pl_fail(
        d, PL_EKEY, "", .found = pl_arena_printf(a, "kind of rig \"%s\"", name),
        .expected = nrig ? pl_arena_printf(a, "one of %s", pl_text_list(a, rigs, nrig, "or"))
                         : "a plugin of that name in one of the plugin folders",
        .mend = near ? pl_arena_printf(a, "is \"%s\" meant?", near)
                     : "see docs/rigs.md, Where plugins lie");
}
