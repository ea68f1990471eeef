/* One JSON object into its raw struct by the key table: kinds, units, ranges,
 * unknown and missing keys. What values mean together is read*.c's. */
#include "study/fill.h"

#include <math.h>
#include <string.h>

#include "base/text.h"

void pl_fill_nomem(pl_fill *f)
{
    f->bad = pl_nomem(f->d);
}

void pl_fill_fail(pl_fill *f, pl_code code, const pl_json *v, const char *found,
                  const char *expected, const char *mend)
{
    pl_code rc = pl_json_fail(f->d, code, v, found, expected, mend);

    if (!f->bad || rc == PL_ENOMEM)
        f->bad = rc;
}

const char *pl_fill_printf(pl_fill *f, const char *format, ...)
{
    va_list args;
    char *text;

    va_start(args, format);
    text = pl_arena_vprintf(f->a, format, args);
    va_end(args);
    return pl_fill_kept(f, text);
}

const char *pl_fill_kept(pl_fill *f, const char *text)
{
    if (!text)
        pl_fill_nomem(f);
    return text ? text : "";
}

void pl_fill_assume(pl_fill *f, const char *base, const char *key, const char *words)
{
    if (f->nassumed == f->room) {
        size_t room = f->room ? 2 * f->room : 32;
        pl_assumed *more = pl_arena_grow(f->a, f->assumed, f->nassumed, room, sizeof *more);

        if (!more) {
            pl_fill_nomem(f);
            return;
        }
        f->assumed = more;
        f->room = room;
    }
    f->assumed[f->nassumed++] = (pl_assumed){ .pointer = pl_fill_printf(f, "%s/%s", base, key),
                                              .words = words };
}

/* ------------------------------------------------------------- values ---- */

static const char *takes(pl_fill *f, const pl_key *k)
{
    return pl_fill_kept(f, pl_keys_takes(f->a, k));
}

static void refuse(pl_fill *f, pl_code code, const pl_key *k, const pl_json *v, const char *mend)
{
    pl_fill_fail(f, code, v, NULL, takes(f, k), mend);
}

bool pl_fill_is_line(pl_fill *f, const pl_json *v, long long most)
{
    const char *s = v->kind == PL_JSON_STRING ? v->string : "";
    const char *mend = NULL;

    if (v->kind != PL_JSON_STRING)
        mend = "write it in double quotes";
    else if (!s[0])
        mend = "leave the key out, or say it";
    else if (strlen(s) > (size_t)most)
        mend = "say more in a \"note\"";
    for (const char *p = s; *p; p++)
        if ((unsigned char)*p < 0x20 || *p == 0x7f)
            mend = "line breaks and other control characters are for a \"note\"";
    if (mend)
        pl_fill_fail(f, PL_EVALUE, v, NULL,
                     pl_fill_printf(f, "a text on one line, 1 to %lld bytes", most), mend);
    return !mend;
}

/* What the units module found wrong becomes a finding at v. */
static void unit_fault(pl_fill *f, pl_code code, const pl_key *k, const pl_json *v, const char *why)
{
    if (code == PL_ENOMEM)
        pl_fill_nomem(f);
    else
        refuse(f, code, k, v, why);
}

static void fill_dim(pl_fill *f, const pl_key *k, const pl_json *v, const char *text, pl_dim *into)
{
    pl_dim dim;
    const char *why;
    pl_code rc;

    if (!text) {
        refuse(f, v->kind == PL_JSON_NUMBER ? PL_EUNIT : PL_EVALUE, k, v,
               v->kind == PL_JSON_NUMBER ? "write the number and its unit in double quotes" : "");
        return;
    }
    rc = pl_units_read(f->a, text, k->quantity, &dim, &why);
    if (rc)
        unit_fault(f, rc, k, v, why);
    else if (dim.si < 0 || (dim.si == 0 && !k->zero_too))
        refuse(f, PL_EVALUE, k, v, k->zero_too ? "it cannot be below 0" : "it must be above 0");
    else
        *into = dim;
}

/* A number, or a text that `read` understands, above 0 and at most `most`. */
static void fill_share(pl_fill *f, const pl_key *k, const pl_json *v, const char *text,
                       double *into)
{
    pl_dim dim = { .si = v && v->kind == PL_JSON_NUMBER ? v->number : NAN };
    const char *why = "";
    pl_code rc = PL_OK;

    if (text)
        rc = pl_units_read(f->a, text, PL_Q_NONE, &dim, &why);
    if (rc)
        unit_fault(f, rc, k, v, why);
    else if (!(dim.si > 0 && dim.si <= 1))
        refuse(f, PL_EVALUE, k, v,
               dim.si > 1 ? "write per cent with its sign: \"12 %\"" : "above 0, at most 100 %");
    else
        *into = dim.si;
}

static void fill_chance(pl_fill *f, const pl_key *k, const pl_json *v, const char *text,
                        double *into)
{
    const char *why = "a chance lies between 0 and 1, both excluded";
    pl_code rc = PL_OK;
    double x = v && v->kind == PL_JSON_NUMBER ? v->number : NAN;

    if (text)
        rc = pl_units_chance(f->a, text, &x, &why);
    if (rc)
        unit_fault(f, rc, k, v, why);
    else if (!(x > 0 && x < 1))
        refuse(f, PL_EVALUE, k, v, why);
    else
        *into = x;
}

static void fill_worth(pl_fill *f, const pl_key *k, const pl_json *v, const char *text,
                       pl_worth *into)
{
    size_t n = text ? strlen(text) : 0;
    pl_dim dim = { .si = NAN };
    double share = NAN;

    if (v && v->kind == PL_JSON_NUMBER) {
        fill_share(f, k, v, NULL, &share);
        text = pl_fill_printf(f, "%s", v->raw);
    } else if (n && text[n - 1] == '%') {
        fill_share(f, k, v, text, &share);
    } else {
        fill_dim(f, &(pl_key){ .is = PL_IS_WORTH, .quantity = PL_Q_PRESSURE }, v, text, &dim);
    }
    if (isnan(share) && isnan(dim.si))
        return;
    *into = (pl_worth){ .value = isnan(share) ? dim.si : share,
                        .relative = !isnan(share),
                        .text = pl_fill_printf(f, "%s", text) };
}

static void fill_whole(pl_fill *f, const pl_key *k, const pl_json *v, unsigned *into)
{
    long long x;

    if (!v) {
        if (pl_text_to_whole(k->preset, k->low, k->high, &x))
            *into = (unsigned)x;
    } else if (v->kind != PL_JSON_NUMBER) {
        refuse(f, PL_EVALUE, k, v, v->kind == PL_JSON_STRING ? "write it without quotes" : "");
    } else if (!(v->number >= (double)k->low && v->number <= (double)k->high) ||
               v->number != floor(v->number)) {
        refuse(f, PL_EVALUE, k, v, "");
    } else {
        *into = (unsigned)v->number;
    }
}

/* Place of text among the choices, or -1. */
static int choice_of(const pl_key *k, const char *text)
{
    for (int i = 0; k->choices[i]; i++)
        if (!strcmp(k->choices[i], text))
            return i;
    return -1;
}

static void fill_choice(pl_fill *f, const pl_key *k, const pl_json *v, const char *text, void *into)
{
    int place = text ? choice_of(k, text) : -1;
    const char *near = NULL;
    size_t n = 0;

    if (place < 0) {
        while (k->choices[n])
            n++;
        near = text ? pl_text_nearest(text, k->choices, n) : NULL;
        refuse(f, PL_EVALUE, k, v, near ? pl_fill_printf(f, "did you mean \"%s\"?", near) : "");
    } else if (k->flag) {
        *(bool *)into = place != 0;
    } else {
        *(unsigned *)into = (unsigned)place;
    }
}

static bool one_unit(pl_fill *f, const pl_key *k, const pl_json *v)
{
    double scale, offset;
    const char *why;
    pl_code rc = pl_units_scale(f->a, v->string, k->quantity, &scale, &offset, &why);

    if (rc)
        unit_fault(f, rc, &(pl_key){ .is = PL_IS_DIM, .quantity = k->quantity }, v, why);
    return !rc;
}

static bool list_fits(pl_fill *f, const pl_key *k, const pl_json *v)
{
    if (v->kind == PL_JSON_ARRAY && v->count >= (size_t)k->low && v->count <= (size_t)k->high)
        return true;
    if (v->kind == PL_JSON_ARRAY)
        pl_fill_fail(f, PL_EVALUE, v, pl_fill_printf(f, "%zu in the list", v->count), takes(f, k),
                     k->is == PL_IS_LEVELS && v->count < 2
                         ? "what stays the same is no factor: say it in a \"note\""
                         : "");
    else
        refuse(f, PL_EVALUE, k, v, "put it in [ ]");
    return false;
}

static void fill_texts(pl_fill *f, const pl_key *k, const pl_json *v, char *into)
{
    const char **texts;
    size_t n = 0;

    if (!v || !list_fits(f, k, v)) /* no list has a preset */
        return;
    texts = PL_NEWN(f->a, v->count, const char *);
    if (!texts) {
        pl_fill_nomem(f);
        return;
    }
    for (const pl_json *one = v->child; one; one = one->next)
        if (pl_fill_is_line(f, one, PL_WORD_MOST) && (k->is == PL_IS_TEXTS || one_unit(f, k, one)))
            texts[n++] = one->string;
    *(const char ***)(void *)(into + k->at) = texts;
    *(size_t *)(void *)(into + k->count_at) = n;
}

static void fill_objects(pl_fill *f, const pl_key *k, const pl_json *v, const char *pointer,
                         char *into)
{
    char *items;

    if (!v || !list_fits(f, k, v))
        return;
    items = pl_arena_get(f->a, v->count, k->of->size);
    if (!items) {
        pl_fill_nomem(f);
        return;
    }
    for (const pl_json *one = v->child; one; one = one->next)
        pl_fill_object(f, k->of, one, pl_fill_printf(f, "%s/%zu", pointer, one->index),
                       items + one->index * k->of->size);
    *(void **)(void *)(into + k->at) = items;
    *(size_t *)(void *)(into + k->count_at) = v->count;
}

static void fill_text(pl_fill *f, const pl_key *k, const pl_json *v, const char **into)
{
    if (!v)
        *into = k->preset;
    else if (!pl_fill_is_line(f, v, k->is == PL_IS_NAME ? PL_WORD_MOST : k->high))
        return;
    else if (k->is == PL_IS_NAME && !pl_text_is_name(v->string))
        refuse(f, PL_EVALUE, k, v, "");
    else
        *into = v->string;
}

/* One value, from v or, when that is NULL, from the preset. */
static void fill_value(pl_fill *f, const pl_key *k, const pl_json *v, const char *pointer,
                       char *into)
{
    const char *text = v ? (v->kind == PL_JSON_STRING ? v->string : NULL) : k->preset;
    void *at = into + k->at;

    switch (k->is) {
    case PL_IS_TEXT:
    case PL_IS_NAME:
        fill_text(f, k, v, at);
        break;
    case PL_IS_CHANCE:
        fill_chance(f, k, v, text, at);
        break;
    case PL_IS_SHARE:
        fill_share(f, k, v, text, at);
        break;
    case PL_IS_WORTH:
        fill_worth(f, k, v, text, at);
        break;
    case PL_IS_DIM:
        fill_dim(f, k, v, text, at);
        break;
    case PL_IS_WHOLE:
        fill_whole(f, k, v, at);
        break;
    case PL_IS_CHOICE:
        fill_choice(f, k, v, text, at);
        break;
    case PL_IS_TEXTS:
    case PL_IS_UNITS:
        fill_texts(f, k, v, into);
        break;
    case PL_IS_OBJECT:
        pl_fill_object(f, k->of, v, pointer, at);
        break;
    case PL_IS_OBJECTS:
        fill_objects(f, k, v, pointer, into);
        break;
    case PL_IS_WORD_OR_OBJECT:
        if (v && v->kind != PL_JSON_OBJECT && (!text || choice_of(k, text) < 0))
            refuse(f, PL_EVALUE, k, v, "");
        pl_fill_object(f, k->of, v && v->kind == PL_JSON_OBJECT ? v : NULL, pointer, at);
        break;
    case PL_IS_LEVELS:
    case PL_IS_APART:
    case PL_IS_RIGS:
        if (v)
            list_fits(f, k, v);
        break;
    default:
        if (v && v->kind != PL_JSON_OBJECT)
            refuse(f, PL_EVALUE, k, v, "");
    }
}

/* Absent is NAN for what is a double; the arena's zeroes serve for the rest. */
static void clear(const pl_key *k, char *into)
{
    void *at = into + k->at;

    if (k->is == PL_IS_DIM)
        ((pl_dim *)at)->si = NAN;
    else if (k->is == PL_IS_WORTH)
        ((pl_worth *)at)->value = NAN;
    else if (k->is == PL_IS_CHANCE || k->is == PL_IS_SHARE)
        *(double *)at = NAN;
}

static void fill_absent(pl_fill *f, const pl_key *k, const pl_json *object, const char *pointer,
                        char *into)
{
    if (k->required && object)
        pl_fill_fail(f, PL_EKEY, object, pl_fill_printf(f, "no \"%s\"", k->name), takes(f, k),
                     k->help);
    if (k->is == PL_IS_OBJECT || k->is == PL_IS_WORD_OR_OBJECT)
        fill_value(f, k, NULL, pl_fill_printf(f, "%s/%s", pointer, k->name), into);
    if (!k->preset)
        return;
    fill_value(f, k, NULL, pointer, into);
    if (k->said)
        pl_fill_assume(f, pointer, k->name, k->said);
}

/* "clamp" at the top belongs in "times". */
static const char *home_of(pl_fill *f, const pl_object *but, const char *name)
{
    for (size_t i = 0; pl_keys_all[i]; i++)
        if (pl_keys_all[i] != but && pl_keys_find(pl_keys_all[i], name))
            return pl_keys_all[i]->title[0]
                       ? pl_fill_printf(f, "\"%s\" belongs in \"%s\"", name, pl_keys_all[i]->title)
                       : pl_fill_printf(f, "\"%s\" belongs at the top of the file", name);
    return "";
}

static void unknown_key(pl_fill *f, const pl_object *o, const pl_json *v)
{
    const char **names = PL_NEWN(f->a, o->nkey + 1, const char *);
    const char *near, *mend;

    if (!names) {
        pl_fill_nomem(f);
        return;
    }
    for (size_t i = 0; i < o->nkey; i++)
        names[i] = o->keys[i].name;
    names[o->nkey] = "note";
    near = pl_text_nearest(v->key, names, o->nkey + 1);
    mend = near ? pl_fill_printf(f, "did you mean \"%s\"?", near) : home_of(f, o, v->key);
    pl_fill_fail(f, PL_EKEY, v, pl_fill_printf(f, "unknown key \"%.*s\"", PL_WORD_MOST, v->key),
                 pl_fill_printf(f, "one of %s",
                                pl_fill_kept(f, pl_text_list(f->a, names, o->nkey + 1, "and"))),
                 mend);
}

void pl_fill_object(pl_fill *f, const pl_object *o, const pl_json *v, const char *pointer,
                    void *into)
{
    for (size_t i = 0; i < o->nkey; i++)
        clear(&o->keys[i], into);
    if (v && v->kind != PL_JSON_OBJECT) {
        pl_fill_fail(f, PL_EVALUE, v, NULL, "an object", "put it in { }");
        v = NULL; /* its presets serve while the other faults are looked for */
    }
    for (const pl_json *one = v ? v->child : NULL; one; one = one->next) {
        const pl_key *k = pl_keys_find(o, one->key);

        if (k)
            fill_value(f, k, one, pl_fill_printf(f, "%s/%s", pointer, one->key), into);
        else if (strcmp(one->key, "note"))
            unknown_key(f, o, one);
        else if (one->kind != PL_JSON_STRING)
            pl_fill_fail(f, PL_EVALUE, one, NULL, "a text", "");
    }
    for (size_t i = 0; i < o->nkey; i++)
        if (!v || !pl_json_get(v, o->keys[i].name))
            fill_absent(f, &o->keys[i], v, pointer, into);
}
