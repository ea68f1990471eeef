/* One cell of a filled-in form: checked, turned into SI, kept as a reading. */
#include "bench/reader.h"

#include <ctype.h>
#include <math.h>
#include <string.h>
#include <time.h>

#include "base/text.h"

#define HALF_A_DAY 43200.0

pl_code pl_cell_fail(pl_reader *r, pl_code code, const pl_csv_cell *cell, const char *expected,
                     const char *mend)
{
    const char *where = pl_csv_where(r->a, r->csv, cell);
    const char *found = pl_arena_printf(r->a, "\"%.60s\"", cell->text);

    if (r->nomem || !where || !found || !expected) {
        r->nomem = true;
        return pl_nomem(r->d);
    }
    return pl_fail(r->d, code, where, .found = found, .expected = expected, .mend = mend);
}

static void keep(pl_reader *r, const pl_row *row, const pl_form_column *c, const pl_csv_cell *cell,
                 const char *text, double value, const char *unit)
{
    const char *id = c->of_rig && row->rig_id ? row->rig_id : row->id;
    pl_reading one = { .subject = row->subject,
                       .id = id,
                       .quantity = c->name,
                       .text = text,
                       .value = value,
                       .unit = unit,
                       .where = pl_csv_where(r->a, r->csv, cell) };
    /* Rows of one session repeat what is the session's own. */
    const pl_reading *before = r->form == PL_FORM_SESSIONS
                                   ? pl_readings_find(r->out, row->subject, id, c->name)
                                   : NULL;

    if (!one.where || !one.text || !one.unit) {
        r->nomem = true;
        return;
    }
    if (before && !strcmp(before->text, text))
        return;
    if (before) {
        pl_cell_fail(r, PL_ECONFLICT, cell,
                     pl_arena_printf(r->a, "\"%.60s\", as in %s", before->text, before->where),
                     "one session has one of these: leave it blank in its further rows");
        return;
    }
    if (pl_readings_add(r->a, r->out, one, r->d) || pl_readings_add(r->a, r->all, one, r->d))
        r->nomem = true;
}

/* ------------------------------------------------------------------ numbers ---- */

static const char *limits_words(pl_reader *r, const pl_form_column *c, const pl_column_in *in)
{
    if (c->cell == PL_CELL_PERCENT)
        return pl_arena_printf(r->a, "%g to %g %%", 100 * c->low, 100 * c->high);
    if (c->cell == PL_CELL_DIAL || c->cell == PL_CELL_PEAK)
        return "a number that is not negative";
    return pl_arena_printf(r->a, "%s to %s", pl_units_text(r->a, c->low, in->kind, in->unit, 3),
                           pl_units_text(r->a, c->high, in->kind, in->unit, 3));
}

/* With ';' between cells a comma within is a decimal one. */
static const char *pointed(pl_reader *r, const char *text)
{
    char *copy = pl_arena_str(r->a, text);

    for (char *s = copy; s && *s && r->csv->delimiter == ';'; s++)
        if (*s == ',')
            *s = '.';
    return copy;
}

/* "2.84" in the header's unit, or "2.84 kN" with its own. */
static bool one_number(pl_reader *r, const pl_column_in *in, const char *text, double *si,
                       const char **unit)
{
    pl_dim dim;
    const char *why;
    pl_code code;
    double x;

    if (pl_text_to_number(text, &x)) {
        *si = in->scale * x + in->offset;
        return true;
    }
    if (!isdigit((unsigned char)text[strspn(text, "+-.")]))
        return false;
    code = pl_units_read(r->a, text, in->kind, &dim, &why);
    r->nomem = r->nomem || code == PL_ENOMEM;
    if (code)
        return false;
    *si = dim.si;
    *unit = dim.unit;
    return true;
}

/* "2.4..2.6": read between two marks. */
static bool interval(pl_reader *r, const pl_column_in *in, char *text, double *si,
                     const char **unit)
{
    char *dots = strstr(text, ".."), *end;
    double low, high;

    if (!dots)
        return false;
    for (end = dots; end > text && end[-1] == ' '; end--)
        ;
    *end = '\0';
    dots += 2;
    dots += strspn(dots, " ");
    if (!one_number(r, in, text, &low, unit) || !one_number(r, in, dots, &high, unit) || low > high)
        return false;
    *si = low + (high - low) / 2;
    return true;
}

static const char *number_words(pl_reader *r, const pl_form_column *c, const pl_column_in *in)
{
    const char *interval_words = c->cell == PL_CELL_PEAK ? ", or an interval: 2.4..2.6" : "";

    if (c->cell == PL_CELL_PERCENT)
        return "a percentage: 80, or 80 %";
    return pl_arena_printf(r->a, "a number in %s%s", in->unit, interval_words);
}

static void read_number(pl_reader *r, pl_row *row, const pl_form_column *c, const pl_column_in *in,
                        const pl_csv_cell *cell)
{
    const char *text = pointed(r, cell->text), *unit = in->unit;
    char *copy = text ? pl_arena_str(r->a, text) : NULL;
    double si;
    bool read;

    if (!copy) {
        r->nomem = true;
        return;
    }
    read = one_number(r, in, text, &si, &unit) ||
           (c->cell == PL_CELL_PEAK && interval(r, in, copy, &si, &unit));
    if (!read) {
        bool comma = strchr(cell->text, ',') && r->csv->delimiter == ',';

        pl_cell_fail(r, PL_EVALUE, cell, number_words(r, c, in),
                     comma ? "write a decimal point; a decimal comma goes with ; between cells"
                           : "");
    } else if ((c->low != 0 || c->high != 0) && !(si >= c->low && si <= c->high)) {
        pl_cell_fail(r, PL_EVALUE, cell, limits_words(r, c, in),
                     "is it in the right column, and in the unit of the header?");
    } else {
        keep(r, row, c, cell, cell->text, si, unit);
    }
}

/* "80", "80 %" -> 0.8 */
static void read_percent(pl_reader *r, pl_row *row, const pl_form_column *c, const pl_column_in *in,
                         const pl_csv_cell *cell)
{
    size_t n = strlen(cell->text);
    const char *text;
    char *bare;
    double x;

    while (n && (cell->text[n - 1] == '%' || cell->text[n - 1] == ' '))
        n--;
    bare = pl_arena_strn(r->a, cell->text, n);
    text = bare ? pointed(r, bare) : NULL;
    if (!text)
        r->nomem = true;
    else if (!pl_text_to_number(text, &x))
        pl_cell_fail(r, PL_EVALUE, cell, number_words(r, c, in), "");
    else if (x / 100 < c->low || x / 100 > c->high)
        pl_cell_fail(r, PL_EVALUE, cell, limits_words(r, c, in), "");
    else
        keep(r, row, c, cell, cell->text, x / 100, "%");
}

/* -------------------------------------------------------------------- times ---- */

static bool session_date(pl_reader *r, unsigned session, pl_clock *out)
{
    const char *id = pl_arena_printf(r->a, "%u", session);
    const pl_reading *date = id ? pl_readings_find(r->all, PL_ON_SESSION, id, "date") : NULL;

    r->nomem = r->nomem || !id;
    return date && pl_clock_read(date->text, out) && out->has_date;
}

/* The date that a bare time takes: that of the row's last event, else the
 * session's, else (breaks) that of the row above. */
static bool base_date(pl_reader *r, const pl_row *row, pl_clock *c)
{
    pl_clock date = r->above;

    if (r->form == PL_FORM_GLUE_UPS && !isnan(row->event_s)) {
        time_t t = (time_t)row->event_s;
        struct tm tm;

        date.has_date = localtime_r(&t, &tm) != NULL;
        date.year = tm.tm_year + 1900;
        date.month = tm.tm_mon + 1;
        date.day = tm.tm_mday;
    } else if (r->form == PL_FORM_GLUE_UPS && !session_date(r, row->session, &date)) {
        return false;
    }
    c->has_date = date.has_date;
    c->year = date.year;
    c->month = date.month;
    c->day = date.day;
    return date.has_date;
}

static void no_date(pl_reader *r, const pl_row *row, const pl_csv_cell *cell)
{
    if (r->form == PL_FORM_BREAKS)
        pl_cell_fail(r, PL_EVALUE, cell, "a date and a time: 2027-03-01 14:05",
                     "the rows below may give the time alone");
    else
        pl_cell_fail(r, PL_EVALUE, cell,
                     pl_arena_printf(r->a, "a date: session %u has none yet", row->session),
                     "take the sessions form first or together with this one, or write "
                     "2027-03-01 14:05");
}

static void happened(pl_reader *r, pl_row *row, const char *name, const char *text, double seconds)
{
    row->event_s = seconds;
    row->event = pl_arena_printf(r->a, "%s %s", name, text);
    if (!row->event)
        r->nomem = true;
}

/* A bare time before the last event is one of the next day: overnight for
 * opening, across midnight for the rest. */
static bool place_bare(const pl_row *row, const pl_form_column *c, const pl_clock *clock,
                       double *seconds, char offset[8])
{
    bool overnight = !strcmp(c->name, "opened_at");
    double next;
    char next_offset[8];

    if (!pl_clock_utc(clock, 0, seconds, offset))
        return false;
    if (isnan(row->event_s) || *seconds >= row->event_s)
        return true;
    if (pl_clock_utc(clock, 1, &next, next_offset) &&
        (overnight || next - row->event_s <= HALF_A_DAY)) {
        *seconds = next;
        memcpy(offset, next_offset, sizeof next_offset);
    }
    return true;
}

static void read_time(pl_reader *r, pl_row *row, const pl_form_column *c, const pl_csv_cell *cell)
{
    pl_clock clock;
    double seconds;
    char offset[8];
    bool bare;

    if (!pl_clock_read(cell->text, &clock) || !clock.has_time) {
        pl_cell_fail(r, PL_EVALUE, cell, "a time: 14:05, or 2027-03-01 14:05", "");
        return;
    }
    bare = !clock.has_date;
    if (bare && !base_date(r, row, &clock)) {
        no_date(r, row, cell);
        return;
    }
    if (!(bare ? place_bare(row, c, &clock, &seconds, offset)
               : pl_clock_utc(&clock, 0, &seconds, offset))) {
        pl_cell_fail(r, PL_EVALUE, cell, "a time that exists here",
                     "the clocks were put forward over it");
        return;
    }
    if (!isnan(row->event_s) && seconds < row->event_s) {
        pl_cell_fail(r, PL_ECONFLICT, cell,
                     pl_arena_printf(r->a, "%s after %s", c->name, row->event),
                     "one of the two is wrong; across midnight or over days write the date too");
        return;
    }
    if (!bare && r->form == PL_FORM_BREAKS)
        r->above = clock;
    if (r->form == PL_FORM_GLUE_UPS)
        happened(r, row, c->name, cell->text, seconds);
    keep(r, row, c, cell, cell->text, seconds, pl_arena_str(r->a, offset));
}

/* A time that is blank here may be known from another paper. */
static void recall_time(pl_reader *r, pl_row *row, const pl_form_column *c)
{
    const pl_reading *known = r->form == PL_FORM_GLUE_UPS
                                  ? pl_readings_find(r->all, row->subject, row->id, c->name)
                                  : NULL;

    if (known && (isnan(row->event_s) || known->value >= row->event_s))
        happened(r, row, c->name, known->text, known->value);
}

static void read_date(pl_reader *r, pl_row *row, const pl_form_column *c, const pl_csv_cell *cell)
{
    pl_clock clock;
    double seconds;
    char offset[8];

    if (!pl_clock_read(cell->text, &clock) || !clock.has_date || clock.has_time)
        pl_cell_fail(r, PL_EVALUE, cell, "a date: 2027-03-01", "");
    else if (pl_clock_utc(&clock, 0, &seconds, offset))
        keep(r, row, c, cell, cell->text, seconds, pl_arena_str(r->a, offset));
    else
        pl_cell_fail(r, PL_EVALUE, cell, "a day that begins at midnight here", "");
}

/* -------------------------------------------------------------------- words ---- */

static const char *lower(pl_reader *r, const char *text)
{
    char *copy = pl_arena_str(r->a, text);

    for (char *s = copy; s && *s; s++)
        *s = (char)(*s == '_' || *s == ' ' ? '-' : tolower((unsigned char)*s));
    return copy;
}

static void read_mode(pl_reader *r, pl_row *row, const pl_form_column *c, const pl_csv_cell *cell)
{
    const char *names[PL_NMODES], *near, *text = lower(r, cell->text);
    pl_mode mode = text ? pl_mode_of(text) : PL_NMODES;

    if (!text) {
        r->nomem = true;
        return;
    }
    if (mode < PL_NMODES) {
        keep(r, row, c, cell, pl_mode_name(mode), NAN, "");
        return;
    }
    for (int m = 1; m < PL_NMODES; m++)
        names[m - 1] = pl_mode_name((pl_mode)m);
    near = pl_text_nearest(text, names, PL_NMODES - 1);
    pl_cell_fail(r, PL_EVALUE, cell, pl_text_list(r->a, names, PL_NMODES - 1, "or"),
                 near ? pl_arena_printf(r->a, "did you mean \"%s\"?", near) : "");
}

static void read_species(pl_reader *r, pl_row *row, const pl_form_column *c,
                         const pl_csv_cell *cell)
{
    for (size_t i = 0; i < r->p->nboard; i++) {
        const pl_plan_board *board = &r->p->boards[i];

        if (strcmp(board->label, row->id))
            continue;
        if (board->species[0] && strcasecmp(board->species, cell->text)) {
            pl_cell_fail(r, PL_ECONFLICT, cell,
                         pl_arena_printf(r->a, "\"%s\": what the plan has for board %s",
                                         board->species, board->label),
                         "use a board of that species, or plan anew with what is there");
            return;
        }
    }
    keep(r, row, c, cell, cell->text, NAN, "");
}

static void read_session(pl_reader *r, pl_row *row, const pl_form_column *c,
                         const pl_csv_cell *cell)
{
    keep(r, row, c, cell, cell->text, row->session, "");
}

void pl_cell_read(pl_reader *r, pl_row *row, size_t column)
{
    const pl_form_column *c = &r->columns[column];
    const pl_column_in *in = &r->in[column];
    const pl_csv_cell *cell = in->at < r->csv->ncol ? pl_csv_at(r->csv, row->row, in->at) : NULL;

    if (!cell || !cell->text[0]) {
        if (c->cell == PL_CELL_TIME)
            recall_time(r, row, c);
        return;
    }
    if (!in->usable)
        return;
    switch (c->cell) {
    case PL_CELL_KEY:
        break;
    case PL_CELL_RIG: /* looked up with the row; a session's is part of its key */
        if (row->rig >= 0 && r->form != PL_FORM_SESSIONS)
            keep(r, row, c, cell, r->s->rigs[row->rig].name, NAN, "");
        break;
    case PL_CELL_TEXT:
        keep(r, row, c, cell, cell->text, NAN, "");
        break;
    case PL_CELL_SPECIES:
        read_species(r, row, c, cell);
        break;
    case PL_CELL_SESSION:
        read_session(r, row, c, cell);
        break;
    case PL_CELL_DATE:
        read_date(r, row, c, cell);
        break;
    case PL_CELL_TIME:
        read_time(r, row, c, cell);
        break;
    case PL_CELL_MODE:
        read_mode(r, row, c, cell);
        break;
    case PL_CELL_PERCENT:
        read_percent(r, row, c, in, cell);
        break;
    default:
        if (c->of_rig && !row->rig_id)
            pl_cell_fail(r, PL_EKEY, cell, "the rig it belongs to, in the row's rig cell", "");
        else
            read_number(r, row, c, in, cell);
        break;
    }
}
