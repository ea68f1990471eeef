/* The questions of platen ask, one after the other: what each asks, offers and
 * changes. How they are put and answered is ask.c's. */
#ifndef PL_CLI_ASK_H
#define PL_CLI_ASK_H

#include "cli/ask_draft.h"

typedef struct pl_asking {
    pl_arena *a;
    const pl_study *study; /* the file so far; always whole */
    const char *like;      /* the file it began from; NULL: one of our own */
    size_t level;          /* which factor's levels are asked for */
} pl_asking;

typedef struct pl_question_asked {
    const char *key;                     /* in the JSON answer */
    const char *words;                   /* each_factor: up to the factor's name */
    bool (*asked)(const pl_asking *k);   /* NULL: always */
    char *(*preset)(const pl_asking *k); /* what an empty answer stands for; NULL: left as it is */
    void (*put)(const pl_asking *k, pl_draft *d, char *answer); /* a wrong form is a fault of d */
    bool each_factor;                    /* asked once for each factor that is not the wood */
    bool (*missing)(const pl_asking *k); /* then an empty answer puts the preset; NULL: never */
} pl_question_asked;

extern const pl_question_asked pl_questions[];
extern const size_t pl_nquestions;

/* The study that an aim begins with, as JSON: "plateau" or "difference", or 1 or 2; NULL. */
char *pl_ask_begin(pl_arena *a, const char *aim);

#endif
