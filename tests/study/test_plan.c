/* A plan goes to JSON and comes back the same; damaged ones are refused. */
#include "support.h"

#include "base/json.h"
#include "study/plan.h"

/* A small study and plan by hand: two pressures, two woods, one press. */
static pl_level pressures[] = { { "0.3 N/mm2", 300000 }, { "1.1 N/mm2", 1100000 } };
static pl_level woods[] = { { "beech", NAN }, { "larch \"Alp\"", NAN } };
static pl_factor factors[] = {
    { .name = "pressure",
      .levels = pressures,
      .nlevel = 2,
      .numeric = true,
      .kind = PL_Q_PRESSURE,
      .unit = "N/mm2",
      .set_by = PL_SET_BY_PRESS },
    { .name = "wood", .levels = woods, .nlevel = 2, .comes_with_board = true },
};
static pl_stock stock[] = { { .species = "beech", .count = 1 },
                            { .species = "larch \"Alp\"", .count = 1 } };
static pl_rig_ref rigs[] = { { .name = "weights" }, { .name = "jack" } };
static int press_rigs[] = { 0, 1 };
static pl_press presses[] = {
    { .name = "stand", .stations = 2, .specimens_at_once = 1, .rigs = press_rigs, .nrig = 2 }
};
static const pl_study study = {
    .joint = { .adherends = 2 },
    .name = "small",
    .factors = factors,
    .nfactor = 2,
    .boards = stock,
    .nboard_kinds = 2,
    .rigs = rigs,
    .nrig = 2,
    .presses = presses,
    .npress = 1,
};

static const int treatments[] = { 0, 0, 0, 1, 1, 0, 1, 1 };
static pl_plan_board boards[] = { { "B1", 0, "beech" }, { "B2", 1, "larch \"Alp\"" } };
static pl_glue_up glue_ups[] = {
    { "G1", 2, 0, 1, 0, 1, 1, 1, 0.1, false, { 1, 1 }, false, 2, NULL },
    { "G2", 1, 1, 1, 0, 2, 0, 2, 360, false, { 1, 2 }, false, 0, NULL },
    { "G3", 3, 1, 2, 0, 1, 1, 3, 0, false, { 2, 3 }, true, 0, NULL },
    { "G4", 0, 0, 2, -1, 1, -1, 4, NAN, false, { 3, 4 }, false, 0, "G1" },
    { "G5", 0, -1, 0, -1, 0, -1, 0, NAN, true, { 0, 0 }, false, 0, NULL },
};
static pl_specimen specimens[] = {
    { "K7M3", 0, 1, { "K7M3-a", "K7M3-b" }, 3, false },
    { "P4QX", 1, 1, { "P4QX-a", "P4QX-b" }, 1, false },
    { "T2V9", 2, 2, { "T2V9-a", "T2V9-b" }, 4, false },
    { "W6HA", 3, 0, { "W6HA-a", NULL }, 2, false },
    { "AA37", 4, 0, { NULL, NULL }, 0, true },
};
static const char *const parts[] = { "5 kg x 2", "1 kg" };
static const pl_set_point points[] = {
    { .can = true,
      .rig = "weights",
      .kind = "dead-weight",
      .dial = NAN,
      .dial_unit = "",
      .asked_N = 360,
      .gives_N = 359.87654321098765,
      .u_N = 0.1,
      .u_rig_N = 0.05,
      .accept_low = NAN,
      .accept_high = NAN,
      .parts = parts,
      .nparts = 2,
      .rated = "50 kg" },
    { .can = false,
      .rig = "jack",
      .kind = "piston-press",
      .dial = NAN,
      .dial_unit = "bar",
      .asked_N = 360,
      .gives_N = NAN,
      .u_N = NAN,
      .u_rig_N = NAN,
      .accept_low = NAN,
      .accept_high = NAN,
      .rated = "10 bar",
      .reason = "below breakaway",
      .mend = "use weights" },
    { .can = false, .rig = "weights", .kind = "dead-weight", .reason = "too heavy" },
    { .can = true,
      .rig = "jack",
      .kind = "piston-press",
      .dial = 4.1,
      .dial_unit = "bar",
      .asked_N = 1320,
      .gives_N = 1.0 / 3,
      .u_N = 40,
      .u_rig_N = 30,
      .accept_low = 4.0,
      .accept_high = 4.2 },
};
static const int chosen[] = { 0, 1 };
static const double most[] = { NAN, 3117.2453105244723 };
static const char *const cannot[] = { "rig from pressure", "beech from \xc3\xa4ltere" };

static double some[] = { 2, 6 }, chance[] = { 1.0 / 7, 0.9 }, low[] = { 0.1, NAN },
              high[] = { 0.2, NAN };
static const pl_chances chances = {
    "A difference is to be noticed.\n", "12 %", 6, 0.9, 2, some, chance, low, high
};

static const pl_plan plan = {
    .revision = 3,
    .seed = ((uint64_t)1 << 53) - 1,
    .chosen = "complete blocks: because",
    .ntreatment = 4,
    .treatments = treatments,
    .nfactor = 2,
    .boards = boards,
    .nboard = 2,
    .nsession = 2,
    .glue_ups = glue_ups,
    .nglue_up = 5,
    .specimens = specimens,
    .nspecimen = 5,
    .points = { .nlevel = 2,
                .nrig = 2,
                .at = points,
                .chosen = chosen,
                .area_m2 = 0.0012,
                .most_N = most },
    .health = { 0.987654321987654321, NAN, 0.1, 1, 17, cannot, 2, 0.3, 12 },
    .chances = &chances,
};

static char *written(bench *b, const pl_plan *p)
{
    pl_jval *object = pl_jobject(b->a);
    char *text;

    assert_ok(b, pl_plan_to_json(&study, p, object));
    text = pl_jtext(b->a, object);
    assert_non_null(text);
    return text;
}

static pl_code read_back(bench *b, const char *text, const pl_plan **out)
{
    const pl_json *json;

    assert_ok(b, pl_json_parse(b->a, "book", text, strlen(text), &json, &b->d));
    return pl_plan_from_json(b->a, &study, json, out, &b->d);
}

static void test_there_and_back(void **state)
{
    bench *b = *state;
    char *text = written(b, &plan);
    const pl_plan *back;
    const pl_set_point *jack;

    assert_ok(b, read_back(b, text, &back));
    assert_string_equal(written(b, back), text);
    /* The text could lose something in both directions: the struct itself. */
    assert_true(back->seed == plan.seed);
    assert_int_equal(back->revision, 3);
    assert_int_equal(back->nsession, 2);
    assert_memory_equal(back->treatments, treatments, sizeof treatments);
    assert_int_equal(back->nglue_up, 5);
    assert_int_equal(back->glue_ups[0].treatment, 2);
    assert_int_equal(back->glue_ups[0].rig, 1);
    assert_true(back->glue_ups[0].start_s == 0.1);
    assert_int_equal(back->glue_ups[1].station, 2);
    assert_int_equal(back->glue_ups[3].press, -1);
    assert_int_equal(back->glue_ups[4].board, -1);
    assert_true(back->glue_ups[4].spare && isnan(back->glue_ups[4].start_s));
    assert_int_equal(back->glue_ups[3].stretch[0], 3);
    assert_int_equal(back->glue_ups[3].stretch[1], 4);
    assert_string_equal(back->glue_ups[3].instead, "G1");
    assert_null(back->glue_ups[0].instead);
    assert_int_equal(back->glue_ups[0].pair, 2);
    assert_true(back->glue_ups[2].reference && !back->glue_ups[0].reference);
    assert_int_equal(back->specimens[2].glue_up, 2);
    assert_int_equal(back->specimens[2].place, 2);
    assert_int_equal(back->specimens[2].break_order, 4);
    assert_string_equal(back->specimens[3].adherends[0], "W6HA-a");
    assert_null(back->specimens[3].adherends[1]);
    assert_true(back->specimens[4].spare);
    assert_string_equal(back->boards[1].species, "larch \"Alp\"");
    assert_int_equal(back->boards[1].stock, 1);
    jack = pl_set_points_at(&back->points, 1, 1);
    assert_true(jack->can && jack->gives_N == 1.0 / 3 && jack->accept_high == 4.2);
    assert_true(back->points.at[0].gives_N == 359.87654321098765);
    assert_string_equal(back->points.at[0].parts[0], "5 kg x 2");
    assert_null(back->points.at[0].reason);
    assert_string_equal(back->points.at[1].reason, "below breakaway");
    assert_int_equal(back->points.chosen[1], 1);
    assert_true(isnan(back->points.most_N[0]) && back->points.most_N[1] == most[1]);
    assert_true(back->health.efficiency == plan.health.efficiency);
    assert_true(isnan(back->health.efficiency_bound));
    assert_int_equal(back->health.unit_df, 17);
    assert_true(back->health.order_bound == 0.3 && back->health.order_draws == 12);
    assert_string_equal(back->health.cannot[1], cannot[1]);
    assert_string_equal(back->chances->asked, chances.asked);
    assert_string_equal(back->chances->scatter, "12 %");
    assert_int_equal(back->chances->glue_ups_per_level, 6);
    assert_true(back->chances->n == 2 && back->chances->per_level[1] == 6);
    assert_true(back->chances->chance[0] == 1.0 / 7 && back->chances->low[0] == 0.1);
    assert_true(back->chances->high[0] == 0.2 && isnan(back->chances->low[1]));
}

/* What DESIGN section 8 promises of a specimen. */
static void test_specimen_as_promised(void **state)
{
    bench *b = *state;
    char *text = written(b, &plan);
    const pl_json *json, *one, *value;

    assert_ok(b, pl_json_parse(b->a, "plan", text, strlen(text), &json, &b->d));
    one = pl_json_at(pl_json_get(json, "specimens"), 0);
    value = pl_json_get(pl_json_get(one, "treatment"), "pressure");
    assert_true(pl_json_get(value, "value")->number == 1.1);
    assert_string_equal(pl_json_get(value, "unit")->string, "N/mm2");
    assert_string_equal(pl_json_get(pl_json_get(one, "treatment"), "wood")->string, "beech");
    assert_string_equal(pl_json_get(pl_json_get(one, "blocks"), "board")->string, "B1");
    assert_string_equal(pl_json_get(one, "glue_up")->string, "G1");
    assert_string_equal(pl_json_get(one, "press")->string, "stand");
    value = pl_json_get(one, "set_point");
    assert_true(pl_json_get(value, "value")->number == 4.1);
    assert_rel("gives", pl_json_get(value, "gives")->number, 1.0 / 3 / 0.0012, 1e-15);
    assert_int_equal(pl_json_get(one, "break_order")->number, 3);
    /* No rig: no set point, but the key is there. */
    one = pl_json_at(pl_json_get(json, "specimens"), 3);
    assert_int_equal(pl_json_get(one, "set_point")->kind, PL_JSON_NULL);
    /* A spare is of its wood and of no pressure yet. */
    one = pl_json_get(pl_json_at(pl_json_get(json, "specimens"), 4), "treatment");
    assert_null(pl_json_get(one, "pressure"));
    assert_string_equal(pl_json_get(one, "wood")->string, "beech");
}

static void test_find(void **state)
{
    (void)state;
    assert_ptr_equal(pl_plan_find(&plan, "K7M3"), &specimens[0]);
    assert_ptr_equal(pl_plan_find(&plan, " t2 v9 "), &specimens[2]);
    assert_null(pl_plan_find(&plan, "K7M"));
    assert_null(pl_plan_find(&plan, "K7M33"));
    assert_null(pl_plan_find(&plan, ""));
    assert_ptr_equal(pl_plan_find_glue_up(&plan, "g3"), &glue_ups[2]);
    assert_null(pl_plan_find_glue_up(&plan, "G33"));
}

/* Text with the first `from` replaced. */
static char *with(bench *b, const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);

    assert_non_null(at);
    return pl_arena_printf(b->a, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
}

static void test_damaged(void **state)
{
    static const struct {
        const char *from, *to, *says;
        pl_code code;
    } cases[] = {
        { "\"seed\": 9007199254740991", "\"seed\": 9007199254740992",
          "/seed: found 9007199254740992, expected a whole number from 0 to 9007199254740991",
          PL_EVALUE },
        { "\"revision\": 3", "\"revision\": 2.5", "/revision: found 2.5", PL_EVALUE },
        { "\"revision\": 3,", "", "found no \"revision\", expected it", PL_EKEY },
        { "\"glue_up\": \"G1\"", "\"glue_up\": \"G9\"",
          "/specimens/0/glue_up: found \"G9\", expected a glue-up of the plan", PL_EVALUE },
        { "\"treatment_row\": 2", "\"treatment_row\": 4", "/glue_ups/0/treatment_row: found 4",
          PL_EVALUE },
        { "\"rig\": \"jack\",\n      \"glue_order\": 1,\n      \"start\"",
          "\"rig\": \"jock\",\n      \"glue_order\": 1,\n      \"start\"",
          "/glue_ups/0/rig: found \"jock\", expected a rig of the study", PL_EVALUE },
        { "\"board\": \"B1\",\n      \"stock\": 0", "\"board\": \"B1\",\n      \"stock\": 2",
          "/boards/0/stock: found 2", PL_EVALUE },
        { "\"chosen\": [", "\"chosen\": [0, ", "expected one rig place for each level", PL_EVALUE },
        { "\"rigs\": 2", "\"rigs\": 3", "expected a set point for each level on each rig",
          PL_EVALUE },
        { "\"can\": true", "\"can\": \"yes\"", "/set_points/at/0/can: found \"yes\"", PL_EVALUE },
        { "\"health\"", "\"wealth\"", "found no \"health\"", PL_EKEY },
    };
    bench *b = *state;
    char *text = written(b, &plan);

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const pl_plan *back = NULL;

        pl_diags_init(&b->d, b->a);
        assert_code(b, cases[i].code,
                    read_back(b, with(b, text, cases[i].from, cases[i].to), &back));
        assert_finding(b, cases[i].says);
        assert_null(back);
    }
}

static void test_not_of_this_study(void **state)
{
    bench *b = *state;
    pl_plan other = plan;

    other.nfactor = 1;
    assert_int_equal(pl_plan_to_json(&study, &other, pl_jobject(b->a)), PL_EVALUE);
    other = plan;
    other.seed = (uint64_t)1 << 53;
    assert_int_equal(pl_plan_to_json(&study, &other, pl_jobject(b->a)), PL_EVALUE);
}

/* Memory that runs out at any point ends in ENOMEM and nothing else. */
static void test_out_of_memory(void **state)
{
    bench *b = *state;
    char *text = written(b, &plan);
    const pl_json *json;
    const pl_plan *back;
    pl_code rc = PL_ENOMEM;
    unsigned long n;

    assert_ok(b, pl_json_parse(b->a, "book", text, strlen(text), &json, &b->d));
    for (n = 1; rc && n < 10000; n++) {
        pl_arena *a = pl_arena_new(0);
        pl_diags d;

        pl_diags_init(&d, a);
        pl_arena_fail_at(n);
        rc = pl_plan_from_json(a, &study, json, &back, &d);
        pl_arena_fail_at(0);
        assert_true(rc == PL_OK || (rc == PL_ENOMEM && d.out_of_memory));
        pl_arena_free(a);
    }
    assert_int_equal(rc, PL_OK);
    assert_true(n > 50);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_there_and_back), TEST(test_specimen_as_promised), TEST(test_find),
        TEST(test_damaged),        TEST(test_not_of_this_study),    TEST(test_out_of_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
