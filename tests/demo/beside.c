/* Prints published figures beside those of a fit.
 *
 *   beside KNOWN-ANSWERS.json FIT.json
 *
 * Each answer's `at` is a path into the fit (walk.h). Exit 1 when a figure does not
 * come out to the digits that were published. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/json.h"
#include "base/text.h"
#include "page/grid.h"
#include "walk.h"

/* Digits of a decimal as printed: "0.0131" has 3, "2.3894212918E+02" 11. */
static int digits_of(const char *s)
{
    int n = 0;

    s += strspn(s, "+-0.");
    for (; *s && *s != 'e' && *s != 'E'; s++)
        n += *s != '.';
    return n ? n : 1;
}

/* Equal when the found figure, rounded to the published digits, is the same to
 * one in the last. */
static bool agrees(double found, double published, int digits)
{
    double unit = pow(10, floor(log10(fabs(published))) + 1 - digits);

    return fabs(found - published) <= 0.5000001 * unit;
}

int main(int argc, char **argv)
{
    pl_arena *a = pl_arena_new(0);
    const pl_json *known, *fit;
    pl_diags d;
    pl_grid *g = pl_grid_new(a);
    int off = 0;

    pl_diags_init(&d, a);
    if (argc != 3 || pl_json_read(a, argv[1], &known, &d) || pl_json_read(a, argv[2], &fit, &d)) {
        for (size_t i = 0; i < d.count; i++)
            fprintf(stderr, "%s\n", pl_diag_text(a, &d.items[i]));
        return 2;
    }
    pl_grid_column(g, PL_SIDE_LEFT, "figure", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "published", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "platen", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "", NULL);
    for (const pl_json *x = pl_json_get(known, "answers")->child; x; x = x->next) {
        const char *published = pl_json_get(x, "published")->string;
        const pl_json *v = walk(a, fit, pl_json_get(x, "at")->string);
        int digits = digits_of(published);
        double wanted = strtod(published, NULL);
        bool same = v && v->kind == PL_JSON_NUMBER && agrees(v->number, wanted, digits);

        off += !same;
        pl_grid_cell(g, pl_json_get(x, "what")->string);
        pl_grid_cell(g, published);
        pl_grid_number(g, v && v->kind == PL_JSON_NUMBER ? v->number : NAN, digits + 1);
        pl_grid_cell(g, same ? "the same" : "DIFFERENT");
    }
    printf("%s(source: %s)\n", pl_grid_text(a, g, 0), pl_json_get(known, "source")->string);
    pl_arena_free(a);
    return off ? 1 : 0;
}
