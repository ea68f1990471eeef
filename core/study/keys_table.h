/* Writing key tables: for keys*.c only. */
#ifndef PL_STUDY_KEYS_TABLE_H
#define PL_STUDY_KEYS_TABLE_H

#include <stddef.h>

#include "study/keys.h"

#define AT(type, member) .at = offsetof(type, member)
#define LIST(type, items, n) .at = offsetof(type, items), .count_at = offsetof(type, n)
#define SHARED(var, name, type, words, list)      \
    const pl_object var = { .title = (name),      \
                            .help = (words),      \
                            .size = sizeof(type), \
                            .keys = (list),       \
                            .nkey = sizeof(list) / sizeof((list)[0]) }
#define OBJECT(var, name, type, words, list) static SHARED(var, name, type, words, list)

#define LENGTH .is = PL_IS_DIM, .quantity = PL_Q_LENGTH

extern const char *const pl_keys_scales[];
extern const pl_object pl_keys_question, pl_keys_guess, pl_keys_response, pl_keys_factor;
extern const pl_object pl_keys_arrangement, pl_keys_generator, pl_keys_reference_joint;
extern const pl_object pl_keys_bridging, pl_keys_model, pl_keys_curve;
extern const pl_object pl_keys_dial, pl_keys_calibration, pl_keys_point; /* a rig's */
/* of the shop */
extern const pl_object pl_keys_cutting, pl_keys_adhesive, pl_keys_press, pl_keys_breaking;
extern const pl_object pl_keys_cure, pl_keys_times;

#endif
