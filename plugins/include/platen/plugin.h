/* SPDX-License-Identifier: 0BSD
 *
 * Permission to use, copy, modify, and/or distribute this file for any purpose
 * with or without fee is hereby granted. It comes without any warranty.
 *
 * platen/plugin.h: the one header a plugin needs. Plain C, the two standard
 * headers below and nothing else; compiles as C++ too.
 *
 * A plugin is one shared object, NAME.so, with one exported symbol,
 * platen_plugin_entry. It has one of two roles:
 *
 *   rig    a kind of machine that presses joints, breaks them, or records what
 *          happened. NAME is what a rig file writes as its "kind".
 *   curve  a curve that a fit may use, linear once its shape numbers are fixed.
 *
 * 1  WHERE IT RUNS. Only ever in a child process of the host, behind a filter:
 *    it may compute, allocate, and open files for reading. Starting processes
 *    or threads, sockets, signals to others, and writing, removing, renaming or
 *    cutting files end the child at once. Standard output and error lead
 *    nowhere. CPU time, wall time, memory and descriptors are limited. A plugin
 *    never needs exit, signal handlers, or global state that changes.
 *
 * 2  WHO CALLS WHEN. One thread; one call at a time. platen_plugin_entry is
 *    called once, after the constructors of the shared object, and what it
 *    returns is read at once and must stay unchanged until the process ends
 *    (static const data does). Each member below says when it is called.
 *
 * 3  WHO OWNS WHAT. What the host hands to a call (settings, limits, rows,
 *    texts) is lent: valid until that call returns, not to be changed or kept.
 *    What a call fills (`out`) belongs to the host and is zeroed before the
 *    call. What host->alloc gave, and `state`, belong to the host.
 *
 * 4  UNITS. Every number is in SI. A unit that a plugin declares is one of
 *    m, m2, m/s, s, kg, kg/m2, kg/m3, N, N/s, N.m, Pa, Pa/s, K, V, A, or "1" for a
 *    plain number (a fraction, never percent), spelled so. The host reads the
 *    shop's units, converts, checks ranges, and speaks in the shop's units. A
 *    plugin never reads text that a person wrote. Texts are UTF-8 and end with NUL.
 *
 * 5  WHO CHECKS. The host checks the plugin at loading, all faults in one
 *    report: every rule below that speaks of what is declared. It checks every
 *    answer: finite, in range, counted. One that breaks a rule is a failure of the
 *    plugin: nothing that it gave in this visit is taken, and the finding names
 *    plugin and file. The plugin may trust what it is handed: a setting lies in
 *    its declared range, a choice is one of its choices, a column holds finite
 *    numbers, no pointer is NULL unless that is said.
 *    `platen rig try` asks what a bench may ask, and more.
 *
 * 6  VERSIONS. abi and size stand first in platen_plugin and never move.
 *    abi    must equal the host's PLATEN_ABI; it is raised when any meaning
 *           changes, or a member other than a new last one does.
 *    size   sizeof(platen_plugin) as the plugin was compiled. New members are
 *           added at its end only: a smaller struct than the host's loads, its
 *           missing members read as NULL or 0; a larger one is refused, since
 *           it was built for a newer host.
 *    platen_host also grows at its end only and says its own size; whenever it
 *    does, platen_plugin grows too. A plugin therefore never meets a host that
 *    lacks a service of the header it was compiled with.
 *    Structs that stand in arrays never change within one abi; their size as
 *    compiled is given beside the array (setting_size, column_size) and must
 *    equal the host's. */
#ifndef PLATEN_PLUGIN_H
#define PLATEN_PLUGIN_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define PLATEN_ABI 1u

#if defined(__GNUC__)
#define PLATEN_EXPORT __attribute__((visibility("default")))
#else
#define PLATEN_EXPORT
#endif

/* platen_plugin.role */
#define PLATEN_RIG 1u
#define PLATEN_CURVE 2u

/* What calls return. Any other value is a failure of the plugin. */
#define PLATEN_OK 0
#define PLATEN_ERANGE 1 /* set_point, back: not with this rig; out->reason says why */
#define PLATEN_EDATA 2  /* rows, bytes: the record is of no use; a note has said why */
#define PLATEN_ESTOP 3  /* rows, bytes: a host service asked to stop, passed on */

/* ---- settings -------------------------------------------------------------- */

/* platen_setting.kind, what a rig file may write, and where the value arrives. */
#define PLATEN_NUMBER 1u /* "63 mm", 10, "15 %"           value.number, SI */
#define PLATEN_CHOICE                                                                             \
    2u                    /* "push"                        value.number: place in choices, from 0 \
                           */
#define PLATEN_FLAG 3u    /* true                          value.number: 0 or 1 */
#define PLATEN_NUMBERS 4u /* ["1 mm", "2 mm"]              value.list: count numbers */
#define PLATEN_PAIRS 5u   /* [["5 kg", 2], ["1 kg", 1]]    value.list: first, second, first, ... */

/* platen_setting.flags */
#define PLATEN_REQUIRED 1u /* a rig file without it is refused; `preset` is not read */
#define PLATEN_WHOLE 2u    /* number: whole numbers only; pairs: the second is whole */

#define PLATEN_LIST_MOST 64u /* entries of a list or pairs in a host of this abi, at most */

/* One setting of a rig file. Everything is static data of the plugin; read at loading, by every
 * visit of its own. All of it is checked then. */
typedef struct platen_setting {
    const char *name;           /* a-z 0-9 _, starts with a letter, at most 31 bytes; unique */
    const char *help;           /* one line, for the shop, 1 to 299 bytes */
    const char *unit;           /* SI unit of the number, or of the first of a pair; "1" for a
                                   plain number; NULL for choice and flag */
    const char *unit2;          /* pairs: SI unit of the second; else NULL */
    const char *const *choices; /* choice: 1 to 16 words, ends with NULL; else NULL */
    uint32_t kind, flags;       /* as above; all other bits of flags are 0 */
    double low, high;           /* lowest and highest value allowed, both included; low < high.
                                   Not read for choice and flag */
    double low2, high2;         /* pairs: the same for the second */
    double preset; /* the value when a rig file leaves it out: number in SI, in its range;
                      place of a choice; 0 or 1. Equal to high: told as "no limit". Not read
                      for lists: one that is left out is empty */
} platen_setting;

/* One value, in the order of the declared settings: nsettings of them are lent to each call. */
typedef struct platen_value {
    double number;      /* number (SI), choice, flag; 0 for lists */
    const double *list; /* numbers: count values; pairs: 2 * count values; SI; else NULL, as for a
                           list that was left out */
    uint32_t count;     /* entries in list, 0 to PLATEN_LIST_MOST */
    uint32_t given;     /* 1: the rig file has it; 0: preset in use */
} platen_value;

/* ---- host services --------------------------------------------------------- */

/* platen_host.note */
#define PLATEN_NOTE 0   /* good to know */
#define PLATEN_ADVICE 1 /* doubtful; the work goes on, and whoever takes a file is asked */
#define PLATEN_REFUSED \
    2 /* wrong; nothing of this file or set point is taken. So is any other level */

/* platen_host.show: whose unit. 0, 1, ... are the places of the settings. */
#define PLATEN_AS_DIAL (-1)
#define PLATEN_AS_FORCE (-2)

/* One quantity that a record gave; copied, checked when the visit is over. Each quantity of a
 * specimen once a file, and at most 4096 readings. */
typedef struct platen_reading {
    const char *specimen; /* its id as the record writes it, 1 to 64 bytes; NULL: the one this
                             file is about. The host looks it up in the plan */
    const char *quantity; /* "peak" (N), "first_drop" (N), "time_to_peak" (s), "rate" (N/s), or
                             another: a-z 0-9 _, at most 31 bytes */
    const char *unit;     /* SI unit of value; "1" for a plain number */
    double value;         /* SI, finite; times and peaks not negative */
    uint64_t line;        /* of the record, from 1; 0: of no one line */
} platen_reading;

/* Lent for one call: services may be called from within a call that was handed it, on the same
 * thread, and not afterwards. Texts handed in are copied before the service returns; none may be
 * NULL unless that is said. Services that a call may not use are NULL. */
typedef struct platen_host {
    uint32_t size; /* sizeof(platen_host) in this host */
    uint32_t abi;  /* PLATEN_ABI of this host */
    void *self;    /* first argument of every service; opaque */

    /* n zeroed bytes, aligned for any type, given back by the host when the call
     * that asked returns; what must last from batch to batch goes into `state`.
     * NULL: no memory left (there are some 200 MiB). Never to be freed. */
    void *(*alloc)(void *self, size_t n);

    /* A line for the person at the bench, lower case, no full stop; cut after 200
     * bytes; control characters become '?'. The host adds plugin and file. At most
     * 100 a visit, the rest is dropped. text NULL: nothing happens. */
    void (*note)(void *self, int level, const char *text);

    /* x (SI) as the shop writes it, for reasons and mends: "12.4 bar". as: the
     * place of a setting (its unit as written in the rig file), PLATEN_AS_DIAL or
     * PLATEN_AS_FORCE. Never NULL; "unknown" for what cannot be shown so. The text is
     * valid until the call that asked returns. */
    const char *(*show)(void *self, int as, double x);

    /* rows and bytes only. Takes one reading. Non-zero: return PLATEN_ESTOP. */
    int (*reading)(void *self, const platen_reading *r);

    /* rows and bytes only. Hands over n samples of a record of force over time,
     * in the record's order; call it as often as there are batches. At the end
     * of the file the host works out, per specimen, tare, peak, time to peak,
     * first drop and loading rate, takes them as readings, and says what is
     * doubtful: clipping, spikes, slow sampling, time running backwards, a record
     * that ends before the break, samples that are missing. A record that held (it ends
     * at its peak, or never falls by a fifth) also gives the mode not-broken. A kind with
     * the number settings "rate_from" and "rate_to" (N/s) has the loading rate held
     * against them. Several loads under no name are refused, unless a line "Specimens:
     * A, B" above the table names them. first_line: line of the first sample (the
     * others follow line by line), 0 if unknown. specimen: as in platen_reading; at
     * most 256 in a file. time_s and force_N: n each, SI, finite, read at once; force
     * positive in the direction of breaking. n 0: nothing happens. Non-zero: return
     * PLATEN_ESTOP. */
    int (*trace)(void *self, const char *specimen, const double *time_s, const double *force_N,
                 size_t n, uint64_t first_line);

    /* rows only. What the block of words above the table says under a key, whatever the
     * case: said(self, "crosshead speed [mm/min]") is "5" where the file has a line
     * "Crosshead speed [mm/min];5" or "Crosshead speed [mm/min]: 5". UTF-8, as it stands
     * there; NULL: no such line. The text is valid until the file ends. */
    const char *(*said)(void *self, const char *key);
} platen_host;

/* ---- pressing -------------------------------------------------------------- */

/* What the rig file's rated limit and dial allow; HUGE_VAL where nothing is stated. For reasons
 * and mends: the host keeps to the limits whatever the plugin answers. */
typedef struct platen_limits {
    double most_dial;    /* highest dial reading, SI: end of the dial or rated limit */
    double most_force_N; /* rated limit when it is a force */
    double mark;         /* SI distance between two marks of the dial; 0: not stated */
} platen_limits;

/* Pieces to put on: `count` (1 to a million) times `value` (SI, finite), spoken in the unit of
 * setting number `setting` (below nsettings): {5.0, 2, WEIGHTS} is "5 kg x 2". */
typedef struct platen_part {
    double value;
    uint32_t count, setting;
} platen_part;

#define PLATEN_PARTS_MOST 64
#define PLATEN_TEXT_MOST 200 /* with its NUL */

/* Filled by set_point. Zeroed before, but dial, which is NAN.
 *
 * dial       SI reading that gives the force, finite, >= 0; not rounded: the host rounds to what
 * the dial can show and asks `back` what that gives. NAN for a rig without a dial. force_N    force
 * that is really given. Without a dial only; > 0. u_rig_N    standard uncertainty (GUM) of force_N
 * that stays the same from setting to setting (area, friction, lever), >= 0. A limit of error +-a,
 * nothing more known, counts as rectangular: a / sqrt 3. Without a dial only. The host adds the
 * error of the dial itself (class and marks). u_each_N   the part that is drawn anew at every
 * setting, >= 0. Without a dial only. parts      pieces to stack; nparts 0 if none,
 * PLATEN_PARTS_MOST at most reason     with PLATEN_ERANGE: why not ("needs 12.4 bar; the supply
 * gives 8 bar") mend       with PLATEN_ERANGE: the smallest change that would do ("a bore of 80
 * mm") */
typedef struct platen_set_point {
    double dial;
    double force_N, u_rig_N, u_each_N;
    uint32_t nparts;
    platen_part parts[PLATEN_PARTS_MOST];
    char reason[PLATEN_TEXT_MOST], mend[PLATEN_TEXT_MOST];
} platen_set_point;

/* Filled by back, zeroed before: force_N finite (above 0 where a set point led there), the others
 * as above; reason with PLATEN_ERANGE. */
typedef struct platen_force {
    double force_N, u_rig_N, u_each_N;
    char reason[PLATEN_TEXT_MOST];
} platen_force;

/* ---- reading --------------------------------------------------------------- */

/* platen_column.flags */
#define PLATEN_OPTIONAL 1u /* may be absent: its pointer in platen_rows is then NULL */
#define PLATEN_WORDS 2u    /* holds words, not numbers; unit is NULL */

/* A wanted column. The host finds it by name, whatever the case, and converts the unit in the
 * header's brackets ("force [kN]"). Static data; checked at loading. */
typedef struct platen_column {
    const char *name;         /* "force": a-z 0-9 _, starts with a letter, at most 31 bytes */
    const char *const *also;  /* other names, ends with NULL; or NULL. No two columns share one */
    const char *unit;         /* SI unit; "1" for a plain number; NULL for words */
    const char *help;         /* one line for whoever reads the source; may be NULL */
    uint32_t flags, reserved; /* as above, all other bits 0; reserved is 0 */
} platen_column;

/* Some rows of a file, column by column, in the order of the declared columns. */
typedef struct platen_rows {
    size_t n;                        /* rows in this batch, up to a few thousand */
    const double *const *numbers;    /* numbers[column][row], SI, finite; numbers[column] is NULL
                                        for words and for a column that is absent */
    const char *const *const *words; /* words[column][row], UTF-8, maybe ""; words[column] is NULL
                                        for numbers and for a column that is absent */
    const uint64_t *lines;           /* n lines of the rows in the file, from 1 */
    int last;                        /* 1 with the last batch, which may be empty (n 0) */
} platen_rows;

/* ---- the plugin ------------------------------------------------------------ */

/* platen_plugin.curve_flags */
#define PLATEN_RISES 1u
#define PLATEN_LOG 2u
/* PLATEN_RISES  nlinear is 2, a floor and a top; the columns are 1 - g and g, and g never falls
 *               as u grows; no offset. Then the onset of the plateau has its interval.
 * PLATEN_LOG    may also run in ln(x / lowest level above zero) */

typedef struct platen_plugin {
    uint32_t abi;                     /* PLATEN_ABI */
    uint32_t size;                    /* sizeof(platen_plugin) */
    uint32_t role;                    /* PLATEN_RIG or PLATEN_CURVE */
    uint32_t nsettings, setting_size; /* sizeof(platen_setting); a curve has none */
    uint32_t ncolumns, column_size;   /* sizeof(platen_column) */
    uint32_t curve_flags;
    const char *name;               /* a-z 0-9 and hyphen, at most 64 bytes; as the file: NAME.so */
    const char *summary;            /* one line, 1 to 299 bytes */
    const platen_setting *settings; /* nsettings, at most 64 */

    /* -- rig: at least one of set_point, back, rows, bytes -- */

    /* SI unit of what is set or read on the rig's dial ("Pa", "N", "N.m"); NULL:
     * no dial. With a dial, set_point needs back. */
    const char *dial;

    /* Pressing. Called once a level and rig; pure: the same answer whenever it is
     * asked. force_N > 0. Returns PLATEN_OK or PLATEN_ERANGE. A larger force never
     * has a smaller dial reading. May be NULL: the rig does not press. */
    int (*set_point)(const platen_host *host, const platen_value *settings,
                     const platen_limits *limits, double force_N, platen_set_point *out);

    /* The way back. dial: SI, finite, not negative. Pure. PLATEN_OK or
     * PLATEN_ERANGE. back(set_point(F).dial) is F. NULL: no dial. */
    int (*back)(const platen_host *host, const platen_value *settings, double dial,
                platen_force *out);

    /* Reading. state: state_size zeroed bytes (at most 1 MiB) that live as long as
     * one file is read; NULL if state_size is 0. */
    size_t state_size;
    const platen_column *columns; /* ncolumns, at most 32; needed by rows */

    /* Rows of a table, batch by batch, in the file's order, until the last or until it returns
     * anything but PLATEN_OK. Returns PLATEN_OK, PLATEN_EDATA after a note of PLATEN_REFUSED, or
     * PLATEN_ESTOP. What it gave before a file was refused is not taken. May be NULL. */
    int (*rows)(const platen_host *host, const platen_value *settings, void *state,
                const platen_rows *rows);

    /* A file that is no table, as it lies there, in pieces of at most 64 KiB, cut anywhere; n 0
     * with last. Returns as rows. Called only when rows is NULL. May be NULL. */
    int (*bytes)(const platen_host *host, const platen_value *settings, void *state,
                 const unsigned char *bytes, size_t n, int last);

    /* -- curve: a mean that is linear once its shape numbers are fixed,
     *
     *        m(u) = offset(u) + sum of parameter[j] * column[j](u; shape)
     *
     *    All but offset and the limit names are required; gradient and range only
     *    if nshape is not 0. No host service, no settings, no state: pure, the same
     *    answer bit for bit whenever it is asked. Called very often and only while a
     *    fit is worked out. Every call returns PLATEN_OK, or PLATEN_ERANGE where the
     *    curve is not defined for these shape numbers: the search then looks
     *    elsewhere. With PLATEN_OK every number in out is finite; the host checks.
     *
     *    u      n >= 1 points, finite, in no order: x as the table has it (in its own
     *           unit: a curve must not know units) or, with PLATEN_LOG and where log x
     *           is asked for, ln(x / lowest x above zero)
     *    shape  nshape numbers, finite, within what curve_range said -- */
    uint32_t nlinear, nshape;        /* 0 to 4 and 0 to 3; 0 columns: only with shape numbers, an
                                        offset and its gradient; columns and gradient then write
                                        nothing */
    const char *const *linear_names; /* nlinear: "floor", "top"; a-z 0-9 _, at most 31 bytes */
    const char *const *shape_names;  /* nshape: "rate"; all names differ */

    /* out: n x nlinear, row by row. */
    int (*curve_columns)(const double *u, size_t n, const double *shape, double *out);

    /* out: n x nlinear, row by row: d columns / d shape[k], k from 0; at a jump the mean of
     * both sides. The last digits of a fit and its standard errors come from here. */
    int (*curve_gradient)(const double *u, size_t n, const double *shape, size_t k, double *out);

    /* out: n fixed addends, and d addends / d shape[k]. May be NULL: no addends; addends that
     * do not depend on shape. */
    int (*curve_offset)(const double *u, size_t n, const double *shape, double *out);
    int (*curve_offset_gradient)(const double *u, size_t n, const double *shape, size_t k,
                                 double *out);

    /* Where to look: low[k] < high[k], finite, for data at these n >= 2 distinct u, rising.
     * A range whose low is above zero is looked through by ratios, any other evenly. Beyond
     * either end the curve has become its limit, a line or a step; an optimum at an end is an
     * ordinary answer. Called once a fit. */
    int (*curve_range)(const double *u, size_t n, double *low, double *high);
    const char *limit_low, *limit_high; /* what it then is at an end of shape[0]: "step", "line";
                                           NULL: no name */

    /* New members go here. */
} platen_plugin;

/* ---- shorthand for C ------------------------------------------------------- */

/* A number setting that may be left out; all values in SI. */
#define PLATEN_A_NUMBER(name, help, unit, low, high, preset)                    \
    {                                                                           \
        name, help, unit, NULL, NULL, PLATEN_NUMBER, 0, low, high, 0, 0, preset \
    }
/* In the initialiser of a platen_plugin: what stands first, and whole arrays. */
#define PLATEN_HEAD(its_role) .abi = PLATEN_ABI, .size = sizeof(platen_plugin), .role = (its_role)
#define PLATEN_SETTINGS(array)                                          \
    .settings = (array), .nsettings = sizeof(array) / sizeof(array)[0], \
    .setting_size = sizeof(platen_setting)
#define PLATEN_COLUMNS(array)                                         \
    .columns = (array), .ncolumns = sizeof(array) / sizeof(array)[0], \
    .column_size = sizeof(platen_column)

/* The one exported symbol. */
PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void);

#ifdef __cplusplus
}
#endif

#endif
