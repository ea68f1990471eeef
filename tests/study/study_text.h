/* A whole study as text, and ways to change one thing in it. */
#ifndef TESTS_STUDY_TEXT_H
#define TESTS_STUDY_TEXT_H

#include "support.h"

#include "study/study.h"

/* clang-format off */
static const char whole[] =
    "{\n"
    "  \"study\": \"bench-lap\",\n"
    "  \"title\": \"a trial\",\n"
    "  \"question\": {\"aim\": \"plateau\", \"over\": \"pressure\", \"for_each\": \"species\",\n"
    "    \"share\": \"95 %\", \"worth_noticing\": \"10 %\", \"miss_at_most\": \"1 in 10\",\n"
    "    \"false_alarm\": 0.05},\n"
    "  \"responses\": [{\"name\": \"strength\", \"kind\": \"strength\", \"show_in\": [\"N/mm2\", \"psi\"]}],\n"
    "  \"glue_ups_per_level\": 3,\n"
    "  \"factors\": [\n"
    "    {\"name\": \"pressure\", \"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", \"0.9 N/mm2\", \"1.6 N/mm2\"],\n"
    "     \"set_by\": \"press\"},\n"
    "    {\"name\": \"species\", \"levels\": [\"beech\", \"larch\"], \"comes_with\": \"board\"}],\n"
    "  \"joint\": {\"kind\": \"lap\", \"width\": \"36 mm\", \"overlap\": \"25 mm\", \"adherends\": 2,\n"
    "    \"adherend\": {\"length\": \"90 mm\", \"width\": \"36 mm\", \"thickness\": \"12 mm\"},\n"
    "    \"tolerance\": \"0.2 mm\", \"stated_area\": \"9 cm2\", \"specimens_per_glue_up\": 1},\n"
    "  \"boards\": [\n"
    "    {\"species\": \"beech\", \"count\": 4, \"length\": \"700 mm\", \"width\": \"80 mm\", \"thickness\": \"12 mm\"},\n"
    "    {\"species\": \"larch\", \"count\": 5, \"specimens\": 4}],\n"
    "  \"cutting\": {\"kerf\": \"3 mm\", \"discard_ends\": \"25 mm\", \"spare_joints\": \"1 in 8\"},\n"
    "  \"adhesive\": {\"kind\": \"PUR\", \"spread\": \"150 g/m2\", \"spread_on\": \"both\",\n"
    "    \"open_time\": \"5 min\", \"open_time_limit\": \"9 min\"},\n"
    "  \"rigs\": [\"stack\", {\"name\": \"jack\", \"kind\": \"piston-press\", \"settings\": {\"bore\": \"50 mm\"},\n"
    "    \"rated\": \"8 bar\", \"dial\": {\"unit\": \"bar\", \"to\": \"10 bar\", \"class\": \"1.6 %\"}}, \"puller\"],\n"
    "  \"presses\": [\n"
    "    {\"name\": \"stand\", \"stations\": 3, \"rigs\": [\"stack\"], \"changeover\": \"90 s\"},\n"
    "    {\"name\": \"frame\", \"rigs\": [\"jack\", \"stack\"]}],\n"
    "  \"breaking\": {\"rig\": \"puller\", \"expected_strength\": \"9 N/mm2\"},\n"
    "  \"times\": {\"clamp\": \"50 min\", \"cure\": {\"at_least\": \"3 d\"}, \"hands_on\": \"4 min\", \"session\": \"6 h\"},\n"
    "  \"rules\": {\"counts_as_wood\": \"80 %\"},\n"
    "  \"scatter\": {\"cv\": \"13 %\", \"glue_ups\": 7, \"between_glue_ups\": \"12 %\", \"within\": \"5 %\"},\n"
    "  \"budget\": {\"press_hours\": \"30 h\", \"specimens\": 30},\n"
    "  \"arrangement\": {\"kind\": \"complete-blocks\"},\n"
    "  \"model\": {\"curves\": [{\"curve\": \"linear-plateau\", \"scale\": \"log-x\"}, {\"curve\": \"line\"}]},\n"
    "  \"note\": \"invented\"\n"
    "}\n";

/* Only what must be there. */
static const char least[] =
    "{\"study\": \"least\", \"question\": {}, \"factors\": [{\"name\": \"pressure\",\n"
    "  \"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", \"0.9 N/mm2\", \"1.6 N/mm2\"]}],\n"
    "  \"joint\": {\"kind\": \"lap\", \"width\": \"36 mm\", \"overlap\": \"25 mm\"}}\n";
/* clang-format on */

/* Text with the first `from` replaced. */
static inline char *with(bench *b, const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);

    if (!at)
        fail_msg("nothing to replace: %s", from);
    return pl_arena_printf(b->a, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
}

static inline pl_code parse(bench *b, const char *text, const pl_study **out)
{
    *out = NULL;
    return pl_study_parse(b->a, "t.json", text, strlen(text), out, &b->d);
}

static inline const pl_study *parsed(bench *b, const char *text)
{
    const pl_study *s;

    assert_ok(b, parse(b, text, &s));
    assert_int_equal(b->d.count, 0);
    return s;
}

/* One refusal, with this code, place and words. */
static inline void assert_refused(bench *b, const char *text, pl_code code, const char *says)
{
    const pl_study *s;

    pl_diags_init(&b->d, b->a);
    if (parse(b, text, &s) != code) {
        show_findings(b);
        fail_msg("wanted %s: %s", pl_code_name(code), says);
    }
    assert_null(s);
    assert_finding(b, says);
    if (b->d.count != 1) {
        show_findings(b);
        fail_msg("%zu findings, wanted one: %s", b->d.count, says);
    }
}

#endif
