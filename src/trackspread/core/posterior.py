"""What a few rides tell of a standard deviation when nobody knows how far along the route errors are alike.

The interval by chi-square needs the number of independent lengths, hence the correlation of the errors; from
three rides that is hardly better known than the spread itself, and the two hang together: traces that happen
to lie near each other over the whole route seem to have small *and* short errors. Here both are unknown at
once: the likelihood of the residuals under every sum of two Gauss-Markov processes out of a grid, times a
prior, gives the posterior of the standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from trackspread.core.distributions import chi2_below, t_below
from trackspread.model import Bools, Floats, Ints

LENGTHS_M = 25.0 * 1000.0 ** (np.arange(12) / 11.0)
LONG_SHARES = (0.2, 0.5, 0.8, 0.95, 0.99)
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

    def half_width(self, share: Floats, confidence: float) -> float:
        """Return the half width of the interval of a mean whose variance is ``share``, (K,), of one value's.

        A mixture of Student's t with ``dof`` degrees of freedom, by halving.
        """
        error = np.sqrt(share * self.square_m2 / self.dof)
        low, high = 0.0, 1e4 * float(error.max())
        for _ in range(60):
            middle = 0.5 * (low + high)
            inside = 2.0 * float(self.weight @ t_below(middle / error, self.dof)) - 1.0
            low, high = (low, middle) if inside >= confidence else (middle, high)
        return middle


@cache
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


def by_lag(lag_m: Floats) -> Floats:
    """Return rho of all candidates at distances (S,) along the route, shape (K, S)."""
    return _alike(candidates()[0], lag_m)


def posterior(
    values_m: Floats, heading_rad: Floats, step_m: float, own: float = 1.0, about_level: bool = False
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
    about_level : bool
        Whether one level, the same everywhere, is unknown too.

    Notes
    -----
    Rows are Gaussian with covariance v R, R = rho(distance) or rho(distance) cos(turn of the line), as
    errors keep to the line or to the earth. With N = ``own`` times the number of values, f = N / sites,
    Q = sum of y' R^-1 y, and 1/v as prior of the variance, the marginal likelihood of R is
    |R|^(-f/2) Q^(-N/2) and v is Q / chi-square(N). With a level, A = sum of 1' R^-1 1 and
    B = sum of 1' R^-1 y, Q is less by B^2 / A, the likelihood by the root of A and N by one (restricted
    likelihood: Patterson & Thompson 1971, Biometrika 58:545; Box & Tiao 1973, Bayesian Inference in
    Statistical Analysis, section 2.4). As no sum of two such processes is the truth, the likelihood is
    raised to the power a / (a + f) with a = `COARSENING_DOF` (Miller & Dunson 2019, J. Am. Stat.
    Assoc. 114:1113; all three from memory). The first K candidates keep to the earth, the others to the line.
    """
    there = np.flatnonzero(np.isfinite(values_m).any(axis=0))
    at = there[sites(len(there))]
    known = np.isfinite(values_m[:, at])
    columns = np.where(known, values_m[:, at], 0.0)[:, :, None]
    if about_level:
        columns = np.concatenate([columns, known[:, :, None]], axis=2)
    dof = own * float(known.sum()) / len(at)
    n = dof * len(at) - about_level
    gram, log_det = _whitened(columns, known, *_inverted(step_m, tuple(at), tuple(heading_rad[at])))
    square = gram[:, 0, 0]
    if about_level:
        square = square - gram[:, 0, 1] ** 2 / gram[:, 1, 1]
        log_det = log_det + np.log(gram[:, 1, 1])
    likely = -0.5 * own * log_det - 0.5 * n * np.log(square)
    likely = likely * COARSENING_DOF / (COARSENING_DOF + dof)
    weight = np.exp(likely - likely.max()) * np.tile(candidates()[1], 2)
    return Posterior(weight=weight / weight.sum(), square_m2=square, dof=n)


def _alike(kind: Floats, apart_m: Floats) -> Floats:
    """Return rho of candidates ``kind``, (K, 3), at distances of any shape, shape (K, ...)."""
    lengths = np.expand_dims(LENGTHS_M, tuple(range(1, apart_m.ndim + 1)))
    one = np.exp(-apart_m / lengths)
    long, short = np.searchsorted(LENGTHS_M, kind[:, 1:].T)
    share = np.reshape(kind[:, 0], (-1,) + (1,) * apart_m.ndim)
    return np.asarray(share * one[long] + (1.0 - share) * one[short])


@lru_cache(maxsize=1)
def _inverted(step_m: float, at: tuple[int, ...], heading_rad: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Return R^-1, (2K, s, s), and log |R|, (2K,), of all candidates at stations ``at``.

    A route asks again and again at the same stations: for itself, for its receivers and for its pairs.
    """
    stations = np.array(at)
    alike = _alike(candidates()[0], step_m * np.abs(stations[:, None] - stations))
    turn = np.subtract.outer(heading_rad, heading_rad)
    covariance = np.concatenate([alike * np.cos(turn), alike]) + JITTER * np.eye(len(at))
    return np.asarray(np.linalg.inv(covariance)), np.asarray(np.linalg.slogdet(covariance)[1])


def _whitened(columns: Floats, known: Bools, precision: Floats, whole: Floats) -> tuple[Floats, Floats]:
    """Return the sums over rows of X' R^-1 X, (K, c, c), and of log |R|, (K,), each row with its own sites.

    ``columns``, (T, s, c), are the X of each row, 0 where not ``known``; ``precision`` P and ``whole`` are
    R^-1 and log |R| of all sites. A row with sites missing has the precision P - P_km P_mm^-1 P_mk and the
    determinant |R| |P_mm| (block inverse).
    """
    rows, size, count = columns.shape
    leaned = precision @ columns.transpose(1, 0, 2).reshape(size, rows * count)
    leaned = leaned.reshape(len(precision), size, rows, count)
    gram, log_det = np.einsum("tsc,kstd->kcd", columns, leaned), rows * whole
    for row in np.flatnonzero(~known.all(axis=1)):
        missing = np.flatnonzero(~known[row])
        if len(missing) == size:
            log_det = log_det - whole
            continue
        inner, reach = precision[:, missing][:, :, missing], leaned[:, missing, row]
        gram = gram - reach.transpose(0, 2, 1) @ np.linalg.solve(inner, reach)
        log_det = log_det + np.linalg.slogdet(inner)[1]
    return gram, log_det
