"""Spread across traces and its interval, per station, segment, receiver and route."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.model import Bools, Estimate, Floats, Ints, Reason
from trackspread.model.arrays import kept
from trackspread.noise.correlation import Correlation
from trackspread.noise.posterior import Posterior, posterior, ride_lengths
from trackspread.noise.tails import Sample, sd_told
from trackspread.numeric.intervals import sd_factors
from trackspread.numeric.means import about_mean
from trackspread.numeric.robust import drawn_in, running_mean
from trackspread.statistics.deviation import moderated_variance

LEVEL_M = 100.0  # m to both sides over which the variance of a place is taken
LEAST = 1e-9  # degrees of freedom of one ride


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Variance:
    """Variance across traces at each station.

    ``variance_m2``, ``level_m2``, ``count``, ``dof``, shape (S,); NaN where fewer than two rides are there.
    ``level_m2`` is what of the variance belongs to the place and not to chance (`_place_level`). ``kinds`` is
    the posterior of kinds of error that the residuals tell, ``correlation`` their mean along the route.
    ``residual_m``, shape (T, S), is what all was taken from, ``receiver_m2``, shape (T,), the mean square of
    what each trace's receiver has of it, and ``ride``, shape (T,), the number of its ride.
    """

    variance_m2: Floats
    level_m2: Floats
    count: Ints
    dof: Floats
    correlation: Correlation
    kinds: Posterior
    residual_m: Floats
    receiver_m2: Floats
    ride: Ints


def across_rides(offset_m: Floats, ride: Ints) -> tuple[Floats, Floats]:
    """Return the variance across rides at each station, and within rides, shape (S,) each.

    Half the mean squared difference over all pairs of traces of *different* rides: an unbiased estimate of
    the variance of one trace (a U-statistic, Hoeffding 1948, Ann. Math. Stat. 19:293), whatever
    the traces of one ride share. With one trace a ride it is the usual variance with n - 1. The second
    figure is the same over pairs of one ride (NaN where there are none).

    Parameters
    ----------
    offset_m : ndarray, shape (T, S)
        Offsets from the centreline, metres, right positive, NaN unknown.
    ride : ndarray of int, shape (T,)
        Ride of each trace.

    Returns
    -------
    across_m2, within_m2 : ndarray, shape (S,)
    """
    known = np.isfinite(offset_m)
    level = float(np.mean(offset_m[known])) if known.any() else 0.0
    values = np.where(known, offset_m - level, 0.0)
    every, every_pairs = _pair_sums(values, known)
    same, same_pairs = np.zeros_like(every), np.zeros_like(every_pairs)
    for number in np.unique(ride):
        mine = ride == number
        if mine.sum() > 1:
            total, pairs = _pair_sums(values[mine], known[mine])
            same, same_pairs = same + total, same_pairs + pairs
    apart_pairs = every_pairs - same_pairs
    across = _over(every - same, 2.0 * apart_pairs)
    within = _over(same, 2.0 * same_pairs)
    return np.maximum(across, 0.0), np.maximum(within, 0.0)


def _over(total: Floats, number: Floats) -> Floats:
    """Return the quotient, NaN where the number is 0."""
    quotient = np.full(len(total), np.nan)
    return np.asarray(np.divide(total, number, out=quotient, where=number > 0.0))


def _pair_sums(values: Floats, known: Bools) -> tuple[Floats, Floats]:
    """Return the sum of squared differences over all pairs down the first axis, and the number of pairs."""
    n = known.sum(axis=0).astype(float)
    centre = values.sum(axis=0) / np.maximum(n, 1.0)
    squares = np.where(known, (values - centre) ** 2, 0.0).sum(axis=0)
    return n * squares, n * (n - 1.0) / 2.0


def variance(
    offset_m: Floats,
    span_m: Floats,
    left_out: Bools,
    ride: Ints,
    receiver: Ints,
    heading_rad: Floats,
    step_m: float,
) -> Variance:
    """Return the variance across traces at each station with what its interval needs.

    Parameters
    ----------
    offset_m, span_m : ndarray, shape (T, S)
        Offsets, and the distance of the two logged points each was interpolated from; NaN where it was not.
    left_out : ndarray of bool, shape (T, S)
        Stations in stretches and settling phases.
    ride, receiver : ndarray of int, shape (T,)
        Numbers of ride and receiver of each trace.
    heading_rad : ndarray, shape (S,)
        Direction of the line.
    step_m : float
        Distance of stations.

    Returns
    -------
    Variance

    Notes
    -----
    Degrees of freedom at one station: between rides - 1, where the traces of a ride are alike, and
    traces - 1, where they are not (by the square of their correlation), divided by
    n sum v^2 / (sum v)^2 for the unequal variances v of several receivers (Satterthwaite 1946).
    Interpolating between points ``span`` apart takes a third of 1 - rho(span) off the variance; that is
    put back.
    """
    used = kept(offset_m, left_out)
    across, within = across_rides(used, ride)
    known = np.isfinite(used)
    count = known.sum(axis=0)
    rides = _distinct(known, ride)
    residual = about_mean(used, least=2)
    alike = _likeness(across, within)
    between, among = np.maximum(rides - 1.0, LEAST), np.maximum(count - 1.0, LEAST)
    dof = 1.0 / (alike**2 / between + (1.0 - alike**2) / among)
    receiver_m2 = _by_receiver(residual, receiver)
    dof = dof / _inequality(receiver_m2)
    several = count > 1
    own = min(float(dof[several].sum() / max(count[several].sum(), 1)), 1.0)
    kinds = posterior(drawn_in(_standard(residual, receiver_m2)), heading_rad, step_m, own)
    correlation = kinds.correlation(heading_rad, step_m)
    taken = (1.0 - correlation.at(np.nan_to_num(span_m, posinf=0.0))) / 3.0
    left = 1.0 - np.where(known, taken, 0.0).sum(axis=0) / np.maximum(count, 1)
    enough = rides >= 2
    found = np.where(enough, across / left, np.nan)
    dof = np.where(enough, dof, np.nan)
    return Variance(
        variance_m2=found,
        level_m2=_place_level(found, dof, correlation),
        count=count,
        dof=dof,
        correlation=correlation,
        kinds=kinds,
        residual_m=residual,
        receiver_m2=receiver_m2,
        ride=ride,
    )


def _place_level(variance_m2: Floats, dof: Floats, correlation: Correlation) -> Floats:
    """Return the variance that each place has of its own, shape (S,): in a gorge more, under open sky less.

    The mean over `LEVEL_M` to both sides, shrunk towards the route's as far as chance explains how places
    differ (`moderated_variance`, Smyth 2004): everywhere the same where they differ by no more.
    """
    half = max(1, round(LEVEL_M / correlation.step_m))
    shared = float(np.mean(correlation.by_lag[: 2 * half + 1] ** 2))
    local_dof = np.maximum(np.nan_to_num(dof, nan=1.0) / max(shared, 1e-3), 0.2)
    common = min(correlation.mean_square(0, len(variance_m2)) / max(shared, 1e-3), 1.0)
    return moderated_variance(running_mean(variance_m2, half), local_dof, common)


def _distinct(known: Bools, ride: Ints) -> Floats:
    """Return the number of rides with data at each station."""
    each = [known[ride == number].any(axis=0) for number in np.unique(ride)]
    return np.asarray(np.sum(each, axis=0), dtype=float)


def _likeness(across: Floats, within: Floats) -> float:
    """Return the correlation of the traces of one ride, 0 … 1; 0 where each ride has one trace."""
    both = np.isfinite(across) & np.isfinite(within)
    total = float(np.sum(across[both]))
    return float(np.clip(1.0 - np.sum(within[both]) / total, 0.0, 1.0)) if total > 0 else 0.0


def _by_receiver(residual_m: Floats, receiver: Ints) -> Floats:
    """Return the mean square residual of the receiver of each trace, shape (T,)."""
    numbers, own = np.unique(receiver, return_inverse=True)
    return np.array([_mean_square(residual_m[receiver == number]) for number in numbers])[own]


def _inequality(variances: Floats) -> float:
    """Return n sum v^2 / (sum v)^2, by which unequal variances take from the degrees of freedom."""
    known = variances[np.isfinite(variances)]
    mean = float(np.mean(known)) if len(known) else 0.0
    return float(np.mean((known / mean) ** 2)) if mean > 0.0 else 1.0


def _mean_square(values: Floats) -> float:
    known = np.isfinite(values)
    return float(np.mean(values[known] ** 2)) if known.any() else float("nan")


def pooled(
    spread: Variance, first: int, end: int, confidence: float, shared: float | None = None
) -> Estimate:
    """Return the spread over the stations ``first:end`` with its interval.

    Root of the mean variance; interval by chi-square with nu / mean(rho^2) degrees of freedom, the mean
    taken over all pairs of stations: the variance of a mean of correlated chi-squares
    (Satterthwaite 1946; Bayley & Hammersley 1946 for the mean over lags), and divided by
    mean(v^2) / mean(v)^2 for places with unequal variances v (Satterthwaite 1946).

    Parameters
    ----------
    spread : Variance
        Of all traces.
    first : int
        First station.
    end : int
        Station behind the last.
    confidence : float
        Of the interval, 0 to 1.
    shared : float, optional
        mean(rho^2) of these stations, where it is known already.

    Returns
    -------
    Estimate
    """
    part = spread.variance_m2[first:end]
    known = np.isfinite(part)
    if not known.any():
        return Estimate(reason=Reason("one_ride_here"))
    value = float(np.sqrt(np.mean(part[known])))
    dof = float(np.mean(spread.dof[first:end][known]))
    dof /= spread.correlation.mean_square(first, end) if shared is None else shared
    dof /= _inequality(spread.level_m2[first:end][known])
    low, high = sd_factors(round(dof, 2), confidence)
    return Estimate(value=value, low=value * low, high=value * high)


def of_route(spread: Variance, confidence: float, *, bursts: bool = False) -> Estimate:
    """Return the spread over the whole route with an interval that holds that of the process.

    Root of the mean variance, with the ends of `sd_told`: rides are what is sampled, their errors may have
    heavy tails, and how far errors are alike is not known either (`posterior`).

    Parameters
    ----------
    spread : Variance
    confidence : float
    bursts : bool
        Whether nothing was left out, so that bursts may be there that these few rides did not show.

    Returns
    -------
    Estimate
    """
    known = np.isfinite(spread.variance_m2)
    if not known.any():
        return Estimate(reason=Reason("one_ride_here"))
    value = float(np.sqrt(np.mean(spread.variance_m2[known])))
    standard = _standard(spread.residual_m, spread.receiver_m2)
    there = np.isfinite(standard).any(axis=1)
    ride, along = spread.ride[there], spread.correlation
    sample = Sample(
        error_m=standard[there],
        ride=ride,
        lengths=ride_lengths(spread.kinds, np.isfinite(spread.residual_m), along.heading_rad, along.step_m),
        own=float(np.mean(spread.dof[known])) / len(np.unique(ride)),
        step_m=along.step_m,
    )
    return sd_told(value, [sample], confidence, bursts)


def _standard(residual_m: Floats, receiver_m2: Floats) -> Floats:
    """Return residuals, (T, S), in units of their receivers."""
    return np.asarray(residual_m / np.sqrt(np.where(receiver_m2 > 0.0, receiver_m2, 1.0))[:, None])


def running(spread: Variance, window_m: float, confidence: float) -> tuple[Floats, Floats, Floats]:
    """Return spread, low and high in a running window, shape (S,) each.

    Parameters
    ----------
    spread : Variance
        Of all traces.
    window_m : float
        Length of the window, metres.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    value_m, low_m, high_m : ndarray, shape (S,)
    """
    size = len(spread.variance_m2)
    half = max(1, round(window_m / spread.correlation.step_m / 2.0))
    centres = np.unique(np.minimum(np.arange(0, size + half, max(1, half // 2)), size - 1))
    shared = spread.correlation.mean_squares(
        np.maximum(0, centres - half), np.minimum(size, centres + half + 1)
    )
    value = np.sqrt(running_mean(spread.variance_m2, half))
    dof = running_mean(spread.dof, half) / np.interp(np.arange(size), centres, shared)
    known, none = np.isfinite(spread.variance_m2), (np.nan, np.nan)
    value = np.where(known, value, np.nan)
    rounded = np.where(known, np.round(dof, 1), np.nan).tolist()
    factors = np.array([sd_factors(each, confidence) if each > 0 else none for each in rounded])
    return value, value * factors[:, 0], value * factors[:, 1]


def percentile_95(residual_m: Floats, count: Ints) -> float:
    """Return the 95th percentile of the absolute residual times sqrt(n / (n - 1)), for the mean removed.

    Parameters
    ----------
    residual_m : ndarray, shape (T, S)
        Offsets about their mean across traces, metres, NaN unknown.
    count : ndarray of int, shape (S,)
        Traces at each station.

    Returns
    -------
    float
    """
    scale = np.sqrt(count / np.maximum(count - 1.0, 1.0))
    values = np.abs(residual_m * scale)[np.isfinite(residual_m) & (count > 1)]
    return float(np.quantile(values, 0.95)) if len(values) else float("nan")
