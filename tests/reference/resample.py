"""numpy.interp upwards; downwards after scipy's Butterworth low-pass of order 8 at 0.4 of the new rate."""

import numpy as np
from exchange import load, save, scalar
from scipy import signal

times_s, values = load("times_s"), load("values")
for rate_hz in load("rates_hz"):
    source_hz = scalar("source_hz")
    grid_s = np.arange(int(scalar("duration_s") * rate_hz)) / rate_hz
    smooth = values
    if rate_hz < source_hz:
        smooth = signal.sosfiltfilt(signal.butter(8, 0.4 * rate_hz, fs=source_hz, output="sos"), values)
    save(f"resampled_{rate_hz:.0f}", np.interp(grid_s, times_s, smooth))
