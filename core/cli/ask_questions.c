/* What platen ask asks: each question's words, what it offers, and which members
 * of the study file its answer changes. Whether the answer will do is the study
 * reader's to say. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "cli/ask.h"

/* Studies to begin with; all figures are offers. Levels and sizes: common
 * practice in joint tests, no source. */
static const char plateau[] =
    "{ \"study\": \"x\","
    "  \"question\": { \"aim\": \"plateau\", \"over\": \"pressure\", \"share\": \"95 %\","
    "    \"worth_noticing\": \"15 %\","
    "    \"note\": \"From which pressure on does squeezing harder no longer help? share: how much "
    "of the highest strength counts as all of it.\" },"
    "  \"factors\": [{ \"name\": \"pressure\","
    "    \"levels\": [\"0.2 N/mm2\", \"0.4 N/mm2\", \"0.8 N/mm2\", \"1.6 N/mm2\", \"2.4 N/mm2\"],"
    "    \"set_by\": \"press\", \"note\": \"On the bond, not on the dial.\" }],";
static const char difference[] =
    "{ \"study\": \"x\","
    "  \"question\": { \"aim\": \"difference\", \"worth_noticing\": \"15 %\","
    "    \"note\": \"Do the kinds differ in strength by what is worth noticing?\" },"
    "  \"factors\": [{ \"name\": \"surface\", \"levels\": [\"planed\", \"sanded\"],"
    "    \"set_by\": \"hand\" }],";
static const char rest[] =
    "  \"glue_ups_per_level\": 6,"
    "  \"joint\": { \"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 mm\","
    "    \"adherend\": { \"length\": \"110 mm\", \"width\": \"40 mm\", \"thickness\": \"20 mm\","
    "      \"note\": \"One of the pieces; length is along the grain.\" } },"
    "  \"boards\": [{ \"species\": \"beech\", \"count\": 6, \"length\": \"900 mm\","
    "    \"width\": \"95 mm\", \"thickness\": \"20 mm\" }],"
    "  \"cutting\": { \"kerf\": \"3 mm\", \"discard_ends\": \"20 mm\", \"spare_joints\": \"1 in "
    "8\","
    "    \"note\": \"What the saw takes, what is cut off each end, and joints for mishaps.\" },"
    "  \"adhesive\": { \"kind\": \"PVAc\", \"open_time_limit\": \"8 min\" },"
    "  \"presses\": [{ \"name\": \"press\", \"stations\": 1, \"changeover\": \"2 min\","
    "    \"note\": \"A station closes by itself; changeover is from opening one to closing the "
    "next.\" }],"
    "  \"breaking\": { \"note\": \"rig: the one that breaks, once it is in the book.\" },"
    "  \"times\": { \"clamp\": \"45 min\", \"cure\": { \"at_least\": \"7 d\" }, \"hands_on\": "
    "\"6 min\","
    "    \"session\": \"8 h\", \"note\": \"hands_on: spreading and closing one glue-up; session: "
    "one "
    "sitting.\" },"
    "  \"scatter\": \"unknown\" }";

char *pl_ask_begin(pl_arena *a, const char *aim)
{
    bool one = !strcmp(aim, "1") || !strcmp(aim, "plateau");

    if (!one && strcmp(aim, "2") && strcmp(aim, "difference"))
        return NULL;
    return pl_arena_printf(a, "%s%s", one ? plateau : difference, rest);
}

/* -------------------------------------------------------- taking apart ------- */

#define PARTS_MOST 200

static char *trimmed(char *s)
{
    char *end = s + strlen(s);

    while (end > s && (end[-1] == ' ' || end[-1] == '\t'))
        *--end = '\0';
    return s + strspn(s, " \t");
}

/* Parts of s between any of the marks; how many, PARTS_MOST at most. */
static size_t split(char *s, const char *marks, char **parts)
{
    size_t n = 0;

    while (s && n < PARTS_MOST) {
        char *next = strpbrk(s, marks);

        if (next)
            *next++ = '\0';
        parts[n++] = trimmed(s);
        s = next;
    }
    return n;
}

/* "40", "30 mm": the unit behind the last goes to all numbers without one. */
static void share_unit(pl_arena *a, char **parts, size_t n)
{
    const char *last = n ? parts[n - 1] : "";
    const char *unit = last + strspn(last, "+-.0123456789 ");
    double x;

    for (size_t i = 0; *unit && unit > last && i < n; i++)
        if (pl_text_to_number(parts[i], &x)) {
            char *whole = pl_arena_printf(a, "%s %s", parts[i], unit);

            parts[i] = whole ? whole : parts[i];
        }
}

static void wrong(pl_draft *d, const char *found, const char *expected, const char *mend)
{
    pl_fail(&d->faults, PL_EVALUE, "", .found = pl_arena_printf(d->a, "\"%s\"", found),
            .expected = expected, .mend = mend);
}

/* The text at a path of the study so far, or NULL. */
static const char *text_at(const pl_asking *k, const char *object, const char *inner,
                           const char *key)
{
    const pl_json *v = pl_json_get(k->study->root, object);

    v = v && v->kind == PL_JSON_ARRAY ? v->child : v;
    v = v && inner ? pl_json_get(v, inner) : v;
    v = v && v->kind == PL_JSON_OBJECT ? pl_json_get(v, key) : NULL;
    return v && v->kind == PL_JSON_STRING ? v->string : NULL;
}

/* ------------------------------------------------------------- factors ------- */

static bool is_difference(const pl_asking *k)
{
    return !k->like && k->study->question.aim == PL_AIM_DIFFERENCE;
}

static char *name_preset(const pl_asking *k)
{
    return pl_arena_str(k->a, k->study->factors[0].name);
}

static void put_name(const pl_asking *k, pl_draft *d, char *answer)
{
    (void)k;
    pl_draft_text(d, "factors/0/name", answer);
}

static char *levels_of(const pl_asking *k, const pl_factor *f)
{
    pl_text t;

    pl_text_init(&t, k->a);
    for (size_t i = 0; i < f->nlevel; i++)
        pl_text_add(&t, "%s%s", i ? ", " : "", f->levels[i].text);
    return pl_text_done(&t);
}

static char *levels_preset(const pl_asking *k)
{
    return levels_of(k, &k->study->factors[k->level]);
}

/* Said here: the reader would speak of keys that nobody was asked for. */
static bool are_pressures(pl_draft *d, char *const *parts, size_t n)
{
    size_t before = d->faults.count;
    const char *why = "";
    pl_dim dim;

    for (size_t i = 0; i < n; i++)
        if (pl_units_read(d->a, parts[i], PL_Q_PRESSURE, &dim, &why))
            wrong(d, parts[i], "pressures on the bond with their unit: \"0.2, 0.4, 0.8 N/mm2\"",
                  why);
    return d->faults.count == before;
}

static void put_levels(const pl_asking *k, pl_draft *d, char *answer)
{
    static const char *const spaced[] = { "from", "to", "count", "spacing" };
    char *parts[PARTS_MOST];
    size_t n = split(answer, ",;", parts);

    share_unit(k->a, parts, n);
    if (k->study->factors[k->level].set_by == PL_SET_BY_PRESS && !are_pressures(d, parts, n))
        return;
    for (size_t i = 0; i < 4; i++)
        pl_draft_drop(d, pl_arena_printf(k->a, "factors/%zu/%s", k->level, spaced[i]));
    pl_draft_list(d, pl_arena_printf(k->a, "factors/%zu/levels", k->level),
                  (const char *const *)parts, n);
}

/* --------------------------------------------------------------- woods ------- */

static char *woods_preset(const pl_asking *k)
{
    int with = pl_study_with_board(k->study);
    pl_text t;

    if (with >= 0)
        return levels_of(k, &k->study->factors[with]);
    pl_text_init(&t, k->a);
    for (size_t i = 0; i < k->study->nboard_kinds; i++)
        pl_text_add(&t, "%s%s", i ? ", " : "", k->study->boards[i].species);
    return pl_text_done(&t);
}

/* Boards of these woods, each as the first of those before. */
static void put_boards_of(const pl_asking *k, pl_draft *d, char *const *woods, size_t n)
{
    static const char *const sizes[] = { "length", "width", "thickness" };

    pl_draft_empty(d, "boards");
    for (size_t i = 0; i < n; i++) {
        pl_draft_text(d, pl_arena_printf(k->a, "boards/%zu/species", i), woods[i]);
        pl_draft_whole(d, pl_arena_printf(k->a, "boards/%zu/count", i),
                       k->study->nboard_kinds ? k->study->boards[0].count : 6);
        for (size_t s = 0; s < 3; s++) {
            const char *size = text_at(k, "boards", NULL, sizes[s]);

            if (size)
                pl_draft_text(d, pl_arena_printf(k->a, "boards/%zu/%s", i, sizes[s]), size);
        }
    }
}

/* Several woods are a factor of their own; one is none. */
static void put_woods(const pl_asking *k, pl_draft *d, char *answer)
{
    int with = pl_study_with_board(k->study);
    size_t at = with >= 0 ? (size_t)with : k->study->nfactor;
    char *parts[PARTS_MOST];
    size_t n = split(answer, ",;", parts);
    const char *name = with >= 0 ? k->study->factors[with].name : "species";

    if (n > 1) {
        pl_draft_text(d, pl_arena_printf(k->a, "factors/%zu/name", at), name);
        pl_draft_list(d, pl_arena_printf(k->a, "factors/%zu/levels", at),
                      (const char *const *)parts, n);
        pl_draft_text(d, pl_arena_printf(k->a, "factors/%zu/set_by", at), "hand");
        pl_draft_text(d, pl_arena_printf(k->a, "factors/%zu/comes_with", at), "board");
        if (with < 0 && k->study->question.aim == PL_AIM_PLATEAU)
            pl_draft_text(d, "question/for_each", name);
    } else if (with >= 0) {
        pl_draft_drop(d, pl_arena_printf(k->a, "factors/%zu", at));
        if (k->study->question.for_each == with)
            pl_draft_drop(d, "question/for_each");
    }
    put_boards_of(k, d, parts, n);
}

/* --------------------------------------------------------------- joint ------- */

static const char *const all_sizes[] = { "width", "overlap", "height", "thickness", "area" };

static char *bond_preset(const pl_asking *k)
{
    const pl_joint *j = &k->study->joint;

    if (j->kind == PL_JOINT_OTHER)
        return NULL;
    return pl_arena_printf(k->a, "%s, %s x %s", pl_joint_kind_name(j->kind), j->size[0].text,
                           j->size[1].text);
}

/* "lap, 40 x 30 mm". The pieces are asked for next: those before may be too small now. */
static void put_bond(const pl_asking *k, pl_draft *d, char *answer)
{
    static const char form[] = "a kind and two sizes: \"lap, 40 x 30 mm\"";
    static const char *const second[] = { "overlap", "overlap", "height", "thickness" };
    char *comma = strchr(answer, ','), *parts[PARTS_MOST];
    size_t n;
    int kind = 0;

    if (!comma) {
        wrong(d, answer, form, "");
        return;
    }
    *comma = '\0';
    answer = trimmed(answer);
    while (kind < PL_JOINT_OTHER && strcmp(pl_joint_kind_name((pl_joint_kind)kind), answer))
        kind++;
    n = split(comma + 1, "xX*", parts);
    share_unit(k->a, parts, n);
    if (kind == PL_JOINT_OTHER || n != 2) {
        wrong(d, answer,
              kind == PL_JOINT_OTHER
                  ? "lap, double-lap, block-shear or butt-tension before the comma"
                  : form,
              "a joint of another shape is written into the file by hand: see docs/study-file.md");
        return;
    }
    for (size_t i = 0; i < sizeof all_sizes / sizeof *all_sizes; i++)
        pl_draft_drop(d, pl_arena_printf(k->a, "joint/%s", all_sizes[i]));
    pl_draft_text(d, "joint/kind", pl_joint_kind_name((pl_joint_kind)kind));
    pl_draft_text(d, "joint/width", parts[0]);
    pl_draft_text(d, pl_arena_printf(k->a, "joint/%s", second[kind]), parts[1]);
    if (kind != (int)k->study->joint.kind)
        pl_draft_drop(d, "joint/adherends");
    pl_draft_drop(d, "joint/stated_area");
    pl_draft_drop(d, "joint/adherend");
}

static char *length_text(const pl_asking *k, double m)
{
    return pl_units_text(k->a, m, PL_Q_LENGTH, k->study->joint.unit, 6);
}

/* As before where the bond lies within it; else three bonds long and as wide. */
static char *piece_preset(const pl_asking *k)
{
    const pl_joint *j = &k->study->joint;
    double thick_m = k->study->nboard_kinds ? k->study->boards[0].thickness_m : NAN;

    if (!isnan(j->adherend.length_m))
        return pl_arena_printf(
            k->a, "%s x %s%s%s", length_text(k, j->adherend.length_m),
            length_text(k, j->adherend.width_m), isnan(j->adherend.thickness_m) ? "" : " x ",
            isnan(j->adherend.thickness_m) ? "" : length_text(k, j->adherend.thickness_m));
    if (j->kind == PL_JOINT_OTHER)
        return NULL;
    return pl_arena_printf(k->a, "%s x %s%s%s", length_text(k, 3 * j->size[1].si),
                           length_text(k, j->size[0].si), isnan(thick_m) ? "" : " x ",
                           isnan(thick_m) ? "" : length_text(k, thick_m));
}

/* Boards are asked for next: of those before only woods and counts are kept where a
 * piece is no longer found in them. */
static void put_piece(const pl_asking *k, pl_draft *d, char *answer)
{
    static const char *const names[] = { "length", "width", "thickness" };
    char *parts[PARTS_MOST];
    size_t n = split(answer, "xX*", parts);
    const pl_study *tried;
    pl_draft try;

    if (n != 2 && n != 3) {
        wrong(d, answer, "length x width x thickness: \"110 x 40 x 20 mm\"", "");
        return;
    }
    share_unit(k->a, parts, n);
    pl_draft_object(d, "joint/adherend");
    for (size_t i = 0; i < n; i++)
        pl_draft_text(d, pl_arena_printf(k->a, "joint/adherend/%s", names[i]), parts[i]);
    try = *d;
    pl_diags_init(&try.faults, k->a);
    if (!pl_draft_read(&try, &tried))
        return;
    for (size_t i = 0; i < k->study->nboard_kinds; i++)
        for (size_t s = 0; s < 4; s++)
            pl_draft_drop(
                d, pl_arena_printf(k->a, "boards/%zu/%s", i, s < 3 ? names[s] : "specimens"));
}

static bool no_piece(const pl_asking *k)
{
    return isnan(k->study->joint.adherend.length_m);
}

static bool has_boards(const pl_asking *k)
{
    return k->study->nboard_kinds > 0;
}

static bool same_boards(const pl_study *s)
{
    for (size_t i = 1; i < s->nboard_kinds; i++)
        if (s->boards[i].count != s->boards[0].count ||
            s->boards[i].length_m != s->boards[0].length_m ||
            s->boards[i].width_m != s->boards[0].width_m)
            return false;
    return true;
}

static char *boards_preset(const pl_asking *k)
{
    const char *length = text_at(k, "boards", NULL, "length");
    const char *width = text_at(k, "boards", NULL, "width");
    const char *thick = text_at(k, "boards", NULL, "thickness");

    if (!length || !width || !same_boards(k->study))
        return NULL;
    return pl_arena_printf(k->a, "%u of %s x %s%s%s", k->study->boards[0].count, length, width,
                           thick ? " x " : "", thick ? thick : "");
}

/* "6 of 900 x 95 x 20 mm", or the number alone. */
static void put_boards(const pl_asking *k, pl_draft *d, char *answer)
{
    static const char *const names[] = { "length", "width", "thickness" };
    char *of = strstr(answer, " of "), *parts[PARTS_MOST];
    size_t n = 0;
    long long count;

    if (of) {
        *of = '\0';
        n = split(of + 4, "xX*", parts);
        share_unit(k->a, parts, n);
    }
    answer = trimmed(answer);
    if (!pl_text_to_whole(answer, 1, 1000, &count) || n == 1 || n > 3) {
        wrong(d, answer, "a number, and sizes: \"6 of 900 x 95 x 20 mm\"",
              "without sizes the boards' yield is not worked out: \"6\"");
        return;
    }
    for (size_t i = 0; i < k->study->nboard_kinds; i++) {
        pl_draft_whole(d, pl_arena_printf(k->a, "boards/%zu/count", i), count);
        for (size_t s = 0; s < 3; s++) {
            const char *path = pl_arena_printf(k->a, "boards/%zu/%s", i, names[s]);

            if (s < n)
                pl_draft_text(d, path, parts[s]);
            else
                pl_draft_drop(d, path);
        }
    }
}

/* ------------------------------------------------- glue, presses, times ------ */

static char *glue_preset(const pl_asking *k)
{
    const char *kind = text_at(k, "adhesive", NULL, "kind");
    const char *limit = text_at(k, "adhesive", NULL, "open_time_limit");

    if (!kind)
        return NULL;
    return limit ? pl_arena_printf(k->a, "%s, %s", kind, limit) : pl_arena_str(k->a, kind);
}

static void put_glue(const pl_asking *k, pl_draft *d, char *answer)
{
    char *comma = strrchr(answer, ',');

    (void)k;
    if (comma) {
        *comma = '\0';
        pl_draft_text(d, "adhesive/open_time_limit", trimmed(comma + 1));
    } else {
        pl_draft_drop(d, "adhesive/open_time_limit");
    }
    pl_draft_text(d, "adhesive/kind", trimmed(answer));
}

static bool one_press(const pl_asking *k)
{
    return k->study->npress == 1;
}

static char *stations_preset(const pl_asking *k)
{
    return pl_arena_printf(k->a, "%u", k->study->presses[0].stations);
}

static void put_stations(const pl_asking *k, pl_draft *d, char *answer)
{
    long long n;

    (void)k;
    if (pl_text_to_whole(answer, 1, 100, &n))
        pl_draft_whole(d, "presses/0/stations", n);
    else
        wrong(d, answer, "a whole number from 1 to 100", "");
}

static char *clamp_preset(const pl_asking *k)
{
    return pl_arena_str(k->a, text_at(k, "times", NULL, "clamp"));
}

static void put_clamp(const pl_asking *k, pl_draft *d, char *answer)
{
    (void)k;
    pl_draft_text(d, "times/clamp", answer);
}

static char *cure_preset(const pl_asking *k)
{
    return pl_arena_str(k->a, text_at(k, "times", "cure", "at_least"));
}

static void put_cure(const pl_asking *k, pl_draft *d, char *answer)
{
    (void)k;
    pl_draft_text(d, "times/cure/at_least", answer);
}

/* ----------------------------------------------------------- how sure -------- */

static char *worth_preset(const pl_asking *k)
{
    return pl_arena_str(k->a, k->study->question.worth_noticing.text);
}

static void put_worth(const pl_asking *k, pl_draft *d, char *answer)
{
    (void)k;
    pl_draft_text(d, "question/worth_noticing", answer);
}

static char *number_preset(const pl_asking *k)
{
    return k->study->glue_ups_per_level ? pl_arena_printf(k->a, "%u", k->study->glue_ups_per_level)
                                        : pl_arena_str(k->a, "enough");
}

static void put_number(const pl_asking *k, pl_draft *d, char *answer)
{
    long long n;

    (void)k;
    if (!strcmp(answer, "enough"))
        pl_draft_drop(d, "glue_ups_per_level");
    else if (pl_text_to_whole(answer, 1, 1000, &n))
        pl_draft_whole(d, "glue_ups_per_level", n);
    else
        wrong(d, answer, "a whole number from 1 to 1000, or: enough", "");
}

static char *scatter_preset(const pl_asking *k)
{
    const pl_scatter *s = &k->study->scatter;
    const char *cv = text_at(k, "scatter", NULL, "cv"), *sd = text_at(k, "scatter", NULL, "sd");

    if (s->unknown)
        return pl_arena_str(k->a, "unknown");
    if (!cv && !sd)
        return NULL; /* in parts: left as it is */
    return s->glue_ups ? pl_arena_printf(k->a, "%s of %u", cv ? cv : sd, s->glue_ups)
                       : pl_arena_str(k->a, cv ? cv : sd);
}

/* "unknown", "12 %", "12 % of 8", "1.1 N/mm2 of 8" */
static void put_scatter(const pl_asking *k, pl_draft *d, char *answer)
{
    char *of = strstr(answer, " of ");
    const char *kind;
    long long n = 0;

    (void)k;
    if (!strcmp(answer, "unknown")) {
        pl_draft_text(d, "scatter", answer);
        return;
    }
    if (of) {
        *of = '\0';
        if (!pl_text_to_whole(trimmed(of + 4), 2, 100000, &n)) {
            wrong(d, trimmed(of + 4), "how many glue-ups it came from, 2 or more", "");
            return;
        }
    }
    answer = trimmed(answer);
    kind = strchr(answer, '%') ? "scatter/cv" : "scatter/sd";
    pl_draft_object(d, "scatter");
    pl_draft_text(d, kind, answer);
    if (n)
        pl_draft_whole(d, "scatter/glue_ups", n);
}

/* ---------------------------------------------------------------- rigs ------- */

static char *rigs_preset(const pl_asking *k)
{
    const pl_study *s = k->study;
    size_t n = 0;
    pl_text t;

    if (!s->nrig)
        return NULL;
    pl_text_init(&t, k->a);
    for (size_t i = 0; i < s->nrig; i++)
        if ((int)i != s->breaking.rig)
            pl_text_add(&t, "%s%s", n++ ? ", " : "", s->rigs[i].name);
    if (s->breaking.rig >= 0)
        pl_text_add(&t, "; %s", s->rigs[s->breaking.rig].name);
    return pl_text_done(&t);
}

/* "weights, air-press; pull-bench": those that press, and the one that breaks. */
static void put_rigs(const pl_asking *k, pl_draft *d, char *answer)
{
    char *breaking = strchr(answer, ';'), *parts[PARTS_MOST];
    bool also = false;
    size_t n;

    if (breaking)
        *breaking++ = '\0';
    n = split(answer, ",", parts);
    if (n == 1 && !parts[0][0])
        n = 0;
    if (breaking && n < PARTS_MOST) {
        breaking = trimmed(breaking);
        for (size_t i = 0; i < n; i++)
            also = also || !strcmp(parts[i], breaking);
        if (!also)
            parts[n++] = breaking;
    }
    pl_draft_list(d, "rigs", (const char *const *)parts, n);
    for (size_t i = 0; i < k->study->npress; i++)
        pl_draft_drop(d, pl_arena_printf(k->a, "presses/%zu/rigs", i));
    if (breaking)
        pl_draft_text(d, "breaking/rig", breaking);
    else
        pl_draft_drop(d, "breaking/rig");
}

static char *no_preset(const pl_asking *k)
{
    (void)k;
    return NULL;
}

static void put_title(const pl_asking *k, pl_draft *d, char *answer)
{
    (void)k;
    pl_draft_text(d, "title", answer);
}

const pl_question_asked pl_questions[] = {
    { "factor", "What is done differently from joint to joint, in a word?", is_difference,
      name_preset, put_name, false, NULL },
    { "levels", "Which levels of", NULL, levels_preset, put_levels, true, NULL },
    { "woods", "Which woods, with commas between?", has_boards, woods_preset, put_woods, false,
      NULL },
    { "bond",
      "What kind of joint, and how large is its bond?\n"
      "   lap or double-lap: width x overlap; block-shear: width x height;\n"
      "   butt-tension: width x thickness",
      NULL, bond_preset, put_bond, false, NULL },
    { "piece", "How large is one piece of it? length along the grain x width x thickness", NULL,
      piece_preset, put_piece, false, no_piece },
    { "boards", "How many boards of each wood, and how large? length x width x thickness",
      has_boards, boards_preset, put_boards, false, NULL },
    { "glue", "Which glue, and how long after spreading may it still be closed?", NULL, glue_preset,
      put_glue, false, NULL },
    { "stations", "How many joints can be clamped at the same time, each by itself?", one_press,
      stations_preset, put_stations, false, NULL },
    { "clamp", "How long does a joint stay clamped?", NULL, clamp_preset, put_clamp, false, NULL },
    { "cure", "How long does it lie before it is broken, at least?", NULL, cure_preset, put_cure,
      false, NULL },
    { "worth", "Which difference in strength would matter to you? a share or a strength", NULL,
      worth_preset, put_worth, false, NULL },
    { "scatter",
      "By how much did joints made alike differ in an earlier trial?\n"
      "   unknown, a share or a strength; and of how many glue-ups: \"12 % of 8\"",
      NULL, scatter_preset, put_scatter, false, NULL },
    { "glue_ups",
      "How many glue-ups of each? enough: as many as it takes to notice that difference", NULL,
      number_preset, put_number, false, NULL },
    { "rigs",
      "Which of your rigs press, and behind a semicolon which one breaks?\n"
      "   by their names in the book: \"weights, air-press; pull-bench\"",
      NULL, rigs_preset, put_rigs, false, NULL },
    { "title", "One line for the top of the report", NULL, no_preset, put_title, false, NULL },
};
const size_t pl_nquestions = sizeof pl_questions / sizeof *pl_questions;
