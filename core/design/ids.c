/* Ids of specimens: drawing them and telling a wrong one. What they are given
 * to is the plan's business. */
#include "design/ids.h"

#include <string.h>

#include "base/stream.h"

#define SIGNS_LEAST (PL_ID_LENGTH - 1)
#define SIGNS_MOST 5 /* without the check sign */

static unsigned check_of(const unsigned *sign, size_t n)
{
    unsigned sum = 0;

    for (size_t i = 0; i < n; i++)
        sum += (unsigned)(i + 1) * sign[i];
    return sum % PL_ID_BASE;
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

/* Signs before the check sign, their numbers in sign[]; 0 when it is no id. */
static size_t signs_of(const char *id, unsigned sign[SIGNS_MOST])
{
    size_t length = id ? strlen(id) : 0, n = length - 1;

    if (length < SIGNS_LEAST + 1 || length > SIGNS_MOST + 1)
        return 0;
    for (size_t i = 0; i < n; i++) {
        sign[i] = number_of(id[i]);
        if (sign[i] == PL_ID_BASE)
            return 0;
    }
    return check_of(sign, n) == number_of(id[n]) ? n : 0;
}

bool pl_id_valid(const char *id)
{
    unsigned sign[SIGNS_MOST];

    return signs_of(id, sign) > 0;
}

static size_t code_of(const unsigned *sign, size_t n)
{
    size_t code = 0;

    for (size_t i = 0; i < n; i++)
        code = code * PL_ID_BASE + sign[i];
    return code;
}

static size_t draw_signs(pl_stream *s, unsigned *sign, size_t n)
{
    for (size_t i = 0; i < n; i++)
        sign[i] = pl_stream_below(s, PL_ID_BASE);
    return code_of(sign, n);
}

/* Marks what was issued with n signs before; returns how many. */
static size_t mark_taken(unsigned char *used, const char *const *taken, size_t ntaken, size_t n)
{
    unsigned sign[SIGNS_MOST];
    size_t count = 0;

    for (size_t i = 0; i < ntaken; i++)
        if (signs_of(taken[i], sign) == n) {
            used[code_of(sign, n)] = 1;
            count++;
        }
    return count;
}

/* How many signs the ids get: *used marks those of that length; 0 when all are used up. */
static size_t choose_length(pl_arena *a, size_t n, const char *const *taken, size_t ntaken,
                            unsigned char **used)
{
    size_t count = PL_ID_COUNT;

    for (size_t signs = SIGNS_LEAST; signs <= SIGNS_MOST; signs++, count *= PL_ID_BASE) {
        if (n > count / 2)
            continue;
        *used = PL_NEWN(a, count, unsigned char);
        if (!*used || mark_taken(*used, taken, ntaken, signs) + n <= count / 2)
            return signs;
    }
    return 0;
}

pl_code pl_ids_draw(pl_arena *a, uint64_t seed, size_t n, const char *const *taken, size_t ntaken,
                    const char ***out, pl_diags *diags)
{
    const char **ids = PL_NEWN(a, n, const char *);
    unsigned char *used = NULL;
    size_t signs = choose_length(a, n, taken, ntaken, &used);
    char *texts = pl_arena_get(a, n, signs + 2);
    pl_stream stream;

    if (!signs)
        return pl_fail(diags, PL_EUNFIT, "", .found = pl_arena_printf(a, "%zu joints more", n),
                       .expected = "at least twice as many labels that are free",
                       .mend = "plan fewer joints, or begin another book");
    if (!ids || !texts || !used)
        return pl_nomem(diags);
    pl_stream_init(&stream, seed, PL_FOR_IDS, 0);
    for (size_t i = 0; i < n; i++) {
        char *text = texts + i * (signs + 2);
        unsigned sign[SIGNS_MOST];
        size_t code;

        do
            code = draw_signs(&stream, sign, signs);
        while (used[code]);
        used[code] = 1;
        for (size_t k = 0; k < signs; k++)
            text[k] = PL_ID_SIGNS[sign[k]];
        text[signs] = PL_ID_SIGNS[check_of(sign, signs)];
        ids[i] = text;
    }
    *out = ids;
    return PL_OK;
}
