"""Deviation of each trace from the consensus of the other rides, and the scale to judge it by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from trackspread.model import Bools, Floats, Ints
from trackspread.noise.correlation import Correlation
from trackspread.numeric.robust import (
    MAD_TO_SD,
    bisquare_weights,
    effective_count,
    mad_scale,
    majority,
    nan_median,
    never_small,
    ride_weights,
    running_mean,
)

WINDOW_M = 150.0  # m to both sides over which the scale of a place is taken
MOST_RIDES_JUDGED = 16  # rides up to which each is left out in turn
MAD_EFFICIENCY = 0.4  # share of information in a MAD; 0.37 at the normal law (Rousseeuw & Croux 1993)
RECEIVER_PRIOR = 4.0  # degrees of freedom that hold a receiver's scale to the others'


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Deviation:
    """``deviation_m`` of each trace from the others and ``scale_m``, its chance SD, shape (T, S)."""

    deviation_m: Floats
    scale_m: Floats


def deviation(
    offset_m: Floats, shown_m: Floats, ride: Ints, step_m: float, correlation: Correlation
) -> Deviation:
    """Judge each trace by the traces of all other rides (leave one ride out).

    A trace that took part in its own consensus would hide 1/n of its error. Beyond `MOST_RIDES_JUDGED` rides
    that share is below 6 %, and the consensus of all, corrected for the weight of the own ride, serves.
    A ride is one witness of the way: its companions share its weight, so that two alike on one ride do not
    outvote another ride.

    Parameters
    ----------
    offset_m : ndarray, shape (T, S)
        Offsets that form the consensus (NaN = no say).
    shown_m : ndarray, shape (T, S)
        Offsets to be judged, those of stretches and of ways out of reach included.
    ride : ndarray of int, shape (T,)
    step_m, correlation
        Distance of stations, and the correlation of residuals along the route.

    Returns
    -------
    Deviation

    Notes
    -----
    Others that stand apart from most of them as one group have no say (`majority`, of means over 300 m).
    Scale: the MAD scale of the others, pooled over 300 m, shrunk towards the route's by the moderated
    variance of Smyth (2004), Stat. Appl. Genet. Mol. Biol. 3(1):3, times sqrt(1 + 1/m), m others.
    """
    half = max(1, round(WINDOW_M / step_m))
    level = np.where(np.isfinite(offset_m), running_mean(offset_m, half), np.nan)
    numbers = np.unique(ride)
    alike = _alike(correlation, offset_m.shape[1], half)
    out, scale = np.full(offset_m.shape, np.nan), np.full(offset_m.shape, np.nan)
    if len(numbers) > MOST_RIDES_JUDGED:
        location, weight, spread = _judged_by(offset_m, level, ride, half, alike)
        total = weight.sum(axis=0)
        said = weight * np.where(np.isfinite(offset_m), offset_m, 0.0)
        of_ride = (ride[:, None] == numbers).astype(float)
        own_weight, own_said = of_ride @ (of_ride.T @ weight), of_ride @ (of_ride.T @ said)
        others = (location * total - own_said) / np.maximum(total - own_weight, 1e-9)
        return Deviation(deviation_m=shown_m - others, scale_m=np.broadcast_to(spread, offset_m.shape).copy())
    for number in numbers:
        mine = ride == number
        if mine.all():
            break
        location, _, spread = _judged_by(offset_m[~mine], level[~mine], ride[~mine], half, alike)
        out[mine], scale[mine] = shown_m[mine] - location, spread
    return Deviation(deviation_m=out, scale_m=scale)


def receiver_scale(own: Deviation, ride: Ints, receiver: Ints, correlation: Correlation) -> Floats:
    """Return the scale by which each trace strays by chance, with the noise of its receiver, shape (T, S).

    The others' scale says nothing of a receiver that is noisier than they are; judged by it alone its
    chance errors would look like stretches. So where there are several receivers the scale is multiplied by
    the receiver's MAD of deviation / scale where that is above 1, its square shrunk towards 1 by
    `RECEIVER_PRIOR` degrees of freedom against those of the MAD.

    Parameters
    ----------
    own : Deviation
        With the scale of each trace alone.
    ride : ndarray of int, shape (T,)
        Ride of each trace.
    receiver : ndarray of int, shape (T,)
        Receiver of each trace.
    correlation : Correlation
        How errors are alike along the way.

    Returns
    -------
    ndarray, shape (T, S)
    """
    factor = np.ones(len(ride))
    numbers = np.unique(receiver)
    shared = correlation.mean_square(0, own.scale_m.shape[1])
    for number in numbers if len(numbers) > 1 else []:
        mine = receiver == number
        ratio = np.abs(own.deviation_m[mine]) / own.scale_m[mine]
        if np.isfinite(ratio).any():
            dof = MAD_EFFICIENCY * len(np.unique(ride[mine])) / shared
            square = (MAD_TO_SD * float(np.nanmedian(ratio))) ** 2
            factor[mine] = np.sqrt(max(1.0, (RECEIVER_PRIOR + dof * square) / (RECEIVER_PRIOR + dof)))
    return own.scale_m * factor[:, None]


def _alike(correlation: Correlation, size: int, half: int) -> tuple[float, float]:
    """Return the mean squared correlation in a window, and the share of it that the whole route shares."""
    shared = max(float(np.mean(correlation.by_lag[: 2 * half + 1] ** 2)), 1e-3)
    return shared, min(correlation.mean_square(0, size) / shared, 1.0)


def _judged_by(
    others_m: Floats, level_m: Floats, ride: Ints, half: int, alike: tuple[float, float]
) -> tuple[Floats, Floats, Floats]:
    """Return location and weights of the others, and the chance scale of a further trace, shape (S,)."""
    say = ride_weights(np.isfinite(others_m), ride)
    local = running_mean(mad_scale(others_m, say), half)
    scale = never_small(local)
    together = majority(others_m, level_m, float(nan_median(scale[:, None])[0]))
    if together is not others_m:
        say = ride_weights(np.isfinite(together), ride)
        local = running_mean(mad_scale(together, say), half)
        others_m, scale = together, never_small(local)
    location, weight = bisquare_weights(others_m, scale, say)
    count = effective_count(others_m, say)
    shared, common = alike
    dof = np.maximum(MAD_EFFICIENCY * (count - 1.0) / shared, 0.2)
    moderated = moderated_variance(local**2, dof, common)
    return location, weight, np.sqrt(moderated * (1.0 + 1.0 / np.maximum(count, 1.0)))


def moderated_variance(variance: Floats, dof: Floats, common: float = 0.0) -> Floats:
    """Return variances shrunk towards their common level: (d0 s0^2 + d s^2) / (d0 + d), shape (S,).

    d0 by the moments of log s^2 (Smyth 2004, section 6.2); where the variances differ by no more than
    chance, d0 is infinite and all become s0^2. s0 is the mean of the standard deviations along the
    route, steadier than Smyth's with the few degrees of freedom here. ``common`` is the share of chance
    that all places have in common, because errors stay alike over the whole route: it moves the level
    and makes no place differ from another. NaN becomes s0^2.

    Parameters
    ----------
    variance : ndarray, shape (S,)
    dof : ndarray, shape (S,)
        Degrees of freedom of each.
    common : float
        Level to shrink to; 0: that of the variances themselves.

    Returns
    -------
    ndarray, shape (S,)
    """
    known = np.isfinite(variance) & (variance > 0)
    if not known.any():
        return np.full(len(variance), np.nan)
    s0 = float(np.mean(np.sqrt(variance[known])) ** 2)
    half, of = np.unique(dof[known] / 2.0, return_inverse=True)  # few are distinct
    e = np.log(variance[known]) - special.digamma(half)[of] + np.log(half)[of]
    excess = float(np.mean((e - e.mean()) ** 2) - (1.0 - common) * np.mean(special.polygamma(1, half)[of]))
    if excess <= 0:
        return np.full(len(variance), s0)
    d0 = 2.0 * inverse_trigamma(excess)
    return np.asarray((d0 * s0 + dof * np.where(known, variance, s0)) / (d0 + dof))


def inverse_trigamma(value: float) -> float:
    """Return x with trigamma(x) = ``value``, by Newton's method (Smyth 2004, appendix).

    Parameters
    ----------
    value : float
        Above 0.

    Returns
    -------
    float
    """
    x = 0.5 + 1.0 / value
    for _ in range(50):
        tri = float(special.polygamma(1, x))
        step = tri * (1.0 - tri / value) / float(special.polygamma(2, x))
        x += step
        if -step / x < 1e-8:
            break
    return float(x)


def other_rides(known: Bools, ride: Ints) -> Ints:
    """Return how many rides other than its own there are beside each trace, shape (T, S).

    ``known``, shape (T, S), says where a trace has a say. With one other ride nobody can tell which left.

    Parameters
    ----------
    known : ndarray of bool, shape (T, S)
        Where there is data.
    ride : ndarray of int, shape (T,)
        Ride of each trace.

    Returns
    -------
    ndarray of int, shape (T, S)
    """
    out = np.zeros(known.shape, dtype=np.int64)
    for number in np.unique(ride):
        here = known[ride == number].any(axis=0)
        out[ride != number] += here
    return out
