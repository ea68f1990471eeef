/* A plugin that follows its header but for what the file that includes this does. */
#include <platen/plugin.h>
#define FAULT_PLUGIN(...)                                                          \
    static const platen_plugin plugin = { PLATEN_HEAD(PLATEN_RIG),                 \
                                          .name = FAULT_NAME,                      \
                                          .summary = "does wrong, for the tests",  \
                                          __VA_ARGS__ };                           \
    PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)                   \
    {                                                                              \
        return &plugin;                                                            \
    }
