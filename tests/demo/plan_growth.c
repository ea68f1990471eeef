/* Time of plans of a thousand to a million joints, for tests/bench.sh: eight pressures and two
 * woods, whole sets on boards of eight, and sets of five that sessions cut up. Seconds of one core.
 */
#include <gsl/gsl_errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "design/plan_make.h"

static double cpu_s(void)
{
    struct timespec t;

    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static const pl_study *study_of(pl_arena *a, size_t joints, unsigned hold, pl_diags *d)
{
    size_t boards = joints / 2 / hold + 16;
    char *text = pl_arena_printf(
        a,
        "{\"study\": \"many\", \"question\": {\"aim\": \"plateau\", \"over\": \"pressure\","
        "\"for_each\": \"species\"},"
        "\"factors\": [{\"name\": \"pressure\", \"from\": \"0.1 N/mm2\", \"to\": \"1.5 N/mm2\","
        "\"count\": 8, \"set_by\": \"press\"},"
        "{\"name\": \"species\", \"levels\": [\"beech\", \"larch\"], \"comes_with\": \"board\"}],"
        "\"joint\": {\"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 mm\"},"
        "\"boards\": [{\"species\": \"beech\", \"count\": %zu, \"specimens\": %u},"
        "{\"species\": \"larch\", \"count\": %zu, \"specimens\": %u}],"
        "\"presses\": [{\"name\": \"press\", \"stations\": 4}],"
        "\"times\": {\"clamp\": \"45 min\", \"hands_on\": \"6 min\", \"session\": \"8 h\"}}",
        boards, hold, boards, hold);
    const pl_study *s = NULL;

    if (!text || pl_study_parse(a, "many", text, strlen(text), &s, d))
        return NULL;
    return s;
}

/* Least of so many runs; 0 when it did not go. */
static double least_s(size_t joints, unsigned hold, unsigned runs)
{
    double least = 0;

    for (unsigned i = 0; i < runs; i++) {
        pl_arena *a = pl_arena_new((size_t)8 << 30);
        const pl_study *s;
        const pl_plan *p = NULL;
        pl_diags d;
        double from;

        pl_diags_init(&d, a);
        s = study_of(a, joints, hold, &d);
        from = cpu_s();
        if (s)
            (void)pl_plan_make(a, s, NULL, (unsigned)(joints / 16), i + 1, NULL, &p, &d);
        from = cpu_s() - from;
        if (!p) {
            for (size_t k = 0; k < d.count; k++)
                fprintf(stderr, "%s\n", pl_diag_text(a, &d.items[k]));
            pl_arena_free(a);
            return 0;
        }
        least = !i || from < least ? from : least;
        pl_arena_free(a);
    }
    return least;
}

int main(int argc, char **argv)
{
    size_t most = argc > 1 ? strtoul(argv[1], NULL, 10) : 1000000;
    size_t least = argc > 2 ? strtoul(argv[2], NULL, 10) : 1000;

    gsl_set_error_handler_off();
    for (unsigned hold = 8; hold >= 5; hold -= 3)
        for (size_t joints = least; joints <= most; joints *= 10) {
            double s = least_s(joints, hold, joints < 1000000 ? 3 : 1);

            printf("plan of %7zu joints, boards of %u: %9.4f s, %6.2f microseconds a joint%s\n",
                   joints / 16 * 16, hold, s, 1e6 * s / (double)(joints / 16 * 16),
                   joints == 100000 ? s && s < 1 ? " (aim 1 s: met)" : " (aim 1 s: NOT MET)" : "");
            fflush(stdout);
        }
    return 0;
}
