"""scipy.stats.theilslopes."""

from exchange import load, save
from scipy import stats

save("slope", stats.theilslopes(load("y"), load("x")).slope)
