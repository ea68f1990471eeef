/* The text of a new rig plugin. What a plugin may and must do is said in
 * platen/plugin.h; this is only a beginning that works. */
#include "rigs/scaffold.h"

#include <ctype.h>
#include <string.h>

#include "base/file.h"
#include "base/text.h"

/* @ stands for the plugin's name. */
static const char source[] =
    "/* SPDX-License-Identifier: 0BSD\n"
    " * @: a spring clamp. Its dial is how far the spring is pressed together, and it\n"
    " * records force over time when it breaks. Change what you need: settings, the two\n"
    " * formulas, the columns. Every member is explained in platen/plugin.h. */\n"
    "#include <math.h>\n"
    "#include <stdio.h>\n"
    "\n"
    "#include <platen/plugin.h>\n"
    "\n"
    "enum { FULL_FORCE, TRAVEL, WITHIN };\n"
    "\n"
    "static const platen_setting settings[] = {\n"
    "    [FULL_FORCE] = { \"full_force\", \"force at full travel\", \"N\", NULL, NULL, "
    "PLATEN_NUMBER,\n"
    "                     PLATEN_REQUIRED, 1, 1e6, 0, 0, 0 },\n"
    "    [TRAVEL] = { \"travel\", \"full travel of the spring\", \"m\", NULL, NULL, "
    "PLATEN_NUMBER,\n"
    "                 PLATEN_REQUIRED, 1e-3, 1, 0, 0, 0 },\n"
    "    PLATEN_A_NUMBER(\"within\", \"limit of error of the spring, a share\", \"1\", 0, 0.5, "
    "0.05),\n"
    "};\n"
    "\n"
    "enum { TIME, FORCE };\n"
    "\n"
    "static const platen_column columns[] = {\n"
    "    [TIME] = { \"time\", NULL, \"s\", \"time since any moment\", 0, 0 },\n"
    "    [FORCE] = { \"force\", NULL, \"N\", \"what the rig showed\", 0, 0 },\n"
    "};\n"
    "\n"
    "/* N per m of the dial. */\n"
    "static double stiffness(const platen_value *s)\n"
    "{\n"
    "    return s[FULL_FORCE].number / s[TRAVEL].number;\n"
    "}\n"
    "\n"
    "/* Dial to force. Pure: the same answer whenever it is asked. */\n"
    "static int back(const platen_host *host, const platen_value *s, double dial, platen_force "
    "*out)\n"
    "{\n"
    "    (void)host;\n"
    "    if (!(dial > 0)) {\n"
    "        snprintf(out->reason, sizeof out->reason, \"the spring is not pressed\");\n"
    "        return PLATEN_ERANGE;\n"
    "    }\n"
    "    out->force_N = stiffness(s) * dial;\n"
    "    out->u_rig_N = out->force_N * s[WITHIN].number / sqrt(3); /* +- within, rectangular */\n"
    "    return PLATEN_OK;\n"
    "}\n"
    "\n"
    "/* Force to dial. The program rounds to the dial's marks and adds its class. */\n"
    "static int set_point(const platen_host *host, const platen_value *s, const platen_limits "
    "*limits,\n"
    "                     double force_N, platen_set_point *out)\n"
    "{\n"
    "    (void)host;\n"
    "    (void)limits;\n"
    "    if (force_N > s[FULL_FORCE].number) {\n"
    "        snprintf(out->reason, sizeof out->reason, \"it gives no more than its full force\");\n"
    "        snprintf(out->mend, sizeof out->mend, \"a stiffer spring\");\n"
    "        return PLATEN_ERANGE;\n"
    "    }\n"
    "    out->dial = force_N / stiffness(s);\n"
    "    return PLATEN_OK;\n"
    "}\n"
    "\n"
    "/* A batch of rows. The host finds peak, rate and doubts in force over time. */\n"
    "static int rows(const platen_host *host, const platen_value *s, void *state, const "
    "platen_rows *r)\n"
    "{\n"
    "    (void)s;\n"
    "    (void)state;\n"
    "    return host->trace(host->self, NULL, r->numbers[TIME], r->numbers[FORCE], r->n,\n"
    "                       r->n ? r->lines[0] : 0)\n"
    "               ? PLATEN_ESTOP\n"
    "               : PLATEN_OK;\n"
    "}\n"
    "\n"
    "static const platen_plugin plugin = {\n"
    "    PLATEN_HEAD(PLATEN_RIG),\n"
    "    .name = \"@\",\n"
    "    .summary = \"spring clamp that presses, and records force when it breaks\",\n"
    "    PLATEN_SETTINGS(settings),\n"
    "    .dial = \"m\",\n"
    "    .set_point = set_point,\n"
    "    .back = back,\n"
    "    PLATEN_COLUMNS(columns),\n"
    "    .rows = rows,\n"
    "};\n"
    "\n"
    "PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)\n"
    "{\n"
    "    return &plugin;\n"
    "}\n";

/* The header comes from the installed package, or from where CPATH points. */
static const char makefile[] =
    "@.so: @.c exports.map\n"
    "\t$(CC) -O2 -Wall -Wextra -fPIC -shared -Wl,--version-script=exports.map $(CFLAGS) \\\n"
    "\t  `pkg-config --cflags platen 2>/dev/null` -o $@ $< -lm && chmod go-w . $@\n";

static const char exports[] = "{\n    global: platen_plugin_entry;\n    local: *;\n};\n";

static const char rig_file[] =
    "{\n"
    "  \"name\": \"my-@\",\n"
    "  \"kind\": \"@\",\n"
    "  \"settings\": { \"full_force\": \"2 kN\", \"travel\": \"40 mm\" },\n"
    "  \"rated\": \"2 kN\",\n"
    "  \"dial\": { \"unit\": \"mm\", \"to\": \"40 mm\", \"class\": \"1 %\", \"marks\": \"1 mm\" }\n"
    "}\n";

static const char test[] =
    "# sh test.sh, after make: what every rig must stand, and forces worked out by hand.\n"
    "set -e\n"
    "folder=$(mktemp -d)\n"
    "trap 'rm -rf \"$folder\"' EXIT\n"
    "export PLATEN_PLUGINS=\"$PWD\" PLATEN_BOOK=\"$folder/test.book\"\n"
    "platen rig try @\n"
    "platen rig add @.json\n"
    "platen rig dial my-@ --reading \"20 mm\" | grep \"1000 N\" # half the travel of 2 kN\n";

static const char readme[] =
    "# @\n\n"
    "A rig plugin; so far a spring clamp: force = full_force x dial / travel.\n\n"
    "    make\n"
    "    sh test.sh\n"
    "    PLATEN_PLUGINS=$PWD platen rig add @.json\n\n"
    "Say here where your formulas come from. `recordings/pull.csv` is invented.\n";

/* '@' becomes the name, but for make's own "$@". */
static char *filled(pl_arena *a, const char *text, const char *name)
{
    pl_text t;

    pl_text_init(&t, a);
    for (const char *c = text; *c; c++) {
        if (*c == '@' && (c == text || c[-1] != '$'))
            pl_text_put(&t, name);
        else
            pl_text_bytes(&t, c, 1);
    }
    return pl_text_done(&t);
}

/* A second without load, 20 s up to 1.2 kN, a break. */
static char *recording(pl_arena *a)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_text_put(&t, "time [s],force [N]\n");
    for (int k = 0; k < 460; k++)
        pl_text_add(&t, "%d.%02d,%d\n", k / 20, k % 20 * 5,
                    k < 20     ? 0
                    : k <= 420 ? (k - 20) * 3
                               : 40);
    return pl_text_done(&t);
}

pl_code pl_rigs_scaffold(pl_arena *a, const char *dir, const char *name, pl_scaffold *out,
                         pl_diags *d)
{
    const struct {
        const char *name, *text;
    } files[PL_SCAFFOLD_FILES] = {
        { pl_arena_printf(a, "%s.c", name), filled(a, source, name) },
        { "Makefile", filled(a, makefile, name) },
        { "exports.map", exports },
        { pl_arena_printf(a, "%s.json", name), filled(a, rig_file, name) },
        { "recordings/pull.csv", recording(a) },
        { "test.sh", filled(a, test, name) },
        { "README.md", filled(a, readme, name) },
    };
    pl_code rc;

    if (!pl_text_is_name(name) || strlen(name) > 31 || !islower((unsigned char)name[0]))
        return pl_fail(d, PL_EUSAGE, "", .found = pl_arena_printf(a, "\"%s\"", name),
                       .expected = "a name of a-z, 0-9 and hyphen that starts with a letter, at "
                                   "most 31 long");
    out->folder = pl_file_join(a, dir, name);
    if (!out->folder)
        return pl_nomem(d);
    if (pl_file_exists(out->folder))
        return pl_fail(d, PL_EWRITE, out->folder, .found = "something that is there already",
                       .expected = "a new name");
    rc = pl_file_folder(pl_file_join(a, out->folder, "recordings"), d);
    for (size_t i = 0; i < PL_SCAFFOLD_FILES && !rc; i++) {
        out->files[i] = files[i].name ? pl_file_join(a, out->folder, files[i].name) : NULL;
        rc = out->files[i] && files[i].text
                 ? pl_file_write(out->files[i], files[i].text, strlen(files[i].text), false, d)
                 : pl_nomem(d);
    }
    return rc;
}
