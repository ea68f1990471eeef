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
#define PL_BOOK_VERSION 1              /* of the tables: SQLite's user_version */
#define PL_BOOK_BUSY_MS 5000           /* how long a writer waits for another one */

typedef struct pl_book pl_book;

typedef enum pl_book_mode {
    PL_BOOK_READ,   /* the file is not written, save to finish what a killed run left */
    PL_BOOK_WRITE,  /* the book must be there */
    PL_BOOK_CREATE, /* made if absent: plan and rig add only */
} pl_book_mode;

/* Opens a book; the arena closes it. *out is set on PL_OK only.
 * PL_EBOOK: no such file, a folder, no book, made by a newer program, not
 * readable or (WRITE, CREATE) not writable, damaged, left in the middle of a
 * write where it cannot be finished, busy for longer than PL_BOOK_BUSY_MS. */
pl_code pl_book_open(pl_arena *a, const char *path, pl_book_mode mode, pl_book **out, pl_diags *d);
const char *pl_book_path(const pl_book *b);
bool pl_book_created(const pl_book *b); /* by this open */

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
    const char *plan_json; /* as `plan --json` writes it, without findings */
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
 * PL_ECONFLICT: a specimen id was issued before (an id is never issued twice,
 * in no study: draw with another seed, and hand pl_book_ids to the design), or
 * readings were taken for an earlier revision (its labels would come to mean
 * something else). PL_EBOOK. */
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
    const char *plugin;   /* "load-cell 1.0"; "" for forms */
    const pl_readings *readings;
} pl_source;

typedef struct pl_taken {
    size_t files, known_files;    /* taken now; had been taken before */
    size_t added, same, replaced; /* readings: new; recorded before with the same value;
                                     that took the place of another value */
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

/* The readings in force, in the order they were taken. `where` is the place in
 * the file it came from. None: count 0. PL_EUSAGE: no such study. */
pl_code pl_book_readings(pl_arena *a, pl_book *b, const char *study, pl_readings *out, pl_diags *d);

/* ---- fits ---- */

/* Keeps a fit's JSON answer with the revision it belongs to. */
pl_code pl_book_fit_add(pl_book *b, const char *study, unsigned revision, const char *answer,
                        pl_diags *d);

#endif
