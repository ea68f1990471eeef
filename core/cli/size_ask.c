/* A question about numbers from flags alone. With a study it comes from there. */
#include "cli/size_ask.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct measure { /* a share of the strength, or a dimension */
    double value;
    bool relative;
    pl_quantity_kind kind;
    const char *unit;
} measure;

static pl_code read_measure(pl_run *run, const char *option, const char *text, measure *out)
{
    static const pl_quantity_kind kinds[] = { PL_Q_PRESSURE, PL_Q_FORCE, PL_Q_NONE };
    const char *why = "", *first = NULL;
    pl_dim dim;

    if (strchr(text, '%')) {
        *out = (measure){ .relative = true };
        if (!pl_units_chance(run->arena, text, &out->value, &why))
            return PL_OK;
        return pl_usage(run, option, pl_arena_printf(run->arena, "\"%s\"", text),
                        "a share above 0 %, below 100 %, such as \"12 %\"", "");
    }
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        if (!pl_units_read(run->arena, text, kinds[i], &dim, &why)) {
            *out = (measure){ dim.si, false, kinds[i], dim.unit };
            return PL_OK;
        }
        first = first ? first : why;
    }
    return pl_usage(run, option, first, "a share or a strength",
                    "for example \"12 %\" or \"1.2 N/mm2\"");
}

pl_code pl_size_read_share(pl_run *run, const char *option, const char *text, double *out)
{
    measure m;

    if (read_measure(run, option, text, &m))
        return PL_EUSAGE;
    if (!m.relative)
        return pl_usage(run, option, pl_arena_printf(run->arena, "\"%s\"", text),
                        "a share of the strength, such as \"12 %\"", "");
    *out = m.value;
    return PL_OK;
}

pl_code pl_size_read_chance(pl_run *run, const char *option, const char *text, double *out)
{
    const char *why;

    if (!text || !pl_units_chance(run->arena, text, out, &why))
        return PL_OK;
    return pl_usage(run, option, why, "a chance", "for example \"1 in 10\", \"10 %\" or 0.1");
}

const char *pl_size_stands_in(const pl_size_options *o)
{
    return o->nfactor        ? "--levels"
           : o->per_block    ? "--per-block"
           : o->hard         ? "--hard-to-change"
           : o->between      ? "--scatter-between"
           : o->scatter      ? "--scatter"
           : o->scatter_from ? "--scatter-from"
           : o->worth        ? "--worth-noticing"
           : o->as_good      ? "--as-good-as"
           : o->both_sides   ? "--both-sides"
           : o->truly        ? "--truly"
           : o->percentile   ? "--percentile"
           : o->confidence   ? "--confidence"
           : o->width        ? "--width-at-most"
           : o->within       ? "--within"
           : o->from         ? "--from"
           : o->to           ? "--to"
           : o->onset        ? "--onset"
           : o->floor        ? "--floor"
                             : NULL;
}

/* What goes with one aim only, and what an aim needs. */
static pl_code check_aim(pl_run *run, const pl_size_options *o)
{
    pl_code rc = PL_OK;

    if (o->as_good && o->percentile)
        rc = pl_usage(run, "--percentile", "--as-good-as beside it", "one aim at a time", "");
    if ((o->both_sides || o->truly) && !o->as_good)
        rc = pl_usage(run, o->truly ? "--truly" : "--both-sides", "no --as-good-as",
                      "the aim that it belongs to", "");
    if (o->confidence && !o->percentile)
        rc = pl_usage(run, "--confidence", "no --percentile", "the aim that it belongs to", "");
    if (o->as_good && o->worth)
        rc = pl_usage(run, "--worth-noticing", "--as-good-as beside it",
                      "the margin alone: as good as 95 % leaves 5 %", "");
    if (!o->nfactor && !o->as_good && !o->percentile)
        rc = pl_usage(run, "--levels", "nothing", "a study, or how many levels are compared", "");
    else if (o->nfactor && o->levels[0] == 1 && !o->percentile)
        rc = pl_usage(run, "--levels", "1", "2 or more to compare", "");
    if (o->nfactor > 1 && (o->as_good || o->percentile))
        rc = pl_usage(run, "--levels", "several factors", "one, but for a difference", "");
    if (o->hard && (o->nfactor < 2 || o->per_block))
        rc = pl_usage(
            run, "--hard-to-change", o->per_block ? "--per-block beside it" : "one factor",
            "two factors or more: a block is one level of the first with all of the others", "");
    if (!o->scatter)
        rc = pl_usage(run, "--scatter", "nothing", "how far joints made alike differ", "");
    if (!o->worth && !o->width && !o->as_good && !o->percentile)
        rc = pl_usage(run, "--worth-noticing", "nothing", "the difference that matters", "");
    return rc;
}

/* A measure beside the scatter: both shares, or both in one unit. NULL leaves *out. */
static pl_code read_beside(pl_run *run, const pl_size_options *o, const measure *scatter,
                           const char *option, const char *text, pl_size_question *q, double *out)
{
    measure m = { 0 };

    if (!text)
        return PL_OK;
    if (read_measure(run, option, text, &m))
        return PL_EUSAGE;
    if (scatter->relative != m.relative || scatter->kind != m.kind)
        return pl_usage(
            run, option,
            pl_arena_printf(run->arena, "\"%s\" beside a scatter of \"%s\"", text, o->scatter),
            "both as shares, or both in one unit", "");
    *out = m.value;
    q->kind = m.kind;
    q->unit = m.unit;
    return PL_OK;
}

#define MARGIN_SCATTERS 8

/* "95 %": what is left of the named level; "0.5 N/mm2": what may be missing. */
static pl_code read_as_good(pl_run *run, const pl_size_options *o, const measure *scatter,
                            pl_size_question *q)
{
    pl_code rc = read_beside(run, o, scatter, "--as-good-as", o->as_good, q, &q->margin), bad;

    if (!o->as_good)
        return PL_OK;
    q->aim = PL_AIM_AS_GOOD_AS;
    q->both_sides = o->both_sides;
    if (!rc && q->relative)
        q->margin = 1 - q->margin;
    else if (!rc &&
             q->margin > MARGIN_SCATTERS * q->sd) /* equal joints differ by a tenth or more */
        pl_advise(&run->diags, "--as-good-as",
                  .found = pl_arena_printf(run->arena,
                                           "a margin of %.3g times the scatter: near the strength "
                                           "itself, or more",
                                           q->margin / q->sd),
                  .expected = "a small part of the strength",
                  .mend = "a study with breaking.expected_strength is checked for that");
    if (!o->truly || rc)
        return rc;
    if (!q->relative)
        return read_beside(run, o, scatter, "--truly", o->truly, q, &q->really);
    q->really = strtod(o->truly, NULL) / 100; /* above 100 % too */
    bad = strchr(o->truly, '%') && q->really > 0 && q->really < 10 ? PL_OK : PL_EUSAGE;
    return bad ? pl_usage(run, "--truly", pl_arena_printf(run->arena, "\"%s\"", o->truly),
                          "a share of the named level such as \"98 %\"", "")
               : PL_OK;
}

/* Treatments, blocks, and the effects of several factors: each, and each two that may meet. */
static pl_code set_layout(pl_run *run, const pl_size_options *o, pl_size_question *q)
{
    size_t n = o->nfactor, most = n * 2 + n * n / 2 + 1;
    pl_size_effect *list = PL_NEWN(run->arena, most, pl_size_effect);
    unsigned all = 1;

    if (!list)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < n; i++)
        all *= (unsigned)o->levels[i];
    q->levels = n ? all : o->as_good ? 2 : 1;
    q->block_size = (unsigned)o->per_block;
    if (o->hard) {
        q->groups = (unsigned)o->levels[0];
        q->levels = q->block_size = all / q->groups;
    }
    q->effects = list;
    for (size_t i = 0; i < n; i++) {
        const char *name = pl_arena_printf(run->arena, "factor %zu", i + 1);
        pl_size_effect e = { .name = name,
                             .levels = { (unsigned)o->levels[i] },
                             .whole = o->hard && !i };

        list[q->neffect++] = e;
        e.kind = PL_SIZE_TREND;
        if (o->levels[i] > 2)
            list[q->neffect++] = e;
    }
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < i; k++)
            list[q->neffect++] = (pl_size_effect){
                .name = pl_arena_printf(run->arena, "factor %zu with %zu", k + 1, i + 1),
                .kind = PL_SIZE_MEETING,
                .levels = { (unsigned)o->levels[k], (unsigned)o->levels[i] }
            };
    return PL_OK;
}

pl_code pl_size_from_flags(pl_run *run, const pl_size_options *o, pl_size_question *q)
{
    measure scatter = { 0 };
    pl_code rc = check_aim(run, o), next[6];

    if (!o->scatter || read_measure(run, "--scatter", o->scatter, &scatter))
        return PL_EUSAGE;
    if (!(scatter.value > 0))
        rc = pl_usage(run, "--scatter", pl_arena_printf(run->arena, "\"%s\"", o->scatter),
                      "a scatter above 0: how far joints made alike differ", "");
    q->sd = scatter.value;
    q->relative = scatter.relative;
    q->kind = scatter.kind;
    q->unit = scatter.unit;
    q->from = o->scatter_from ? PL_SCATTER_PILOT : PL_SCATTER_KNOWN;
    q->sd_df = o->scatter_from ? (double)o->scatter_from - 1 : NAN;
    if (o->percentile) {
        q->aim = PL_AIM_LOW_TAIL;
        q->cap = PL_SIZE_TAIL_CAP;
    }
    if (set_layout(run, o, q))
        return PL_ENOMEM;
    next[5] = read_beside(run, o, &scatter, "--scatter-between", o->between, q, &q->between_blocks);
    next[0] = read_beside(run, o, &scatter, "--worth-noticing", o->worth, q, &q->worth_noticing);
    next[1] = read_beside(run, o, &scatter, "--width-at-most", o->width, q, &q->width_at_most);
    next[2] = pl_size_read_chance(run, "--percentile", o->percentile, &q->percentile);
    next[3] = pl_size_read_chance(run, "--confidence", o->confidence, &q->confidence);
    next[4] = read_as_good(run, o, &scatter, q);
    for (size_t i = 0; i < 6; i++)
        rc = rc ? rc : next[i];
    return rc;
}
