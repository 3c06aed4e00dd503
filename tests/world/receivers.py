"""Receivers: how often they log and how their errors wander."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from world.noise import ornstein_uhlenbeck
from world.tails import BURSTS, LONG_BURSTS, STUDENT, UNEQUAL, WILD, Tails, driven

Floats = NDArray[np.float64]

MIXTURE = ((60.0, 0.2), (1000.0, 0.8))
"""Time constants, s, and shares of the correlated variance: the short and the long component of static
single-frequency errors (static tests show a break at about one minute and a part of tens of minutes)."""

_INTERVALS_S = {"1 s": (1, 1), "2-3 s": (2, 3), "3-11 s": (3, 11), "5 Hz": (0.2, 0.2), "10 Hz": (0.1, 0.1)}


@dataclass(frozen=True, kw_only=True)
class Receiver:
    """One receiver; ``sigma_m`` is the standard deviation of its error per axis, white part included."""

    name: str = "alder"
    sigma_m: float = 2.5
    taus: tuple[tuple[float, float], ...] = MIXTURE
    white_m: float = 0.3
    sampling: str = "1 s"
    clock_offset_s: float = 0.0
    tails: Tails | None = None

    def sample_times(self, rng: np.random.Generator, first_s: float, last_s: float) -> Floats:
        """Return the instants (P,) at which it logs, seconds after the start."""
        low, high = _INTERVALS_S[self.sampling]
        count = int((last_s - first_s) / low) + 1
        gaps = np.full(count, float(low)) if low == high else rng.integers(low, high + 1, count).astype(float)
        time = first_s + np.concatenate([[0.0], np.cumsum(gaps)])
        return np.round(time[time <= last_s], 3)


def errors_of_ride(
    rng: np.random.Generator, receivers: Sequence[Receiver], times: Sequence[Floats], common_share: float
) -> list[Floats]:
    """Return the error (P, 2), east and north, metres, of each receiver carried on one ride.

    ``common_share`` is the share of the correlated variance that all of them have in common.
    """
    every, owners = np.unique(np.concatenate(times), return_inverse=True)
    places = np.split(owners, np.cumsum([len(time) for time in times])[:-1])
    shared = {tau: ornstein_uhlenbeck(rng, every, tau) for receiver in receivers for tau, _ in receiver.taus}
    errors = []
    for receiver, time, place in zip(receivers, times, places, strict=True):
        white = min(receiver.white_m, receiver.sigma_m)
        power = None if receiver.tails is None else receiver.tails.power(rng, time)
        correlated = sum(
            np.sqrt(share) * (
                np.sqrt(common_share) * shared[tau][place]
                + np.sqrt(1 - common_share) * _own(rng, time, tau, power)
            )
            for tau, share in receiver.taus
        )  # fmt: skip
        errors.append(
            np.sqrt(receiver.sigma_m**2 - white**2) * correlated + white * rng.standard_normal((len(time), 2))
        )
    return errors


def _own(rng: np.random.Generator, time_s: Floats, tau_s: float, power: Floats | None) -> Floats:
    if power is None:
        return ornstein_uhlenbeck(rng, time_s, tau_s)
    return driven(rng, time_s, tau_s, power)


HEAVY_TAILED = {
    "unequal sessions": Receiver(sigma_m=4.0, taus=((60.0, 0.7), (1500.0, 0.3)), tails=UNEQUAL),
    "Student's t": Receiver(sigma_m=5.0, taus=((40.0, 0.8), (1000.0, 0.2)), tails=STUDENT),
    "bursts": Receiver(sigma_m=6.5, taus=((36.0, 0.8), (900.0, 0.2)), tails=BURSTS),
    "wild": Receiver(sigma_m=9.0, taus=((80.0, 0.85), (1500.0, 0.15)), tails=WILD),
    "long bursts": Receiver(sigma_m=6.0, taus=((100.0, 0.8), (1500.0, 0.2)), tails=LONG_BURSTS),
}
"""Receivers with heavy tails, of several kinds; `sigma_m` is the standard deviation of the whole process."""
