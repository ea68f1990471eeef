/* The calendar: stations, hours, days off, cure, the clock change, what was taken;
 * and its iCalendar file, read back by libical.
 *
 * Times are worked out by hand below. Vienna's clocks go forward on 28 March 2027 at
 * 2:00 (last Sunday of March: Directive 2000/84/EC), so 1:00 UTC. */
#include "shop.h"

#include <libical/ical.h>
#include <math.h>
#include <stdlib.h>
#include <time.h>

#include "bench/calendar.h"
#include "bench/columns.h"

static void set_zone(const char *zone)
{
    setenv("TZ", zone, 1);
    tzset();
}

/* "2027-03-26 08:00" in the zone that is set. */
static double at(const char *text)
{
    pl_clock clock;
    double seconds;
    char offset[8];

    assert_true(pl_clock_read(text, &clock));
    assert_true(pl_clock_utc(&clock, 0, &seconds, offset));
    return seconds;
}

static const pl_study *study_with(bench *b, const char *times, const char *breaking)
{
    const char *text = shop_text, *from = "\"times\": { \"clamp\": \"45 min\", \"cure\": { "
                                          "\"at_least\": \"7 d\" } }";
    const char *from2 = "\"expected_strength\": \"11 N/mm2\"";
    char *place = strstr(text, from), *second;
    const pl_study *s = NULL;

    assert_non_null(place);
    text = pl_arena_printf(b->a, "%.*s\"times\": { %s }%s", (int)(place - text), text, times,
                           place + strlen(from));
    second = strstr(text, from2);
    assert_non_null(second);
    text = pl_arena_printf(b->a, "%.*s%s%s%s", (int)(second - text), text, from2, breaking,
                           second + strlen(from2));
    assert_ok(b, pl_study_parse(b->a, "t.json", text, strlen(text), &s, &b->d));
    return s;
}

static pl_calendar made(bench *b, const pl_study *s, const pl_readings *r, const char *now)
{
    pl_calendar_spec spec = { .study = s, .plan = shop_plan(b), .readings = r, .now = at(now) };
    pl_calendar c;

    assert_ok(b, pl_calendar_make(b->a, &spec, &c, &b->d));
    return c;
}

static const char *said(bench *b, double t)
{
    return pl_calendar_time(b->a, t, true);
}

/* The first three glue-ups lie in session 1, on stations 1, 2 and 1 of the one press. */
static void test_stations(void **state)
{
    bench *b = *state;
    const pl_study *s = study_with(
        b, "\"clamp\": \"45 min\", \"hands_on\": \"6 min\", \"cure\": { \"at_least\": \"2 d\" }",
        ", \"per_specimen\": \"10 min\"");
    pl_calendar c;

    set_zone("Europe/Vienna");
    c = made(b, s, NULL, "2027-03-01 06:00"); /* a Monday */
    assert_string_equal(said(b, c.slots[0].begin), "Mon 1 Mar 08:00");
    assert_string_equal(said(b, c.slots[0].pressed), "Mon 1 Mar 08:06");
    assert_string_equal(said(b, c.slots[0].until), "Mon 1 Mar 08:51");
    assert_string_equal(said(b, c.slots[1].begin), "Mon 1 Mar 08:06");
    assert_string_equal(said(b, c.slots[2].begin), "Mon 1 Mar 08:51"); /* station 1 again */
    assert_string_equal(said(b, c.slots[2].open), "Mon 1 Mar 09:42");
    /* session 2 on its own day; station 2 first, as the plan has it */
    assert_string_equal(said(b, c.slots[3].begin), "Tue 2 Mar 08:00");
    /* the last of session 2 waits for station 2: 08:51, pressed 08:57, opened 09:42 on
     * Tuesday, cured Thursday 09:42; six joints at 10 min from then on in break order */
    assert_string_equal(said(b, c.breaks[3].begin), "Thu 4 Mar 09:42"); /* H2W3, order 1 */
    assert_string_equal(said(b, c.breaks[2].end), "Thu 4 Mar 10:42");   /* B9XH, order 6 */
    assert_true(c.breaks[6].gone);                                      /* the spare */
    assert_int_equal(c.ntask, 2 + 6 + 1);
    assert_string_equal(c.tasks[0].id, "session-1");
    assert_string_equal(c.tasks[c.ntask - 1].words, "break 6 joints");
    assert_true(c.slots[0].mix && !c.slots[1].mix && c.slots[3].mix);
}

/* None stays in the press overnight that is to be opened after 45 minutes. */
static void test_none_overnight(void **state)
{
    bench *b = *state;
    const pl_study *s = study_with(
        b, "\"clamp\": \"45 min\", \"hands_on\": \"6 min\", \"cure\": { \"at_least\": \"2 d\" }",
        "");
    pl_calendar c;

    set_zone("Europe/Vienna");
    c = made(b, s, NULL, "2027-03-01 16:00");
    assert_string_equal(said(b, c.slots[0].open), "Mon 1 Mar 16:51");
    assert_string_equal(said(b, c.slots[1].open), "Mon 1 Mar 16:57");
    assert_string_equal(said(b, c.slots[2].begin), "Tue 2 Mar 08:00"); /* 16:51 + 51 min is late */
    for (size_t i = 0; i < 6; i++)
        assert_true(c.slots[i].open - c.slots[i].until < 60);
}

/* A clamp over a night when the clocks change is as long as over any other; hours
 * and days off are local. */
static void test_clock_change(void **state)
{
    bench *b = *state;
    const pl_study *s = study_with(
        b,
        "\"clamp\": \"20 h\", \"hands_on\": \"30 min\", \"cure\": { \"at_least\": \"1 d\" }, "
        "\"work\": { \"sat-sun\": \"12:00-20:00\", \"off\": [\"2027-04-03\"] }",
        "");
    pl_calendar c;

    set_zone("Europe/Vienna");
    c = made(b, s, NULL, "2027-03-27 00:00"); /* the Saturday before */
    assert_string_equal(said(b, c.slots[0].pressed), "Sat 27 Mar 12:30");
    /* 20 h later it is 8:30 by the old clock and 9:30 by the new one: 07:30 UTC */
    assert_true(c.slots[0].until - c.slots[0].pressed == 20 * 3600);
    assert_string_equal(said(b, c.slots[0].until), "Sun 28 Mar 09:30");
    assert_true(c.slots[0].until == 1806219000); /* date -u -d "2027-03-28 07:30" +%s */
    assert_string_equal(said(b, c.slots[0].open), "Sun 28 Mar 12:00"); /* somebody is there */
    /* station 1 is free then; its next clamp would end on a weekday: opened on the next
     * day of work, and Saturday 3 April is off */
    assert_string_equal(said(b, c.slots[2].begin), "Sun 28 Mar 12:00");
    assert_string_equal(said(b, c.slots[2].until), "Mon 29 Mar 08:30");
    assert_string_equal(said(b, c.slots[2].open), "Sun 4 Apr 12:00");
    set_zone("UTC");
    assert_string_equal(said(b, c.slots[0].until), "Sun 28 Mar 07:30");
}

static void put(bench *b, pl_readings *r, pl_subject subject, const char *id, const char *quantity,
                const char *when)
{
    pl_reading one = { .subject = subject,
                       .id = id,
                       .quantity = quantity,
                       .text = when,
                       .value = at(when),
                       .unit = "+01:00",
                       .where = "t.csv:2:1" };

    assert_ok(b, pl_readings_add(b->a, r, one, &b->d));
}

/* What was taken stands; what is left goes on from now. */
static void test_taken(void **state)
{
    bench *b = *state;
    const pl_study *s = study_with(
        b, "\"clamp\": \"45 min\", \"hands_on\": \"6 min\", \"cure\": { \"at_least\": \"2 d\" }",
        "");
    pl_readings r = { 0 };
    pl_calendar c;

    set_zone("Europe/Vienna");
    put(b, &r, PL_ON_GLUE_UP, "G1", "pressed_at", "2027-03-01 10:00");
    put(b, &r, PL_ON_GLUE_UP, "G1", "opened_at", "2027-03-01 10:50");
    put(b, &r, PL_ON_GLUE_UP, "G2", "pressed_at", "2027-03-01 10:20");
    put(b, &r, PL_ON_SPECIMEN, "K7MN", "peak", "2027-03-03 10:00");
    c = made(b, s, &r, "2027-03-01 11:00");
    assert_true(c.slots[0].opened && c.slots[1].begun && !c.slots[1].opened);
    assert_string_equal(said(b, c.slots[1].until), "Mon 1 Mar 11:05");
    assert_string_equal(said(b, c.slots[2].begin), "Mon 1 Mar 11:00");
    assert_string_equal(said(b, c.slots[3].begin), "Tue 2 Mar 08:00");
    assert_true(c.breaks[0].broken);
    for (size_t i = 0; i < c.ntask; i++) {
        if (!strcmp(c.tasks[i].id, "open-G1"))
            assert_true(c.tasks[i].done);
        if (!strcmp(c.tasks[i].id, "open-G2"))
            assert_true(!c.tasks[i].done && c.tasks[i].begun);
        if (!strcmp(c.tasks[i].id, "break-1"))
            assert_int_equal(c.tasks[i].joints, 5);
    }
}

static bool noted(const pl_calendar *c, const char *part)
{
    for (size_t i = 0; i < c->nnote; i++)
        if (strstr(c->notes[i], part))
            return true;
    return false;
}

/* A joint that must be broken soon is not kept for the others; the frame that clamps
 * does not break. */
static void test_breaking(void **state)
{
    bench *b = *state;
    const pl_study *s = study_with(
        b,
        "\"clamp\": \"2 h\", \"hands_on\": \"6 min\", \"cure\": { \"at_least\": \"20 h\", "
        "\"at_most\": \"26 h\" }",
        ", \"press\": \"stand\", \"per_specimen\": \"10 min\"");
    pl_calendar c;

    set_zone("Europe/Vienna");
    c = made(b, s, NULL, "2027-03-01 06:00");
    assert_true(noted(&c, "session by session"));
    /* G3 is opened Monday 12:12 (two clamps of 2 h on station 1), cured Tuesday 08:12.
     * The stand clamps session 2 on Tuesday from 08:00: G4 and G5 to 10:12, G6 behind
     * G4 from 10:06 to 12:12; the three joints are broken behind that */
    assert_string_equal(said(b, c.slots[2].open), "Mon 1 Mar 12:12");
    assert_string_equal(said(b, c.slots[5].open), "Tue 2 Mar 12:12");
    assert_string_equal(said(b, c.breaks[1].begin),
                        "Tue 2 Mar 12:12"); /* R4T9 is first of the three */
    /* opened Monday 10:12, so it had to be broken by Tuesday 12:12 */
    assert_true(c.breaks[1].late);
    assert_true(noted(&c, "older than they may be"));
}

static void test_no_hours(void **state)
{
    bench *b = *state;
    const pl_study *s = study_with(b, "\"clamp\": \"45 min\", \"work\": { \"off\": [] }", "");
    pl_study none = *s;
    pl_calendar_spec spec = { .study = &none, .plan = shop_plan(b), .now = 0 };
    pl_calendar c;

    for (int i = 0; i < 7; i++)
        none.times.work.to_min[i] = 0;
    assert_code(b, PL_EUNFIT, pl_calendar_make(b->a, &spec, &c, &b->d));
    assert_finding(b, "/times/work");
}

/* ------------------------------------------------------------------- a phone ---- */

static icalcomponent *read_back(bench *b, const char *ics)
{
    icalcomponent *all;

    for (const char *line = ics; *line;) { /* RFC 5545, 3.1: CRLF, 75 octets at most */
        const char *end = strstr(line, "\r\n");

        assert_non_null(end);
        assert_true(end - line <= 75);
        line = end + 2;
    }
    all = icalparser_parse_string(ics);
    (void)b;
    assert_non_null(all);
    assert_int_equal(icalcomponent_isa(all), ICAL_VCALENDAR_COMPONENT);
    assert_int_equal(icalcomponent_count_errors(all), 0);
    assert_true(icalrestriction_check(all));
    return all;
}

static icalcomponent *event_of(icalcomponent *all, const char *part)
{
    icalcomponent *e = icalcomponent_get_first_component(all, ICAL_VEVENT_COMPONENT);

    while (e && !strstr(icalcomponent_get_summary(e), part))
        e = icalcomponent_get_next_component(all, ICAL_VEVENT_COMPONENT);
    if (!e)
        fail_msg("no event %s", part);
    return e;
}

static void test_ics(void **state)
{
    bench *b = *state;
    const pl_study *s = study_with(
        b,
        "\"clamp\": \"20 h\", \"hands_on\": \"30 min\", \"cure\": { \"at_least\": \"1 d\" }, "
        "\"work\": { \"sat-sun\": \"12:00-20:00\" }",
        "");
    pl_readings r = { 0 };
    pl_calendar c, later;
    icalcomponent *one, *other, *e;
    char *uid;

    set_zone("Europe/Vienna");
    c = made(b, s, NULL, "2027-03-27 00:00");
    one = read_back(b, pl_calendar_ics(b->a, s, shop_plan(b), &c, 7, at("2027-03-27 00:00")));
    assert_int_equal(icalcomponent_count_components(one, ICAL_VEVENT_COMPONENT), c.ntask);
    e = event_of(one, "open G1: stand, station 1");
    assert_string_equal(icaltime_as_ical_string(icalcomponent_get_dtstart(e)), "20270328T073000Z");
    assert_int_equal(icalcomponent_count_components(e, ICAL_VALARM_COMPONENT), 1);
    assert_string_equal(icalcomponent_get_description(e),
                        "Study stair-laps, revision 1. Lap joints, <pressed> & broken");
    assert_int_equal(icalcomponent_get_sequence(e), 7);
    uid = pl_arena_str(b->a, icalcomponent_get_uid(e));
    /* taken an hour later, and opened: the same event, moved, raised, and silent */
    put(b, &r, PL_ON_GLUE_UP, "G1", "pressed_at", "2027-03-27 13:30");
    put(b, &r, PL_ON_GLUE_UP, "G1", "opened_at", "2027-03-28 12:00");
    later = made(b, s, &r, "2027-03-28 12:00");
    other = read_back(b, pl_calendar_ics(b->a, s, shop_plan(b), &later, 8, at("2027-03-28 12:00")));
    e = event_of(other, "open G1: stand, station 1");
    assert_string_equal(icalcomponent_get_uid(e), uid);
    assert_int_equal(icalcomponent_get_sequence(e), 8);
    assert_string_equal(icaltime_as_ical_string(icalcomponent_get_dtstart(e)), "20270328T083000Z");
    assert_int_equal(icalcomponent_count_components(e, ICAL_VALARM_COMPONENT), 0);
    icalcomponent_free(one);
    icalcomponent_free(other);
}

/* A title with everything that must be escaped or folded comes back as it was. */
static void test_hostile_title(void **state)
{
    bench *b = *state;
    pl_study s = *shop_study(b);
    pl_calendar c;
    icalcomponent *all;

    s.title = "a;b,c\\n \"q\" BEGIN:VEVENT \xc3\xa4\xe2\x82\xac\xf0\x9f\xaa\xb5 "
              "long long long long long long long \xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4\xc3\xa4";
    set_zone("UTC");
    c = made(b, &s, NULL, "2027-03-27 00:00");
    all = read_back(b, pl_calendar_ics(b->a, &s, shop_plan(b), &c, 1, 0));
    assert_non_null(strstr(icalcomponent_get_description(
                               icalcomponent_get_first_component(all, ICAL_VEVENT_COMPONENT)),
                           s.title));
    assert_int_equal(icalcomponent_count_components(all, ICAL_VEVENT_COMPONENT), c.ntask);
    icalcomponent_free(all);
}

static void test_arena_fails(void **state)
{
    bench *b = *state;
    const pl_study *s = shop_study(b);
    const pl_plan *p = shop_plan(b);
    pl_code code = PL_ENOMEM;
    unsigned long n = 0;

    set_zone("UTC");
    while (code != PL_OK) {
        pl_calendar_spec spec = { .study = s, .plan = p, .now = 0 };
        pl_calendar c;

        pl_arena_fail_at(++n);
        code = pl_calendar_make(b->a, &spec, &c, &b->d);
        pl_arena_fail_at(0);
        assert_true(code == PL_OK || code == PL_ENOMEM);
        if (!code)
            assert_string_equal(c.tasks[0].id, "session-1");
    }
    assert_true(n > 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_stations), TEST(test_none_overnight), TEST(test_clock_change),
        TEST(test_taken),    TEST(test_breaking),       TEST(test_no_hours),
        TEST(test_ics),      TEST(test_hostile_title),  TEST(test_arena_fails),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
