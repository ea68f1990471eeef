/* Studies and their frozen plans. A revision never changes: what stands in it
 * is checked against its digest whenever it is read. */
#include "book/db.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "base/file.h"
#include "base/json.h"
#include "base/text.h"
#include "study/grow.h"

/* ------------------------------------------------------------------ finding ---- */

static pl_code study_key(pl_book *b, const char *name, int64_t *study, const char *doing,
                         pl_diags *d)
{
    pl_query q = pl_query_start(b, "SELECT study FROM study WHERE name = ?1", doing, d);

    *study = 0;
    pl_query_text(&q, name);
    while (pl_query_row(&q))
        *study = pl_column_whole(&q, 0);
    return pl_query_end(&q);
}

static pl_code no_study(pl_book *b, const char *name, pl_diags *d)
{
    const pl_book_study *studies = NULL;
    const char **names, *near;
    size_t n = 0;
    pl_code code = pl_book_studies(b->arena, b, &studies, &n, d);

    if (code)
        return code;
    names = PL_NEWN(b->arena, n, const char *);
    if (!names)
        return pl_nomem(d);
    for (size_t i = 0; i < n; i++)
        names[i] = studies[i].name;
    near = pl_text_nearest(name, names, n);
    return pl_fail(d, PL_EUSAGE, b->path, .found = pl_arena_printf(b->arena, "\"%s\"", name),
                   .expected = n ? "a study of this book" : "a study; the book holds none yet",
                   .mend = near ? pl_arena_printf(b->arena, "did you mean \"%s\"?", near)
                                : "freeze its plan first: platen plan STUDY");
}

pl_code pl_db_study(pl_book *b, const char *name, int64_t *study, pl_diags *d)
{
    pl_code code = study_key(b, name, study, "looking for a study", d);

    if (!code && !*study)
        code = no_study(b, name, d);
    return code;
}

pl_code pl_db_latest(pl_book *b, int64_t study, int64_t *revision, unsigned *number, pl_diags *d)
{
    pl_query q = pl_query_start(b,
                                "SELECT revision, number FROM revision WHERE study = ?1"
                                " ORDER BY number DESC LIMIT 1",
                                "looking for a plan", d);

    *revision = 0;
    *number = 0;
    pl_query_whole(&q, study);
    while (pl_query_row(&q)) {
        *revision = pl_column_whole(&q, 0);
        *number = (unsigned)pl_column_whole(&q, 1);
    }
    return pl_query_end(&q);
}

bool pl_book_has(pl_book *b, const char *study, pl_diags *d)
{
    int64_t key = 0;

    return study_key(b, study, &key, "looking for a study", d) == PL_OK && key;
}

/* ----------------------------------------------------------------- freezing ---- */

/* False: no memory. */
static bool digest_of(pl_arena *a, const char *text, size_t length, const char *plan,
                      char hex[PL_DIGEST_HEX])
{
    pl_digester *g = pl_digester_new(a);

    if (!g)
        return false;
    pl_digester_add(g, text, length);
    pl_digester_add(g, plan, strlen(plan));
    return pl_digester_end(g, hex);
}

/* NULL: no memory. */
static char *plan_text(pl_arena *a, const pl_study *s, const pl_plan *p, unsigned number,
                       pl_diags *d)
{
    pl_plan numbered = *p;
    pl_arena *scratch = pl_arena_new(0);
    pl_jval *object = scratch ? pl_jobject_dense(scratch) : NULL;
    char *text = NULL;

    numbered.revision = number;
    if (object && !pl_plan_to_kept(s, &numbered, object))
        text = pl_jtext(a, object);
    if (!text)
        pl_nomem(d);
    pl_arena_free(scratch);
    return text;
}

typedef struct freeze {
    pl_book *b;
    pl_event *ev;
    const pl_study *s;
    const pl_plan *p;
    pl_diags *d;
    int64_t study, revision; /* keys */
    unsigned number;
    const pl_plan *old; /* the latest revision's, where the new one only adds to it */
    const char **ids;   /* nid: of the plan, sorted: rows that come in their key's order cost a */
    size_t nid;         /* third of rows that do not; without those that the old one has */
    const char *doing;
} freeze;

/* The latest revision holds this study and this plan already. */
static pl_code already(freeze *f, bool *out)
{
    char digest[PL_DIGEST_HEX];
    const char *plan;
    pl_query q;

    *out = false;
    if (!f->number)
        return PL_OK;
    plan = plan_text(f->b->arena, f->s, f->p, f->number, f->d);
    if (!plan)
        return pl_nomem(f->d);
    if (!digest_of(f->b->arena, f->s->text, f->s->length, plan, digest))
        return pl_nomem(f->d);
    q = pl_query_start(f->b, "SELECT count(*) FROM revision WHERE revision = ?1 AND digest = ?2",
                       f->doing, f->d);
    pl_query_whole(&q, f->revision);
    pl_query_text(&q, digest);
    while (pl_query_row(&q))
        *out = pl_column_whole(&q, 0) != 0;
    return pl_query_end(&q);
}

static pl_code refuse_if_taken(freeze *f)
{
    pl_query q = pl_query_start(f->b, "SELECT count(*) FROM reading WHERE study = ?1", f->doing,
                                f->d);
    int64_t n = 0;

    pl_query_whole(&q, f->study);
    while (pl_query_row(&q))
        n = pl_column_whole(&q, 0);
    if (q.code == PL_OK && n)
        q.code = pl_fail(
            f->d, PL_ECONFLICT, f->b->path,
            .found = pl_arena_printf(f->b->arena,
                                     "%" PRId64 " readings taken for revision %u of \"%s\"", n,
                                     f->number, f->s->name),
            .expected = "a study without readings",
            .mend = "a new plan would give the same labels to other joints: give the study "
                    "another name and plan that");
    return pl_query_end(&q);
}

static pl_code add_study(freeze *f)
{
    pl_row r;

    if (f->study)
        return PL_OK;
    r = pl_row_start(f->ev, "study");
    pl_row_begin(&r);
    pl_query_text(&r.q, f->s->name);
    pl_row_put(&r);
    f->study = r.key;
    return pl_row_end(&r);
}

static pl_code add_revision(freeze *f, unsigned number, const char *plan)
{
    char digest[PL_DIGEST_HEX];
    pl_row r;

    if (!plan || !digest_of(f->b->arena, f->s->text, f->s->length, plan, digest))
        return pl_nomem(f->d);
    r = pl_row_start(f->ev, "revision");
    pl_row_begin(&r);
    pl_query_whole(&r.q, f->study);
    pl_query_whole(&r.q, number);
    pl_query_whole(&r.q, (int64_t)f->p->seed);
    pl_query_bytes(&r.q, f->s->text, f->s->length);
    pl_query_text(&r.q, plan);
    pl_query_text(&r.q, PL_VERSION);
    pl_query_whole(&r.q, f->ev->now);
    pl_query_text(&r.q, digest);
    pl_row_put(&r);
    f->revision = r.key;
    return pl_row_end(&r);
}

static pl_code issued_before(freeze *f, const char *id)
{
    pl_query q = pl_query_start(f->b,
                                "SELECT study.name, revision.number FROM specimen"
                                " JOIN revision USING (revision) JOIN study USING (study)"
                                " WHERE specimen.id = ?1",
                                f->doing, f->d);

    pl_query_text(&q, id);
    while (pl_query_row(&q)) {
        const char *name = pl_column_text(&q, f->b->arena, 0);

        if (name)
            q.code = pl_fail(f->d, PL_ECONFLICT, f->b->path,
                             .found = pl_arena_printf(f->b->arena,
                                                      "specimen id \"%s\" of revision %u of \"%s\"",
                                                      id, (unsigned)pl_column_whole(&q, 1), name),
                             .expected = "ids that were never issued before",
                             .mend = "a label may be about with this id: plan with another seed, "
                                     "or leave --seed out");
    }
    return pl_query_end(&q);
}

/* A plan that only adds to the latest one leaves its labels what they are. One that
 * cannot be read is not added to; whoever asks for it is told why. */
static void look_at_old(freeze *f)
{
    const pl_study *study = NULL;
    const pl_plan *old = NULL;
    pl_diags unsaid;

    pl_diags_init(&unsaid, f->b->arena);
    if (f->number &&
        !pl_book_plan(f->b->arena, f->b, f->s->name, f->number, &study, &old, &unsaid) && study &&
        pl_study_grown_from(f->b->arena, f->s, study) && pl_plan_grown_from(f->p, old))
        f->old = old;
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static const char **sorted_ids(pl_arena *a, const pl_plan *p)
{
    const char **ids = PL_NEWN(a, p->nspecimen, const char *);

    for (size_t i = 0; ids && i < p->nspecimen; i++)
        ids[i] = p->specimens[i].id;
    if (ids && p->nspecimen)
        qsort(ids, p->nspecimen, sizeof *ids, by_text);
    return ids;
}

static pl_code list_ids(freeze *f)
{
    const char **old = f->old ? sorted_ids(f->b->arena, f->old) : NULL;
    size_t nold = f->old ? f->old->nspecimen : 0;

    f->ids = sorted_ids(f->b->arena, f->p);
    if (!f->ids || (f->old && !old))
        return pl_nomem(f->d);
    for (size_t i = 0, k = 0; i < f->p->nspecimen; i++) {
        while (k < nold && strcmp(old[k], f->ids[i]) < 0)
            k++;
        if (k == nold || strcmp(old[k], f->ids[i]) != 0)
            f->ids[f->nid++] = f->ids[i];
    }
    return PL_OK;
}

/* All ids that are taken are found, not just the first. */
static pl_code look_for_ids(freeze *f)
{
    size_t from = f->d->count;
    pl_query q = pl_query_start(f->b, "SELECT count(*) FROM specimen WHERE id = ?1", f->doing,
                                f->d);

    for (size_t i = 0; i < f->nid && q.code == PL_OK; i++) {
        pl_query_again(&q);
        pl_query_text(&q, f->ids[i]);
        if (pl_query_row(&q) && pl_column_whole(&q, 0))
            issued_before(f, f->ids[i]);
    }
    if (pl_query_end(&q))
        return q.code;
    return pl_diags_code(f->d, from);
}

static pl_code add_specimens(freeze *f)
{
    pl_row r = pl_row_start(f->ev, "specimen");

    for (size_t i = 0; i < f->nid && r.q.code == PL_OK; i++) {
        pl_row_begin(&r);
        pl_query_text(&r.q, f->ids[i]);
        pl_query_whole(&r.q, f->revision);
        pl_row_put(&r);
    }
    return pl_row_end(&r);
}

static pl_code freeze_next(freeze *f)
{
    pl_code code;

    look_at_old(f);
    code = f->old ? PL_OK : refuse_if_taken(f);
    if (!code)
        code = list_ids(f);
    if (!code)
        code = look_for_ids(f);
    if (!code)
        code = add_study(f);
    if (!code)
        code = add_revision(f, f->number + 1,
                            plan_text(f->b->arena, f->s, f->p, f->number + 1, f->d));
    if (!code)
        code = add_specimens(f);
    return code;
}

pl_code pl_book_freeze(pl_book *b, const pl_study *study, const pl_plan *plan, unsigned *number,
                       pl_diags *d)
{
    pl_event ev;
    freeze f = { .b = b, .ev = &ev, .s = study, .p = plan, .d = d, .doing = "freezing a plan" };
    bool same = false;
    pl_code code = pl_event_begin(b, f.doing, &ev, d);

    if (code)
        return code;
    code = study_key(b, study->name, &f.study, f.doing, d);
    if (!code && f.study)
        code = pl_db_latest(b, f.study, &f.revision, &f.number, d);
    if (!code)
        code = already(&f, &same);
    if (!code && !same)
        code = freeze_next(&f);
    code = pl_event_end(&ev, code, "plan", study->name,
                        pl_arena_printf(b->arena, "revision %u, %zu specimens, seed %" PRIu64,
                                        f.number + 1, plan->nspecimen, plan->seed));
    if (!code)
        *number = f.number + !same;
    return code;
}

/* A study that came with its plan from elsewhere. */
pl_code pl_db_freeze_as(pl_event *ev, const pl_study *s, const pl_plan *p, const char *plan,
                        int64_t *study, int64_t *revision)
{
    freeze f = { .b = ev->b, .ev = ev, .s = s, .p = p, .d = ev->d, .doing = ev->doing };
    pl_code code = study_key(ev->b, s->name, &f.study, f.doing, ev->d);

    if (!code && f.study)
        code = pl_fail(ev->d, PL_ECONFLICT, ev->b->path,
                       .found = pl_arena_printf(ev->b->arena, "a study \"%s\" already", s->name),
                       .expected = "a study that the book does not hold",
                       .mend = "take it into a book of its own: --book FILE");
    if (!code)
        code = list_ids(&f);
    if (!code)
        code = look_for_ids(&f);
    if (!code)
        code = add_study(&f);
    if (!code)
        code = add_revision(&f, p->revision, plan);
    if (!code)
        code = add_specimens(&f);
    *study = f.study;
    *revision = f.revision;
    return code;
}

/* ------------------------------------------------------------------ reading ---- */

static pl_code no_revision(pl_book *b, const char *study, unsigned number, pl_diags *d)
{
    int64_t key = 0, revision;
    unsigned latest = 0;
    pl_code code = pl_db_study(b, study, &key, d);

    if (!code)
        code = pl_db_latest(b, key, &revision, &latest, d);
    if (code)
        return code;
    return pl_fail(d, PL_EUSAGE, b->path,
                   .found = pl_arena_printf(b->arena, "revision %u of \"%s\"", number, study),
                   .expected = pl_arena_printf(b->arena, "1 to %u", latest));
}

enum { R_NUMBER = 2, R_SEED, R_TEXT, R_PLAN, R_PROGRAM, R_MADE_AT };

pl_code pl_book_revision(pl_arena *a, pl_book *b, const char *study, unsigned number,
                         const pl_revision **out, pl_diags *d)
{
    const pl_table_of *t = pl_table_named("revision");
    pl_revision *r = PL_NEW(a, pl_revision);
    bool found = false;
    pl_code code;
    pl_query q = pl_rows_start(
        b, t,
        "JOIN study s ON s.study = +x.study WHERE s.name = ?1 AND x.entry <= ?2"
        " AND (?3 = 0 OR x.number = ?3) ORDER BY x.number DESC LIMIT 1",
        "reading a plan", d);

    if (!r)
        q.code = pl_nomem(d);
    pl_query_text(&q, study);
    pl_query_whole(&q, b->as_of);
    pl_query_whole(&q, number);
    while (pl_query_row(&q)) {
        if (pl_row_check(&q, t))
            break;
        *r = (pl_revision){ .study = pl_arena_str(a, study),
                            .number = (unsigned)pl_column_whole(&q, R_NUMBER),
                            .seed = (uint64_t)pl_column_whole(&q, R_SEED),
                            .text = pl_column_text(&q, a, R_TEXT),
                            .length = pl_column_length(&q, R_TEXT),
                            .plan_json = pl_column_text(&q, a, R_PLAN),
                            .program = pl_column_text(&q, a, R_PROGRAM),
                            .made_at = pl_column_whole(&q, R_MADE_AT) };
        found = true;
    }
    code = pl_query_end(&q);
    if (code)
        return code;
    if (!found)
        return no_revision(b, study, number, d);
    if (!r->study)
        return pl_nomem(d);
    *out = r;
    return PL_OK;
}

pl_code pl_book_plan(pl_arena *a, pl_book *b, const char *study, unsigned number,
                     const pl_study **out_study, const pl_plan **out_plan, pl_diags *d)
{
    const pl_revision *r = NULL;
    const pl_json *object = NULL;
    const pl_study *s = NULL;
    const char *name;
    pl_code code = pl_book_revision(a, b, study, number, &r, d);

    if (!r) /* set on PL_OK only */
        return code;
    name = pl_arena_printf(a, "%s, revision %u of %s", b->path, r->number, study);
    if (!name)
        return pl_nomem(d);
    code = pl_study_parse(a, name, r->text, r->length, &s, d);
    if (!code)
        code = pl_json_parse(a, name, r->plan_json, strlen(r->plan_json), &object, d);
    if (!code)
        code = pl_plan_from_json(a, s, object, out_plan, d);
    if (!code)
        *out_study = s;
    return code;
}

pl_code pl_book_studies(pl_arena *a, pl_book *b, const pl_book_study **out, size_t *count,
                        pl_diags *d)
{
    pl_query q = pl_query_start(
        b,
        "SELECT s.name, max(r.number), r.made_at,"
        " (SELECT count(*) FROM specimen JOIN revision v USING (revision) WHERE v.study = s.study),"
        " (SELECT count(*) FROM reading x WHERE x.study = s.study AND x.ended IS NULL),"
        " (SELECT count(*) FROM fit WHERE fit.study = s.study)"
        " FROM study s JOIN revision r ON r.study = s.study GROUP BY s.study ORDER BY s.name",
        "listing studies", d);
    pl_book_study *list = NULL;
    size_t n = 0, room = 0;

    while (pl_query_row(&q)) {
        if (n == room) {
            room = room ? 2 * room : 16;
            list = pl_arena_grow(a, list, n, room, sizeof *list);
            if (!list) {
                q.code = pl_nomem(d);
                break;
            }
        }
        list[n++] = (pl_book_study){ .name = pl_column_text(&q, a, 0),
                                     .revision = (unsigned)pl_column_whole(&q, 1),
                                     .made_at = pl_column_whole(&q, 2),
                                     .specimens = (size_t)pl_column_whole(&q, 3),
                                     .readings = (size_t)pl_column_whole(&q, 4),
                                     .fits = (size_t)pl_column_whole(&q, 5) };
    }
    *out = list;
    *count = n;
    return pl_query_end(&q);
}

pl_code pl_book_ids(pl_arena *a, pl_book *b, const char *const **out, size_t *count, pl_diags *d)
{
    pl_query q = pl_query_start(b, "SELECT id FROM specimen ORDER BY id", "listing ids", d);
    const char **list = NULL;
    size_t n = 0, room = 0;

    while (pl_query_row(&q)) {
        if (n == room) {
            room = room ? 2 * room : 256;
            list = pl_arena_grow(a, list, n, room, sizeof *list);
            if (!list) {
                q.code = pl_nomem(d);
                break;
            }
        }
        list[n++] = pl_column_text(&q, a, 0);
    }
    *out = list;
    *count = n;
    return pl_query_end(&q);
}
