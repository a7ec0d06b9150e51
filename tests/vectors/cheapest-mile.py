"""Prints the figures of tests/report/test_fit.c for the cheapest mile by an independent library,
scipy (Debian: apt-get install python3-scipy; python3 tests/vectors/cheapest-mile.py): natural cubic
splines of speed and of the burn's logarithm over engine speed, looked at in 24 places between two
runs; a parabola through three runs by polyfit. The runs are read from the test."""
import re
import numpy as np
from scipy.interpolate import CubicSpline

source = open("tests/report/test_fit.c").read()
block = source[source.index("cheapest[] = {"):]
block = block[:block.index("};")]


def lowest(x, speed, burn, low=0, high=np.inf):
    """(speed, cost, rpm) of the lowest inner place, or None."""
    a = CubicSpline(x, speed, bc_type="natural")
    b = CubicSpline(x, np.log(burn), bc_type="natural")
    at = [x[0]] + [x[i] + (x[i + 1] - x[i]) * k / 24 for i in range(len(x) - 1) for k in range(1, 25)]
    v, cost = a(at), np.exp(b(at)) / a(at)
    inner = [(cost[i], v[i], at[i]) for i in range(1, len(at) - 1)
             if cost[i] < cost[i - 1] and cost[i] <= cost[i + 1] and low <= at[i] <= high]
    return (min(inner)[1], min(inner)[0], min(inner)[2]) if inner else None


for rows in re.findall(r"\.run = \{(.*?)\}\}", block, re.S):
    runs = np.array([[float(f) for f in row.split(",")] for row in re.findall(r"\{([-\d., \n]+)", rows)])
    x, speed, speed_error, burn, burn_error = runs.T
    n = len(x)
    best = lowest(x, speed, burn)
    run = max(i for i in range(n - 1) if x[i] < best[2] - 1e-9)
    span = abs(speed[run + 1] - speed[run])
    squares = 0
    for i in range(2 * n):
        s, b = speed.copy(), burn.copy()
        if i < n:
            s[i] += speed_error[i]
        else:
            b[i - n] += burn_error[i - n]
        other = lowest(x, s, b, 0.85 * best[2], 1.15 * best[2])
        squares += ((other[0] if other else best[0] + span / 2) - best[0]) ** 2
    middle = run if best[2] - x[run] < x[run + 1] - best[2] else run + 1
    three = slice(min(max(middle, 1), n - 2) - 1, min(max(middle, 1), n - 2) + 2)
    p = np.polyfit(speed[three], (burn / speed)[three], 2)
    shape = abs(-p[1] / (2 * p[0]) - best[0]) if p[0] > 0 else np.inf
    shape = max(0.08 * min(shape, 2 * span), 0.04 * span)
    print("%.10g, %.10g, %.10g" % (best[0], best[1], np.hypot(0.85 * np.sqrt(squares), shape)))
