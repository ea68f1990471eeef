/* Everything that is refused in a study: code, place, words; and all faults in
 * one run. */
#include "study_text.h"

typedef struct change {
    const char *from, *to;
    pl_code code;
    const char *says;
} change;

/* Each change of `text` gives one refusal. */
static void refuse_all(bench *b, const char *text, const change *cases, size_t n)
{
    for (size_t i = 0; i < n; i++)
        assert_refused(b, with(b, text, cases[i].from, cases[i].to), cases[i].code, cases[i].says);
}
#define REFUSE_ALL(b, text, cases) refuse_all(b, text, cases, sizeof cases / sizeof *cases)

static void test_keys(void **state)
{
    static const change cases[] = {
        { "\"title\"", "\"titel\"", PL_EKEY,
          "t.json:3: /titel: found unknown key \"titel\", expected one of study, title, "
          "question, " },
        { "\"title\"", "\"titel\"", PL_EKEY, "mend: did you mean \"title\"?" },
        { "\"for_each\"", "\"for_eahc\"", PL_EKEY, "did you mean \"for_each\"?" },
        { "\"clamp\": \"50 min\", \"cure\": {\"at_least\": \"3 d\"}",
          "\"clamp\": \"50 min\", \"cure\": {\"until\": \"3 d\"}", PL_EKEY,
          "/times/cure/until: found unknown key \"until\", expected one of at_least, at_most and "
          "note" },
        { "\"title\": \"a trial\"", "\"clamp\": \"1 h\"", PL_EKEY,
          "mend: \"clamp\" belongs in \"times\"" },
        { "\"kerf\"", "\"boards\": 3, \"kerf\"", PL_EKEY,
          "mend: \"boards\" belongs at the top of the file" },
        /* Keys of later work are unknown, not ignored. */
        { "\"title\": \"a trial\"", "\"never_mind\": []", PL_EKEY, "/never_mind" },
        { "\"share\": \"95 %\"", "\"hurry\": \"1.6 N/mm2\"", PL_EKEY, "/question/hurry" },
        { "\"study\": \"bench-lap\",", "", PL_EKEY, "t.json:1: found no \"study\"" },
        { "\"kind\": \"lap\", ", "", PL_EKEY,
          "t.json:13: /joint: found no \"kind\", expected lap, double-lap, block-shear, "
          "butt-tension or other" },
        { "{\"name\": \"species\", ", "{", PL_EKEY, "/factors/1: found no \"name\"" },
        { "\"count\": 5, ", "", PL_EKEY, "/boards/1: found no \"count\"" },
        { "\"kind\": \"piston-press\", ", "", PL_EKEY, "/rigs/1: found no \"kind\"" },
        { "\"dial\": {\"unit\"", "\"dial\": {\"units\"", PL_EKEY, "/rigs/1/dial/units" },
        { "\"title\": \"a trial\"", "\"study\": \"again\"", PL_EKEY, "\"study\"" },
    };

    REFUSE_ALL(*state, whole, cases);
}

static void test_values(void **state)
{
    static const change cases[] = {
        { "\"bench-lap\"", "\"Bench lap\"", PL_EVALUE,
          "/study: found \"Bench lap\", expected a name of a-z, 0-9 and hyphen" },
        { "\"a trial\"", "\"\"", PL_EVALUE, "/title: found \"\", expected a text on one line" },
        { "\"a trial\"", "\"a\\ntrial\"", PL_EVALUE, "control characters are for a \"note\"" },
        { "\"a trial\"", "7", PL_EVALUE, "/title: found 7" },
        { "\"plateau\"", "\"platau\"", PL_EVALUE,
          "/question/aim: found \"platau\", expected plateau, difference, as-good-as or "
          "low-tail" },
        { "\"plateau\"", "\"platau\"", PL_EVALUE, "mend: did you mean \"plateau\"?" },
        { "\"95 %\"", "95", PL_EVALUE, "mend: write per cent with its sign: \"12 %\"" },
        { "\"95 %\"", "\"0 %\"", PL_EVALUE, "/question/share: found \"0 %\"" },
        { "\"95 %\"", "\"40 %\"", PL_EVALUE,
          "/question/share: found \"40 %\", expected 50 % or more" },
        { "\"1 in 10\"", "\"10 in 1\"", PL_EVALUE, "/question/miss_at_most: found \"10 in 1\"" },
        { "\"1 in 10\"", "\"seldom\"", PL_EVALUE,
          "expected a chance (\"1 in 10\", \"10 %\" or 0.1)" },
        { "0.05", "1", PL_EVALUE, "/question/false_alarm: found 1" },
        { "0.05", "[]", PL_EVALUE, "/question/false_alarm" },
        { "\"10 %\"", "\"0 %\"", PL_EVALUE, "/question/worth_noticing: found \"0 %\"" },
        { "\"10 %\"", "\"-1 N/mm2\"", PL_EVALUE, "/question/worth_noticing: found \"-1 N/mm2\"" },
        { "\"glue_ups_per_level\": 3", "\"glue_ups_per_level\": 0", PL_EVALUE,
          "/glue_ups_per_level: found 0, expected a whole number from 1 to 1000" },
        { "\"glue_ups_per_level\": 3", "\"glue_ups_per_level\": 2.5", PL_EVALUE, "found 2.5" },
        { "\"glue_ups_per_level\": 3", "\"glue_ups_per_level\": \"3\"", PL_EVALUE,
          "mend: write it without quotes" },
        { "\"glue_ups_per_level\": 3", "\"glue_ups_per_level\": 1e9", PL_EVALUE, "found 1e9" },
        { "\"36 mm\"", "\"0 mm\"", PL_EVALUE, "/joint/width: found \"0 mm\"" },
        { "\"36 mm\"", "\"-36 mm\"", PL_EVALUE, "mend: it must be above 0" },
        { "\"3 mm\"", "\"-3 mm\"", PL_EVALUE, "mend: it cannot be below 0" },
        { "\"36 mm\"", "\"thirty mm\"", PL_EVALUE, "/joint/width" },
        { "\"36 mm\"", "true", PL_EVALUE, "/joint/width: found true" },
        { "\"class\": \"1.6 %\"", "\"class\": 1.6", PL_EVALUE,
          "/rigs/1/dial/class: found 1.6, expected a text" },
        { "\"settings\": {\"bore\": \"50 mm\"}", "\"settings\": []", PL_EVALUE,
          "/rigs/1/settings: found [], expected an object" },
        { "\"puller\"]", "\"puller\", 7]", PL_EVALUE,
          "/rigs/3: found 7, expected a rig's name, or an object that describes it" },
        { "\"note\": \"invented\"", "\"note\": 3", PL_EVALUE, "/note: found 3, expected a text" },
        { "{\"counts_as_wood\": \"80 %\"}", "\"80 %\"", PL_EVALUE,
          "/rules: found \"80 %\", expected an object" },
        { "\"scale\": \"log-x\"", "\"scale\": \"log\"", PL_EVALUE, "expected x or log-x" },
        { "\"complete-blocks\"", "\"cubes\"", PL_EVALUE, "/arrangement/kind" },
        { "\"show_in\": [\"N/mm2\", \"psi\"]", "\"show_in\": \"psi\"", PL_EVALUE,
          "/responses/0/show_in: found \"psi\", expected a list of 1 to 2 units of strength" },
        { "\"show_in\": [\"N/mm2\", \"psi\"]", "\"show_in\": []", PL_EVALUE,
          "found 0 in the list" },
        { "\"over\": \"pressure\"", "\"over\": \"presure\"", PL_EVALUE,
          "/question/over: found \"presure\", expected a factor: pressure or species" },
        { "\"over\": \"pressure\"", "\"over\": \"presure\"", PL_EVALUE,
          "mend: did you mean \"pressure\"?" },
        { "\"for_each\": \"species\"", "\"for_each\": \"wood\"", PL_EVALUE,
          "/question/for_each: found \"wood\", expected a factor: pressure or species" },
        { "\"over\": \"pressure\", \"for_each\": \"species\"", "\"over\": \"species\"", PL_EVALUE,
          "/question/over: found \"species\", expected a factor whose levels are measures" },
        { "\"rig\": \"puller\"", "\"rig\": \"pullar\"", PL_EVALUE,
          "/breaking/rig: found \"pullar\", expected a rig named in `rigs`: stack, jack or "
          "puller" },
        { "\"rigs\": [\"jack\", \"stack\"]", "\"rigs\": [\"jakc\", \"stack\"]", PL_EVALUE,
          "/presses/1/rigs/0: found \"jakc\"" },
        { "{\"cv\": \"13 %\", \"glue_ups\": 7, \"between_glue_ups\": \"12 %\", \"within\": \"5 "
          "%\"}",
          "\"known\"", PL_EVALUE, "/scatter: found \"known\", expected \"unknown\" or an object" },
    };

    REFUSE_ALL(*state, whole, cases);
}

static void test_units(void **state)
{
    static const change cases[] = {
        { "\"36 mm\"", "36", PL_EUNIT,
          "t.json:13: /joint/width: found 36, expected a length with its unit (mm, cm, in)" },
        { "\"36 mm\"", "36", PL_EUNIT, "mend: write the number and its unit in double quotes" },
        { "\"36 mm\"", "\"36\"", PL_EUNIT, "/joint/width: found \"36\"" },
        { "\"36 mm\"", "\"36 bar\"", PL_EUNIT, "\"bar\" is a pressure, not a length" },
        { "\"50 min\"", "\"50 minits\"", PL_EUNIT, "/times/clamp: found \"50 minits\"" },
        { "\"150 g/m2\"", "\"150 g\"", PL_EUNIT, "/adhesive/spread: found \"150 g\"" },
        { "\"9 N/mm2\"", "\"9 kN\"", PL_EUNIT, "/breaking/expected_strength: found \"9 kN\"" },
        { "\"9 cm2\"", "\"9 cm\"", PL_EUNIT, "/joint/stated_area: found \"9 cm\"" },
        { "\"10 %\"", "\"2 kN\"", PL_EUNIT, "/question/worth_noticing: found \"2 kN\"" },
        { "\"psi\"]", "\"kN\"]", PL_EUNIT, "/responses/0/show_in/1: found \"kN\"" },
        { "\"0.6 N/mm2\"", "\"87 psi\"", PL_EUNIT,
          "/factors/0/levels/1: found \"87 psi\", expected every level of \"pressure\" in N/mm2" },
        { "\"0.6 N/mm2\"", "\"0.6 mm\"", PL_EUNIT,
          "/factors/0/levels/1: found \"0.6 mm\", expected a pressure in N/mm2, as the first level "
          "is" },
        { "\"0.6 N/mm2\"", "0.6", PL_EUNIT, "/factors/0/levels/1: found 0.6" },
    };

    REFUSE_ALL(*state, whole, cases);
}

static void test_levels(void **state)
{
    static const change cases[] = {
        { "\"levels\": [\"beech\", \"larch\"]", "\"levels\": [\"beech\"]", PL_EVALUE,
          "/factors/1/levels: found 1 in the list, expected a list of 2 to 200 levels" },
        { "\"0.6 N/mm2\"", "\"0.3 N/mm2\"", PL_ECONFLICT,
          "/factors/0/levels/1: found level \"0.3 N/mm2\" twice, expected levels that differ" },
        { "\"0.6 N/mm2\"", "\"0.30 MPa\"", PL_ECONFLICT, "/factors/0/levels/1: found level" },
        { "\"0.6 N/mm2\"", "\"-0.6 N/mm2\"", PL_EVALUE,
          "/factors/0/levels/1: found \"-0.6 N/mm2\", expected a pressure of 0 or more" },
        { "\"0.6 N/mm2\"", "\"beech\"", PL_EVALUE, "/factors/0/levels/1: found \"beech\"" },
        { "\"0.6 N/mm2\"", "null", PL_EVALUE, "/factors/0/levels/1: found null" },
        { "\"set_by\": \"press\"", "\"from\": \"1 bar\", \"set_by\": \"press\"", PL_ECONFLICT,
          "/factors/0/from: found `from` beside `levels`, expected one or the other" },
        { "\"set_by\": \"press\"", "\"spacing\": \"equal steps\"", PL_ECONFLICT,
          "/factors/0/spacing: found `spacing` beside `levels`" },
        { "\"set_by\": \"press\"", "\"set_by\": \"press\", \"comes_with\": \"box\"", PL_EVALUE,
          "/factors/0/comes_with: found \"box\", expected board" },
    };
    bench *b = *state;
    char *text;

    REFUSE_ALL(b, whole, cases);
    text = with(b, whole, ", \"for_each\": \"species\"", "");
    assert_refused(b, with(b, text, "\"name\": \"species\"", "\"name\": \"pressure\""),
                   PL_ECONFLICT, "/factors/1/name: found two factors named \"pressure\"");
    /* Doubled names of levels, with boards for both. */
    text = with(b, whole, "[\"beech\", \"larch\"]", "[\"beech\", \"larch\", \"beech\"]");
    assert_refused(b, text, PL_ECONFLICT, "/factors/1/levels/2: found level \"beech\" twice");
}

#define LISTED "\"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", \"0.9 N/mm2\", \"1.6 N/mm2\"]"

static void test_spaced_levels(void **state)
{
    static const change cases[] = {
        { LISTED, "\"set_by\": \"press\"", PL_EKEY,
          "/factors/0: found no levels, expected `levels`, or from, to and count" },
        { LISTED, "\"from\": \"1 bar\", \"to\": \"3 bar\"", PL_EKEY,
          "/factors/0: found no \"count\", expected from, to and count together" },
        { LISTED, "\"from\": \"1 bar\", \"count\": 3", PL_EKEY, "/factors/0: found no \"to\"" },
        { LISTED, "\"from\": \"3 bar\", \"to\": \"1 bar\", \"count\": 3", PL_ECONFLICT,
          "/factors/0/to: found \"1 bar\", expected more than 3 bar" },
        { LISTED, "\"from\": \"1 bar\", \"to\": \"1 bar\", \"count\": 3", PL_ECONFLICT,
          "/factors/0/to" },
        { LISTED,
          "\"from\": \"0 bar\", \"to\": \"1 bar\", \"count\": 3, "
          "\"spacing\": \"constant ratio\"",
          PL_EVALUE,
          "/factors/0/from: found \"0 bar\", expected more than 0 for a constant ratio" },
        { LISTED, "\"from\": \"1 bar\", \"to\": \"30 psi\", \"count\": 3", PL_EUNIT,
          "/factors/0/to: found \"30 psi\", expected every level of \"pressure\" in bar" },
        { LISTED, "\"from\": \"one\", \"to\": \"three\", \"count\": 3", PL_EVALUE,
          "/factors/0/from: found \"one\", expected a number with its unit" },
        { LISTED, "\"from\": \"1 bar\", \"to\": \"3 bar\", \"count\": 1", PL_EVALUE,
          "/factors/0/count: found 1, expected a whole number from 2 to 200" },
        { LISTED, "\"from\": \"1 bar\", \"to\": \"3 bar\", \"count\": 3, \"spacing\": \"equal\"",
          PL_EVALUE,
          "/factors/0/spacing: found \"equal\", expected equal steps, constant ratio or for the "
          "aim" },
        { LISTED, "\"from\": \"1.0001 bar\", \"to\": \"1.0003 bar\", \"count\": 5", PL_ECONFLICT,
          "/factors/0: found level" },
    };
    bench *b = *state;
    size_t last = sizeof cases / sizeof *cases - 1;
    const pl_study *s;

    refuse_all(b, least, cases, last);
    /* Three pairs are too close: each is said. */
    assert_code(b, PL_ECONFLICT, parse(b, with(b, least, LISTED, cases[last].to), &s));
    assert_finding(b, cases[last].says);
}

static void test_conflicts(void **state)
{
    static const change cases[] = {
        /* Fact of the trade: common practice, no source. See test_lap_of_old below
         * for the case in inches. */
        { "\"9 cm2\"", "\"10 cm2\"", PL_ECONFLICT,
          "t.json:15: /joint/stated_area: found \"10 cm2\", expected 9 cm2 from the dimensions" },
        { "\"overlap\": \"25 mm\"", "\"overlap\": \"25 mm\", \"height\": \"9 mm\"", PL_ECONFLICT,
          "/joint/height: found `height`, expected only sizes of a lap joint" },
        { "\"overlap\": \"25 mm\", ", "", PL_EKEY, "/joint: found no \"overlap\"" },
        { "\"kind\": \"lap\"", "\"kind\": \"lap\", \"area\": \"9 cm2\"", PL_ECONFLICT,
          "/joint/area: found `area`" },
        { "\"length\": \"90 mm\"", "\"length\": \"20 mm\"", PL_ECONFLICT,
          "/joint/overlap: found \"25 mm\", expected at most the adherend's length, 20 mm" },
        { "\"adherend\": {\"length\": \"90 mm\", \"width\": \"36 mm\"",
          "\"adherend\": {\"length\": \"90 mm\", \"width\": \"35 mm\"", PL_ECONFLICT,
          "/joint/width: found \"36 mm\", expected at most the adherend's width, 35 mm" },
        { "\"specimens_per_glue_up\": 1", "\"glue_up_area\": \"8 cm2\"", PL_ECONFLICT,
          "/joint/glue_up_area: found \"8 cm2\", expected at least the bond of one specimen, 9 "
          "cm2" },
        { "\"thickness\": \"12 mm\"},\n    {\"species\": \"larch\"",
          "\"thickness\": \"11 mm\"},\n    {\"species\": \"larch\"", PL_ECONFLICT,
          "/boards/0/thickness: found \"11 mm\", expected at least the adherend's thickness, 12 "
          "mm" },
        { "\"700 mm\"", "\"130 mm\"", PL_ECONFLICT,
          "/boards/0: found a board too small for one specimen, expected room for 2 pieces of "
          "90 mm x 36 mm" },
        { "\"count\": 4, ", "\"count\": 4, \"specimens\": 8, ", PL_ECONFLICT,
          "/boards/0/specimens: found 8, expected at most 7 by the sizes, kerf and ends" },
        { "\"species\": \"larch\", \"count\"", "\"species\": \"beech\", \"count\"", PL_ECONFLICT,
          "/factors/1: found no boards for \"larch\", expected boards of every level that comes "
          "with the board" },
        { "[\"beech\", \"larch\"]", "[\"beech\", \"larch\", \"oak\"]", PL_ECONFLICT,
          "mend: in boards: {\"species\": \"oak\", \"count\": 6, ...}" },
        { "\"for_each\": \"species\"", "\"for_each\": \"pressure\"", PL_ECONFLICT,
          "/question/for_each: found \"pressure\", expected another factor than the curve runs "
          "along" },
        { "\"open_time\": \"5 min\"", "\"open_time\": \"10 min\"", PL_ECONFLICT,
          "/adhesive/open_time: found \"10 min\", expected at most the open_time_limit, 9 min" },
        { "\"puller\"]", "\"puller\", \"stack\"]", PL_ECONFLICT,
          "/rigs/3: found rig \"stack\" twice" },
        { "\"name\": \"frame\"", "\"name\": \"stand\"", PL_ECONFLICT,
          "/presses/1/name: found two presses named \"stand\"" },
        { "\"stations\": 3", "\"stations\": 3, \"specimens_at_once\": 4", PL_ECONFLICT,
          "/presses/1: found 1 joints at once, 4 in \"stand\"" },
        { "\"cv\": \"13 %\", \"glue_ups\": 7, \"between_glue_ups\": \"12 %\", \"within\": \"5 %\"",
          "\"cv\": \"13 %\", \"sd\": \"1 N/mm2\"", PL_ECONFLICT,
          "/scatter/cv: found `cv` beside `sd`, expected one or the other" },
        { "\"cv\": \"13 %\"", "\"cv\": \"20 %\"", PL_ECONFLICT,
          "/scatter: found parts that make 13 % beside cv 20 %" },
        { "\"within\": \"5 %\"", "\"within\": \"0.5 N/mm2\"", PL_ECONFLICT,
          "/scatter/within: found \"0.5 N/mm2\", expected a share, as cv is" },
        { ", \"within\": \"5 %\"", "", PL_EKEY, "/scatter: found no \"within\"" },
        { "\"cv\": \"13 %\", \"glue_ups\": 7, \"between_glue_ups\": \"12 %\", \"within\": \"5 %\"",
          "\"glue_ups\": 7", PL_EKEY, "/scatter: found no scatter" },
        { "\"cv\": \"13 %\", \"glue_ups\": 7, \"between_glue_ups\": \"12 %\", \"within\": \"5 %\"",
          "\"cv\": \"0 %\"", PL_EVALUE, "/scatter/cv" },
        { "\"hands_on\": \"4 min\"", "\"hands_on\": \"7 h\"", PL_ECONFLICT,
          "/times/hands_on: found \"7 h\", expected a glue-up that fits into one session" },
        { "\"set_by\": \"press\"", "\"set_by\": \"hand\", \"comes_with\": \"board\"", PL_ECONFLICT,
          "both come with the board" },
    };
    bench *b = *state;
    size_t last = sizeof cases / sizeof *cases - 1;
    const pl_study *s;

    refuse_all(b, whole, cases, last);
    /* Pressures that come with the board have no boards, either. */
    assert_code(b, PL_ECONFLICT, parse(b, with(b, whole, cases[last].from, cases[last].to), &s));
    assert_finding(b, cases[last].says);
}

/* A 1.5 in x 1.5 in lap has 2.25 in2, and 2.5 in2 is objected to: common
 * practice, no source. */
static void test_lap_of_old(void **state)
{
    bench *b = *state;

    assert_refused(
        b,
        with(b, least, "\"width\": \"36 mm\", \"overlap\": \"25 mm\"",
             "\"width\": \"1.5 in\", \"overlap\": \"1.5 in\", \"stated_area\": \"2.5 in2\""),
        PL_ECONFLICT,
        "t.json:3: /joint/stated_area: found \"2.5 in2\", expected 2.25 in2 from the "
        "dimensions\n  mend: leave stated_area out, or correct the dimensions");
}

/* A press sets a pressure and nothing else. */
static void test_press_sets_pressure(void **state)
{
    bench *b = *state;
    char *text = with(b, whole, "\"set_by\": \"press\"", "\"set_by\": \"hand\"");

    assert_refused(
        b,
        with(b, text, "\"larch\"], \"comes_with\": \"board\"", "\"larch\"], \"set_by\": \"press\""),
        PL_EUNIT,
        "/factors/1/set_by: found \"press\", expected a factor whose levels are "
        "pressures on the bond");
}

static void test_pressed_twice(void **state)
{
    bench *b = *state;
    char *text = with(b, whole, "\"comes_with\": \"board\"}],",
                      "\"comes_with\": \"board\"}, {\"name\": \"caul\", \"levels\": "
                      "[\"1 bar\", \"2 bar\"]}],");

    assert_refused(b, text, PL_ECONFLICT,
                   "/factors/2: found \"pressure\" and \"caul\" both set by the press");
    text = with(b, whole, "\"set_by\": \"press\"", "\"set_by\": \"hand\"");
    assert_ok(b, parse(b, text, &(const pl_study *){ NULL }));
}

/* A plateau needs something to rise along. */
static void test_plateau_of_names(void **state)
{
    bench *b = *state;
    char *text = with(b, least, "\"question\": {}", "\"question\": {\"aim\": \"plateau\"}");

    assert_refused(b, with(b, text, LISTED, "\"levels\": [\"planed\", \"sanded\"]"), PL_ECONFLICT,
                   "/question/aim: found \"plateau\", expected a factor along which strength can "
                   "rise");
    /* A unit that nobody knows makes names of measures: said where it matters. */
    text = with(b, least, "\"question\": {}", "\"question\": {\"over\": \"pressure\"}");
    text = with(b, text, LISTED, "\"levels\": [\"1 baar\", \"2 baar\"]");
    assert_refused(b, text, PL_EVALUE,
                   "mend: its levels start with numbers, but with no unit known here");
}

static void test_no_boards_at_all(void **state)
{
    bench *b = *state;
    const pl_study *s;
    char *text = with(b, least, "[{\"name\": \"pressure\"",
                      "[{\"name\": \"species\", \"levels\": [\"beech\", \"larch\"], "
                      "\"comes_with\": \"board\"}, {\"name\": \"pressure\"");

    assert_code(b, PL_ECONFLICT, parse(b, text, &s));
    assert_finding(b, "/factors/0: found no boards for \"beech\"");
    assert_finding(b, "/factors/0: found no boards for \"larch\"");
}

/* A board of a wood that is no level: most likely a slip of the pen. */
static void test_board_of_no_level(void **state)
{
    bench *b = *state;
    const pl_study *s;

    assert_code(b, PL_ECONFLICT,
                parse(b, with(b, whole, "\"species\": \"larch\"", "\"species\": \"lrach\""), &s));
    assert_finding(b, "/boards/1/species: found \"lrach\", expected a level of \"species\": beech "
                      "or larch\n  mend: did you mean \"larch\"?");
    assert_finding(b, "/factors/1: found no boards for \"larch\"");
    assert_int_equal(b->d.count, 2);
}

/* Twelve faults of every kind, one run, each with its own line. */
static void test_all_at_once(void **state)
{
    static const struct {
        const char *from, *to, *says;
    } faults[] = {
        { "\"a trial\"", "5", "t.json:3: /title" },
        { "\"pressure\", \"for_each\"", "\"presure\", \"for_each\"", "t.json:4: /question/over" },
        { "\"95 %\"", "\"195 %\"", "t.json:5: /question/share" },
        { "\"strength\", \"kind\"", "\"\", \"kind\"", "t.json:7: /responses/0/name" },
        { "\"0.6 N/mm2\"", "\"0.6 N\"", "t.json:10: /factors/0/levels/1" },
        { "\"36 mm\"", "36", "t.json:13: /joint/width" },
        { "\"count\": 5", "\"cuont\": 5", "t.json:18: /boards/1/cuont" },
        { "\"puller\"]", "\"puller\", \"jack\"]", "t.json:23: /rigs/3" },
        { "\"50 min\"", "\"50\"", "t.json:28: /times/clamp" },
        { "\"13 %\"", "\"30 %\"", "t.json:30: /scatter" },
        { "\"30 h\"", "30", "t.json:31: /budget/press_hours" },
        { "\"complete-blocks\"", "\"blocks\"", "t.json:32: /arrangement/kind" },
    };
    bench *b = *state;
    const pl_study *s;
    const char *text = whole;

    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++)
        text = with(b, text, faults[i].from, faults[i].to);
    assert_code(b, PL_EVALUE, parse(b, text, &s));
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++)
        assert_finding(b, faults[i].says);
    /* "cuont" for "count" is two: one key unknown, one missing. */
    assert_int_equal(b->d.count, sizeof faults / sizeof *faults + 1);
}

static void test_not_json(void **state)
{
    static const change cases[] = {
        { "\"note\": \"invented\"\n}", "\"note\": \"invented\"\n} x", PL_ESYNTAX, "'x'" },
        { "\"count\": 5", "\"count\": 05", PL_ESYNTAX, "/boards/1/count: found '05'" },
        { "\"count\": 5", "\"count\": 1e999", PL_EVALUE, "/boards/1/count: found '1e999'" },
        { "a trial", "a \xff trial", PL_ESYNTAX, "t.json:3" },
    };
    bench *b = *state;
    const pl_study *s;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pl_diags_init(&b->d, b->a);
        assert_code(b, cases[i].code, parse(b, with(b, whole, cases[i].from, cases[i].to), &s));
        assert_finding(b, cases[i].says);
    }
    assert_code(b, PL_EVALUE, parse(b, "[]", &s));
    assert_finding(b, "expected an object");
    assert_code(b, PL_ESYNTAX, pl_study_parse(b->a, "t.json", "{\0}", 3, &s, &b->d));
    assert_int_not_equal(PL_OK, parse(b, "", &s));
}

/* Reference joints and bridging pairs. */
static void test_extras(void **state)
{
    static const change cases[] = {
        { "\"budget\"",
          "\"reference_joint\": {\"treatment\": {\"pressure\": \"0.6 N/mm2\"}}, \"budget\"",
          PL_EKEY,
          "/reference_joint/treatment: found not all factors, expected a level of species" },
        { "\"budget\"",
          "\"reference_joint\": {\"treatment\": {\"pressure\": \"0.7 N/mm2\", \"species\": "
          "\"beech\"}}, \"budget\"",
          PL_EVALUE, "expected a level of pressure as listed: 0.3 N/mm2, 0.6 N/mm2" },
        { "\"budget\"",
          "\"reference_joint\": {\"treatment\": {\"presure\": \"0.6 N/mm2\", \"pressure\": \"0.6 "
          "N/mm2\", \"species\": \"beech\"}}, \"budget\"",
          PL_EKEY, "did you mean \"pressure\"?" },
        { "\"budget\"", "\"bridging\": {\"at\": \"5 N/mm2\"}, \"budget\"", PL_EVALUE,
          "/bridging/at: found \"5 N/mm2\", expected a level of pressure as listed" },
    };
    bench *b = *state;
    const pl_study *s;

    REFUSE_ALL(b, whole, cases);
    assert_refused(b, with(b, least, "\"joint\"", "\"bridging\": {}, \"joint\""), PL_ECONFLICT,
                   "expected two rigs at least");
    assert_ok(b, parse(b,
                       with(b, whole, "\"budget\"",
                            "\"reference_joint\": {\"treatment\": {\"pressure\": \"0.6 N/mm2\", "
                            "\"species\": \"larch\"}, \"per_session\": 2}, \"bridging\": "
                            "{\"at\": \"0.9 N/mm2\", \"at_most\": \"4 %\"}, \"budget\""),
                       &s));
    assert_true(s->reference.given && s->bridging.given);
    assert_int_equal(s->reference.levels[0], 1);
    assert_int_equal(s->reference.levels[1], 1);
    assert_int_equal(s->reference.per_session, 2);
    assert_int_equal(s->bridging.level, 2);
    assert_rel("at most", s->bridging.at_most.value, 0.04, 1e-15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_extras),
        TEST(test_keys),
        TEST(test_values),
        TEST(test_units),
        TEST(test_levels),
        TEST(test_spaced_levels),
        TEST(test_conflicts),
        TEST(test_lap_of_old),
        TEST(test_pressed_twice),
        TEST(test_press_sets_pressure),
        TEST(test_plateau_of_names),
        TEST(test_no_boards_at_all),
        TEST(test_board_of_no_level),
        TEST(test_all_at_once),
        TEST(test_not_json),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
