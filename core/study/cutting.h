/* How pieces lie along a board: from the marked end, less both discarded ends, with a saw cut
 * between neighbours, and none over a stretch that is not to be used. The number of specimens that
 * a board gives and the cut map both come from here. */
#ifndef PL_STUDY_CUTTING_H
#define PL_STUDY_CUTTING_H

#include "study/study.h"

/* Columns of pieces along one board of this stock; starts_m: the near end of each from the board's
 * end, `room` of them are written (NULL: none). A column begins as soon as it can: behind the last
 * and a saw cut, or where a stretch that it would touch ends; the cut then lies in that stretch, or
 * is wider than it. 0 where sizes are missing or nothing fits. Whole nanometres are counted, so
 * that 3 x 40 mm lie in 120 mm. */
size_t pl_cutting_columns(const pl_study *s, const pl_stock *stock, double *starts_m, size_t room);
/* Rows of pieces across it. */
size_t pl_cutting_rows(const pl_study *s, const pl_stock *stock);

#define PL_CUTTING_MOST ((size_t)100000) /* columns and rows: more than anyone saws */

#endif
