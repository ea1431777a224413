"""A mass on a spring, a viscous damper and Coulomb friction, pushed down by hand and let go, six times.

scipy.integrate.solve_ivp from turning point to turning point, so that friction never changes its sign inside a
stroke; it sticks where the spring cannot overcome friction.
"""

import numpy as np
from exchange import save, scalar
from scipy.integrate import solve_ivp

zeta, omega, friction = scalar("zeta"), scalar("omega_radps"), scalar("friction_mps2")
rate, stood = scalar("rate_hz"), scalar("stood_m")


def swing(x, length_s):
    """Travel past the balance from rest at x, until it sticks and on to the end."""
    times = np.arange(round(length_s * rate)) / rate
    out = np.full(times.size, np.nan)
    start, v = 0.0, 0.0
    while start < length_s and omega**2 * abs(x) > friction * (1 + 1e-9):
        way = -np.sign(x)
        damping = 2 * zeta * omega if way < 0 else zeta * omega

        def rates(_, y):
            return [y[1], -(omega**2) * y[0] - damping * y[1] - way * friction]

        def turns(t, y):
            return y[1] if t > start + 1e-9 else way

        turns.terminal, turns.direction = True, -way
        found = solve_ivp(rates, (start, length_s), [x, v], events=turns, dense_output=True, rtol=1e-9, atol=1e-12)
        inside = (times >= start) & (times <= found.t[-1])
        out[inside] = found.sol(times[inside])[0]
        start, x = found.t[-1], found.y[0, -1]
        if found.status == 0:
            break
    out[np.isnan(out)] = x
    return out


x, travel = 0.0, []
for push in [0.05, 0.042, 0.058, 0.047, 0.054, 0.06]:
    travel.append(np.full(round(1.2 * rate), x))
    share = np.arange(round(0.4 * rate)) / (0.4 * rate)
    travel.append(x + (push - x) * 0.5 * (1 - np.cos(np.pi * share)))
    travel.append(np.full(round(0.25 * rate), push))
    travel.append(swing(push, 2.0))
    x = travel[-1][-1]
save("travel_m", stood + np.concatenate(travel))
