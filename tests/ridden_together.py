"""Arrays of receivers ridden together with known truth: offsets and times of passing each station."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Floats = NDArray[np.float64]

STEP_M = 5.0
SPEED_MS = 5.5
SHORT, LONG, MIXED = ((60.0, 1.0),), ((1000.0, 1.0),), ((60.0, 0.2), (1000.0, 0.8))
"""Time constants, s, and shares of the variance of a receiver's error."""


@dataclass(frozen=True, kw_only=True)
class Campaign:
    """Arrays as the pipeline gives them, one row a trace, receivers a, b, … of each ride in turn."""

    station_m: Floats
    offset_m: Floats
    crossing_s: Floats
    in_stretch: NDArray[np.bool_]
    receivers: tuple[str, ...]
    rides: tuple[str, ...]


def gauss_markov(rng: np.random.Generator, rows: int, size: int, length_m: float) -> Floats:
    """Return rows of a first-order Gauss-Markov process of unit variance along the route."""
    keep = np.exp(-STEP_M / length_m)
    fresh = rng.standard_normal((rows, size)) * np.sqrt(1.0 - keep**2)
    fresh[:, 0] = rng.standard_normal(rows)
    return np.asarray(lfilter([1.0], [1.0, -keep], fresh, axis=1))


def campaign(
    seed: int,
    *,
    sigmas_m: Sequence[float] = (2.0, 4.0),
    rides: int = 5,
    common_m: float = 1.2,
    taus: Sequence[tuple[float, float]] = MIXED,
    length_m: float | None = None,
    clocks_s: Sequence[float] = (0.0, 0.0, 0.0, 0.0),
    stops: int = 2,
) -> Campaign:
    """Ride a straight route of 5 to 8 km with several receivers at once.

    ``common_m`` is the standard deviation of the offset that all receivers of a ride share. The rider's
    speed varies by 12 % over some 60 m, and there are ``stops`` of 10 to 60 s a ride. A receiver that is
    ahead by an along-track error passes a station early, also where the rider stands.
    """
    rng = np.random.default_rng(seed)
    length_m = float(rng.uniform(5000, 8000)) if length_m is None else length_m
    station = np.arange(0.0, length_m, STEP_M)
    size, receivers = len(station), len(sigmas_m)
    common = common_m * gauss_markov(rng, rides, size, 330.0)
    offset = np.empty((rides, receivers, size))
    crossing = np.empty_like(offset)
    way, clock = zip(*(_ride(rng, length_m, stops, ride) for ride in range(rides)), strict=True)
    for k, sigma in enumerate(sigmas_m):
        across, ahead = (
            sum(
                sigma * np.sqrt(share) * gauss_markov(rng, rides, size, tau * SPEED_MS) for tau, share in taus
            )
            for _ in range(2)
        )
        offset[:, k] = common + across
        for ride in range(rides):
            shown = np.maximum.accumulate(np.interp(way[ride], station, station + ahead[ride]))
            crossing[ride, k] = np.interp(station, shown, clock[ride]) + clocks_s[k]
    names = tuple(chr(97 + k) for k in range(receivers))
    return Campaign(
        station_m=station,
        offset_m=offset.reshape(-1, size),
        crossing_s=crossing.reshape(-1, size),
        in_stretch=np.zeros((rides * receivers, size), bool),
        receivers=names * rides,
        rides=tuple(str(ride + 1) for ride in range(rides) for _ in names),
    )


def away_m(made: Campaign) -> Floats:
    """Return the deviation of each trace from the mean of all other rides, (T, S); of one ride from its mean."""
    out = np.empty_like(made.offset_m)
    rides = np.array(made.rides)
    for ride in set(made.rides):
        others = rides != ride if (rides != ride).any() else rides == ride
        with np.errstate(invalid="ignore"):
            known = np.isfinite(made.offset_m[others])
            count = known.sum(axis=0)
            mean = np.where(known, made.offset_m[others], 0.0).sum(axis=0) / np.where(
                count > 0, count, np.nan
            )
        out[rides == ride] = made.offset_m[rides == ride] - mean
    return out


def _ride(rng: np.random.Generator, length_m: float, stops: int, ride: int) -> tuple[Floats, Floats]:
    """Return way and time of one ride, each second of standing and each metre of way."""
    fine = np.arange(-50.0, length_m + 50.0)
    speed = SPEED_MS * np.exp(0.12 * gauss_markov(rng, 1, len(fine) // 5 + 1, 60.0)[0])
    slowness = 1.0 / np.interp(fine, fine[0] + STEP_M * np.arange(len(speed)), speed)
    wait = np.zeros(len(fine))
    for place in rng.integers(200, len(fine) - 200, stops):
        wait[place] = rng.uniform(10.0, 60.0)
        from_stop = np.abs(np.arange(len(fine)) - place)
        slowness = np.maximum(slowness, 1.0 / np.sqrt(2.0 * 0.8 * (from_stop + 0.5)))
    time = 1.9e9 + 86_400.0 * ride + np.cumsum(slowness + wait)
    before = time - wait
    return np.repeat(fine, 2), np.stack([before, time], axis=1).ravel()
