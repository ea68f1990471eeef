/* What the tests of rigs share: rigs written out in the test, the built plugins,
 * files in a temporary folder, and the child's entry. */
#ifndef TESTS_RIGS_SHOP_H
#define TESTS_RIGS_SHOP_H

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "support.h"

#include "base/json.h"
#include "rigs/rigs.h"
#include "study/rig.h"

#define LBF 4.4482216152605 /* N: 0.45359237 kg x 9.80665 m/s2 (NIST SP 811, exact) */
#define INCH 0.0254         /* m, exact */
#define PSI (LBF / (INCH * INCH))

static inline pl_rig rig_of(bench *b, const char *text)
{
    const pl_json *object;
    pl_rig rig;

    assert_ok(b, pl_json_parse(b->a, "rig.json", text, strlen(text), &object, &b->d));
    assert_ok(b, pl_rig_from_json(b->a, object, &rig, &b->d));
    return rig;
}

static inline pl_rig rig_file(bench *b, const char *path)
{
    const pl_json *object;
    pl_rig rig;

    assert_ok(b, pl_json_read(b->a, top_path(b->a, path), &object, &b->d));
    assert_ok(b, pl_rig_from_json(b->a, object, &rig, &b->d));
    return rig;
}

static inline const char *build_path(pl_arena *a, const char *name)
{
    const char *build = getenv("PLATEN_BUILD");

    return pl_arena_printf(a, "%s/%s", build ? build : "build", name);
}

/* Plugins from this build alone, whatever the machine has installed. */
static inline void use_plugins(const char *folder)
{
    pl_arena *a = pl_arena_new(0);

    setenv("PLATEN_PLUGINS", build_path(a, folder), 1);
    setenv("XDG_DATA_HOME", "/nonexistent/share", 1);
    pl_arena_free(a);
}

/* A folder of our own that nobody else may write; removed by drop_folder. */
static inline char *temp_folder(pl_arena *a)
{
    const char *base = getenv("TMPDIR");
    char *path = pl_arena_printf(a, "%s/platen-rigs-XXXXXX", base ? base : P_tmpdir);

    assert_non_null(mkdtemp(path));
    assert_int_equal(chmod(path, 0755), 0);
    return path;
}

static inline const char *temp_file(pl_arena *a, const char *folder, const char *name,
                                    const char *bytes, size_t n)
{
    const char *path = pl_arena_printf(a, "%s/%s", folder, name);
    FILE *f = fopen(path, "wb");

    assert_non_null(f);
    assert_int_equal(fwrite(bytes, 1, n, f), n);
    assert_int_equal(fclose(f), 0);
    return path;
}

/* The test program is also the child that runs plugins. */
#define MAIN_OF_RIGS(tests, folder)                         \
    int main(int argc, char **argv)                         \
    {                                                       \
        if (argc > 1 && !strcmp(argv[1], PL_RIG_CHILD_ARG)) \
            return pl_rigs_child_main(argc, argv);          \
        use_plugins(folder);                                \
        return cmocka_run_group_tests(tests, NULL, NULL);   \
    }

#endif
