"""scipy.stats.ecdf with right-censored data."""

import numpy as np
from exchange import load, save
from scipy import stats

times_s, censored = load("times_s"), load("censored").astype(bool)
left = stats.ecdf(stats.CensoredData.right_censored(times_s, censored)).sf
happened = np.isin(left.quantiles, times_s[~censored])
save("times_s", left.quantiles[happened])
save("left", left.probabilities[happened])
bounds = left.confidence_interval(confidence_level=0.95, method="log-log")
save("low", bounds.low.probabilities[happened])
save("high", bounds.high.probabilities[happened])
