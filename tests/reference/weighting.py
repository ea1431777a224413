"""ISO 8041-1 weightings by SciPy: gains by freqs_zpk, signals through a bilinear filter at 32 times the rate.

The poles and zeros are put together here, apart from the formulas in the crate.
"""

import numpy as np
from exchange import load, save, scalar
from scipy import signal

TAU = 2 * np.pi


def second_order(f_hz, q):
    """Roots of s^2 + s w / Q + w^2."""
    w = TAU * f_hz
    return np.roots([1, w / q, w * w])


def weighting(f1, f2, f3, q4, step=None):
    butterworth = 1 / np.sqrt(2)
    zeros = np.array([0, 0, -TAU * f3], dtype=complex)
    poles = np.concatenate([second_order(f, q) for f, q in ((f1, butterworth), (f2, butterworth), (f3, q4))])
    gain = (TAU * f2) ** 2 * (TAU * f3)
    if step:
        f5, q5, f6, q6 = step
        zeros = np.concatenate([zeros, second_order(f5, q5)])
        poles = np.concatenate([poles, second_order(f6, q6)])
        # (w6 / w5)^2 from the quadratics in s / w, times the standard's factor (w5 / w6)^2.
    return zeros, poles, gain


HAND_ARM = weighting(10**0.8, 10**3.1, 100 / TAU, 0.64)
WHOLE_BODY = weighting(0.4, 100, 12.5, 0.63, (2.37, 0.91, 3.35, 0.91))
rate_hz, times = scalar("rate_hz"), 32
for name, system in (("hand_arm", HAND_ARM), ("whole_body", WHOLE_BODY)):
    _, gain = signal.freqs_zpk(*system, worN=TAU * load("frequency_hz"))
    save(f"{name}_re", gain.real)
    save(f"{name}_im", gain.imag)
    sos = signal.zpk2sos(*signal.bilinear_zpk(*system, rate_hz * times))
    fine = signal.resample(load("samples"), len(load("samples")) * times)
    save(f"{name}_filtered", signal.sosfilt(sos, fine)[::times])
