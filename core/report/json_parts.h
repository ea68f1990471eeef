/* Parts of the JSON answer that its files share. */
#ifndef PL_REPORT_JSON_PARTS_H
#define PL_REPORT_JSON_PARTS_H

#include "report/answer.h"

void pl_json_coef(pl_jval *list, const pl_coef *c);
void pl_json_bounded(pl_jval *object, const char *key, const pl_bounded *b);
void pl_json_residual(pl_jval *object, const pl_residual *r);
struct pl_surface;
void pl_json_surface(pl_jval *object, const struct pl_surface *s);
void pl_json_plateau(pl_jval *list, const pl_plateau *p);
void pl_json_linear(pl_jval *object, const pl_linear_fit *l);
void pl_json_bounds(pl_jval *object, const pl_bounds_fit *b);

#endif
