/* Pages made from the verbs' own tables: help, the manual page, completion. */
#ifndef PL_CLI_HELP_PAGE_H
#define PL_CLI_HELP_PAGE_H

#include "cli/verb.h"

/* Options that every verb has; ends with {0}. */
enum { PL_KEY_BOOK = 0x7001, PL_KEY_JSON, PL_KEY_HELP, PL_KEY_PLUGIN };
extern const struct argp_option pl_common_options[];

void pl_print_help(const pl_verb *verb, pl_text *out);
void pl_print_verbs(pl_text *out);

/* For man(1), roff with the man macros. */
void pl_print_man(pl_text *out);
/* For a shell to read: verbs, parts, options; files for everything else. */
void pl_print_bash(pl_text *out);
void pl_print_zsh(pl_text *out);
void pl_print_fish(pl_text *out);

#endif
