/* How one study lies in a folder, for its two ends (book_study.c, book_adopt.c). */
#ifndef PL_CLI_BOOK_STUDY_H
#define PL_CLI_BOOK_STUDY_H

#include "cli/book.h"

typedef struct pl_study_column {
    const char *name, *title, *datatype, *words; /* title: in the table's header */
} pl_study_column;

#define PL_FILES_COLUMNS 8
#define PL_READINGS_COLUMNS 8
#define PL_MARKS_COLUMNS 7
extern const pl_study_column pl_files_columns[PL_FILES_COLUMNS];
extern const pl_study_column pl_readings_columns[PL_READINGS_COLUMNS];
extern const pl_study_column pl_marks_columns[PL_MARKS_COLUMNS];

/* "rig-jack.json": of the i-th rig of the study; no two have one name. */
char *pl_study_rig_file(pl_arena *a, const pl_study *s, size_t i);
/* "2027-03-03T14:05:00Z", and back: false when it is not written just so. */
char *pl_study_time(pl_arena *a, int64_t at);
bool pl_study_time_read(pl_arena *a, const char *text, int64_t *out);

#endif
