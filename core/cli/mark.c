/* platen mark: what happened to a joint, kept beside what was planned. What it
 * changes in the figures is the business of marks.c. */
#include <math.h>
#include <string.h>
#include <time.h>

#include "base/file.h"
#include "bench/columns.h"
#include "cli/join.h"

/* No press that was set for a level makes ten times the highest. Common practice, no
 * source. */
#define FAR_ABOVE 10.0

typedef struct mark_options {
    pl_texts values[PL_NMARKS]; /* of each kind, as given; "" where it takes none */
    const char *reason, *at;
} mark_options;

enum { KEY_REASON = PL_NMARKS + 1, KEY_AT };

/* The key of an option is its kind and one. */
static const struct argp_option options[] = {
    { "lost", PL_MARK_LOST + 1, 0, 0, "it is gone: it counts nowhere", 0 },
    { "exclude", PL_MARK_EXCLUDED + 1, 0, 0, "leave it out; figures with it are shown too", 0 },
    { "restore", PL_MARK_RESTORED + 1, 0, 0, "let it count again", 0 },
    { "swapped-with", PL_MARK_SWAPPED + 1, "ID", 0, "the two labels were mixed up", 0 },
    { "made-as", PL_MARK_MADE_AS + 1, "KEY=VALUE", 0, "how it was made instead of as planned", 0 },
    { "applied", PL_MARK_APPLIED + 1, "unknown", 0, "nobody can tell its pressure", 0 },
    { "note", PL_MARK_NOTE + 1, "TEXT", 0, "what else is to be said", 0 },
    { "photo", PL_MARK_PHOTO + 1, "FILE", 0, "a picture of it, kept in the book", 0 },
    { "reason", KEY_REASON, "TEXT", 0, "why; must be given with --lost and --exclude", 0 },
    { "at", KEY_AT, "TIME", 0, "when it happened (2027-03-03 14:05); now if left out", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    mark_options *o = run->options;

    if (key == KEY_REASON)
        o->reason = arg;
    else if (key == KEY_AT)
        o->at = arg;
    else
        return pl_texts_add(run, &o->values[key - 1], arg ? arg : "");
    return PL_OK;
}

typedef struct marking {
    pl_run *run;
    mark_options *o;
    pl_loaded l;
    const pl_specimen **whom;
    size_t nwhom;
    int64_t at;
    pl_marking *list;
    size_t count;
} marking;

/* ------------------------------------------------------------ checking ----- */

static pl_code find_specimens(marking *m)
{
    pl_run *run = m->run;
    pl_code rc = PL_OK;

    m->whom = PL_NEWN(run->arena, run->narg, const pl_specimen *);
    if (!m->whom)
        return pl_nomem(&run->diags);
    for (size_t i = 1; i < run->narg; i++) {
        const pl_specimen *x = pl_plan_find(m->l.plan, run->args[i]);
        size_t k = 0;

        while (k < m->nwhom && m->whom[k] != x)
            k++;
        if (x && k == m->nwhom) /* named twice, it counts once */
            m->whom[m->nwhom++] = x;
        if (!x)
            rc = pl_usage(run, "", pl_arena_printf(run->arena, "\"%s\"", run->args[i]),
                          "a specimen of this plan", "look at the label again");
    }
    return rc;
}

static pl_code read_time(marking *m)
{
    pl_clock clock;
    double seconds;
    char offset[8];

    m->at = (int64_t)time(NULL);
    if (!m->o->at)
        return PL_OK;
    if (!pl_clock_read(m->o->at, &clock) || !pl_clock_utc(&clock, 0, &seconds, offset))
        return pl_usage(m->run, "--at", pl_arena_printf(m->run->arena, "\"%s\"", m->o->at),
                        "a day and time", "for example 2027-03-03 14:05");
    m->at = (int64_t)floor(seconds);
    return PL_OK;
}

static pl_code check_reason(marking *m)
{
    bool asked = m->o->values[PL_MARK_LOST].count || m->o->values[PL_MARK_EXCLUDED].count;
    int n = 0;

    for (int k = PL_MARK_LOST; k <= PL_MARK_RESTORED; k++)
        n += m->o->values[k].count > 0;
    if (n > 1)
        return pl_usage(m->run, "", "more than one of --lost, --exclude and --restore",
                        "one of them", "");
    if (asked && (!m->o->reason || !m->o->reason[0]))
        return pl_usage(m->run, "--reason", "no reason", "why it does not count",
                        "--reason TEXT: whoever reads the result will ask");
    return PL_OK;
}

static const char *levels_of(pl_run *run, const pl_factor *f)
{
    const char **names = PL_NEWN(run->arena, f->nlevel, const char *);

    for (size_t i = 0; names && i < f->nlevel; i++)
        names[i] = f->levels[i].text;
    return names ? pl_text_list(run->arena, names, f->nlevel, "or") : NULL;
}

static pl_code check_level(marking *m, size_t factor, const char *value)
{
    const pl_factor *f = &m->l.study->factors[factor];
    pl_run *run = m->run;
    double highest = 0;
    const char *why;
    pl_dim x;

    if ((int)factor == pl_study_pressed(m->l.study)) {
        if (pl_units_read(run->arena, value, f->kind, &x, &why) || x.si < 0)
            return pl_usage(run, "--made-as", pl_arena_printf(run->arena, "\"%s\"", value),
                            pl_quantity_name(f->kind), pl_quantity_examples(f->kind));
        for (size_t i = 0; i < f->nlevel; i++)
            highest = fmax(highest, f->levels[i].si);
        if (x.si <= FAR_ABOVE * highest)
            return PL_OK;
        return pl_usage(
            run, "--made-as", pl_arena_printf(run->arena, "\"%s\"", value),
            pl_arena_printf(run->arena, "at most %g times the highest level", FAR_ABOVE),
            "typing error?");
    }
    for (size_t i = 0; i < f->nlevel; i++)
        if (!strcmp(f->levels[i].text, value) ||
            (f->numeric && !pl_units_read(run->arena, value, f->kind, &x, &why) &&
             fabs(x.si - f->levels[i].si) <= 1e-9 * fabs(x.si)))
            return PL_OK;
    return pl_usage(run, "--made-as", pl_arena_printf(run->arena, "\"%s\"", value),
                    pl_arena_printf(run->arena, "a level of %s: %s", f->name, levels_of(run, f)),
                    "what was made with another one is no joint of this study: --exclude it");
}

static pl_code check_other(marking *m, const char *key, const char *value)
{
    static const char *const keys[] = { "board", "session", "open_time", "glue_order",
                                        "break_order" };
    pl_run *run = m->run;
    const char *why, *near, *shown = pl_arena_printf(run->arena, "\"%s\"", value);
    long long n;
    pl_dim x;

    if (!strcmp(key, "board")) {
        for (size_t i = 0; i < m->l.plan->nboard; i++)
            if (!strcmp(m->l.plan->boards[i].label, value))
                return PL_OK;
        return pl_usage(run, "--made-as", shown, "a board of this plan", "");
    }
    if (!strcmp(key, "open_time"))
        return pl_units_read(run->arena, value, PL_Q_TIME, &x, &why)
                   ? pl_usage(run, "--made-as", shown, "a time", "for example 12 min")
                   : PL_OK;
    if (!strcmp(key, "session") || !strcmp(key, "glue_order") || !strcmp(key, "break_order")) {
        size_t most = !strcmp(key, "session")      ? m->l.plan->nsession
                      : !strcmp(key, "glue_order") ? m->l.plan->nglue_up
                                                   : m->l.plan->nspecimen;

        return pl_text_to_whole(value, 1, (long long)most, &n)
                   ? PL_OK
                   : pl_usage(run, "--made-as", shown,
                              pl_arena_printf(run->arena, "a number from 1 to %zu", most), "");
    }
    near = pl_text_nearest(key, keys, sizeof keys / sizeof *keys);
    return pl_usage(run, "--made-as", pl_arena_printf(run->arena, "\"%s\"", key),
                    "a factor of the study, board, session, open_time, glue_order or break_order",
                    near ? pl_arena_printf(run->arena, "did you mean \"%s\"?", near) : "");
}

static pl_code made_as(marking *m, const char *given, pl_marking *out)
{
    const char *equals = strchr(given, '=');
    pl_run *run = m->run;

    if (!equals || equals == given || !equals[1])
        return pl_usage(run, "--made-as", pl_arena_printf(run->arena, "\"%s\"", given), "KEY=VALUE",
                        "for example --made-as \"pressure=1.1 N/mm2\"");
    out->key = pl_arena_strn(run->arena, given, (size_t)(equals - given));
    out->value = pl_arena_str(run->arena, equals + 1);
    if (!out->key || !out->value)
        return pl_nomem(&run->diags);
    for (size_t f = 0; f < m->l.study->nfactor; f++)
        if (!strcmp(m->l.study->factors[f].name, out->key))
            return check_level(m, f, out->value);
    return check_other(m, out->key, out->value);
}

static pl_code swapped(marking *m, const char *given, pl_marking *out)
{
    const pl_specimen *x = pl_plan_find(m->l.plan, given);

    if (m->nwhom != 1)
        return pl_usage(m->run, "--swapped-with",
                        pl_arena_printf(m->run->arena, "%zu specimens", m->nwhom),
                        "one specimen and the other one", "");
    if (!x || x == m->whom[0])
        return pl_usage(m->run, "--swapped-with", pl_arena_printf(m->run->arena, "\"%s\"", given),
                        "another specimen of this plan", "look at the label again");
    out->value = x->id;
    return PL_OK;
}

static pl_code photo(marking *m, const char *given, pl_marking *out)
{
    pl_run *run = m->run;
    char *bytes;
    pl_code rc = pl_file_read(run->arena, given, &bytes, &out->length, &run->diags);

    if (rc)
        return rc;
    out->bytes = bytes;
    out->key = pl_file_base(given);
    out->value = pl_digest(run->arena, bytes, out->length);
    return out->value ? PL_OK : pl_nomem(&run->diags);
}

static pl_code fill(marking *m, pl_mark_kind kind, const char *given, pl_marking *out)
{
    switch (kind) {
    case PL_MARK_SWAPPED:
        return swapped(m, given, out);
    case PL_MARK_MADE_AS:
        return made_as(m, given, out);
    case PL_MARK_PHOTO:
        return photo(m, given, out);
    case PL_MARK_APPLIED:
        if (strcmp(given, PL_APPLIED_UNKNOWN))
            return pl_usage(m->run, "--applied", pl_arena_printf(m->run->arena, "\"%s\"", given),
                            "unknown", "a pressure that is known: --made-as KEY=VALUE");
        /* fall through */
    default:
        out->value = given;
        return PL_OK;
    }
}

static pl_code make_list(marking *m)
{
    size_t most = 0;
    pl_code rc = PL_OK;

    for (int k = 0; k < PL_NMARKS; k++)
        most += m->o->values[k].count * m->nwhom;
    if (!most)
        return pl_usage(m->run, "", "nothing that happened", "one of the options",
                        "see: platen help mark");
    m->list = PL_NEWN(m->run->arena, most, pl_marking);
    if (!m->list)
        return pl_nomem(&m->run->diags);
    for (int k = 0; k < PL_NMARKS; k++)
        for (size_t i = 0; i < m->o->values[k].count; i++) {
            pl_marking one = { .kind = (pl_mark_kind)k,
                               .key = "",
                               .value = "",
                               .reason = m->o->reason ? m->o->reason : "",
                               .happened_at = m->at };
            pl_code code = fill(m, one.kind, m->o->values[k].items[i], &one);

            rc = rc ? rc : code;
            for (size_t w = 0; w < m->nwhom && !rc; w++) {
                m->list[m->count] = one;
                m->list[m->count++].specimen = m->whom[w]->id;
            }
        }
    return rc;
}

/* -------------------------------------------------------------- saying ----- */

static void say_one(pl_run *run, pl_jval *list, const pl_marking *m)
{
    pl_jval *o = pl_jadd_object(list, NULL);
    time_t t = (time_t)m->happened_at;
    struct tm tm;
    char at[32] = "";

    if (localtime_r(&t, &tm))
        strftime(at, sizeof at, "%Y-%m-%d %H:%M", &tm);
    pl_jadd_text(o, "specimen", m->specimen);
    pl_jadd_text(o, "kind", pl_mark_name(m->kind));
    pl_jadd_text(o, "key", m->key);
    pl_jadd_text(o, "value", m->value);
    pl_jadd_text(o, "reason", m->reason);
    pl_jadd_text(o, "at", at);
    pl_text_add(&run->text, "%s  %s  %s", at, m->specimen, pl_mark_name(m->kind));
    if (m->kind == PL_MARK_PHOTO)
        pl_text_add(&run->text, " %s (%.12s)", pl_text_one_line(run->arena, m->key), m->value);
    else if (m->value[0])
        pl_text_add(&run->text, " %s%s%s", m->key, m->key[0] ? "=" : "",
                    pl_text_one_line(run->arena, m->value));
    pl_text_add(&run->text, "%s%s\n", m->reason[0] ? ": " : "",
                pl_text_one_line(run->arena, m->reason));
}

/* What the press sets is the whole glue-up's. */
static void say_fellows(marking *m)
{
    bool whole = m->o->values[PL_MARK_MADE_AS].count || m->o->values[PL_MARK_APPLIED].count;

    for (size_t w = 0; w < m->nwhom && whole; w++) {
        size_t n = 0;

        for (size_t i = 0; i < m->l.plan->nspecimen; i++)
            n += m->l.plan->specimens[i].glue_up == m->whom[w]->glue_up;
        if (n > 1)
            pl_remark(&m->run->diags, m->whom[w]->id,
                      .found = pl_arena_printf(m->run->arena, "one of %zu specimens of glue-up %s",
                                               n, m->l.plan->glue_ups[m->whom[w]->glue_up].label),
                      .expected = "how it was made holds for all of them");
    }
}

static pl_code list_marks(marking *m)
{
    pl_jval *list = pl_jadd_array(m->run->answer, "marks");
    pl_readings readings;
    const pl_marking *marks = NULL;
    size_t n = 0;
    pl_code rc = pl_book_record(m->run->arena, m->l.book, m->l.study->name, &readings, &marks, &n,
                                &m->run->diags);

    for (size_t i = 0; i < n && !rc; i++)
        say_one(m->run, list, &marks[i]);
    if (!rc && !n)
        pl_text_put(&m->run->text, "Nothing is marked.\n");
    return rc;
}

static bool asks(const mark_options *o)
{
    bool any = o->reason || o->at;

    for (int k = 0; k < PL_NMARKS; k++)
        any = any || o->values[k].count;
    return any;
}

static pl_code run_mark(pl_run *run)
{
    marking m = { .run = run, .o = run->options };
    pl_book *book;
    pl_jval *list;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_PLAN, &m.l);

    if (rc)
        return rc;
    if (run->narg == 1 && !asks(m.o))
        return list_marks(&m);
    if (run->narg == 1)
        return pl_usage(run, "", "no specimen", "the id of the joint that it happened to", "");
    rc = find_specimens(&m);
    if (!rc)
        rc = read_time(&m);
    if (!rc)
        rc = check_reason(&m);
    if (!rc)
        rc = make_list(&m);
    if (!rc)
        rc = pl_book_open(run->arena, run->book, PL_BOOK_WRITE, &book, &run->diags);
    if (!rc)
        rc = pl_book_mark(book, m.l.study->name, m.list, m.count, &run->diags);
    if (rc)
        return rc;
    say_fellows(&m);
    list = pl_jadd_array(run->answer, "marks");
    for (size_t i = 0; i < m.count; i++)
        say_one(run, list, &m.list[i]);
    return PL_OK;
}

const pl_verb pl_verb_mark = {
    .name = "mark",
    .args = "STUDY [ID...]",
    .summary = "what happened to a joint, beside what was planned",
    .words =
        "Keeps what happened to a joint beside what was planned. The fit goes by what was\n"
        "really made: lost and excluded joints are left out and counted aloud with their reason,\n"
        "swapped labels are put right, and where joints are excluded the answer with them is\n"
        "shown too. KEY is a factor of the study, board, session, open_time, glue_order or\n"
        "break_order. Without an ID: everything that was marked.",
    .examples = "mark stair-lap K7M3 --exclude --reason \"glue starved at one end\"\n"
                "mark stair-lap K7M3 --swapped-with P2Q4 --at \"2027-03-03 14:05\"\n"
                "mark stair-lap K7M3 --made-as \"pressure=1.1 N/mm2\"\n"
                "mark stair-lap\n",
    .options = options,
    .take = take,
    .options_size = sizeof(mark_options),
    .least_args = 1,
    .most_args = 4096,
    .run = run_mark,
};
