/* The fast lane: rows that hold plain numbers and nothing else. First the places of all
 * bytes that are no digits are listed, thousands at a time; then each number is taken
 * whole from between two of them. Whatever is not plain (quotes, an empty cell, another
 * number of cells) is left to libcsv, from the row's first byte. */
#include <stdint.h>
#include <string.h>

#include "base/csv_inner.h"
#include "base/decimal.h"

#if defined(__x86_64__)
#include <immintrin.h>
#define WIDE __attribute__((target("avx2,bmi,bmi2")))
#define HAS_WIDE (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("bmi2"))
#endif

#define STRETCH 8192u                              /* bytes looked at together */
#define SIGNS_OF_ROW (3 * PL_CSV_FAST_COLUMNS + 4) /* at most: sign, point, delimiter each */

/* For a number of n bytes with its point at `dot` (n: none): which byte goes where so
 * that its digits end at byte 15, zeros before them. */
static void fill_shuffle(unsigned char table[17][16][16])
{
    for (int n = 0; n <= 16; n++)
        for (int dot = 0; dot < 16; dot++) {
            int to = 15;

            memset(table[n][dot], 0x80, 16);
            for (int i = n - 1; i >= 0; i--)
                if (i != dot)
                    table[n][dot][to--] = (unsigned char)i;
        }
}

void pl_csv_fast_init(pl_csv_fast *f)
{
    fill_shuffle(f->shuffle);
    f->all_numbers = f->ncol <= PL_CSV_FAST_COLUMNS;
    for (size_t c = 0; c < f->ncol && f->all_numbers; c++) {
        f->all_numbers = f->to[c] != NULL;
        f->ends[c] = c + 1 < f->ncol ? f->delimiter : '\n';
    }
}

/* ---- signs: where the bytes that are no digits stand ---- */

typedef struct signs {
    uint16_t at[STRETCH + 64 + SIGNS_OF_ROW];
    size_t n;
} signs;

static void list_narrow(const char *s, unsigned n, signs *out)
{
    size_t k = 0;

    for (unsigned i = 0; i < n; i++) {
        out->at[k] = (uint16_t)i;
        k += (unsigned char)(s[i] - '0') > 9;
    }
    out->n = k;
}

/* The digits of s[0..n), the point at `dot` left out. */
static inline uint64_t whole_narrow(const char *s, unsigned n, unsigned dot)
{
    uint64_t x = 0;

    for (unsigned i = 0; i < n; i++)
        x = i == dot ? x : x * 10 + (uint64_t)(s[i] - '0');
    return x;
}

#if defined(__x86_64__)
/* A bit for each of 64 bytes that is no digit. */
WIDE static inline uint64_t mask_wide(const char *s)
{
    const __m256i zero = _mm256_set1_epi8('0'), nine = _mm256_set1_epi8(9);
    __m256i low = _mm256_sub_epi8(_mm256_loadu_si256((const __m256i_u *)s), zero);
    __m256i high = _mm256_sub_epi8(_mm256_loadu_si256((const __m256i_u *)(s + 32)), zero);

    /* unsigned: the lesser of x and 9 is x only for a digit */
    low = _mm256_cmpeq_epi8(_mm256_min_epu8(low, nine), low);
    high = _mm256_cmpeq_epi8(_mm256_min_epu8(high, nine), high);
    return ~((uint64_t)(uint32_t)_mm256_movemask_epi8(low) |
             (uint64_t)(uint32_t)_mm256_movemask_epi8(high) << 32);
}

/* Sixteen at a time without asking how many there are: what is written too much is
 * overwritten by the next. */
WIDE static void list_wide(const char *s, unsigned n, signs *out)
{
    uint16_t *to = out->at;

    for (unsigned i = 0; i < n; i += 64) {
        uint64_t m = mask_wide(s + i);
        unsigned count;

        if (n - i < 64)
            m &= ((uint64_t)1 << (n - i)) - 1;
        count = (unsigned)__builtin_popcountll(m);
        for (unsigned k = 0; k < count; k += 8) {
#pragma GCC unroll 8
            for (unsigned j = 0; j < 8; j++) {
                to[k + j] = (uint16_t)(i + (unsigned)_tzcnt_u64(m));
                m = _blsr_u64(m);
            }
        }
        to += count;
    }
    out->n = (size_t)(to - out->at);
}

/* At most 15 digits: pairs, then fours, then eights. */
WIDE static inline uint64_t whole_wide(const char *s, const unsigned char *shuffle)
{
    __m128i x = _mm_sub_epi8(_mm_loadu_si128((const __m128i_u *)s), _mm_set1_epi8('0'));
    uint64_t eights;

    x = _mm_shuffle_epi8(x, _mm_loadu_si128((const __m128i_u *)shuffle));
    x = _mm_maddubs_epi16(x, _mm_set1_epi16(0x010a));
    x = _mm_madd_epi16(x, _mm_set1_epi32(0x00010064));
    x = _mm_packus_epi32(x, x);
    x = _mm_madd_epi16(x, _mm_set1_epi32(0x00012710));
    eights = (uint64_t)_mm_cvtsi128_si64(x);
    return (eights & 0xffffffffu) * 100000000u + (eights >> 32);
}
#else
#define WIDE
#define HAS_WIDE false
#define list_wide list_narrow
#define whole_wide(s, shuffle) ((void)(shuffle), (uint64_t)0)
#endif

/* ---- rows ---- */

#define UNLIKELY(x) __builtin_expect((x), 0)
#define INLINE static inline __attribute__((always_inline))

/* Where a row is being read: p, and the first sign that is not before it. */
typedef struct cursor {
    const char *base, *p;
    const uint16_t *sign;
} cursor;

/* After p has moved on by other means. */
static void catch_up(cursor *at)
{
    while (at->base + *at->sign < at->p)
        at->sign++;
}

/* A cell nobody wants: plain signs up to the delimiter or the line's end. */
static bool skip_cell(const pl_csv_fast *f, cursor *at)
{
    const char *p = at->p;

    for (; *p != f->delimiter && *p != '\n' && *p != '\r'; p++)
        if (*p < 0x20 || *p > 0x7e || *p == '"' || f->delimiter == ' ')
            return false;
    at->p = p;
    catch_up(at);
    return true;
}

/* The long way, for what is rare. */
static bool read_decimal(const pl_csv_fast *f, cursor *at, const char *end, double *out)
{
    const char *q = pl_decimal(at->p, end, f->point, out);

    if (!q)
        return false;
    at->p = q;
    catch_up(at);
    return true;
}

/* One number; p is left behind it, at a sign. */
INLINE bool read_number(const pl_csv_fast *f, cursor *at, const char *end, double *out,
                        const bool wide)
{
    const uint16_t *sign = at->sign;
    const char *s = at->p, *dot = at->base + *sign, *stop = dot;
    bool negative = *s == '-';
    unsigned length;
    double x;

    if (UNLIKELY(negative)) {
        s++;
        dot = stop = at->base + *++sign;
    }
    if (*dot == f->point)
        stop = at->base + *++sign;
    length = (unsigned)(stop - s);
    if (UNLIKELY(length - (dot < stop) - 1 >= PL_DECIMAL_DIGITS || (*stop | 32) == 'e'))
        return read_decimal(f, at, end, out);
    x = (double)(int64_t)(wide ? whole_wide(s, f->shuffle[length][dot - s])
                               : whole_narrow(s, length, (unsigned)(dot - s)));
    if (dot < stop)
        x /= pl_decimal_power[stop - dot - 1];
    *out = negative ? -x : x;
    at->p = stop;
    at->sign = sign;
    return true;
}

/* Blanks before a number. */
static void pass_blanks(const pl_csv_fast *f, cursor *at)
{
    while (*at->p == ' ' || (*at->p == '\t' && f->delimiter == ' '))
        at->p++;
    catch_up(at);
}

INLINE bool is_delimiter(const pl_csv_fast *f, char c)
{
    return c == f->delimiter || (f->delimiter == ' ' && c == '\t');
}

/* One row from p; p is left behind its line end. False: not plain. */
INLINE bool read_row(const pl_csv_fast *f, cursor *at, const char *end, size_t row, const bool wide)
{
    for (size_t c = 0; c < f->ncol; c++) {
        if (UNLIKELY(*at->p == ' ' || *at->p == '\t'))
            pass_blanks(f, at);
        if (UNLIKELY(!f->to[c])) {
            if (!skip_cell(f, at))
                return false;
        } else if (!read_number(f, at, end, &f->to[c][row], wide)) {
            return false;
        }
        if (c + 1 == f->ncol)
            break;
        if (UNLIKELY(!is_delimiter(f, *at->p)))
            return false;
        at->p++;
        at->sign++;
    }
    if (UNLIKELY(f->trailing && *at->p == f->delimiter)) {
        at->p++;
        at->sign++;
    }
    if (UNLIKELY(*at->p == '\r')) {
        at->p++;
        at->sign++;
    }
    at->sign++;
    return *at->p++ == '\n';
}

#if defined(__x86_64__)
/* Two numbers of 2 to 16 bytes, a point in each, at once: x is the row's start, a and b
 * begin there at from, with the point at dot and their end at stop. */
typedef struct place {
    unsigned from, dot, stop;
} place;

WIDE INLINE __m128d two_numbers(const pl_csv_fast *f, const char *base, place a, place b)
{
    const __m256i magic = _mm256_set1_epi64x(0x4330000000000000); /* 2^52 */
    __m256i x = _mm256_inserti128_si256(
        _mm256_castsi128_si256(_mm_loadu_si128((const __m128i_u *)(base + a.from))),
        _mm_loadu_si128((const __m128i_u *)(base + b.from)), 1);
    __m256i order = _mm256_inserti128_si256(
        _mm256_castsi128_si256(
            _mm_loadu_si128((const __m128i_u *)f->shuffle[a.stop - a.from][a.dot - a.from])),
        _mm_loadu_si128((const __m128i_u *)f->shuffle[b.stop - b.from][b.dot - b.from]), 1);
    __m256d whole;
    __m128d power;

    x = _mm256_sub_epi8(x, _mm256_set1_epi8('0'));
    x = _mm256_shuffle_epi8(x, order);
    x = _mm256_maddubs_epi16(x, _mm256_set1_epi16(0x010a));
    x = _mm256_madd_epi16(x, _mm256_set1_epi32(0x00010064));
    x = _mm256_packus_epi32(x, x);
    x = _mm256_madd_epi16(x, _mm256_set1_epi32(0x00012710));
    x = _mm256_add_epi64(_mm256_mul_epu32(x, _mm256_set1_epi64x(100000000)),
                         _mm256_srli_epi64(x, 32));
    /* below 2^52: its bits behind those of 2^52 are 2^52 plus it */
    whole = _mm256_sub_pd(_mm256_castsi256_pd(_mm256_or_si256(x, magic)),
                          _mm256_castsi256_pd(magic));
    power = _mm_loadh_pd(_mm_load_sd(&pl_decimal_power[a.stop - a.dot - 1]),
                         &pl_decimal_power[b.stop - b.dot - 1]);
    return _mm_div_pd(
        _mm_unpacklo_pd(_mm256_castpd256_pd128(whole), _mm256_extractf128_pd(whole, 1)), power);
}

/* Rows of numbers with a point in each and no sign, which is what most rows are: the signs
 * are point, delimiter, point, ..., line end. The first row that is otherwise ends it. */
WIDE INLINE size_t plain_columns(const pl_csv_fast *f, cursor *at, const uint16_t *last, size_t row,
                                 size_t most, const size_t ncol)
{
    const char *base = at->base;
    const uint16_t *sign = at->sign;
    unsigned from = (unsigned)(at->p - base), begin = from;
    double *const *to = f->to;
    char point = f->point;

    for (; sign < last && row < most; row++, begin = from) {
        for (size_t c = 0; c < ncol; c += 2) {
            const uint16_t *next = sign + 2 * c;
            bool pair = c + 1 < ncol;
            place a = { from, next[0], next[1] }, b = a;
            unsigned wrong = (unsigned)((base[a.dot] ^ point) | (base[a.stop] ^ f->ends[c]));
            __m128d x;

            if (pair) {
                b = (place){ a.stop + 1u, next[2], next[3] };
                wrong |= (unsigned)((base[b.dot] ^ point) | (base[b.stop] ^ f->ends[c + 1]));
            }
            if (UNLIKELY(wrong || a.stop - a.from - 2 > PL_DECIMAL_DIGITS - 1 ||
                         b.stop - b.from - 2 > PL_DECIMAL_DIGITS - 1))
                goto other;
            x = two_numbers(f, base, a, b);
            _mm_storel_pd(&to[c][row], x);
            if (pair)
                _mm_storeh_pd(&to[c + 1][row], x);
            from = b.stop + 1;
        }
        sign += 2 * ncol;
    }
other:
    at->p = base + begin;
    at->sign = sign;
    return row;
}

WIDE __attribute__((noinline)) static size_t plain_rows(const pl_csv_fast *f, cursor *at,
                                                        const uint16_t *last, size_t row,
                                                        size_t most)
{
    return f->ncol == 2 ? plain_columns(f, at, last, row, most, 2)
                        : plain_columns(f, at, last, row, most, f->ncol);
}
#else
static size_t plain_rows(const pl_csv_fast *f, cursor *at, const uint16_t *last, size_t row,
                         size_t most)
{
    (void)f;
    (void)at;
    (void)last;
    (void)most;
    return row;
}
#endif

/* Rows that lie whole within one stretch. */
INLINE size_t read_stretch(const pl_csv_fast *f, const char *s, const char *end, size_t row,
                           size_t most, const char **stopped, const bool wide)
{
    unsigned n = (unsigned)(end - s < STRETCH ? end - s : STRETCH);
    signs list;
    cursor at = { s, s, list.at };
    const uint16_t *last;

    if (wide)
        list_wide(s, n, &list);
    else
        list_narrow(s, n, &list);
    /* Behind the last line end within reach no row begins; signs beyond it are never asked
     * for, but by a row that lacks its cells: they lie behind the stretch. */
    while (list.n && s[list.at[list.n - 1]] != '\n')
        list.n--;
    last = list.at + list.n;
    for (size_t i = 0; i < SIGNS_OF_ROW; i++)
        list.at[list.n + i] = (uint16_t)n;
    *stopped = s;
    for (;;) {
        if (wide && f->all_numbers)
            row = plain_rows(f, &at, last, row, most);
        *stopped = at.p;
        if (at.sign >= last || row >= most || !read_row(f, &at, end, row, wide))
            return row;
        row++;
    }
}

INLINE size_t read_rows(const pl_csv_fast *f, const char *s, const char *end, size_t row,
                        size_t most, const char **stopped, const bool wide)
{
    size_t before;

    *stopped = s;
    do {
        before = row;
        row = read_stretch(f, *stopped, end, row, most, stopped, wide);
    } while (row > before && row < most && *stopped < end);
    return row;
}

size_t pl_csv_fast_rows_narrow(const pl_csv_fast *f, const char *s, const char *end, size_t row,
                               size_t most, const char **stopped)
{
    return read_rows(f, s, end, row, most, stopped, false);
}

WIDE static size_t rows_wide(const pl_csv_fast *f, const char *s, const char *end, size_t row,
                             size_t most, const char **stopped)
{
    return read_rows(f, s, end, row, most, stopped, true);
}

size_t pl_csv_fast_rows(const pl_csv_fast *f, const char *s, const char *end, size_t row,
                        size_t most, const char **stopped)
{
    return HAS_WIDE ? rows_wide(f, s, end, row, most, stopped)
                    : pl_csv_fast_rows_narrow(f, s, end, row, most, stopped);
}
