"""Robust location and scale across traces, station by station, on arrays with gaps."""

from __future__ import annotations

import numpy as np

from trackspread.model import Bools, Floats, Ints

MAD_TO_SD = 1.482602218505602
"""1 / Phi^-1(3/4): the MAD of a normal sample times this estimates its standard deviation."""

_MAD_FACTORS = np.array([np.nan, np.nan, 1.196, 1.495, 1.363, 1.206, 1.200, 1.140, 1.129, 1.107])
BISQUARE_TUNING = 4.685  # scales: 95 % efficiency at the normal law (Holland & Welsch 1977)
BISQUARE_STEPS = 8  # turns of reweighting
APART_SCALES = 3.0  # standard deviations of a gap beyond which traces have no say
CLIPPED = 2.5  # robust standard deviations to which `drawn_in` draws
LEAST_MAJORITY = 5  # traces that must stand together for that


def mad_factor(n: Floats) -> Floats:
    """Return the small-sample factor b_n of the MAD for samples of ``n``; NaN below two.

    Croux & Rousseeuw (1992), COMPSTAT: table for n = 2 … 9, n / (n - 0.8) above.

    Parameters
    ----------
    n : ndarray
        Sizes of samples.

    Returns
    -------
    ndarray
        As `n`.
    """
    n = np.asarray(n, dtype=float)
    table = _MAD_FACTORS[np.clip(n, 0, 9).astype(int)]
    return np.where(n > 9, n / np.maximum(n - 0.8, 0.2), table)


def nan_median(values: Floats, weight: Floats | None = None) -> Floats:
    """Return the median down the first axis, NaN where all are NaN (one sort; NaN sorts last).

    With a ``weight`` for each value half of the weight lies
    to either side.

    Parameters
    ----------
    values : ndarray, shape (T, S)
        NaN = unknown.
    weight : ndarray, shape (T, S), optional
        Weights, 0 or more; all equal where not given.

    Returns
    -------
    ndarray, shape (S,)
    """
    if weight is not None:
        return _weighted_median(values, weight)
    ordered = np.sort(values, axis=0)
    count = np.isfinite(values).sum(axis=0)
    low = np.maximum(count - 1, 0) // 2
    pair = np.take_along_axis(ordered, np.stack([low, np.minimum(count // 2, len(values) - 1)]), axis=0)
    return np.asarray(0.5 * (pair[0] + pair[1]))


def _weighted_median(values: Floats, weight: Floats) -> Floats:
    order = np.argsort(values, axis=0)
    ordered = np.take_along_axis(values, order, axis=0)
    known = np.isfinite(ordered)
    below = np.cumsum(np.where(known, np.take_along_axis(weight, order, axis=0), 0.0), axis=0)
    half = 0.5 * below[-1]
    low, high = np.argmax(below >= half - 1e-9, axis=0), np.argmax(below > half + 1e-9, axis=0)
    pair = np.take_along_axis(ordered, np.stack([low, high]), axis=0)
    return np.where(known.any(axis=0), 0.5 * (pair[0] + pair[1]), np.nan)


def effective_count(values: Floats, weight: Floats | None = None) -> Floats:
    """Return how many equal values the known ones are worth, shape (S,): (sum w)^2 / sum w^2 (Kish 1965).

    Parameters
    ----------
    values : ndarray, shape (T, S)
        NaN = unknown.
    weight : ndarray, shape (T, S), optional
        Weights, 0 or more; all equal where not given.

    Returns
    -------
    ndarray, shape (S,)
    """
    known = np.isfinite(values)
    if weight is None:
        return np.asarray(known.sum(axis=0), dtype=float)
    own = np.where(known, weight, 0.0)
    square = (own**2).sum(axis=0)
    worth = np.divide(own.sum(axis=0) ** 2, square, out=np.zeros(len(square)), where=square > 0)
    return np.asarray(worth)


def ride_weights(known: Bools, ride: Ints) -> Floats | None:
    """Return the share that each trace has of its ride's one say, shape (T, S); None where all are equal.

    Parameters
    ----------
    known : ndarray of bool, shape (T, S)
        Where there is data.
    ride : ndarray of int, shape (T,)
        Ride of each trace.

    Returns
    -------
    ndarray, shape (T, S), or None
    """
    if len(np.unique(ride)) == len(ride):
        return None
    same = (ride[:, None] == ride[None, :]).astype(float)
    aboard = np.where(known, same @ known, 0.0)
    if np.all((aboard == aboard.max(axis=0)) | ~known):
        return None
    return np.divide(1.0, aboard, out=np.zeros(aboard.shape), where=known)


def mad_scale(values: Floats, weight: Floats | None = None) -> Floats:
    """Return the standard deviation by the MAD, unbiased for normal samples, down the first axis.

    ``values`` has shape (T, S); columns with fewer than two values give NaN. A ``weight`` for each value
    makes both medians weighted ones.

    Parameters
    ----------
    values : ndarray, shape (T, S)
        NaN = unknown.
    weight : ndarray, shape (T, S), optional
        Weights, 0 or more; all equal where not given.

    Returns
    -------
    ndarray, shape (S,)
    """
    count = np.round(effective_count(values, weight))
    count = np.where(np.isfinite(values).sum(axis=0) < 2, 0.0, np.maximum(count, 2.0))
    mad = nan_median(np.abs(values - nan_median(values, weight)), weight)
    return np.asarray(MAD_TO_SD * mad_factor(count) * mad)


def drawn_in(values: Floats) -> Floats:
    """Return values with those beyond `CLIPPED` robust standard deviations drawn in to that (winsorised).

    A burst, which holds most of the variance, would else say how long all errors last.

    Parameters
    ----------
    values : ndarray
        About 0, NaN unknown.

    Returns
    -------
    ndarray
    """
    known = np.abs(values[np.isfinite(values)])
    most = CLIPPED * MAD_TO_SD * float(np.median(known)) if len(known) else 0.0
    return np.asarray(np.clip(values, -most, most))


def running_mean(values: Floats, half_width: int) -> Floats:
    """Return the mean over up to ``2 half_width + 1`` neighbours along the last axis, NaN left out.

    Parameters
    ----------
    values : ndarray, shape (..., S)
        NaN = unknown.
    half_width : int
        Neighbours on each side.

    Returns
    -------
    ndarray, shape (..., S)
    """
    known = np.isfinite(values)
    total = _running_sum(np.where(known, values, 0.0), half_width)
    count = _running_sum(known.astype(float), half_width)
    return np.asarray(np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0.5))


def _running_sum(values: Floats, half_width: int) -> Floats:
    size = values.shape[-1]
    cumulative = np.concatenate([np.zeros((*values.shape[:-1], 1)), np.cumsum(values, axis=-1)], axis=-1)
    at = np.arange(size)
    right, left = np.minimum(at + half_width + 1, size), np.maximum(at - half_width, 0)
    return np.asarray(cumulative[..., right] - cumulative[..., left])


def pooled_scale(values: Floats, half_width: int, weight: Floats | None = None) -> Floats:
    """Return a robust scale at each station, pooled over its neighbours, shape (S,).

    The MAD scale of each station is averaged over ``2 half_width + 1`` stations; it is never taken
    as less than half of the whole route's, so that a station where four traces happen to agree does
    not throw the fifth out.

    Parameters
    ----------
    values : ndarray, shape (T, S)
        NaN = unknown.
    half_width : int
        Neighbours on each side.
    weight : ndarray, shape (T, S), optional
        Weights, 0 or more; all equal where not given.

    Returns
    -------
    ndarray, shape (S,)
    """
    return never_small(running_mean(mad_scale(values, weight), half_width))


def never_small(own: Floats) -> Floats:
    """Return scales along a route, shape (S,), none below half of the whole route's (`pooled_scale`).

    Parameters
    ----------
    own : ndarray, shape (S,)
        NaN = unknown.

    Returns
    -------
    ndarray, shape (S,)
    """
    if not np.isfinite(own).any():
        return np.full(len(own), np.nan)
    floor = 0.5 * float(np.nanmedian(own))
    return np.fmax(own, max(floor, 1e-3))


def majority(values: Floats, level: Floats, scale: float) -> Floats:
    """Return values, shape (T, S), with NaN for the traces that stand apart from most as one group.

    Four in ten on one side make the MAD three times too large, and are then taken for chance (masking,
    Rousseeuw & Leroy 1987). A gap tells them: at a station the traces beyond it, two or more but less than
    half, have no say where it is wider than `APART_SCALES` times both the standard deviation of the others
    (so that restless places have no such groups) and ``scale``, that of the route. With fewer than
    `LEAST_MAJORITY` others theirs is known too poorly. By chance that happens in 0.01 % of normal samples at
    most, and in 4 % where all traces are three times as restless as usual.

    Parameters
    ----------
    level : ndarray, shape (T, S)
        Running means of the values, in which gaps are sought; NaN where the trace has no say.
    scale : float
        Standard deviation that is usual on the route.
    values : ndarray, shape (T, S)
        NaN = unknown.

    Returns
    -------
    ndarray
    """
    gaps = np.diff(np.sort(level, axis=0), axis=0)
    at = np.flatnonzero((gaps > APART_SCALES * scale).sum(axis=0))
    if len(at) == 0:
        return values
    out, several = values.copy(), np.arange(1, len(values))[:, None]
    count = np.isfinite(level[:, at]).sum(axis=0)
    most = (2 * several > count) & (several <= count - 2) & (several >= LEAST_MAJORITY)
    for side in (1.0, -1.0):
        ordered = np.sort(side * level[:, at], axis=0)
        high = ordered - ordered[0]
        total, square = (np.cumsum(power, axis=0)[:-1] for power in (high, high**2))
        variance = (square - total**2 / several) / np.maximum(several - 1, 1)
        width = APART_SCALES * np.sqrt(np.maximum(variance, scale**2))
        edge = np.where(most & (np.diff(high, axis=0) > width), ordered[:-1], np.inf).min(axis=0)
        out[:, at] = np.where(side * level[:, at] > edge, np.nan, out[:, at])
    return out


def bisquare_location(values: Floats, scale: Floats, prior: Floats | None = None) -> Floats:
    """Return Tukey's bisquare location down the first axis, shape (S,), NaN where no value is.

    Beaton & Tukey (1974), Technometrics 16:147; tuning 4.685 (95 % efficiency at the normal), started
    from the median, iterated with the given ``scale``, shape (S,).

    Parameters
    ----------
    values : ndarray, shape (T, S)
        NaN = unknown.
    scale : ndarray, shape (S,)
        Robust scale at each station.
    prior : ndarray, shape (T, S), optional
        What each value weighs before it is judged.

    Returns
    -------
    ndarray, shape (S,)
    """
    return bisquare_weights(values, scale, prior)[0]


def bisquare_weights(values: Floats, scale: Floats, prior: Floats | None = None) -> tuple[Floats, Floats]:
    """Return location, shape (S,), and weights, shape (T, S), of the bisquare (see above).

    ``prior``, shape (T, S), is what each value weighs before it is judged.

    Parameters
    ----------
    values : ndarray, shape (T, S)
        NaN = unknown.
    scale : ndarray, shape (S,)
        Robust scale at each station.
    prior : ndarray, shape (T, S), optional
        Weights beside those of the bisquare.

    Returns
    -------
    location : ndarray, shape (S,)
    weights : ndarray, shape (T, S)
    """
    known = np.isfinite(values)
    filled = np.where(known, values, 0.0)
    location = nan_median(values, prior)
    own = known.astype(float) if prior is None else np.where(known, prior, 0.0)
    width = BISQUARE_TUNING * np.where(np.isfinite(scale) & (scale > 0), scale, np.inf)
    weight, u = own, np.empty_like(own)
    for _ in range(BISQUARE_STEPS):
        np.divide(np.subtract(filled, location, out=u), width, out=u)
        np.fmax(np.subtract(1.0, np.square(u, out=u), out=u), 0.0, out=u)
        weight = own * np.square(u, out=u)
        total = weight.sum(axis=0)
        said = np.multiply(weight, filled, out=u).sum(axis=0)
        mean = np.divide(said, total, out=location.copy(), where=total > 0)
        done = np.nanmax(np.abs(mean - location), initial=0.0) < 1e-4
        location = mean
        if done:
            break
    return location, weight
