"""scipy.signal.savgol_filter, first derivative of a cubic."""

from exchange import load, save
from scipy import signal

for rate_hz, window in load("windows").reshape(-1, 2):
    slope = signal.savgol_filter(load("samples"), int(window), 3, deriv=1, delta=1 / rate_hz, mode="interp")
    save(f"slope_{rate_hz:.0f}", slope)
