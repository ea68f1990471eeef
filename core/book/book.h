/* The book: one SQLite file, every study, rig and reading of a shop. SQLite is
 * used in this room and nowhere else.
 *
 * What is in it and how it is kept safe: docs/book.md. Nothing here prints;
 * whatever SQLite says becomes a finding with the book's path and what to do.
 * A book belongs to one thread. Every function that changes the book does so
 * in one transaction: it happened as a whole, or not at all. */
#ifndef PL_BOOK_BOOK_H
#define PL_BOOK_BOOK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "study/plan.h"
#include "study/reading.h"
#include "study/rig.h"
#include "study/study.h"

#define PL_BOOK_APPLICATION 0x504C424B /* "PLBK": SQLite's application_id of a book */
#define PL_BOOK_VERSION 2              /* of the tables: SQLite's user_version */
#define PL_BOOK_BUSY_MS 5000           /* how long a writer waits for another one */

typedef struct pl_book pl_book;

typedef enum pl_book_mode {
    PL_BOOK_READ,   /* the file is not written, save to finish what a killed run left */
    PL_BOOK_WRITE,  /* the book must be there */
    PL_BOOK_CREATE, /* made if absent: plan and rig add only */
} pl_book_mode;

/* Opens a book; the arena closes it. *out is set on PL_OK only. A book of an older
 * version is brought to this one: to write, on disk, after a copy of it was laid
 * beside it ("shop.book.version-1", said as a note); to read, in memory alone.
 * Who runs the program is taken from PLATEN_WHO, for the trail; none is fine.
 * PL_EBOOK: no such file, a folder, no book, made by a newer program, not
 * readable or (WRITE, CREATE) not writable, damaged, left in the middle of a
 * write where it cannot be finished, busy for longer than PL_BOOK_BUSY_MS. */
pl_code pl_book_open(pl_arena *a, const char *path, pl_book_mode mode, pl_book **out, pl_diags *d);
const char *pl_book_path(const pl_book *b);
bool pl_book_created(const pl_book *b); /* by this open */

/* From now on this book is read as it was after this entry of its trail; 0: as it
 * is. What is written is written at its end all the same. */
void pl_book_as_of(pl_book *b, int64_t entry);
pl_code pl_book_last_entry(pl_book *b, int64_t *out, pl_diags *d); /* 0: none */

/* ---- rigs of the shop ---- */

typedef struct pl_book_rig {
    const char *name, *text; /* its JSON object, byte for byte */
    int64_t added_at;        /* seconds since 1970 UTC */
} pl_book_rig;

/* Keeps a rig. The same text again changes nothing (*added false). Another
 * text under a name in use: PL_ECONFLICT, unless replace is asked; the old one
 * is then kept as history. added may be NULL. */
pl_code pl_book_rig_add(pl_book *b, const pl_rig *rig, bool replace, bool *added, pl_diags *d);
/* The rig in use under this name; *out is NULL when there is none (no finding:
 * the caller knows who asked). */
pl_code pl_book_rig_get(pl_arena *a, pl_book *b, const char *name, const pl_book_rig **out,
                        pl_diags *d);
/* All in use, by name. */
pl_code pl_book_rig_list(pl_arena *a, pl_book *b, const pl_book_rig **out, size_t *count,
                         pl_diags *d);

/* ---- studies and plans ---- */

typedef struct pl_revision {
    const char *study; /* name */
    unsigned number;   /* from 1 */
    uint64_t seed;
    const char *text;      /* the study file, byte for byte */
    size_t length;         /* of text */
    const char *plan_json; /* as pl_plan_to_kept writes it */
    const char *program;   /* version that froze it */
    int64_t made_at;       /* seconds since 1970 UTC */
} pl_revision;

typedef struct pl_book_study {
    const char *name;
    unsigned revision;                /* the latest */
    int64_t made_at;                  /* of the latest revision */
    size_t specimens, readings, fits; /* ids issued; readings in force */
} pl_book_study;

/* Freezes a plan as the study's next revision; *number is its number. The
 * plan's own revision field is not looked at. The same study text with the same
 * plan again changes nothing and gives the number it has.
 * A plan of the same study text, or of one with levels added (pl_study_grown_from), that only
 * adds to the latest one (pl_plan_grown_from)
 * keeps its ids, readings or not. Else PL_ECONFLICT: a specimen id was issued before (an
 * id is never issued twice, in no study: draw with another seed, and hand pl_book_ids to
 * the design), or readings were taken for an earlier revision (its labels would come to
 * mean something else). PL_EBOOK. */
pl_code pl_book_freeze(pl_book *b, const pl_study *study, const pl_plan *plan, unsigned *number,
                       pl_diags *d);

/* A frozen revision; number 0 = the latest. PL_EUSAGE when the book holds no
 * such study or revision, the nearest name said. PL_EBOOK when what is kept
 * does not match its digest. */
pl_code pl_book_revision(pl_arena *a, pl_book *b, const char *study, unsigned number,
                         const pl_revision **out, pl_diags *d);
/* The same, read: the study and its plan (plan->revision is the number). */
pl_code pl_book_plan(pl_arena *a, pl_book *b, const char *study, unsigned number,
                     const pl_study **out_study, const pl_plan **out_plan, pl_diags *d);
/* True when the book holds a revision of this study; errors are findings. */
bool pl_book_has(pl_book *b, const char *study, pl_diags *d);
/* All studies, by name. */
pl_code pl_book_studies(pl_arena *a, pl_book *b, const pl_book_study **out, size_t *count,
                        pl_diags *d);
/* Every specimen id ever issued, in any study. */
pl_code pl_book_ids(pl_arena *a, pl_book *b, const char *const **out, size_t *count, pl_diags *d);

/* ---- readings ---- */

/* A file that readings came from. */
typedef struct pl_source {
    const char *name;     /* of the file, as the user knows it */
    const char *digest;   /* SHA-256 of its bytes, 64 hex digits (pl_digest) */
    const char *kind;     /* the form's name ("breaks"), or the kind of rig ("load-cell") */
    const char *rig;      /* the rig's name; "" for forms */
    const char *rig_text; /* the rig's JSON as used; "" for forms */
    const char *plugin;   /* "load-cell, ABI 1, SHA-256 9f..."; "" for forms */
    const pl_readings *readings;
    const char *bytes; /* the file itself, to be kept in the book; NULL: it is not */
    size_t length;
    const char *doubts; /* what was said of it before somebody had it taken all the same; NULL */
} pl_source;

/* A recorded value and the one that takes its place. */
typedef struct pl_change {
    const pl_reading *reading;      /* the new one */
    const char *text, *unit, *file; /* of the old one */
} pl_change;

typedef struct pl_taken {
    size_t files, known_files;    /* taken now; had been taken before */
    size_t added, same, replaced; /* readings: new; recorded before with the same value;
                                     that took the place of another value */
    size_t kept;                  /* files that are kept in the book now */
    const pl_change *changes;     /* each of those replaced, by subject */
    size_t nchange;
} pl_taken;

/* Takes all of it or nothing. A file taken before (same digest, same study)
 * changes nothing and is said as a note; with replace its readings are looked
 * at again. A conflict is the same quantity of the same subject with another
 * value: all conflicts are listed before anything is written and the whole take
 * is refused (PL_ECONFLICT); with replace the recorded value stays in the book
 * as superseded and the new one is in force. Two files of one take that
 * contradict each other are refused in any case. look: says the same, writes
 * nothing (a book opened for reading will do).
 * PL_EUSAGE: no such study. PL_EBOOK. */
pl_code pl_book_take(pl_book *b, const char *study, const pl_source *sources, size_t count,
                     bool replace, bool look, pl_taken *out, pl_diags *d);

/* Takes a file back: none of its readings counts any more; where one of them had
 * taken the place of another value, the last value before it that was not
 * withdrawn counts again. file: its name as it was taken, or (where names are not
 * enough) the beginning of its digest. PL_EUSAGE: no such file, or several. */
typedef struct pl_withdrawn {
    const char *name, *digest;
    size_t ended, restored; /* readings */
} pl_withdrawn;
pl_code pl_book_withdraw(pl_book *b, const char *study, const char *file, const char *reason,
                         pl_withdrawn *out, pl_diags *d);

/* Another study that this file was taken for, by its digest, or that issued this id;
 * *out NULL: none. */
pl_code pl_book_taken_for(pl_arena *a, pl_book *b, const char *digest, const char *but_study,
                          const char **out, pl_diags *d);
pl_code pl_book_issuer(pl_arena *a, pl_book *b, const char *id, const char **out, pl_diags *d);

/* A file that was kept, byte for byte; *out NULL: it is not kept. PL_EBOOK: its
 * bytes no longer match its digest. */
pl_code pl_book_kept(pl_arena *a, pl_book *b, const char *digest, char **out, size_t *length,
                     pl_diags *d);

/* The readings in force, in the order they were taken. `where` is the place in
 * the file it came from. None: count 0. PL_EUSAGE: no such study. PL_EBOOK: a row
 * (also one that no longer counts) is not what was written, or one is missing. */
pl_code pl_book_readings(pl_arena *a, pl_book *b, const char *study, pl_readings *out, pl_diags *d);

/* ---- marks: what happened to a specimen, beside what was planned ---- */

typedef enum pl_mark_kind {
    PL_MARK_LOST,
    PL_MARK_EXCLUDED,
    PL_MARK_RESTORED,
    PL_MARK_SWAPPED, /* value: the id whose label it really bears */
    PL_MARK_MADE_AS, /* key: a factor, "board", ...; value: what it was */
    PL_MARK_APPLIED, /* value: "unknown" */
    PL_MARK_NOTE,    /* value: the text */
    PL_MARK_PHOTO,   /* key: the file's name; value: its digest */
    PL_NMARKS
} pl_mark_kind;
const char *pl_mark_name(pl_mark_kind k); /* "lost", "swapped-with", ... */

typedef struct pl_marking {
    const char *specimen;
    pl_mark_kind kind;
    const char *key, *value, *reason; /* "" where there is none */
    int64_t happened_at, made_at;     /* seconds since 1970 UTC */
    const char *bytes;                /* of a photo, when it is made */
    size_t length;
} pl_marking;

/* All of them or none; made_at is the book's. PL_EUSAGE: no such study. */
pl_code pl_book_mark(pl_book *b, const char *study, const pl_marking *marks, size_t count,
                     pl_diags *d);
/* Readings and marks in one look, the marks in the order they were made. */
pl_code pl_book_record(pl_arena *a, pl_book *b, const char *study, pl_readings *readings,
                       const pl_marking **marks, size_t *nmark, pl_diags *d);

/* ---- one study from one book into another ---- */

/* A file that readings were taken from. */
typedef struct pl_book_file {
    const char *name, *digest, *kind, *rig, *rig_text, *plugin, *program;
    int64_t taken_at;
    const char *bytes; /* pl_book_adopt: the file itself, to be kept; else NULL */
    size_t length;
} pl_book_file;
/* Those of a study that still count, in the order they were taken; of_reading[i] is the place
 * among them of the file of reading i, as pl_book_readings orders them. */
pl_code pl_book_files(pl_arena *a, pl_book *b, const char *study, const pl_book_file **out,
                      size_t *count, const size_t **of_reading, size_t *nreading, pl_diags *d);

/* A study as it was exported: what it was frozen as, and its record. */
typedef struct pl_adopted {
    const pl_study *study; /* its text goes into the book */
    const pl_plan *plan;   /* with its revision */
    const char *plan_json; /* the same, byte for byte */
    const pl_rig *rigs;
    size_t nrig;
    const pl_book_file *files;
    size_t nfile;
    const pl_readings *readings;
    const size_t *of_reading; /* place in files */
    const pl_marking *marks;
    size_t nmark;
    const char *answer; /* the last fit; NULL: none */
} pl_adopted;
/* All of it or nothing. PL_ECONFLICT: a study of that name, one of its ids, or another rig
 * under the name of one of its rigs is in the book. */
pl_code pl_book_adopt(pl_book *b, const pl_adopted *what, pl_diags *d);

/* ---- fits ---- */

typedef struct pl_book_fit {
    int64_t key;
    const char *study;
    unsigned revision;
    const char *program, *answer;
    const char *asked; /* the study file that the question came from; NULL: the frozen one */
    int64_t made_at;
    int64_t seen; /* the last entry of the trail when it was made; 0: made elsewhere */
} pl_book_fit;

/* Keeps a fit's JSON answer with what it was made from: study, revision, answer,
 * asked and seen are looked at. */
pl_code pl_book_fit_add(pl_book *b, const pl_book_fit *fit, pl_diags *d);
/* All, in the order they were made. Texts live in a. */
pl_code pl_book_fits(pl_arena *a, pl_book *b, const pl_book_fit **out, size_t *count, pl_diags *d);

/* ---- the trail, and the book as a whole ---- */

typedef struct pl_entry {
    int64_t entry, at;
    const char *what;        /* "take", "rig add", ... */
    const char *study;       /* "" where it is of none */
    const char *words, *who; /* who: "" when nobody said */
    const char *program;     /* version */
    const char *seal;        /* of this entry; the next one holds it too */
} pl_entry;
/* study NULL: all. */
pl_code pl_book_trail(pl_arena *a, pl_book *b, const char *study, const pl_entry **out,
                      size_t *count, pl_diags *d);

typedef struct pl_checked {
    size_t entries, rows, kept, fits; /* looked at */
} pl_checked;
/* SQLite's own check of the file, foreign keys, every seal, what each entry of the
 * trail wrote, the chain, and every kept file. Each fault is a refusal that names
 * its row; PL_EBOOK. */
pl_code pl_book_check(pl_book *b, pl_checked *out, pl_diags *d);

/* A copy in which everything fits together, also while another run writes. An
 * existing file is refused. PL_EBOOK, PL_EWRITE. */
pl_code pl_book_copy(pl_book *b, const char *to, pl_diags *d);

/* Everything, byte for byte, into a new or empty folder (docs/book.md says how it is
 * laid out); and back, into a book that holds nothing yet (else PL_ECONFLICT). What came
 * in is checked before it is kept. PL_EWRITE, PL_ENOFILE, PL_ESYNTAX, PL_EBOOK. */
pl_code pl_book_export(pl_book *b, const char *folder, pl_diags *d);
pl_code pl_book_import(pl_book *b, const char *folder, pl_diags *d);

#endif
