/* platen book check: the book held to itself, and every kept fit made again. What
 * a fit saw is what the book held after the entry of the trail that it notes. */
#include <math.h>
#include <string.h>

#include "cli/book.h"
#include "cli/study_fit.h"

/* Figures of the same readings by the same program agree to this, relative to the
 * larger of the two. */
#define SAME_FIGURE 1e-12

typedef struct redo {
    pl_run *run;
    const pl_book_fit *fit;
    size_t again, skipped;
} redo;

/* ---------------------------------------------------------- comparing ------ */

/* Where two answers part, as a JSON pointer of the kept one; NULL: nowhere. */
static const pl_json *parts_at(const pl_json *kept, const pl_json *now);

/* Sentences say the figures once more, in words that may become better. */
static bool is_sentences(const pl_json *x)
{
    static const char *const keys[] = { "notes", "dials", "cannot_tell" };

    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (x->key && !strcmp(x->key, keys[i]))
            return true;
    return false;
}

/* New members may come; what was kept must be there. */
static const pl_json *parts_in(const pl_json *kept, const pl_json *now)
{
    const pl_json *y = now->child;

    if (kept->kind == PL_JSON_ARRAY && kept->count != now->count)
        return kept;
    for (const pl_json *x = kept->child; x; x = x->next) {
        const pl_json *at;

        if (x->key)
            y = pl_json_get(now, x->key);
        if (!y)
            return x;
        at = is_sentences(x) ? NULL : parts_at(x, y);
        if (at)
            return at;
        y = y->next;
    }
    return NULL;
}

static bool same_number(double x, double y)
{
    return fabs(x - y) <= SAME_FIGURE * fmax(fabs(x), fabs(y));
}

static const pl_json *parts_at(const pl_json *kept, const pl_json *now)
{
    bool same = kept->kind == now->kind;

    if (!same)
        return kept;
    switch (kept->kind) {
    case PL_JSON_ARRAY:
    case PL_JSON_OBJECT:
        return parts_in(kept, now);
    case PL_JSON_NUMBER:
        same = same_number(kept->number, now->number);
        break;
    case PL_JSON_STRING:
        same = !strcmp(kept->string, now->string);
        break;
    case PL_JSON_BOOL:
        same = kept->truth == now->truth;
        break;
    default:
        break;
    }
    return same ? NULL : kept;
}

/* ------------------------------------------------------------- again ------- */

/* The answer that the fit gives now, from what it saw then. */
static pl_code make_again(redo *r, const char **answer)
{
    const pl_book_fit *fit = r->fit;
    pl_run then = { .verb = r->run->verb,
                    .arena = r->run->arena,
                    .book = r->run->book,
                    .as_of = fit->seen,
                    .asked = fit->asked,
                    .answer = pl_jobject(r->run->arena) };
    pl_fit_answer f;
    pl_loaded l;
    pl_code rc;

    pl_diags_init(&then.diags, then.arena);
    pl_text_init(&then.text, then.arena);
    pl_jadd_whole(then.answer, "format", 1);
    pl_jadd_text(then.answer, "verb", "fit");
    rc = pl_study_fit(&then, fit->study, &l, &f);
    if (!rc)
        pl_fit_json(then.answer, &f);
    if (!rc && !(*answer = pl_jtext(then.arena, then.answer)))
        rc = pl_nomem(&then.diags);
    for (size_t i = 0; i < then.diags.count && rc; i++)
        if (then.diags.items[i].severity == PL_REFUSED)
            (void)pl_diags_add(&r->run->diags, then.diags.items[i]);
    return rc;
}

static const char *name_of(redo *r)
{
    return pl_arena_printf(r->run->arena, "%s: fit %lld of %s", r->run->book,
                           (long long)r->fit->key, r->fit->study);
}

static pl_code compare(redo *r, const char *again)
{
    pl_run *run = r->run;
    const pl_json *kept = NULL, *now = NULL, *at;
    pl_code rc = pl_json_parse(run->arena, name_of(r), r->fit->answer, strlen(r->fit->answer),
                               &kept, &run->diags);

    if (!rc)
        rc = pl_json_parse(run->arena, name_of(r), again, strlen(again), &now, &run->diags);
    if (rc)
        return rc;
    at = parts_at(kept, now);
    if (!at)
        return PL_OK;
    return pl_fail(&run->diags, PL_EBOOK, name_of(r), .pointer = pl_json_pointer(run->arena, at),
                   .found = pl_arena_printf(run->arena,
                                            "%s, which the readings of its day no "
                                            "longer give",
                                            pl_json_shown(run->arena, at)),
                   .expected = "the same answer from the same readings",
                   .mend = "a rig's plugin may have been changed since; fit again, and compare");
}

static pl_code one_fit(redo *r)
{
    const char *again = NULL;
    pl_code rc;

    if (!r->fit->seen || strcmp(r->fit->program, PL_VERSION)) {
        r->skipped++;
        return PL_OK;
    }
    r->again++;
    rc = make_again(r, &again);
    return rc ? rc : compare(r, again);
}

/* ---------------------------------------------------------------- verb ----- */

static void say(pl_run *run, const pl_checked *n, const redo *r)
{
    pl_jadd_whole(run->answer, "entries", (long long)n->entries);
    pl_jadd_whole(run->answer, "rows", (long long)n->rows);
    pl_jadd_whole(run->answer, "kept_files", (long long)n->kept);
    pl_jadd_whole(run->answer, "fits_made_again", (long long)r->again);
    pl_jadd_whole(run->answer, "fits_not_made_again", (long long)r->skipped);
    pl_text_add(&run->text,
                "%s is whole: %zu entries of the trail, %zu rows, %zu kept files, %zu fits made "
                "again with the same figures.\n",
                run->book, n->entries, n->rows, n->kept, r->again);
    if (r->skipped)
        pl_text_add(&run->text,
                    "%zu fits were made elsewhere or by another version of platen, and not made "
                    "again.\n",
                    r->skipped);
}

pl_code pl_run_book_check(pl_run *run)
{
    const pl_book_fit *fits = NULL;
    redo r = { .run = run };
    pl_checked checked;
    pl_book *book;
    size_t n = 0;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);

    if (!rc)
        rc = pl_book_check(book, &checked, &run->diags);
    if (!rc)
        rc = pl_book_fits(run->arena, book, &fits, &n, &run->diags);
    for (size_t i = 0; i < n && rc != PL_ENOMEM; i++) {
        pl_code one;

        r.fit = &fits[i];
        one = one_fit(&r);
        rc = rc ? rc : one;
    }
    if (!rc)
        say(run, &checked, &r);
    return rc;
}
