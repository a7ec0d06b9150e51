"""Prints the robust fit of tests/season/test_regress.c by an independent library, statsmodels
(Debian: apt-get install python3-statsmodels; python3 tests/vectors/robust-regression.py): NIST's
Norris data with three wild points, Tukey's biweight at 4.685, scale by the median absolute
deviation about zero, and the same with weights (each row times the root of its weight)."""
import re
import numpy as np
import statsmodels.api as sm

source = open("tests/season/test_regress.c").read()
block = source[source.index("norris[36][2]"):source.index("}};")]
pairs = np.array([[float(v) for v in p] for p in re.findall(r"\{(-?[\d.]+), (-?[\d.]+)\}", block + "}}")])
assert pairs.shape == (36, 2)
x, y = pairs[:, 0], pairs[:, 1].copy()
y[7] += 400
y[20] += 900
y[3] += 250
design = np.column_stack([np.ones(36), x, (x / 500) ** 2])
weight = 0.3 + (np.arange(36) % 5) / 4


def fit(columns, w):
    root = np.sqrt(w)
    model = sm.RLM(y * root, design[:, :columns] * root[:, None], M=sm.robust.norms.TukeyBiweight(4.685))
    return model.fit(maxiter=500, tol=1e-13, scale_est="mad")


for columns, w, name in ((2, np.ones(36), "line"), (3, np.ones(36), "parabola"), (3, weight, "weighted")):
    print(name, " ".join("%.9g" % v for v in fit(columns, w).params))
