/* platen help: a verb's page, or the terms in two lines each. */
#include <string.h>

#include "cli/help_page.h"

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
    { "bootstrap", "the same fit made again and again on readings drawn from it: how far its "
                   "answer strays when\n"
                   "nothing but chance is changed." },
    { "profile",
      "how much worse the best curve fits when the answer is held at one place after another;\n"
      "where it fits clearly worse, the answer does not lie." },
    { "weight",
      "the share a curve has in the averaged answer; the weights of all curves that are averaged\n"
      "add up to one." },
    { "wood break",
      "the wood gave way before the glue line. Its load says what the joint held, but of\n"
      "the glue line only that it was stronger." },
    { "standard error",
      "how far a worked-out figure, such as a mean, would typically be off if the whole\n"
      "experiment were made again." },
    { "df",
      "degrees of freedom: how many independent differences an estimate of scatter rests on.\n"
      "More of them, a surer estimate; each figure that is fitted takes one away." },
    { "sum of squares",
      "how much of all the differences between joints goes with one cause: each distance\n"
      "squared, then added up." },
    { "mean square",
      "a sum of squares over its degrees of freedom: scatter, squared, per independent\n"
      "difference." },
    { "F", "a mean square over the one it is judged against. About 1 when the cause does nothing;\n"
           "well above 1 when it does something." },
    { "t", "a difference over its standard error, held against the point that chance alone passes\n"
           "as rarely as stated." },
    { "p", "how often chance alone would give an F this large or larger, if the cause did nothing\n"
           "at all. Small is evidence that it does; large proves nothing." },
    { "judged against",
      "the scatter that an effect is compared with: pressure with glue-ups made alike, species\n"
      "with boards of one species." },
    { "residual",
      "what is left of a joint's strength when everything fitted is taken away. Residual sd is\n"
      "its typical size (sd: standard deviation)." },
    { "R squared",
      "the share of all differences, squared and added up, that the fit accounts for. High is\n"
      "no proof that the fit is right." },
    { "coefficient",
      "how far a level lies above or below the mean of all levels; of a curve: one of its\n"
      "numbers. Low and high bound it nineteen times in twenty." },
    { "contrast",
      "a difference made of levels by weights that add up to zero: iron 1, copper -0.5,\n"
      "nickel -0.5 holds iron against the average of the other two." },
    { "scatter between",
      "how far boards or sessions that count as a sample of many differ from each other; its sd\n"
      "stands beside that of joints made alike." },
    { "within blocks only, with what blocks tell",
      "two answers with random blocks: from differences inside blocks alone, and with what the\n"
      "differences between blocks add. The surer one comes first, the other stands beside." },
    { "comparisons, p (Holm)",
      "differences of levels with limits that hold together, so that looking at many finds no\n"
      "more false alarms than looking at one; p is raised for the same reason." },
    { "intercept, slope",
      "of a line: its height where pressure is zero (in log x: at the lowest level), and how\n"
      "much it climbs for each unit." },
    { "floor, top",
      "of a rising curve: where it starts (at zero; in log x at the lowest level), and where it\n"
      "levels off. Beyond the levels tried both are only drawn on." },
    { "state",
      "what can be said of the plateau: reached, not-reached, undecided, no-change or falling.\n"
      "Largest rise and fall are the steps between groups of levels that decide it." },
    { "low, high",
      "the ends of an interval that holds the true figure nineteen times in twenty; an empty\n"
      "place means that the data do not bound it." },
    { "flat, line",
      "no change at all, and a straight rise: what the curves with a plateau are compared\n"
      "with. Flat is shown only, never averaged." },
    { "linear-plateau, quadratic-plateau",
      "a straight or an arched rise that ends at a knee; beyond it the height stays the\n"
      "same." },
    { "saturating-exponential, saturating-hyperbola",
      "rises that get ever slower and near a top without touching it; the hyperbola takes\n"
      "longer over the last part." },
    { "logistic-rise, rise-and-fall",
      "a rise that starts slowly too, like an S; and a rise that turns into a loss, as of a\n"
      "joint that was squeezed dry: it joins the usual curves when a fall is shown." },
    { "log x", "the curve runs in the logarithm of the pressure: each doubling is one equal step,\n"
               "instead of each added N/mm2." },
    { "scatter's upper limit",
      "the largest scatter that the pilot's few glue-ups leave possible: it is exceeded one\n"
      "time in five." },
    { "knee, rate, half, mid, width, loss",
      "how fast a curve rises: where it bends over, how steeply it nears its top, where it has\n"
      "made half its way and over what width; loss is what each step further costs." },
    { "efficiency",
      "how much of the comparison between levels is left within boards and sessions: 1 when\n"
      "every block holds every level equally often." },
    { "rank correlation",
      "how nearly the order of gluing follows the order of the levels: 0 not at all, 1 wholly.\n"
      "Near 0 the warming of the room and practice favour no level." },
    { "set point",
      "the dial reading that makes a wanted pressure on the bond, with the pressure it\n"
      "will really give and how surely." },
};

static void print_words(pl_text *out)
{
    for (size_t i = 0; i < sizeof terms / sizeof *terms; i++) {
        pl_text_add(out, "%s\n  ", terms[i].term);
        for (const char *p = terms[i].words; *p; p++)
            pl_text_add(out, *p == '\n' ? "\n  " : "%c", *p);
        pl_text_put(out, "\n");
    }
}

static const struct {
    const char *name;
    void (*print)(pl_text *out);
} pages[] = { { "words", print_words },
              { "man", pl_print_man },
              { "bash", pl_print_bash },
              { "zsh", pl_print_zsh },
              { "fish", pl_print_fish } };

enum { NPAGES = sizeof pages / sizeof *pages };

static pl_code say_help(pl_run *run)
{
    const char *names[PL_VERBS_MOST + NPAGES], *nearest;

    if (!run->narg) {
        pl_print_verbs(&run->text);
        return PL_OK;
    }
    pl_verb_names(names);
    for (size_t i = 0; i < pl_nverbs; i++)
        if (!strcmp(run->args[0], names[i])) {
            pl_print_help(pl_verbs[i], &run->text);
            return PL_OK;
        }
    for (size_t i = 0; i < NPAGES; i++) {
        names[pl_nverbs + i] = pages[i].name;
        if (!strcmp(run->args[0], pages[i].name)) {
            pages[i].print(&run->text);
            return PL_OK;
        }
    }
    nearest = pl_text_nearest(run->args[0], names, pl_nverbs + NPAGES);
    return pl_usage(run, "", pl_arena_printf(run->arena, "no verb \"%s\"", run->args[0]),
                    "a verb, or \"words\"",
                    nearest ? pl_arena_printf(run->arena, "did you mean \"%s\"?", nearest)
                            : "see: platen --help");
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
    .args = "[VERB | words | man | bash | zsh | fish]",
    .summary = "a verb's page, or the terms in two lines each",
    .words = "Explains a verb and its options, or the terms that answers use. man: all of it as\n"
             "a manual page. bash, zsh, fish: what such a shell needs to finish words for you.",
    .examples = "help take\n"
                "help words\n"
                "help bash > platen-completion.bash\n",
    .parts = "words man bash zsh fish",
    .most_args = 1,
    .run = run_help,
};
