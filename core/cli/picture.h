/* Pictures of an answer: in the terminal with --plot, in files with --plot-to. */
#ifndef PL_CLI_PICTURE_H
#define PL_CLI_PICTURE_H

#include "cli/verb.h"
#include "page/plot.h"

enum { PL_KEY_PICTURE = 300, PL_KEY_PLOT = PL_KEY_PICTURE, PL_KEY_PLOT_TO, PL_KEY_PLOT_REPLACE };

/* clang-format off */
/* The options of a verb that has a picture; `what` is drawn. Last in its table. */
#define PL_PICTURE_OPTIONS(what) \
    { "plot", PL_KEY_PLOT, 0, 0, "draw " what " in the terminal", 0 }, \
    { "plot-to", PL_KEY_PLOT_TO, "FILE", 0, "into a file: .svg, .png or .pdf (again for more)", 0 }, \
    { "replace", PL_KEY_PLOT_REPLACE, 0, 0, "with --plot-to: write over a file that is there", 0 },
/* clang-format on */

/* Takes one of these. EUSAGE: a file of another kind. */
pl_code pl_picture_take(pl_run *run, int key, const char *arg);

bool pl_picture_asked(const pl_run *run);

/* Adds the picture to the text, and writes it into the files, as far as asked. part: what tells it
 * from the verb's other pictures ("beech": strength.svg becomes strength-beech.svg); NULL: it has
 * but one. rows: of the terminal form. EWRITE. */
pl_code pl_picture_put(pl_run *run, const pl_plot *p, const char *part, int rows);

#endif
