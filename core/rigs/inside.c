/* The child's main: takes its work, closes the fence, loads the plugin, does
 * the one piece of work, answers, leaves without looking back. */
#include "rigs/inside.h"

#include <errno.h>
#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "rigs/fence.h"
#include "rigs/rigs.h"

/* A plugin gets far less than the fence's address space. */
#define INSIDE_BUDGET ((size_t)200 << 20)

static void write_all(const char *bytes, size_t n)
{
    while (n) {
        ssize_t done = write(PL_FD_ANSWER, bytes, n);

        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            _exit(1);
        bytes += done;
        n -= (size_t)done;
    }
}

static void tell(pl_message type, uint32_t word)
{
    uint32_t words[3] = { (uint32_t)type, sizeof word, word };

    write_all((const char *)words, sizeof words);
}

void pl_inside_stage(pl_inside *in, pl_stage stage)
{
    static pl_stage said;

    (void)in;
    if (stage != said)
        tell(PL_MSG_STAGE, (uint32_t)stage);
    said = stage;
}

pl_code pl_inside_blame(pl_inside *in, const char *did)
{
    return pl_fail(&in->d, PL_EPLUGIN, in->path,
                   .found = pl_arena_printf(in->a, "plugin \"%s\" %s", in->name, did),
                   .mend = "nothing of what it gave was taken; mend the plugin or take it out");
}

static void send_kind(pl_inside *in)
{
    const platen_plugin *p = &in->p;
    pl_text t;

    pl_text_init(&t, in->a);
    pl_pack_text(&t, p->summary);
    pl_pack_u32(&t, p->role);
    pl_pack_text(&t, p->dial ? p->dial : "");
    pl_pack_u32(&t, p->set_point != NULL);
    pl_pack_u32(&t, p->back != NULL);
    pl_pack_u32(&t, p->rows != NULL || p->bytes != NULL);
    pl_pack_u32(&t, p->ncolumns);
    for (uint32_t i = 0; i < p->ncolumns; i++) {
        pl_pack_text(&t, p->columns[i].name);
        pl_pack_text(&t, p->columns[i].flags & PLATEN_WORDS ? "" : p->columns[i].unit);
        pl_pack_u32(&t, p->columns[i].flags & PLATEN_OPTIONAL);
    }
    pl_pack_u32(&t, p->nsettings);
    for (uint32_t i = 0; i < p->nsettings; i++) {
        const platen_setting *s = &p->settings[i];
        uint32_t n = 0;

        while (s->kind == PLATEN_CHOICE && s->choices[n])
            n++;
        pl_pack_text(&t, s->name);
        pl_pack_text(&t, s->help);
        pl_pack_u32(&t, s->kind);
        pl_pack_u32(&t, s->flags);
        pl_pack_text(&t, s->kind == PLATEN_CHOICE || s->kind == PLATEN_FLAG ? "" : s->unit);
        pl_pack_text(&t, s->kind == PLATEN_PAIRS ? s->unit2 : "");
        pl_pack_f64(&t, s->low);
        pl_pack_f64(&t, s->high);
        pl_pack_f64(&t, s->preset);
        pl_pack_u32(&t, n);
        for (uint32_t k = 0; k < n; k++)
            pl_pack_text(&t, s->choices[k]);
    }
    pl_pack_message(&in->answer, PL_MSG_KIND, &t);
}

static pl_code check(pl_inside *in)
{
    pl_rig_inside rig;
    pl_code code = pl_inside_rig(in, &rig);

    if (rig.at && in->p.role == PLATEN_RIG) {
        pl_dial_advise(rig.at, &rig.dial, &in->d);
        pl_inside_assumed(in, &rig);
    }
    return code;
}

static pl_code do_work(pl_inside *in, pl_work work)
{
    pl_code code = pl_inside_load(in);

    if (code)
        return code;
    if (in->p.role != PLATEN_RIG && work != PL_WORK_KIND && work != PL_WORK_CURVE &&
        work != PL_WORK_CURVE_TRY)
        return pl_fail(&in->d, PL_EKEY, in->path,
                       .found = pl_arena_printf(in->a, "plugin \"%s\", a curve", in->name),
                       .expected = "a kind of rig");
    switch (work) {
    case PL_WORK_KIND:
        send_kind(in);
        return PL_OK;
    case PL_WORK_CHECK:
        return check(in);
    case PL_WORK_PRESS:
        return pl_inside_press(in);
    case PL_WORK_BACK:
        return pl_inside_back(in);
    case PL_WORK_READ:
        return pl_inside_read(in);
    case PL_WORK_CURVE:
        return pl_inside_curve(in);
    case PL_WORK_CURVE_TRY:
        return pl_inside_curve_try(in);
    }
    return pl_inside_blame(in, "was sent unknown work");
}

static void send_findings(pl_inside *in)
{
    for (size_t i = 0; i < in->d.count; i++) {
        const pl_diag *f = &in->d.items[i];
        pl_text t;

        pl_text_init(&t, in->a);
        pl_pack_u32(&t, (uint32_t)f->code);
        pl_pack_u32(&t, (uint32_t)f->severity);
        pl_pack_text(&t, f->where);
        pl_pack_text(&t, f->pointer);
        pl_pack_text(&t, f->found);
        pl_pack_text(&t, f->expected);
        pl_pack_text(&t, f->mend);
        pl_pack_message(&in->answer, PL_MSG_FINDING, &t);
    }
}

/* The whole of descriptor PL_FD_WORK. */
static bool take_work(pl_arena *a, pl_unpack *out)
{
    off_t size = lseek(PL_FD_WORK, 0, SEEK_END);
    unsigned char *bytes;
    size_t done = 0;

    if (size <= 0 || lseek(PL_FD_WORK, 0, SEEK_SET) != 0)
        return false;
    bytes = pl_arena_get(a, (size_t)size, 1);
    while (bytes && done < (size_t)size) {
        ssize_t n = read(PL_FD_WORK, bytes + done, (size_t)size - done);

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        done += (size_t)n;
    }
    close(PL_FD_WORK);
    *out = (pl_unpack){ bytes, bytes + done, false };
    return bytes != NULL;
}

/* What the visit has cost so far. The most memory is this program's own (the system's count for
 * the process begins with that of its parent). */
static void send_cost(pl_inside *in)
{
    double most_bytes = NAN;
    struct rusage u = { 0 };
    FILE *status = fopen("/proc/self/status", "re");
    char line[256];
    unsigned long kib;
    pl_text t;

    while (status && fgets(line, sizeof line, status))
        if (sscanf(line, "VmHWM: %lu", &kib) == 1)
            most_bytes = 1024.0 * (double)kib;
    if (status)
        (void)fclose(status);
    (void)getrusage(RUSAGE_SELF, &u);
    pl_text_init(&t, in->a);
    pl_pack_f64(&t, (double)(u.ru_utime.tv_sec + u.ru_stime.tv_sec) +
                        1e-6 * (double)(u.ru_utime.tv_usec + u.ru_stime.tv_usec));
    pl_pack_f64(&t, most_bytes);
    pl_pack_message(&in->answer, PL_MSG_COST, &t);
}

int pl_rigs_child_main(int argc, char **argv)
{
    pl_inside in = { .a = pl_arena_new(INSIDE_BUDGET) };
    const char *why = NULL;
    uint32_t parent;
    double limit, scale, offset;
    pl_work work;
    pl_code code;
    int refused;

    (void)argc;
    (void)argv;
    /* memory lent for one call serves the next: not to the system and back each time */
    (void)mallopt(M_MMAP_THRESHOLD, 32 << 20);
    (void)mallopt(M_TRIM_THRESHOLD, 64 << 20);
    if (!in.a || !take_work(in.a, &in.work) || pl_unpack_u32(&in.work) != PL_WIRE_MAGIC)
        return 2; /* started by hand */
    parent = pl_unpack_u32(&in.work);
    work = (pl_work)pl_unpack_u32(&in.work);
    limit = pl_unpack_f64(&in.work);
    in.name = pl_unpack_text(in.a, &in.work);
    in.path = pl_unpack_text(in.a, &in.work);
    if (in.work.bad || !in.name || !in.path || pl_fence_tie((int)parent) != 0)
        return 2;
    pl_diags_init(&in.d, in.a);
    pl_text_init(&in.answer, in.a);
    if (pl_inside_host(&in))
        return 2;
    /* units are loaded from their table before the fence closes */
    (void)pl_units_scale(in.a, "mm", PL_Q_LENGTH, &scale, &offset, &why);
    refused = pl_fence_close(limit, PL_FD_ANSWER);
    if (refused) {
        tell(PL_MSG_NO_FENCE, (uint32_t)refused);
        _exit(1);
    }
    code = do_work(&in, work);
    pl_inside_stage(&in, PL_STAGE_ANSWER);
    send_findings(&in);
    if (work == PL_WORK_READ)
        send_cost(&in);
    if (in.answer.failed || in.d.out_of_memory) {
        tell(PL_MSG_END, PL_ENOMEM);
        _exit(0);
    }
    write_all(in.answer.bytes ? in.answer.bytes : "", in.answer.length);
    tell(PL_MSG_END, (uint32_t)code);
    _exit(0); /* no destructor of the plugin runs */
}
