/* Forms: written as they should look, read as they should count, and every kind
 * of bad cell. All values here are invented; times are reckoned by hand or with
 * date(1), as said beside them. */
#include "shop.h"

#include <time.h>

#include "base/file.h"
#include "bench/columns.h"
#include "study/response.h"

/* Central European Time by rule, so that no table of zones is needed: +01:00,
 * +02:00 from the last Sunday of March to that of October. */
static void set_zone(void)
{
    setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3", 1);
    tzset();
}

/* The study reader's list of columns that no response may have, and this room's table, are one. */
static void test_known_columns(void **state)
{
    bench *b = *state;
    const pl_study *s = shop_study(b);
    static const pl_form forms[] = { PL_FORM_GLUE_UPS, PL_FORM_BREAKS };

    for (size_t f = 0; f < 2; f++) {
        pl_form_column columns[PL_FORM_COLUMNS_MOST];
        size_t n = pl_form_columns(s, forms[f], NULL, NULL, columns);

        for (size_t i = 0; i < n; i++)
            if (!pl_response_column_known(columns[i].name))
                fail_msg("a response could take the column %s", columns[i].name);
    }
    assert_false(pl_response_column_known("line_thickness"));
}

/* ------------------------------------------------------------------- writing ---- */

static void test_written(void **state)
{
    bench *b = *state;
    const pl_study *s = shop_study(b);
    const pl_plan *p = shop_plan(b);

    assert_string_equal(
        pl_form_write(b->a, PL_FORM_BOARDS, s, p, NULL),
        "board,species,length [mm],width [mm],thickness [mm],weight [kg],moisture [%],"
        "growth_rings,usable_from [mm],usable_to [mm],photo,note\n"
        "B1,beech,,,,,,,,,,\n"
        "B2,larch,,,,,,,,,,\n");
    assert_string_equal(
        pl_form_write(b->a, PL_FORM_SESSIONS, s, p, NULL),
        "session,date,operator,room_temperature [degC],humidity [%],adhesive_batch,rig,"
        "dial_no_load [bar],supply [bar],note\n"
        "1,,,,,,weights,,,\n"
        "1,,,,,,jack,,,\n"
        "2,,,,,,weights,,,\n"
        "2,,,,,,jack,,,\n");
    assert_string_equal(
        pl_form_write(b->a, PL_FORM_GLUE_UPS, s, p, NULL),
        "glue_up,session,rig,spread_at,closed_at,pressed_at,opened_at,dial_at_start [bar],"
        "dial_at_end [bar],glue_weight [g],squeeze_out,made_as,note\n"
        "G1,1,jack,,,,,,,,,,\n"
        "G2,1,weights,,,,,,,,,,\n"
        "G3,1,jack,,,,,,,,,,\n"
        "G4,2,weights,,,,,,,,,,\n"
        "G5,2,jack,,,,,,,,,,\n"
        "G6,2,jack,,,,,,,,,,\n");
    /* in break order, spare left out, nothing but the id */
    assert_string_equal(
        pl_form_write(b->a, PL_FORM_BREAKS, s, p, NULL),
        "specimen,rig,operator,broken_at,width [mm],overlap [mm],peak [kN],first_drop [kN],"
        "wood_failure [%],mode,trace,photo,note\n"
        "H2W3,,,,,,,,,,,,\n"
        "R4T9,,,,,,,,,,,,\n"
        "Z5C5,,,,,,,,,,,,\n"
        "K7MN,,,,,,,,,,,,\n"
        "D8NN,,,,,,,,,,,,\n"
        "B9XH,,,,,,,,,,,,\n");
    assert_non_null(strstr(pl_form_write(b->a, PL_FORM_BREAKS, s, p, "bar"), "peak [bar]"));
}

/* What is written is known for what it is, and blank gives nothing. */
static void test_blank_forms(void **state)
{
    bench *b = *state;
    const pl_study *s = shop_study(b);
    const pl_plan *p = shop_plan(b);
    pl_form_file files[PL_NFORMS];

    for (int f = 0; f < PL_NFORMS; f++) {
        const char *text = pl_form_write(b->a, (pl_form)f, s, p, NULL);
        pl_form form = PL_NFORMS;

        assert_ok(b, pl_csv_parse(b->a, pl_form_name((pl_form)f), text, strlen(text), &files[f].csv,
                                  &b->d));
        assert_true(pl_form_of(s, files[f].csv, &form));
        assert_int_equal(form, f);
    }
    assert_ok(b, pl_forms_read(b->a, s, p, files, PL_NFORMS, NULL, &b->d));
    assert_int_equal(files[PL_FORM_BREAKS].readings.count, 0);
    assert_int_equal(files[PL_FORM_SESSIONS].readings.count, 0);
    /* what the forms came with is not a reading */
    assert_int_equal(files[PL_FORM_GLUE_UPS].readings.count, 0);
    assert_int_equal(files[PL_FORM_BOARDS].readings.count, 0);
}

/* ------------------------------------------------------------------- reading ---- */

static const char sessions_text[] =
    "session,date,operator,room_temperature [degC],humidity [%],adhesive_batch,rig,"
    "dial_no_load [bar],supply [bar],note\n"
    "1,2027-03-01,Ada,19.5,48,L 7,weights,,,\n"
    "1,,,,,,jack,-0.1,20,\"hose, new\"\n"
    "2,2027-03-27,Ada,66 degF,52 %,L 7,jack,0.2,,\n";

static const char glue_ups_text[] =
    "glue_up,session,rig,spread_at,closed_at,pressed_at,opened_at,dial_at_start [bar],"
    "dial_at_end [bar],glue_weight [g],squeeze_out,made_as,note\n"
    "G1,1,jack,9:05,9:09,9:10,9:55,16.4,16.0,0.45,beads,,\n"
    "g2,1,weights,16:00,16:04,16:06,07:30,,,0.44,,,left over night\n"
    "G4,2,,2027-03-28T01:30+01:00,03:02,03:04,,4.4,,,,,\n";

static const char breaks_text[] =
    "specimen,operator,broken_at,width [mm],overlap [mm],peak [kN],wood_failure [%],mode,note\n"
    "h2w3,Ben,2027-04-05 10:00,40.1,29.8,8.52,10,cohesive,\n"
    "R4 T9,Ben,10:06,40.0,30.2,\"9.4..9.6\",80 %,Wood,\n"
    "K7MN,Ben,10:12,39.9,30.0,12100 N,,not broken,\n";

static void take_a_week(bench *b, pl_form_file files[3])
{
    static const char *const names[] = { "breaks.csv", "glue-ups.csv", "sessions.csv" };
    const char *const texts[] = { breaks_text, glue_ups_text, sessions_text };

    set_zone();
    /* the wrong way round: sessions are read first all the same */
    assert_ok(b, read_texts(b, names, texts, 3, NULL, files));
}

static void test_sessions(void **state)
{
    bench *b = *state;
    pl_form_file files[3];
    const pl_form_file *f = &files[2];
    const pl_reading *r;

    take_a_week(b, files);
    assert_int_equal(f->form, PL_FORM_SESSIONS);
    r = found(f, PL_ON_SESSION, "1", "date");
    /* TZ=CET-1 date -d '2027-03-01' +%s */
    assert_true(r->value == 1803855600);
    assert_string_equal(r->text, "2027-03-01");
    assert_string_equal(r->unit, "+01:00");
    assert_string_equal(r->where, "sessions.csv:2:3");
    assert_string_equal(found(f, PL_ON_SESSION, "1", "operator")->text, "Ada");
    assert_rel("19.5 degC", found(f, PL_ON_SESSION, "1", "room_temperature")->value, 292.65, 1e-14);
    /* 66 degF = (66 - 32) / 1.8 degC + 273.15 K */
    assert_rel("66 degF", found(f, PL_ON_SESSION, "2", "room_temperature")->value,
               34 / 1.8 + 273.15, 1e-14);
    assert_rel("humidity", found(f, PL_ON_SESSION, "2", "humidity")->value, 0.52, 1e-15);
    /* the rig's own */
    assert_rel("no load", found(f, PL_ON_SESSION, "1/jack", "dial_no_load")->value, -1e4, 1e-14);
    assert_rel("supply", found(f, PL_ON_SESSION, "1/jack", "supply")->value, 2e6, 1e-14);
    assert_string_equal(found(f, PL_ON_SESSION, "1/jack", "note")->text, "hose, new");
    assert_null(pl_readings_find(&f->readings, PL_ON_SESSION, "1", "dial_no_load"));
    assert_string_equal(pl_session_rig_id(b->a, 1, "jack"), "1/jack");
}

static void test_glue_ups(void **state)
{
    bench *b = *state;
    pl_form_file files[3];
    const pl_form_file *f = &files[1];
    const pl_reading *r;

    take_a_week(b, files);
    /* midnight of 1 March is 1803855600: + 9 h 5 min, + 16 h, + 31 h 30 min */
    assert_true(found(f, PL_ON_GLUE_UP, "G1", "spread_at")->value == 1803855600 + 9 * 3600 + 300);
    assert_true(found(f, PL_ON_GLUE_UP, "G1", "opened_at")->value == 1803855600 + 9 * 3600 + 3300);
    r = found(f, PL_ON_GLUE_UP, "G2", "opened_at");
    assert_true(r->value == 1803855600 + 31 * 3600 + 1800); /* the next day */
    assert_string_equal(r->text, "07:30");
    /* the night of 28 March 2027, when 02:00 becomes 03:00: 01:30 +01:00 is
     * 00:30 UTC; 03:02 +02:00 is 01:02 UTC */
    r = found(f, PL_ON_GLUE_UP, "G4", "closed_at");
    assert_true(r->value - found(f, PL_ON_GLUE_UP, "G4", "spread_at")->value == 32 * 60);
    assert_string_equal(r->unit, "+02:00");
    assert_string_equal(found(f, PL_ON_GLUE_UP, "G4", "spread_at")->unit, "+01:00");
    assert_rel("dial", found(f, PL_ON_GLUE_UP, "G1", "dial_at_start")->value, 1.64e6, 1e-14);
    assert_string_equal(found(f, PL_ON_GLUE_UP, "G1", "dial_at_start")->unit, "bar");
    assert_rel("glue", found(f, PL_ON_GLUE_UP, "G1", "glue_weight")->value, 0.00045, 1e-14);
    assert_string_equal(found(f, PL_ON_GLUE_UP, "G1", "rig")->text, "jack");
    assert_true(found(f, PL_ON_GLUE_UP, "G4", "session")->value == 2);
    assert_null(pl_readings_find(&f->readings, PL_ON_GLUE_UP, "G4", "rig")); /* as planned */
    assert_string_equal(found(f, PL_ON_GLUE_UP, "G2", "note")->text, "left over night");
    assert_finding(b, "G4 was open for 32 min, expected at most 8 min");
}

static void test_breaks(void **state)
{
    bench *b = *state;
    pl_form_file files[3];
    const pl_form_file *f = &files[0];
    const pl_reading *r;

    take_a_week(b, files);
    r = found(f, PL_ON_SPECIMEN, "H2W3", "peak"); /* typed in small letters */
    assert_rel("peak", r->value, 8520, 1e-14);
    assert_string_equal(r->unit, "kN");
    assert_string_equal(r->text, "8.52");
    assert_rel("width", found(f, PL_ON_SPECIMEN, "H2W3", "width")->value, 0.0401, 1e-14);
    r = found(f, PL_ON_SPECIMEN, "R4T9", "peak"); /* the middle of the interval */
    assert_rel("interval", r->value, 9500, 1e-14);
    assert_string_equal(r->text, "9.4..9.6");
    assert_rel("wood", found(f, PL_ON_SPECIMEN, "R4T9", "wood_failure")->value, 0.8, 1e-15);
    assert_string_equal(found(f, PL_ON_SPECIMEN, "R4T9", "mode")->text, "wood");
    r = found(f, PL_ON_SPECIMEN, "K7MN", "peak"); /* with a unit of its own */
    assert_rel("12100 N", r->value, 12100, 1e-14);
    assert_string_equal(r->unit, "N");
    assert_string_equal(found(f, PL_ON_SPECIMEN, "K7MN", "mode")->text, "not-broken");
    /* a bare time takes the date of the row above; 5 April is summer time:
     * TZ=CET-2 date -d '2027-04-05 10:12' +%s */
    assert_true(found(f, PL_ON_SPECIMEN, "K7MN", "broken_at")->value == 1806912720);
}

/* A dial's reading stays a pressure; the caller knows the rig. */
static void test_peak_on_a_dial(void **state)
{
    bench *b = *state;
    pl_form_file f;

    assert_ok(b, read_text(b, "specimen;peak [bar]\nH2W3;41,5\nK7MN;600 psi\n", &f));
    assert_rel("41.5 bar", found(&f, PL_ON_SPECIMEN, "H2W3", "peak")->value, 4.15e6, 1e-14);
    assert_string_equal(found(&f, PL_ON_SPECIMEN, "H2W3", "peak")->unit, "bar");
    assert_string_equal(found(&f, PL_ON_SPECIMEN, "H2W3", "peak")->text, "41,5");
    /* 1 psi = 0.45359237 * 9.80665 / 0.0254^2 Pa, by definition */
    assert_rel("600 psi", found(&f, PL_ON_SPECIMEN, "K7MN", "peak")->value,
               600 * 0.45359237 * 9.80665 / (0.0254 * 0.0254), 1e-12);
}

/* The date of a session may come from the book. */
static void test_known_date(void **state)
{
    bench *b = *state;
    pl_form_file f;
    pl_readings known = { 0 };
    const char *name = "g.csv", *text = "glue_up,closed_at\nG1,14:05\n";

    set_zone();
    assert_code(b, PL_EVALUE, read_texts(b, &name, &text, 1, NULL, &f));
    assert_finding(b, "expected a date: session 1 has none yet");
    assert_ok(b, pl_readings_add(b->a, &known,
                                 (pl_reading){ .subject = PL_ON_SESSION,
                                               .id = "1",
                                               .quantity = "date",
                                               .text = "2027-03-01",
                                               .value = 1803855600,
                                               .unit = "+01:00",
                                               .where = "book" },
                                 &b->d));
    assert_ok(b, read_texts(b, &name, &text, 1, &known, &f));
    assert_true(found(&f, PL_ON_GLUE_UP, "G1", "closed_at")->value == 1803855600 + 14 * 3600 + 300);
    /* and so may the event before it */
    assert_ok(b, pl_readings_add(b->a, &known,
                                 (pl_reading){ .subject = PL_ON_GLUE_UP,
                                               .id = "G1",
                                               .quantity = "spread_at",
                                               .text = "14:30",
                                               .value = 1803855600 + 14 * 3600 + 1800,
                                               .unit = "+01:00",
                                               .where = "book" },
                                 &b->d));
    assert_code(b, PL_ECONFLICT, read_texts(b, &name, &text, 1, &known, &f));
    assert_finding(b, "found \"14:05\", expected closed_at after spread_at 14:30");
}

static void test_boards(void **state)
{
    bench *b = *state;
    pl_form_file f;

    assert_ok(b, read_text(b,
                           "board,species,length [in],weight [lb],moisture [%],growth_rings\n"
                           "b1,Beech,35.4,2.5,8.5,2 mm\n",
                           &f));
    assert_rel("length", found(&f, PL_ON_BOARD, "B1", "length")->value, 35.4 * 0.0254, 1e-14);
    assert_rel("moisture", found(&f, PL_ON_BOARD, "B1", "moisture")->value, 0.085, 1e-14);
    assert_code(b, PL_ECONFLICT, read_text(b, "board,species\nB1,larch\n", &f));
    assert_finding(b, "day.csv:2:4: found \"larch\", expected \"beech\": what the plan has");
    assert_code(b, PL_EKEY, read_text(b, "board,species\nB7,larch\n", &f));
}

/* Rows still to be filled in give nothing; what was changed in them does. */
static void test_as_printed(void **state)
{
    bench *b = *state;
    pl_form_file f;

    assert_ok(b, read_text(b,
                           "glue_up,session,rig,squeeze_out\nG1,1,jack,beads\nG2,1,weights,\n"
                           "G3,1,weights,\nG4,1,weights,\n",
                           &f));
    assert_int_equal(f.readings.count, 3 + 2 + 2);
    assert_string_equal(found(&f, PL_ON_GLUE_UP, "G1", "rig")->text, "jack");
    assert_null(pl_readings_find(&f.readings, PL_ON_GLUE_UP, "G2", "rig"));
    assert_string_equal(found(&f, PL_ON_GLUE_UP, "G3", "rig")->text, "weights"); /* not the jack */
    assert_true(found(&f, PL_ON_GLUE_UP, "G4", "session")->value == 1);          /* planned for 2 */
}

/* ----------------------------------------------------------------- bad cells ---- */

typedef struct bad {
    const char *text;
    pl_code code;
    const char *finding;
} bad;

static const bad bads[] = {
    { "time [s],force [N]\n0,1\n", PL_ESYNTAX, "expected the header of a form" },
    { "specimen,a,b,c\nH2W3,1,2,3\n", PL_ESYNTAX, "with --rig NAME" },
    { "specimen,peek [kN],mode\nH2W3,1,wood\n", PL_EKEY,
      "day.csv:1:10: found \"peek [kN]\", expected a column of the form \"breaks\"" },
    { "specimen,wood_failures\nH2W3,1\n", PL_EKEY, "did you mean \"wood_failure\"?" },
    { "specimen,peak\nH2W3,8.5\n", PL_EUNIT, "write it in brackets: peak [kN]" },
    { "specimen,peak [kg]\nH2W3,8.5\n", PL_EUNIT,
      "expected a unit of force, or of the breaking rig's dial" },
    { "specimen,width [kN]\nH2W3,40\n", PL_EUNIT, "expected a unit of length: mm, cm, in" },
    { "specimen,wood_failure [mm]\nH2W3,40\n", PL_EUNIT, "expected %" },
    { "glue_up,dial_at_start [mm]\nG1,4\n", PL_EUNIT, "the unit of the rig's dial" },
    /* ids */
    { "specimen,mode\nH2W4,wood\n", PL_EKEY, "its check sign is wrong; did you mean H2W3?" },
    { "specimen,mode\n2HW3,wood\n", PL_EKEY, "did you mean H2W3?" },
    { "specimen,mode\nJ6PR,wood\n", PL_EKEY, "it is an id, but not one of this plan" },
    { "specimen,mode\nxx,wood\n", PL_EKEY, "look at the label again" },
    { "specimen,mode\n,wood\n", PL_EKEY, "a specimen in every row" },
    { "glue_up,note\nG11,x\n", PL_EKEY, "a glue-up of this plan" },
    { "session,operator\n3,x\n", PL_EKEY, "a session of this plan: 1 to 2" },
    { "session,operator\none,x\n", PL_EKEY, "a session of this plan" },
    { "glue_up,rig\nG1,jak\n", PL_EKEY, "did you mean \"jack\"?" },
    { "glue_up,session\nG1,9\n", PL_EKEY, "a session of this plan" },
    { "specimen,mode\nH2W3,wood\nK7MN,wood\nh2w3,wood\n", PL_ECONFLICT,
      "day.csv:4:1: found \"h2w3\", expected one row for it: there is one in line 2" },
    { "session,operator,rig\n1,x,jack\n1,y,weights\n", PL_ECONFLICT,
      "found \"y\", expected \"x\", as in day.csv:2:3" },
    { "session,supply [bar]\n1,20\n", PL_EKEY, "the rig it belongs to" },
    /* numbers */
    { "specimen,peak [kN]\nH2W3,about 8\n", PL_EVALUE, "expected a number in kN, or an interval" },
    { "specimen,peak [kN]\nH2W3,\"8,5\"\n", PL_EVALUE, "write a decimal point" },
    { "specimen,peak [kN]\nH2W3,8.5 mm\n", PL_EVALUE, "expected a number in kN" },
    { "specimen,peak [kN]\nH2W3,-1\n", PL_EVALUE, "a number that is not negative" },
    { "specimen,peak [kN]\nH2W3,2.6..2.4\n", PL_EVALUE, "an interval: 2.4..2.6" },
    { "specimen,peak [kN]\nH2W3,1e999\n", PL_EVALUE, "expected a number in kN" },
    { "specimen,peak [kN]\nH2W3,nan\n", PL_EVALUE, "expected a number in kN" },
    { "specimen,peak [kN]\nH2W3,0x10\n", PL_EVALUE, "expected a number in kN" },
    { "specimen,width [mm]\nH2W3,0\n", PL_EVALUE, "is it in the right column" },
    { "specimen,width [m]\nH2W3,40\n", PL_EVALUE, "to 30 m" },
    { "specimen,wood_failure\nH2W3,101\n", PL_EVALUE, "expected 0 to 100 %" },
    { "specimen,wood_failure\nH2W3,most\n", PL_EVALUE, "expected a percentage: 80, or 80 %" },
    { "session,humidity [%]\n1,-3\n", PL_EVALUE, "expected 0 to 100 %" },
    { "session,room_temperature [degC]\n1,180\n", PL_EVALUE, "expected -40 degC to 60 degC" },
    { "specimen,mode\nH2W3,adhesiv\n", PL_EVALUE, "did you mean \"adhesive\"?" },
    { "specimen,mode\nH2W3,glue\n", PL_EVALUE, "expected adhesive, cohesive, wood, mixed" },
    /* dates and times */
    { "session,date\n1,1.3.2027\n", PL_EVALUE, "expected a date: 2027-03-01" },
    { "session,date\n1,2027-02-29\n", PL_EVALUE, "expected a date" },
    { "session,date\n1,2027-03-01 10:00\n", PL_EVALUE, "expected a date" },
    { "specimen,broken_at\nH2W3,10:00\n", PL_EVALUE, "the rows below may give the time alone" },
    { "specimen,broken_at\nH2W3,2027-03-01\n", PL_EVALUE, "expected a time: 14:05" },
    { "specimen,broken_at\nH2W3,2027-03-01 24:00\n", PL_EVALUE, "expected a time: 14:05" },
    { "specimen,broken_at\nH2W3,2027-03-28 02:30\n", PL_EVALUE, "the clocks were put forward" },
    { "glue_up,spread_at,closed_at\nG1,2027-03-01 9:10,9:05\n", PL_ECONFLICT,
      "found \"9:05\", expected closed_at after spread_at 2027-03-01 9:10" },
    { "glue_up,pressed_at,opened_at\nG1,2027-03-01 9:10,2027-03-01 8:00\n", PL_ECONFLICT,
      "opened_at after pressed_at" },
};

static void test_bad_cells(void **state)
{
    bench *b = *state;

    set_zone();
    for (size_t i = 0; i < sizeof bads / sizeof *bads; i++) {
        pl_form_file f;
        pl_code code;

        b->d.count = 0;
        code = read_text(b, bads[i].text, &f);
        if (code != bads[i].code)
            print_error("case %zu: %s\n", i, bads[i].text);
        assert_code(b, bads[i].code, code);
        assert_finding(b, bads[i].finding);
    }
}

/* All faults of all files in one run, each with its place. */
static void test_all_in_one_run(void **state)
{
    static const char *const names[] = { "breaks.csv", "glue-ups.csv" };
    static const char *const texts[] = { "specimen,peak [kN],mode\nH2W3,x,y\nQQQQ,1,wood\n",
                                         "glue_up,dial_at_start [bar],session\nG1,q,7\nG2,w,1\n" };
    bench *b = *state;
    pl_form_file files[2];

    set_zone();
    assert_code(b, PL_EKEY, read_texts(b, names, texts, 2, NULL, files));
    assert_finding(b, "breaks.csv:2:6: found \"x\"");
    assert_finding(b, "breaks.csv:2:8: found \"y\"");
    assert_finding(b, "breaks.csv:3:1: found \"QQQQ\"");
    assert_finding(b, "glue-ups.csv:2:6: found \"7\"");
    assert_finding(b, "glue-ups.csv:3:4: found \"w\"");
    assert_int_equal(b->d.count, 5);
}

/* -------------------------------------------------------------------- doubts ---- */

static const bad doubts[] = {
    { "specimen,peak [kN]\nH2W3,8\nR4T9,8.5\nZ5C5,83\nK7MN,9\nD8NN,7.5\n", PL_OK,
      "day.csv:4:6: advice: peak 83 kN of Z5C5: 9.8 times its neighbours" },
    { "specimen,width [mm]\nH2W3,400\n", PL_OK,
      "advice: found width 400 mm of H2W3, expected about 40 mm" },
    { "specimen,wood_failure\nH2W3,0.8\nK7MN,0.1\n", PL_OK, "for 80 % write 80" },
    { "specimen,wood_failure,mode\nH2W3,10,wood\n", PL_OK,
      "mode wood of H2W3 with 10 % wood failure" },
    { "specimen,wood_failure,mode\nH2W3,90,adhesive\n", PL_OK, "wood from 75 % up" },
    { "glue_up,dial_at_start [bar]\nG1,12\n", PL_OK,
      "dial_at_start 12 bar of G1, expected 16.1 to 16.9 bar: planned 16.5" },
    { "glue_up,dial_at_start [bar],dial_at_end [bar]\nG1,16.5,14.5\n", PL_OK,
      "the dial of G1 fell by 12 %" },
    { "glue_up,dial_at_start [kN]\nG1,12\n", PL_OK, "expected bar: what the dial of jack shows" },
    { "specimen,peak [kN]\nV3G6,8\n", PL_OK, "a peak for the spare V3G6" },
};

static void test_doubts(void **state)
{
    bench *b = *state;

    for (size_t i = 0; i < sizeof doubts / sizeof *doubts; i++) {
        pl_form_file f;

        b->d.count = 0;
        assert_ok(b, read_text(b, doubts[i].text, &f));
        assert_finding(b, doubts[i].finding);
        assert_int_equal(b->d.count, 1);
    }
    /* and none where there is nothing to doubt */
    b->d.count = 0;
    for (int i = 0; i < 3; i++) {
        static const char *const fine[] = {
            "glue_up,dial_at_start [bar],dial_at_end [bar]\nG1,16.4,15.2\n",
            "specimen,width [mm],wood_failure,mode\nH2W3,41,0,adhesive\nK7MN,39,100,wood\n",
            "glue_up,rig,dial_at_start [bar]\nG1,weights,4\n"
        };
        pl_form_file f;

        assert_ok(b, read_text(b, fine[i], &f));
    }
    assert_int_equal(b->d.count, 0);
}

static void test_missing(void **state)
{
    bench *b = *state;
    pl_form_file files[3];
    const char *const *list = NULL;
    pl_readings all = { 0 };
    size_t n = 0;

    assert_ok(b, pl_forms_missing(b->a, shop_plan(b), &all, &list, &n, &b->d));
    assert_int_equal(n, 3);
    assert_string_equal(list[0], "2 sessions have no date");
    assert_string_equal(list[1], "6 glue-ups have no time of closing or pressing");
    assert_string_equal(list[2], "6 joints are not broken yet");
    take_a_week(b, files);
    for (int f = 0; f < 3; f++)
        for (size_t i = 0; i < files[f].readings.count; i++)
            assert_ok(b, pl_readings_add(b->a, &all, files[f].readings.items[i], &b->d));
    assert_ok(b, pl_forms_missing(b->a, shop_plan(b), &all, &list, &n, &b->d));
    assert_int_equal(n, 2);
    assert_string_equal(list[0], "3 glue-ups have no time of closing or pressing");
    assert_string_equal(list[1], "3 joints are not broken yet");
    all.count = 0;
    assert_ok(b, read_text(b,
                           "specimen,peak [kN],wood_failure,mode\nH2W3,8,,\nR4T9,8,,mixed\n"
                           "Z5C5,8,,wood\nK7MN,,80,\nD8NN,,,fixture\nB9XH,8,5,\n",
                           &files[0]));
    assert_ok(b, pl_forms_missing(b->a, shop_plan(b), &files[0].readings, &list, &n, &b->d));
    assert_int_equal(n, 4);
    assert_string_equal(list[2], "2 joints have a peak but no wood failure");
    assert_string_equal(list[3], "1 joint was judged but has no peak");
}

/* ------------------------------------------------------------------- hostile ---- */

static void test_hostile_texts(void **state)
{
    static const char *const texts[] = { "<script>alert(1)</script>",
                                         "a \"\"quoted\"\" word",
                                         "\xe2\x80\xae"
                                         "evil",
                                         "x'); DROP TABLE reading;--",
                                         "two\nlines",
                                         "%s%n",
                                         "=1+2" };
    bench *b = *state;

    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        pl_form_file f;
        const char *text = pl_arena_printf(b->a, "specimen,note,operator\nH2W3,\"%s\",\"%s\"\n",
                                           texts[i], texts[i]);
        char *plain = pl_arena_str(b->a, texts[i]);

        for (char *q = plain; (q = strstr(q, "\"\"")); q++)
            memmove(q, q + 1, strlen(q));
        assert_ok(b, read_text(b, text, &f));
        assert_string_equal(found(&f, PL_ON_SPECIMEN, "H2W3", "note")->text, plain);
    }
    /* as ids and numbers they are refused, and the finding holds no control signs */
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        pl_form_file f;

        b->d.count = 0;
        assert_code(b, PL_EKEY,
                    read_text(b, pl_arena_printf(b->a, "specimen,note\n\"%s\",x\n", texts[i]), &f));
        assert_null(strchr(b->d.items[0].found, '\n'));
    }
}

static void test_arena_fails(void **state)
{
    bench *b = *state;
    static const char *const names[] = { "b.csv", "g.csv", "s.csv" };
    const char *const texts[] = { breaks_text, glue_ups_text, sessions_text };
    pl_code code = PL_ENOMEM;
    unsigned long n = 0;

    set_zone();
    while (code != PL_OK) {
        bench *inner = NULL;
        const pl_study *s;
        pl_plan *p;
        pl_form_file files[3];
        const char *const *list = NULL;
        const char *form;
        size_t count;

        bench_open((void **)&inner);
        s = shop_study(inner);
        p = shop_plan(inner);
        for (size_t i = 0; i < 3; i++)
            assert_ok(inner, pl_csv_parse(inner->a, names[i], texts[i], strlen(texts[i]),
                                          &files[i].csv, &inner->d));
        pl_arena_fail_at(++n);
        code = pl_forms_read(inner->a, s, p, files, 3, NULL, &inner->d);
        if (!code)
            code = pl_forms_missing(inner->a, p, &files[0].readings, &list, &count, &inner->d);
        form = code ? "" : pl_form_write(inner->a, PL_FORM_GLUE_UPS, s, p, NULL);
        if (!form)
            code = PL_ENOMEM;
        pl_arena_fail_at(0);
        if (code)
            assert_int_equal(code, PL_ENOMEM);
        else
            assert_int_equal(files[0].readings.count, 7 + 7 + 6);
        bench_close((void **)&inner);
    }
    print_message("    %lu allocations\n", n - 1);
    assert_true(n > 100);
    (void)b;
}

/* The page in docs holds the list that the table makes. */
static void test_reference(void **state)
{
    bench *b = *state;
    const char *wanted = pl_forms_reference(b->a), *path = top_path(b->a, "docs/forms.md");
    char *page = NULL;
    size_t n = 0;

    assert_ok(b, pl_file_read(b->a, path, &page, &n, &b->d));
    if (!strstr(page, wanted))
        fail_msg("docs/forms.md differs from the table of columns; the list should be:\n%s",
                 wanted);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_known_columns),  TEST(test_written),    TEST(test_blank_forms),
        TEST(test_sessions),       TEST(test_glue_ups),   TEST(test_breaks),
        TEST(test_peak_on_a_dial), TEST(test_known_date), TEST(test_boards),
        TEST(test_as_printed),     TEST(test_bad_cells),  TEST(test_all_in_one_run),
        TEST(test_doubts),         TEST(test_missing),    TEST(test_hostile_texts),
        TEST(test_arena_fails),    TEST(test_reference),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
