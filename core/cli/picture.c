/* Where a verb's picture goes: the terminal, files. What is drawn is report's, how page's. */
#include "cli/picture.h"

#include <ctype.h>
#include <string.h>

#include "base/file.h"

#define COLUMNS 78

static const struct {
    const char *ending;
    pl_plot_form form;
} kinds[] = { { ".svg", PL_PLOT_WIDE }, { ".png", PL_PLOT_PNG }, { ".pdf", PL_PLOT_PDF } };
#define NKINDS (sizeof kinds / sizeof *kinds)

/* Place in kinds, or NKINDS. */
static size_t kind_of(const char *path)
{
    size_t n = strlen(path), k = 0;

    while (k < NKINDS && (n <= strlen(kinds[k].ending) ||
                          strcmp(path + n - strlen(kinds[k].ending), kinds[k].ending) != 0))
        k++;
    return k;
}

pl_code pl_picture_take(pl_run *run, int key, const char *arg)
{
    if (key == PL_KEY_PLOT)
        run->plot = true;
    else if (key == PL_KEY_PLOT_REPLACE)
        run->plot_replace = true;
    else if (kind_of(arg) == NKINDS)
        return pl_usage(run, "--plot-to", pl_arena_printf(run->arena, "\"%s\"", arg),
                        "a file whose name ends in .svg, .png or .pdf", "");
    else
        return pl_texts_add(run, &run->plot_to, arg);
    return PL_OK;
}

bool pl_picture_asked(const pl_run *run)
{
    return run->plot || run->plot_to.count;
}

/* "out/strength-beech.svg"; of the part only letters and digits, for it is anybody's word. */
static const char *path_for(pl_arena *a, const char *path, const char *part)
{
    size_t ending = strlen(kinds[kind_of(path)].ending);
    pl_text t;

    if (!part)
        return path;
    pl_text_init(&t, a);
    pl_text_bytes(&t, path, strlen(path) - ending);
    pl_text_put(&t, "-");
    for (const char *s = part; *s; s++)
        pl_text_bytes(&t, isalnum((unsigned char)*s) || (unsigned char)*s >= 0x80 ? s : "-", 1);
    pl_text_put(&t, path + strlen(path) - ending);
    return pl_text_done(&t);
}

static pl_code put_file(pl_run *run, const pl_plot *p, const char *asked, const char *part,
                        pl_jval *list)
{
    const char *path = path_for(run->arena, asked, part);
    char *bytes = NULL;
    size_t n = 0;
    pl_code rc = path ? pl_plot_file(run->arena, p, kinds[kind_of(asked)].form, &bytes, &n,
                                     &run->diags)
                      : pl_nomem(&run->diags);

    if (rc || !bytes) /* without gnuplot a finding says why there is none */
        return rc;
    rc = pl_file_write(path, bytes, n, run->plot_replace, &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(list, NULL, path);
    pl_text_add(&run->text, "Picture: %s\n", path);
    return PL_OK;
}

pl_code pl_picture_put(pl_run *run, const pl_plot *p, const char *part, int rows)
{
    pl_jval *list;
    char *text;
    pl_code rc;

    if (run->plot) {
        rc = pl_plot_text(run->arena, p, COLUMNS, rows, &text, &run->diags);
        if (rc)
            return rc;
        if (text)
            pl_text_add(&run->text, "\n%s\n", text);
    }
    if (!run->plot_to.count)
        return PL_OK;
    if (!run->pictures)
        run->pictures = pl_jadd_array(run->answer, "pictures");
    list = run->pictures;
    rc = PL_OK;
    for (size_t i = 0; i < run->plot_to.count && !rc; i++)
        rc = put_file(run, p, run->plot_to.items[i], part, list);
    return rc;
}
