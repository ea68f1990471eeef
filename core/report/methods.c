/* Methods and their sources, for the report. docs/methods says the same at length. */
#include "report/methods.h"

static const char *const of_curves[] = {
    "Strength: the peak force over the area that broke, from each joint's own sizes where they "
    "were "
    "measured. Joints of one glue-up are averaged first: one closing of the press is one unit.",
    "Curves: mean strength = floor + (top - floor) g(x), with g a straight rise to a knee, an "
    "exponential, a hyperbola or a parabola to a knee, in the pressure x or in its logarithm. For "
    "fixed knee or rate the rest is least squares, so the best fit is found over the whole range "
    "and "
    "not from a start.",
    "Weights of the curves: AICc = n (ln 2 pi + 1 + ln(SS/n)) + 2K + 2K(K + 1)/(n - K - 1), n "
    "units "
    "and K numbers fitted (Burnham & Anderson 2002, Model Selection and Multimodel Inference, 2nd "
    "ed., sec. 2.4); weight = exp(-difference/2), made to add up to 1.",
    "Where the plateau starts: the lowest pressure at which the fitted mean is the stated share of "
    "its largest value in the range. Its range: tails averaged over the curves by their weights "
    "(Fletcher & Turek 2012, J. Agric. Biol. Environ. Stat. 17:38); an end that no crossing limits "
    "stays open (Gleser & Hwang 1987, Ann. Statist. 15:1351).",
    "Whether there is a rise or a fall: the most telling contrast between lower and upper levels, "
    "each against its simultaneous limit (Bretz 2006, Comput. Stat. Data Anal. 50:1735), by the "
    "error "
    "between units at one level.",
};
static const char *const of_variance[] = {
    "Analysis of variance: least squares with boards and sessions as blocks; effects in order, and "
    "each after all others; every effect against the error of its own stratum (Nelder 1965, Proc. "
    "R. "
    "Soc. A 283:147 and 163).",
};
static const char *const of_links[] = {
    "Joint, glue line, wood: greatest likelihood with the other links' breaks as lower bounds; the "
    "likelihood is concave (Burridge 1981, J. R. Statist. Soc. B 43:41), limits by its profile "
    "(Venzon & Moolgavkar 1988, Appl. Statist. 37:87). That links are independent cannot be told "
    "from such breaks (Tsiatis 1975, Proc. Natl. Acad. Sci. USA 72:20).",
};

#define COUNT(list) (sizeof(list) / sizeof *(list))

void pl_methods_fold(pl_page *page, const pl_fit_answer *f)
{
    pl_page_fold(page, "Methods and where they are published");
    if (f->nplateau)
        pl_page_list(page, of_curves, COUNT(of_curves));
    if (f->linear)
        pl_page_list(page, of_variance, COUNT(of_variance));
    if (f->bond)
        pl_page_list(page, of_links, COUNT(of_links));
    pl_page_unfold(page);
}
