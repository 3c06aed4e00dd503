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

from trackspread.model import Bools, Floats, Ints
from trackspread.noise.correlation import lagged
from trackspread.numeric.distributions import t_mixture_quantile

LENGTHS_M = 25.0 * 1000.0 ** (np.arange(12) / 11.0)
SHORT_SHARES = (0.8, 0.5, 0.2, 0.1)  # shares of the variance in the shorter of two processes
NOISE_SHARES, NOISE_LENGTHS = (0.05, 0.025, 0.0125), 2  # shares that are noise, of so many short lengths
COARSENING_DOF = 20.0  # degrees of freedom that halve the say of the likelihood (Miller & Dunson 2019)
GROUPS, WITHIN_GROUP = 12, (0.0, 0.04, 0.15, 0.45)  # groups of stations, and places in shares of a group
JITTER = 1e-6  # share of the variance that keeps a covariance positive definite
LEAST_M2 = 1e-12  # m², no smaller variance
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


@cache
def candidates() -> tuple[Floats, Ints, Floats]:
    """Return share of the long process, (K,), places in `LENGTHS_M` of both, (K, 2), and their prior, (K,).

    Lengths from 25 m to 25 km, evenly in the logarithm. A priori all are as likely for the long process, and
    for one of them all shares and short lengths. Of the shortest, which is noise from point to point, shares
    down to 1 % are told apart: the variance that comes of increments hangs on them.

    Returns
    -------
    share : ndarray of float, shape (K,)
    place : ndarray of int, shape (K, 2)
    prior : ndarray of float, shape (K,)
    """
    kinds = [(1.0, long, long) for long in range(len(LENGTHS_M))]
    for long in range(len(LENGTHS_M)):
        for short in range(long):
            shares = SHORT_SHARES + NOISE_SHARES * (short < NOISE_LENGTHS)
            kinds += [(1.0 - share, long, short) for share in shares]
    share, *places = zip(*kinds, strict=True)
    place = np.array(places).T
    prior = 1.0 / np.bincount(place[:, 0])[place[:, 0]]
    return np.array(share), place, prior / prior.sum()


def sites(size: int) -> Ints:
    """Return which of ``size`` stations speak for all: groups evenly spread, near and far within one.

    Parameters
    ----------
    size : int
        Stations.

    Returns
    -------
    ndarray of int
    """
    if size <= GROUPS * len(WITHIN_GROUP):
        return np.arange(size)
    starts = np.arange(GROUPS)[:, None] + np.array(WITHIN_GROUP)
    return np.unique(np.round(starts.ravel() * size / GROUPS).astype(np.int64))


def by_length(apart_m: Floats) -> Floats:
    """Return exp(-distance / length) of all `LENGTHS_M` at distances of any shape, shape (L, ...).

    Parameters
    ----------
    apart_m : ndarray
        Distances, metres.

    Returns
    -------
    ndarray, shape (L, ...)
    """
    return np.asarray(np.exp(-apart_m / np.expand_dims(LENGTHS_M, tuple(range(1, apart_m.ndim + 1)))))


def mixed(values: Floats) -> Floats:
    """Return what is linear in rho for all candidates, (K, ...), from what it is by length, (L, ...).

    Parameters
    ----------
    values : ndarray, shape (L, ...)
        By length.

    Returns
    -------
    ndarray, shape (K, ...)
    """
    share, place, _ = candidates()
    share = np.expand_dims(share, tuple(range(1, values.ndim)))
    return np.asarray(share * values[place[:, 0]] + (1.0 - share) * values[place[:, 1]])


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
    Rows are Gaussian with covariance v R, R = rho(distance) or rho(distance) cos(turn of the line), as
    errors keep to the line or to the earth. With N = ``own`` times the number of values, f = N / sites,
    Q = sum of y' R^-1 y, and 1/v as prior of the variance, the marginal likelihood of R is
    |R|^(-f/2) Q^(-N/2) and v is Q / chi-square(N). With a multiple of x, A = sum of x' R^-1 x and
    B = sum of x' R^-1 y, Q is less by B^2 / A, the likelihood by the root of A and N by one (restricted
    likelihood: Patterson & Thompson 1971, Biometrika 58:545; Box & Tiao 1973, Bayesian Inference in
    Statistical Analysis, section 2.4). As no sum of two such processes is the truth, the likelihood is
    raised to the power a / (a + f) with a = `COARSENING_DOF` (Miller & Dunson 2019, J. Am. Stat.
    Assoc. 114:1113; all three from memory). The first K candidates keep to the earth, the others to the line.
    R is asked at some stations only. Where more independent values stand behind all of them than were asked,
    v is their mean square with so many degrees of freedom (`independent`).
    """
    there = np.flatnonzero(np.isfinite(values_m).any(axis=0))
    at = there[sites(len(there))]
    known = np.isfinite(values_m[:, at])
    columns = [values_m[:, at]] if about is None else [values_m[:, at], about[:, at]]
    dof = own * float(known.sum()) / len(at)
    n = dof * len(at) - (about is not None)
    gram, log_det = _whitened(
        np.where(known[:, :, None], np.stack(columns, axis=2), 0.0),
        known,
        *_inverted(step_m, tuple(at), tuple(heading_rad[at])),
    )
    square = gram[:, 0, 0]
    if about is not None:
        power = np.maximum(gram[:, 1, 1], LEAST_M2)
        square, log_det = square - gram[:, 0, 1] ** 2 / power, log_det + np.log(power)
    square = np.maximum(square, LEAST_M2)
    likely = -0.5 * own * log_det - 0.5 * n * np.log(square)
    likely = likely * COARSENING_DOF / (COARSENING_DOF + dof)
    weight = np.exp(likely - likely.max()) * np.tile(candidates()[2], 2)
    worth = own * independent(np.isfinite(values_m), heading_rad, step_m)
    mean = max(float(np.nansum(values_m**2)) / (own * float(np.isfinite(values_m).sum())), LEAST_M2)
    more = worth > dof * len(at)
    return Posterior(
        weight=weight / weight.sum(),
        square_m2=np.where(more, mean * worth, square),
        dof=np.where(more, worth - (about is not None), n),
    )


def independent(known: Bools, heading_rad: Floats, step_m: float) -> Floats:
    """Return how many independent values stand behind the variance of all (T, S), by candidate, (2K,).

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
    along = by_length(np.asarray(step_m * np.arange(known.shape[1]), dtype=float))
    straight = lagged(known.astype(float))
    turning = 0.5 * (straight + lagged(known * np.exp(2j * heading_rad)))
    share, place, _ = candidates()
    one, other = place.T
    twice = np.where(np.arange(known.shape[1]) > 0, 2.0, 1.0)
    found = []
    for pairs in (turning, straight):
        both = (along * twice * pairs) @ along.T
        squared = share**2 * both[one, one] + (1.0 - share) ** 2 * both[other, other]
        found.append(straight[0] ** 2 / (squared + 2.0 * share * (1.0 - share) * both[one, other]))
    return np.concatenate(found)


@lru_cache(maxsize=1)
def _inverted(step_m: float, at: tuple[int, ...], heading_rad: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Return R^-1, (2K, s, s), and log |R|, (2K,), of all candidates at stations ``at``.

    A route asks again and again at the same stations: for itself, for its receivers and for its pairs.
    """
    stations = np.array(at)
    alike = mixed(by_length(step_m * np.abs(stations[:, None] - stations)))
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
