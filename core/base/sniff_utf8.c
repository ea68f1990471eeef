/* Other encodings into UTF-8, piece by piece. Which one a file has is for sniff.c. */
#include <stdint.h>
#include <string.h>

#include "base/sniff.h"

#define NO_CHARACTER 0xfffdu

/* Windows-1252 between 0x80 and 0x9f; 0: no character there. Source: the Unicode
 * Consortium's mapping CP1252.TXT; compared with the system's iconv in the test. */
static const uint16_t windows[32] = {
    0x20ac, 0,      0x201a, 0x0192, 0x201e, 0x2026, 0x2020, 0x2021, 0x02c6, 0x2030, 0x0160,
    0x2039, 0x0152, 0,      0x017d, 0,      0,      0x2018, 0x2019, 0x201c, 0x201d, 0x2022,
    0x2013, 0x2014, 0x02dc, 0x2122, 0x0161, 0x203a, 0x0153, 0,      0x017e, 0x0178,
};

static char *put(char *out, uint32_t c)
{
    if (c < 0x80) {
        *out++ = (char)c;
    } else if (c < 0x800) {
        *out++ = (char)(0xc0 | c >> 6);
        *out++ = (char)(0x80 | (c & 0x3f));
    } else if (c < 0x10000) {
        *out++ = (char)(0xe0 | c >> 12);
        *out++ = (char)(0x80 | (c >> 6 & 0x3f));
        *out++ = (char)(0x80 | (c & 0x3f));
    } else {
        *out++ = (char)(0xf0 | c >> 18);
        *out++ = (char)(0x80 | (c >> 12 & 0x3f));
        *out++ = (char)(0x80 | (c >> 6 & 0x3f));
        *out++ = (char)(0x80 | (c & 0x3f));
    }
    return out;
}

static size_t from_latin(const unsigned char *s, size_t n, char *out)
{
    char *to = out;

    for (size_t i = 0; i < n; i++) {
        uint32_t c = s[i];

        if (c >= 0x80 && c < 0xa0)
            c = windows[c - 0x80] ? windows[c - 0x80] : NO_CHARACTER;
        to = put(to, c);
    }
    return (size_t)(to - out);
}

typedef struct units16 {
    const unsigned char *carry, *s;
    size_t ncarry, n, at;
    bool big;
} units16;

static unsigned byte_at(const units16 *u, size_t i)
{
    return i < u->ncarry ? u->carry[i] : u->s[i - u->ncarry];
}

static uint32_t unit_at(const units16 *u, size_t i)
{
    unsigned x = byte_at(u, i), y = byte_at(u, i + 1);

    return u->big ? x << 8 | y : y << 8 | x;
}

static size_t from_utf16(bool big, const unsigned char *s, size_t n, bool last,
                         pl_sniff_carry *carry, char *out)
{
    units16 u = { carry->bytes, s, carry->n, n + carry->n, 0, big };
    unsigned char rest[4] = { 0 };
    char *to = out;
    size_t left;

    while (u.at + 2 <= u.n) {
        uint32_t c = unit_at(&u, u.at);

        if (c >= 0xd800 && c < 0xdc00) { /* the first of two */
            uint32_t low;

            if (u.at + 4 > u.n && !last)
                break;
            low = u.at + 4 <= u.n ? unit_at(&u, u.at + 2) : 0;
            if (low >= 0xdc00 && low < 0xe000) {
                c = 0x10000 + ((c - 0xd800) << 10) + (low - 0xdc00);
                u.at += 2;
            } else {
                c = NO_CHARACTER;
            }
        } else if (c >= 0xdc00 && c < 0xe000) {
            c = NO_CHARACTER;
        }
        u.at += 2;
        to = put(to, c);
    }
    left = u.n - u.at;
    for (size_t i = 0; i < left; i++)
        rest[i] = (unsigned char)byte_at(&u, u.at + i);
    memcpy(carry->bytes, rest, left);
    carry->n = left;
    if (last && left) { /* half a unit */
        to = put(to, NO_CHARACTER);
        carry->n = 0;
    }
    return (size_t)(to - out);
}

size_t pl_sniff_utf8(pl_encoding from, const char *bytes, size_t n, bool last,
                     pl_sniff_carry *carry, char *out)
{
    const unsigned char *s = (const unsigned char *)bytes;

    switch (from) {
    case PL_LATIN1:
        return from_latin(s, n, out);
    case PL_UTF16_LITTLE:
    case PL_UTF16_BIG:
        return from_utf16(from == PL_UTF16_BIG, s, n, last, carry, out);
    default:
        memcpy(out, s, n);
        return n;
    }
}
