/* Calibration: dial readings held against a scale or load cell become a straight
 * line with its uncertainty, and replace what the settings say of dial and force.
 *
 *     force = a + b dial,  fitted by least squares, s the residual sd on n - 2 df
 *
 * Standard uncertainty at a dial reading x (GUM, JCGM 100:2008, example H.3;
 * Seber & Lee 2003, Linear Regression Analysis, sec. 6.1):
 *   of the line   s sqrt(1/n + (x - mean)^2 / Sxx), and the reference's own: stay the
 *                 same from setting to setting
 *   of a setting  s: drawn anew each time */
#ifndef PL_RIGS_CALIBRATION_H
#define PL_RIGS_CALIBRATION_H

#include <stdbool.h>
#include <stddef.h>

#include "rigs/dial.h"

typedef struct pl_calibration {
    bool there;
    const char *date, *against; /* "2026-03-01"; "" if not said */
    size_t n;
    double a, b;           /* N, N per SI unit of the dial; b > 0 */
    double s, mean, Sxx;   /* N; dial SI; dial SI squared */
    double low, high;      /* dial range of the points, SI */
    double share, fixed_N; /* the reference's standard uncertainty: one of them, the other 0 */
} pl_calibration;

/* The newest of the rig's `calibrations` (by date; of one date the last), checked
 * against the dial. None: there is false. All faults in one run: EVALUE, EUNIT;
 * ECONFLICT: fewer than two different readings, or a force that falls with the dial. A point
 * far from the line is advice. */
pl_code pl_calibration_read(pl_arena *a, const pl_json *rig, const pl_dial *dial,
                            pl_calibration *out, pl_diags *d);

double pl_calibration_force(const pl_calibration *c, double dial);
double pl_calibration_dial(const pl_calibration *c, double force_N);
double pl_calibration_u_rig(const pl_calibration *c, double dial);
/* Beyond the points by more than a tenth of their range. */
bool pl_calibration_beyond(const pl_calibration *c, double dial);

/* Days between a calibration's date and now (seconds since 1970 UTC); NAN when
 * the date is none. */
double pl_calibration_age_days(const char *date, double now_s);

#endif
