"""scipy.stats.false_discovery_control, Benjamini and Hochberg."""

from exchange import load, save
from scipy import stats

save("q", stats.false_discovery_control(load("p"), method="bh"))
