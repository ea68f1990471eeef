"""10,000 parametric bootstrap refits of one curve by a loop of curve_fit; prints the 2.5, 50 and
97.5 % points of the onset. usage: refits.py FILE.csv (pressure, strength)"""
import sys

import numpy as np
from scipy.optimize import curve_fit

d = np.loadtxt(sys.argv[1], delimiter=",", skiprows=1)
x, y, high = d[:, 0], d[:, 1], d[:, 0].max()


def rise(x, top, rate):
    return -top * np.expm1(-rate * x)


begin, _ = curve_fit(rise, x, y, [y.max(), 1])
mean = rise(x, *begin)
sd = np.sqrt(np.sum((y - mean) ** 2) / (len(y) - 2))
rng = np.random.default_rng(1)
rate = np.array([curve_fit(rise, x, mean + sd * rng.normal(size=len(x)), begin)[0][1]
                 for _ in range(10000)])
print(np.quantile(-np.log(1 + 0.95 * np.expm1(-rate * high)) / rate, [0.025, 0.5, 0.975]))
