"""How much correlated series along a route are worth: degrees of freedom and errors of their means.

A figure pooled over stations and rides has fewer degrees of freedom than values: errors are alike over
hundreds of metres to kilometres. For two series u and v the covariance pooled over all cells varies as if
it had

    nu = (sum of weights)^2 / sum over pairs of cells of rho_u rho_v

degrees of freedom (Clifford, Richardson & Hémon 1989, Biometrics 45:123, and Dutilleul 1993, Biometrics
49:305, for the correlation of two series; with u = v it is the rule of Bayley & Hammersley 1946 for a
variance). Cells of different rides are independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.core.correlation import Correlation, fitted_correlation, lagged
from trackspread.core.distributions import t_quantile
from trackspread.core.medoid import evenly
from trackspread.core.posterior import Posterior, by_length, mixed, posterior
from trackspread.model import Estimate, Floats

MOST_ASKED = 40


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

    def correlation(self, residual_m: Floats, dof: float) -> Correlation:
        """Return how residuals, shape (R, S), are alike along the route."""
        return fitted_correlation(residual_m, self.heading_rad, self.step_m, dof)

    def posterior(self, values_m: Floats, own: float = 1.0, about: Floats | None = None) -> Posterior:
        """Return what values, shape (R, S), tell of their variance (see `posterior`)."""
        return posterior(values_m, self.heading_rad, self.step_m, own, about)


def centred(values: Floats) -> tuple[Floats, Floats]:
    """Return values (R, S) less their mean across rides, and the degrees of freedom left by station, (S,).

    Stations with fewer than two rides have none; their values become NaN.
    """
    known = np.isfinite(values)
    count = known.sum(axis=0)
    mean = np.divide(
        np.where(known, values, 0.0).sum(axis=0), count, out=np.zeros(len(count)), where=count > 0
    )
    return np.where(known & (count >= 2), values - mean, np.nan), np.maximum(count - 1.0, 0.0)


def variance_dof(known: Floats, u: Correlation, v: Correlation) -> float:
    """Return nu of a covariance of two series with data where ``known`` (R, S) is not 0, means known."""
    turning = u.turning or v.turning
    twice = np.exp(2j * turning * u.heading_rad)
    pairs = 0.5 * (lagged(known) + lagged(known * twice))
    return _squared_sum(known) / float(_over_lags(pairs, u.by_lag * v.by_lag))


def sum_share(weights: Floats, heading_rad: Floats, rho: Floats) -> Floats:
    """Return the variance of a weighted sum of errors as a share of the variance of one.

    ``weights``, (R, S), are 0 where there is no value; ``heading_rad``, (S,), is that of the line, or 0
    where errors keep to it; ``rho``, (..., S), the correlation by lag of one or of many processes.
    """
    return _over_lags(lagged(weights * np.exp(1j * heading_rad)), rho)


def candidate_shares(weights: Floats, along: Along) -> Floats:
    """Return `sum_share` under every candidate of `posterior`, (2K,), first those that keep to the earth."""
    rho = by_length(np.asarray(along.step_m * np.arange(weights.shape[1]), dtype=float))
    turned = along.heading_rad, np.zeros(weights.shape[1])
    return np.concatenate([mixed(sum_share(weights, heading, rho)) for heading in turned])


def _squared_sum(known: Floats) -> float:
    return float(np.sum(known)) ** 2


def _over_lags(pairs: Floats, by_lag: Floats) -> Floats:
    """Return the sum over all ordered pairs of cells of functions of their lag, (..., S)."""
    total = 2.0 * by_lag @ pairs - by_lag[..., 0] * pairs[0]
    return np.asarray(np.maximum(total, 1e-12 * pairs[0]))


def mean_estimate(values: Floats, along: Along, confidence: float) -> tuple[Estimate, float]:
    """Return the mean over all cells of (R, S) with its interval, and its standard error.

    Rides are few and nobody knows how far errors are alike along them: the interval is the posterior's
    (`posterior`), under each candidate Student's with the error of a mean of so correlated values. Of many
    rides `MOST_ASKED` are asked how errors are alike. The standard error is that of a normal value with the
    same interval.
    """
    known = np.isfinite(values)
    if known.sum() < 2:
        return Estimate(reason="too few stations"), float("nan")
    mean = float(np.mean(values[known]))
    if not np.ptp(values[known]) > 0.0:
        return Estimate(value=mean, low=mean, high=mean), 0.0
    ridden = np.flatnonzero(known.any(axis=1))
    asked = ridden[evenly(len(ridden), MOST_ASKED)]
    found = along.posterior(values[asked] - mean, about=np.ones((len(asked), values.shape[1])))
    top = 0.5 + confidence / 2.0
    half = float(found.error(candidate_shares(known / known.sum(), along), np.array([top]))[0])
    error = half / float(t_quantile(top, np.inf))
    return Estimate(value=mean, low=mean - half, high=mean + half), error
