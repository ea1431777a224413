"""numpy.percentile, linear (type 7)."""

import numpy as np
from exchange import load, save

samples, shares = load("samples"), load("percents")
for n in load("lengths").astype(int):
    save(f"percentiles_{n}", np.percentile(samples[:n], shares, method="linear"))
