/* Invents the readings of the demo: filled-in forms and recorded pulls for a
 * frozen plan of designs/stair-lap.json. Nothing here was ever measured.
 *
 *   invent BOOK STUDY FOLDER SEED
 *
 * The truth behind the readings, so that an answer can be held against it
 * (strength in N/mm2, p = pressure on the bond in N/mm2):
 *   beech  11.4 - 6.9 exp(-p / 0.28): 95 % of what it reaches at 2.4 from 0.70 on
 *   larch   7.9 - 4.3 exp(-p / 0.15): 95 % from 0.36 on
 * times 1 + board (sd 6 %) + joint (sd 5 %). And a bad day: one dial set wrong,
 * one joint dropped, three breaks in the wood, one glue-up closed late.
 *
 * For a study without rigs a plainer story and no bad day: 9 N/mm2 times
 * 1 + the sum over the factors of
 *   measured levels, u = 0 at the lowest to 1 at the highest: 0.3 (1 - ((u - 0.65) / 0.65)^2) - 0.2
 *   others: 0.08, 0, -0.08, 0.08, ... by their place in the list
 * + board (sd 6 %) + each layer of stretches (sd 4 %) + joint (sd 5 %). */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "base/csv.h"
#include "base/file.h"
#include "base/stream.h"
#include "base/text.h"
#include "base/units.h"
#include "bench/forms.h"
#include "book/book.h"

#define BOARD_SD 0.06
#define JOINT_SD 0.05
#define STRETCH_SD 0.04
#define PULLS 4 /* joints whose pull was recorded */
#define PULL_HZ 20.0
#define PULL_S 24.0      /* from load to break */
#define LATE_S (14 * 60) /* the late closing, after spreading */
#define LATE_LOSS 0.15
#define WRONG_DIAL 0.62 /* of what was meant */

typedef struct story {
    pl_arena *a;
    pl_diags *d;
    const pl_study *s;
    const pl_plan *p;
    pl_stream draw;
    const char *folder;
    double *board;                   /* factor of each board */
    double *dial;                    /* of each glue-up, SI; NAN for weights */
    double *pressure_Pa;             /* of each glue-up, really made */
    size_t wrong, late;              /* glue-ups */
    size_t dropped;                  /* specimen */
    size_t wood[3];                  /* specimens */
    size_t pull[PULLS];              /* specimens */
    bool plain;                      /* no rigs */
    double *stretch[PL_LAYERS_MOST]; /* share that each stretch adds, from number 1 */
} story;

static const char *level(const story *y, const pl_glue_up *g, const char *factor)
{
    for (size_t f = 0; f < y->p->nfactor; f++)
        if (!strcmp(y->s->factors[f].name, factor))
            return y->s->factors[f].levels[y->p->treatments[g->treatment * y->p->nfactor + f]].text;
    return "";
}

static const pl_set_point *set_point(const story *y, const pl_glue_up *g)
{
    size_t f = (size_t)pl_study_pressed(y->s);

    return pl_set_points_at(
        &y->p->points, (size_t)y->p->treatments[g->treatment * y->p->nfactor + f], (size_t)g->rig);
}

static bool high_level(const story *y, const pl_glue_up *g)
{
    int f = pl_study_pressed(y->s);

    return y->s->factors[f].levels[y->p->treatments[g->treatment * y->p->nfactor + (size_t)f]].si >=
           1.3e6;
}

/* Who has the bad day: first ones of the right kind, from a drawn start. */
static void cast(story *y)
{
    size_t n = y->p->nglue_up, wood = 0, pulls = 0;
    size_t from = pl_stream_below(&y->draw, (uint32_t)n);

    y->wrong = y->late = y->dropped = SIZE_MAX;
    for (size_t k = 0; k < 3; k++)
        y->wood[k] = SIZE_MAX;
    for (size_t k = 0; k < PULLS; k++)
        y->pull[k] = SIZE_MAX;
    if (y->plain)
        return;
    for (size_t k = 0; k < n; k++) {
        size_t i = (from + k) % n, first = 0;
        const pl_glue_up *g = &y->p->glue_ups[i];

        if (g->spare)
            continue;
        while (y->p->specimens[first].glue_up != i)
            first++;
        if (y->wrong == SIZE_MAX && high_level(y, g) && set_point(y, g)->dial_unit[0])
            y->wrong = i;
        else if (wood < 3 && high_level(y, g) && !strcmp(level(y, g, "species"), "beech"))
            y->wood[wood++] = first;
        else if (y->late == SIZE_MAX && !high_level(y, g))
            y->late = i;
        else if (y->dropped == SIZE_MAX && !high_level(y, g))
            y->dropped = first;
        else if (pulls < PULLS)
            y->pull[pulls++] = first;
    }
}

static void press(story *y)
{
    for (size_t b = 0; b < y->p->nboard; b++)
        y->board[b] = 1 + BOARD_SD * pl_stream_normal(&y->draw);
    for (size_t i = 0; i < y->p->nglue_up; i++) {
        const pl_glue_up *g = &y->p->glue_ups[i];
        const pl_set_point *point;
        double off = 1 + 0.01 * pl_stream_normal(&y->draw);

        y->dial[i] = NAN;
        if (g->spare || y->plain)
            continue;
        if (i == y->wrong)
            off *= WRONG_DIAL;
        point = set_point(y, g);
        y->pressure_Pa[i] = point->gives_N / y->s->joint.press_area_m2;
        if (!point->dial_unit[0])
            continue;
        y->dial[i] = point->dial * off * 1e5; /* the air press shows bar */
        y->pressure_Pa[i] *= off;
    }
}

static double plain_share(const story *y, const pl_glue_up *g)
{
    double share = 1;

    for (size_t f = 0; f < y->p->nfactor; f++) {
        const pl_factor *k = &y->s->factors[f];
        int l = y->p->treatments[g->treatment * y->p->nfactor + f];
        double low = k->levels[0].si, high = k->levels[k->nlevel - 1].si;
        double u = (k->levels[l].si - low) / (high - low);

        share += k->numeric ? 0.3 * (1 - pow((u - 0.65) / 0.65, 2)) - 0.2 : 0.08 * (1 - l % 3);
    }
    for (unsigned l = 0; l < PL_LAYERS_MOST; l++)
        share += g->stretch[l] ? y->stretch[l][g->stretch[l]] : 0;
    return share;
}

static double strength_Pa(story *y, size_t specimen)
{
    size_t i = y->p->specimens[specimen].glue_up;
    const pl_glue_up *g = &y->p->glue_ups[i];
    double p = y->pressure_Pa[i] / 1e6, mean;
    double each = (g->board >= 0 ? y->board[g->board] : 1) + JOINT_SD * pl_stream_normal(&y->draw);

    if (y->plain)
        return 9e6 * (plain_share(y, g) + each - 1);
    mean = strcmp(level(y, g, "species"), "beech") ? 7.9 - 4.3 * exp(-p / 0.15)
                                                   : 11.4 - 6.9 * exp(-p / 0.28);
    return 1e6 * mean * each * (i == y->late ? 1 - LATE_LOSS : 1);
}

/* ------------------------------------------------------------- forms ------- */

typedef const char *(*filler)(story *y, const char *key, const char *column, const char *unit);

static pl_code fill_form(story *y, pl_form form, filler fill)
{
    const char *blank = pl_form_write(y->a, form, y->s, y->p, NULL);
    const char *name = pl_arena_printf(y->a, "%s.csv", pl_form_name(form));
    const pl_csv *csv;
    pl_text t;
    pl_code rc;

    if (!blank || !name)
        return pl_nomem(y->d);
    rc = pl_csv_parse(y->a, name, blank, strlen(blank), &csv, y->d);
    if (rc)
        return rc;
    pl_text_init(&t, y->a);
    pl_text_bytes(&t, blank, strcspn(blank, "\n") + 1);
    for (size_t row = 0; row < csv->nrow; row++)
        for (size_t col = 0; col < csv->ncol; col++) {
            const char *cell = pl_csv_at(csv, row, col)->text;

            if (!cell[0])
                cell = fill(y, pl_csv_at(csv, row, 0)->text, csv->names[col], csv->units[col]);
            pl_csv_put(&t, cell ? cell : "");
            pl_text_put(&t, col + 1 < csv->ncol ? "," : "\n");
        }
    blank = pl_text_done(&t);
    if (!blank)
        return pl_nomem(y->d);
    return pl_file_write(pl_file_join(y->a, y->folder, name), blank, t.length, true, y->d);
}

static const char *clock_text(story *y, double after_midnight_s)
{
    long s = lround(after_midnight_s);

    return pl_arena_printf(y->a, "%02ld:%02ld", s / 3600 % 24, s / 60 % 60);
}

/* A session a day from 3 March 2026 on. */
static const char *day_of(story *y, int session)
{
    struct tm day = { .tm_year = 126, .tm_mon = 2, .tm_mday = 2 + session };
    char text[32];

    timegm(&day);
    return strftime(text, sizeof text, "%Y-%m-%d", &day) ? pl_arena_str(y->a, text) : NULL;
}

static const char *fill_session(story *y, const char *key, const char *column, const char *unit)
{
    (void)unit;
    if (!strcmp(column, "date"))
        return day_of(y, atoi(key));
    if (!strcmp(column, "operator"))
        return "invented";
    if (!strcmp(column, "room_temperature"))
        return pl_arena_printf(y->a, "%.1f", 19.5 + 0.5 * atoi(key));
    if (!strcmp(column, "adhesive_batch"))
        return "invented-1";
    return "";
}

static const char *fill_glue_up(story *y, const char *key, const char *column, const char *unit)
{
    static double closed; /* of the row at hand */
    const pl_glue_up *g = pl_plan_find_glue_up(y->p, key);
    size_t i = (size_t)(g - y->p->glue_ups);
    double spread = 8 * 3600 + (isnan(g->start_s) ? 0 : g->start_s);
    double after = i == y->late ? LATE_S : 180 + pl_stream_below(&y->draw, 121);

    if (!strcmp(column, "spread_at"))
        return clock_text(y, spread);
    if (!strcmp(column, "closed_at"))
        return clock_text(y, closed = spread + after);
    if (!strcmp(column, "pressed_at"))
        return clock_text(y, closed + 60);
    if (!strcmp(column, "opened_at"))
        return clock_text(y, closed + 60 + y->s->times.clamp_s);
    if (!strcmp(column, "dial_at_start") && !isnan(y->dial[i]))
        return pl_text_number(y->a, pl_units_from_si(y->dial[i] * 1.005, PL_Q_PRESSURE, unit), 3);
    if (!strcmp(column, "dial_at_end") && !isnan(y->dial[i]))
        return pl_text_number(y->a, pl_units_from_si(y->dial[i] * 0.995, PL_Q_PRESSURE, unit), 3);
    return "";
}

static bool among(const size_t *list, size_t n, size_t x)
{
    for (size_t i = 0; i < n; i++)
        if (list[i] == x)
            return true;
    return false;
}

/* One pull: seating, a ramp with a little noise, the break, and what is left. */
static pl_code record(story *y, const char *id, double peak_N)
{
    const char *name = pl_arena_printf(y->a, "pull-%s.csv", id);
    size_t n = (size_t)(PULL_HZ * (PULL_S + 3));
    pl_text t;
    const char *text;

    pl_text_init(&t, y->a);
    pl_text_put(&t, "time [s],force [kN]\n");
    for (size_t k = 0; k < n; k++) {
        double s = (double)k / PULL_HZ, load = (s - 1.5) / PULL_S;
        double N = load < 0 ? 0 : load > 1 ? 0.06 * peak_N : peak_N * load;

        if (load > 0 && load <= 1 && load + 1 / (PULL_HZ * PULL_S) > 1)
            N = peak_N; /* the last sample before the break */
        N += 4 * pl_stream_normal(&y->draw) * (N < peak_N);
        pl_text_add(&t, "%.2f,%.4f\n", s, N / 1000 + 0.012);
    }
    text = pl_text_done(&t);
    if (!text)
        return pl_nomem(y->d);
    return pl_file_write(pl_file_join(y->a, y->folder, name), text, t.length, true, y->d);
}

static const char *fill_break(story *y, const char *key, const char *column, const char *unit)
{
    static double width, overlap, peak_N; /* of the row at hand */
    const pl_specimen *x = pl_plan_find(y->p, key);
    size_t i = (size_t)(x - y->p->specimens);
    bool dropped = i == y->dropped, wood = among(y->wood, 3, i), pull = among(y->pull, PULLS, i);

    if (!strcmp(column, "broken_at"))
        return pl_arena_printf(y->a, "2026-03-16 %s",
                               clock_text(y, 9 * 3600 + 240.0 * x->break_order));
    if (!strcmp(column, y->s->joint.size_names[0])) {
        width = y->s->joint.size[0].si + 2e-4 * pl_stream_normal(&y->draw);
        return pl_arena_printf(y->a, "%.1f", width * 1000);
    }
    if (!strcmp(column, y->s->joint.size_names[1])) {
        overlap = y->s->joint.size[1].si + 2e-4 * pl_stream_normal(&y->draw);
        return pl_arena_printf(y->a, "%.1f", overlap * 1000);
    }
    if (!strcmp(column, "peak")) {
        peak_N = strength_Pa(y, i) * width * overlap;
        if (pull && record(y, x->id, peak_N))
            return NULL;
        if (dropped || pull)
            return "";
        return pl_text_number(y->a, pl_units_from_si(peak_N, PL_Q_FORCE, unit), 4);
    }
    if (!strcmp(column, "wood_failure"))
        return dropped ? ""
                       : pl_arena_printf(y->a, "%u",
                                         (wood ? 80 : 0) + 5 * pl_stream_below(&y->draw, 5));
    if (!strcmp(column, "mode"))
        return dropped                        ? "handling"
               : wood                         ? "wood"
               : pl_stream_below(&y->draw, 2) ? "adhesive"
                                              : "cohesive";
    if (!strcmp(column, "trace") && pull)
        return pl_arena_printf(y->a, "pull-%s.csv", x->id);
    if (!strcmp(column, "note"))
        return dropped ? "dropped on the way to the bench" : "";
    return "";
}

static pl_code invent(story *y, const char *path, const char *study)
{
    pl_book *book;
    pl_code rc = pl_book_open(y->a, path, PL_BOOK_READ, &book, y->d);

    if (!rc)
        rc = pl_book_plan(y->a, book, study, 0, &y->s, &y->p, y->d);
    if (!rc)
        rc = pl_file_folder(y->folder, y->d);
    if (rc)
        return rc;
    y->board = PL_NEWN(y->a, y->p->nboard, double);
    y->dial = PL_NEWN(y->a, y->p->nglue_up, double);
    y->pressure_Pa = PL_NEWN(y->a, y->p->nglue_up, double);
    y->plain = !y->p->points.at || pl_study_pressed(y->s) < 0;
    for (unsigned l = 0; l < PL_LAYERS_MOST; l++) {
        y->stretch[l] = PL_NEWN(y->a, y->p->nglue_up + 1, double);
        for (size_t i = 0; y->stretch[l] && i <= y->p->nglue_up && y->p->glue_ups[0].stretch[l];
             i++)
            y->stretch[l][i] = STRETCH_SD * pl_stream_normal(&y->draw);
    }
    if (!y->board || !y->dial || !y->pressure_Pa || !y->stretch[0] || !y->stretch[1])
        return pl_nomem(y->d);
    cast(y);
    press(y);
    rc = fill_form(y, PL_FORM_SESSIONS, fill_session);
    if (!rc)
        rc = fill_form(y, PL_FORM_GLUE_UPS, fill_glue_up);
    return rc ? rc : fill_form(y, PL_FORM_BREAKS, fill_break);
}

int main(int argc, char **argv)
{
    pl_arena *a = pl_arena_new(0);
    pl_diags d;
    story y = { .a = a, .d = &d };
    long long seed;
    pl_code rc;

    if (argc != 5 || !pl_text_to_whole(argv[4], 0, (long long)PL_SEED_LIMIT - 1, &seed)) {
        fprintf(stderr, "invent BOOK STUDY FOLDER SEED\n");
        return 2;
    }
    gsl_set_error_handler_off();
    pl_diags_init(&d, a);
    y.folder = argv[3];
    pl_stream_init(&y.draw, (uint64_t)seed, PL_FOR_DEMO, 0);
    rc = invent(&y, argv[1], argv[2]);
    for (size_t i = 0; i < d.count; i++)
        fprintf(stderr, "%s\n", pl_diag_text(a, &d.items[i]));
    pl_arena_free(a);
    return pl_code_exit(rc);
}
