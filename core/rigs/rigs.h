/* Rigs: what the shop's machines can press and what they recorded, asked of
 * plugins that run in a child process only (plugins/include/platen/plugin.h).
 *
 * Every question is answered by a fresh child that loads one plugin; a crash,
 * hang, flood or lie there becomes one PL_EPLUGIN finding that names plugin and
 * file, and nothing of what that child gave is taken. docs/rigs.md is the user's
 * side of it. Call from the main thread: a child ends with the thread that
 * started it. */
#ifndef PL_RIGS_RIGS_H
#define PL_RIGS_RIGS_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/text.h"
#include "base/units.h"
#include "model/curve.h"
#include "study/reading.h"
#include "study/rig.h"
#include "study/set_points.h"

/* First argument with which the program starts itself as such a child. main
 * hands over before it does anything else:
 *   if (argc > 1 && !strcmp(argv[1], PL_RIG_CHILD_ARG))
 *       return pl_rigs_child_main(argc, argv); */
#define PL_RIG_CHILD_ARG "--rig-child"
int pl_rigs_child_main(int argc, char **argv);

/* What the child can do beside asking its plugin: work of rooms that this one does not see,
 * handed in by main before pl_rigs_child_main and by whoever calls pl_rigs_curve. services is kept.
 *
 *   curve  a whole computation with the curve that the plugin brought. request: the bytes
 *          that pl_rigs_curve was given; answer: bytes back. Called once, with the plugin loaded
 *          and everything forbidden that is (core/rigs/fence.c). */
typedef struct pl_rig_services {
    pl_code (*curve)(pl_arena *a, const pl_curve *curve, const char *request, size_t n,
                     pl_text *answer, pl_diags *d);
} pl_rig_services;
void pl_rigs_services(const pl_rig_services *services);

/* Program to start as the child; default /proc/self/exe. path is kept, not
 * copied; NULL restores the default. For tests. */
void pl_rigs_self(const char *path);
/* Wall time of one child; 0 restores PL_RIG_LIMIT_S. A record adds a second per
 * 2 MB to it. */
#define PL_RIG_LIMIT_S 10.0
void pl_rigs_limit(double seconds);

/* A plugin by its file, for the rest of this run: it comes first in the order of discovery, and
 * is held to the same rules of owner and mode when it is used. a must live as long as plugins are
 * asked for. EUSAGE: no NAME.so, or that name twice; ENOFILE. */
pl_code pl_rigs_plugin(pl_arena *a, const char *path, pl_diags *d);

/* ---- kinds ---- */

typedef struct pl_rig_setting {
    const char *name, *help;
    const char *kind;  /* "number", "choice", "flag", "numbers", "pairs" */
    const char *unit;  /* SI; "1" plain number; "" for choice and flag */
    const char *unit2; /* of the second of a pair; "" otherwise */
    double low, high;  /* allowed range, SI; of the first of a pair */
    double preset;     /* SI; place of the choice; 0 or 1; NAN when required or a list */
    bool required;
    const char **choices;
    size_t nchoice;
} pl_rig_setting;

typedef struct pl_rig_kind {
    const char *name, *summary, *file;
    const char *role; /* "rig" or "curve" */
    const char *dial; /* SI unit of its dial; "" if none */
    bool presses, reads_back, reads_files;
    const char **columns; /* of the records it reads: "force [N]" */
    size_t ncolumn;
    pl_rig_setting *settings;
    size_t nsetting;
} pl_rig_kind;

typedef struct pl_rig_kinds {
    pl_rig_kind *items;
    size_t count;
} pl_rig_kinds;

/* Every plugin that can be found, in the order of discovery; a name found again
 * later in that order is left out. A plugin that cannot be loaded is a finding
 * (PL_EPLUGIN) and the others are still listed: *out is set on PL_OK and PL_EPLUGIN.
 *
 * Order: files given to pl_rigs_plugin; then folders: each of PLATEN_PLUGINS (colon
 * between); the user's,
 * $XDG_DATA_HOME/../lib or ~/.local/lib/platen/plugins; PREFIX/lib/platen/plugins;
 * `plugins` beside the running program, and where that lies in a folder `bin`,
 * `lib/platen/plugins` beside that one. A folder, file, or parent of either that
 * others may write, or that belongs to neither the user nor root, is refused. */
pl_code pl_rigs_kinds(pl_arena *a, pl_rig_kinds *out, pl_diags *d);
/* One kind alone; EKEY, with the nearest name, when no plugin has it. */
pl_code pl_rigs_kind(pl_arena *a, const char *name, pl_rig_kind *out, pl_diags *d);

/* A preset in the unit that shops use; "no limit" where it is the highest that may be written.
 * NULL: no memory. */
char *pl_rigs_preset_text(pl_arena *a, const char *si_unit, double preset, double high);

/* ---- curves ---- */

/* A curve plugin: the whole computation goes to it in one visit. request: for the curve service
 * above. take: called in the parent with what came back, which it must not believe; it says what
 * is wrong with it, or NULL. limit_s: wall time. EKEY: no such plugin, or one that is no curve;
 * EPLUGIN; codes of the service. */
typedef struct pl_curve_visit {
    const pl_text *request;
    const char *(*take)(void *self, const char *answer, size_t n);
    void *self;
    double limit_s; /* 0: as for any child */
} pl_curve_visit;
pl_code pl_rigs_curve(pl_arena *a, const char *name, const pl_curve_visit *visit, pl_diags *d);

/* ---- rigs of the shop ---- */

/* Settings, dial and rated limit against what the kind declares; all faults in one
 * run. What was left out and is assumed comes as one note, missing gauge class or
 * marks as advice. EKEY, EVALUE, EUNIT, EPLUGIN. */
pl_code pl_rigs_check(pl_arena *a, const pl_rig *rig, pl_diags *d);

/* Which rig makes which force, at what dial, how surely: one child per kind.
 *
 *   rigs     nrig
 *   force_N  nlevel, > 0
 *   area_m2  pressure on the bond = force / area; kept in out
 *   out      in a. Set on PL_OK, and on other codes too when out->at is not NULL:
 *            then points of a rig whose plugin failed or whose settings are refused
 *            have can = false and a reason.
 *
 * A set point counts as made when the force at the rounded dial is within
 * PL_RIG_MISS_MOST of the one asked for; nothing goes above a rated limit.
 * chosen: the rig that makes most levels with a relative standard uncertainty of at
 * most PL_RIG_SURE_MOST makes all of those (one rig for many levels keeps rig and
 * level apart); the others in listed order take the rest; a level that is made by
 * none that surely goes to the first that makes it at all, in the same order. */
#define PL_RIG_MISS_MOST 0.05 /* common practice, no source */
#define PL_RIG_SURE_MOST 0.10 /* STUDY section 1: a gauge off by more is objected to */
pl_code pl_rigs_set_points(pl_arena *a, const pl_rig *rigs, size_t nrig, const double *force_N,
                           size_t nlevel, double area_m2, pl_set_points *out, pl_diags *d);

/* The way back: dial readings of one rig as forces with their standard
 * uncertainty. kind says what the n readings (SI) are: the dial's quantity, or
 * PL_Q_FORCE for a rig whose dial is no force: then they are forces already and
 * u_N is NAN (not known). A reading that the rig cannot have gives NAN for both and
 * a finding. EUNIT: neither. */
pl_code pl_rigs_forces(pl_arena *a, const pl_rig *rig, const double *reading, pl_quantity_kind kind,
                       size_t n, double *force_N, double *u_N, pl_diags *d);
/* What is to be said of a rig's newest calibration, as a sentence: none at all, or one older
 * than a year at now_s (seconds since 1970 UTC); "" when there is nothing to say or the rig has no
 * dial. NULL: no memory. */
#define PL_RIG_CALIBRATION_DAYS 366.0 /* STUDY section 2: one older than a year is said */
char *pl_rigs_calibration_words(pl_arena *a, const pl_rig *rig, double now_s);

/* A rig's text with one more calibration: points from a CSV file with columns dial and force,
 * their units in the header ("dial [bar],force [N]"). date: "2026-03-01"; against and
 * against_uncertainty may be NULL. The rest of the text stays byte for byte. *out lives in a.
 * ENOFILE, ESYNTAX, EVALUE, EUNIT, ECONFLICT as pl_calibration_read, found before anything is
 * made. */
typedef struct pl_calibrating {
    const char *path, *date, *against, *against_uncertainty;
} pl_calibrating;
pl_code pl_rigs_calibrate(pl_arena *a, const pl_rig *rig, const pl_calibrating *c, char **out,
                          pl_diags *d);

/* SI kind of what the rig's dial shows, from its rig file; PL_Q_NONE without a dial. */
pl_quantity_kind pl_rigs_dial_kind(pl_arena *a, const pl_rig *rig);

/* A recorded file through the rig's plugin. Appends to out, on PL_OK only:
 * subject specimen, value in SI, unit the SI unit, where "trace.csv:412". From a
 * record of force over time: peak (N, above the no-load value), time_to_peak (s),
 * first_drop (N, only if there was one), rate (N/s, 20 to 80 % of the peak).
 * Doubts come as advice (docs/rigs.md "What is said of a record").
 * specimen_id: whom a record that names none is about; NULL: then such a record is
 * refused. Ids are not looked up: the caller knows them. */
pl_code pl_rigs_read(pl_arena *a, const pl_rig *rig, const char *path, const char *specimen_id,
                     pl_readings *out, pl_diags *d);
/* The same, and what it cost; cost is set on PL_OK. */
typedef struct pl_cost {
    double cpu_s;      /* processor time of the child, its own start included */
    double most_bytes; /* memory that it held at its most */
} pl_cost;
pl_code pl_rigs_read_cost(pl_arena *a, const pl_rig *rig, const char *path, const char *specimen_id,
                          pl_readings *out, pl_cost *cost, pl_diags *d);

#endif
