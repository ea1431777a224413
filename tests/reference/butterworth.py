"""scipy.signal.butter(output='sos') and sosfiltfilt: one row of `filters` is kind, order, cutoffs, rate, length."""

from exchange import load, save
from scipy import signal

KINDS = ["lowpass", "highpass", "bandpass"]
samples = load("samples")
for row, (kind, order, low_hz, high_hz, rate_hz, length) in enumerate(load("filters").reshape(-1, 6)):
    kind = KINDS[int(kind)]
    cutoff = [low_hz, high_hz] if kind == "bandpass" else low_hz
    sos = signal.butter(int(order), cutoff, kind, fs=rate_hz, output="sos")
    save(f"filtered_{row}", signal.sosfiltfilt(sos, samples[: int(length)]))
