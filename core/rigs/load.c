/* Loads the one plugin of a child and holds it to the header: symbol, abi,
 * size, strides, members, declarations. All gaps in one report. */
#include "rigs/inside.h"

#include <dlfcn.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#define SETTINGS_MOST 64
#define COLUMNS_MOST 32
#define STATE_MOST ((size_t)1 << 20)
#define CHOICES_MOST 16

/* Up to and with `settings`: what every abi has had. */
#define SIZE_LEAST (offsetof(platen_plugin, settings) + sizeof(const platen_setting *))

static bool is_key(const char *s)
{
    size_t n = s ? strnlen(s, 32) : 0;

    if (n < 1 || n > 31 || !(s[0] >= 'a' && s[0] <= 'z'))
        return false;
    return strspn(s, "abcdefghijklmnopqrstuvwxyz0123456789_") == n;
}

static bool is_line(const char *s)
{
    return s && s[0] && strnlen(s, 300) < 300;
}

static bool is_unit(pl_inside *in, const char *s)
{
    return s && strnlen(s, 32) < 32 && pl_dial_si_kind(in->a, s) != PL_Q_COUNT &&
           (!strcmp(s, "1") ||
            !strcmp(s, pl_quantity_si(pl_dial_si_kind(in->a, s)))); /* SI, not kN */
}

static void check_setting(pl_inside *in, const platen_setting *s, uint32_t i, pl_text *gaps)
{
    bool number = s->kind == PLATEN_NUMBER || s->kind == PLATEN_NUMBERS || s->kind == PLATEN_PAIRS;
    uint32_t n = 0;

    if (!is_key(s->name)) {
        pl_text_add(gaps, "; setting %u has no proper name", i);
        return;
    }
    if (s->kind < PLATEN_NUMBER || s->kind > PLATEN_PAIRS)
        pl_text_add(gaps, "; setting %s is of kind %u", s->name, s->kind);
    if (s->flags & ~(PLATEN_REQUIRED | PLATEN_WHOLE))
        pl_text_add(gaps, "; setting %s has unknown flags", s->name);
    if (!is_line(s->help))
        pl_text_add(gaps, "; setting %s has no help", s->name);
    if (number && !is_unit(in, s->unit))
        pl_text_add(gaps, "; setting %s has no SI unit", s->name);
    if (number && !(s->low < s->high))
        pl_text_add(gaps, "; setting %s has no range", s->name);
    if (s->kind == PLATEN_PAIRS && (!is_unit(in, s->unit2) || !(s->low2 < s->high2)))
        pl_text_add(gaps, "; setting %s lacks unit or range of the second", s->name);
    if (s->kind == PLATEN_NUMBER && !(s->flags & PLATEN_REQUIRED) &&
        !(s->preset >= s->low && s->preset <= s->high))
        pl_text_add(gaps, "; setting %s has a preset out of its range", s->name);
    if (s->kind == PLATEN_FLAG && s->preset != 0 && s->preset != 1)
        pl_text_add(gaps, "; flag %s has a preset that is neither 0 nor 1", s->name);
    if (s->kind == PLATEN_CHOICE) {
        while (s->choices && n <= CHOICES_MOST && s->choices[n])
            n++;
        if (n < 1 || n > CHOICES_MOST || !(s->preset >= 0 && s->preset < n))
            pl_text_add(gaps, "; setting %s has no proper choices", s->name);
    }
}

static void check_settings(pl_inside *in, pl_text *gaps)
{
    const platen_plugin *p = &in->p;

    for (uint32_t i = 0; i < p->nsettings; i++) {
        check_setting(in, &p->settings[i], i, gaps);
        for (uint32_t k = 0; k < i; k++)
            if (is_key(p->settings[i].name) && is_key(p->settings[k].name) &&
                !strcmp(p->settings[i].name, p->settings[k].name))
                pl_text_add(gaps, "; two settings %s", p->settings[i].name);
    }
}

/* A column of a file must not be two wanted ones. */
static bool both_named(const platen_column *x, const platen_column *y)
{
    if (!strcasecmp(x->name, y->name))
        return true;
    for (const char *const *also = y->also; also && *also; also++)
        if (!strcasecmp(x->name, *also))
            return true;
    for (const char *const *also = x->also; also && *also; also++)
        if (both_named(&(platen_column){ .name = *also }, y))
            return true;
    return false;
}

static void check_columns(pl_inside *in, pl_text *gaps)
{
    const platen_plugin *p = &in->p;

    if (p->rows && (!p->columns || !p->ncolumns))
        pl_text_put(gaps, "; rows without columns");
    if (!p->ncolumns || !p->columns)
        return;
    if (p->column_size != sizeof(platen_column)) {
        pl_text_add(gaps, "; column_size %u, expected %zu", p->column_size, sizeof(platen_column));
        return;
    }
    if (p->ncolumns > COLUMNS_MOST) {
        pl_text_add(gaps, "; %u columns, at most %d", p->ncolumns, COLUMNS_MOST);
        return;
    }
    for (uint32_t i = 0; i < p->ncolumns; i++) {
        const platen_column *c = &p->columns[i];

        if (!is_key(c->name))
            pl_text_add(gaps, "; column %u has no proper name", i);
        else if (!(c->flags & PLATEN_WORDS) && !is_unit(in, c->unit))
            pl_text_add(gaps, "; column %s has no SI unit", c->name);
        else if ((c->flags & ~(PLATEN_OPTIONAL | PLATEN_WORDS)) || c->reserved)
            pl_text_add(gaps, "; column %s has unknown flags", c->name);
        for (uint32_t k = 0; k < i && is_key(c->name); k++)
            if (is_key(p->columns[k].name) && both_named(c, &p->columns[k]))
                pl_text_add(gaps, "; columns %s and %s have a name in common", p->columns[k].name,
                            c->name);
    }
}

static void check_rig(pl_inside *in, pl_text *gaps)
{
    const platen_plugin *p = &in->p;

    if (!p->set_point && !p->back && !p->rows && !p->bytes)
        pl_text_put(gaps, "; none of set_point, back, rows, bytes");
    if (p->dial && !is_unit(in, p->dial))
        pl_text_put(gaps, "; dial is no SI unit");
    if (p->dial && p->set_point && !p->back)
        pl_text_put(gaps, "; set_point with a dial but no back");
    if (!p->dial && p->back)
        pl_text_put(gaps, "; back without a dial");
    if (p->state_size > STATE_MOST)
        pl_text_add(gaps, "; state_size %zu, at most %zu", p->state_size, STATE_MOST);
    check_columns(in, gaps);
}

static void check_names(const char *what, const char *const *names, uint32_t n, pl_text *gaps)
{
    for (uint32_t i = 0; i < n; i++) {
        bool again = false;

        for (uint32_t k = 0; k < i && is_key(names[i]); k++)
            again = again || (is_key(names[k]) && !strcmp(names[i], names[k]));
        if (!is_key(names[i]) || again)
            pl_text_add(gaps, "; %s %u has no proper name of its own", what, i);
    }
}

static void check_curve(pl_inside *in, pl_text *gaps)
{
    const platen_plugin *p = &in->p;

    if (p->nlinear > 4 || (p->nlinear && !p->linear_names))
        pl_text_put(gaps, "; nlinear or linear_names");
    else
        check_names("linear parameter", p->linear_names, p->nlinear, gaps);
    if (p->nshape > 3 || (p->nshape && !p->shape_names))
        pl_text_put(gaps, "; nshape or shape_names");
    else
        check_names("shape number", p->shape_names, p->nshape, gaps);
    if (!p->curve_columns)
        pl_text_put(gaps, "; no curve_columns");
    if (p->nshape && (!p->curve_gradient || !p->curve_range))
        pl_text_put(gaps, "; no curve_gradient or curve_range");
    if (!p->nlinear && !(p->nshape && p->curve_offset && p->curve_offset_gradient))
        pl_text_put(gaps, "; neither a column nor an offset that depends on a shape number");
    if (p->curve_offset_gradient && !p->curve_offset)
        pl_text_put(gaps, "; curve_offset_gradient without curve_offset");
    if ((p->curve_flags & PLATEN_RISES) && (p->nlinear != 2 || p->curve_offset))
        pl_text_put(gaps, "; PLATEN_RISES needs two columns and no offset");
    if ((p->limit_low && !is_line(p->limit_low)) || (p->limit_high && !is_line(p->limit_high)))
        pl_text_put(gaps, "; limit_low or limit_high");
    if (p->curve_flags & ~(PLATEN_RISES | PLATEN_LOG))
        pl_text_put(gaps, "; unknown curve_flags");
    if (p->nsettings || p->ncolumns)
        pl_text_put(gaps, "; a curve has neither settings nor columns of a record");
}

static void check_members(pl_inside *in, pl_text *gaps)
{
    const platen_plugin *p = &in->p;

    if (!p->name || strnlen(p->name, 65) > 64)
        pl_text_put(gaps, "; no name");
    else if (strcmp(p->name, in->name) != 0)
        pl_text_add(gaps, "; it calls itself \"%s\", its file is \"%s.so\"", p->name, in->name);
    if (!is_line(p->summary))
        pl_text_put(gaps, "; no summary");
    if (p->role != PLATEN_RIG && p->role != PLATEN_CURVE)
        pl_text_add(gaps, "; role %u", p->role);
    if (p->nsettings && p->settings && p->setting_size != sizeof(platen_setting))
        pl_text_add(gaps, "; setting_size %u, expected %zu", p->setting_size,
                    sizeof(platen_setting));
    else if (p->nsettings > SETTINGS_MOST || (p->nsettings && !p->settings))
        pl_text_put(gaps, "; settings missing or more than 64");
    else
        check_settings(in, gaps);
    if (p->role == PLATEN_RIG)
        check_rig(in, gaps);
    if (p->role == PLATEN_CURVE)
        check_curve(in, gaps);
}

pl_code pl_inside_load(pl_inside *in)
{
    typedef const platen_plugin *(*entry_of)(void);
    char path[32];
    void *handle;
    entry_of entry;
    const platen_plugin *p;
    pl_text gaps;
    size_t before = in->d.count;

    snprintf(path, sizeof path, "/proc/self/fd/%d", PL_FD_PLUGIN);
    pl_inside_stage(in, PL_STAGE_LOAD);
    handle = dlopen(path, RTLD_NOW | RTLD_LOCAL);
    if (!handle) {
        const char *why = dlerror();

        return pl_inside_blame(
            in, pl_arena_printf(in->a, "cannot be loaded: %s", why ? why : "no reason given"));
    }
    *(void **)&entry = dlsym(handle, "platen_plugin_entry");
    if (!entry)
        return pl_inside_blame(in, "has no symbol platen_plugin_entry");
    p = entry();
    if (!p)
        return pl_inside_blame(in, "gave no platen_plugin");
    if (p->abi != PLATEN_ABI)
        return pl_inside_blame(
            in, pl_arena_printf(in->a, "was built for abi %u, expected %u", p->abi, PLATEN_ABI));
    if (p->size > sizeof *p || p->size < SIZE_LEAST)
        return pl_inside_blame(
            in, pl_arena_printf(in->a, "has a platen_plugin of %u bytes, expected %zu to %zu: %s",
                                p->size, SIZE_LEAST, sizeof *p,
                                p->size > sizeof *p ? "it was built for a newer program"
                                                    : "its size member is wrong"));
    memcpy(&in->p, p, p->size); /* an older, shorter one has NULL behind */
    pl_text_init(&gaps, in->a);
    check_members(in, &gaps);
    pl_inside_stage(in, PL_STAGE_LOADED);
    if (gaps.length)
        return pl_inside_blame(
            in, pl_arena_printf(in->a, "does not follow its header: %s", pl_text_done(&gaps) + 2));
    return pl_diags_code(&in->d, before);
}
