"""Dynamic time warping by the plain recurrence over every cell, NumPy alone."""

import numpy as np
from exchange import load, save, scalar

rows, columns = load("rows"), load("columns")
starts, ends = load("starts"), load("ends")
difference, step = scalar("difference"), scalar("step")
n, m = len(rows), len(columns)

pair = difference * np.subtract.outer(rows, columns) ** 2
best = np.full((n, m), np.inf)
for i in range(n):
    for j in range(int(starts[i]), int(ends[i])):
        before = 0.0 if i == 0 else np.inf
        if i > 0 and j > 0:
            before = min(before, best[i - 1, j - 1])
        if i > 0:
            before = min(before, best[i - 1, j] + step)
        if j > 0:
            before = min(before, best[i, j - 1] + step)
        best[i, j] = before + pair[i, j]
save("cost", best[-1].min())

# Mean and spread of the column in each row over all paths, by summing exp(-cost) over paths that end in, and
# that go on from, each cell; a row's share of a path is the number of its cells in it.
like, alone = np.exp(-pair), np.exp(-step)
inside = np.zeros((n, m))
for i in range(n):
    inside[i, int(starts[i]) : int(ends[i])] = 1.0
like *= inside
forward, backward = np.zeros((n + 1, m + 1)), np.zeros((n + 1, m + 1))
for i in range(n):
    for j in range(m):
        into = 1.0 if i == 0 else forward[i, j] + alone * forward[i, j + 1]
        forward[i + 1, j + 1] = like[i, j] * (into + alone * forward[i + 1, j])
for i in range(n - 1, -1, -1):
    for j in range(m - 1, -1, -1):
        out = 1.0 if i == n - 1 else backward[i + 1, j + 1] + alone * backward[i + 1, j]
        backward[i, j] = like[i, j] * (out + alone * backward[i, j + 1])
with np.errstate(divide="ignore", invalid="ignore"):
    weight = np.where(like > 0, forward[1:, 1:] * backward[:n, :m] / like, 0.0)
weight /= weight.sum(axis=1, keepdims=True)
mean = weight @ np.arange(m)
save("mean", mean)
save("spread", np.sqrt((weight * (np.arange(m) - mean[:, None]) ** 2).sum(axis=1)))
