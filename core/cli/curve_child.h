/* Curves of plugins: a fit that names one goes to a child as a whole, and its answer is checked
 * when it comes back. */
#ifndef PL_CLI_CURVE_CHILD_H
#define PL_CLI_CURVE_CHILD_H

#include "cli/verb.h"
#include "fit/plateau.h"
#include "rigs/rigs.h"

/* As pl_fit_curves, where a curve may also be a plugin's: then all of it is done in that
 * plugin's child. EUSAGE: curves of two plugins at once; EPLUGIN. */
pl_code pl_curves_fit(pl_run *run, const pl_table *t, const pl_curve_spec *spec, pl_plateau **out,
                      size_t *nout);

/* What the child needs for it; main hands it over. */
extern const pl_rig_services pl_curve_services;

#endif
