"""Applications, areas, percentiles, residual and dive with NumPy and SciPy."""

import numpy as np
from exchange import load, save, scalar
from scipy.signal import butter, sosfiltfilt

rate = scalar("rate_hz")
pressure, travel, lateral = load("pressure_pa"), load("travel_m"), load("lateral_mps2")
rolling = load("rolling") > 0


def is_on(pressure):
    """Schmitt trigger: the last crossing of either threshold says whether the brake is on."""
    state = np.where(pressure >= 1.0e5, 1, np.where(pressure < 0.6e5, 0, -1))
    decided = np.flatnonzero(state >= 0)
    held = decided[np.clip(np.searchsorted(decided, np.arange(state.size), side="right") - 1, 0, None)]
    return state[held] == 1


on = is_on(pressure)
edges = np.flatnonzero(np.diff(np.concatenate(([0], on.astype(int), [0]))))
starts, ends = edges[::2], edges[1::2]
areas = [np.trapezoid(pressure[a : b + 1], dx=1 / rate) for a, b in zip(starts, ends)]
peaks = np.array([pressure[a:b].max() for a, b in zip(starts, ends)])
long = (ends - starts) / rate > 0.1
usual = np.percentile(peaks[long], 90)
save("starts", starts / rate)
save("lengths_s", (ends - starts) / rate)
save("areas_pa_s", areas)
save("peaks_pa", peaks)
save("usual_peak_pa", usual)
save("light_s", np.sum(rolling & (pressure >= 0.6e5) & (pressure <= usual / 4)) / rate)

around = int(round(0.3 * rate))
free = (pressure < 1.0e5) & rolling
for a, b in zip(starts, ends):
    free[max(a - around, 0) : b + around] = False
left = pressure[free]
save("constant_pa", np.median(left))
save("residual_rms_pa", np.sqrt(np.mean(np.where(left >= scalar("floor_pa"), left, 0) ** 2)))
save("lateral_correlation", np.corrcoef(left, lateral[free])[0, 1])
save("lateral_size_correlation", np.corrcoef(left, np.abs(lateral[free]))[0, 1])

slow = sosfiltfilt(butter(4, 3.0, fs=rate, output="sos"), travel)
ahead, early, late = (int(round(seconds * rate)) for seconds in (0.6, 0.5, 0.1))


def rise(start):
    """How much deeper the fork gets than it was before."""
    return slow[start : start + ahead + 1].max() - slow[start - early : start - late].mean()


braked = on | is_on(load("other_pressure_pa"))
moments = [
    i
    for i in range(0, pressure.size - ahead, int(round(0.25 * rate)))
    if i >= early and rolling[i] and not braked[i - early : i + ahead + 1].any()
    and np.ptp(slow[i - early : i - late]) <= 0.02
]
bumps = np.median([rise(i) for i in moments])
rises = np.array([rise(a) - bumps for a in starts])
save("bump_rise_m", bumps)
save("rises_m", rises)
save("gain_m_per_pa", np.median([r / pressure[a : a + ahead + 1].max() for r, a in zip(rises, starts)]))
