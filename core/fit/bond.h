/* Joint and glue line as two answers, and the wood as the third link.
 *
 * A joint is a chain: the test shows the least of glue line and wood. Of the joint a wood break is
 * its strength; of the glue line it is the least that it held; of the wood a glue-line break is the
 * least that it held. So each link is fitted with the other's breaks as bounds (competing links:
 * under independence the likelihood falls into one factor for each; that they are independent such
 * readings cannot tell: Tsiatis 1975, PNAS 72:20). Not broken: a lower bound of all three; broken
 * in handling: an upper bound of the joint, and of the link that broke.
 *
 * What counts as a wood break is a line drawn through a share judged by eye: the glue line is
 * fitted again for several such lines. The fits themselves: censored_linear.h.
 * docs/methods/joint-and-bond.md. */
#ifndef PL_FIT_BOND_H
#define PL_FIT_BOND_H

#include "fit/censored_linear.h"

/* Columns of numbers of the table; an empty cell of least or most is an open end. */
typedef struct pl_bond_spec {
    const char *least, *most; /* what the joint held, from and to */
    const char *share;        /* of wood in the break, 0 to 1; empty: not judged */
    const char *wood;         /* not 0: a wood break, where the share was not judged */
    double counts_as_wood;    /* the share from which a break counts as one in the wood */
    pl_law law;
    const pl_linear_effect *effects; /* single factors first */
    size_t neffect, nsingle;
    size_t shown; /* so many effects, the last ones, are the cells that are answered for */
    const char *const *covariates, *const *blocks;
    size_t ncovariate, nblock;
    /* What the wood's strength may go with: its species. Boards count as its scatter. */
    const pl_linear_effect *wood_effects;
    size_t nwood_effect;
} pl_bond_spec;

typedef enum pl_bond_model { /* what the readings were enough for */
                             PL_BOND_WHOLE,
                             PL_BOND_SINGLE,    /* without joint effects of two */
                             PL_BOND_UNBLOCKED, /* nor blocks */
                             PL_BOND_TOGETHER,  /* all in one */
                             PL_BOND_NOTHING,
                             PL_NBOND_MODELS
} pl_bond_model;

typedef struct pl_bond_answer {
    const char *answer; /* "joint", "bond", "wood" */
    double counts_as_wood;
    pl_law law;
    size_t own; /* readings that are no mere lower bounds for this link */
    pl_bond_model model;
    const pl_bounds_fit *fit; /* NULL: nothing */
    const char *why;          /* nothing: why not */
} pl_bond_answer;

#define PL_BOND_LINES 6

typedef struct pl_bond_move { /* the estimate that moves most */
    double by;                /* NAN: none can be compared */
    size_t at;                /* its place in the glue line's levels */
} pl_bond_move;

typedef struct pl_bond_fit {
    const char *unit;
    double counts_as_wood;
    pl_law law;
    const char *cells; /* the effect whose levels are answered for; NULL: those of every effect */
    /* Joints: all, broken in the wood by the rule, in the glue line, not broken, in handling, read
     * between two marks; with a share of wood judged. */
    size_t joints, wood, glue, unbroken, handling, between, judged;
    pl_bond_answer joint, bond, wood_itself;
    pl_bond_answer lines[PL_BOND_LINES]; /* the glue line by other lines, rising; own included */
    size_t nline;                        /* 0: no share was judged */
    pl_bond_answer laws[PL_NLAWS];       /* the glue line by each law */
    pl_bond_answer unhandled;            /* the glue line without those broken in handling */
    pl_bond_move by_line, by_handling;   /* how far that moves the glue line's figures */
} pl_bond_fit;

/* Shares of wood at which the line is tried beside the rule's own: common practice, no source (75
 * and 80 % are the usual ones). */
extern const double pl_bond_lines[PL_BOND_LINES - 1];

/* What stands in the way of an answer is in `why`, and is no error of the whole. PL_EKEY,
 * PL_EVALUE, PL_ENOMEM; PL_EDATA: no row, or not one joint of them broke. */
pl_code pl_fit_bond(pl_arena *a, const pl_table *t, const pl_bond_spec *spec, pl_bond_fit *out,
                    pl_diags *d);

/* One link's readings as bounds: a table with the columns "from" and "to" added. */
typedef enum pl_link {
    PL_LINK_JOINT,
    PL_LINK_BOND,
    PL_LINK_WOOD,
    PL_LINK_UNHANDLED, /* the glue line without what broke in handling */
    PL_NLINKS
} pl_link;
pl_code pl_bond_table(pl_arena *a, const pl_table *t, const pl_bond_spec *spec, pl_link link,
                      double counts_as_wood, pl_table *out, pl_diags *d);
#define PL_BOND_FROM "held from"
#define PL_BOND_TO "held to"

#endif
