"""Bootstrap of the median: NumPy on the resamples sent, and coverage of scipy.stats.bootstrap."""

import numpy as np
from exchange import load, save, scalar
from scipy import stats

draws = load("samples")[load("drawn").astype(int)].reshape(-1, load("samples").size)
save("interval", np.percentile(np.median(draws, axis=1), [2.5, 97.5]))
sets = load("sets").reshape(-1, int(scalar("set_size")))
found = stats.bootstrap(
    (sets,),
    np.median,
    axis=1,
    n_resamples=400,
    method="percentile",
    vectorized=True,
    rng=np.random.default_rng(1),
)
interval = found.confidence_interval
save("covered", np.mean((interval.low <= 0) & (interval.high >= 0)))
