"""Heavy tails: receivers whose errors burst, whose power wanders, and whose sessions are of unequal quality.

The figures are those of real receivers of several kinds on known places: 4 to 13 m on an axis, an excess
kurtosis of 1 to 28, excursions of over 100 m, alike over 36 to 122 s, with a slow drift beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from world.noise import ornstein_uhlenbeck

Floats = NDArray[np.float64]
Rng = np.random.Generator


@dataclass(frozen=True, kw_only=True)
class Tails:
    """How the power that drives an error changes; its mean is 1, so the error keeps its declared variance.

    ``session_sd`` is the standard deviation of the logarithm of a session's power (log-normal). In a burst,
    ``burst_share`` of the time and ``burst_s`` long on average, the driving standard deviation is
    ``burst_times`` the usual (a telegraph process). With ``dof`` the power is also dof / chi-square(dof), by
    squares of Gauss-Markov processes of ``power_s``: Student's t (Student 1908, Biometrika 6:1).
    """

    session_sd: float = 0.0
    burst_share: float = 0.0
    burst_times: float = 1.0
    burst_s: float = 60.0
    dof: int = 0
    power_s: float = 120.0

    def power(self, rng: Rng, time_s: Floats) -> Floats:
        """Return the power (P,) of one session at rising times."""
        power = np.full(
            len(time_s), np.exp(self.session_sd * rng.standard_normal() - 0.5 * self.session_sd**2)
        )
        if self.burst_share > 0.0:
            extra = self.burst_times**2 - 1.0
            power *= (1.0 + extra * self._bursts(rng, time_s)) / (1.0 + extra * self.burst_share)
        if self.dof > 0:
            squares = (ornstein_uhlenbeck(rng, time_s, self.power_s, axes=self.dof) ** 2).sum(axis=1)
            power *= (self.dof - 2.0) / squares
        return power

    def _bursts(self, rng: Rng, time_s: Floats) -> NDArray[np.bool_]:
        """Return when a burst is on: exponential times on and off, begun in its stationary state."""
        calm_s = self.burst_s * (1.0 - self.burst_share) / self.burst_share
        on, at, edges = bool(rng.random() < self.burst_share), float(time_s[0]), list[float]()
        first = on
        while at < time_s[-1]:
            at += rng.exponential(self.burst_s if on else calm_s)
            edges.append(at)
            on = not on
        return (np.searchsorted(np.array(edges), time_s) % 2 == 0) == first


def driven(rng: Rng, time_s: Floats, tau_s: float, power: Floats) -> Floats:
    """Return a Gauss-Markov process (P, 2) driven with changing ``power`` (P,), whose mean is its variance.

    x' = -x / tau + sqrt(2 power / tau) white noise: the variance follows the power within tau / 2.
    """
    keep = np.exp(-np.diff(time_s, prepend=time_s[0]) / tau_s)
    fresh = np.sqrt((1.0 - keep**2) * power)[:, None] * rng.standard_normal((len(time_s), 2))
    fresh[0] = np.sqrt(power[0]) * rng.standard_normal(2)
    out = np.empty_like(fresh)
    state = np.zeros(2)
    for at in range(len(time_s)):
        state = keep[at] * state + fresh[at]
        out[at] = state
    return out


UNEQUAL = Tails(session_sd=0.6)
STUDENT = Tails(session_sd=0.3, dof=5)
BURSTS = Tails(session_sd=0.5, burst_share=0.04, burst_times=6.0, burst_s=60.0)
WILD = Tails(session_sd=0.4, burst_share=0.04, burst_times=7.0, burst_s=80.0)
LONG_BURSTS = Tails(session_sd=0.5, burst_share=0.03, burst_times=3.0, burst_s=300.0)
"""The first edition told 1.1 to 1.5 false stretches per 50 trace-km on the real errors, and its route interval
held sigma in .89, .87, .81 and .65 of worlds of 3, 4, 6 and 10 rides: of these kinds this one comes nearest."""
