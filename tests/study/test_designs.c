/* Every study in designs/ passes check, every rig there is a rig; and rigs that
 * are none are refused. */
#include <dirent.h>

#include "study_text.h"

#include "study/rig.h"

typedef void visit(bench *b, const char *path);

static size_t each_file(bench *b, const char *folder, visit *f)
{
    const char *path = top_path(b->a, folder);
    DIR *dir = opendir(path);
    struct dirent *e;
    size_t n = 0;

    assert_non_null(dir);
    while ((e = readdir(dir))) {
        const char *dot = strrchr(e->d_name, '.');

        if (!dot || strcmp(dot, ".json"))
            continue;
        f(b, pl_arena_printf(b->a, "%s/%s", path, e->d_name));
        n++;
    }
    closedir(dir);
    return n;
}

static void visit_study(bench *b, const char *path)
{
    const char *base = strrchr(path, '/') + 1;
    const pl_study *s;

    assert_ok(b, pl_study_read(b->a, path, &s, &b->d));
    assert_ok(b, pl_study_advise(b->a, s, NULL, &b->d));
    if (b->d.count) {
        show_findings(b);
        fail_msg("%s: a study to copy needs no advice", path);
    }
    /* Named as its file is, so that the name in the book is no surprise. */
    assert_int_equal(strlen(base), strlen(s->name) + strlen(".json"));
    assert_memory_equal(base, s->name, strlen(s->name));
    assert_non_null(pl_study_words(b->a, s));
}

static void test_studies(void **state)
{
    assert_true(each_file(*state, "designs", visit_study) >= 3);
}

static void visit_rig(bench *b, const char *path)
{
    const pl_json *json;
    pl_rig rig;

    assert_ok(b, pl_json_read(b->a, path, &json, &b->d));
    assert_ok(b, pl_rig_from_json(b->a, json, &rig, &b->d));
    assert_non_null(strstr(path, rig.name));
}

static void test_rigs(void **state)
{
    assert_true(each_file(*state, "designs/rigs", visit_rig) >= 3);
}

/* The demo's study names rigs that lie beside it. */
static void test_stair_lap(void **state)
{
    bench *b = *state;
    const pl_study *s;

    assert_ok(b, pl_study_read(b->a, top_path(b->a, "designs/stair-lap.json"), &s, &b->d));
    assert_int_equal(pl_study_treatments(s), 12);
    assert_int_equal(s->boards[0].specimens, 7);
    assert_rel("area", s->joint.area_m2, 1200e-6, 1e-15);
    for (size_t i = 0; i < s->nrig; i++) {
        const pl_json *json;

        assert_null(s->rigs[i].written);
        assert_ok(b, pl_json_read(b->a,
                                  top_path(b->a, pl_arena_printf(b->a, "designs/rigs/%s.json",
                                                                 s->rigs[i].name)),
                                  &json, &b->d));
        assert_string_equal(pl_json_get(json, "name")->string, s->rigs[i].name);
    }
}

static pl_code rig_of(bench *b, const char *text, pl_rig *rig)
{
    const pl_json *json;

    pl_diags_init(&b->d, b->a);
    assert_ok(b, pl_json_parse(b->a, "r.json", text, strlen(text), &json, &b->d));
    return pl_rig_from_json(b->a, json, rig, &b->d);
}

static void test_rig_alone(void **state)
{
    static const char good[] = " {\"name\": \"jack\", \"kind\": \"piston-press\",\n"
                               "  \"settings\": {\"bore\": \"50 mm\", \"any\": [1]},\n"
                               "  \"rated\": \"8 bar\", \"note\": \"n\",\n"
                               "  \"dial\": {\"unit\": \"bar\", \"to\": \"10 bar\", "
                               "\"class\": \"2-1-2 %\", \"marks\": \"0.2 bar\", "
                               "\"pointer\": \"drag\"}} ";
    static const struct {
        const char *from, *to, *says;
        pl_code code;
    } cases[] = {
        { "\"name\": \"jack\", ", "", "r.json:1: found no \"name\"", PL_EKEY },
        { "\"name\": \"jack\"", "\"name\": \"\"", "/name: found \"\"", PL_EVALUE },
        { "\"piston-press\"", "\"Piston Press\"", "/kind: found \"Piston Press\"", PL_EVALUE },
        { "\"rated\"", "\"raited\"", "did you mean \"rated\"?", PL_EKEY },
        { "\"rated\": \"8 bar\"", "\"rated\": 8", "/rated: found 8, expected a text", PL_EVALUE },
        { "\"class\"", "\"clas\"", "/dial/clas: found unknown key \"clas\"", PL_EKEY },
        { "\"drag\"", "\"draw\"", "/dial/pointer: found \"draw\", expected plain or drag",
          PL_EVALUE },
        { "{\"bore\": \"50 mm\", \"any\": [1]}", "\"50 mm\"", "/settings", PL_EVALUE },
    };
    bench *b = *state;
    pl_rig rig;

    assert_ok(b, rig_of(b, good, &rig));
    assert_string_equal(rig.name, "jack");
    assert_string_equal(rig.kind, "piston-press");
    /* Byte for byte, without the blanks around. */
    assert_int_equal(strlen(rig.text), strlen(good) - 2);
    assert_memory_equal(rig.text, good + 1, strlen(good) - 2);
    assert_string_equal(pl_json_get(pl_json_get(rig.written, "settings"), "bore")->string, "50 mm");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_code(b, cases[i].code, rig_of(b, with(b, good, cases[i].from, cases[i].to), &rig));
        assert_finding(b, cases[i].says);
        assert_int_equal(b->d.count, 1);
    }
    assert_code(b, PL_EVALUE, rig_of(b, "[]", &rig));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_studies),
        TEST(test_rigs),
        TEST(test_stair_lap),
        TEST(test_rig_alone),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
