/* What the shop has and how it works: rigs, presses, breaking, times, adhesive,
 * scatter, budget, and what is printed. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "study/build.h"
#include "study/reading.h"
#include "study/rig.h"

/* Components must make up the whole: rounding of shop figures, not another
 * figure. */
#define SCATTER_OFF 0.05

/* ---------------------------------------------------------------- rigs ---- */

static bool read_rig(pl_build *b, const pl_json *v, pl_rig_ref *ref)
{
    const pl_json *name;
    pl_rig rig;
    pl_code rc;

    if (v->kind == PL_JSON_OBJECT) {
        rc = pl_rig_from_json(b->f.a, v, &rig, b->f.d);
        if (rc && (!b->f.bad || rc == PL_ENOMEM))
            b->f.bad = rc;
        /* A rig with a fault keeps its name, so that presses still find it. */
        name = pl_json_get(v, "name");
        if (!name || name->kind != PL_JSON_STRING)
            return false;
        *ref = (pl_rig_ref){ .name = name->string, .written = v };
        return true;
    }
    if (v->kind != PL_JSON_STRING) {
        pl_fill_fail(&b->f, PL_EVALUE, v, NULL, "a rig's name, or an object that describes it", "");
        return false;
    }
    if (!pl_fill_is_line(&b->f, v, PL_WORD_MOST))
        return false;
    *ref = (pl_rig_ref){ .name = v->string };
    return true;
}

void pl_build_rigs(pl_build *b)
{
    const pl_json *list = pl_json_get(b->root, "rigs");
    pl_study *s = b->s;

    if (!list || list->kind != PL_JSON_ARRAY || list->count > 20)
        return;
    s->rigs = pl_build_new(b, list->count, sizeof *s->rigs);
    for (const pl_json *v = s->rigs ? list->child : NULL; v; v = v->next) {
        if (!read_rig(b, v, &s->rigs[s->nrig]))
            continue;
        for (size_t i = 0; i < s->nrig; i++)
            if (!strcmp(s->rigs[i].name, s->rigs[s->nrig].name))
                pl_fill_fail(&b->f, PL_ECONFLICT, v,
                             pl_fill_printf(&b->f, "rig \"%s\" twice", s->rigs[i].name),
                             "each rig once", "");
        s->nrig++;
    }
}

/* Place of a rig by the name at v; -1 with a finding. */
static int rig_named(pl_build *b, const pl_json *v, const char *name)
{
    const char **names = pl_build_new(b, b->s->nrig, sizeof *names);

    for (size_t i = 0; i < b->s->nrig; i++)
        if (!strcmp(b->s->rigs[i].name, name))
            return (int)i;
    if (!names)
        return -1;
    for (size_t i = 0; i < b->s->nrig; i++)
        names[i] = b->s->rigs[i].name;
    pl_fill_fail(&b->f, PL_EVALUE, v, NULL,
                 b->s->nrig ? pl_fill_printf(&b->f, "a rig named in `rigs`: %s",
                                             pl_fill_kept(&b->f, pl_text_list(b->f.a, names,
                                                                              b->s->nrig, "or")))
                            : "a rig named in `rigs`",
                 b->s->nrig ? pl_build_near(b, name, names, b->s->nrig)
                            : pl_fill_printf(&b->f, "\"rigs\": [\"%s\"]", name));
    return -1;
}

/* -------------------------------------------------------------- presses ---- */

static void press_rigs(pl_build *b, pl_press *press, const pl_raw_press *raw, const pl_json *at)
{
    const pl_json *list = pl_json_get(at, "rigs");

    press->rigs = pl_build_new(b, list ? raw->nrig : b->s->nrig, sizeof *press->rigs);
    if (!press->rigs)
        return;
    for (size_t i = 0; list && i < raw->nrig; i++) {
        /* With a fault in the list the places no longer match: the list then. */
        int place = rig_named(b, list->count == raw->nrig ? pl_json_at(list, i) : list,
                              raw->rigs[i]);

        if (place >= 0)
            press->rigs[press->nrig++] = place;
    }
    for (size_t i = 0; !list && i < b->s->nrig; i++)
        if ((int)i != b->s->breaking.rig || b->s->nrig == 1)
            press->rigs[press->nrig++] = (int)i;
    if (!list && b->s->nrig)
        pl_fill_assume(&b->f, pl_fill_printf(&b->f, "/presses/%zu", at->index), "rigs",
                       b->s->breaking.rig >= 0 && b->s->nrig > 1
                           ? "every rig but the breaking one can load this press"
                           : "every rig can load this press");
}

/* One figure for a study: force is shared by what lies in one closing. */
static void check_at_once(pl_build *b)
{
    for (size_t i = 1; i < b->s->npress; i++)
        if (b->s->presses[i].specimens_at_once != b->s->presses[0].specimens_at_once)
            pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_at(pl_json_get(b->root, "presses"), i),
                         pl_fill_printf(&b->f, "%u joints at once, %u in \"%s\"",
                                        b->s->presses[i].specimens_at_once,
                                        b->s->presses[0].specimens_at_once, b->s->presses[0].name),
                         "the same number in every press",
                         "joints in one closing share its force: keep one number, or make two "
                         "studies");
}

void pl_build_presses(pl_build *b)
{
    const pl_json *list = pl_json_get(b->root, "presses");
    pl_study *s = b->s;

    s->breaking = (pl_breaking){ .rig = -1,
                                 .expected_strength_Pa = b->raw->breaking.expected_strength.si,
                                 .press = -1,
                                 .per_specimen_s = b->raw->breaking.per_specimen.si };
    if (b->raw->breaking.rig)
        s->breaking.rig = rig_named(b, pl_build_at(b, "breaking", "rig"), b->raw->breaking.rig);
    if (!b->raw->npress) {
        pl_fill_assume(&b->f, "", "presses", "one press with one station, one joint at a time");
        return;
    }
    s->presses = pl_build_new(b, b->raw->npress, sizeof *s->presses);
    if (!s->presses)
        return;
    for (const pl_json *at = list->child; at; at = at->next) {
        const pl_raw_press *raw = &b->raw->presses[at->index];
        pl_press *press = &s->presses[at->index];

        *press = (pl_press){ .name = raw->name ? raw->name : "",
                             .stations = raw->stations ? raw->stations : 1,
                             .specimens_at_once = raw->specimens_at_once ? raw->specimens_at_once
                                                                         : 1,
                             .changeover_s = raw->changeover.si };
        for (size_t i = 0; i < at->index; i++)
            if (press->name[0] && !strcmp(press->name, s->presses[i].name))
                pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(at, "name"),
                             pl_fill_printf(&b->f, "two presses named \"%s\"", press->name),
                             "names that differ", "several stations are one press");
        if (at->kind == PL_JSON_OBJECT)
            press_rigs(b, press, raw, at);
    }
    s->npress = b->raw->npress;
    check_at_once(b);
}

/* -------------------------------------------------------------- scatter ---- */

static void both_measures(pl_build *b, const pl_json *at, const pl_worth *part, const char *key,
                          bool relative)
{
    if (!isnan(part->value) && part->relative != relative)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(at, key), NULL,
                     relative ? "a share, as cv is" : "a strength, as sd is", "");
}

/* Components and the whole: whichever is missing follows from the other. */
static void build_components(pl_build *b, const pl_json *at, const pl_raw_scatter *raw)
{
    const pl_worth *between = &raw->between_glue_ups, *within = &raw->within;
    bool one = pl_json_get(at, "between_glue_ups"), other = pl_json_get(at, "within");
    bool relative = isnan(raw->sd.si) && (!isnan(raw->cv) || between->relative);
    pl_scatter *s = &b->s->scatter;
    double whole = relative ? raw->cv : raw->sd.si, made;

    if (one != other)
        pl_fill_fail(&b->f, PL_EKEY, at, one ? "no \"within\"" : "no \"between_glue_ups\"",
                     "both parts of the scatter, or neither", "");
    if (isnan(between->value) || isnan(within->value))
        return;
    both_measures(b, at, between, "between_glue_ups", relative);
    both_measures(b, at, within, "within", relative);
    s->between_glue_ups = between->value;
    s->within = within->value;
    made = sqrt(between->value * between->value + within->value * within->value);
    if (isnan(whole)) {
        *(relative ? &s->cv : &s->sd_Pa) = made;
        pl_fill_assume(&b->f, "/scatter", relative ? "cv" : "sd",
                       "the scatter of single joints is that of both parts together");
    } else if (between->relative == relative && within->relative == relative &&
               fabs(made - whole) > SCATTER_OFF * whole) {
        pl_fill_fail(&b->f, PL_ECONFLICT, at,
                     relative ? pl_fill_printf(&b->f, "parts that make %.3g %% beside cv %.3g %%",
                                               100 * made, 100 * whole)
                              : "parts that do not make up sd",
                     "parts whose squares add up to that of the whole",
                     "leave one of the three out");
    }
}

static void build_scatter(pl_build *b)
{
    const pl_json *at = pl_json_get(b->root, "scatter");
    const pl_raw_scatter *raw = &b->raw->scatter;
    pl_scatter *s = &b->s->scatter;

    *s = (pl_scatter){ .sd_Pa = raw->sd.si,
                       .cv = raw->cv,
                       .glue_ups = raw->glue_ups,
                       .between_glue_ups = NAN,
                       .within = NAN,
                       .between_boards = raw->between_boards.value,
                       .between_sessions = raw->between_sessions.value,
                       .between_stretches = raw->between_stretches.value,
                       .boards = raw->boards,
                       .specimens = raw->specimens };
    if (!at || at->kind != PL_JSON_OBJECT) {
        s->unknown = true;
        if (!at)
            pl_fill_assume(&b->f, "", "scatter", "nobody has said how much equal joints differ");
        return;
    }
    if (raw->nhistory) {
        s->history = raw->history;
        s->nhistory = raw->nhistory;
        s->unknown = true;
        if (at->count > 1 + (pl_json_get(at, "note") != NULL))
            pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(at, "history"),
                         "`history` beside other figures", "one or the other", "");
        return;
    }
    if (pl_json_get(at, "sd") && pl_json_get(at, "cv"))
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(at, "cv"), "`cv` beside `sd`",
                     "one or the other", "");
    if (!pl_json_get(at, "sd") && !pl_json_get(at, "cv") && !pl_json_get(at, "within"))
        pl_fill_fail(&b->f, PL_EKEY, at, "no scatter", "sd (\"1.1 N/mm2\") or cv (\"12 %\")",
                     "write \"scatter\": \"unknown\" when nobody knows");
    build_components(b, at, raw);
    both_measures(b, at, &raw->between_boards, "between_boards", isnan(s->sd_Pa));
    both_measures(b, at, &raw->between_sessions, "between_sessions", isnan(s->sd_Pa));
    both_measures(b, at, &raw->between_stretches, "between_stretches", isnan(s->sd_Pa));
    if (s->boards > s->glue_ups)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(at, "boards"), NULL,
                     "no more boards than the `glue_ups` that came from them", "");
    if (s->specimens && s->specimens < s->glue_ups)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(at, "specimens"), NULL,
                     "no fewer specimens than `glue_ups`", "");
}

/* ------------------------------------------------------------- the rest ---- */

static void build_adhesive(pl_build *b)
{
    pl_adhesive *ad = &b->s->adhesive;
    double open_s = b->raw->adhesive.open_time.si, limit_s = b->raw->adhesive.open_time_limit.si;

    *ad = (pl_adhesive){ .kind = b->raw->adhesive.kind ? b->raw->adhesive.kind : "",
                         .spread_kg_m2 = b->raw->adhesive.spread.si,
                         .spread_on_both = b->raw->adhesive.both,
                         .open_time_s = open_s,
                         .open_time_limit_s = limit_s,
                         .pot_life_s = b->raw->adhesive.pot_life.si };
    if (open_s > limit_s)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_build_at(b, "adhesive", "open_time"), NULL,
                     pl_fill_printf(&b->f, "at most the open_time_limit, %s",
                                    b->raw->adhesive.open_time_limit.text),
                     "");
    if (!isnan(ad->spread_kg_m2) && !pl_build_at(b, "adhesive", "spread_on"))
        pl_fill_assume(&b->f, "/adhesive", "spread_on", "one face of a bond is spread");
}

static void build_breaking_press(pl_build *b)
{
    const char *name = b->raw->breaking.press;
    const char **names = pl_build_new(b, b->s->npress, sizeof *names);

    if (!name || !names)
        return;
    for (size_t i = 0; i < b->s->npress; i++) {
        names[i] = b->s->presses[i].name;
        if (!strcmp(name, names[i]))
            b->s->breaking.press = (int)i;
    }
    if (b->s->breaking.press < 0)
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "breaking", "press"), NULL,
                     "the name of one of `presses`", pl_build_near(b, name, names, b->s->npress));
}

static void build_rules(pl_build *b)
{
    const size_t n = b->raw->rules.ninvalid;
    pl_invalid *invalid = pl_build_new(b, n, sizeof *invalid);

    b->s->rules = (pl_rules){ .counts_as_wood = b->raw->rules.counts_as_wood,
                              .invalid = invalid,
                              .scatter_law = b->raw->rules.law };
    for (size_t i = 0; invalid && i < n; i++) {
        const pl_raw_invalid *raw = &b->raw->rules.invalid[i];
        pl_mode mode = (pl_mode)(raw->mode + PL_MODE_ADHESIVE);
        bool bounded = !isnan(raw->below.si);

        invalid[i] = (pl_invalid){ .mode = mode,
                                   .below_Pa = raw->below.si,
                                   .words = pl_fill_printf(&b->f, "%s%s%s", pl_mode_name(mode),
                                                           bounded ? " below " : "",
                                                           bounded ? raw->below.text : "") };
    }
    b->s->rules.ninvalid = invalid ? n : 0;
}

/* Blocks that may be a sample of many are those that a plan has. */
static void build_model(pl_build *b)
{
    static const char *const blocks[] = { "board", "session" };
    pl_study *s = b->s;

    s->in_proportion = b->raw->model.in_proportion;
    s->randoms = b->raw->model.randoms;
    s->nrandom = b->raw->model.nrandom;
    for (size_t i = 0; i < s->nrandom; i++)
        if (strcmp(s->randoms[i], "board") != 0 && strcmp(s->randoms[i], "session") != 0)
            pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "model", "random"), NULL,
                         "\"board\" or \"session\"", pl_build_near(b, s->randoms[i], blocks, 2));
    if (s->nrandom && s->in_proportion)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_build_at(b, "model", "scatter"), NULL,
                     "one of the two", "curves take random blocks, or scatter in proportion");
}

void pl_build_rest(pl_build *b)
{
    pl_study *s = b->s;

    pl_build_responses(b);
    build_adhesive(b);
    build_scatter(b);
    s->times = (pl_times){ .clamp_s = b->raw->times.clamp.si,
                           .cure_at_least_s = b->raw->times.cure.at_least.si,
                           .hands_on_s = b->raw->times.hands_on.si,
                           .session_s = b->raw->times.session.si,
                           .cure_at_most_s = b->raw->times.cure.at_most.si,
                           .zone = b->raw->times.zone };
    build_breaking_press(b);
    pl_build_hours(b);
    build_rules(b);
    pl_build_budget(b);
    s->curves = b->raw->model.curves;
    s->ncurve = b->raw->model.ncurve;
    build_model(b);
    if (s->times.hands_on_s > s->times.session_s)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_build_at(b, "times", "hands_on"), NULL,
                     "a glue-up that fits into one session", "longer sessions");
}
