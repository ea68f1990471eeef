#!/usr/bin/python3
"""Ratio of two groups' onsets with its limits, by brute force; shared shapes too.

Groups: set_boards.csv and set_as-made.csv beside this file (invented data) as two woods;
writes set_two-woods.csv and onset_ratio.json. Run with numpy 1.24 and scipy 1.10, after
averaged_onset.py, whose dense fits it uses: python3 onset_ratio.py

SS(rho) = min over t of SS_a(rho t) + SS_b(t), looked for on a grid of t and by bounded
minimisation round the best place; limits by Brent's root finder on the averaged tail area.
"""
import csv
import json
import math
import os

import numpy as np
from scipy import optimize, stats

import averaged_onset
from averaged_onset import HERE, Curve

averaged_onset.GRID = 150  # smooth curves: its default of 500 gives the same digits

GROUPS = [("beech", "boards"), ("larch", "as-made")]
CASES = [[("linear-plateau", True)],
         [("saturating-exponential", True), ("saturating-hyperbola", False)]]


def read(name):
    with open(os.path.join(HERE, "set_%s.csv" % name)) as f:
        return [(float(r["strength"]), float(r["applied"]), float(r["planned"]), r["board"])
                for r in csv.DictReader(f)]


class Group:
    def __init__(self, rows, curve, log):
        planned = sorted(set(r[2] for r in rows))
        self.levels = [float(np.mean([r[1] for r in rows if r[2] == p])) for p in planned]
        self.c = Curve(curve, log, [r[1] for r in rows], [r[0] for r in rows],
                       [[r[3] for r in rows]], self.levels[0], self.levels[-1], 0.95)
        self.onset = self.c.x1 * math.exp(self.c.onset) if log else self.c.onset
        a, b = self.levels[0], self.levels[-1]
        self.low = a + 1e-6 * (self.levels[1] - a)
        self.high = b - 1e-6 * (b - self.levels[-2])
        self.cache = {}

    def more(self, x):
        x = min(max(x, self.low), self.high)
        if x not in self.cache:
            self.cache[x] = max(0.0, self.c.held(float(self.c.scale(np.array(x))), False)
                                - self.c.ss)
        return self.cache[x]


def pair(a, b):
    n, K = len(a.c.y) + len(b.c.y), a.c.K + b.c.K + 1
    ss = a.c.ss + b.c.ss
    aicc = n * (math.log(2 * math.pi) + 1 + math.log(ss / n)) + 2 * K + 2 * K * (K + 1) / (n - K - 1)
    return {"a": a, "b": b, "df": a.c.df + b.c.df, "s2": ss / (a.c.df + b.c.df), "aicc": aicc,
            "ratio": a.onset / b.onset, "ss": ss}


def least(p, rho):
    a, b = p["a"], p["b"]
    f = lambda z: a.more(rho * math.exp(z)) + b.more(math.exp(z))
    zs = np.linspace(math.log(b.onset) - 0.9, math.log(b.onset) + 0.9, 19)
    v = [f(z) for z in zs]
    i = int(np.argmin(v))
    r = optimize.minimize_scalar(f, bounds=(zs[max(i - 1, 0)], zs[min(i + 1, len(zs) - 1)]),
                                 method="bounded", options={"xatol": 1e-7})
    return min(float(r.fun), v[i])


def tail(pairs, w, rho):
    return sum(wi * stats.t.cdf(math.copysign(math.sqrt(least(p, rho) / p["s2"]),
                                              math.log(p["ratio"] / rho)), p["df"])
               for wi, p in zip(w, pairs))


def limit(pairs, w, want, low, high):
    g = lambda z: tail(pairs, w, math.exp(z)) - want
    return math.exp(optimize.brentq(g, low, high, xtol=1e-7, rtol=1e-9))


def shared(groups, curve, log):
    """One shape number, everything else by group, in dense least squares; x1 of all."""
    x1 = min(g.c.x1 for g in groups)
    u = [np.log(np.array(g.x) / x1) if log else np.array(g.x) for g in groups]

    def ss(s, full=False):
        total, cols = 0.0, []
        for g, v in zip(groups, u):
            if curve == "linear-plateau":
                h = np.minimum(v / s, 1)
            elif curve == "saturating-exponential":
                h = -np.expm1(-s * v)
            else:
                h = v / (s + v)
            X = np.column_stack([1 - h, h, g.c.Z])
            beta, *_ = np.linalg.lstsq(X, g.c.y, rcond=1e-14)
            total += float(np.sum((g.c.y - X @ beta) ** 2))
            cols += [float(beta[0]), float(beta[1])]
        return (total, cols) if full else total

    grid = np.geomspace(0.02, 20, 2000)
    v = [ss(s) for s in grid]
    i = int(np.argmin(v))
    r = optimize.minimize_scalar(ss, bounds=(grid[i - 1], grid[i + 1]), method="bounded",
                                 options={"xatol": 1e-12})
    total, cols = ss(float(r.x), True)
    return {"ss": total, "parameters": cols + [x1 * math.exp(float(r.x))
                                               if log and curve == "linear-plateau" else float(r.x)]}


def main():
    data = [read(name) for _, name in GROUPS]
    with open(os.path.join(HERE, "set_two-woods.csv"), "w", newline="") as f:
        out = csv.writer(f, lineterminator="\n")
        out.writerow(["strength", "applied", "planned", "board", "wood"])
        for (wood, _), rows in zip(GROUPS, data):
            out.writerows((r[0], r[1], r[2], wood[0] + r[3][1:], wood) for r in rows)
    answers = []
    for case in CASES:
        pairs, shapes = [], []
        for curve, log in case:
            b, a = (Group(rows, curve, log) for rows in data)  # larch over beech
            a.x, b.x = [r[1] for r in data[1]], [r[1] for r in data[0]]
            pairs.append(pair(a, b))
            shapes.append(dict(shared([b, a], curve, log), curve=curve, log_x=log))
        best = min(p["aicc"] for p in pairs)
        w = np.array([math.exp(-0.5 * (p["aicc"] - best)) for p in pairs])
        w /= w.sum()
        mid = math.log(sum(wi * p["ratio"] for wi, p in zip(w, pairs)))
        zs = [mid + d for d in np.linspace(-0.9, 0.9, 10)]
        A = [tail(pairs, w, math.exp(z)) for z in zs]
        found = {}
        for key, want in (("low", 0.975), ("at", 0.5), ("high", 0.025)):
            i = [k for k in range(len(zs) - 1) if (A[k] >= want) != (A[k + 1] >= want)]
            k = None if not i else i[0] if key == "low" else i[-1] if key == "high" else i[len(i) // 2]
            found[key] = None if k is None else limit(pairs, w, want, zs[k], zs[k + 1])
        answers.append({"curves": [{"curve": n, "log_x": log} for n, log in case],
                        "ratio": found, "shared": shapes})
        print(case, found, shapes, flush=True)
    with open(os.path.join(HERE, "onset_ratio.json"), "w") as f:
        json.dump({"source": "onset_ratio.py beside this file; invented data",
                   "computed_with": "numpy %s, scipy %s" % (np.__version__,
                                                            __import__("scipy").__version__),
                   "cases": answers}, f, indent=1)
        f.write("\n")


if __name__ == "__main__":
    main()
