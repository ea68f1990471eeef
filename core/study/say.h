/* Say: sizes in the words that a study is talked about in. Internal to
 * core/study. Texts are in the arena; NULL when memory is out. */
#ifndef PL_STUDY_SAY_H
#define PL_STUDY_SAY_H

#include "study/study.h"

char *pl_say_time(pl_arena *a, double s);                     /* "45 min", "36 h", "7 d" */
char *pl_say_force(pl_arena *a, const pl_study *s, double N); /* N, kN; lbf for inches */
char *pl_say_area(pl_arena *a, const pl_study *s, double m2); /* mm2; in2 for inches */
double pl_say_ratio(const pl_factor *f);     /* constant ratio of its levels, or NAN */
unsigned pl_say_stations(const pl_study *s); /* of all presses; 1 if none is named */

#endif
