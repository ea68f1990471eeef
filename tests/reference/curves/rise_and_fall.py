# Fits of rise-and-fall by SciPy, for tests/fit/test_curve_turn.c.
# Run in this folder with SciPy 1.10: python3 rise_and_fall.py > rise_and_fall.json
# Free fit: least_squares on (floor, top, loss, ln rate), boards projected out, from several starts.
# Held fits: a hill with its top M at w whose onset (or end) is t, written as such:
#   m(u) = M (1 - (1 - share) p(u) / p(t)),  p(u) = e^(-rate u) - e^(-rate w) + rate e^(-rate w) (u - w)
# M by projection; rate and w by a grid of starts and Nelder-Mead.
import json
import numpy as np
from scipy.optimize import least_squares, minimize

SHARE = 0.95


def curve(p, u):
    return p[0] + (p[1] - p[0]) * (1 - np.exp(-np.exp(p[3]) * u)) - p[2] * u


rows = [line.split(",") for line in open("set_starved.csv").read().split()[1:]]
u = np.array([float(r[0]) for r in rows])
y = np.array([float(r[1]) for r in rows])
names = [r[2] for r in rows]
Z = np.array([[(n == b) - (n == "B5") for b in ("B0", "B1", "B2", "B3", "B4")] for n in names], float)
Q, _ = np.linalg.qr(Z)


def left(r):
    return r - Q @ (Q.T @ r)


fits = [least_squares(lambda p: left(y - curve(p, u)), [5, 12, 1, np.log(rate)],
                      xtol=1e-15, ftol=1e-15, gtol=1e-15) for rate in (0.3, 1, 3, 10)]
best = min(fits, key=lambda s: s.cost)
p, ss = best.x, 2 * best.cost
df = len(y) - 5 - 4
se = np.sqrt(np.diag(np.linalg.inv(best.jac.T @ best.jac)) * ss / df)
rate = np.exp(p[3])
w = np.log(rate * (p[1] - p[0]) / p[2]) / rate


def solve(side):
    from scipy.optimize import brentq
    return brentq(lambda t: curve(p, t) - SHARE * curve(p, w), *side, xtol=1e-15)


def held(t, onset):
    def ss_of(v):
        r, top = np.exp(v[0]), v[1]
        if not ((t < top <= u.max()) if onset else (u.min() <= top < t)):
            return 1e9
        def drop(x):
            return np.exp(-r * x) - np.exp(-r * top) + r * np.exp(-r * top) * (x - top)
        m, z = left(1 - (1 - SHARE) * drop(u) / drop(t)), left(y)
        M = m @ z / (m @ m)
        return np.sum((z - M * m) ** 2) if M > 0 else 1e9
    least = 1e9
    for lr in np.log([0.1, 0.5, 1, 2, 4, 8]):
        for f in (0.1, 0.3, 0.5, 0.7, 0.9):
            top = t + f * (u.max() - t) if onset else u.min() + f * (t - u.min())
            s = minimize(ss_of, [lr, top], method="Nelder-Mead",
                         options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 2000})
            least = min(least, s.fun)
    return least


onset, end = solve((u.min(), w)), solve((w, u.max()))
print(json.dumps({
    "source": "rise_and_fall.py beside this file, SciPy 1.10; data: set_starved.csv (invented)",
    "share": SHARE, "ss": ss, "df": df, "onset": onset, "end": end, "top_at": w,
    "parameters": [{"name": n, "estimate": e, "se": s} for n, e, s in zip(
        ("floor", "top", "loss", "rate"), [*p[:3], rate], [*se[:3], rate * se[3]])],
    "held": [{"held": "onset", "at": onset * f, "ss": held(onset * f, True)} for f in (0.8, 0.95, 1.1, 1.4)] +
            [{"held": "end", "at": end * f, "ss": held(end * f, False)} for f in (0.8, 0.95, 1.1, 1.4)]},
    indent=1))
