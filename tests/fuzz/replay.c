/* Hands files to a fuzz target without a fuzzer: those named as arguments, or all in
 * tests/fuzz/seeds/TARGET and tests/fuzz/finds/TARGET. A find that was mended stays there,
 * and so stays mended. */
#include "fuzz.h"

#include <dirent.h>
#include <gsl/gsl_errno.h>

static const char *now = "";

static void replay(const char *path)
{
    FILE *f = fopen(path, "rb");
    uint8_t *bytes = NULL;
    size_t size = 0, got;

    if (!f) {
        perror(path);
        exit(1);
    }
    do {
        bytes = realloc(bytes, size + 65536);
        HOLDS(bytes);
        got = fread(bytes + size, 1, 65536, f);
        size += got;
    } while (got);
    fclose(f);
    now = path;
    bytes = realloc(bytes, size ? size : 1); /* to its end and no further */
    (void)LLVMFuzzerTestOneInput(bytes, size);
    free(bytes);
}

static size_t replay_folder(const char *top, const char *kind)
{
    char folder[4096], path[8192];
    const struct dirent *e;
    size_t n = 0;
    DIR *d;

    (void)snprintf(folder, sizeof folder, "%s/tests/fuzz/%s/%s", top, kind, FUZZ_TARGET);
    d = opendir(folder);
    while (d && (e = readdir(d)))
        if (e->d_name[0] != '.') {
            (void)snprintf(path, sizeof path, "%s/%s", folder, e->d_name);
            replay(path);
            n++;
        }
    if (d)
        closedir(d);
    return n;
}

static void say_which(void)
{
    if (now)
        fprintf(stderr, "%s: ended while it was given %s\n", FUZZ_TARGET, now);
}

int main(int argc, char **argv)
{
    const char *top = getenv("PLATEN_TOP");
    size_t n = 0;

    gsl_set_error_handler_off();
    (void)atexit(say_which);
    for (int i = 1; i < argc; i++, n++)
        replay(argv[i]);
    if (argc < 2) {
        n = replay_folder(top ? top : ".", "seeds");
        HOLDS(n > 0);
        n += replay_folder(top ? top : ".", "finds");
    }
    now = NULL;
    printf("%s: %zu inputs replayed\n", FUZZ_TARGET, n);
    return 0;
}
