/* A record through a bundled plugin, in this one process: the host's own reader, the
 * plugin linked in (platen_plugin_entry), and the check that the parent makes of every
 * reading. The first byte picks the rig file and whom the record is about; the rest is the
 * file. Whatever the bytes are, a plugin of ours breaks no rule and no reading is refused. */
#include "fuzz.h"

#include <fcntl.h>
#include <math.h>
#include <sys/mman.h>
#include <unistd.h>

#include "rigs/ask.h"
#include "rigs/inside.h"

/* clang-format off */
#define RIG(kind, rest) { kind, "{\"name\": \"r\", \"kind\": \"" kind "\", " rest "}" }
static const char *const rigs[][2] = {
    RIG("load-cell", "\"dial\": {\"unit\": \"kN\"}"),
    RIG("load-cell", "\"settings\": {\"accuracy\": \"1 %\", \"reversed\": true, \"rate_from\": \"20 N/s\","
        " \"rate_to\": \"60 N/s\"}, \"rated\": \"20 kN\","
        " \"dial\": {\"unit\": \"kN\", \"to\": \"20 kN\", \"class\": \"0.1 %\", \"marks\": \"0.01 kN\"}"),
    RIG("pressure-log", "\"settings\": {\"bore\": \"50 mm\", \"range\": \"16 bar\"}, \"dial\": {\"unit\": \"bar\"}"),
    RIG("pressure-log", "\"settings\": {\"bore\": \"50 mm\", \"rod\": \"20 mm\", \"side\": \"pull\","
        " \"friction\": \"3 %\", \"range\": \"16 bar\", \"volts_at_zero\": \"1 V\", \"volts_at_full\": \"5 V\"},"
        " \"rated\": \"10 bar\", \"dial\": {\"unit\": \"bar\", \"to\": \"16 bar\"}"),
    RIG("test-frame", "\"dial\": {\"unit\": \"kN\"}"),
    RIG("test-frame", "\"settings\": {\"class\": \"0.5\", \"reversed\": true, \"rate_from\": \"20 N/s\"},"
        " \"rated\": \"5 kN\", \"dial\": {\"unit\": \"N\", \"to\": \"6 kN\"}"),
};
/* clang-format on */

static const char *const names[] = { "K7MN", NULL, "K7MN, R4T9, B9XH", "" };

/* The rig-th of the texts for this plugin. */
static const char *rig_text(const char *plugin, unsigned rig)
{
    for (size_t i = 0; i < sizeof rigs / sizeof *rigs; i++)
        if (!strcmp(rigs[i][0], plugin))
            return rigs[i + rig % 2][1];
    fprintf(stderr, "no rig file for a plugin %s\n", plugin);
    abort();
}

static void put_record(const uint8_t *bytes, size_t n)
{
    static bool made;

    if (!made) {
        int memory = memfd_create("record", MFD_CLOEXEC), nowhere = open("/dev/null", O_WRONLY);

        HOLDS(memory >= 0 && nowhere >= 0);
        HOLDS(dup2(memory, PL_FD_RECORD) == PL_FD_RECORD);
        HOLDS(dup2(nowhere, PL_FD_ANSWER) == PL_FD_ANSWER);
        made = true;
    }
    HOLDS(ftruncate(PL_FD_RECORD, 0) == 0);
    HOLDS(pwrite(PL_FD_RECORD, bytes, n, 0) == (ssize_t)n);
    HOLDS(lseek(PL_FD_RECORD, 0, SEEK_SET) == 0);
}

/* As the parent packs it. */
static void pack_work(pl_inside *in, const char *rig, const char *specimens)
{
    pl_text t;

    pl_text_init(&t, in->a);
    pl_pack_text(&t, "rig.json");
    pl_pack_bytes(&t, rig, strlen(rig));
    pl_pack_u64(&t, 0);
    pl_pack_text(&t, "day.csv");
    pl_pack_text(&t, specimens);
    in->work = (pl_unpack){ (const unsigned char *)t.bytes,
                            (const unsigned char *)t.bytes + t.length, false };
}

/* What the child answered, as the parent takes it. */
static void take_answer(pl_inside *in, const char *specimen)
{
    const unsigned char *bytes = (const unsigned char *)in->answer.bytes;
    pl_unpack u = { bytes, bytes ? bytes + in->answer.length : NULL, false };
    pl_readings readings = { 0 };

    while (u.at < u.end) {
        uint32_t type = pl_unpack_u32(&u), n = pl_unpack_u32(&u);
        pl_unpack payload = { u.at, u.at + n, false };
        const char *lie = NULL;

        HOLDS(!u.bad && n <= (size_t)(u.end - u.at));
        if (type == PL_MSG_READING)
            lie = pl_ask_reading(in->a, &payload, "day.csv", specimen, &readings, &in->d);
        if (lie)
            fprintf(stderr, "the parent would say: %s\n", lie);
        HOLDS(!lie);
        u.at += n;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const platen_plugin *p = platen_plugin_entry();
    pl_inside in = { .a = pl_arena_new(0), .name = p->name, .path = "plugin.so" };
    const char *who;
    pl_code code;

    if (!size || !in.a) {
        pl_arena_free(in.a);
        return 0;
    }
    who = names[(data[0] >> 1) % 4];
    pl_diags_init(&in.d, in.a);
    pl_text_init(&in.answer, in.a);
    HOLDS(pl_inside_host(&in) == PL_OK);
    memcpy(&in.p, p, p->size);
    put_record(data + 1, size - 1);
    pack_work(&in, rig_text(p->name, data[0]), who);
    code = pl_inside_read(&in);
    same_story(code, &in.d);
    if (getenv("FUZZ_SAY"))
        for (size_t i = 0; i < in.d.count; i++)
            puts(pl_diag_text(in.a, &in.d.items[i]));
    for (size_t i = 0; i < in.d.count; i++)
        HOLDS(in.d.items[i].code != PL_EPLUGIN && (in.d.items[i].severity != PL_REFUSED ||
                                                   strncmp(in.d.items[i].where, "rig", 3) != 0));
    if (!code)
        take_answer(&in, who && !strchr(who, ',') ? who : NULL);
    pl_arena_free(in.lent);
    pl_arena_free(in.a);
    return 0;
}
