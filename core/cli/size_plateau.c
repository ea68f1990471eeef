/* platen size, aim plateau: asks the simulation, keeps the person told, puts parts together, and
 * says what came out. The simulation is core/size's. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/digest.h"
#include "base/file.h"
#include "cli/picture.h"
#include "cli/size_ask.h"
#include "cli/size_of.h"
#include "cli/telling.h"
#include "page/grid.h"
#include "report/picture_size.h"
#include "size/plateau.h"

#define DRAWS 100000
#define SURE_TO 0.005

const char *pl_size_simulates(const pl_size_options *o)
{
    return o->draws && !o->drawn    ? "--draws"
           : o->merge.count         ? "--merge"
           : o->sure_to             ? "--sure-to"
           : o->seeded && !o->drawn ? "--seed"
           : o->from                ? "--from"
           : o->to                  ? "--to"
           : o->onset               ? "--onset"
           : o->floor               ? "--floor"
           : o->breaks              ? "--breaks-at-most"
                                    : NULL;
}

/* ---- what is asked ---- */

static pl_code read_draws(pl_run *run, const char *text, pl_plateau_question *q)
{
    const char *colon = strchr(text, ':');
    long long from = 0, to;
    bool fine = pl_text_to_whole(colon ? colon + 1 : text, 1, PL_PLATEAU_DRAWS_MOST, &to);

    if (colon)
        fine = fine && pl_text_to_whole(pl_arena_strn(run->arena, text, (size_t)(colon - text)), 0,
                                        to - 1, &from);
    if (!fine)
        return pl_usage(run, "--draws", pl_arena_printf(run->arena, "\"%s\"", text),
                        "a whole number, or the first and the end of a part: 0:50000",
                        "parts that follow each other meet: 0:50000, 50000:100000");
    q->from = (uint64_t)from;
    q->to = (uint64_t)to;
    q->whole_range = colon != NULL;
    return PL_OK;
}

static pl_code read_x(pl_run *run, const char *option, const char *text, pl_plateau_question *q,
                      double *out)
{
    const char *unit = text, *why = "";
    pl_dim dim;

    if (!text)
        return pl_usage(run, option, "nothing", "a measure such as \"0.2 N/mm2\"", "");
    if (!q->unit) {
        char *end;

        strtod(text, &end);
        unit = end + strspn(end, " ");
        q->kind = pl_units_kind(run->arena, unit);
    }
    if (q->kind == PL_Q_COUNT || pl_units_read(run->arena, text, q->kind, &dim, &why))
        return pl_usage(run, option, pl_arena_printf(run->arena, "\"%s\"", text),
                        "a measure with its unit, all of one kind", why);
    *out = dim.si;
    q->unit = dim.unit;
    return PL_OK;
}

/* "110 %" of the highest strength. */
static pl_code read_limit(pl_run *run, const char *text, double *out)
{
    char *end;

    *out = strtod(text, &end) / 100;
    if (end == text || strcmp(end + strspn(end, " "), "%") || !(*out > 0.5 && *out < 10))
        return pl_usage(run, "--breaks-at-most", pl_arena_printf(run->arena, "\"%s\"", text),
                        "a share of the highest strength, 50 to 1000 %, such as \"110 %\"", "");
    return PL_OK;
}

static pl_code read_within(pl_run *run, const char *text, double *out)
{
    const char *number = strncmp(text, "factor ", 7) ? text : text + 7;

    if (!pl_text_to_number(number, out) || !(*out > 1 && *out <= 100))
        return pl_usage(run, "--within", pl_arena_printf(run->arena, "\"%s\"", text),
                        "a factor above 1, such as \"factor 1.5\"", "");
    return PL_OK;
}

/* Levels at constant ratio, one guess. */
static pl_code from_flags(pl_run *run, const pl_size_options *o, pl_plateau_question *q)
{
    double low = NAN, high = NAN, *x;
    pl_plateau_guess *g = PL_NEW(run->arena, pl_plateau_guess);
    pl_code rc = read_within(run, o->within, &q->within);

    pl_size_question_init(&q->size);
    if (!rc && o->levels[0] < 3)
        rc = pl_usage(run, "--levels", o->levels[0] ? "fewer than 3" : "nothing", "3 to 24", "");
    if (!rc && !o->scatter)
        rc = pl_usage(run, "--scatter", "nothing", "how far joints made alike differ", "");
    if (!rc && (o->as_good || o->percentile || o->worth || o->width || o->both_sides))
        rc = pl_usage(run, "--within", "another aim beside it", "one aim at a time", "");
    if (!rc)
        rc = read_x(run, "--from", o->from, q, &low);
    if (!rc)
        rc = read_x(run, "--to", o->to, q, &high);
    x = PL_NEWN(run->arena, (size_t)o->levels[0], double);
    if (!x || !g)
        return pl_nomem(&run->diags);
    if (!rc)
        rc = read_x(run, "--onset", o->onset, q, &g->onset);
    g->floor = 0.4;
    if (!rc && o->floor)
        rc = pl_size_read_share(run, "--floor", o->floor, &g->floor);
    if (!rc)
        rc = pl_size_read_share(run, "--scatter", o->scatter, &q->size.sd);
    if (!rc && !(low > 0 && high > low))
        rc = pl_usage(run, "--to", o->to, "above --from, and that above zero", "");
    if (rc)
        return rc;
    for (size_t k = 0; k < (size_t)o->levels[0]; k++)
        x[k] = low * pow(high / low, (double)k / (double)(o->levels[0] - 1));
    x[o->levels[0] - 1] = high;
    g->curve = "saturating-exponential";
    g->weight = 1;
    q->levels = x;
    q->K = (size_t)o->levels[0];
    q->share = 0.95;
    q->guesses = g;
    q->nguess = 1;
    q->size.levels = (unsigned)o->levels[0];
    q->size.relative = true;
    q->size.from = o->scatter_from ? PL_SCATTER_PILOT : PL_SCATTER_KNOWN;
    q->size.sd_df = o->scatter_from ? (double)o->scatter_from - 1 : NAN;
    return PL_OK;
}

static pl_code ask(pl_run *run, const pl_size_options *o, const pl_study *s, pl_plateau_question *q)
{
    pl_code rc;

    *q = (pl_plateau_question){ .to = DRAWS, .sure_to = SURE_TO, .seed = 1 };
    rc = s ? pl_plateau_from_study(run->arena, s, q, &run->diags) : from_flags(run, o, q);
    if (!rc && o->draws)
        rc = read_draws(run, o->draws, q);
    if (!rc && o->sure_to)
        rc = pl_size_read_share(run, "--sure-to", o->sure_to, &q->sure_to);
    if (!rc)
        rc = pl_size_read_chance(run, "--miss-at-most", o->miss, &q->size.miss_at_most);
    q->limit = o->limit;
    if (!rc && o->breaks)
        rc = read_limit(run, o->breaks, &q->limit);
    if (!rc)
        q->limit = pl_size_limit_near(&q->size, q->limit);
    if (o->seeded)
        q->seed = (uint64_t)o->seed;
    if (o->glue_ups)
        q->size.glue_ups_per_level = (unsigned)o->glue_ups;
    return rc;
}

/* All that the counts hang on, as a digest: parts with the same one may be added. */
static char *digest_of(pl_arena *a, const pl_plateau_question *q)
{
    pl_text t;
    char *text;

    pl_text_init(&t, a);
    for (size_t k = 0; k < q->K; k++)
        pl_text_add(&t, "%.17g ", q->levels[k]);
    for (size_t g = 0; g < q->nguess; g++)
        pl_text_add(&t, "%s %d %.17g %.17g %.17g ", q->guesses[g].curve, q->guesses[g].log_x,
                    q->guesses[g].floor, q->guesses[g].onset, q->guesses[g].weight);
    pl_text_add(&t, "%.17g %.17g %.17g %d %.17g %.17g %.17g %d %u %u %.17g", q->share, q->within,
                q->limit, q->size.relative, pl_size_sd(&q->size), q->size.sd_df, q->size.sd_high,
                (int)q->size.from, q->size.block_size, q->size.glue_ups_per_level,
                q->size.upper_confidence);
    text = pl_text_done(&t);
    return text ? pl_digest(a, text, strlen(text)) : NULL;
}

static pl_code simulate(pl_run *run, const pl_plateau_question *q, pl_plateau_answer **out)
{
    pl_telling t;
    pl_code rc;

    pl_telling_begin(&t);
    rc = pl_plateau_size(run->arena, q, pl_telling_watch, &t, out, &run->diags);
    pl_telling_end(&t);
    return rc;
}

/* ---- parts put together ---- */

static bool count_of(const pl_json *o, const char *key, uint64_t *out)
{
    const pl_json *v = o && o->kind == PL_JSON_OBJECT ? pl_json_get(o, key) : NULL;

    if (!v || v->kind != PL_JSON_NUMBER || !(v->number >= 0 && v->number <= 9e15) ||
        v->number != floor(v->number))
        return false;
    *out = (uint64_t)v->number;
    return true;
}

static const char *const cell_keys[PL_NSIZE_BASES] = { "ends", "ends_at_upper", "ends_assured" };

static bool read_cell(const pl_json *row, int basis, pl_plateau_cell *c)
{
    const pl_json *o = pl_json_get(row, cell_keys[basis]);

    memset(c, 0, sizeof *c);
    if (!o || o->kind == PL_JSON_NULL)
        return true;
    for (int e = 0; e < PL_NPLATEAU_ENDS; e++) {
        if (!count_of(o, pl_plateau_end_name((pl_plateau_end)e), &c->ends[e]))
            return false;
        c->draws += c->ends[e];
    }
    return true;
}

/* One row of a file, onto that of the same layout and number. */
static bool add_part(pl_plateau_answer *w, const pl_json *row, size_t most)
{
    const pl_json *layout = row->kind == PL_JSON_OBJECT ? pl_json_get(row, "layout") : NULL;
    pl_plateau_row *to = NULL;
    pl_plateau_cell c;
    uint64_t n;
    int l = 0;

    if (!layout || layout->kind != PL_JSON_STRING || !count_of(row, "glue_ups_per_level", &n))
        return false;
    while (l < PL_NPLATEAU_LAYOUTS &&
           strcmp(layout->string, pl_plateau_layout_name((pl_plateau_layout)l)))
        l++;
    if (l == PL_NPLATEAU_LAYOUTS || n > PL_SIZE_CAP)
        return false;
    for (size_t i = 0; i < w->nrow; i++)
        if ((int)w->rows[i].layout == l && w->rows[i].glue_ups_per_level == n)
            to = &w->rows[i];
    if (!to && w->nrow == most)
        return false;
    if (!to) {
        to = &w->rows[w->nrow++];
        *to = (pl_plateau_row){ .layout = (pl_plateau_layout)l, .glue_ups_per_level = (unsigned)n };
    }
    w->has[l] = true;
    for (int b = 0; b < PL_NSIZE_BASES; b++) {
        if (!read_cell(row, b, &c))
            return false;
        to->cell[b].draws += c.draws;
        for (int e = 0; e < PL_NPLATEAU_ENDS; e++)
            to->cell[b].ends[e] += c.ends[e];
    }
    return true;
}

typedef struct part {
    const char *file;
    uint64_t from, to;
} part;

static pl_code unlike(pl_run *run, const char *file, const char *found, const char *expected)
{
    return pl_fail(&run->diags, PL_ECONFLICT, file, .found = found, .expected = expected,
                   .mend = "parts are made by the same command with other --draws A:B and --json");
}

static pl_code read_part(pl_run *run, const char *file, const pl_plateau_question *q,
                         pl_plateau_answer *w, size_t most, part *p)
{
    const pl_json *root = NULL, *question, *table;
    uint64_t seed = 0;
    pl_code rc = pl_json_read(run->arena, file, &root, &run->diags);

    if (rc)
        return rc;
    question = root->kind == PL_JSON_OBJECT ? pl_json_get(root, "question") : NULL;
    table = question ? pl_json_get(root, "table") : NULL;
    p->file = file;
    if (!question || question->kind != PL_JSON_STRING || !table || table->kind != PL_JSON_ARRAY ||
        !count_of(root, "seed", &seed) || !count_of(root, "draws_from", &p->from) ||
        !count_of(root, "draws_to", &p->to))
        return unlike(run, file, "no part of a simulation", "JSON of platen size --draws A:B");
    if (strcmp(question->string, digest_of(run->arena, q)))
        return unlike(run, file, "a part of another question", "the study as it is asked here");
    if (seed != q->seed)
        return unlike(run, file, pl_arena_printf(run->arena, "seed %llu", (unsigned long long)seed),
                      pl_arena_printf(run->arena, "seed %llu", (unsigned long long)q->seed));
    for (const pl_json *row = table->child; row; row = row->next)
        if (!add_part(w, row, most))
            return unlike(run, file, "a row that cannot be read", "rows as size writes them");
    return PL_OK;
}

static int by_place(const void *a, const void *b)
{
    const pl_plateau_row *x = a, *y = b;

    return x->layout != y->layout ? (x->layout > y->layout) - (x->layout < y->layout)
                                  : (x->glue_ups_per_level > y->glue_ups_per_level) -
                                        (x->glue_ups_per_level < y->glue_ups_per_level);
}

static int by_start(const void *a, const void *b)
{
    const part *x = a, *y = b;

    return (x->from > y->from) - (x->from < y->from);
}

static pl_code merge(pl_run *run, const pl_size_options *o, pl_plateau_question *q,
                     pl_plateau_answer **out)
{
    const size_t n = o->merge.count, most = (size_t)PL_NPLATEAU_LAYOUTS * (PL_SIZE_CAP + 1);
    pl_plateau_answer *w = PL_NEW(run->arena, pl_plateau_answer);
    part *parts = PL_NEWN(run->arena, n, part);
    pl_code rc = PL_OK, one;

    if (!w || !parts || !(w->rows = PL_NEWN(run->arena, most, pl_plateau_row)))
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < n; i++) {
        one = read_part(run, o->merge.items[i], q, w, most, &parts[i]);
        rc = rc ? rc : one;
    }
    if (rc)
        return rc;
    qsort(parts, n, sizeof *parts, by_start);
    for (size_t i = 1; i < n; i++)
        if (parts[i].from < parts[i - 1].to)
            return unlike(run, parts[i].file,
                          pl_arena_printf(run->arena, "draws that %s holds too", parts[i - 1].file),
                          "draws of its own");
    q->from = parts[0].from;
    q->to = parts[n - 1].to;
    qsort(w->rows, w->nrow, sizeof *w->rows, by_place);
    w->sd_upper = NAN;
    pl_plateau_needs(q, w);
    *out = w;
    return PL_OK;
}

/* ---- the answer ---- */

static void add_ends(pl_jval *o, const pl_plateau_row *r, int b)
{
    pl_jval *ends;

    if (!r->cell[b].draws) {
        pl_jadd_null(o, cell_keys[b]);
        return;
    }
    ends = pl_jadd_object(o, cell_keys[b]);
    for (int e = 0; e < PL_NPLATEAU_ENDS; e++)
        pl_jadd_whole(ends, pl_plateau_end_name((pl_plateau_end)e), (long long)r->cell[b].ends[e]);
}

static void add_row(pl_jval *o, const pl_plateau_question *q, const pl_plateau_row *r)
{
    pl_jadd_text(o, "layout", pl_plateau_layout_name(r->layout));
    pl_jadd_whole(o, "glue_ups_per_level", r->glue_ups_per_level);
    pl_jadd_whole(o, "specimens_per_glue_up", q->size.specimens_per_glue_up);
    pl_jadd_whole(o, "glue_ups", (long long)r->glue_ups_per_level * (long long)q->K);
    pl_jadd_whole(o, "specimens",
                  (long long)r->glue_ups_per_level * (long long)q->K *
                      (long long)q->size.specimens_per_glue_up);
    pl_jadd_number(o, "power", pl_plateau_chance(&r->cell[PL_SIZE_AS_GIVEN]));
    pl_jadd_number(o, "power_at_upper", pl_plateau_chance(&r->cell[PL_SIZE_AT_UPPER]));
    pl_jadd_number(o, "assurance", pl_plateau_chance(&r->cell[PL_SIZE_ASSURED]));
    pl_jadd_number(o, "mc_se", pl_plateau_mc_se(&r->cell[PL_SIZE_AS_GIVEN]));
    pl_jadd_whole(o, "draws", (long long)r->cell[PL_SIZE_AS_GIVEN].draws);
    for (int b = 0; b < PL_NSIZE_BASES; b++)
        add_ends(o, r, b);
}

static void add_need(pl_run *run, const char *key, const pl_plateau_question *q,
                     const pl_plateau_answer *w, pl_size_basis b)
{
    for (size_t i = 0; i < w->nrow; i++)
        if (w->rows[i].layout == PL_LAYOUT_ASKED && w->need[PL_LAYOUT_ASKED][b] &&
            w->rows[i].glue_ups_per_level == w->need[PL_LAYOUT_ASKED][b]) {
            add_row(pl_jadd_object(run->answer, key), q, &w->rows[i]);
            return;
        }
    pl_jadd_null(run->answer, key);
}

static void add_answer(pl_run *run, const pl_plateau_question *q, const pl_plateau_answer *w)
{
    pl_jval *list;

    pl_jadd_text(run->answer, "aim", "plateau");
    pl_jadd_number(run->answer, "sd", pl_size_sd(&q->size));
    pl_jadd_number(run->answer, "sd_upper", w->sd_upper);
    pl_jadd_text(run->answer, "question", digest_of(run->arena, q));
    pl_jadd_whole(run->answer, "seed", (long long)q->seed);
    pl_jadd_whole(run->answer, "draws_from", (long long)q->from);
    pl_jadd_whole(run->answer, "draws_to", (long long)q->to);
    list = pl_jadd_array(run->answer, "table");
    for (size_t i = 0; i < w->nrow; i++)
        add_row(pl_jadd_object(list, NULL), q, &w->rows[i]);
    add_need(run, "need", q, w, PL_SIZE_AS_GIVEN);
    add_need(run, "advised", q, w, pl_plateau_advised(q));
}

static pl_code say_table(pl_run *run, const pl_plateau_question *q, const pl_plateau_answer *w)
{
    pl_grid *g = pl_grid_new(run->arena);
    bool upper = q->size.from != PL_SCATTER_KNOWN, pilot = q->size.from == PL_SCATTER_PILOT;
    const char *text;

    pl_grid_column(g, PL_SIDE_LEFT, "levels", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "glue-ups per level", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "chance of finding it", "%");
    pl_grid_column(g, PL_SIDE_RIGHT, "give or take", "%");
    if (upper)
        pl_grid_column(g, PL_SIDE_RIGHT, "if scatter is at its upper limit", "%");
    if (pilot)
        pl_grid_column(g, PL_SIDE_RIGHT, "over what the pilot leaves open", "%");
    for (size_t i = 0; i < w->nrow; i++) {
        const pl_plateau_row *r = &w->rows[i];

        pl_grid_cellf(g, "%s", pl_plateau_layout_name(r->layout));
        pl_grid_cellf(g, "%u", r->glue_ups_per_level);
        pl_grid_number(g, 100 * pl_plateau_chance(&r->cell[PL_SIZE_AS_GIVEN]), 3);
        pl_grid_number(g, 100 * pl_plateau_mc_se(&r->cell[PL_SIZE_AS_GIVEN]), 2);
        if (upper)
            pl_grid_number(g, 100 * pl_plateau_chance(&r->cell[PL_SIZE_AT_UPPER]), 3);
        if (pilot)
            pl_grid_number(g, 100 * pl_plateau_chance(&r->cell[PL_SIZE_ASSURED]), 3);
    }
    text = pl_grid_text(run->arena, g, 80);
    if (!text)
        return pl_nomem(&run->diags);
    pl_text_add(&run->text,
                "\nDetails\n%sSimulated with seed %llu; \"give or take\" is one standard error.\n",
                text, (unsigned long long)q->seed);
    return PL_OK;
}

static pl_code say(pl_run *run, const pl_plateau_question *q, const pl_plateau_answer *w)
{
    const char *words = pl_plateau_words(run->arena, q, w);
    const pl_plot *plot = NULL;
    pl_code rc = PL_OK;

    if (!words)
        return pl_nomem(&run->diags);
    add_answer(run, q, w);
    pl_jadd_text(run->answer, "words", words);
    pl_text_put(&run->text, words);
    if (pl_picture_asked(run))
        rc = pl_picture_plateau_size(run->arena, q, w, &plot, &run->diags);
    if (!rc && plot)
        rc = pl_picture_put(run, plot, NULL, 20);
    return rc ? rc : say_table(run, q, w);
}

pl_code pl_size_plateau(pl_run *run, const pl_size_options *o, const pl_study *s)
{
    pl_plateau_answer *w = NULL;
    pl_plateau_question q;
    pl_code rc = ask(run, o, s, &q);

    if (!rc && o->merge.count && o->draws)
        rc = pl_usage(run, "--merge", "--draws beside it", "one of them", "");
    if (!rc)
        rc = o->merge.count ? merge(run, o, &q, &w) : simulate(run, &q, &w);
    if (!rc && w)
        rc = say(run, &q, w);
    if (!rc && w && w->stopped) /* what is known is said; the exit says that it is not all */
        return pl_fail(&run->diags, PL_EPREC, "size", .found = "stopped by hand",
                       .expected = "an answer as sure as was asked");
    return rc;
}
