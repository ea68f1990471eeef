/* What may be spent, and what things cost: money is a number and a currency as typed, the same
 * everywhere in a file. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "study/build.h"

/* "1.20 EUR" to 1.2; the first currency met is the file's. NAN if absent or at fault. */
static double money(pl_build *b, const char *text, const pl_json *at)
{
    const char *word = text ? strchr(text, ' ') : NULL;
    char *number = text && word ? pl_arena_strn(b->f.a, text, (size_t)(word - text)) : NULL;
    const char **currency = &b->s->budget.currency;
    double x;

    if (!text)
        return NAN;
    if (!word) {
        pl_fill_fail(&b->f, PL_EVALUE, at, NULL, "a number and a currency, such as \"1.20 EUR\"",
                     "");
        return NAN;
    }
    while (*word == ' ')
        word++;
    if (!number) {
        pl_fill_nomem(&b->f);
        return NAN;
    }
    if (!pl_text_to_number(number, &x) || x < 0 || !*word) {
        pl_fill_fail(&b->f, PL_EVALUE, at, NULL, "a number and a currency, such as \"1.20 EUR\"",
                     "");
        return NAN;
    }
    if (!*currency)
        *currency = word;
    if (strcmp(*currency, word)) {
        pl_fill_fail(&b->f, PL_ECONFLICT, at, NULL,
                     pl_fill_printf(&b->f, "%s, as elsewhere in the file", *currency),
                     "one currency a file");
        return NAN;
    }
    return x;
}

void pl_build_budget(pl_build *b)
{
    const pl_json *at = pl_build_at(b, "budget", "prices");
    pl_budget *u = &b->s->budget;

    *u = (pl_budget){ .press_s = b->raw->budget.press_hours.si,
                      .specimens = b->raw->budget.specimens };
#define PRICE(name)                                \
    u->name = money(b, b->raw->budget.prices.name, \
                    at && at->kind == PL_JSON_OBJECT ? pl_json_get(at, #name) : NULL)
    u->money = money(b, b->raw->budget.money, pl_build_at(b, "budget", "money"));
    PRICE(glue_up);
    PRICE(specimen);
    PRICE(board);
    PRICE(press_hour);
    PRICE(day);
#undef PRICE
}
