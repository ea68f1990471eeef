/* A curve plugin, the parent's side: the whole computation goes to a child, and what comes
 * back is handed to whoever asked, who checks it. */
#include "rigs/ask.h"

pl_code pl_rigs_curve(pl_arena *a, const char *name, const pl_curve_visit *visit, pl_diags *d)
{
    pl_plugin_file file;
    pl_answer answer;
    pl_message type;
    pl_unpack u;
    pl_text work;
    size_t before = d->count;
    bool got = false;
    double limit_s = visit->limit_s > 0 ? visit->limit_s : pl_child_limit();
    pl_code code = pl_find_plugin(a, name, &file, d);

    if (code)
        return code;
    pl_text_init(&work, a);
    pl_pack_bytes(&work, visit->request->bytes, visit->request->length);
    code = pl_child_visit(a, &file, PL_WORK_CURVE, &work, -1, limit_s, &answer, d);
    if (code)
        return code;
    while (pl_answer_next(a, &answer, &type, &u, d)) {
        const char *wrong = type == PL_MSG_CURVE && !got
                                ? visit->take(visit->self, (const char *)u.at,
                                              (size_t)(u.end - u.at))
                                : "words nobody asked for";

        if (wrong)
            return pl_ask_lie(d, &file, wrong);
        got = true;
    }
    code = pl_answer_end(&answer, before, d);
    if (code)
        return code;
    return got ? PL_OK : pl_ask_lie(d, &file, "no answer at all");
}
