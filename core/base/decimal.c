/* Decimal text to double: the exact way for short numbers, strtod for the rest. Where
 * numbers stand in a file is the business of csv_*.c. */
#include "base/decimal.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const double pl_decimal_power[PL_DECIMAL_POWERS] = { 1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                     1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                     1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22 };

/* No more digits than these can decide between two doubles (767 do), if what is cut
 * off leaves a trace. */
#define DIGITS_MOST 800
#define EXPONENT_MOST 1000000L /* beyond it a number is 0 or infinite anyway */

typedef struct parts {
    const char *digits, *end; /* with the point among them; no leading zeros */
    uint64_t whole;           /* of the first PL_DECIMAL_DIGITS digits */
    size_t count;             /* significant digits */
    long exponent;            /* of the last digit */
    bool negative;
} parts;

static bool is_digit(char c)
{
    return (unsigned char)(c - '0') < 10;
}

/* "e-12" at s; 0 and s when there is none. */
static const char *read_exponent(const char *s, const char *end, long *exponent)
{
    const char *p = s + 1;
    bool negative = false;
    long x = 0;

    if (s >= end || (*s | 32) != 'e')
        return s;
    if (p < end && (*p == '-' || *p == '+'))
        negative = *p++ == '-';
    if (p >= end || !is_digit(*p))
        return s;
    for (; p < end && is_digit(*p); p++)
        x = x < EXPONENT_MOST ? x * 10 + (*p - '0') : x;
    *exponent = negative ? -x : x;
    return p;
}

static const char *take_apart(const char *s, const char *end, char point, parts *out)
{
    const char *p = s, *dot = NULL;
    size_t any = 0;
    long exponent = 0;

    *out = (parts){ .negative = p < end && *p == '-' };
    if (p < end && (*p == '-' || *p == '+'))
        p++;
    out->digits = p;
    for (; p < end && (is_digit(*p) || (*p == point && !dot)); p++) {
        if (*p == point) {
            dot = p;
            continue;
        }
        any++;
        if (!out->count && *p == '0') {
            out->digits = p + 1;
            continue;
        }
        if (++out->count <= PL_DECIMAL_DIGITS)
            out->whole = out->whole * 10 + (uint64_t)(*p - '0');
    }
    if (!any)
        return NULL;
    out->end = p;
    if (dot)
        out->exponent = -(long)(p - dot - 1);
    p = read_exponent(p, end, &exponent);
    out->exponent += exponent;
    return p;
}

/* The number once more, in a form of bounded length that strtod reads the same. */
static bool the_long_way(const parts *n, char point, double *out)
{
    char text[DIGITS_MOST + 32];
    size_t used = 0, taken = 0;
    bool more = false;
    long exponent = n->exponent;

    if (n->negative)
        text[used++] = '-';
    for (const char *p = n->digits; p < n->end; p++) {
        if (*p == point)
            continue;
        if (taken < DIGITS_MOST) {
            text[used++] = *p;
            taken++;
        } else {
            more = more || *p != '0';
            exponent++;
        }
    }
    if (more) {
        text[used++] = '1';
        exponent--;
    }
    (void)snprintf(text + used, sizeof text - used, "e%ld", exponent);
    *out = strtod(text, NULL);
    return isfinite(*out);
}

const char *pl_decimal(const char *s, const char *end, char point, double *out)
{
    parts n;
    const char *p = take_apart(s, end, point, &n);
    double x;

    if (!p)
        return NULL;
    if (!n.count) {
        *out = n.negative ? -0.0 : 0.0;
        return p;
    }
    if (n.count > PL_DECIMAL_DIGITS || n.exponent >= PL_DECIMAL_POWERS ||
        n.exponent <= -PL_DECIMAL_POWERS) {
        if (!the_long_way(&n, point, &x))
            return NULL;
        *out = x;
        return p;
    }
    x = (double)n.whole;
    x = n.exponent < 0 ? x / pl_decimal_power[-n.exponent] : x * pl_decimal_power[n.exponent];
    *out = n.negative ? -x : x;
    return p;
}
