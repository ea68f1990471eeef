/* Result codes: one list makes the enum, the texts and the exit status. */
#ifndef PL_BASE_CODE_H
#define PL_BASE_CODE_H

/* X(name, exit status, text). Exit status as in docs/exit-codes.md:
 * 0 done; 1 the study or data cannot support what was asked; 2 wrong usage;
 * 3 bad input file; 4 a plugin failed; 5 book or file could not be written. */
#define PL_CODE_LIST(X)                                              \
    X(OK, 0, "done")                                                 \
    X(ENOMEM, 5, "out of memory, or over this run's memory budget")  \
    X(EUSAGE, 2, "wrong usage")                                      \
    X(ENOFILE, 3, "a file cannot be read")                           \
    X(ESYNTAX, 3, "a file does not follow its format")               \
    X(EKEY, 3, "a key is unknown, doubled or missing")               \
    X(EVALUE, 3, "a value is of the wrong kind or out of range")     \
    X(EUNIT, 3, "a unit is missing, unknown or of another quantity") \
    X(ECONFLICT, 3, "two statements contradict each other")          \
    X(EUNFIT, 1, "the study cannot be carried out as stated")        \
    X(EDATA, 1, "the data cannot support what was asked")            \
    X(ERANK, 1, "columns of the model depend on each other")         \
    X(EDOM, 1, "a number lies outside what a formula allows")        \
    X(EPREC, 1, "a number is not as precise as promised")            \
    X(ERANGE, 1, "a rig cannot make what was asked")                 \
    X(EPLUGIN, 4, "a plugin failed")                                 \
    X(EBOOK, 5, "the book could not be read or written")             \
    X(EWRITE, 5, "a file could not be written")

typedef enum pl_code {
#define PL_CODE_ENUM(name, status, text) PL_##name,
    PL_CODE_LIST(PL_CODE_ENUM)
#undef PL_CODE_ENUM
        PL_NCODES
} pl_code;

/* "EUNIT" and "a unit is missing, ..."; static strings. */
const char *pl_code_name(pl_code code);
const char *pl_code_text(pl_code code);

/* Exit status of a verb that ended with this code, 0 to 5. */
int pl_code_exit(pl_code code);

#endif
