"""scipy.stats.pearsonr of a piece with every place it fits."""

import numpy as np
from exchange import load, save
from scipy import stats

piece, searched = load("piece"), load("searched")
places = np.lib.stride_tricks.sliding_window_view(searched, len(piece))
save("correlation", [stats.pearsonr(piece, place).statistic for place in places])
