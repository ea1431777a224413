"""Evenness, lateral shake, harshness and the bootstrap of a median, by SciPy and NumPy."""

import numpy as np
from exchange import load, save, scalar
from scipy import signal, stats

rate = scalar("rate_hz")


def band(samples, low_hz, high_hz):
    sos = signal.butter(4, [low_hz, high_hz], "bandpass", fs=rate, output="sos")
    return signal.sosfiltfilt(sos, samples)


lag = int(scalar("lag"))
front = scalar("sin_head_angle") * band(load("front"), 0.3, 12)[:-lag]
rear = band(load("rear"), 0.3, 12)[lag:]
apart, together = np.var(front - rear), np.var(front + rear)
save("evenness_share", apart / (apart + together))
save("evenness_gain", np.std(rear) / np.std(front))

length, step = round(0.5 * rate), round(0.1 * rate)
windows = np.lib.stride_tricks.sliding_window_view
lateral = windows(band(load("lateral"), 4, 30), length)[::step]
lean = windows(load("lean"), length)[::step]
upright = np.all(np.abs(lean) < np.radians(15), axis=1)
rms, lean = np.sqrt(np.mean(lateral[upright] ** 2, axis=1)), np.degrees(lean[upright].mean(axis=1))
save("shake_median", np.median(rms))
save("shake_p95", np.percentile(rms, 95))
save("shake_left", np.median(rms[lean <= -2]))
save("shake_right", np.median(rms[lean >= 2]))

vertical = band(load("vertical"), 5, 25)
save("harshness", np.sqrt(np.mean(vertical**2) / np.mean(load("axle_speed") ** 2)))

ratios = load("ratios")
save("median", np.median(ratios))
drawn = stats.bootstrap(
    (ratios,), np.median, n_resamples=20_000, method="percentile", confidence_level=0.95, rng=np.random.default_rng(1)
)
save("interval", drawn.confidence_interval)
