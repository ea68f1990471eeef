/* Digits that a figure of a fit shares with a certified one.
 *
 *   digits FIT.json CERTIFIED.json LEAST (PATH-IN-FIT PATH-IN-CERTIFIED)...
 *
 * Prints the log relative error -log10(|x - c| / |c|) of each pair (16 when they
 * are the same double) and exits 1 when one is below LEAST. Paths: walk.h. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "walk.h"

static double digits(double x, double certified)
{
    double off = fabs(x - certified) / (certified != 0 ? fabs(certified) : 1);

    return off > 0 ? fmin(-log10(off), 16) : 16;
}

static int compare(pl_arena *a, const pl_json *fit, const pl_json *certified, double least,
                   int argc, char **argv)
{
    int low = 0;

    for (int i = 0; i + 1 < argc; i += 2) {
        const pl_json *x = walk(a, fit, argv[i]), *c = walk(a, certified, argv[i + 1]);

        if (!x || !c || x->kind != PL_JSON_NUMBER || c->kind != PL_JSON_NUMBER) {
            printf("%s or %s is not there\n", argv[i], argv[i + 1]);
            low = 1;
            continue;
        }
        printf("%6.2f digits (at least %g): %s\n", digits(x->number, c->number), least, argv[i]);
        low = low || !(digits(x->number, c->number) >= least);
    }
    return low;
}

int main(int argc, char **argv)
{
    pl_arena *a = pl_arena_new(0);
    const pl_json *fit, *certified;
    pl_diags d;
    double least;
    int low;

    pl_diags_init(&d, a);
    if (argc < 6 || !pl_text_to_number(argv[3], &least) || pl_json_read(a, argv[1], &fit, &d) ||
        pl_json_read(a, argv[2], &certified, &d)) {
        fprintf(stderr, "digits FIT.json CERTIFIED.json LEAST (PATH PATH)...\n");
        for (size_t i = 0; i < d.count; i++)
            fprintf(stderr, "%s\n", pl_diag_text(a, &d.items[i]));
        return 2;
    }
    low = compare(a, fit, certified, least, argc - 4, argv + 4);
    pl_arena_free(a);
    return low;
}
