/* A plugin that follows its header but for what the file that includes this does. */
#ifndef TESTS_FAULTS_FAULT_H
#define TESTS_FAULTS_FAULT_H

#include <platen/plugin.h>

#define FAULT_ENTRY                                              \
    PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void) \
    {                                                            \
        return &plugin;                                          \
    }
#define FAULT_PLUGIN(...)                                                                        \
    static const platen_plugin plugin = { PLATEN_HEAD(PLATEN_RIG), .name = FAULT_NAME,           \
                                          .summary = "does wrong, for the tests", __VA_ARGS__ }; \
    FAULT_ENTRY

/* A plugin that presses; set_point does the wrong before it answers. */
#define FAULT_WHEN_PRESSING(...)                                                             \
    static int set_point(const platen_host *host, const platen_value *values,                \
                         const platen_limits *limits, double force_N, platen_set_point *out) \
    {                                                                                        \
        (void)host;                                                                          \
        (void)values;                                                                        \
        (void)limits;                                                                        \
        out->force_N = force_N;                                                              \
        __VA_ARGS__;                                                                         \
        return PLATEN_OK;                                                                    \
    }                                                                                        \
    FAULT_PLUGIN(.set_point = set_point)

#define FAULT_COLUMNS                                                         \
    static const platen_column columns[] = { { "time", NULL, "s", "", 0, 0 }, \
                                             { "force", NULL, "N", "", 0, 0 } };
#define FAULT_ROWS(...)                                                               \
    FAULT_COLUMNS                                                                     \
    static int rows(const platen_host *host, const platen_value *values, void *state, \
                    const platen_rows *r)                                             \
    {                                                                                 \
        (void)host;                                                                   \
        (void)values;                                                                 \
        (void)state;                                                                  \
        if (!r->last)                                                                 \
            return PLATEN_OK;                                                         \
        __VA_ARGS__;                                                                  \
        return PLATEN_OK;                                                             \
    }

/* A plugin that reads time and force; rows does the wrong. */
#define FAULT_WHEN_READING(...) \
    FAULT_ROWS(__VA_ARGS__)     \
    FAULT_PLUGIN(PLATEN_COLUMNS(columns), .rows = rows)

/* One that does the wrong whatever it is asked: to press or to read. */
#define FAULT_ALWAYS(...)                                                                    \
    FAULT_ROWS(__VA_ARGS__)                                                                  \
    static int set_point(const platen_host *host, const platen_value *values,                \
                         const platen_limits *limits, double force_N, platen_set_point *out) \
    {                                                                                        \
        (void)host;                                                                          \
        (void)values;                                                                        \
        (void)limits;                                                                        \
        out->force_N = force_N;                                                              \
        __VA_ARGS__;                                                                         \
        return PLATEN_OK;                                                                    \
    }                                                                                        \
    FAULT_PLUGIN(.set_point = set_point, PLATEN_COLUMNS(columns), .rows = rows)

#endif
