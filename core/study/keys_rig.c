/* The key table of a rig file. What a kind of rig wants to know besides is
 * declared by its plugin. */
#include "study/keys_table.h"

static const char *const pointers[] = { "plain", "drag", NULL };

static const pl_key dial_keys[] = {
    { .name = "unit",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      AT(pl_raw_rig, dial.unit),
      .help = "what the dial shows: \"bar\"" },
    { .name = "to",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      AT(pl_raw_rig, dial.to),
      .help = "end of the dial: \"10 bar\"" },
    { .name = "class",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      AT(pl_raw_rig, dial.class_of),
      .help =
          "limit of error as a share of the end of the dial: \"1.6 %\" (EN 837-1), or \"2-1-2 %\" "
          "for lower quarter, middle half, upper quarter (ASME B40.100)" },
    { .name = "marks",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      AT(pl_raw_rig, dial.marks),
      .help = "step between two marks: \"0.2 bar\"" },
    { .name = "pointer",
      .is = PL_IS_CHOICE,
      .choices = pointers,
      AT(pl_raw_rig, dial.pointer),
      .otherwise = "plain",
      .help = "drag: a second pointer stays at the highest reading" },
};
SHARED(pl_keys_dial, "rig: dial", pl_raw_rig, "The gauge on the rig.", dial_keys);

static const pl_key point_keys[] = {
    { .name = "dial",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      .required = true,
      AT(pl_raw_point, dial),
      .help = "what the dial showed: \"2 bar\"" },
    { .name = "force",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      .required = true,
      AT(pl_raw_point, force),
      .help = "what the scale or load cell showed: \"590 N\"" },
};
SHARED(pl_keys_point, "rig: calibrations: points", pl_raw_point,
       "One reading of dial and force together.", point_keys);

static const pl_key calibration_keys[] = {
    { .name = "date",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      .required = true,
      AT(pl_raw_calibration, date),
      .help = "when: \"2026-03-01\"" },
    { .name = "against",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      AT(pl_raw_calibration, against),
      .otherwise = "not said",
      .help = "the scale or load cell it was held against" },
    { .name = "against_uncertainty",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      AT(pl_raw_calibration, against_uncertainty),
      .otherwise = "none",
      .help = "its standard uncertainty, as a share or a force: \"0.5 %\", \"10 N\"" },
    { .name = "points",
      .is = PL_IS_OBJECTS,
      .of = &pl_keys_point,
      .low = 3,
      .high = 200,
      .required = true,
      LIST(pl_raw_calibration, points, npoint),
      .help = "readings over the range in use, each approached from below" },
};
SHARED(pl_keys_calibration, "rig: calibrations", pl_raw_calibration,
       "Points against a scale or load cell; the newest counts.", calibration_keys);

static const pl_key rig_keys[] = {
    { .name = "name",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      .required = true,
      AT(pl_raw_rig, name),
      .help = "what the shop calls this machine" },
    { .name = "kind",
      .is = PL_IS_NAME,
      .required = true,
      AT(pl_raw_rig, kind),
      .help = "name of the plugin that knows such machines" },
    { .name = "settings",
      .is = PL_IS_OPEN,
      .otherwise = "the plugin's defaults",
      .help = "what the plugin declares: `platen rig show KIND`" },
    { .name = "rated",
      .is = PL_IS_TEXT,
      .high = PL_WORD_MOST,
      AT(pl_raw_rig, rated),
      .otherwise = "not known",
      .help = "the limit that is never passed: \"10 bar\", \"5 kN\"" },
    { .name = "dial", .is = PL_IS_OBJECT, .of = &pl_keys_dial, .help = "the gauge on it" },
    { .name = "calibrations",
      .is = PL_IS_OBJECTS,
      .of = &pl_keys_calibration,
      .high = 50,
      LIST(pl_raw_rig, calibrations, ncalibration),
      .otherwise = "none: force is worked out from the settings",
      .help = "the newest replaces what the settings say of dial and force" },
};
const pl_object pl_keys_rig = { .title = "rig",
                                .help = "One machine of the shop: a rig file, or "
                                        "written out in `rigs`.",
                                .size = sizeof(pl_raw_rig),
                                .keys = rig_keys,
                                .nkey = sizeof rig_keys / sizeof *rig_keys };
