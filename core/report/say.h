/* Small ways of saying things that words, details and pages share. */
#ifndef PL_REPORT_SAY_H
#define PL_REPORT_SAY_H

#include "report/answer.h"

/* A figure without its unit, where the unit stands close by. */
char *pl_say_bare(pl_arena *a, double x, int digits, int way);
/* "Beech" for group beech, "All joints" for none; of the glue line's answer, "Beech, the glue line
 * alone". */
char *pl_say_group(pl_arena *a, const pl_plateau *p);
/* As a sentence begins. */
char *pl_say_first(pl_arena *a, const char *word);
/* A probability as statistics tables print it: "0.013", "below 0.0001". */
char *pl_say_p(pl_arena *a, double p);
/* Joints at or above x (in the curve's unit) that broke in the wood. */
void pl_say_wood(const pl_plateau *p, double from, size_t *wood, size_t *joints);

/* One group's paragraph, joint's or glue line's; NULL: no memory. */
char *pl_plateau_sentence(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p);

/* Where the top of a curved surface lies; f->surface is not NULL. */
void pl_surface_words(pl_arena *a, const pl_fit_answer *f, pl_text *t);
/* Factors tested by drawing their levels again: a sentence each (of studies), a table, JSON. */
void pl_drawn_words(pl_arena *a, const pl_fit_answer *f, pl_text *t);
void pl_drawn_details(pl_arena *a, const pl_fit_answer *f, pl_text *t);
void pl_drawn_json(pl_jval *object, const pl_fit_answer *f);
/* What is fitted as zero, a sentence and a blank each; for the first paragraph. */
void pl_say_zeros(const pl_fit_answer *f, pl_text *t);
/* Effects of the linear model, each after all others. */
void pl_linear_words(pl_arena *a, const pl_fit_answer *f, pl_text *t);

/* The same where some readings are only bounds: words, and tables under Details. */
void pl_bounds_words(pl_arena *a, const pl_bounds_fit *b, pl_text *t);
void pl_bounds_details(pl_arena *a, const pl_bounds_fit *b, pl_text *t);

#endif
