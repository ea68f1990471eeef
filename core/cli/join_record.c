/* Looking into a study's readings, and noting what happened at the bench. */
#include <math.h>

#include "cli/join.h"

void pl_join_note(pl_join_work *j, const char *words)
{
    const char *line = words ? pl_text_one_line(j->a, words) : NULL;
    pl_code rc = line ? pl_texts_add(j->run, &j->notes, line) : pl_nomem(&j->run->diags);

    if (rc)
        j->rc = rc;
}

double pl_join_value(const pl_join_work *j, pl_subject subject, const char *id,
                     const char *quantity)
{
    const pl_reading *r = pl_readings_find(j->r, subject, id, quantity);

    return r ? r->value : NAN;
}

const char *pl_join_word(const pl_join_work *j, pl_subject subject, const char *id,
                         const char *quantity)
{
    const pl_reading *r = pl_readings_find(j->r, subject, id, quantity);

    return r ? r->text : "";
}
