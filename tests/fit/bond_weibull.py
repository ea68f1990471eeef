# The Weibull figure of tests/fit/test_bond.c to 30 digits: the rows of bond.R, log-likelihood by its
# definition, top by Newton's steps with numerical derivatives at 60 digits. python3 with mpmath.
import mpmath as mp
mp.mp.dps = 60
rows = """beech,low,B1,5.1,5.1,0
beech,low,B2,4.6,4.6,0.1
beech,low,B1,5.9,5.9,0.2
beech,low,B2,5.0,5.0,0
beech,mid,B1,7.4,7.4,0.3
beech,mid,B2,6.9,7.1,0.6
beech,mid,B1,8.2,8.2,0.9
beech,mid,B2,7.7,7.7,0.5
beech,high,B1,9.6,9.6,1
beech,high,B2,8.1,8.1,0.4
beech,high,B1,8.9,8.9,0.8
beech,high,B2,8.8,,
larch,low,B3,4.0,4.0,0
larch,low,B4,4.4,4.4,0.1
larch,low,B3,,0.5,
larch,low,B4,4.9,4.9,0.2
larch,mid,B3,5.9,5.9,0.3
larch,mid,B4,6.0,6.2,0.2
larch,mid,B3,6.3,6.3,0.9
larch,mid,B4,5.4,5.4,0.1
larch,high,B3,6.2,6.2,0.8
larch,high,B4,6.6,6.6,0.9
larch,high,B3,6.0,6.0,0.2
larch,high,B4,6.5,6.5,1""".split()
cells = [(s, p) for s in ("beech", "larch") for p in ("low", "mid", "high")]
data = []
for r in rows:
    s, p, b, lo, hi, w = r.split(",")
    x = [mp.mpf((s, p) == c) for c in cells] + [mp.mpf(b == "B1") - (b == "B2"), mp.mpf(b == "B3") - (b == "B4")]
    if w and mp.mpf(w) >= 0.75:
        hi = ""
    data.append((x, mp.mpf(lo) if lo else None, mp.mpf(hi) if hi else None))

def loglik(*v):
    d, t = v[:8], v[8] # beta/sigma and 1/sigma
    total = mp.mpf(0)
    for x, lo, hi in data:
        e = sum(a * b for a, b in zip(x, d))
        z = lambda y: mp.exp(t * mp.log(y) - e)
        if lo is not None and lo == hi:
            total += mp.log(t) - mp.log(lo) + mp.log(z(lo)) - z(lo)
        elif hi is None:
            total -= z(lo)
        elif lo is None:
            total += mp.log(-mp.expm1(-z(hi)))
        else:
            total += mp.log(mp.exp(-z(lo)) - mp.exp(-z(hi)))
    return total

n = 9
v = [mp.mpf(9) * mp.log(y) for y in (5, 7.6, 9, 4, 6, 7)] + [mp.mpf(0)] * 2 + [mp.mpf(9)]
h = mp.mpf(10) ** -15
def at(*steps):
    u = list(v)
    for k, s in steps:
        u[k] += s
    return loglik(*u)
for turn in range(40):
    g = mp.matrix([(at((i, h)) - at((i, -h))) / (2 * h) for i in range(n)])
    H = mp.matrix(n, n)
    for i in range(n):
        for j in range(i + 1):
            H[i, j] = H[j, i] = (at((i, h), (j, h)) - at((i, h), (j, -h)) - at((i, -h), (j, h)) + at((i, -h), (j, -h))) / (4 * h * h)
    s, part, here = mp.lu_solve(H, -g), mp.mpf(1), loglik(*v)
    while v[8] + part * s[8] <= 0 or loglik(*[a + part * b for a, b in zip(v, s)]) < here - mp.mpf(10) ** -40:
        part /= 2
    v = [a + part * b for a, b in zip(v, s)]
    if max(abs(b) for b in s) < mp.mpf(10) ** -22:
        break
print(mp.nstr(mp.exp((v[1] + mp.log(mp.log(2))) / v[8]), 20), mp.nstr(loglik(*v), 20))
