"""Random processes with exactly known standard deviations."""

from __future__ import annotations

from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def ornstein_uhlenbeck(rng: np.random.Generator, time_s: Floats, tau_s: float, axes: int = 2) -> Floats:
    """Return a stationary Ornstein-Uhlenbeck process (P, axes) of unit variance at any rising times.

    x(t+d) = x(t) e^(-d/tau) + sqrt(1 - e^(-2d/tau)) N(0, 1): exact at every spacing
    (Uhlenbeck & Ornstein, Physical Review 36 (1930) 823).
    """
    keep = np.exp(-np.diff(time_s, prepend=time_s[0]) / tau_s)
    fresh = np.sqrt(1 - keep[:, None] ** 2) * rng.standard_normal((len(time_s), axes))
    fresh[0] = rng.standard_normal(axes)
    columns = [
        list(accumulate(zip(keep.tolist(), fresh[:, k].tolist(), strict=True), _decay, initial=0.0))[1:]
        for k in range(axes)
    ]
    return np.array(columns).T


def _decay(value: float, step: tuple[float, float]) -> float:
    return value * step[0] + step[1]


def smooth(rng: np.random.Generator, count: int, length: float) -> Floats:
    """Return a smooth stationary process (count,) of unit variance: white noise under a Gaussian window.

    Its autocorrelation at lag d is exp(-d²/(4 length²)).
    """
    half = int(np.ceil(4 * length))
    window = np.exp(-0.5 * (np.arange(-half, half + 1) / length) ** 2)
    window /= np.sqrt((window**2).sum())
    return np.convolve(rng.standard_normal(count + 2 * half), window, mode="valid")
