/* Ids of specimens: drawing them and telling a wrong one. What they are given
 * to is the plan's business. */
#include "design/ids.h"

#include <string.h>

#include "base/stream.h"

static unsigned check_of(const unsigned sign[3])
{
    return (1 * sign[0] + 2 * sign[1] + 3 * sign[2]) % PL_ID_BASE;
}

/* Number of a sign, PL_ID_BASE when it is none. */
static unsigned number_of(char c)
{
    const char *at;

    if (c >= 'a' && c <= 'z')
        c = (char)(c - 'a' + 'A');
    at = c ? strchr(PL_ID_SIGNS, c) : NULL;
    return at ? (unsigned)(at - PL_ID_SIGNS) : PL_ID_BASE;
}

bool pl_id_valid(const char *id)
{
    unsigned sign[PL_ID_LENGTH];

    if (!id || strlen(id) != PL_ID_LENGTH)
        return false;
    for (size_t i = 0; i < PL_ID_LENGTH; i++) {
        sign[i] = number_of(id[i]);
        if (sign[i] == PL_ID_BASE)
            return false;
    }
    return check_of(sign) == sign[3];
}

static size_t draw_signs(pl_stream *s, unsigned sign[3])
{
    size_t code = 0;

    for (size_t i = 0; i < 3; i++) {
        sign[i] = pl_stream_below(s, PL_ID_BASE);
        code = code * PL_ID_BASE + sign[i];
    }
    return code;
}

pl_code pl_ids_draw(pl_arena *a, uint64_t seed, size_t n, const char ***out, pl_diags *diags)
{
    const char **ids = PL_NEWN(a, n, const char *);
    char *texts = pl_arena_get(a, n, PL_ID_LENGTH + 1);
    unsigned char *taken = PL_NEWN(a, PL_ID_COUNT, unsigned char);
    pl_stream stream;

    if (!ids || !texts || !taken)
        return pl_nomem(diags);
    pl_stream_init(&stream, seed, PL_FOR_IDS, 0);
    for (size_t i = 0; i < n; i++) {
        char *text = texts + i * (PL_ID_LENGTH + 1);
        unsigned sign[3];
        size_t code;

        do
            code = draw_signs(&stream, sign);
        while (taken[code]);
        taken[code] = 1;
        for (size_t k = 0; k < 3; k++)
            text[k] = PL_ID_SIGNS[sign[k]];
        text[3] = PL_ID_SIGNS[check_of(sign)];
        ids[i] = text;
    }
    *out = ids;
    return PL_OK;
}
