"""What a few rides tell of a standard deviation when nobody knows how far along the route errors are alike.

The interval by chi-square needs the number of independent lengths, hence the correlation of the errors; from
three rides that is hardly better known than the spread itself, and the two hang together: traces that happen
to lie near each other over the whole route seem to have small *and* short errors. Here both are unknown at
once: the likelihood of the residuals under every sum of two Gauss-Markov processes out of a grid, times a
prior, gives the posterior of the standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.core.distributions import chi2_below
from trackspread.model import Bools, Floats, Ints

LENGTHS_M = 25.0 * 1000.0 ** (np.arange(12) / 11.0)
LONG_SHARES = (0.5, 0.8, 0.95)
PRIOR_POWER = 0.25
COARSENING_DOF = 20.0
GROUPS, WITHIN_GROUP = 12, (0.0, 0.04, 0.15, 0.45)
JITTER = 1e-6


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Posterior:
    """Posterior of a variance: ``square_m2`` / chi-square(``dof``) mixed with ``weight``, shapes (K,)."""

    weight: Floats
    square_m2: Floats
    dof: float

    def sd_at(self, share: float) -> float:
        """Return the standard deviation below which ``share`` of the posterior lies, by halving."""
        low, high = 0.01 * self.square_m2.min() / self.dof, 1e4 * self.square_m2.max() / self.dof
        for _ in range(60):
            middle = np.sqrt(low * high)
            below = 1.0 - float(self.weight @ chi2_below(self.square_m2 / middle, self.dof))
            low, high = (middle, high) if below < share else (low, middle)
        return float(np.sqrt(middle))


def candidates() -> tuple[Floats, Floats]:
    """Return share of the long process, its length and the short one's in m, (K, 3), and their prior (K,).

    Lengths from 25 m to 25 km, evenly in the logarithm; the prior of the long one grows with its length to
    the power of `PRIOR_POWER`, so that a spread is not called well known before it is (calibrated by
    simulation, docs/validation.md); within one long length all are alike.
    """
    kinds = [(1.0, long, long) for long in LENGTHS_M]
    for number, long in enumerate(LENGTHS_M):
        kinds += [(share, long, short) for short in LENGTHS_M[:number] for share in LONG_SHARES]
    kind = np.array(kinds)
    alike = np.array([np.sum(kind[:, 1] == long) for long in kind[:, 1]])
    prior = kind[:, 1] ** PRIOR_POWER / alike
    return kind, prior / prior.sum()


def sites(size: int) -> Ints:
    """Return which of ``size`` stations speak for all: groups evenly spread, near and far within one."""
    if size <= GROUPS * len(WITHIN_GROUP):
        return np.arange(size)
    starts = np.arange(GROUPS)[:, None] + np.array(WITHIN_GROUP)
    return np.unique(np.round(starts.ravel() * size / GROUPS).astype(np.int64))


def posterior(residual_m: Floats, heading_rad: Floats, step_m: float, dof: float) -> Posterior:
    """Return the posterior of the variance of residuals.

    Parameters
    ----------
    residual_m : ndarray, shape (T, S)
        Offsets less the mean across traces at each station; NaN where there are none.
    heading_rad : ndarray, shape (S,)
        Direction of the line.
    step_m : float
        Distance of stations.
    dof : float
        Degrees of freedom at one station, at most T - 1.

    Notes
    -----
    Rows are Gaussian with covariance v R, R = rho(distance) or rho(distance) cos(turn of the line), as
    errors keep to the line or to the earth. With T rows worth ``dof``, N = dof S sites and
    Q = sum of y' R^-1 y, and 1/v as prior of the variance, the marginal likelihood of R is
    |R|^(-dof/2) Q^(-N/2) and v is Q / chi-square(N) (restricted likelihood: Patterson & Thompson 1971,
    Biometrika 58:545; Box & Tiao 1973, Bayesian Inference in Statistical Analysis, section 2.4). As no
    sum of two such processes is the truth, the likelihood is raised to the power a / (a + dof) with
    a = `COARSENING_DOF` (Miller & Dunson 2019, J. Am. Stat. Assoc. 114:1113; all three from memory).
    """
    there = np.flatnonzero(np.isfinite(residual_m).any(axis=0))
    at = there[sites(len(there))]
    known = np.isfinite(residual_m[:, at])
    values = np.where(known, residual_m[:, at], 0.0)
    kind, prior = candidates()
    apart_m = step_m * np.abs(at[:, None] - at)
    turn = heading_rad[at][:, None] - heading_rad[at]
    own = dof / len(values)
    n = own * known.sum()
    logs, squares = [], []
    alike = _alike(kind, apart_m)
    for along in (np.cos(turn), np.ones_like(turn)):
        square, log_det = _whitened(values, known, alike * along + JITTER * np.eye(len(at)))
        squares.append(square)
        logs.append(-0.5 * own * log_det - 0.5 * n * np.log(square))
    likely = np.concatenate(logs) * COARSENING_DOF / (COARSENING_DOF + dof)
    weight = np.exp(likely - likely.max()) * np.tile(prior, 2)
    return Posterior(weight=weight / weight.sum(), square_m2=np.concatenate(squares), dof=float(n))


def _alike(kind: Floats, apart_m: Floats) -> Floats:
    """Return rho of all candidates at distances, shape (K, s, s)."""
    one = np.exp(-apart_m / LENGTHS_M[:, None, None])
    share, long, short = kind[:, 0], *np.searchsorted(LENGTHS_M, kind[:, 1:].T)
    return np.asarray(share[:, None, None] * one[long] + (1.0 - share)[:, None, None] * one[short])


def _whitened(values: Floats, known: Bools, covariance: Floats) -> tuple[Floats, Floats]:
    """Return the sum of y' R^-1 y and of log |R| over rows, each with its own sites known, (K,) both.

    A row with sites missing has the precision P - P_km P_mm^-1 P_mk and the determinant |R| |P_mm|
    (block inverse of P = R^-1).
    """
    precision = np.linalg.inv(covariance)
    whole = np.linalg.slogdet(covariance)[1]
    leaned = precision @ values.T
    square, log_det = np.einsum("kst,ts->k", leaned, values), len(values) * whole
    for row in np.flatnonzero(~known.all(axis=1)):
        missing = np.flatnonzero(~known[row])
        if len(missing) == known.shape[1]:
            log_det = log_det - whole
            continue
        inner, reach = precision[:, missing][:, :, missing], leaned[:, missing, row]
        square = square - np.einsum("km,km->k", reach, np.linalg.solve(inner, reach[:, :, None])[:, :, 0])
        log_det = log_det + np.linalg.slogdet(inner)[1]
    return square, log_det
