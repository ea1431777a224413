"""scipy.stats.theilslopes with its interval."""

from exchange import load, save
from scipy import stats

found = stats.theilslopes(load("y"), load("x"), alpha=0.95)
save("slope", found.slope)
save("interval", [found.low_slope, found.high_slope])
