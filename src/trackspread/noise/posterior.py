"""What a few rides tell of a standard deviation when nobody knows how far along the route errors are alike.

The interval by chi-square needs the number of independent lengths, hence the correlation of the errors; from
three rides that is hardly better known than the spread itself, and the two hang together: traces that happen
to lie near each other over the whole route seem to have small *and* short errors. Here both are unknown at
once: the likelihood of the residuals under every kind of error (`gauss_markov`), times a prior, gives the
posterior of the standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trackspread.model import Bools, Floats, Ints
from trackspread.noise.correlation import Correlation, lagged
from trackspread.noise.gauss_markov import LENGTH_UNIT_M, Instants, grid, weights, whitened
from trackspread.numeric.distributions import t_mixture_quantile
from trackspread.numeric.runs import evenly

MOST_RIDES, MOST_STATIONS = 40, 64  # that are asked, evenly; bounds the work
PAIR_M = 30.0  # m between the two stations of a pair
LEAST_M2 = 1e-12  # m², no smaller variance
LIKELY = np.array([1.0, 3.0, 5.0]) / 6.0
"""Shares of the posterior at which the number of independent values is taken."""
NEGLIGIBLE = 1e-6  # weight that counts as nothing


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Posterior:
    """Posterior of a variance: ``square_m2`` / chi-square(``dof``) mixed with ``weight``, shapes (K,)."""

    weight: Floats
    square_m2: Floats
    dof: Floats

    def error(self, share: Floats, shares: Floats) -> Floats:
        """Return the errors below which ``shares``, (Q,), of the posterior of a mean or a slope lie.

        Its variance is ``share``, (K,), of one value's: a mixture of Student's t with ``dof`` degrees of
        freedom.
        """
        some = self.weight > NEGLIGIBLE
        weight, dof = self.weight[some] / self.weight[some].sum(), self.dof[some]
        scale = np.sqrt(share[some] * self.square_m2[some] / dof)
        return t_mixture_quantile(shares, weight, np.zeros(len(dof)), scale, dof)

    def correlation(self, heading_rad: Floats, step_m: float) -> Correlation:
        """Return the mean correlation at stations of directions (S,), ``step_m`` apart.

        Of errors that keep to the earth and errors that keep to the line the likelier ones are taken.
        """
        earth, line = np.split(self.weight, 2)
        turning = bool(earth.sum() >= line.sum())
        lag = step_m * np.arange(len(heading_rad)) / LENGTH_UNIT_M
        by_lag = grid().mean_correlation(earth if turning else line, lag)
        return Correlation(by_lag=by_lag, heading_rad=heading_rad, turning=turning, step_m=step_m)


def posterior(
    values_m: Floats, heading_rad: Floats, step_m: float, own: float = 1.0, about: Floats | None = None
) -> Posterior:
    """Return the posterior of the variance of one value.

    Parameters
    ----------
    values_m : ndarray, shape (T, S)
        Values at each station, less what is known of them; NaN where there are none.
    heading_rad : ndarray, shape (S,)
        Direction of the line.
    step_m : float
        Distance of stations.
    own : float
        Degrees of freedom of each value: (T - 1) / T where the mean across traces was taken off.
    about : ndarray, shape (T, S), optional
        What values contain an unknown multiple of: ones for a level, another series for a slope.

    Returns
    -------
    Posterior

    Notes
    -----
    Rows y are Gaussian with covariance v R, R that of a kind of error. With N = ``own`` times the number
    of values and Q = sum of y' R^-1 y, v is Q / chi-square(N), and `weights` says how likely the kind is.
    With an unknown multiple of x, A = sum of x' R^-1 x and B = sum of x' R^-1 y, Q is less by B^2 / A, |R| is
    multiplied by A and N less by one (restricted likelihood: Patterson & Thompson 1971, Biometrika 58:545;
    from memory). The first K kinds keep to the earth, the others to the line. Of many rides
    `MOST_RIDES` are asked, of many stations `MOST_STATIONS` in pairs.
    """
    series = [values_m] if about is None else [values_m, about]
    columns, stations = _asked(np.stack(series, axis=2), step_m)
    known = np.isfinite(columns).all(axis=2)
    gram, log_det = _both_ways(columns, heading_rad[stations], step_m * stations / LENGTH_UNIT_M)
    dof = own * float(known.sum())
    log_det = own * log_det
    square = gram[:, 0, 0]
    if about is not None:
        power = np.maximum(gram[:, 1, 1], LEAST_M2)
        square, log_det = square - gram[:, 0, 1] ** 2 / power, log_det + np.log(power)
        dof -= 1.0
    square = np.maximum(square, LEAST_M2)
    rides = own * float(known.sum()) / max(known.shape[1], 1)
    prior = np.tile(grid().prior, 2)
    return Posterior(
        weight=weights(prior, log_det, square, dof, rides),
        square_m2=square,
        dof=np.full(len(square), dof),
    )


def _asked(columns: Floats, step_m: float) -> tuple[Floats, Ints]:
    """Return the columns, (T, s, c), of the rides and stations that are asked, and which stations, (s,).

    All stations; of too many, even pairs of near ones: near ones tell of short errors, far ones of long.
    """
    there = np.asarray(np.isfinite(columns).all(axis=2))
    rides = np.flatnonzero(there.any(axis=1))
    stations = np.flatnonzero(there.any(axis=0))
    if len(stations) > MOST_STATIONS:
        near = max(1, round(PAIR_M / step_m))
        first = np.linspace(stations[0], stations[-1] - near, MOST_STATIONS // 2).round().astype(np.int64)
        stations = np.unique(np.concatenate([first, first + near]))
    some = rides[evenly(len(rides), MOST_RIDES)]
    return columns[some][:, stations], stations


def _both_ways(columns: Floats, heading_rad: Floats, at: Instants) -> tuple[Floats, Floats]:
    """Return X' R^-1 X, (2K, c, c), and log |R|, (2K,), of all rows: those of the earth, then of the line."""
    kinds, rows = grid(), columns.shape[:2]
    earth = np.stack([np.cos(heading_rad), np.sin(heading_rad)], axis=1)
    line = np.ones((len(heading_rad), 1))
    none = np.zeros((1, *rows))
    found = []
    for axes in (earth, line):
        direction = np.broadcast_to(axes, (*rows, axes.shape[1]))
        found.append(whitened(columns, none, direction, at, kinds))
    gram, log_det = (np.concatenate(part).sum(axis=1) for part in zip(*found, strict=True))
    return gram, log_det


@lru_cache(maxsize=1)
def _squared(size: int, step_m: float) -> Floats:
    """Return the square of rho at every lag, (K, S): the same for all figures of a route."""
    return np.asarray(grid().correlation(np.arange(size) * step_m / LENGTH_UNIT_M) ** 2)


def independent(known: Bools, heading_rad: Floats, step_m: float) -> Floats:
    """Return how many independent values stand behind the variance of all (T, S), by kind, (2K,).

    n^2 / sum over pairs of rho^2 (Bayley & Hammersley 1946, J. R. Stat. Soc. Suppl. 8:184).

    Parameters
    ----------
    known : ndarray of bool, shape (T, S)
        Where there is data.
    heading_rad : ndarray, shape (S,)
        Direction of the line at each station, radians.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    ndarray, shape (2K,)
    """
    lag, alike = np.arange(known.shape[1]), _squared(known.shape[1], step_m)
    pairs = lagged(known.astype(float))
    turned = 0.5 * (pairs + lagged(known * np.exp(2j * heading_rad)))
    twice = np.where(lag > 0, 2.0, 1.0)
    squared = np.concatenate([alike @ (twice * turned), alike @ (twice * pairs)])
    return np.asarray(pairs[0] ** 2 / squared)


def ride_lengths(kinds: Posterior, known: Bools, heading_rad: Floats, step_m: float) -> Floats:
    """Return how many independent values one trace is worth, at `LIKELY` of the posterior, shape (3,).

    Parameters
    ----------
    kinds : Posterior
    known, heading_rad, step_m
        As for `independent`.

    Returns
    -------
    ndarray, shape (3,)
    """
    traces = max(int(known.any(axis=1).sum()), 1)
    worth = independent(known, heading_rad, step_m) / traces
    order = np.argsort(worth)
    below = np.cumsum(kinds.weight[order])
    return worth[order][np.minimum(np.searchsorted(below, LIKELY), len(order) - 1)]
