/* A study with levels added to one of its factors, as a further round of glue-ups needs. */
#ifndef PL_STUDY_GROW_H
#define PL_STUDY_GROW_H

#include "study/study.h"

/* The study whose text is that of s with n levels added behind those of one factor, each as it
 * would be typed ("1.1 N/mm2"); a factor given by from, to, count and spacing has its levels
 * listed from then on. Nothing else of the text changes. n 0: s itself. The study is read and
 * checked as any other: the codes of pl_study_parse, and EUSAGE: no such factor. */
pl_code pl_study_grow(pl_arena *a, const pl_study *s, size_t factor, const char *const *levels,
                      size_t n, const pl_study **out, pl_diags *d);

/* Is the text of s that of old with levels added to at most one factor, as pl_study_grow does? */
bool pl_study_grown_from(pl_arena *a, const pl_study *s, const pl_study *old);

#endif
