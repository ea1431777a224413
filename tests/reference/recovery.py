"""Recovery and rebound rate of one end from its true travel, coded from their definitions.

Turning points are found on their own here: an extreme counts once travel has come back from it by 5 % of
full travel.
"""

import numpy as np
from exchange import load, save, scalar
from scipy import stats

travel, rolls, braked = load("travel_m"), load("rolls") > 0, load("braked") > 0
full, rate = scalar("full_m"), scalar("rate_hz")
ride_height = np.median(travel[rolls])

# Extremes in turn, valleys and tops.
turns, extreme, rising = [], 0, travel[1] > travel[0]
for k in range(1, len(travel)):
    ahead = travel[k] - travel[extreme] if rising else travel[extreme] - travel[k]
    if ahead > 0:
        extreme = k
    elif -ahead > 0.05 * full:
        turns.append((extreme, rising))
        extreme, rising = k, not rising

times, happened, depths, speeds = [], [], [], []
slope = np.gradient(travel, 1 / rate)
for (top, is_top), (valley, _) in zip(turns, turns[1:]):
    if not is_top or not rolls[top] or travel[top] - ride_height < 0.1 * full:
        continue
    if braked[top : valley + 1].any():
        continue
    way = travel[top : valley + 1]
    back = np.flatnonzero(way <= ride_height + 0.05 * full)
    happened.append(back.size > 0)
    times.append((back[0] if back.size else len(way) - 1) / rate)
    depths.append(travel[top] - ride_height)
    speeds.append(-slope[top : valley + 1].min())

times, happened = np.array(times), np.array(happened)
left = stats.ecdf(stats.CensoredData.right_censored(times, ~happened)).sf


def quantile(share):
    reached = np.flatnonzero(1 - left.probabilities >= share - 1e-12)
    return left.quantiles[reached[0]] if reached.size else np.nan


save("recovery_p50_s", quantile(0.5))
save("recovery_p90_s", quantile(0.9))
save("not_recovered_share", 1 - happened.mean())
save("rebound_rate_per_s", stats.theilslopes(speeds, depths).slope)
save("n", len(times))
