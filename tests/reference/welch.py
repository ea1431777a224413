"""scipy.signal.welch, csd and coherence: Hann, 2 s, half overlap, constant detrend, density."""

from exchange import load, save, scalar
from scipy import signal

x, y, rate_hz = load("x"), load("y"), scalar("rate_hz")
settings = {
    "fs": rate_hz,
    "window": "hann",
    "nperseg": round(2 * rate_hz),
    "noverlap": round(2 * rate_hz) // 2,
    "detrend": "constant",
}
frequency_hz, density = signal.welch(x, scaling="density", **settings)
_, cross = signal.csd(x, y, scaling="density", **settings)
_, coherence = signal.coherence(x, y, **settings)
save("frequency_hz", frequency_hz)
save("density", density)
save("cross_re", cross.real)
save("cross_im", cross.imag)
save("coherence", coherence)
