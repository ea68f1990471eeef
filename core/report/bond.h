/* Joint, glue line and wood apart (fit/bond.h), said and shown; f->bond is there unless it is said
 * otherwise. */
#ifndef PL_REPORT_BOND_H
#define PL_REPORT_BOND_H

#include "page/html.h"
#include "report/answer.h"
#include "report/details.h"

#define PL_BOND_HEAD "The glue line, apart from the wood"

/* Sentences in shop words, *n of them; none when f->bond is NULL. NULL: no memory. */
const char *const *pl_bond_sentences(pl_arena *a, const pl_fit_answer *f, size_t *n);
/* Cells by joint and glue line; the glue line by line drawn, and by law, with its ranges or
 * without. */
pl_grid *pl_bond_cells(pl_arena *a, const pl_fit_answer *f);
pl_grid *pl_bond_by_line(pl_arena *a, const pl_fit_answer *f, bool ranges);
pl_grid *pl_bond_by_law(pl_arena *a, const pl_fit_answer *f, bool ranges);
void pl_bond_details(pl_arena *a, const pl_fit_answer *f, pl_text *t);
/* The report's section; nothing when f->bond is NULL. */
pl_code pl_bond_page(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d);
void pl_json_bond(pl_jval *object, const pl_bond_fit *b);

#endif
