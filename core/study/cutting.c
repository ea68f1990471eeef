/* Where pieces lie along and across a board. What they become is the plan's. */
#include "study/cutting.h"

#include <math.h>

#define LENGTH_MOST 1e9 /* m: the sum of a few such still fits */

static long long nanometres(double m)
{
    return m >= 0 ? llround(fmin(m, LENGTH_MOST) * 1e9) : -1; /* not known: -1 */
}

/* The first stretch, in their order, that a piece from..to touches; NULL: none. */
static const pl_defect *touched(const pl_stock *stock, long long from, long long to)
{
    for (size_t i = 0; i < stock->ndefect; i++)
        if (from < nanometres(stock->defects[i].to_m) && to > nanometres(stock->defects[i].from_m))
            return &stock->defects[i];
    return NULL;
}

size_t pl_cutting_columns(const pl_study *s, const pl_stock *stock, double *starts_m, size_t room)
{
    long long piece = nanometres(s->joint.adherend.length_m), kerf = nanometres(s->cutting.kerf_m);
    long long end = nanometres(s->cutting.discard_ends_m), at = end;
    long long last = nanometres(stock->length_m) - end;
    size_t n = 0;

    if (piece <= 0 || kerf < 0 || end < 0 || isnan(stock->length_m))
        return 0;
    while (at + piece <= last && n < PL_CUTTING_MOST) {
        const pl_defect *bad = touched(stock, at, at + piece);

        if (bad) {
            at = nanometres(bad->to_m);
            continue;
        }
        if (starts_m && n < room)
            starts_m[n] = (double)at * 1e-9;
        n++;
        at += piece + kerf;
    }
    return n;
}

size_t pl_cutting_rows(const pl_study *s, const pl_stock *stock)
{
    long long piece = nanometres(s->joint.adherend.width_m), kerf = nanometres(s->cutting.kerf_m);
    long long width = nanometres(stock->width_m), n;

    if (piece <= 0 || kerf < 0 || width < piece)
        return 0;
    n = (width + kerf) / (piece + kerf);
    return (size_t)n < PL_CUTTING_MOST ? (size_t)n : PL_CUTTING_MOST;
}
