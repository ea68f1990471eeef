/* Columns of the forms that further responses have to do with; for bench's test of both lists. */
#ifndef PL_STUDY_RESPONSE_H
#define PL_STUDY_RESPONSE_H

#include <stdbool.h>

/* A column of the break or glue-up form, or of the fit's table, that is there without any response.
 */
bool pl_response_column_known(const char *name);

#endif
