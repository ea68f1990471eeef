/* The study reader, and with it the JSON reader: any bytes are a study or are refused
 * with findings; a study can be said in words and read again from its own text. */
#include "fuzz.h"

#include "study/rig.h"
#include "study/study.h"

static void as_rig(const char *text, size_t n)
{
    pl_arena *a = pl_arena_new((size_t)64 << 20);
    const pl_json *root = NULL;
    pl_rig rig;
    pl_diags d;
    pl_code code;

    pl_diags_init(&d, a);
    code = pl_json_parse(a, "rig.json", text, n, &root, &d);
    if (!code)
        code = pl_rig_from_json(a, root, &rig, &d);
    same_story(code, &d);
    if (!code)
        HOLDS(rig.name[0] && rig.kind[0] && rig.written == root);
    pl_arena_free(a);
}

static void again(const pl_study *s, const char *words)
{
    pl_arena *a = pl_arena_new((size_t)256 << 20);
    const pl_study *twin = NULL;
    pl_diags d;

    pl_diags_init(&d, a);
    HOLDS(pl_study_parse(a, "study.json", s->text, s->length, &twin, &d) == PL_OK);
    HOLDS(!strcmp(words, pl_study_words(a, twin)));
    pl_arena_free(a);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    pl_arena *a = pl_arena_new((size_t)256 << 20);
    const pl_study *s = NULL;
    pl_diags d;
    pl_code code;

    pl_diags_init(&d, a);
    code = pl_study_parse(a, "study.json", (const char *)data, size, &s, &d);
    same_story(code, &d);
    HOLDS((code == PL_OK) == (s != NULL));
    if (s) {
        char *words = pl_study_words(a, s);

        HOLDS(words && s->length == size && !memcmp(s->text, data, size));
        HOLDS(s->nfactor >= 1 && pl_study_treatments(s) >= 1);
        (void)pl_study_advise(a, s, NULL, &d);
        again(s, words);
    } else {
        as_rig((const char *)data, size);
    }
    pl_arena_free(a);
    return 0;
}
