/* The parent before a child that lies: the bytes are what the child wrote, and every
 * question that rigs asks gets them as its answer (the linker puts the two functions below
 * in the place of the true ones, which start a process). Nothing may come of it but values
 * that can be, or findings. The first byte picks the question. */
#include "fuzz.h"

#include <math.h>

#include "base/json.h"
#include "rigs/ask.h"

static const uint8_t *said;
static size_t length;

/* clang-format off */
pl_code __wrap_pl_child_visit(pl_arena *a, const pl_plugin_file *file, pl_work work,
                              const pl_text *request, int record, double limit_s, pl_answer *out,
                              pl_diags *d);
pl_code __wrap_pl_find_plugin(pl_arena *a, const char *name, pl_plugin_file *out, pl_diags *d);
/* clang-format on */

pl_code __wrap_pl_child_visit(pl_arena *a, const pl_plugin_file *file, pl_work work,
                              const pl_text *request, int record, double limit_s, pl_answer *out,
                              pl_diags *d)
{
    uint8_t *kept = pl_arena_get(a, length, 1);
    pl_unpack u = { kept, kept + length, false };
    uint32_t code = PL_OK;

    (void)work, (void)request, (void)record, (void)limit_s, (void)d;
    HOLDS(kept);
    if (length)
        memcpy(kept, said, length);
    /* whole messages, up to the end that the child declares */
    while (u.end - u.at >= 8) {
        pl_unpack payload = u;
        uint32_t type = pl_unpack_u32(&payload), n = pl_unpack_u32(&payload);

        if (n > (size_t)(payload.end - payload.at))
            break;
        u.at = payload.at + n;
        if (type == PL_MSG_END) {
            code = pl_unpack_u32(&payload);
            break;
        }
    }
    *out = (pl_answer){ .file = file,
                        .rest = { kept, u.at, false },
                        .code = code < PL_NCODES ? (pl_code)code : PL_EPLUGIN };
    return PL_OK;
}

pl_code __wrap_pl_find_plugin(pl_arena *a, const char *name, pl_plugin_file *out, pl_diags *d)
{
    (void)a, (void)d;
    *out = (pl_plugin_file){ .name = name, .path = "/plugins/liar.so", .fd = -1 };
    return PL_OK;
}

static pl_rig rig_of(pl_arena *a, pl_diags *d)
{
    static const char text[] = "{\"name\": \"r\", \"kind\": \"liar\", \"rated\": \"10 bar\","
                               " \"dial\": {\"unit\": \"bar\", \"to\": \"16 bar\"}}";
    const pl_json *root;
    pl_rig rig;

    HOLDS(pl_json_parse(a, "rig.json", text, sizeof text - 1, &root, d) == PL_OK);
    HOLDS(pl_rig_from_json(a, root, &rig, d) == PL_OK);
    return rig;
}

static void clean(const char *s)
{
    for (; s && *s; s++)
        HOLDS((unsigned char)*s >= ' ' && *s != 0x7f);
}

static void ask_points(pl_arena *a, pl_diags *d)
{
    pl_rig rigs[2] = { rig_of(a, d), rig_of(a, d) };
    const double force[] = { 100, 400, 900 };
    pl_set_points p = { 0 };
    pl_code code = pl_rigs_set_points(a, rigs, 2, force, 3, 1e-3, &p, d);

    same_story(code, d);
    for (size_t i = 0; p.at && i < 6; i++) {
        const pl_set_point *at = &p.at[i];

        clean(at->reason);
        clean(at->mend);
        HOLDS(at->can || at->reason);
        if (!at->can)
            continue;
        HOLDS(isfinite(at->gives_N) && isfinite(at->u_N) && at->u_N >= 0);
        HOLDS(isfinite(at->dial) && isfinite(at->accept_low) && isfinite(at->accept_high));
        for (size_t k = 0; k < at->nparts; k++)
            clean(at->parts[k]);
    }
}

static void ask_forces(pl_arena *a, pl_diags *d)
{
    pl_rig rig = rig_of(a, d);
    const double bar[] = { 1e5, 2e5, 9e5 };
    double force[3], u[3];
    pl_code code = pl_rigs_forces(a, &rig, bar, PL_Q_PRESSURE, 3, force, u, d);

    same_story(code, d);
    for (int i = 0; i < 3 && !code; i++)
        HOLDS(isfinite(force[i]) && isfinite(u[i]) && u[i] >= 0);
}

static void ask_record(pl_arena *a, pl_diags *d)
{
    pl_rig rig = rig_of(a, d);
    pl_readings r = { 0 };
    pl_code code = pl_rigs_read(a, &rig, "/proc/self/cmdline", "K7MN", &r, d);

    same_story(code, d);
    HOLDS(code == PL_OK || r.count == 0);
    for (size_t i = 0; i < r.count; i++) {
        const pl_reading *x = &r.items[i];

        clean(x->id);
        clean(x->quantity);
        clean(x->text);
        clean(x->where);
        HOLDS(!isinf(x->value) && !(x->value < 0 && !strcmp(x->quantity, "peak")));
    }
}

static void ask_kind(pl_arena *a, pl_diags *d)
{
    pl_rig_kind k = { 0 };
    pl_code code = pl_rigs_kind(a, "liar", &k, d);

    same_story(code, d);
    if (code)
        return;
    clean(k.summary);
    clean(k.dial);
    for (size_t i = 0; i < k.ncolumn; i++)
        clean(k.columns[i]);
    for (size_t i = 0; i < k.nsetting; i++) {
        clean(k.settings[i].name);
        clean(k.settings[i].help);
        clean(k.settings[i].unit);
    }
}

static void ask_check(pl_arena *a, pl_diags *d)
{
    pl_rig rig = rig_of(a, d);

    same_story(pl_rigs_check(a, &rig, d), d);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static void (*const questions[])(pl_arena *, pl_diags *) = { ask_points, ask_forces, ask_record,
                                                                 ask_kind, ask_check };
    pl_arena *a = pl_arena_new((size_t)256 << 20);
    pl_diags d;

    pl_diags_init(&d, a);
    if (size) {
        said = data + 1;
        length = size - 1;
        questions[data[0] % 5](a, &d);
    }
    pl_arena_free(a);
    return 0;
}
