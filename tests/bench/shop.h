/* A small study and its plan, made by hand, for the tests of forms and sheets:
 * a stair builder's lap joints (invented). Two woods, two pressures, six
 * glue-ups in two sessions, one spare; weights and a jack press, the pull bench
 * breaks. */
#ifndef TESTS_BENCH_SHOP_H
#define TESTS_BENCH_SHOP_H

#include "support.h"

#include <unistd.h>

#include "bench/forms.h"
#include "bench/sheets.h"

static const char shop_text[] =
    "{ \"study\": \"stair-laps\", \"title\": \"Lap joints, <pressed> & broken\",\n"
    "  \"question\": { \"aim\": \"plateau\", \"over\": \"pressure\", \"for_each\": \"species\" },\n"
    "  \"factors\": [\n"
    "    { \"name\": \"pressure\", \"levels\": [\"0.3 N/mm2\", \"1.1 N/mm2\"], \"set_by\": "
    "\"press\" },\n"
    "    { \"name\": \"species\", \"levels\": [\"beech\", \"larch\"], \"comes_with\": \"board\" } "
    "],\n"
    "  \"joint\": { \"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 mm\",\n"
    "    \"adherend\": { \"length\": \"110 mm\", \"width\": \"40 mm\", \"thickness\": \"20 mm\" } "
    "},\n"
    "  \"boards\": [ { \"species\": \"beech\", \"count\": 1, \"length\": \"900 mm\",\n"
    "                  \"width\": \"95 mm\", \"thickness\": \"20 mm\" },\n"
    "                { \"species\": \"larch\", \"count\": 1, \"length\": \"900 mm\",\n"
    "                  \"width\": \"95 mm\", \"thickness\": \"20 mm\" } ],\n"
    "  \"cutting\": { \"kerf\": \"3 mm\", \"discard_ends\": \"20 mm\" },\n"
    "  \"adhesive\": { \"kind\": \"PVAc\", \"spread\": \"180 g/m2\", \"open_time\": \"4 min\",\n"
    "                  \"open_time_limit\": \"8 min\" },\n"
    "  \"rigs\": [\"weights\", \"jack\", \"pull-bench\"],\n"
    "  \"presses\": [ { \"name\": \"stand\", \"stations\": 2, \"rigs\": [\"weights\", \"jack\"] } "
    "],\n"
    "  \"breaking\": { \"rig\": \"pull-bench\", \"expected_strength\": \"11 N/mm2\" },\n"
    "  \"times\": { \"clamp\": \"45 min\", \"cure\": { \"at_least\": \"7 d\" } },\n"
    "  \"rules\": { \"counts_as_wood\": \"75 %\" } }\n";

static const char *const shop_weights[] = { "20 kg", "10 kg", "5 kg x 1" };

/* level x rig: the weights make the low one, the jack both; the bench presses nothing. */
static const pl_set_point shop_points[] = {
    { .can = true,
      .rig = "weights",
      .kind = "dead-weight",
      .dial = NAN,
      .dial_unit = "",
      .asked_N = 360,
      .gives_N = 362,
      .u_N = 1,
      .parts = shop_weights,
      .nparts = 3,
      .rated = "60 kg" },
    { .can = true,
      .rig = "jack",
      .kind = "piston-press",
      .dial = 4.5,
      .dial_unit = "bar",
      .asked_N = 360,
      .gives_N = 355,
      .u_N = 30,
      .accept_low = 4.2,
      .accept_high = 4.8,
      .rated = "20 bar" },
    { .rig = "pull-bench", .dial = NAN, .dial_unit = "", .reason = "it does not press" },
    { .rig = "weights",
      .dial = NAN,
      .dial_unit = "",
      .reason = "more than 60 kg",
      .rated = "60 kg" },
    { .can = true,
      .rig = "jack",
      .kind = "piston-press",
      .dial = 16.5,
      .dial_unit = "bar",
      .asked_N = 1320,
      .gives_N = 1318,
      .u_N = 33,
      .accept_low = 16.1,
      .accept_high = 16.9,
      .rated = "20 bar" },
    { .rig = "pull-bench", .dial = NAN, .dial_unit = "", .reason = "it does not press" },
};

static const char *const shop_ids[] = { "K7MN", "R4T9", "B9XH", "H2W3", "Z5C5", "D8NN", "V3G6" };

static inline const pl_study *shop_study(bench *b)
{
    const pl_study *s = NULL;

    assert_ok(b,
              pl_study_parse(b->a, "stair-laps.json", shop_text, sizeof shop_text - 1, &s, &b->d));
    b->d.count = 0; /* what check would say is not asked here */
    return s;
}

static inline pl_plan *shop_plan(bench *b)
{
    static const int treatments[] = { 0, 0, 0, 1, 1, 0, 1, 1 }; /* pressure, species */
    static const int chosen[] = { 0, 1 };
    static const struct {
        size_t treatment;
        int board, rig;
        unsigned session, break_order;
    } rows[] = { { 2, 0, 1, 1, 4 }, { 1, 1, 0, 1, 2 }, { 3, 1, 1, 1, 6 },
                 { 0, 0, 0, 2, 1 }, { 3, 1, 1, 2, 3 }, { 2, 0, 1, 2, 5 } };
    pl_plan *p = PL_NEW(b->a, pl_plan);

    *p = (pl_plan){
        .revision = 1,
        .seed = 7,
        .chosen = "by hand",
        .ntreatment = 4,
        .treatments = treatments,
        .nfactor = 2,
        .boards = PL_NEWN(b->a, 2, pl_plan_board),
        .nboard = 2,
        .nsession = 2,
        .nglue_up = 7,
        .nspecimen = 7,
        .glue_ups = PL_NEWN(b->a, 7, pl_glue_up),
        .specimens = PL_NEWN(b->a, 7, pl_specimen),
        .points = { .nlevel = 2, .nrig = 3, .at = shop_points, .chosen = chosen, .area_m2 = 0.0012 }
    };
    p->boards[0] = (pl_plan_board){ "B1", 0, "beech" };
    p->boards[1] = (pl_plan_board){ "B2", 1, "larch" };
    for (size_t i = 0; i < 7; i++) {
        bool spare = i == 6;

        p->glue_ups[i] = (pl_glue_up){ .label = pl_arena_printf(b->a, "G%zu", i + 1),
                                       .treatment = spare ? 0 : rows[i].treatment,
                                       .board = spare ? 0 : rows[i].board,
                                       .session = spare ? 0 : rows[i].session,
                                       .press = spare ? -1 : 0,
                                       .station = spare ? 0 : 1 + (unsigned)i % 2,
                                       .rig = spare ? -1 : rows[i].rig,
                                       .glue_order = spare ? 0 : (unsigned)i + 1,
                                       .start_s = spare ? NAN : 3000.0 * (double)(i % 3),
                                       .spare = spare };
        p->specimens[i] = (pl_specimen){ .id = shop_ids[i],
                                         .glue_up = i,
                                         .place = 1 + (unsigned)i / 2,
                                         .adherends = { pl_arena_printf(b->a, "%s-a", shop_ids[i]),
                                                        pl_arena_printf(b->a, "%s-b",
                                                                        shop_ids[i]) },
                                         .break_order = spare ? 0 : rows[i].break_order,
                                         .spare = spare };
    }
    return p;
}

/* Reads texts as forms, in one go. */
static inline pl_code read_texts(bench *b, const char *const *names, const char *const *texts,
                                 size_t n, const pl_readings *known, pl_form_file *files)
{
    for (size_t i = 0; i < n; i++)
        assert_ok(b,
                  pl_csv_parse(b->a, names[i], texts[i], strlen(texts[i]), &files[i].csv, &b->d));
    return pl_forms_read(b->a, shop_study(b), shop_plan(b), files, n, known, &b->d);
}

static inline pl_code read_text(bench *b, const char *text, pl_form_file *file)
{
    static const char *const name = "day.csv";

    return read_texts(b, &name, &text, 1, NULL, file);
}

static inline const pl_reading *found(const pl_form_file *f, pl_subject subject, const char *id,
                                      const char *quantity)
{
    const pl_reading *r = pl_readings_find(&f->readings, subject, id, quantity);

    if (!r)
        fail_msg("no %s of %s", quantity, id);
    return r;
}

#endif
