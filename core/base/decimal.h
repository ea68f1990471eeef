/* Decimal numbers in a run of bytes, read exactly as strtod reads them in the C
 * locale, bit for bit, but for most several times as fast.
 *
 * A number of at most 15 significant digits is a whole number below 2^53, and
 * the powers of ten up to 10^22 are doubles without error: one product or
 * quotient of the two is rounded once, so it is the nearest double, which is what
 * strtod gives (W. D. Clinger, How to read floating point numbers accurately,
 * PLDI 1990, section 3: the easy cases). All others go to strtod. */
#ifndef PL_BASE_DECIMAL_H
#define PL_BASE_DECIMAL_H

#include <stdbool.h>
#include <stddef.h>

#define PL_DECIMAL_DIGITS 15 /* significant digits of the exact way */
#define PL_DECIMAL_POWERS 23
extern const double pl_decimal_power[PL_DECIMAL_POWERS]; /* 10^0 to 10^22 */

/* The longest number at s, before end: sign, digits with or without a point
 * (`point` is '.' or ','), exponent. Returns the byte behind it; NULL when there is
 * none or it is not finite ("inf", "nan", hexadecimal and 1e999 are none). Blanks
 * are not skipped. *out is written on success only. */
const char *pl_decimal(const char *s, const char *end, char point, double *out);

/* All n bytes are one number. */
static inline bool pl_decimal_all(const char *s, size_t n, char point, double *out)
{
    double x;

    if (pl_decimal(s, s + n, point, &x) != s + n || !n)
        return false;
    *out = x;
    return true;
}

#endif
