/* Reading a study: text to JSON to raw structs (by the key table) to a pl_study.
 * The parts are tied together by read_factors.c, read_joint.c, read_shop.c. */
#include <math.h>
#include <string.h>

#include "base/file.h"
#include "base/text.h"
#include "study/build.h"

const pl_json *pl_build_at(const pl_build *b, const char *object, const char *key)
{
    const pl_json *v = pl_json_get(b->root, object);

    return v && v->kind == PL_JSON_OBJECT ? pl_json_get(v, key) : NULL;
}

const char *pl_build_near(pl_build *b, const char *typed, const char *const *names, size_t n)
{
    const char *near = pl_text_nearest(typed, names, n);

    return near ? pl_fill_printf(&b->f, "did you mean \"%s\"?", near) : "";
}

void *pl_build_new(pl_build *b, size_t n, size_t size)
{
    void *p = pl_arena_get(b->f.a, n, size);

    if (!p)
        pl_fill_nomem(&b->f);
    return p;
}

/* A default that this study does not use: kerf without wood to cut, the share
 * without a rise. */
static bool idle(const pl_study *s, const char *pointer)
{
    if (!strncmp(pointer, "/cutting/", 9))
        return !s->nboard_kinds;
    if (!strcmp(pointer, "/question/as_good_as"))
        return s->question.aim != PL_AIM_AS_GOOD_AS;
    if (!strcmp(pointer, "/question/percentile") || !strcmp(pointer, "/question/confidence"))
        return s->question.aim != PL_AIM_LOW_TAIL;
    return !strcmp(pointer, "/question/share") && s->question.aim != PL_AIM_PLATEAU;
}

static void drop_idle(pl_study *s)
{
    size_t kept = 0;

    for (size_t i = 0; i < s->nassumed; i++)
        if (!idle(s, s->assumed[i].pointer))
            s->assumed[kept++] = s->assumed[i];
    s->nassumed = kept;
}

static void build(pl_build *b)
{
    pl_study *s = b->s;

    s->root = b->root;
    s->name = b->raw->name;
    s->title = b->raw->title ? b->raw->title : "";
    pl_build_factors(b);
    pl_build_question(b);
    pl_build_places(b);
    pl_build_together(b);
    pl_build_rigs(b);
    pl_build_presses(b);
    pl_build_joint(b);
    pl_build_boards(b);
    pl_build_arrangement(b);
    pl_build_extras(b);
    pl_build_rest(b);
    s->assumed = b->f.assumed;
    s->nassumed = b->f.nassumed;
    drop_idle(s);
}

pl_code pl_study_parse(pl_arena *a, const char *name, const char *text, size_t length,
                       const pl_study **out, pl_diags *d)
{
    pl_raw *raw = PL_NEW(a, pl_raw);
    pl_build b = { .f = { .a = a, .d = d }, .raw = raw, .s = PL_NEW(a, pl_study) };
    pl_code rc;

    if (!raw || !b.s)
        return pl_nomem(d);
    rc = pl_json_parse(a, name, text, length, &b.root, d);
    if (rc)
        return rc;
    pl_fill_object(&b.f, &pl_keys_study, b.root, "", raw);
    if (b.root->kind != PL_JSON_OBJECT)
        return b.f.bad;
    b.s->text = b.root->doc->text;
    b.s->length = b.root->doc->length;
    build(&b);
    if (b.f.bad || d->out_of_memory)
        return d->out_of_memory ? PL_ENOMEM : b.f.bad;
    *out = b.s;
    return PL_OK;
}

pl_code pl_study_read(pl_arena *a, const char *path, const pl_study **out, pl_diags *d)
{
    char *text;
    size_t length;
    pl_code rc = pl_file_read(a, path, &text, &length, d);

    return rc ? rc : pl_study_parse(a, pl_file_base(path), text, length, out, d);
}
