/* Finite fields of prime-power order, as tables.
 *
 * Elements are 0..q-1; 0 is zero and 1 is one. The digits of an element in base p are
 * the coefficients of a polynomial, and products are taken modulo the first irreducible
 * one by index (Lidl & Niederreiter, Finite Fields, 2nd ed. 1997, ch. 2). Squares, planes
 * and screening designs are built from them. */
#ifndef PL_DESIGN_FIELD_H
#define PL_DESIGN_FIELD_H

#include <stdbool.h>
#include <stdint.h>

#define PL_FIELD_MOST 128u

typedef struct pl_field {
    unsigned q, p, m; /* q = p^m */
    uint8_t add[PL_FIELD_MOST][PL_FIELD_MOST], mul[PL_FIELD_MOST][PL_FIELD_MOST];
    uint8_t minus[PL_FIELD_MOST]; /* of each element */
} pl_field;

/* q = p^m with p prime? Written where not NULL. */
bool pl_field_prime_power(unsigned q, unsigned *p, unsigned *m);
/* False when q is no prime power, or above PL_FIELD_MOST. Allocates nothing. */
bool pl_field_init(pl_field *f, unsigned q);
/* The first element whose powers are all of 1..q-1. */
unsigned pl_field_primitive(const pl_field *f);
/* 0 for zero, 1 for a square, -1 otherwise. */
int pl_field_square(const pl_field *f, unsigned x);

#endif
