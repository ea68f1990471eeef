/* What the tests share: an arena and findings a test, closeness with words, and
 * the place of reference files. */
#ifndef TESTS_SUPPORT_H
#define TESTS_SUPPORT_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/text.h"

typedef struct bench {
    pl_arena *a;
    pl_diags d;
} bench;

static inline int bench_open(void **state)
{
    bench *b = calloc(1, sizeof *b);

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    *state = b;
    return 0;
}

static inline int bench_close(void **state)
{
    bench *b = *state;

    pl_arena_free(b->a);
    free(b);
    return 0;
}

/* A test with its own arena and findings: in the body, bench *b = *state. */
#define TEST(f) cmocka_unit_test_setup_teardown(f, bench_open, bench_close)

/* Prints every finding; for a test that did not expect one. */
static inline void show_findings(const bench *b)
{
    for (size_t i = 0; i < b->d.count; i++)
        print_error("  %s\n", pl_diag_text(b->a, &b->d.items[i]));
}

#define assert_ok(b, code)                                  \
    do {                                                    \
        pl_code code_ = (code);                             \
        if (code_ != PL_OK) {                               \
            show_findings(b);                               \
            fail_msg("%s, wanted OK", pl_code_name(code_)); \
        }                                                   \
    } while (0)

#define assert_code(b, wanted, code)                                              \
    do {                                                                          \
        pl_code code_ = (code);                                                   \
        if (code_ != (wanted)) {                                                  \
            show_findings(b);                                                     \
            fail_msg("%s, wanted %s", pl_code_name(code_), pl_code_name(wanted)); \
        }                                                                         \
    } while (0)

/* |got - wanted| <= tol * |wanted|; wanted 0: |got| <= tol. */
static inline void assert_rel(const char *what, double got, double wanted, double tol)
{
    double scale = wanted != 0 ? fabs(wanted) : 1;

    if (!(fabs(got - wanted) <= tol * scale))
        fail_msg("%s: got %.17g, wanted %.17g, relative difference %.3g over %.3g", what, got,
                 wanted, fabs(got - wanted) / scale, tol);
}

static inline void assert_abs(const char *what, double got, double wanted, double tol)
{
    if (!(fabs(got - wanted) <= tol))
        fail_msg("%s: got %.17g, wanted %.17g, difference %.3g over %.3g", what, got, wanted,
                 fabs(got - wanted), tol);
}

/* Some finding holds this text in its place, facts or advice. */
static inline void assert_finding(const bench *b, const char *part)
{
    for (size_t i = 0; i < b->d.count; i++) {
        const char *text = pl_diag_text(b->a, &b->d.items[i]);

        if (text && strstr(text, part))
            return;
    }
    show_findings(b);
    fail_msg("no finding says \"%s\"", part);
}

/* A path below the project's top folder. */
static inline const char *top_path(pl_arena *a, const char *path)
{
    const char *top = getenv("PLATEN_TOP");

    return pl_arena_printf(a, "%s/%s", top ? top : ".", path);
}

/* A path of reference data that is read in place; NULL, with a word, when this
 * checkout has none beside it. */
static inline const char *shared_path(pl_arena *a, const char *path)
{
    const char *full = top_path(a, pl_arena_printf(a, "../shared/reference/%s", path));
    FILE *f = fopen(full, "r");

    if (!f) {
        printf("SKIPPED: %s is not beside this checkout\n", path);
        return NULL;
    }
    fclose(f);
    return full;
}

#endif
