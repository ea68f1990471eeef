# What NumPy and SciPy make of the certified sets: nist_peers.py FOLDER-OF-SETS OUT, the same files
# as nist_peers.R. lstsq for what is linear, curve_fit (tolerances 1e-15) for curves.
import csv, json, os, sys, warnings

import numpy as np
import scipy
from scipy.optimize import curve_fit
from scipy.stats import f_oneway

sets, out = sys.argv[1:3]
warnings.simplefilter("ignore")


def rows(name):
    with open(os.path.join(sets, name + ".csv")) as f:
        return list(csv.DictReader(f))


def column(name, key):
    return np.array([float(r[key]) for r in rows(name)])


def put(name, e=(), s=(), ss=np.nan, sd=np.nan, f=np.nan):
    def fine(v):
        return float(v) if np.isfinite(v) else None

    with open(os.path.join(out, name + ".json"), "w") as to:
        json.dump({"p": [{"e": fine(a), "s": fine(b)} for a, b in zip(e, s)],
                   "r": {"ss": fine(ss), "sd": fine(sd)}, "f": fine(f)}, to)


for name in ("NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4", "Michelso"):
    y = column(name, "y")
    put(name, [y.mean()], [np.nan], np.nan, y.std(ddof=1))

for name in ("Norris", "Pontius", "Longley", "Wampler1", "Wampler2", "Wampler3"):
    y = column(name, "y")
    if name == "Longley":
        X = np.column_stack([np.ones(len(y))] + [column(name, f"x{k}") for k in range(1, 7)])
    else:
        degree = {"Norris": 1, "Pontius": 2}.get(name, 5)
        X = np.vander(column(name, "x"), degree + 1, increasing=True)
    b = scipy.linalg.lstsq(X, y)[0]
    ss = float(np.sum((y - X @ b) ** 2))
    s2 = ss / (len(y) - X.shape[1])
    inverse = np.linalg.inv(np.linalg.qr(X)[1])
    put(name, b, np.sqrt(s2 * np.sum(inverse**2, axis=1)), ss, np.sqrt(s2))

for name in ("AtmWtAg", "SiRstv", "SmLs01", "SmLs04", "SmLs07"):
    key = next(k for k in rows(name)[0] if k != "y")
    groups = {}
    for r in rows(name):
        groups.setdefault(r[key], []).append(float(r["y"]))
    put(name, f=f_oneway(*groups.values()).statistic)

rise = lambda x, b1, b2: b1 * (1 - np.exp(-b2 * x))
curves = {
    "Misra1a": rise,
    "BoxBOD": rise,
    "DanWood": lambda x, b1, b2: b1 * x**b2,
    "Rat42": lambda x, b1, b2, b3: b1 / (1 + np.exp(b2 - b3 * x)),
    "Chwirut2": lambda x, b1, b2, b3: np.exp(-b1 * x) / (b2 + b3 * x),
    "MGH17": lambda x, b1, b2, b3, b4, b5: b1 + b2 * np.exp(-x * b4) + b3 * np.exp(-x * b5),
}
for name, m in curves.items():
    x, y = column(name, "x"), column(name, "y")
    with open(os.path.join(sets, name + ".json")) as f:
        starts = json.load(f)["starting_values"]
    for which in range(3):
        p0 = starts[f"start_{which}"] if which else None
        try:
            p, cov = curve_fit(m, x, y, p0, ftol=1e-15, xtol=1e-15, gtol=1e-15, maxfev=100000)
        except RuntimeError:
            continue
        ss = float(np.sum((y - m(x, *p)) ** 2))
        put(f"{name}-{which}", p, np.sqrt(np.diag(cov)), ss, np.sqrt(ss / (len(y) - len(p))))

with open(os.path.join(out, "version"), "w") as to:
    to.write("SciPy " + scipy.__version__)
