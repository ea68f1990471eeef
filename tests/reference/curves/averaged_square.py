#!/usr/bin/python3
"""Onset interval of polynomial:2, which can rise and fall, by brute force.

Writes set_dome.csv and set_slope.csv (invented, seeded) and averaged_square.json
beside itself. Run with numpy 1.24, scipy 1.10: python3 averaged_square.py

A parabola whose onset is t inside the range [L, H] is one of two kinds, each
with one shape left to search and the rest linear:
  its top v lies inside (t, H]:  m = M (1 - (1 - share) (x - v)^2 / (t - v)^2)
  its largest value is at H:     m = M (share + (1 - share)(x - t)/(H - t)) + c (x - t)(x - H)
                                 with c/M such that H is the largest place and t the lowest
and likewise, mirrored, for the end of the range.
"""
import csv
import json
import math
import os

import numpy as np
from scipy import optimize, stats

HERE = os.path.dirname(os.path.abspath(__file__))


def ss_of(v, y):
    s = float(v @ y) / float(v @ v)
    r = y - max(s, 0.0) * v
    return float(r @ r)


def search(f, grid):
    values = np.array([f(g) for g in grid])
    best = values.min()
    for i in np.argsort(values)[:4]:
        r = optimize.minimize_scalar(f, bounds=(grid[max(i - 1, 0)], grid[min(i + 1, len(grid) - 1)]),
                                     method="bounded", options={"xatol": 1e-13})
        best = min(best, float(r.fun))
    return best


def held(x, y, L, H, share, t):
    """Onset at t; the end of the range is the onset of the mirrored data."""
    k = 1 - share
    inside = search(lambda v: ss_of(1 - k * (x - v) ** 2 / (t - v) ** 2, y),
                    t + (H - t) * np.linspace(1e-3, 1, 800))
    # c/M = q: concave while the slope at H stays >= 0; convex while m(L) <= share M
    low = -k / (H - t) ** 2
    high = k / ((H - t) * (H - L))
    edge = search(lambda q: ss_of(share + k * (x - t) / (H - t) + q * (x - t) * (x - H), y),
                  np.linspace(low, high, 800))
    return min(inside, edge)


def interval(x, y, levels, share):
    L, H = levels[0], levels[-1]
    X = np.column_stack([np.ones_like(x), x, x * x])
    beta, *_ = np.linalg.lstsq(X, y, rcond=None)
    r = y - X @ beta
    ss, df = float(r @ r), len(y) - 3
    fine = np.linspace(L, H, 2000001)
    m = beta[0] + fine * (beta[1] + fine * beta[2])
    top = m.max()
    if beta[2] < 0 and L < -beta[1] / (2 * beta[2]) < H:
        v = -beta[1] / (2 * beta[2])
        top = beta[0] + v * (beta[1] + v * beta[2])
    i = int(np.argmax(m >= share * top))
    onset = fine[i]
    if i:
        onset = optimize.brentq(
            lambda v: beta[0] + v * (beta[1] + v * beta[2]) - share * top, fine[i - 1], fine[i],
            xtol=1e-15)

    def A(t):
        more = max(0.0, held(x, y, L, H, share, t) - ss)
        return stats.t.cdf(math.copysign(math.sqrt(more / (ss / df)), onset - t), df)

    xs = []
    for a, b in zip(levels, levels[1:]):
        xs += list(a + (b - a) * np.arange(12) / 12)
    xs[0] = levels[0] + 1e-6 * (levels[1] - levels[0])
    xs.append(levels[-1] - 1e-6 * (levels[-1] - levels[-2]))
    values = [A(t) for t in xs]

    def xs_end(last):
        return float(levels[0] if last else levels[-1])

    def solve(want, last):
        places = [i for i in range(len(xs) - 1) if (values[i] >= want) != (values[i + 1] >= want)]
        if not places:  # on one side of it all along: the end of the range nearest
            return xs_end(last)
        i = places[-1 if last else 0]
        a, b, fa = xs[i], xs[i + 1], values[i] - want
        for _ in range(34):
            c = 0.5 * (a + b)
            if (A(c) - want > 0) == (fa > 0):
                a = c
            else:
                b = c
        return 0.5 * (a + b)

    return {"low": solve(0.975, False) if values[0] >= 0.975 else None,
            "high": solve(0.025, True) if values[-1] <= 0.025 else None,
            "at": solve(0.5, False) if values[0] >= 0.5 else float(L)}


def mirrored(x, y, levels, share):
    a = interval(-x, y, [-v for v in levels[::-1]], share)
    turn = lambda v: None if v is None else -v
    return {"low": turn(a["high"]), "high": turn(a["low"]), "at": turn(a["at"])}


def rows(mean, sd, seed):
    rng = np.random.default_rng(seed)
    return [(round(float(mean(x) + sd * rng.normal()), 3), x)
            for _ in range(4) for x in (0.3, 0.8, 1.4, 2.0, 2.7, 3.5)]


CASES = [("dome", rows(lambda x: 10 - 1.5 * (x - 2) ** 2, 0.6, 21)),
         ("slope", rows(lambda x: 4 + 2.2 * x, 0.9, 22))]
out = []
for name, data in CASES:
    with open(os.path.join(HERE, "set_%s.csv" % name), "w", newline="") as f:
        w = csv.writer(f, lineterminator="\n")
        w.writerow(["strength", "applied"])
        w.writerows(data)
    y, x = np.array([r[0] for r in data]), np.array([r[1] for r in data])
    levels = sorted(set(x))
    out.append({"name": name, "onset": interval(x, y, levels, 0.9),
                "range_end": mirrored(x, y, levels, 0.9)})
    print(out[-1], flush=True)
with open(os.path.join(HERE, "averaged_square.json"), "w") as f:
    json.dump({"source": "averaged_square.py beside this file; invented data", "share": 0.9,
               "cases": out}, f, indent=1)
    f.write("\n")
