/* platen rig calibrate: points against a scale or load cell into the book. */
#include <string.h>
#include <time.h>

#include "cli/rig.h"
#include "rigs/rigs.h"

pl_code pl_need_shop_rig(pl_run *run, const char *name, pl_rig *rig)
{
    bool found;
    pl_code rc = pl_shop_rig(run, name, rig, &found);

    if (rc || found)
        return rc;
    return pl_fail(&run->diags, PL_EKEY, run->book,
                   .found = pl_arena_printf(run->arena, "no rig \"%s\"", name),
                   .expected = "a rig of the shop", .mend = "see: platen rig list");
}

pl_code pl_say_calibration(pl_run *run, const pl_rig *rig)
{
    const char *words = pl_rigs_calibration_words(run->arena, rig, (double)time(NULL));

    if (!words)
        return pl_nomem(&run->diags);
    if (words[0])
        pl_advise(&run->diags, "", .found = words,
                  .mend = pl_arena_printf(run->arena, "platen rig calibrate %s FILE", rig->name));
    return PL_OK;
}

static const char *today(pl_arena *a)
{
    time_t now = time(NULL);
    struct tm tm;
    char text[16];

    if (!localtime_r(&now, &tm) || !strftime(text, sizeof text, "%Y-%m-%d", &tm))
        return NULL;
    return pl_arena_str(a, text);
}

/* What the line says at a few readings is the plugin's child's to work out; the
 * rig with its new text is checked there before it goes into the book. */
static pl_code keep(pl_run *run, const char *text, pl_rig *made)
{
    const pl_json *object;
    pl_book *book;
    bool added;
    pl_code rc = pl_json_parse(run->arena, "the calibrated rig", text, strlen(text), &object,
                               &run->diags);

    if (!rc)
        rc = pl_rig_from_json(run->arena, object, made, &run->diags);
    if (!rc)
        rc = pl_rigs_check(run->arena, made, &run->diags);
    if (!rc)
        rc = pl_book_open(run->arena, run->book, PL_BOOK_WRITE, &book, &run->diags);
    return rc ? rc : pl_book_rig_add(book, made, true, &added, &run->diags);
}

pl_code pl_rig_calibrate(pl_run *run, const char *name, const char *path)
{
    const pl_rig_options *o = run->options;
    pl_calibrating c = { .path = path,
                         .date = o->date ? o->date : today(run->arena),
                         .against = o->against,
                         .against_uncertainty = o->against_uncertainty };
    pl_rig rig, made;
    char *text;
    pl_code rc = pl_need_shop_rig(run, name, &rig);

    if (!rc && !c.date)
        rc = pl_nomem(&run->diags);
    if (!rc)
        rc = pl_rigs_calibrate(run->arena, &rig, &c, &text, &run->diags);
    if (!rc)
        rc = keep(run, text, &made);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "rig", made.name);
    pl_jadd_text(run->answer, "date", c.date);
    pl_jadd_text(run->answer, "book", run->book);
    pl_text_add(&run->text,
                "rig %s: calibration of %s is in the book; its force now follows these points\n",
                made.name, c.date);
    return PL_OK;
}
