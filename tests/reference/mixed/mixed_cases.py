"""Mixed models by restricted likelihood on small invented sets, dense and in 40 digits.

Independent of the program: V is written out and inverted, the likelihood is maximised by scoring
with the expected information, Kenward & Roger's (1997) adjusted covariance, F and degrees of
freedom follow their paper literally. Writes mixed_CASE.csv and mixed_cases.json beside itself.
Run: python3 mixed_cases.py
"""
import json, random
from mpmath import mp, mpf, matrix, log, sqrt, pi, det, lu_solve, eye, nstr

mp.dps = 40


def fit(X, y, groups):
    n, p = len(y), len(X[0])
    X, Y = matrix(X), matrix(y)
    G = []
    for g in groups:
        M = matrix(n, n)
        for i in range(n):
            for j in range(n):
                M[i, j] = mpf(int(g[i] == g[j]))
        G.append(M)
    G.append(eye(n))
    q = len(G)
    tr = lambda A: sum(A[i, i] for i in range(A.rows))
    trp = lambda A, B: sum(A[i, j] * B[j, i] for i in range(A.rows) for j in range(A.cols))

    def parts(th):
        V = matrix(n, n)
        for k in range(q):
            V += th[k] * G[k]
        Vi = V ** -1
        XtVi = X.T * Vi
        C = (XtVi * X) ** -1
        return V, Vi, C, Vi - XtVi.T * C * XtVi, C * (XtVi * Y)

    m = sum(y) / n
    v0 = sum((v - m) ** 2 for v in y) / n
    th, held = [v0 / q] * q, [False] * q
    for it in range(300):
        V, Vi, C, P, b = parts(th)
        PY = P * Y
        PG = [P * g for g in G]
        sc = [-(tr(PG[k]) - (PY.T * G[k] * PY)[0]) / 2 for k in range(q)]
        I = matrix(q, q)
        for k in range(q):
            for l in range(q):
                I[k, l] = trp(PG[k], PG[l]) / 2
        free = [k for k in range(q) if not held[k]]
        A = matrix(len(free), len(free))
        for i, k in enumerate(free):
            for j, l in enumerate(free):
                A[i, j] = I[k, l]
        st = lu_solve(A, matrix([sc[k] for k in free]))
        for i, k in enumerate(free):
            new = th[k] + st[i]
            if new <= 0 and k < q - 1:
                if th[k] < mpf(10) ** -6 * v0:
                    th[k], held[k] = mpf(0), True
                else:
                    th[k] = th[k] / 100
            else:
                th[k] = new
        if max(abs(st[i]) for i in range(len(free))) < mpf(10) ** -30 * v0:
            break
    else:
        raise RuntimeError('did not converge')
    V, Vi, C, P, b = parts(th)
    for k in range(q):
        if held[k]:
            assert -(tr(P * G[k]) - ((P * Y).T * G[k] * (P * Y))[0]) < 0
    PG = [P * g for g in G]
    I = matrix(q, q)
    for k in range(q):
        for l in range(q):
            I[k, l] = trp(PG[k], PG[l]) / 2
    W = I ** -1
    ll = -((n - p) * log(2 * pi) + log(det(V)) - log(det(C)) - log(det(X.T * X)) + (Y.T * P * Y)[0]) / 2
    ViX = Vi * X
    Pk = [-(ViX.T * g * ViX) for g in G]
    S = matrix(p, p)
    for i in range(q):
        for j in range(q):
            S += W[i, j] * (ViX.T * G[i] * Vi * G[j] * ViX - Pk[i] * C * Pk[j])
    adj = C + 2 * C * S * C
    return dict(th=th, b=b, C=C, adj=adj, W=W, Pk=Pk, ll=ll, q=q)


def kr(f, L):
    """L: rows of a hypothesis L b = 0."""
    L = matrix(L)
    l, C, q = L.rows, f['C'], f['q']
    Th = L.T * (L * C * L.T) ** -1 * L
    T = [Th * C * f['Pk'][i] * C for i in range(q)]
    tr = lambda A: sum(A[i, i] for i in range(A.rows))
    A1 = sum(f['W'][i, j] * tr(T[i]) * tr(T[j]) for i in range(q) for j in range(q))
    A2 = sum(f['W'][i, j] * tr(T[i] * T[j]) for i in range(q) for j in range(q))
    d = L * f['b']
    wald = (d.T * (L * f['adj'] * L.T) ** -1 * d)[0] / l
    if l == 1:
        return dict(f=wald, df2=2 / A2, scale=mpf(1))
    B = (A1 + 6 * A2) / (2 * l)
    g = ((l + 1) * A1 - (l + 4) * A2) / ((l + 2) * A2)
    u = 3 * l + 2 * (1 - g)
    c1, c2, c3 = g / u, (l - g) / u, (l + 2 - g) / u
    E = 1 / (1 - A2 / l)
    Vs = mpf(2) / l * (1 + c1 * B) / ((1 - c2 * B) ** 2 * (1 - c3 * B))
    rho = Vs / (2 * E * E)
    m = 4 + mpf(l + 2) / (l * rho - 1)
    lam = m / (E * (m - 2))
    return dict(f=lam * wald, df2=m, scale=lam)


def s(v):
    return nstr(v, 17)


def zero_sum(col, levels):
    return [[mpf(-1)] * (len(levels) - 1) if v == levels[-1] else
            [mpf(int(v == l)) for l in levels[:-1]] for v in col]


def case(name, rows, effects, randoms):
    """rows: dicts; effects: {factor: levels}; randoms: {name: columns whose pairs name it}."""
    y = [mpf(r['strength']) for r in rows]
    X = [[mpf(1)] for _ in rows]
    at = {}
    for e, levels in effects.items():
        at[e] = (len(X[0]), len(levels) - 1)
        for x, c in zip(X, zero_sum([r[e] for r in rows], levels)):
            x.extend(c)
    f = fit(X, y, [[tuple(r[c] for c in cols) for r in rows] for cols in randoms.values()])
    with open('mixed_%s.csv' % name, 'w') as o:
        o.write(','.join(rows[0]) + '\n')
        for r in rows:
            o.write(','.join(str(v) for v in r.values()) + '\n')
    p = len(X[0])
    out = {'variance': {k: s(v) for k, v in zip(list(randoms) + ['residual'], f['th'])},
           'log_likelihood': s(f['ll']), 'terms': {}, 'coefficients': {}}
    unit = lambda j: [mpf(int(i == j)) for i in range(p)]

    def coef(h):
        t = kr(f, [h])
        H = matrix([h])
        return {'estimate': s((H * f['b'])[0]), 'se': s(sqrt((H * f['adj'] * H.T)[0])),
                'plain_se': s(sqrt((H * f['C'] * H.T)[0])), 'df': s(t['df2'])}
    out['coefficients']['intercept'] = coef(unit(0))
    for e, levels in effects.items():
        a, k = at[e]
        t = kr(f, [unit(a + i) for i in range(k)])
        out['terms'][e] = {'f': s(t['f']), 'df1': k, 'df2': s(t['df2']), 'scale': s(t['scale'])}
        for i, l in enumerate(levels):
            h = unit(a + i) if i < k else [mpf(-int(a <= j < a + k)) for j in range(p)]
            out['coefficients']['%s=%s' % (e, l)] = coef(h)
    h = unit(0)
    a, k = at[list(effects)[0]]
    h[a] = mpf(1)
    out['first_mean'] = coef(h)
    return out


def main():
    rnd = random.Random(20270304)
    out = {'how': 'mixed_cases.py: dense, 40 digits', 'cases': {}}
    pressures = ['0.2', '0.5', '1.0', '1.6']

    # Boards of uneven size, two or three per wood, pressures spread unevenly over them.
    rows = []
    for i, (wood, size) in enumerate([('beech', 3), ('beech', 5), ('beech', 2), ('larch', 4),
                                      ('larch', 4), ('larch', 1), ('larch', 6)]):
        u = rnd.gauss(0, 1.2)
        for k in range(size):
            pr = pressures[(i + k * (1 + i % 2)) % 4]
            rows.append({'board': 'B%d' % (i + 1), 'wood': wood, 'pressure': pr, 'strength':
                         '%.2f' % (9 + (wood == 'beech') + pressures.index(pr) * .8 + u + rnd.gauss(0, .7))})
    out['cases']['boards'] = case('boards', rows, {'pressure': pressures, 'wood': ['beech', 'larch']},
                                  {'board': ['board']})

    # Boards that lie inside sessions, numbered afresh in each.
    rows = []
    for i in range(6):
        us = rnd.gauss(0, .9)
        for b in range(2 + i % 2):
            ub = rnd.gauss(0, .8)
            for k in range(3 - (i + b) % 2):
                pr = pressures[(i + 2 * b + k) % 4]
                rows.append({'session': 'S%d' % (i + 1), 'board': b + 1, 'pressure': pr, 'strength':
                             '%.2f' % (8 + pressures.index(pr) * .5 + us + ub + rnd.gauss(0, .6))})
    out['cases']['nested'] = case('nested', rows, {'pressure': pressures},
                                  {'session': ['session'], 'board': ['session', 'board']})

    # Boards and sessions that cross, some meetings missing.
    rows = []
    ub = [rnd.gauss(0, 1) for _ in range(6)]
    us = [rnd.gauss(0, .7) for _ in range(5)]
    for i in range(6):
        for j in range(5):
            if (2 * i + j) % 5 == 3:
                continue
            pr = pressures[(i + j) % 4]
            rows.append({'board': 'B%d' % (i + 1), 'session': 'S%d' % (j + 1), 'pressure': pr, 'strength':
                         '%.2f' % (8 + pressures.index(pr) * .4 + ub[i] + us[j] + rnd.gauss(0, .5))})
    out['cases']['crossed'] = case('crossed', rows, {'pressure': pressures},
                                   {'board': ['board'], 'session': ['session']})

    # Boards that differ less than chance alone would make them.
    rows = []
    pattern = [1, -1, .6, -.6]
    for i in range(5):
        for k in range(4 - i % 2):
            pr = pressures[(i + k) % 4]
            rows.append({'board': 'B%d' % (i + 1), 'pressure': pr, 'strength': '%.2f' %
                         (8 + pressures.index(pr) * .4 + pattern[k] + rnd.gauss(0, .15) - (.2 if i % 2 else 0))})
    out['cases']['zero'] = case('zero', rows, {'pressure': pressures}, {'board': ['board']})
    json.dump(out, open('mixed_cases.json', 'w'), indent=1)


main()
