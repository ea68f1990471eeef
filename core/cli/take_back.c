/* platen take --withdraw: a file taken back. */
#include "cli/take.h"

pl_code pl_take_back(pl_run *run, const char *file, const char *reason)
{
    pl_withdrawn done;
    pl_loaded l;
    pl_book *book;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_PLAN, &l);

    if (!rc)
        rc = pl_book_open(run->arena, run->book, PL_BOOK_WRITE, &book, &run->diags);
    if (!rc)
        rc = pl_book_withdraw(book, l.study->name, file, reason, &done, &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "withdrawn", done.name);
    pl_jadd_text(run->answer, "digest", done.digest);
    pl_jadd_whole(run->answer, "ended", (long long)done.ended);
    pl_jadd_whole(run->answer, "restored", (long long)done.restored);
    pl_text_add(&run->text, "Took back %s: %zu reading%s no longer count%s", done.name, done.ended,
                done.ended == 1 ? "" : "s", done.ended == 1 ? "s" : "");
    if (done.restored)
        pl_text_add(&run->text, "; %zu that %s had replaced count%s again", done.restored,
                    done.restored == 1 ? "it" : "they", done.restored == 1 ? "s" : "");
    pl_text_put(&run->text, ".\n");
    return PL_OK;
}
