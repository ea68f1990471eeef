/* What an aim of size does of its own. Each is a const struct of functions in a file of its
 * own; size.c turns it into a table and a number. Not for other rooms. */
#ifndef PL_SIZE_AIM_H
#define PL_SIZE_AIM_H

#include "base/text.h"
#include "size/size.h"

typedef struct pl_size_aim {
    /* Findings of its own members; the common ones are size.c's. */
    void (*check)(const pl_size_question *q, pl_diags *d);
    double (*error_df)(const pl_size_question *q, unsigned n);
    /* Chance of success with n per level and this sd of the mean of one glue-up. */
    double (*chance)(const pl_size_question *q, unsigned n, pl_size_test t, double sd);
    /* Smallest distance shown as often as asked. */
    double (*least)(const pl_size_question *q, unsigned n, pl_size_test t, double sd);
    /* The interval's whole width is this times s on error_df. */
    double (*width)(const pl_size_question *q, unsigned n);
    double (*factor)(const pl_size_question *q, unsigned n); /* NULL: none */
    /* Sentences: what is asked, and what n cannot show. */
    void (*say_question)(pl_text *t, const pl_size_question *q);
    void (*say_limits)(pl_text *t, const pl_size_question *q, const pl_size_answer *w);
    const char *too_much; /* what to ask instead when not even the cap will do */
    int ntest;            /* 1: there is no overall comparison, and PAIR stands for both */
} pl_size_aim;

extern const pl_size_aim pl_size_aim_difference, pl_size_aim_as_good, pl_size_aim_low_tail;
const pl_size_aim *pl_size_aim_of(const pl_size_question *q);

/* The sd's possible values and their weights (sum 1), from what is known of the scatter: one
 * value when it is taken as exact. */
typedef struct pl_size_doubt {
    double *sd, *weight;
    size_t n;
    double upper, lower; /* limits, each with upper_confidence; NAN: none */
} pl_size_doubt;
pl_code pl_size_doubt_of(pl_arena *a, const pl_size_question *q, pl_size_doubt *out, pl_diags *d);

/* Words that the aims share: "12 %", "1 time in 20", "about 6 times in 10". Not NULL. */
const char *pl_size_amount(pl_text *t, const pl_size_question *q, double x);
const char *pl_size_asked(pl_text *t, double chance);
const char *pl_size_often(pl_text *t, double chance);

#endif
