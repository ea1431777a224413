"""Only the filters, slopes, spectra and histograms that a read-out needs, of the same arrays, by SciPy: seconds."""

import time

import numpy as np
from exchange import load, save
from scipy import signal

RATE_HZ = 1000.0
ENDS = ("front", "rear")
AXES = ("x", "y", "z")
NAMES = (
    [f"{end} {what}" for end in ENDS for what in ("travel", "brake", "wheel speed")]
    + [f"{place} {kind} {axis}" for place in ("frame", "bar") for kind in ("acc", "gyro") for axis in AXES]
)
log = {name: load(name) for name in NAMES}


def filtered(name, order, band_hz, kind):
    sos = signal.butter(order, band_hz, kind, fs=RATE_HZ, output="sos")
    return signal.sosfiltfilt(sos, log[name])


def weighted(samples):
    """One frequency weighting, by multiplying the spectrum."""
    spectrum = np.fft.rfft(samples)
    return np.fft.irfft(spectrum * np.linspace(0.0, 1.0, len(spectrum)), len(samples))


start = time.perf_counter()
for end in ENDS:
    travel = log[f"{end} travel"]
    filtered(f"{end} travel", 4, 0.5, "lowpass")
    speed = signal.savgol_filter(travel, 15, 3, deriv=1, delta=1 / RATE_HZ)
    np.histogram(travel, 10)
    np.histogram(speed[speed > 0], 24)
    np.histogram(-speed[speed < 0], 24)
    np.percentile(travel, [5, 50, 95])
    np.percentile(speed, [5, 95])
    filtered(f"{end} wheel speed", 2, 4, "lowpass")
    filtered(f"{end} travel", 4, (0.3, 12), "bandpass")
    signal.welch(travel, RATE_HZ, nperseg=2000)
filtered("front travel", 4, 3, "lowpass")
filtered("rear travel", 4, (3, 20), "bandpass")
signal.csd(log["front travel"], log["rear travel"], RATE_HZ, nperseg=2000)
signal.coherence(log["front travel"], log["rear travel"], RATE_HZ, nperseg=2000)
for axis in AXES:
    filtered(f"frame acc {axis}", 2, 15, "lowpass")
    weighted(log[f"bar acc {axis}"])
filtered("frame acc y", 4, (4, 30), "bandpass")
filtered("frame acc z", 4, (5, 25), "bandpass")
filtered("frame acc z", 4, 3, "lowpass")
filtered("bar acc z", 4, 3, "lowpass")
weighted(log["frame acc z"])
filtered("frame gyro y", 4, (0.5, 12), "bandpass")
save("seconds", time.perf_counter() - start)
