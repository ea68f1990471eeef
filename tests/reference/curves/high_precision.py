#!/usr/bin/python3
"""Curves with a free floor and board effects in 40-digit arithmetic.

For tests/fit/test_curve_reference.c; data set_boards.csv. Writes
high_precision.json beside itself. Run with mpmath 1.2: python3 high_precision.py

The shape number is the root of the derivative (numerical, 40 digits) of the
residual sum of squares of a dense linear fit by normal equations; standard
errors are s^2 (J'J)^-1 with J by numerical differentiation of the mean.
"""
import csv
import json
import os

from mpmath import diff, exp, findroot, inverse, log, lu_solve, matrix, mp, mpf, nstr, pi, sqrt

mp.dps = 40
HERE = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(HERE, "set_boards.csv")) as f:
    ROWS = list(csv.DictReader(f))
BOARDS = sorted(set(r["board"] for r in ROWS))
X = [mpf(r["applied"]) for r in ROWS]
Y = matrix([mpf(r["strength"]) for r in ROWS])
Z = [[(r["board"] == b) - (r["board"] == BOARDS[-1]) for b in BOARDS[:-1]] for r in ROWS]
G = {
    "linear-plateau": ("knee", lambda u, s: min(u / s, mpf(1))),
    "quadratic-plateau": ("knee", lambda u, s: 1 - max(1 - u / s, mpf(0)) ** 2),
    "saturating-exponential": ("rate", lambda u, s: 1 - exp(-s * u)),
    "saturating-hyperbola": ("half", lambda u, s: u / (s + u)),
}


def linear(g, u, s):
    A = matrix([[1 - g(v, s), g(v, s)] + z for v, z in zip(u, Z)])
    beta = lu_solve(A.T * A, A.T * Y)
    e = Y - A * beta
    return beta, (e.T * e)[0]


def case(name, on_log, start):
    shape, g = G[name]
    u = [log(v / min(X)) for v in X] if on_log else X
    s = findroot(lambda t: diff(lambda q: linear(g, u, q)[1], t), start)
    beta, ss = linear(g, u, s)
    rise = beta[1] - beta[0]
    J = matrix([[1 - g(v, s), g(v, s), rise * diff(lambda q, v=v: g(v, q), s)] + z
                for v, z in zip(u, Z)])
    V = inverse(J.T * J)
    n, K = len(ROWS), 3 + len(BOARDS) - 1
    s2 = ss / (n - K)
    k = K + 1
    aicc = n * (log(2 * pi) + 1 + log(ss / n)) + 2 * k + mpf(2 * k * (k + 1)) / (n - k - 1)
    se = [sqrt(s2 * V[j, j]) for j in range(3)]
    if on_log and shape in ("knee", "half"):  # told in x; its se by the derivative of x1 exp(u)
        s = min(X) * exp(s)
        se[2] *= s
    out = [("floor", beta[0], se[0]), ("top", beta[1], se[1]), (shape, s, se[2])]
    return {"curve": name, "log_x": on_log, "ss": nstr(ss, 20), "df": n - K,
            "aicc": nstr(aicc, 20),
            "parameters": [{"name": a, "estimate": nstr(b, 20), "se": nstr(c, 20)}
                           for a, b, c in out]}


CASES = [case("saturating-exponential", False, 2.4), case("saturating-exponential", True, 0.56),
         case("saturating-hyperbola", False, (0.15, 0.17)), case("quadratic-plateau", False, 1.3),
         case("linear-plateau", False, 0.7), case("linear-plateau", True, 1.95)]
with open(os.path.join(HERE, "high_precision.json"), "w") as f:
    json.dump({"source": "high_precision.py beside this file, mpmath at 40 digits",
               "cases": CASES}, f, indent=1)
    f.write("\n")
