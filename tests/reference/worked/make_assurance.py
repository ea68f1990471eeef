#!/usr/bin/env python3
"""Makes assurance.inc: mean power of an F test over what a pilot leaves open.

Needs mpmath only; 30 digits; under a minute. Mean over w = ln(chi-square(df)/df) of
the power at lambda e^w, by Gauss-Legendre pieces; power by the Poisson sum over
regularised incomplete beta functions. The critical value is found at 30 digits.
"""
from mpmath import mp, mpf, exp, log, gamma, quad, betainc, findroot, nstr, linspace

mp.dps = 30


def central_upper(v, a, b):
    return betainc(b, a, 0, 1 / (1 + v), regularized=True)


def power_from(v, a, b):
    """Function lambda -> P(X > x), v the odds x/(1 - x)."""
    x, y, up = v / (1 + v), 1 / (1 + v), [central_upper(v, a, b)]
    t = x ** a * y ** b * gamma(a + b) / (gamma(a + 1) * gamma(b))
    for j in range(1500):
        up.append(up[-1] + t)
        t *= x * (a + b + j) / (a + j + 1)

    def power(lam):
        m, w, s = lam / 2, exp(-lam / 2), mpf(0)
        for j in range(1500):
            s += w * up[j]
            w *= m / (j + 1)
            if j > m and w < mpf(10) ** -32:
                break
        return s
    return power


def main():
    with open("assurance.inc", "w") as f:
        f.write("/* df1, df2, lambda at s, alpha, pilot df, mean power: make_assurance.py */\n")
        for df1, df2, lam, alpha, pilot in ((1, 14, 7.3, 0.05, 5), (2, 21, 12.9, 0.05, 7),
                                            (7, 40, 19.7, 0.01, 3), (5, 30, 26.1, 0.05, 19),
                                            (3, 12, 8.8, 0.05, 1)):
            a, b = mpf(df1) / 2, mpf(df2) / 2
            v = exp(findroot(lambda u: log(central_upper(exp(u), a, b) / mpf(str(alpha))),
                             (mpf(0), mpf(1)), solver="secant"))
            power, k = power_from(v, a, b), mpf(pilot) / 2
            lo, hi = -mpf(34) / k, log(1 + 45 / k + 3)
            mean = quad(lambda w: power(mpf(str(lam)) * exp(w)) * exp(k * w - k * exp(w)),
                        linspace(lo, hi, 25)) * k ** k / gamma(k)
            # the part below lo, where power is alpha to 10 digits
            mean += mpf(str(alpha)) * exp(k * lo) * k ** k / gamma(k + 1)
            f.write("{ %g, %g, %g, %g, %g, %s },\n" % (df1, df2, lam, alpha, pilot, nstr(mean, 18)))


if __name__ == "__main__":
    main()
