"""scipy.stats.t and nct: tails, quantiles, noncentral tails and the noncentrality found with some power."""

import numpy as np
from exchange import load, save
from scipy import optimize, stats

t, df = load("t").reshape(-1, 2).T
save("upper_tail", stats.t.sf(t, df))
save("cdf", stats.t.cdf(t, df))
p, df = load("p").reshape(-1, 2).T
save("quantile", stats.t.ppf(p, df))
t, df, d = load("noncentral").reshape(-1, 3).T
save("noncentral_upper_tail", stats.nct.sf(t, df, d))


def detectable(df, alpha, power):
    limit = stats.t.ppf(1 - alpha / 2, df)

    def missing(d):
        return stats.nct.sf(limit, df, d) + stats.nct.sf(limit, df, -d) - power

    return optimize.brentq(missing, 0.5, 3 + 2 * limit, xtol=1e-12)


save("detectable", [detectable(*row) for row in load("tests").reshape(-1, 3)])
