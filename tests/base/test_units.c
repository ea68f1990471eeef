/* Units: factors against their definitions, spelling, refusals. */
#include "support.h"

#include <sys/wait.h>
#include <unistd.h>

#include "base/units.h"

static double read_si(bench *b, const char *text, pl_quantity_kind kind)
{
    pl_dim d = { 0 };
    const char *why = NULL;
    pl_code code = pl_units_read(b->a, text, kind, &d, &why);

    if (code)
        fail_msg("\"%s\": %s: %s", text, pl_code_name(code), why ? why : "");
    return d.si;
}

static double scale_of(bench *b, const char *unit, pl_quantity_kind kind)
{
    double scale = NAN, offset = NAN;
    const char *why = NULL;

    if (pl_units_scale(b->a, unit, kind, &scale, &offset, &why))
        fail_msg("\"%s\": %s", unit, why ? why : "");
    return scale;
}

/* WORKED.md, section 1: "Unit conversions (exact definitions unless noted) -
 * BIPM SI Brochure; NIST SP 811 appendix B". Exact rows to the last bit but
 * two; printed rows to half their last digit, one digit where the table was cut
 * instead of rounded (atm). */
static void test_worked_factors(void **state)
{
    bench *b = *state;
    const double exact = 4e-16;
    double pa_of_bar = scale_of(b, "bar", PL_Q_PRESSURE);
    double pa_of_psi = scale_of(b, "psi", PL_Q_PRESSURE);

    assert_rel("1 in, mm", scale_of(b, "in", PL_Q_LENGTH) / 1e-3, 25.4, exact);
    assert_rel("1 in2, mm2", scale_of(b, "in2", PL_Q_AREA) / 1e-6, 645.16, exact);
    assert_rel("1 lb, kg", scale_of(b, "lb", PL_Q_MASS), 0.45359237, exact);
    assert_rel("gravity: 1 kgf, N", scale_of(b, "kgf", PL_Q_FORCE), 9.80665, exact);
    assert_rel("1 lbf, N", scale_of(b, "lbf", PL_Q_FORCE), 4.4482216152605, exact);
    assert_rel("1 psi, Pa", pa_of_psi, 6894.757293168361, exact);
    assert_rel("1 bar, Pa", pa_of_bar, 100000, exact);
    assert_abs("1 bar, psi", pa_of_bar / pa_of_psi, 14.503773773, 0.5e-9);
    assert_rel("1 atm, Pa", scale_of(b, "atm", PL_Q_PRESSURE), 101325, exact);
    assert_abs("1 atm, psi", scale_of(b, "atm", PL_Q_PRESSURE) / pa_of_psi, 14.695948775, 1e-9);
    assert_rel("1 kgf/cm2, Pa", scale_of(b, "kgf/cm2", PL_Q_PRESSURE), 98066.5, exact);
    assert_abs("1 kgf/cm2, psi", scale_of(b, "kgf/cm2", PL_Q_PRESSURE) / pa_of_psi, 14.223343307,
               0.5e-9);
    assert_abs("1 N/mm2, psi", scale_of(b, "N/mm2", PL_Q_PRESSURE) / pa_of_psi, 145.037737730,
               0.5e-9);
    assert_abs("1 ft.lbf, N.m", scale_of(b, "ft.lbf", PL_Q_TORQUE), 1.3558179483, 0.5e-10);
    assert_abs("1 lb/ft3, kg/m3", scale_of(b, "lb/ft3", PL_Q_DENSITY), 16.018463374, 0.5e-9);
    assert_abs("1 lb/1000 ft2, g/m2", scale_of(b, "lb/1000 ft2", PL_Q_SPREAD) * 1e3, 4.8824276364,
               0.5e-10);
    assert_rel("77 F", read_si(b, "77 degF", PL_Q_TEMPERATURE), (77 - 32) / 1.8 + 273.15, exact);
}

/* Every unit of every kind: the factor by the definition of its parts (same
 * sources as above; ounce: 1/16 lb, mil: 0.001 in, kip: 1000 lbf). */
static void test_every_factor(void **state)
{
    static const double in = 0.0254, ft = 0.3048, lb = 0.45359237, lbf = 4.4482216152605,
                        psi = 6894.757293168361;
    const struct {
        pl_quantity_kind kind;
        const char *unit;
        double scale;
    } wanted[] = {
        { PL_Q_NONE, "%", 0.01 },
        { PL_Q_LENGTH, "mm", 1e-3 },
        { PL_Q_LENGTH, "cm", 1e-2 },
        { PL_Q_LENGTH, "m", 1 },
        { PL_Q_LENGTH, "um", 1e-6 },
        { PL_Q_LENGTH, "in", in },
        { PL_Q_LENGTH, "ft", ft },
        { PL_Q_LENGTH, "mil", 1e-3 * in },
        { PL_Q_AREA, "mm2", 1e-6 },
        { PL_Q_AREA, "cm2", 1e-4 },
        { PL_Q_AREA, "m2", 1 },
        { PL_Q_AREA, "in2", in * in },
        { PL_Q_AREA, "ft2", ft * ft },
        { PL_Q_FORCE, "N", 1 },
        { PL_Q_FORCE, "daN", 10 },
        { PL_Q_FORCE, "kN", 1e3 },
        { PL_Q_FORCE, "MN", 1e6 },
        { PL_Q_FORCE, "lbf", lbf },
        { PL_Q_FORCE, "kip", 1e3 * lbf },
        { PL_Q_FORCE, "kgf", 9.80665 },
        { PL_Q_PRESSURE, "Pa", 1 },
        { PL_Q_PRESSURE, "kPa", 1e3 },
        { PL_Q_PRESSURE, "MPa", 1e6 },
        { PL_Q_PRESSURE, "GPa", 1e9 },
        { PL_Q_PRESSURE, "N/mm2", 1e6 },
        { PL_Q_PRESSURE, "N/cm2", 1e4 },
        { PL_Q_PRESSURE, "N/m2", 1 },
        { PL_Q_PRESSURE, "kN/m2", 1e3 },
        { PL_Q_PRESSURE, "bar", 1e5 },
        { PL_Q_PRESSURE, "mbar", 1e2 },
        { PL_Q_PRESSURE, "bar gauge", 1e5 },
        { PL_Q_PRESSURE, "psi", psi },
        { PL_Q_PRESSURE, "psig", psi },
        { PL_Q_PRESSURE, "ksi", 1e3 * psi },
        { PL_Q_PRESSURE, "kgf/cm2", 98066.5 },
        { PL_Q_PRESSURE, "atm", 101325 },
        { PL_Q_TIME, "s", 1 },
        { PL_Q_TIME, "ms", 1e-3 },
        { PL_Q_TIME, "min", 60 },
        { PL_Q_TIME, "h", 3600 },
        { PL_Q_TIME, "d", 86400 },
        { PL_Q_TIME, "week", 604800 },
        { PL_Q_MASS, "kg", 1 },
        { PL_Q_MASS, "g", 1e-3 },
        { PL_Q_MASS, "mg", 1e-6 },
        { PL_Q_MASS, "t", 1e3 },
        { PL_Q_MASS, "lb", lb },
        { PL_Q_MASS, "oz", lb / 16 },
        { PL_Q_TEMPERATURE, "degC", 1 },
        { PL_Q_TEMPERATURE, "degF", 1 / 1.8 },
        { PL_Q_TEMPERATURE, "K", 1 },
        { PL_Q_SPREAD, "g/m2", 1e-3 },
        { PL_Q_SPREAD, "kg/m2", 1 },
        { PL_Q_SPREAD, "lb/1000 ft2", lb / (1000 * ft * ft) },
        { PL_Q_SPREAD, "oz/ft2", lb / 16 / (ft * ft) },
        { PL_Q_TORQUE, "N.m", 1 },
        { PL_Q_TORQUE, "N.mm", 1e-3 },
        { PL_Q_TORQUE, "kN.m", 1e3 },
        { PL_Q_TORQUE, "ft.lbf", ft * lbf },
        { PL_Q_TORQUE, "in.lbf", in * lbf },
        { PL_Q_VOLTAGE, "V", 1 },
        { PL_Q_VOLTAGE, "mV", 1e-3 },
        { PL_Q_VOLTAGE, "uV", 1e-6 },
        { PL_Q_CURRENT, "A", 1 },
        { PL_Q_CURRENT, "mA", 1e-3 },
        { PL_Q_DENSITY, "kg/m3", 1 },
        { PL_Q_DENSITY, "g/cm3", 1e3 },
        { PL_Q_DENSITY, "lb/ft3", lb / (ft * ft * ft) },
        { PL_Q_FORCE_RATE, "N/s", 1 },
        { PL_Q_FORCE_RATE, "kN/s", 1e3 },
        { PL_Q_FORCE_RATE, "N/min", 1.0 / 60 },
        { PL_Q_FORCE_RATE, "kN/min", 1e3 / 60 },
        { PL_Q_FORCE_RATE, "lbf/s", lbf },
        { PL_Q_FORCE_RATE, "lbf/min", lbf / 60 },
        { PL_Q_PRESSURE_RATE, "Pa/s", 1 },
        { PL_Q_PRESSURE_RATE, "kPa/s", 1e3 },
        { PL_Q_PRESSURE_RATE, "MPa/s", 1e6 },
        { PL_Q_PRESSURE_RATE, "MPa/min", 1e6 / 60 },
        { PL_Q_PRESSURE_RATE, "N/mm2/s", 1e6 },
        { PL_Q_PRESSURE_RATE, "N/mm2/min", 1e6 / 60 },
        { PL_Q_PRESSURE_RATE, "bar/s", 1e5 },
        { PL_Q_PRESSURE_RATE, "psi/s", psi },
        { PL_Q_PRESSURE_RATE, "psi/min", psi / 60 },
        { PL_Q_SPEED, "mm/min", 1e-3 / 60 },
        { PL_Q_SPEED, "mm/s", 1e-3 },
        { PL_Q_SPEED, "m/s", 1 },
        { PL_Q_SPEED, "in/min", in / 60 },
    };
    bench *b = *state;
    size_t n = sizeof wanted / sizeof *wanted, known = 0;

    for (size_t i = 0; i < n; i++) {
        assert_rel(wanted[i].unit, scale_of(b, wanted[i].unit, wanted[i].kind), wanted[i].scale,
                   1e-15);
        assert_int_equal(pl_units_kind(b->a, wanted[i].unit), wanted[i].kind);
    }
    for (int k = 0; k < PL_Q_COUNT; k++)
        for (const char *const *u = pl_units_known(b->a, (pl_quantity_kind)k); *u; u++)
            known++;
    assert_int_equal(known, n); /* none is left out above */
}

/* Powers of ten and round units must not smear what was typed. */
static void test_typed_values_exact(void **state)
{
    bench *b = *state;

    assert_true(read_si(b, "0.7 N/mm2", PL_Q_PRESSURE) == 700000);
    assert_true(read_si(b, "18 mm", PL_Q_LENGTH) == 0.018);
    assert_true(read_si(b, "45 min", PL_Q_TIME) == 2700);
    assert_true(read_si(b, "21 degC", PL_Q_TEMPERATURE) == 294.15);
    assert_abs("-40 degF", read_si(b, "-40 degF", PL_Q_TEMPERATURE), 233.15, 1e-13);
    assert_true(read_si(b, "12 %", PL_Q_NONE) == 0.12);
    assert_true(read_si(b, "0.12", PL_Q_NONE) == 0.12);
    assert_true(read_si(b, "6 bar", PL_Q_PRESSURE) == 600000);
}

static void test_spelling(void **state)
{
    bench *b = *state;
    pl_dim d;
    const char *why;

    assert_true(read_si(b, "0.7 N/mm²", PL_Q_PRESSURE) == 700000);
    assert_true(read_si(b, " 0.7N / mm^2 ", PL_Q_PRESSURE) == 700000);
    assert_true(read_si(b, "21 °C", PL_Q_TEMPERATURE) == 294.15);
    assert_true(read_si(b, "21 deg C", PL_Q_TEMPERATURE) == 294.15);
    assert_true(read_si(b, "80 µm", PL_Q_LENGTH) == 80e-6);
    assert_true(read_si(b, "20 N·m", PL_Q_TORQUE) == 20);
    assert_true(read_si(b, "20 Nm", PL_Q_TORQUE) == 20);
    assert_true(read_si(b, "6 bar(g)", PL_Q_PRESSURE) == 600000);
    assert_true(read_si(b, "2 days", PL_Q_TIME) == 172800);
    assert_true(read_si(b, "1.5e3 N", PL_Q_FORCE) == 1500);
    assert_true(read_si(b, ".5 m", PL_Q_LENGTH) == 0.5);
    assert_ok(b, pl_units_read(b->a, " 0.70  N/mm2 ", PL_Q_PRESSURE, &d, &why));
    assert_string_equal(d.unit, "N/mm2");
    assert_string_equal(d.text, "0.70  N/mm2");
}

static void refused(bench *b, const char *text, pl_quantity_kind kind, pl_code code,
                    const char *wanted)
{
    pl_dim d = { .si = 42 };
    const char *why = NULL;

    assert_code(b, code, pl_units_read(b->a, text, kind, &d, &why));
    assert_string_equal(why, wanted);
    assert_true(d.si == 42);
}

static void test_refusals(void **state)
{
    bench *b = *state;

    refused(b, "300", PL_Q_LENGTH, PL_EUNIT, "a length needs its unit: mm, cm, in");
    refused(b, "mm", PL_Q_LENGTH, PL_EVALUE, "a length starts with a number: 12.5 mm");
    refused(b, "", PL_Q_NONE, PL_EVALUE, "a number starts with a number: 12.5");
    refused(b, "20 lb", PL_Q_FORCE, PL_EUNIT, "lb is a mass; lbf is the force");
    refused(b, "20 kg", PL_Q_FORCE, PL_EUNIT, "kg is a mass; kgf is the force");
    refused(b, "20 oz", PL_Q_FORCE, PL_EUNIT, "\"oz\" is a mass, not a force (N, kN, lbf)");
    refused(b, "9 kg/cm²", PL_Q_PRESSURE, PL_EUNIT, "kg is a mass; kgf/cm2 is the pressure");
    refused(b, "90 psia", PL_Q_PRESSURE, PL_EUNIT,
            "an absolute pressure; a dial shows psi above the room's air");
    refused(b, "20 C", PL_Q_TEMPERATURE, PL_EUNIT, "degrees Celsius are written degC");
    refused(b, "6 bar", PL_Q_LENGTH, PL_EUNIT, "\"bar\" is a pressure, not a length (mm, cm, in)");
    refused(b, "6 %", PL_Q_LENGTH, PL_EUNIT, "\"%\" is a share, not a length (mm, cm, in)");
    refused(b, "90 PSI", PL_Q_PRESSURE, PL_EUNIT, "\"PSI\" is written psi");
    refused(b, "0.7 N/mn2", PL_Q_PRESSURE, PL_EUNIT,
            "\"N/mn2\" is not a unit known here; N/mm2 is");
    refused(b, "3 cubits", PL_Q_LENGTH, PL_EUNIT,
            "\"cubits\" is not a unit of a length known here (mm, cm, in)");
    refused(b, "3 mm", PL_Q_NONE, PL_EUNIT, "\"mm\" is too much: a plain number, or one with %");
    refused(b, "0,7 N/mm2", PL_Q_PRESSURE, PL_EVALUE,
            "write a decimal point, and no comma between thousands");
    refused(b, "3/4 in", PL_Q_LENGTH, PL_EVALUE,
            "write a fraction as a decimal number: 0.75, not 3/4");
    refused(b, "1 400 psi", PL_Q_PRESSURE, PL_EVALUE,
            "one number and then its unit, no blank within the number");
    refused(b, "1e308 kN", PL_Q_FORCE, PL_EVALUE, "too large a number");
    refused(b, "inf N", PL_Q_FORCE, PL_EVALUE, "a force starts with a number: 12.5 N");
    refused(b, "0x10 N", PL_Q_FORCE, PL_EUNIT,
            "\"x10 N\" is not a unit of a force known here "
            "(N, kN, lbf)");
    /* Nothing beyond the allow-list reaches the parser of units. */
    refused(b, "3 m @ 5", PL_Q_LENGTH, PL_EUNIT,
            "\"m @ 5\" is not a unit of a length known here (mm, cm, in)");
    refused(b, "3 mmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmm", PL_Q_LENGTH, PL_EUNIT,
            "\"mmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmmm\" is not a unit of a length "
            "known here (mm, cm, in)");
}

static void test_back(void **state)
{
    bench *b = *state;

    assert_string_equal(pl_units_text(b->a, 700000, PL_Q_PRESSURE, "N/mm2", 3), "0.7 N/mm2");
    assert_string_equal(pl_units_text(b->a, 700000, PL_Q_PRESSURE, "psi", 4), "101.5 psi");
    assert_string_equal(pl_units_text(b->a, 294.15, PL_Q_TEMPERATURE, "degC", 4), "21 degC");
    assert_string_equal(pl_units_text(b->a, 0.05, PL_Q_NONE, "%", 3), "5 %");
    assert_string_equal(pl_units_text(b->a, 0.05, PL_Q_NONE, "", 3), "0.05");
    for (int k = 0; k < PL_Q_COUNT; k++)
        for (const char *const *u = pl_units_known(b->a, (pl_quantity_kind)k); *u; u++) {
            char *text = pl_units_text(b->a, 294.17, (pl_quantity_kind)k, *u, 17);

            assert_rel(text, read_si(b, text, (pl_quantity_kind)k), 294.17, 1e-14);
        }
}

static void test_words(void **state)
{
    (void)state;
    assert_string_equal(pl_quantity_name(PL_Q_PRESSURE), "a pressure");
    assert_string_equal(pl_quantity_si(PL_Q_TORQUE), "N.m");
    for (int k = 0; k < PL_Q_COUNT; k++) {
        assert_non_null(pl_quantity_name((pl_quantity_kind)k));
        assert_non_null(pl_quantity_si((pl_quantity_kind)k));
        assert_non_null(pl_quantity_examples((pl_quantity_kind)k));
    }
    assert_int_equal(pl_units_kind(NULL, ""), PL_Q_NONE);
    assert_int_equal(pl_units_kind(NULL, "cubit"), PL_Q_COUNT);
}

static void test_chance(void **state)
{
    bench *b = *state;
    const char *why;
    double x = 0;

    assert_ok(b, pl_units_chance(b->a, "1 in 10", &x, &why));
    assert_true(x == 0.1);
    assert_ok(b, pl_units_chance(b->a, " 3 in 8", &x, &why));
    assert_true(x == 0.375);
    assert_ok(b, pl_units_chance(b->a, "10 %", &x, &why));
    assert_true(x == 0.1);
    assert_ok(b, pl_units_chance(b->a, "0.05", &x, &why));
    assert_true(x == 0.05);
    x = 42;
    assert_code(b, PL_EVALUE, pl_units_chance(b->a, "0", &x, &why));
    assert_string_equal(why, "a chance lies between 0 and 1, both excluded");
    assert_code(b, PL_EVALUE, pl_units_chance(b->a, "10 in 10", &x, &why));
    assert_code(b, PL_EVALUE, pl_units_chance(b->a, "1 in 0", &x, &why));
    assert_code(b, PL_EVALUE, pl_units_chance(b->a, "0 in 0", &x, &why));
    assert_code(b, PL_EVALUE, pl_units_chance(b->a, "rarely", &x, &why));
    assert_string_equal(why, "a chance is written \"1 in 10\", \"10 %\" or 0.1");
    assert_code(b, PL_EVALUE, pl_units_chance(b->a, "1 in ten", &x, &why));
    assert_true(x == 42);
}

/* A child that has not read the table yet and cannot find it. */
static void test_no_table(void **state)
{
    bench *b = *state;
    int status;
    pid_t child = fork();

    if (child == 0) {
        pl_dim d;
        const char *why = "";
        pl_code code;

        setenv("UDUNITS2_XML_PATH", "/nowhere/udunits2.xml", 1);
        code = pl_units_read(b->a, "1 mm", PL_Q_LENGTH, &d, &why);
        _exit(code == PL_ENOFILE && strstr(why, "cannot be read") ? 0 : 1);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
}

static void test_no_memory(void **state)
{
    const char *texts[] = { "0.7 N/mm2", "0.7 furlongs", "seven" };
    const pl_code wanted[] = { PL_OK, PL_EUNIT, PL_EVALUE };

    (void)state;
    for (size_t t = 0; t < 3; t++) {
        unsigned long n = 0;
        pl_code code;

        do {
            pl_arena *a = pl_arena_new(0);
            pl_dim d;
            const char *why;

            pl_arena_fail_at(++n);
            code = pl_units_read(a, texts[t], PL_Q_PRESSURE, &d, &why);
            pl_arena_fail_at(0);
            assert_true(code == PL_ENOMEM || code == wanted[t]);
            assert_true(code == PL_ENOMEM || code == PL_OK || why);
            pl_arena_free(a);
        } while (code == PL_ENOMEM && n < 100);
        assert_true(n > 1 && n < 100);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_no_table), /* first: the table is read once */
        TEST(test_worked_factors), TEST(test_every_factor), TEST(test_typed_values_exact),
        TEST(test_spelling),       TEST(test_refusals),     TEST(test_back),
        TEST(test_words),          TEST(test_chance),       TEST(test_no_memory),
    };

    return cmocka_run_group_tests_name("units", tests, NULL, NULL);
}
