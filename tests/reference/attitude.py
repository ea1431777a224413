"""Inclination from published causal filters: the RMS error of each at its best setting.

imufusion (Madgwick's thesis filter), ahrs (Madgwick 2010, Mahony 2008) and vqf (Laidig and Seel
2023). Each is tried with several gains, with the gyro as logged and with its mean at rest taken
off, and read at the sample and half a sample earlier, so that no filter loses by a convention.
offlineVQF is not causal and is reported apart.
"""

from itertools import product

import imufusion
import numpy as np
from ahrs.filters import Madgwick, Mahony
from vqf import VQF, offlineVQF

from exchange import load, save, scalar

accel = np.ascontiguousarray(load("accel").reshape(3, -1).T)
logged = np.ascontiguousarray(load("gyro").reshape(3, -1).T)
truth = load("up").reshape(3, -1).T
rate = scalar("rate_hz")
rest = int(scalar("rest_s") * rate)


def upward(q):
    """Where up is in the bike's axes, from quaternions that take bike axes to earth."""
    w, x, y, z = q.T
    return np.stack([2 * (x * z - w * y), 2 * (w * x + y * z), 1 - 2 * (x * x + y * y)], axis=1)


def first_quaternion():
    """The smallest turn that sets the first tenth of a second upright."""
    x, y, z = accel[: max(int(rate / 10), 1)].mean(axis=0)
    q = np.array([np.sqrt(x * x + y * y + z * z) + z, y, -x, 0.0])
    return q / np.linalg.norm(q)


def error(q):
    at = upward(q)
    half_earlier = at + np.vstack([at[:1], at[:-1]])
    half_earlier /= np.linalg.norm(half_earlier, axis=1, keepdims=True)
    judged = slice(rest, None)
    return min(
        np.degrees(np.sqrt(np.mean((2 * np.arcsin(np.linalg.norm(u - truth, axis=1)[judged] / 2)) ** 2)))
        for u in (at, half_earlier)
    )


def run_imufusion(gyro, gain, rejection):
    ahrs = imufusion.Ahrs()
    settings = imufusion.AhrsSettings()
    settings.convention = imufusion.CONVENTION_NWU
    settings.sample_rate = rate
    settings.gain = gain
    settings.gyroscope_range = 2000.0
    settings.acceleration_rejection = rejection
    settings.rejection_timeout = 5.0
    ahrs.set_settings(settings)
    degrees, g = np.degrees(gyro), accel / 9.80665
    q = np.empty((len(g), 4))
    for i in range(len(g)):
        ahrs.update_no_magnetometer(degrees[i], g[i])
        q[i] = ahrs.get_quaternion()
    return q


def run_madgwick(gyro, gain):
    return Madgwick(gyr=gyro, acc=accel, frequency=rate, gain=gain, q0=first_quaternion()).Q


def run_mahony(gyro, gain, integral):
    q0 = first_quaternion()
    return Mahony(gyr=gyro, acc=accel, frequency=rate, k_P=gain, k_I=integral, q0=q0).Q


def run_vqf(gyro, tau):
    return VQF(1 / rate, tauAcc=tau).updateBatch(np.ascontiguousarray(gyro), accel)["quat6D"]


def run_offline_vqf(gyro, tau):
    return offlineVQF(np.ascontiguousarray(gyro), accel, None, 1 / rate, {"tauAcc": tau})["quat6D"]


settings = {
    "imufusion": (run_imufusion, product((0.002, 0.005, 0.01, 0.03, 0.1, 0.5), (0.0, 10.0))),
    "madgwick": (run_madgwick, product((0.002, 0.005, 0.01, 0.033))),
    "mahony": (run_mahony, [(0.003, 1e-6), (0.01, 1e-6), (0.03, 1e-6), (0.1, 1e-6), (0.1, 2e-3), (1.0, 0.3)]),
    "vqf": (run_vqf, product((1.0, 3.0, 6.0, 12.0, 25.0, 50.0, 100.0))),
    "offline_vqf": (run_offline_vqf, product((3.0, 6.0, 12.0, 25.0, 50.0, 100.0))),
}
gyros = [logged, logged - logged[:rest].mean(axis=0)]
for name, (run, choices) in settings.items():
    # A setting at which a filter diverges (NaN) does not stop the others.
    save(name, np.nanmin([error(run(gyro, *choice)) for choice in choices for gyro in gyros]))
