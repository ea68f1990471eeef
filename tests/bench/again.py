"""A million re-randomisations of 8 levels within 6 complete blocks, by a table of all 8! orders.
usage: again.py FILE.csv (block, level, strength; rows by block)"""
import sys
from itertools import permutations

import numpy as np

y = np.loadtxt(sys.argv[1], delimiter=",", skiprows=1, usecols=2).reshape(6, 8)
y -= y.mean(axis=1, keepdims=True)
made = (y.sum(axis=0) ** 2).sum() * (1 - 1e-12)
orders = np.array(list(permutations(range(8))))
tables = [np.ascontiguousarray(block[orders]) for block in y]
rng = np.random.default_rng(1)
far = 0
for _ in range(200):
    total = tables[0].take(rng.integers(0, 40320, 5000), axis=0)
    for table in tables[1:]:
        total += table.take(rng.integers(0, 40320, 5000), axis=0)
    far += np.count_nonzero(np.einsum("ij,ij->i", total, total) >= made)
print((1 + far) / (1 + 1e6))
