"""Three runs against three by scipy.stats.ttest_ind, and by an exact permutation test.

The two one-sided tests ask whether B - A is above -worth_having and below +worth_having.
"""

import numpy as np
from exchange import load, save, scalar
from scipy import stats

a, b, worth_having = load("a"), load("b"), scalar("worth_having")
test = stats.ttest_ind(b, a)
save("p", test.pvalue)
save("interval", test.confidence_interval(0.95))
save("interval_90", test.confidence_interval(0.90))
above = stats.ttest_ind(b + worth_having, a, alternative="greater").pvalue
below = stats.ttest_ind(b - worth_having, a, alternative="less").pvalue
save("p_worth_having", max(above, below))

# A-B-A with an archive: the residuals of all set-ups, one mean each, by least squares.
values, setup, contrast = load("values"), load("setup").astype(int), load("contrast")
design = np.eye(setup.max() + 1)[setup]
_, squares, rank, _ = np.linalg.lstsq(design, values)
df = len(values) - rank
error = np.sqrt(squares[0] / df * np.sum(contrast**2))
estimate = contrast @ values
save("aba_p", 2 * stats.t.sf(abs(estimate) / error, df))
save("aba_interval", stats.t.interval(0.95, df, estimate, error))
save("aba_interval_90", stats.t.interval(0.90, df, estimate, error))


def difference(x, y, axis):
    return np.mean(x, axis=axis) - np.mean(y, axis=axis)


apart = stats.permutation_test(
    ([1.0, 2.0, 3.0], [101.0, 102.0, 103.0]), difference, permutation_type="independent", vectorized=True
)
save("permutation_p", apart.pvalue)
