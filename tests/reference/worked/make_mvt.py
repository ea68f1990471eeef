#!/usr/bin/env python3
"""Makes mvt.csv: upper points of multivariate t for contrasts of independent means.

Needs numpy and scipy; about two minutes. Three ways, none of them the C code's:

  product  many against one (unequal sizes), or independent contrasts: given chi and
           one normal the rest are independent; Gauss-Legendre over the normal,
           trapezoid rule over log chi. Good to about 1e-9.
  sphere   rises between levels, K = 4: P(max T <= d) = mean over directions u on
           the sphere of F(d^2 / (3 M(u)^2)), M(u) = max a_i.u, F central F(3, df);
           equal-area grid of 6000 x 12000, good to about 1e-6.
  draws    the same, K = 8, 4e7 random directions; column se is its standard error.
"""
import math
import numpy as np
from scipy import optimize, stats

rows = []


def chi_nodes(df):
    v = np.linspace(min(-6 / math.sqrt(df) - 0.6, -45 / df), 4 / math.sqrt(df) + 0.3, 4001)
    s = np.exp(v)
    g = np.exp(df * v - df * s * s / 2)
    return s, g / g.sum()


def product(name, sides, df, alpha, weights):
    """Level 0 against 1..m; weights are the variances of the means over sigma^2."""
    x, wx = np.polynomial.legendre.leggauss(300)
    z, wz = 9 * x, 9 * wx * stats.norm.pdf(9 * x)
    s, g = chi_nodes(df)

    def cdf(d):
        P = np.ones((len(z), len(s)))
        for w in weights[1:]:
            scale = d * s * math.sqrt(weights[0] + w) / math.sqrt(w)
            shift = z[:, None] * math.sqrt(weights[0] / w)
            P *= stats.norm.cdf(shift + scale) - (stats.norm.cdf(shift - scale) if sides == 2 else 0)
        return float((wz[:, None] * P).sum(0) @ g)

    d = optimize.brentq(lambda t: cdf(t) - 1 + alpha, 1, 12, xtol=1e-12)
    rows.append((name, sides, len(weights), df, alpha, " ".join(map(repr, weights)), "%.10f" % d, 0))


def independent(name, sides, df, alpha, m):
    s, g = chi_nodes(df)

    def cdf(d):
        one = stats.norm.cdf(d * s) - (stats.norm.cdf(-d * s) if sides == 2 else 0)
        return float(one ** m @ g)

    d = optimize.brentq(lambda t: cdf(t) - 1 + alpha, 0.5, 12, xtol=1e-12)
    rows.append((name, sides, m, df, alpha, " ".join(["1.0"] * m), "%.10f" % d, 0))


def rises(weights):
    """Mean of levels i+1..j less mean of levels 1..i, all i < j, as unit vectors."""
    K, a = len(weights), []
    for i in range(1, K):
        for j in range(i + 1, K + 1):
            c = np.zeros(K)
            c[:i], c[i:j] = -1 / i, 1 / (j - i)
            a.append(c * np.sqrt(weights))
    a = np.array(a)
    a /= np.linalg.norm(a, axis=1)[:, None]
    # coordinates in the K - 1 dimensions across sqrt(1/w)
    q, _ = np.linalg.qr(np.column_stack([1 / np.sqrt(np.array(weights)), np.eye(K)[:, : K - 1]]))
    return a @ q[:, 1:]


def directions_sphere():
    n, m = 6000, 12000
    phi = (np.arange(m) + 0.5) * 2 * math.pi / m
    for h in (np.arange(n) + 0.5) * 2 / n - 1:
        r = math.sqrt(1 - h * h)
        yield np.vstack([r * np.cos(phi), r * np.sin(phi), np.full(m, h)])


def directions_drawn(p):
    rng = np.random.default_rng(20260704)
    for _ in range(400):
        u = rng.standard_normal((p, 100000))
        yield u / np.linalg.norm(u, axis=0)


def by_directions(name, weights, df, alpha, source, drawn):
    a, p = rises(weights), len(weights) - 1
    edges = np.linspace(0, 1, 200001)
    counts, total = np.zeros(200000), 0
    for u in source:
        counts += np.histogram((a @ u).max(0), edges)[0]  # below 0: the tail is 0 there
        total += u.shape[1]
    mid = (edges[1:] + edges[:-1]) / 2

    def tail(d):
        return stats.f.sf((d / mid) ** 2 / p, p, df)

    d = optimize.brentq(lambda t: counts @ tail(t) / total - alpha, 1, 8, xtol=1e-10)
    t = tail(d)
    sd = math.sqrt(counts @ t ** 2 / total - alpha ** 2)
    slope = (counts @ (tail(d + 1e-4) - tail(d - 1e-4))) / total / 2e-4
    se = sd / math.sqrt(total) / -slope if drawn else 0
    rows.append((name, 1, len(weights), df, alpha, " ".join(map(repr, weights)), "%.10f" % d, "%.1e" % se))


product("control", 1, 14, 0.05, [0.1, 0.25, 0.5, 0.2])
product("control", 2, 14, 0.05, [0.1, 0.25, 0.5, 0.2])
product("control", 2, 9, 0.01, [0.5, 0.3, 0.3, 0.1, 0.25, 0.2])
independent("independent", 1, 7, 0.025, 2)
independent("independent", 2, 7, 0.05, 2)
independent("independent", 2, 31, 0.05, 5)
by_directions("rises", [0.25] * 4, 12, 0.025, directions_sphere(), False)
by_directions("rises", [0.5, 0.2, 0.25, 1.0], 8, 0.025, directions_sphere(), False)
by_directions("rises", [1 / 3] * 8, 16, 0.025, directions_drawn(7), True)
with open("mvt.csv", "w") as f:
    f.write("# Points d with P(max T <= d) = 1 - alpha, or max |T| with sides 2; made by make_mvt.py\n"
            "# beside this file. weights: variance of each mean over sigma^2.\n"
            "family,sides,levels,df,alpha,weights,point,se\n")
    for r in rows:
        f.write(",".join(map(str, r)) + "\n")
