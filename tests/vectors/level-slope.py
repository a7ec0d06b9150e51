"""Prints the figures of tests/report/test_trial_slope.c by an independent library, numpy (Debian:
apt-get install python3-numpy; python3 tests/vectors/level-slope.py): litres in the tank over litres
metered and the square of speed by least squares, each log with a mean of its own. The error is that
of least squares, wider where what is left hangs together from one minute to the next (by the mean
square of its differences, at most tenfold), and with three tenths of what squat does to the slope."""
import re
import numpy as np

source = open("tests/report/test_trial_slope.c").read()
block = source[source.index("minutes[MINUTES][3] = {"):]
rows = np.array([[float(v) for v in row] for row in
                 re.findall(r"\{([\d.]+), ([\d.]+), ([\d.]+)\}", block[:block.index("};")])])
assert rows.shape == (24, 3)


def slope(logs, squat):
    x, y, apart = [], [], []
    for k, log in enumerate(logs):
        rate = log[:, 0] / 60
        metered = np.cumsum(rate) - rate / 2
        litres = 2 * log[:, 2]
        means = np.zeros((len(log), len(logs)))
        means[:, k] = 1
        x.append(np.column_stack([metered, log[:, 1] ** 2, means]))
        y.append(litres)
        apart.append(np.diff(litres))
    x, y, apart = np.vstack(x), np.concatenate(y), np.concatenate(apart)
    without = np.delete(x, 1, axis=1)
    plain = np.linalg.lstsq(without, y, rcond=None)[0][0]
    if not squat:
        x = without
    fit = np.linalg.lstsq(x, y, rcond=None)[0]
    left = np.sum((y - x @ fit) ** 2) / (len(y) - len(logs) - 2)
    hang = min(max(left / (np.mean(apart ** 2) / 2), 1), 10)
    error = left * hang * np.linalg.inv(x.T @ x)[0, 0] + (0.3 * (fit[0] - plain)) ** 2
    return -fit[0], np.sqrt(error), hang


for name, logs, squat in (("with squat", [rows], True), ("plain", [rows], False),
                          ("two logs", [rows[:12], rows[10:]], True)):
    print("%-10s %.9f %.9f hang %.4f" % ((name,) + slope(logs, squat)))
