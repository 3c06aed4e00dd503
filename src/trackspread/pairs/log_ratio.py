"""The logarithm of the ratio of two receivers' standard deviations, the ride being the unit.

Each ride gives the logarithm of a mean square for each receiver, and rides are samples (Bartlett & Kendall
1946, J. R. Stat. Soc. Suppl. 8:128). On shared rides what the two have in common is taken off (Grubbs 1948).
What is known of theta, the logarithm of the ratio, is kept as a confidence distribution: the share H(theta)
of confidence that the truth lies below (Xie & Singh 2013, Int. Stat. Rev. 81:3; from memory). H(0) gives the
p-value of no difference, its quantiles the interval.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from trackspread.model import Floats
from trackspread.numeric.distributions import normal_above, normal_quantile, t_below
from trackspread.statistics.power import LEAST_SAMPLED, PAIRED_ABOVE

THETAS: Floats = np.linspace(-3.0, 3.0, 241)
"""Logarithm of the ratio: a factor of 20 to both sides."""
LEAST_STATIONS = 20  # stations of a ride, fewer tell no standard deviation
NEVER = 1e-12  # m², squares below it come of rounding
MOST_ALIKE = 0.99  # correlation, beyond which nothing of one's own is left


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Shared:
    """Mean square of a + b, of a - b, and their mean product, ride by ride, shape (n,) each.

    ``rides`` are the names of the rides; one that stands in several parts is one ride over several routes.
    """

    rides: tuple[str, ...]
    sum_m2: Floats
    gap_m2: Floats
    product_m2: Floats

    def squares(self) -> tuple[Floats, Floats]:
        """Return the mean square of a and of b on each ride, (n,)."""
        mean = self.sum_m2 + self.gap_m2
        return 0.25 * (mean + 2.0 * self.product_m2), 0.25 * (mean - 2.0 * self.product_m2)

    def correlations(self) -> Floats:
        """Return how far a and b are alike on each ride, (n,)."""
        a, b = self.squares()
        return np.asarray(0.25 * (self.sum_m2 - self.gap_m2) / np.sqrt(a * b))


def shared_moments(a_m: Floats, b_m: Floats, rides: Sequence[str] | None = None) -> Shared:
    """Return the moments of two receivers, (R, S), on the rides that they share.

    Parameters
    ----------
    a_m, b_m : ndarray, shape (R, S)
        Deviations of each from the consensus of the *other* rides, NaN unknown.
    rides : sequence of str, length R, optional
        Names of the rides.

    Returns
    -------
    Shared
        Of rides with `LEAST_STATIONS` stations of both.

    Notes
    -----
    What both share drops out of D = a - b, and cov(a + b, D) = var_a - var_b (Grubbs 1948).
    """
    known = np.isfinite(a_m) & np.isfinite(b_m)
    count = np.maximum(known.sum(axis=1), 1)
    a, b = (np.where(known, x, 0.0) for x in (a_m, b_m))
    both, gap = a + b, a - b
    sum_m2, gap_m2, product_m2 = (
        (x * y).sum(axis=1) / count for x, y in ((both, both), (gap, gap), (both, gap))
    )
    a_m2, b_m2 = ((x**2).sum(axis=1) / count for x in (a, b))
    some = (count >= LEAST_STATIONS) & (gap_m2 > NEVER) & (np.minimum(a_m2, b_m2) > NEVER)
    names = [str(ride) for ride in range(len(a_m))] if rides is None else rides
    kept = np.flatnonzero(some).tolist()
    return Shared(
        rides=tuple(names[k] for k in kept), sum_m2=sum_m2[some], gap_m2=gap_m2[some],
        product_m2=product_m2[some],
    )  # fmt: skip


class _Sample(NamedTuple):
    """Half the difference of the mean logarithms of two samples, the variance of that, degrees of freedom."""

    mean: float
    variance: float
    dof: float


def together(parts: Sequence[Shared]) -> Floats | None:
    """Return H over `THETAS` from shared rides, ``None`` below two of them.

    Parameters
    ----------
    parts : sequence of Shared
        Moments on shared rides, a route each.

    Returns
    -------
    ndarray, shape (G,), or None

    Notes
    -----
    Where the two are alike by rho, half the logarithm of the ratio of their mean squares is expected to be

        theta - asinh(rho sinh theta),

    which is 0 for equal ones whatever they have in common, and theta where that is nothing: theta is then
    where Grubbs (1948) finds it. Its mean over rides is held against that by Student's t, as in `apart`; the
    error of rho, by its scatter over rides, counts by the square of the derivative. Above
    `PAIRED_ABOVE`, or below `LEAST_SAMPLED` rides of a route, the differences on each ride tell the variance.
    """
    logs = [np.log(np.array(part.squares())) for part in parts]
    places: dict[str, list[tuple[int, int]]] = {}
    for route, part in enumerate(parts):
        for place, ride in enumerate(part.rides):
            places.setdefault(ride, []).append((route, place))
    if len(places) < 2:
        return None
    strata: dict[tuple[int, ...], list[Floats]] = {}
    for at in places.values():
        routes = tuple(route for route, _ in at)
        strata.setdefault(routes, []).append(np.mean([logs[route][:, k] for route, k in at], axis=0))
    samples = [np.array(rides).T for rides in strata.values()]
    sample = _two_samples([(a, b) for a, b in samples])
    alike = np.concatenate([part.correlations() for part in parts])
    rho, rho_variance = float(np.clip(alike.mean(), 0.0, MOST_ALIKE)), float(alike.var(ddof=1)) / len(alike)
    gaps = np.concatenate([0.5 * (a - b) for a, b in samples])
    fewest = min(len(a) for a, _ in samples)
    if sample is None or rho > PAIRED_ABOVE or fewest < LEAST_SAMPLED:
        sample = _Sample(float(gaps.mean()), float(gaps.var(ddof=1)) / len(gaps), len(gaps) - 1.0)
    sinh = np.sinh(THETAS)
    expected = THETAS - np.arcsinh(rho * sinh)
    slope = sinh / np.sqrt(1.0 + (rho * sinh) ** 2)
    variance = sample.variance + rho_variance * slope**2
    return _rising(student(sample.mean - expected, variance, sample.dof))


def _two_samples(logs: Sequence[tuple[Floats, Floats]]) -> _Sample | None:
    """Return the two-sample t test of logarithms, stratum by stratum, with one common variance of rides."""
    logs = [(a, b) for a, b in logs if len(a) and len(b)]
    free = sum(len(a) + len(b) - 2 for a, b in logs)
    if free < 1:
        return None
    within = sum(float(np.sum((x - x.mean()) ** 2)) for pair in logs for x in pair) / free
    weight = np.array([1.0 / (1.0 / len(a) + 1.0 / len(b)) for a, b in logs])
    gap = np.array([a.mean() - b.mean() for a, b in logs])
    mean = 0.5 * float(gap @ weight / weight.sum())
    return _Sample(mean, 0.25 * within / float(weight.sum()), float(free))


def apart(squares: Sequence[tuple[Floats, Floats]], others: float) -> Floats | None:
    """Return H over `THETAS` from rides of their own, ``None`` where one of the two has too few.

    Parameters
    ----------
    squares : sequence of (ndarray, ndarray)
        Mean square deviation of every ride of a and of b, route by route.
    others : float
        Rides in the consensus from which they deviate.

    Returns
    -------
    ndarray, shape (G,), or None

    Notes
    -----
    Half the difference of the mean logarithms, weighted over routes, by Student's t with one common variance
    of rides (the two-sample t test; of logarithms of variances: Bartlett & Kendall 1946, J. R. Stat. Soc.
    Suppl. 8:128). What the rider's line adds is in both. So is the error of the consensus of m other
    rides, which draws the two together. Half of all rides being of each, with q = exp(2 theta), it is s - r
    beside a and s + r beside b, s = (q + 1) / 2 m and r = (q - 1) / 2 m^2: half the log ratio is expected to
    be log((q + s - r) / (1 + s + r)) / 2.
    """
    logs = [(np.log(a[a > NEVER]), np.log(b[b > NEVER])) for a, b in squares]
    found = _two_samples(logs)
    if found is None or min(sum(len(pair[k]) for pair in logs if all(map(len, pair))) for k in (0, 1)) < 2:
        return None
    q = np.exp(2.0 * THETAS)
    shared, own = (q + 1.0) / (2.0 * others), (q - 1.0) / (2.0 * others**2)
    expected = 0.5 * np.log((q + shared - own) / (1.0 + shared + own))
    return _rising(student(found.mean - expected, np.full(len(THETAS), found.variance), found.dof))


def student(mean: Floats, variance: Floats, dof: float) -> Floats:
    """Return the confidence that the truth lies below each theta, (G,): t of what ``mean`` is there.

    Parameters
    ----------
    mean : ndarray, shape (G,)
        Estimate at each theta.
    variance : ndarray, shape (G,)
        Of that estimate.
    dof : float
        Degrees of freedom.

    Returns
    -------
    ndarray, shape (G,)
    """
    return t_below(-mean / np.sqrt(np.maximum(variance, NEVER)), dof)


def _rising(share: Floats) -> Floats:
    """Return a distribution made to rise from its middle outwards."""
    middle = int(np.argmin(np.abs(share - 0.5)))
    above = np.maximum.accumulate(share[middle:])
    below = np.minimum.accumulate(share[: middle + 1][::-1])[::-1]
    return np.concatenate([below[:-1], above])


def combined(one: Floats, other: Floats) -> Floats:
    """Return H of two independent sources: their normal scores weighted by what each knows.

    The weights are the reciprocals of the widths of their intervals (Singh, Xie & Strawderman 2005, Ann.
    Stat. 33:159; from memory).

    Parameters
    ----------
    one : ndarray, shape (G,)
        H of one source.
    other : ndarray, shape (G,)
        H of the other.

    Returns
    -------
    ndarray, shape (G,)
    """
    weights = np.array([1.0 / np.diff(quantiles(h, np.array([0.1, 0.9])))[0] for h in (one, other)])
    scores = [normal_quantile(np.clip(h, 1e-12, 1.0 - 1e-12)) for h in (one, other)]
    return _rising(normal_above(-(weights @ np.array(scores)) / np.sqrt(np.sum(weights**2))))


def quantiles(share: Floats, at: Floats) -> Floats:
    """Return the thetas below which ``at``, (Q,), of the confidence lies.

    Parameters
    ----------
    share : ndarray, shape (G,)
        Confidence that the log ratio lies below each of `THETAS`.
    at : ndarray, shape (Q,)
        Shares of the confidence, 0 to 1.

    Returns
    -------
    ndarray, shape (Q,)
    """
    return np.asarray(np.interp(at, share, THETAS))
