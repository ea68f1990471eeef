#!/usr/bin/python3
"""Model-averaged onset intervals by brute force, from the definitions alone.

Writes set_*.csv (invented data, seeded) and averaged_onset.json beside itself.
Run with numpy 1.24 and scipy 1.10: python3 averaged_onset.py

Nothing here is shared with core/fit: each fit is a dense least squares with
block indicators as columns, the shape number is looked for on a fine grid and
then by bounded scalar minimisation around the five best places, every curve
(linear-plateau too) by the same search, and A(t) is solved by bisection after
a scan. Curves: floor + (top - floor) g(u).
"""
import csv
import json
import math
import os

import numpy as np
from scipy import optimize, stats

HERE = os.path.dirname(os.path.abspath(__file__))
GRID = 500


def g_of(name, u, s):
    if name == "line":
        return u
    if name == "linear-plateau":
        return np.minimum(u / s, 1)
    if name == "quadratic-plateau":
        return 1 - np.clip(1 - u / s, 0, None) ** 2
    if name == "saturating-exponential":
        return -np.expm1(-s * u)
    return u / (s + u)


class Curve:
    """One curve on one scale; the mean is A + D h(u), h = g less its value at the lowest u."""

    def __init__(self, name, log, x, y, blocks, low, high, share, floor=None):
        self.name, self.log, self.share = name, log, share
        self.x1 = min(v for v in x if v > 0)
        self.y = np.array(y)
        self.u = self.scale(np.array(x))
        self.low, self.high = self.scale(low), self.scale(high)
        self.floor = floor if name != "line" else None
        self.base = self.u.min() if self.floor is None else 0.0
        n = len(y)
        cols = []
        for codes in blocks:
            levels = sorted(set(codes))
            for b in levels[:-1]:
                cols.append([(c == b) - (c == levels[-1]) for c in codes])
        self.Z = np.array(cols, float).T if cols else np.zeros((n, 0))
        self.nshape = 0 if name == "line" else 1
        self.K = (2 if self.floor is None else 1) + self.nshape + self.Z.shape[1]
        self.df = n - self.K
        self.shapes = self.grid()
        self.fit()

    def scale(self, x):
        return np.log(x / self.x1) if self.log else x * 1.0

    def grid(self):
        d = np.unique(self.u)
        width, first = d[-1] - self.base, d[d > self.base][0] - self.base
        if self.name == "line":
            return np.array([1.0])
        if self.name == "saturating-exponential":
            return np.concatenate([np.geomspace(1e-12, 1e-4, 9) / width, np.exp(
                np.linspace(math.log(1e-3 / width), math.log(1e5 / first), GRID))])
        if self.name == "saturating-hyperbola":
            unit = self.base if self.base > 0 else first
            return np.concatenate([np.exp(
                np.linspace(math.log(1e-7 * unit), math.log(1e3 * width), GRID)),
                np.geomspace(1e4, 1e12, 9) * width])
        knees = np.concatenate([first * np.exp(np.linspace(math.log(1e-6), 0, 80, False)),
                                np.linspace(first, width, GRID)])
        if self.name == "quadratic-plateau":
            knees = np.concatenate([knees, width * np.exp(np.linspace(1e-3, math.log(1e3), 200)),
                                    np.geomspace(1e4, 1e12, 9) * width])
        return self.base + knees

    def h(self, u, s):
        u, b, c = np.asarray(u, float), self.base, self.u.max()
        # (g(u) - g(b)) / (g(c) - g(b)), worked out so that nothing cancels near a line
        if self.name == "saturating-exponential":
            return np.expm1(-s * (u - b)) / math.expm1(-s * (c - b))
        if self.name == "saturating-hyperbola":
            return (u - b) / (c - b) * (s + c) / (s + u)
        if self.name == "quadratic-plateau":
            e, f = np.minimum(u, s), min(c, s)
            return (e - b) * (2 * s - e - b) / ((f - b) * (2 * s - f - b))
        a = g_of(self.name, u, s)
        return (a - g_of(self.name, np.array(b), s)) / (
            g_of(self.name, np.array(c), s) - g_of(self.name, np.array(b), s))

    def ss_columns(self, cols, target):
        X = np.column_stack([self.Z] + cols)
        beta, *_ = np.linalg.lstsq(X, target, rcond=1e-14)
        r = target - X @ beta
        return float(r @ r), beta[self.Z.shape[1]:]

    def ss_free(self, s):
        h = self.h(self.u, s)
        if self.floor is None:
            return self.ss_columns([np.ones_like(h), h], self.y)[0]
        return self.ss_columns([h], self.y - self.floor)[0]

    def search(self, f, shapes=None):
        shapes = self.shapes if shapes is None else shapes
        values = np.array([f(s) for s in shapes])
        best = values.min()
        if self.nshape == 0:
            return best, shapes[0]
        at = shapes[int(values.argmin())]
        for i in np.argsort(values)[:5]:
            if not np.isfinite(values[i]):
                continue
            a, b = shapes[max(i - 1, 0)], shapes[min(i + 1, len(shapes) - 1)]
            r = optimize.minimize_scalar(f, bounds=(a, b), method="bounded",
                                         options={"xatol": 1e-12 * (b - a) + 1e-300})
            if r.fun < best:
                best, at = float(r.fun), float(r.x)
        return float(best), float(at)

    def fit(self):
        self.ss, self.s = self.search(self.ss_free)
        n = len(self.y)
        K = self.K + 1
        self.aicc = (n * (math.log(2 * math.pi) + 1 + math.log(self.ss / n)) + 2 * K
                     + 2 * K * (K + 1) / (n - K - 1))
        h = self.h(self.u, self.s)
        if self.floor is None:
            A, D = self.ss_columns([np.ones_like(h), h], self.y)[1]
        else:
            A, D = self.floor, self.ss_columns([h], self.y - self.floor)[1][0]
        m = lambda u: A + D * float(self.h(u, self.s))
        lo, hi = m(self.low), m(self.high)
        want = self.share * max(lo, hi)
        self.onset, self.end = self.low, self.high
        if min(lo, hi) < want:
            root = optimize.brentq(lambda u: m(u) - want, self.low, self.high, xtol=1e-14)
            if hi > lo:
                self.onset = root
            else:
                self.end = root

    def held(self, t, end):
        """Least SS with the onset (or end) at u = t."""
        def f(s):
            h = self.h(self.u, s)
            ht, hL, hH = (float(self.h(v, s)) for v in (t, self.low, self.high))
            k = 1 - self.share
            ref = hL if end else hH
            if self.floor is None:
                # A k + D (ht - share ref) = 0: one direction v = b1 + b2 h
                b1, b2 = -(ht - self.share * ref), k
                if end:
                    b1, b2 = -b1, -b2
                v = b1 + b2 * h
                ss, beta = self.ss_columns([v], self.y)
                if beta[0] <= 0:  # a largest mean above zero
                    ss = self.ss_columns([], self.y)[0] if self.Z.shape[1] else float(
                        self.y @ self.y)
                return ss
            bottom = ht - self.share * ref
            D = -k * self.floor / bottom if bottom != 0 else np.inf
            if not np.isfinite(D) or self.floor + D * ref <= 0 or (D >= 0) == bool(end):
                return np.inf
            r = self.y - self.floor - D * h
            return self.ss_columns([], r)[0] if self.Z.shape[1] else float(r @ r)

        if self.floor == 0:  # the shape follows from h(t) = share h(high), the rest is linear
            if end:
                return np.inf
            e = lambda s: float(self.h(t, s)) - self.share * float(self.h(self.high, s))
            a, b = self.shapes[0], self.shapes[-1]
            if e(a) * e(b) > 0:
                return np.inf
            return self.ss_free(optimize.brentq(e, a, b, xtol=1e-15, rtol=1e-15))
        if self.floor is not None and not end:
            # sharp in s when the floor is small: a grid that thickens where D runs away
            e = lambda s: float(self.h(t, s)) - self.share * float(self.h(self.high, s))
            a, b = self.shapes[0], self.shapes[-1]
            shapes = self.shapes
            if e(a) * e(b) < 0:
                root = optimize.brentq(e, a, b, xtol=1e-15, rtol=1e-15)
                near = root * np.exp(np.concatenate([-np.geomspace(1e-9, 3, 1500)[::-1],
                                                     np.geomspace(1e-9, 3, 1500)]))
                near = near[(near > self.base) & (near >= a) & (near <= b)]
                shapes = np.unique(np.concatenate([shapes, near]))
            return self.search(f, shapes)[0]
        shapes = self.shapes
        if self.name.endswith("plateau"):  # knees at or before t hold no mean above zero
            shapes = np.unique(np.concatenate([
                shapes[shapes > t], t + (self.u.max() - t) * np.geomspace(1e-6, 1, 300)]))
        return self.search(f, shapes)[0]

    def r(self, x, end):
        t = float(self.scale(np.array(x)))
        place = self.end if end else self.onset
        more = max(0.0, self.held(t, end) - self.ss)
        return math.copysign(math.sqrt(more / (self.ss / self.df)), place - t)


def averaged(curves, levels, end):
    best = min(c.aicc for c in curves)
    w = np.array([math.exp(-0.5 * (c.aicc - best)) for c in curves])
    w /= w.sum()

    def A(x):
        return sum(wi * stats.t.cdf(c.r(x, end), c.df) for wi, c in zip(w, curves) if wi > 1e-9)

    xs = []
    for a, b in zip(levels, levels[1:]):
        xs += list(a + (b - a) * np.arange(12) / 12)
    xs[0] = levels[0] + 1e-6 * (levels[1] - levels[0])
    xs.append(levels[-1] - 1e-6 * (levels[-1] - levels[-2]))
    values = [A(x) for x in xs]

    def solve(i, want):
        a, b, fa = xs[i], xs[i + 1], values[i] - want
        for _ in range(34):
            m = 0.5 * (a + b)
            if (A(m) - want > 0) == (fa > 0):
                a = m
            else:
                b = m
        return 0.5 * (a + b)

    def at(want):
        return [i for i in range(len(xs) - 1) if (values[i] >= want) != (values[i + 1] >= want)]

    lows, points, highs = at(0.975), at(0.5), at(0.025)
    out = {}
    out["low"] = solve(lows[0], 0.975) if values[0] >= 0.975 and lows else (
        None if values[0] < 0.975 else levels[-1])
    out["high"] = solve(highs[-1], 0.025) if values[-1] <= 0.025 and highs else (
        None if values[-1] > 0.025 else levels[0])
    out["at"] = solve(points[len(points) // 2], 0.5) if points else (
        levels[-1] if values[0] >= 0.5 else levels[0])
    return out, w


DEFAULT = [("line", False), ("line", True), ("linear-plateau", False), ("linear-plateau", True),
           ("saturating-exponential", False), ("saturating-exponential", True),
           ("saturating-hyperbola", False), ("quadratic-plateau", False)]


def rows(levels, per, mean, sd, seed, jitter=0.0, boards=0, board_sd=0.0, drop=()):
    rng = np.random.default_rng(seed)
    effect = rng.normal(0, board_sd, max(boards, 1))
    out = []
    for k in range(per):
        for i, x in enumerate(levels):
            b = (k + (i if boards and boards < per else 0)) % boards if boards else 0
            at = round(x * (1 + jitter * rng.normal()), 4) if jitter else x
            y = mean(at) + (effect[b] if boards else 0) + rng.normal(0, sd)
            if (k, i) not in drop:
                out.append((round(float(y), 3), at, x, "b%d" % (b + 1)))
    return out


CASES = [
    {"name": "boards", "share": 0.95, "blocks": True, "curves": DEFAULT, "floor": None,
     "rows": rows([0.2, 0.35, 0.55, 0.8, 1.1, 1.5, 2.0, 2.6], 4,
                  lambda x: 5 + 6 * (1 - math.exp(-2.2 * x)), 0.6, 1, boards=4, board_sd=0.5)},
    {"name": "from-zero", "share": 0.9, "blocks": False, "floor": None,
     "curves": [c for c in DEFAULT if not c[1]],
     "rows": rows([0, 30, 60, 100, 150, 210], 4, lambda x: 3 + 9 * min(x / 90, 1), 0.9, 2)},
    {"name": "as-made", "share": 0.95, "blocks": True, "curves": DEFAULT, "floor": None,
     "rows": rows([0.3, 0.6, 1.0, 1.6, 2.4, 3.4], 5, lambda x: 4 + 8 * x / (0.5 + x), 0.7, 3,
                  jitter=0.04, boards=3, board_sd=0.6, drop=((0, 2), (3, 4), (4, 0)))},
    {"name": "falling", "share": 0.95, "blocks": False, "curves": DEFAULT, "floor": None,
     "rows": rows([0.5, 0.9, 1.4, 2.0, 2.7, 3.5, 4.4], 4, lambda x: 11 - 0.7 * max(0, x - 1), 0.5,
                  4)},
    {"name": "open-top", "share": 0.95, "blocks": False, "curves": DEFAULT, "floor": None,
     "rows": rows([0.4, 0.8, 1.3, 1.9, 2.6], 3, lambda x: 6 + 1.6 * x, 0.9, 5)},
    {"name": "floor-zero", "share": 0.95, "blocks": False, "floor": 0.0,
     "curves": [("saturating-exponential", False), ("saturating-hyperbola", False),
                ("linear-plateau", False), ("quadratic-plateau", False)],
     "rows": rows([0, 0.5, 1, 1.7, 2.6, 3.8], 4, lambda x: 10 * (1 - math.exp(-1.4 * x)), 0.7, 6)},
    {"name": "floor-two", "share": 0.95, "blocks": True, "floor": 2.0,
     "curves": [("saturating-exponential", False), ("linear-plateau", False),
                ("quadratic-plateau", False)],
     "rows": rows([0.3, 0.7, 1.2, 1.9, 2.8, 4.0], 3,
                  lambda x: 2 + 9 * (1 - math.exp(-1.1 * x)), 0.6, 7, boards=3, board_sd=0.4)},
]


def main():
    answers = []
    for case in CASES:
        data = case["rows"]
        with open(os.path.join(HERE, "set_%s.csv" % case["name"]), "w", newline="") as f:
            out = csv.writer(f, lineterminator="\n")
            out.writerow(["strength", "applied", "planned", "board"])
            out.writerows(data)
        y, x = [r[0] for r in data], [r[1] for r in data]
        blocks = [[r[3] for r in data]] if case["blocks"] else []
        planned = sorted(set(r[2] for r in data))
        levels = [float(np.mean([r[1] for r in data if r[2] == p])) for p in planned]
        curves = [Curve(n, log, x, y, blocks, levels[0], levels[-1], case["share"], case["floor"])
                  for n, log in case["curves"]]
        onset, w = averaged(curves, levels, False)
        end, _ = averaged(curves, levels, True)
        answers.append({
            "name": case["name"], "share": case["share"], "blocks": case["blocks"],
            "floor": case["floor"], "onset": onset, "range_end": end,
            "curves": [{"curve": n, "log_x": log, "ss": c.ss, "aicc": c.aicc, "df": c.df,
                        "weight": float(wi)}
                       for (n, log), c, wi in zip(case["curves"], curves, w)]})
        print(case["name"], onset, end, flush=True)
    with open(os.path.join(HERE, "averaged_onset.json"), "w") as f:
        json.dump({"source": "averaged_onset.py beside this file; invented data",
                   "computed_with": "numpy %s, scipy %s" % (np.__version__,
                                                            __import__("scipy").__version__),
                   "cases": answers}, f, indent=1)
        f.write("\n")


if __name__ == "__main__":
    main()
