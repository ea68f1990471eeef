#!/usr/bin/env python3
"""Makes noncentral.csv: both tails of noncentral F, t and chi-square to 25 digits.

Needs mpmath only; takes about seven minutes. Arithmetic at 60 digits or more. Run
in its own folder: python3 make_noncentral.py

  F   Poisson sum over incomplete beta values, each tail summed from positive
      terms; every row is refused unless lower + upper = 1 within 1e-45.
  T   delta >= 0: trapezoid rule over the log of chi/sqrt(df), step halved once,
      refused unless the two agree within 1e-28.
      delta < 0: the alternating series at 150 digits.
      (The C code does it the other way round.)
  C   Poisson sum over incomplete gamma values, as F.

x is written with 17 digits and read back before anything is computed from it, so
that the values belong to the double a program reads. The critical values need no
accuracy of their own.
"""
import csv
from mpmath import mp, mpf, exp, log, loggamma, sqrt, pi, erfc, nstr, betainc, gammainc

mp.dps = 60
EPS = mpf(10) ** -62


def beta_tails(a, b, x, y, terms):
    """Lists of I_x(a+j, b) and 1 - I_x(a+j, b), j = 0..terms, from positive terms."""
    t = [exp(a * log(x) + b * log(y) + loggamma(a + b) - loggamma(a + 1) - loggamma(b))]
    for j in range(terms):
        t.append(t[-1] * x * (a + b + j) / (a + j + 1))
    low = [mpf(0)] * (terms + 1)
    s, u, i = mpf(0), t[terms], terms
    while u > s * EPS:
        s += u
        u *= x * (a + b + i) / (a + i + 1)
        i += 1
    low[terms] = s
    for j in range(terms - 1, -1, -1):
        low[j] = low[j + 1] + t[j]
    s, u, i = mpf(0), exp(a * log(x) + b * log(y) + loggamma(a + b) - loggamma(b + 1)
                          - loggamma(a)), 0
    while u > s * EPS:
        s += u
        u *= y * (a + b + i) / (b + i + 1)
        i += 1
    up = [s]
    for j in range(terms):
        up.append(up[-1] + t[j])
    return low, up


def gamma_tails(a, z, terms):
    t = [exp(a * log(z) - z - loggamma(a + 1))]
    for j in range(terms):
        t.append(t[-1] * z / (a + j + 1))
    low = [mpf(0)] * (terms + 1)
    s, u, i = mpf(0), t[terms], terms
    while u > s * EPS:
        s += u
        u *= z / (a + i + 1)
        i += 1
    low[terms] = s
    for j in range(terms - 1, -1, -1):
        low[j] = low[j + 1] + t[j]
    up = [gammainc(a, z, regularized=True)]
    for j in range(terms):
        up.append(up[-1] + t[j])
    return low, up


def poisson_sum(tails, lam, terms):
    w, lower, upper = exp(-lam / 2), mpf(0), mpf(0)
    for j in range(terms + 1):
        lower += w * tails[0][j]
        upper += w * tails[1][j]
        w *= lam / 2 / (j + 1)
    assert abs(lower + upper - 1) < mpf(10) ** -45, (lower, upper)
    return lower, upper


def terms_for(lam):
    m = float(lam) / 2
    return int(m + 25 * m ** 0.5 + 90)


def phi_up(z):
    return erfc(z / sqrt(mpf(2))) / 2


def t_by_trapezoid(t, df, d, h):
    k = df / 2
    c = log(2) + k * log(k) - loggamma(k)
    lower = upper = mpf(0)
    for side in (1, -1):
        i = 0 if side == 1 else 1
        while True:
            v = side * h * i
            s = exp(v)
            g = exp(c + 2 * k * v - k * s * s)
            one, two = g * phi_up(d - t * s), g * phi_up(t * s - d)
            lower += one
            upper += two
            i += 1
            if abs(v) > 0.5 and one < lower * EPS / 1000 and two < upper * EPS / 1000:
                break
    return lower * h, upper * h


def t_by_series(t, df, d):
    """t > 0: P(T > t) = 1/2 sum (w_j J(j + 1/2) + w_(j+1/2) J(j + 1)), the second with d's sign."""
    keep, mp.dps = mp.dps, 150
    try:
        m, x, y = d * d / 2, t * t / (t * t + df), df / (t * t + df)
        n = int(m + 40 * sqrt(m) + 200)
        total = mpf(0)
        for a, sign, w in ((mpf(1) / 2, 1, exp(-m)),
                           (mpf(1), -1 if d < 0 else 1, exp(-m) * sqrt(m) / (sqrt(pi) / 2))):
            J = betainc(df / 2, a, 0, y, regularized=True)
            T = exp(a * log(x) + df / 2 * log(y) + loggamma(a + df / 2) - loggamma(a + 1)
                    - loggamma(df / 2))
            for j in range(n):
                total += sign * w * J
                J += T
                T *= x * (a + df / 2 + j) / (a + j + 1)
                w *= m / (j + a + mpf(1) / 2)
        return 1 - total / 2, total / 2
    finally:
        mp.dps = keep


def as_double(v):
    return float(repr(float(v)))


def f_critical(alpha, d1, d2):
    """Upper alpha point as a double: Newton on the log of the tail, 30 digits."""
    with mp.workdps(30):
        a, b = mpf(d1) / 2, mpf(d2) / 2
        v = mpf(0)  # ln(d1 f / d2)
        for _ in range(100):
            x, y = exp(v) / (1 + exp(v)), 1 / (1 + exp(v))
            up = betainc(b, a, 0, y, regularized=True)
            slope = exp(a * log(x) + b * log(y) + loggamma(a + b) - loggamma(a) - loggamma(b)) / up
            step = log(up / alpha) / slope
            v += max(-2, min(2, step))
            if abs(step) < mpf(10) ** -20:
                return as_double(exp(v) * d2 / d1)
        raise ArithmeticError("no critical value")


def main():
    rows = []
    crit = {}
    D2 = (2, 4, 8, 16, 40, 88, 200, 1000)
    AL = (mpf("0.05"), mpf("0.01"), mpf("0.001"))
    LAM = ("0.1", "1", "3", "10", "30", "60", "100", "200", "500")
    for d1 in range(1, 12):
        for d2 in D2:
            for al in AL:
                f = f_critical(al, d1, d2)
                crit[d1, d2, al] = f
                x = d1 * mpf(f) / (d1 * mpf(f) + d2)
                y = d2 / (d1 * mpf(f) + d2)
                n = terms_for(500)
                tails = beta_tails(mpf(d1) / 2, mpf(d2) / 2, x, y, n)
                for lam in LAM:
                    lam = mpf(float(lam))
                    rows.append(("F", d1, d2, repr(f), repr(float(lam))) +
                                poisson_sum(tails, lam, n))
    # far from any critical value, and df that are not whole
    for d1, d2, f, lam in ((3.7, 12.3, 0.01, 40.0), (3.7, 12.3, 0.2, 40.0), (3.7, 12.3, 55.0, 2.5),
                           (0.6, 3.3, 1.9, 0.013), (2.5, 1e5, 3.1, 700.0), (8.0, 640.0, 1e-3, 12.0),
                           (1.0, 30.0, 400.0, 3.0), (6.0, 56.0, 90.0, 20.0), (2.0, 9.0, 1e6, 5.0)):
        x = mpf(d1) * mpf(f) / (mpf(d1) * mpf(f) + mpf(d2))
        y = mpf(d2) / (mpf(d1) * mpf(f) + mpf(d2))
        n = terms_for(max(lam, 900))
        rows.append(("F", d1, d2, repr(f), repr(lam)) +
                    poisson_sum(beta_tails(mpf(d1) / 2, mpf(d2) / 2, x, y, n), mpf(lam), n))
    for df in D2:
        for al in AL:
            t = as_double(sqrt(mpf(crit[1, df, al])))
            for d in (-6.3, -3.0, -0.4, 0.0, 0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0):
                if d < 0:
                    pair = t_by_series(mpf(t), mpf(df), mpf(d))
                else:
                    h = min(mpf("0.02"), 1 / sqrt(mpf(2) * df) / 8)
                    pair = t_by_trapezoid(mpf(t), mpf(df), mpf(d), h)
                    again = t_by_trapezoid(mpf(t), mpf(df), mpf(d), h / 2)
                    for one, two in zip(pair, again):
                        assert abs(one / two - 1) < mpf(10) ** -28, (t, df, d, one, two)
                rows.append(("T", 0, df, repr(t), repr(d)) + pair)
    for df in (1, 2.5, 4, 11, 60, 300):
        for x in (0.01, 1.7, 9.3, 45.0, 160.0, 420.0):
            for lam in (0.3, 6.0, 21.0, 150.0, 600.0):
                n = terms_for(900)
                rows.append(("C", 0, df, repr(x), repr(lam)) +
                            poisson_sum(gamma_tails(mpf(df) / 2, mpf(x) / 2, n), mpf(lam), n))
    with open("noncentral.csv", "w", newline="") as f:
        f.write("# Noncentral F (df1, df2, lambda), t (df2, delta), chi-square (df2, lambda): "
                "P(X <= x), P(X > x).\n"
                "# Made by make_noncentral.py beside this file, 60-digit arithmetic (mpmath).\n")
        w = csv.writer(f, lineterminator="\n")
        w.writerow(("kind", "df1", "df2", "x", "noncentrality", "lower", "upper"))
        for r in rows:
            w.writerow(r[:5] + (nstr(r[5], 25), nstr(r[6], 25)))


if __name__ == "__main__":
    main()
