"""Recomputes what tests/report/test_curve_plugin.c holds richards-rise to.

Python 3 with NumPy, SciPy and mpmath. The data are invented: a seeded rise plus scatter, two
decimals, three glue-ups at each of nine pressures; written below, so that nothing is drawn again.

Curve (Richards 1959, J. Exp. Bot. 10:290): g(u) = (1 + skew exp(-rate (u - mid)))^(-1/skew),
mean = floor + (top - floor) g.

- estimates: SciPy from 60 starts, then Newton on the normal equations in mpmath at 40 digits.
  The least sum of squares lies at the lower end of skew, 0.01, which is then known.
- standard errors: roots of s^2 (J'J)^-1, J by mpmath's derivatives, skew known; s^2 on 27 - 5 df.
- interval of the onset: SS(t) is the least sum of squares under m(t) = 0.95 m(2.5), from its
  definition: SciPy over rate, mid and skew from 40 starts at every t, floor and top by least
  squares on the line in (floor, top) that the condition leaves. Limits: T_22(sign sqrt((SS(t) -
  SS)/s^2)) = 0.975, 0.025 by bisection.
"""
import json

import mpmath as mp
import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

X = np.repeat([0.2, 0.4, 0.6, 0.8, 1.0, 1.3, 1.6, 2.0, 2.5], 3)
Y = np.array([
    2.11, 2.12, 2.76, 2.29, 3.04, 2.30, 4.35, 4.04, 4.44,
    4.80, 5.11, 4.87, 5.62, 5.92, 5.43, 6.66, 7.03, 6.81,
    7.10, 8.01, 7.27, 7.28, 7.55, 7.31, 7.44, 7.45, 8.28,
])
LOW, HIGH, SHARE = np.array([1e-3 / 2.3, -2.1, 0.01]), np.array([500, 4.8, 100]), 0.95


def g(u, s):
    x = np.log(s[2]) - s[0] * (np.asarray(u) - s[1])
    return np.exp(-np.logaddexp(0, x) / s[2])


def free(s):
    A = np.column_stack([1 - g(X, s), g(X, s)])
    beta, *_ = np.linalg.lstsq(A, Y, rcond=None)
    return beta, Y - A @ beta


def held(s, t):
    A = np.column_stack([1 - g(X, s), g(X, s)])
    row = lambda u: np.array([1 - g(u, s), g(u, s)])
    c = row(t) - SHARE * row(2.5)
    along = np.array([-c[1], c[0]]) / np.hypot(*c)
    v = A @ along
    k = v @ Y / (v @ v) if v @ v > 0 else 0
    return Y - k * v


def best(residual, starts, first=()):
    to = lambda z: np.array([np.exp(z[0]), z[1], np.exp(z[2])])
    lo = np.array([np.log(LOW[0]), LOW[1], np.log(LOW[2])])
    hi = np.array([np.log(HIGH[0]), HIGH[1], np.log(HIGH[2])])
    rng = np.random.default_rng(1)
    found = (np.inf, None)
    for z in list(first) + [lo + rng.random(3) * (hi - lo) for _ in range(starts)]:
        z = np.clip(z, lo + 1e-9, hi - 1e-9)
        try:
            r = least_squares(lambda z: residual(to(z)), z, bounds=(lo, hi), xtol=1e-15, ftol=1e-15, gtol=1e-15)
        except ValueError:
            continue
        ss = 2 * r.cost
        if ss < found[0]:
            found = (ss, r.x)
    return found


def exact():
    """At skew 0.01: Newton on the four others at 40 digits."""
    mp.mp.dps = 40
    skew = mp.mpf("0.01")
    xs, ys = [mp.mpf(str(x)) for x in X], [mp.mpf(str(y)) for y in Y]
    G = lambda u, r, m: (1 + skew * mp.e ** (-r * (u - m))) ** (-1 / skew)
    z = best(lambda s: free(np.array([s[0], s[1], 0.01]))[1], 30)[1]
    beta, _ = free(np.array([np.exp(z[0]), z[1], 0.01]))
    p = mp.matrix([mp.mpf(float(v)) for v in (beta[0], beta[1], np.exp(z[0]), z[1])])

    def jac(p):
        J, res = mp.matrix(len(xs), 4), mp.matrix(len(xs), 1)
        for i, u in enumerate(xs):
            gi = G(u, p[2], p[3])
            e = mp.e ** (-p[2] * (u - p[3]))
            q = e / (1 + skew * e) * gi
            J[i, 0], J[i, 1] = 1 - gi, gi
            J[i, 2], J[i, 3] = (p[1] - p[0]) * (u - p[3]) * q, -(p[1] - p[0]) * p[2] * q
            res[i] = ys[i] - (p[0] + (p[1] - p[0]) * gi)
        return J, res

    for _ in range(400):
        J, res = jac(p)
        step = mp.lu_solve(J.T * J, J.T * res)
        p = p + step
        if mp.norm(step) < mp.mpf(10) ** -35:
            break
    J, res = jac(p)
    ss = sum(r * r for r in res)
    inverse = (J.T * J) ** -1
    se = [mp.sqrt(ss / 22 * inverse[i, i]) for i in range(4)]
    return [float(v) for v in p], [float(v) for v in se], float(ss)


def main():
    p, se, ss_exact = exact()
    ss, z = best(lambda s: free(s)[1], 60)
    s2 = ss / 22
    rate, mid = p[2], p[3]
    s = np.array([rate, mid, 0.01])
    mean = lambda u: p[0] + (p[1] - p[0]) * g(u, s)
    a, b = 0.2, 2.5
    for _ in range(200):
        m = 0.5 * (a + b)
        a, b = (a, m) if mean(m) >= SHARE * mean(2.5) else (m, b)
    onset = b

    last = [z]

    def tail(t):
        h, at = best(lambda s: held(s, t), 40, last)
        last.append(at)
        sign = 1 if onset > t else -1
        return student.cdf(sign * np.sqrt(max(h - ss, 0) / s2), 22)

    def limit(wanted, a, b):
        for _ in range(24):
            m = 0.5 * (a + b)
            a, b = (m, b) if tail(m) > wanted else (a, m)
        return 0.5 * (a + b)

    out = {"estimates": p, "standard_errors": se, "ss": ss_exact, "ss_free": ss, "onset": onset,
           "low": limit(0.975, 0.9, onset), "high": limit(0.025, onset, 2.49)}
    print(json.dumps(out, indent=1))


main()
