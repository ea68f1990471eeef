/* platen help: a verb's page, or the terms in two lines each. */
#include <string.h>

#include "cli/verb.h"

/* Terms that answers use under Details. Shop words first, then the term. */
static const struct {
    const char *term, *words;
} terms[] = {
    { "glue-up",
      "one closing of a press station. It is the unit for what the press sets: specimens\n"
      "cut from one glue-up later are not repeats of its pressure." },
    { "onset", "the lowest pressure at which the fitted strength is at least the share asked for\n"
               "(95 % unless you say otherwise) of its largest value in the range you tried." },
    { "plateau",
      "the stretch where more pressure no longer helps. It counts as reached only when the\n"
      "whole range of the onset lies at or below the second-highest level." },
    { "interval",
      "a range worked out so that, over many such experiments, it holds the true value\n"
      "nineteen times in twenty. An open end means: these joints cannot bound it." },
    { "chance of noticing", "how often an experiment of this size would show a difference that is\n"
                            "really there. One minus it is the chance of missing it." },
    { "false alarm", "seeing a difference where there is none; held to 1 in 20 unless you say\n"
                     "otherwise." },
    { "scatter",
      "how far joints made alike differ from each other: their standard deviation, or that\n"
      "over the mean in percent (coefficient of variation)." },
    { "block",
      "joints that share a board or a session. Settings are compared within blocks, so that\n"
      "a strong board favours none." },
    { "in-order",
      "the sum of squares that an effect takes away when effects enter one after another,\n"
      "in the order named." },
    { "after-all-others",
      "the sum of squares that an effect takes away when it enters last, after all\n"
      "others." },
    { "lack of fit",
      "whether the level means stray from the curve by more than repeats at one level\n"
      "stray from each other." },
    { "AICc",
      "a figure that weighs how closely a curve follows the data against how many numbers it\n"
      "needed; curves are averaged with weights made from it." },
    { "weight", "the share a curve has in the averaged answer; the weights add up to one." },
    { "wood break",
      "the wood gave way before the glue line. Its load says what the joint held, but of\n"
      "the glue line only that it was stronger." },
    { "set point",
      "the dial reading that makes a wanted pressure on the bond, with the pressure it\n"
      "will really give and how surely." },
};

static pl_code print_words(pl_text *out)
{
    for (size_t i = 0; i < sizeof terms / sizeof *terms; i++) {
        pl_text_add(out, "%s\n  ", terms[i].term);
        for (const char *p = terms[i].words; *p; p++)
            pl_text_add(out, *p == '\n' ? "\n  " : "%c", *p);
        pl_text_put(out, "\n");
    }
    return PL_OK;
}

static pl_code say_help(pl_run *run)
{
    const char *names[16], *nearest;

    if (!run->narg)
        return pl_print_verbs(&run->text);
    if (!strcmp(run->args[0], "words"))
        return print_words(&run->text);
    for (size_t i = 0; i < pl_nverbs; i++) {
        names[i] = pl_verbs[i]->name;
        if (!strcmp(run->args[0], names[i]))
            return pl_print_help(pl_verbs[i], &run->text);
    }
    nearest = pl_text_nearest(run->args[0], names, pl_nverbs);
    return pl_usage(run, "", pl_arena_printf(run->arena, "no verb \"%s\"", run->args[0]),
                    "a verb, or \"words\"",
                    nearest ? pl_arena_printf(run->arena, "did you mean \"%s\"?", nearest) : "");
}

static pl_code run_help(pl_run *run)
{
    pl_code rc = say_help(run);

    if (!rc)
        pl_jadd_text(run->answer, "words", pl_text_done(&run->text));
    return rc;
}

const pl_verb pl_verb_help = {
    .name = "help",
    .args = "[VERB | words]",
    .summary = "a verb's page, or the terms in two lines each",
    .words = "Explains a verb and its options, or the terms that answers use.",
    .most_args = 1,
    .run = run_help,
};
