/* Units of the trade. udunits2 is used here and nowhere else; it is loaded on
 * first use, on the main thread only, with its own messages silenced.
 *
 * Inside there is one unit a quantity, the SI one: m, m2, N, Pa, s, kg, K,
 * kg/m2, N.m, Pa/s, N/s, 1. Units turn into SI once, at the edge, offsets
 * included (degC). */
#ifndef PL_BASE_UNITS_H
#define PL_BASE_UNITS_H

#include "base/arena.h"
#include "base/diag.h"

typedef enum pl_quantity_kind {
    PL_Q_NONE,        /* pure number; "%" allowed */
    PL_Q_LENGTH,      /* m */
    PL_Q_AREA,        /* m2 */
    PL_Q_FORCE,       /* N; lbf, kgf, kN; a mass unit is refused, with advice */
    PL_Q_PRESSURE,    /* Pa; N/mm2, MPa, psi, psig, bar, bar gauge, kgf/cm2 */
    PL_Q_TIME,        /* s; min, h, d */
    PL_Q_MASS,        /* kg; g, lb, oz */
    PL_Q_TEMPERATURE, /* K; degC, degF with their offsets */
    PL_Q_SPREAD,      /* kg/m2; g/m2, lb/1000 ft2 */
    PL_Q_TORQUE,      /* N.m; N.m, ft.lbf, in.lbf */
    PL_Q_VOLTAGE,
    PL_Q_CURRENT,
    PL_Q_DENSITY,
    PL_Q_FORCE_RATE,
    PL_Q_PRESSURE_RATE,
    PL_Q_SPEED,
    PL_Q_COUNT
} pl_quantity_kind;

const char *pl_quantity_name(pl_quantity_kind k);     /* "a length", "a pressure" */
const char *pl_quantity_si(pl_quantity_kind k);       /* "m", "Pa" */
const char *pl_quantity_examples(pl_quantity_kind k); /* "mm, cm, in" */
const char *pl_quantity_trade(pl_quantity_kind k);    /* "mm", "bar": what a shop says */

typedef struct pl_dim { /* a dimensioned value */
    double si;          /* in the SI unit of its kind */
    const char *unit;   /* as the user wrote it: "N/mm2" */
    const char *text;   /* "0.7 N/mm2" */
} pl_dim;

/* Every unit that is understood for a kind, one spelling each, as the docs list
 * them; ends with NULL. Beside these: superscripts (mm²), "mm^2", "°C",
 * "deg C", "µm", blanks within ("N / mm2"), and a few spelled-out words.
 * Gauge pressures (psig, bar gauge) share the scale of psi and bar. */
const char *const *pl_units_known(pl_arena *a, pl_quantity_kind kind); /* NULL: no memory */

/* "0.7 N/mm2" -> pl_dim. Number and unit are split here; the unit must be in
 * the allow-list of its quantity. On failure *why (in the arena) says what is
 * wrong in our words, for the caller's finding, and the code is PL_EUNIT or
 * PL_EVALUE; PL_ENOFILE when udunits2's own table cannot be read; PL_ENOMEM.
 * No diags: the caller knows the place. A decimal comma, grouped digits and
 * fractions are refused with advice. Factors are exact where the unit is
 * defined exactly: BIPM SI Brochure, 9th ed. (2019); NIST SP 811 (2008),
 * appendix B. Checked in tests/base/test_units.c. */
pl_code pl_units_read(pl_arena *a, const char *text, pl_quantity_kind kind, pl_dim *out,
                      const char **why);

/* si = scale * x + offset for a unit alone: "kN". Same codes. */
pl_code pl_units_scale(pl_arena *a, const char *unit, pl_quantity_kind kind, double *scale,
                       double *offset, const char **why);

/* Kind that a unit text belongs to; PL_Q_COUNT when none. */
pl_quantity_kind pl_units_kind(pl_arena *a, const char *unit);

/* x in SI as text in a unit of its kind: (700000, PRESSURE, "N/mm2", 3) ->
 * "0.7 N/mm2". The unit must have come through this module. */
char *pl_units_text(pl_arena *a, double si, pl_quantity_kind kind, const char *unit, int digits);
double pl_units_from_si(double si, pl_quantity_kind kind, const char *unit);

/* A chance: "1 in 10", "10 %" or "0.1" -> 0.1, in (0, 1). */
pl_code pl_units_chance(pl_arena *a, const char *text, double *out, const char **why);

#endif
