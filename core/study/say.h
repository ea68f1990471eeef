/* Say: sizes in the words that a study is talked about in. Internal to
 * core/study. Texts are in the arena; NULL when memory is out. */
#ifndef PL_STUDY_SAY_H
#define PL_STUDY_SAY_H

#include "study/study.h"

char *pl_say_force(pl_arena *a, const pl_study *s, double N); /* N, kN; lbf for inches */
char *pl_say_area(pl_arena *a, const pl_study *s, double m2); /* mm2; in2 for inches */

#endif
