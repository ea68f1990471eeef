/* The woods of datasets/species/species.csv, compiled in so that check needs no
 * file; tests/study/test_species.c holds the two together. */
#include "study/species.h"

#include <ctype.h>
#include <string.h>
#include <strings.h>

/* Sources as in datasets/species/README.md; "memory": unconfirmed. */
const pl_species pl_species_table[] = {
    { "ash, white", 1910, 1160, true, "FPLT" },
    { "aspen, quaking", 850, 370, true, "FPLT" },
    { "basswood", 990, 370, true, "FPLT" },
    { "beech, American", 2010, 1010, true, "FPLT" },
    { "birch, yellow", 1880, 970, true, "FPLT" },
    { "birch, sweet", 2240, 1080, true, "FPLT" },
    { "cherry, black", 1700, 690, true, "FPLT" },
    { "elm, American", 1510, 690, true, "FPLT" },
    { "hickory, shagbark", 2430, 1760, true, "FPLT" },
    { "locust, black", 2480, 1830, true, "FPLT" },
    { "maple, bigleaf", 1730, 750, true, "FPLT" },
    { "pine, ponderosa", 1130, 580, true, "WH5" },
    { "pine, slash", 1680, 1020, true, "WH5" },
    { "pine, western white", 1040, 460, true, "WH5" },
    { "maple, sugar", 2330, 1470, false, "memory" },
    { "oak, northern red", 1780, 1010, false, "memory" },
    { "oak, white", 2000, 1070, false, "memory" },
    { "walnut, black", 1370, 1010, false, "memory" },
    { "yellow-poplar", 1190, 500, false, "memory" },
    { "Douglas-fir, coast", 1130, 800, false, "memory" },
    { "spruce, Sitka", 1150, 580, false, "memory" },
    { "beech, European", 2200, 1300, false, "memory" },
    { "larch, European", 1600, 900, false, "memory" },
};
const size_t pl_species_count = sizeof pl_species_table / sizeof *pl_species_table;

static bool in_word(char c)
{
    return isalnum((unsigned char)c) || c == '-' || (unsigned char)c >= 0x80;
}

/* Some word of name is these n letters. */
static bool has_word(const char *name, const char *word, size_t n)
{
    while (*name) {
        size_t m = 0;

        while (*name && !in_word(*name))
            name++;
        while (in_word(name[m]))
            m++;
        if (m == n && n && !strncasecmp(name, word, n))
            return true;
        name += m;
    }
    return false;
}

static bool all_words_in(const char *typed, const char *name)
{
    bool any = false;

    while (*typed) {
        size_t n = 0;

        while (*typed && !in_word(*typed))
            typed++;
        while (in_word(typed[n]))
            n++;
        if (n && !has_word(name, typed, n))
            return false;
        any = any || n;
        typed += n;
    }
    return any;
}

const pl_species *pl_species_find(const char *typed, size_t from)
{
    for (size_t i = from; i < pl_species_count; i++)
        if (all_words_in(typed, pl_species_table[i].name))
            return &pl_species_table[i];
    return NULL;
}
