/* The ledger of tests/reference/worked/analyses.json. Each group of records has one program that
 * answers for it; at its end every expected figure of these records has been asked for by some
 * check, or stands below with the reason why nothing of ours gives it. A record of no group fails.
 */
#ifndef TESTS_FIT_ANALYSES_H
#define TESTS_FIT_ANALYSES_H

#include "reference.h"
#include "reference/worked/worked.h"

typedef struct analyses_share {
    const char *group, *program;
} analyses_share;

static const analyses_share analyses_shares[] = {
    { "oneway", "test_linear_worked" },
    { "strd", "test_linear_worked" },
    { "rcbd", "test_linear_worked" },
    { "latin", "test_linear_worked" },
    { "splitplot", "test_linear_worked" },
    { "bibd", "test_linear_worked" },
    { "lof", "test_linear_worked" },
    { "factorial", "test_linear_worked" },
    { "two-sample", "test_linear_worked" },
    { "dunnett", "test_compare" },
    { "tukey", "test_compare" },
    { "plateau", "test_curve_worked" },
    { "hinge", "test_curve_worked" },
    { "nls", "test_curve_worked" },
    { "boxcox", "test_trust" },
    { "fieller", "test_curve_worked" },
};

/* Expected figures that nothing of ours gives: record, beginning of the path, why. */
static const struct {
    const char *id, *path, *why;
} analyses_not_ours[] = {
    { "analyses:fieller/collett-serum", "", "deaths out of 40 by dose: counts are no response" },
    { "analyses:oneway/peak-discharge", "levene_median",
      "6 a level: distances from a median are looked at from 10 a level on" },
    { "analyses:oneway/nist-gear", "levene_mean", "distances are taken from medians" },
    { "analyses:two-sample/mortar", "t_welch", "every scatter is common to all levels" },
    { "analyses:two-sample/mortar", "p_welch", "the same" },
    { "analyses:two-sample/mortar", "ratio", "levels are compared by differences" },
    { "analyses:factorial/filtration", "lenth",
      "no error is made up from effects that look small" },
    { "analyses:nls/puromycin-treated", "corr", "how two numbers of a curve vary together" },
};

#define ANALYSES_ASKED_MOST 600
static struct {
    char id[64], path[64];
} analyses_asked[ANALYSES_ASKED_MOST];
static size_t analyses_nasked;

static inline const pl_json *analyses_record(bench *b, const char *id)
{
    const pl_json *all = worked_list(b, "analyses.json");

    for (const pl_json *r = all->child; r; r = r->next)
        if (!strcmp(worked_id(r), id))
            return r;
    fail_msg("no record %s", id);
    return NULL;
}

/* An expected figure, by its path below `expected`: "LP/rss". */
static inline double analyses_expected(const pl_json *r, const char *path)
{
    char full[128];

    snprintf(full, sizeof full, "expected/%s", path);
    assert_true(analyses_nasked < ANALYSES_ASKED_MOST);
    snprintf(analyses_asked[analyses_nasked].id, 64, "%s", worked_id(r));
    snprintf(analyses_asked[analyses_nasked++].path, 64, "%s", path);
    return json_value(r, full)->kind == PL_JSON_BOOL ? json_value(r, full)->truth
                                                     : json_number(r, full);
}

static inline bool analyses_settled(const char *id, const char *path)
{
    for (size_t i = 0; i < sizeof analyses_not_ours / sizeof *analyses_not_ours; i++)
        if (!strcmp(analyses_not_ours[i].id, id) &&
            !strncmp(analyses_not_ours[i].path, path, strlen(analyses_not_ours[i].path)))
            return true;
    for (size_t i = 0; i < analyses_nasked; i++)
        if (!strcmp(analyses_asked[i].id, id) && !strcmp(analyses_asked[i].path, path))
            return true;
    return false;
}

/* Every figure below v, at this path, was asked for; the number of those that were not. */
static inline size_t analyses_open(bench *b, const char *id, const pl_json *v, const char *path)
{
    size_t open = 0, place = 0;

    if (v->kind != PL_JSON_OBJECT && v->kind != PL_JSON_ARRAY) {
        if (analyses_settled(id, path))
            return 0;
        print_error("  nothing checks %s, %s\n", id, path);
        return 1;
    }
    for (const pl_json *c = v->child; c; c = c->next, place++) {
        const char *name = v->kind == PL_JSON_ARRAY ? pl_arena_printf(b->a, "%zu", place) : c->key;

        open += analyses_open(b, id, c,
                              path[0] ? pl_arena_printf(b->a, "%s/%s", path, name) : name);
    }
    return open;
}

/* Last test of a program. */
static inline void analyses_settle(bench *b, const char *program)
{
    const size_t n = sizeof analyses_shares / sizeof *analyses_shares;
    const pl_json *all = worked_list(b, "analyses.json");
    size_t open = 0;

    for (const pl_json *r = all->child; r; r = r->next) {
        size_t i = 0;

        while (i < n && !worked_in(r, analyses_shares[i].group))
            i++;
        if (i == n)
            fail_msg("no program answers for %s", worked_id(r));
        if (!strcmp(analyses_shares[i].program, program))
            open += analyses_open(b, worked_id(r), pl_json_get(r, "expected"), "");
    }
    for (size_t i = 0; i < n; i++) { /* the others are there */
        const char *path = top_path(
            b->a, pl_arena_printf(b->a, "tests/fit/%s.c", analyses_shares[i].program));
        FILE *f = fopen(path, "r");

        if (!f)
            fail_msg("no program %s", analyses_shares[i].program);
        fclose(f);
    }
    if (open)
        fail_msg("%zu expected figures that nothing checks", open);
}

#endif
