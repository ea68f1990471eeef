/* Two-level fractions: words, word lengths, and the search for minimum aberration. */
#include "design/fraction.h"

#include <string.h>

/* ----------------------------------------------------------------- words -- */

static unsigned letters(uint32_t word)
{
    return (unsigned)__builtin_popcount(word);
}

/* The defining words from the products of the factors that are not basic. */
static void fill_words(pl_fraction *f)
{
    f->nword = 0;
    memset(f->length, 0, sizeof f->length);
    for (unsigned k = 0; k < f->nfactor; k++) {
        uint32_t one = 1u << k;
        size_t n = f->nword;
        bool is_basic = false;

        for (unsigned i = 0; i < f->nbasic; i++) {
            is_basic = is_basic || f->basic[i] == k;
            one |= (f->product[k] >> i & 1) << f->basic[i];
        }
        if (is_basic)
            continue;
        f->word[f->nword++] = one;
        for (size_t i = 0; i < n; i++)
            f->word[f->nword++] = f->word[i] ^ one;
    }
    f->resolution = 0;
    for (size_t i = 0; i < f->nword; i++) {
        unsigned n = letters(f->word[i]);

        f->length[n]++;
        f->resolution = !f->resolution || n < f->resolution ? n : f->resolution;
    }
}

bool pl_fraction_from(pl_fraction *f, unsigned nfactor, const uint32_t *generated)
{
    memset(f, 0, sizeof *f);
    if (nfactor < 2 || nfactor > PL_FRACTION_FACTORS_MOST)
        return false;
    f->nfactor = nfactor;
    f->gone_through = true;
    for (unsigned k = 0; k < nfactor; k++)
        if (!generated[k]) {
            if (f->nbasic == PL_FRACTION_BASIC_MOST)
                return false;
            f->product[k] = 1u << f->nbasic;
            f->basic[f->nbasic++] = k;
        }
    if (nfactor - f->nbasic > PL_FRACTION_GENERATED_MOST)
        return false;
    for (unsigned k = 0; k < nfactor; k++) {
        uint32_t left = generated[k];

        for (unsigned i = 0; generated[k] && i < f->nbasic; i++) {
            f->product[k] |= (left >> f->basic[i] & 1) << i;
            left &= ~(1u << f->basic[i]);
        }
        if (left)
            return false;
        for (unsigned j = 0; j < k; j++)
            if (f->product[j] == f->product[k])
                return false;
    }
    fill_words(f);
    return true;
}

int pl_fraction_level(const pl_fraction *f, unsigned run, unsigned factor)
{
    /* Bit i of the run set: basic factor i is high. A product of k lows is (-1)^k. */
    unsigned lows = letters(f->product[factor] & ~run);

    return lows % 2 ? -1 : 1;
}

unsigned pl_fraction_runs(unsigned nfactor, unsigned resolution)
{
    for (unsigned q = 2; q <= PL_FRACTION_BASIC_MOST; q++) {
        static const unsigned fifth[] = { 0, 0, 2, 3, 5, 6, 8, 11, 17, 20, 20 };
        unsigned most = resolution <= 3   ? (1u << q) - 1
                        : resolution == 4 ? 1u << (q - 1)
                                          : fifth[q];

        if (nfactor <= most && nfactor <= PL_FRACTION_FACTORS_MOST)
            return nfactor <= q ? 1u << nfactor : 1u << q;
    }
    return 0;
}

/* ---------------------------------------------------------------- search -- */

typedef struct search {
    unsigned nbasic, wanted; /* generated factors wanted */
    uint32_t column[1u << PL_FRACTION_BASIC_MOST];
    unsigned ncolumn;
    uint32_t chosen[PL_FRACTION_GENERATED_MOST], best[PL_FRACTION_GENERATED_MOST];
    uint32_t word[1u << PL_FRACTION_GENERATED_MOST];
    unsigned least[PL_FRACTION_FACTORS_MOST + 1]; /* pattern of the best */
    bool found;
    size_t work;
} search;

/* Columns of many letters first: they make long words. */
static void list_columns(search *s)
{
    for (unsigned n = s->nbasic; n >= 2; n--)
        for (uint32_t c = 0; c < 1u << s->nbasic; c++)
            if (letters(c) == n)
                s->column[s->ncolumn++] = c;
}

static int compare(const unsigned *a, const unsigned *b)
{
    for (unsigned i = 3; i <= PL_FRACTION_FACTORS_MOST; i++)
        if (a[i] != b[i])
            return a[i] < b[i] ? -1 : 1;
    return 0;
}

/* Adds generated factors from `from` on. Words are never lost, so a pattern that is not
 * better already cannot become so. */
static void extend(search *s, unsigned depth, unsigned from, const unsigned *pattern)
{
    size_t n = ((size_t)1 << depth) - 1;

    for (unsigned c = from; c + (s->wanted - depth) <= s->ncolumn; c++) {
        unsigned now[PL_FRACTION_FACTORS_MOST + 1];
        uint32_t one = s->column[c] | 1u << (s->nbasic + depth);
        int better;

        if (s->work > PL_FRACTION_WORK)
            return;
        s->work += n + 1;
        memcpy(now, pattern, sizeof now);
        s->word[n] = one;
        now[letters(one)]++;
        for (size_t i = 0; i < n; i++) {
            s->word[n + 1 + i] = s->word[i] ^ one;
            now[letters(s->word[n + 1 + i])]++;
        }
        better = s->found ? compare(now, s->least) : -1;
        if (better >= 0)
            continue;
        s->chosen[depth] = s->column[c];
        if (depth + 1 < s->wanted) {
            extend(s, depth + 1, c + 1, now);
            continue;
        }
        memcpy(s->best, s->chosen, sizeof s->best);
        memcpy(s->least, now, sizeof s->least);
        s->found = true;
    }
}

bool pl_fraction_search(pl_fraction *f, unsigned nfactor, unsigned nbasic)
{
    uint32_t generated[PL_FRACTION_FACTORS_MOST] = { 0 };
    unsigned none[PL_FRACTION_FACTORS_MOST + 1] = { 0 };
    search s = { .nbasic = nbasic, .wanted = nfactor - nbasic };

    if (nbasic < 2 || nbasic > PL_FRACTION_BASIC_MOST || nfactor < nbasic ||
        nfactor > PL_FRACTION_FACTORS_MOST || s.wanted > PL_FRACTION_GENERATED_MOST ||
        nfactor >= 1u << nbasic)
        return false;
    list_columns(&s);
    if (s.wanted)
        extend(&s, 0, 0, none);
    for (unsigned i = 0; i < s.wanted; i++)
        generated[nbasic + i] = s.best[i];
    if (!pl_fraction_from(f, nfactor, generated))
        return false;
    f->gone_through = s.work <= PL_FRACTION_WORK;
    return true;
}
