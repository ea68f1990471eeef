/* The smaller questions of rigs.h: check, the way back, records. Packs the work,
 * has a child do it, checks every number that comes back. */
#include "rigs/ask.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"
#include "base/text.h"
#include "rigs/dial.h"

#define READINGS_MOST 8192

void pl_ask_rig(pl_text *t, const pl_rig *rig)
{
    const pl_json_doc *doc = rig->written->doc;

    pl_pack_text(t, doc->name);
    pl_pack_bytes(t, doc->text, doc->length);
    pl_pack_u64(t, rig->written->offset);
}

pl_code pl_ask_lie(pl_diags *d, const pl_plugin_file *file, const char *what)
{
    return pl_child_blame(d, file,
                          pl_arena_printf(d->arena, "gave an answer that cannot be: %s", what));
}

pl_code pl_ask_find(pl_arena *a, const pl_rig *rig, pl_plugin_file *file, pl_diags *d)
{
    size_t before = d->count;
    pl_code code = pl_find_plugin(a, rig->kind, file, d);

    /* an unknown kind stands in a rig file: say where */
    for (size_t i = before; code == PL_EKEY && i < d->count; i++) {
        const pl_json *kind = pl_json_get(rig->written, "kind");

        if (kind && d->items[i].code == PL_EKEY) {
            d->items[i].where = pl_json_where(d->arena, kind);
            d->items[i].pointer = pl_json_pointer(d->arena, kind);
        }
    }
    return code;
}

/* ---- check ---- */

pl_code pl_rigs_check(pl_arena *a, const pl_rig *rig, pl_diags *d)
{
    pl_plugin_file file;
    pl_answer answer;
    pl_message type;
    pl_unpack u;
    pl_text work;
    size_t before = d->count;
    pl_code code = pl_ask_find(a, rig, &file, d);

    if (code)
        return code;
    pl_text_init(&work, a);
    pl_ask_rig(&work, rig);
    code = pl_child_visit(a, &file, PL_WORK_CHECK, &work, -1, pl_child_limit(), &answer, d);
    if (code)
        return code;
    if (pl_answer_next(a, &answer, &type, &u, d))
        return pl_ask_lie(d, &file, "words nobody asked for");
    return pl_answer_end(&answer, before, d);
}

/* ---- the way back ---- */

pl_quantity_kind pl_rigs_dial_kind(pl_arena *a, const pl_rig *rig)
{
    pl_dial dial;
    pl_diags quiet;

    pl_diags_init(&quiet, a);
    (void)pl_dial_read(a, rig->written, "", &dial, &quiet);
    return dial.there ? dial.kind : PL_Q_NONE;
}

static const char *take_force(pl_arena *a, const pl_rig *rig, pl_unpack *u, size_t n,
                              double *force_N, double *u_N, bool *seen, pl_diags *d)
{
    uint32_t i = pl_unpack_u32(u), ok = pl_unpack_u32(u);
    double f = pl_unpack_f64(u), s = pl_unpack_f64(u);
    const char *reason = pl_unpack_text(a, u);

    if (u->bad || i >= n || seen[i])
        return "a force of no reading";
    seen[i] = true;
    if (ok && (!isfinite(f) || !isfinite(s) || s < 0))
        return "a force or uncertainty out of range";
    force_N[i] = ok ? f : NAN;
    u_N[i] = ok ? s : NAN;
    if (!ok)
        (void)pl_fail(d, PL_ERANGE, rig->name,
                      .found = pl_arena_printf(a, "reading %u of rig %s: %s", i + 1, rig->name,
                                               reason ? reason : "out of its range"),
                      .expected = "a reading that this rig can have");
    return NULL;
}

static pl_code visit_back(pl_arena *a, const pl_rig *rig, const double *reading, size_t n,
                          double *force_N, double *u_N, pl_diags *d)
{
    bool *seen = PL_NEWN(a, n, bool);
    pl_plugin_file file;
    pl_answer answer;
    pl_message type;
    pl_unpack u;
    pl_text work;
    size_t before = d->count, got = 0;
    const char *wrong;
    pl_code code = pl_ask_find(a, rig, &file, d);

    if (code || !seen)
        return code ? code : pl_nomem(d);
    pl_text_init(&work, a);
    pl_ask_rig(&work, rig);
    pl_pack_u32(&work, (uint32_t)n);
    for (size_t i = 0; i < n; i++)
        pl_pack_f64(&work, reading[i]);
    code = pl_child_visit(a, &file, PL_WORK_BACK, &work, -1, pl_child_limit(), &answer, d);
    if (code)
        return code;
    while (pl_answer_next(a, &answer, &type, &u, d)) {
        wrong = type == PL_MSG_FORCE ? take_force(a, rig, &u, n, force_N, u_N, seen, d)
                                     : "words nobody asked for";
        if (wrong)
            return pl_ask_lie(d, &file, wrong);
        got++;
    }
    code = pl_answer_end(&answer, before, d);
    return code || got == n ? code : pl_ask_lie(d, &file, "fewer forces than readings");
}

pl_code pl_rigs_forces(pl_arena *a, const pl_rig *rig, const double *reading, pl_quantity_kind kind,
                       size_t n, double *force_N, double *u_N, pl_diags *d)
{
    pl_quantity_kind dial = pl_rigs_dial_kind(a, rig);

    for (size_t i = 0; i < n; i++) {
        force_N[i] = kind == PL_Q_FORCE && dial != PL_Q_FORCE ? reading[i] : NAN;
        u_N[i] = NAN;
    }
    if (kind == PL_Q_FORCE && dial != PL_Q_FORCE)
        return PL_OK;
    if (kind != dial || kind == PL_Q_NONE)
        return pl_fail(
            d, PL_EUNIT, rig->name,
            .found = pl_arena_printf(a, "%s from rig %s", pl_quantity_name(kind), rig->name),
            .expected = dial == PL_Q_NONE ? "a force: this rig has no dial"
                                          : pl_arena_printf(a, "%s as on its dial, or a force",
                                                            pl_quantity_name(dial)));
    if (n > PL_ASK_MOST)
        return pl_fail(d, PL_EDATA, rig->name, .found = "too many readings at once");
    return n ? visit_back(a, rig, reading, n, force_N, u_N, d) : PL_OK;
}

/* ---- records ---- */

static bool plain_name(const char *s, size_t most)
{
    size_t n = s ? strlen(s) : 0;

    return n > 0 && n <= most && !strchr(s, '?');
}

const char *pl_ask_reading(pl_arena *a, pl_unpack *u, const char *path, const char *specimen_id,
                           pl_readings *out, pl_diags *d)
{
    const char *specimen = pl_unpack_text(a, u), *quantity = pl_unpack_text(a, u);
    const char *unit = pl_unpack_text(a, u);
    double value = pl_unpack_f64(u);
    uint64_t line = pl_unpack_u64(u);
    const char *text = pl_unpack_text(a, u);
    const char *id = specimen ? specimen : specimen_id, *file = pl_file_base(path);

    if (u->bad || !plain_name(quantity, 31) || !unit || (specimen && !plain_name(specimen, 64)))
        return "a reading that cannot be read";
    if (pl_dial_si_kind(a, unit) == PL_Q_COUNT)
        return "a reading in an unknown unit";
    if (text && (strcmp(quantity, "mode") != 0 || pl_mode_of(text) != PL_MODE_NOT_BROKEN))
        return "a word nobody asked for";
    if (!isfinite(value))
        return pl_arena_printf(a, "%s is no number", quantity);
    if (value < 0 && (!strcmp(quantity, "peak") || !strcmp(unit, "s")))
        return pl_arena_printf(a, "%s below zero", quantity);
    if (!id)
        return NULL; /* said once, by the caller */
    if (pl_readings_find(out, PL_ON_SPECIMEN, id, quantity))
        return pl_arena_printf(a, "%s of %s twice", quantity, id);
    if (out->count >= READINGS_MOST)
        return "too many readings";
    (void)pl_readings_add(
        a, out,
        (pl_reading){ .subject = PL_ON_SPECIMEN,
                      .id = id,
                      .quantity = quantity,
                      .text = text ? text : pl_text_number(a, value, 6),
                      .value = text ? NAN : value,
                      .unit = strcmp(unit, "1") != 0 ? unit : "",
                      .where = line ? pl_arena_printf(a, "%s:%llu", file, (unsigned long long)line)
                                    : file },
        d);
    return NULL;
}

static void close_record(int fd)
{
    if (fd >= 0)
        close(fd);
}

static int open_record(const char *path, off_t *size, pl_diags *d)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    struct stat st = { 0 };

    if (fd < 0 || fstat(fd, &st) != 0 || !S_ISREG(st.st_mode)) {
        (void)pl_fail(d, PL_ENOFILE, path, .found = fd < 0 ? strerror(errno) : "is no regular file",
                      .expected = "a recorded file");
        close_record(fd);
        return -1;
    }
    *size = st.st_size;
    return fd;
}

/* A list names the loads of a file in order; a load of no name has none of them. */
static const char *one_name(const char *specimen_id)
{
    return specimen_id && strchr(specimen_id, ',') ? NULL : specimen_id;
}

static pl_code visit_record(pl_arena *a, const pl_rig *rig, const char *path, int fd, double limit,
                            const char *specimen_id, pl_readings *fresh, pl_cost *cost, pl_diags *d)
{
    pl_plugin_file file;
    pl_answer answer;
    pl_message type;
    pl_unpack u;
    pl_text work;
    size_t before = d->count, got = 0;
    const char *wrong;
    pl_code code = pl_ask_find(a, rig, &file, d);

    if (code)
        return code;
    pl_text_init(&work, a);
    pl_ask_rig(&work, rig);
    pl_pack_text(&work, pl_file_base(path));
    pl_pack_text(&work, specimen_id);
    code = pl_child_visit(a, &file, PL_WORK_READ, &work, fd, limit, &answer, d);
    if (code)
        return code;
    while (pl_answer_next(a, &answer, &type, &u, d)) {
        wrong = type == PL_MSG_READING
                    ? pl_ask_reading(a, &u, path, one_name(specimen_id), fresh, d)
                    : "words nobody asked for";
        if (wrong)
            return pl_ask_lie(d, &file, wrong);
        got++;
    }
    code = pl_answer_end(&answer, before, d);
    if (code)
        return code;
    if (got > fresh->count)
        return pl_fail(d, PL_EDATA, path, .found = "a record that names no specimen",
                       .expected = "whose record it is", .mend = "say it with --specimen ID");
    if (!got)
        return pl_fail(d, PL_EDATA, path, .found = "nothing to take from this record");
    *cost = answer.cost;
    return PL_OK;
}

pl_code pl_rigs_read_cost(pl_arena *a, const pl_rig *rig, const char *path, const char *specimen_id,
                          pl_readings *out, pl_cost *cost, pl_diags *d)
{
    off_t size = 0;
    int fd = open_record(path, &size, d);
    pl_readings fresh = { 0 };
    size_t before = d->count;
    pl_code code;

    if (fd < 0)
        return PL_ENOFILE;
    code = visit_record(a, rig, path, fd, pl_child_limit() + (double)size / 2e6, specimen_id,
                        &fresh, cost, d);
    close_record(fd);
    for (size_t i = 0; !code && i < fresh.count; i++)
        code = pl_readings_add(a, out, fresh.items[i], d);
    return code ? code : pl_diags_code(d, before);
}

pl_code pl_rigs_read(pl_arena *a, const pl_rig *rig, const char *path, const char *specimen_id,
                     pl_readings *out, pl_diags *d)
{
    pl_cost cost;

    return pl_rigs_read_cost(a, rig, path, specimen_id, out, &cost, d);
}
