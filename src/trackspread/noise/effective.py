"""How much correlated series along a route are worth: the errors of their means and slopes.

A figure pooled over stations and rides is known less well than its number of values says: errors are alike
over hundreds of metres to kilometres, and how far is not known (`posterior`). Cells of different rides are
independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.model import Estimate, Floats, Reason
from trackspread.noise.correlation import lagged
from trackspread.noise.gauss_markov import LENGTH_UNIT_M, grid
from trackspread.noise.posterior import Posterior, posterior
from trackspread.numeric.distributions import t_quantile
from trackspread.numeric.means import about_mean


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Along:
    """The stations of a route: their distance and the heading of the line there, shape (S,)."""

    step_m: float
    heading_rad: Floats

    @classmethod
    def of(cls, station_m: Floats, heading_rad: Floats | None = None) -> Along:
        """Return it for stations (S,); without headings the line counts as straight."""
        steps = max(len(station_m) - 1, 1)
        heading = np.zeros(len(station_m)) if heading_rad is None else np.asarray(heading_rad, dtype=float)
        return cls(step_m=float(station_m[-1] - station_m[0]) / steps, heading_rad=heading)

    def posterior(self, values_m: Floats, own: float = 1.0, about: Floats | None = None) -> Posterior:
        """Return what values, shape (R, S), tell of their variance (`posterior`)."""
        return posterior(values_m, self.heading_rad, self.step_m, own, about)


def around(value: float, low: float, high: float) -> Estimate:
    """Return an estimate with the interval of a posterior, which holds the value in any case.

    Parameters
    ----------
    value : float
        Estimate.
    low : float
        Lower end of the interval.
    high : float
        Upper end.

    Returns
    -------
    Estimate
    """
    return Estimate(value=value, low=min(float(low), value), high=max(float(high), value))


def lengths_of(length_m: float, correlation_m: float, step_m: float) -> float:
    """Return the independent lengths in one ride, at least one: its length over the correlation length.

    Parameters
    ----------
    length_m : float
        Of the route, metres.
    correlation_m : float
        Over which errors stay alike, metres.
    step_m : float
        Between stations: errors do not stay alike over less.

    Returns
    -------
    float
    """
    return max(length_m / max(correlation_m, step_m), 1.0)


def centred(values: Floats) -> tuple[Floats, Floats]:
    """Return values (R, S) less their mean across rides, and the degrees of freedom left by station, (S,).

    Stations with fewer than two rides have none; their values become NaN.

    Parameters
    ----------
    values : ndarray, shape (R, S)
        NaN = unknown.

    Returns
    -------
    residual : ndarray, shape (R, S)
    dof : ndarray, shape (S,)
    """
    count = np.isfinite(values).sum(axis=0)
    return about_mean(values, least=2), np.maximum(count - 1.0, 0.0)


def sum_share(weights: Floats, heading_rad: Floats, rho: Floats) -> Floats:
    """Return the variance of a weighted sum of errors as a share of the variance of one.

    ``weights``, (R, S), are 0 where there is no value; ``heading_rad``, (S,), is that of the line, or 0
    where errors keep to it; ``rho``, (..., S), the correlation by lag of one or of many processes.

    Parameters
    ----------
    weights : ndarray, shape (R, S)
        0 where there is no value.
    heading_rad : ndarray, shape (S,)
        Direction of the line at each station, radians.
    rho : ndarray, shape (..., S)
        Correlation by lag, of one process or of many.

    Returns
    -------
    ndarray, shape (...,)
    """
    pairs = lagged(weights * np.exp(1j * heading_rad))
    total = 2.0 * rho @ pairs - rho[..., 0] * pairs[0]
    return np.asarray(np.maximum(total, 1e-12 * pairs[0]))


def kind_shares(weights: Floats, along: Along) -> Floats:
    """Return `sum_share` under every kind of error, (2K,), first those that keep to the earth.

    Parameters
    ----------
    weights : ndarray, shape (R, S)
        0 where there is no value.
    along : Along
        Step and direction of the line.

    Returns
    -------
    ndarray, shape (2K,)
    """
    rho = grid().correlation(along.step_m * np.arange(weights.shape[1]) / LENGTH_UNIT_M)
    turned = along.heading_rad, np.zeros(weights.shape[1])
    return np.concatenate([sum_share(weights, heading, rho) for heading in turned])


def mean_estimate(values: Floats, along: Along, confidence: float) -> tuple[Estimate, float]:
    """Return the mean over all cells of (R, S) with its interval, and its standard error.

    Rides are few and nobody knows how far errors are alike along them: the interval is the posterior's
    (`posterior`), under each kind Student's with the error of a mean of so correlated values. The standard
    error is that of a normal value with the same interval.

    Parameters
    ----------
    values : ndarray, shape (R, S)
        NaN = unknown.
    along : Along
        Step and direction of the line.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    mean : Estimate
    error : float
    """
    known = np.isfinite(values)
    if known.sum() < 2:
        return Estimate(reason=Reason("few_stations")), float("nan")
    mean = float(np.mean(values[known]))
    if not np.ptp(values[known]) > 0.0:
        return Estimate(value=mean, low=mean, high=mean), 0.0
    found = along.posterior(values - mean, about=np.ones(values.shape))
    top = 0.5 + confidence / 2.0
    half = float(found.error(kind_shares(known / known.sum(), along), np.array([top]))[0])
    error = half / float(t_quantile(top, np.inf))
    return Estimate(value=mean, low=mean - half, high=mean + half), error
