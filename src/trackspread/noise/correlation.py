"""How far along the route errors are alike, and how many independent lengths that leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from trackspread.model import Floats, Ints

PRIOR_LENGTH_M = 4500.0  # m, length of the prior
PRIOR_WEIGHT = 4.0  # independent lengths that the prior weighs


def lagged(values: NDArray[np.complex128] | Floats) -> Floats:
    """Return Re sum x_i conj(x_j) over all pairs at each lag, pooled over the rows (T, S), shape (S,).

    Parameters
    ----------
    values : ndarray, shape (T, S)
        Real or complex.

    Returns
    -------
    ndarray, shape (S,)
    """
    return _sums_by_lag(_power(values).sum(axis=0), values.shape[1])


def _power(values: NDArray[np.complex128] | Floats) -> Floats:
    """Return the power spectrum of every row, with room for all lags."""
    padded = 1 << int(np.ceil(np.log2(2 * values.shape[1])))
    spectrum = np.fft.fft(values, padded, axis=1)
    return np.asarray(spectrum.real**2 + spectrum.imag**2)


def _sums_by_lag(power: Floats, size: int) -> Floats:
    return np.asarray(np.fft.ifft(power)[..., :size].real)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Correlation:
    """How residuals at two stations are alike: rho(distance), times cos of the angle between the headings.

    ``by_lag``, shape (S,), is rho at 0, 1, 2 … stations. ``heading_rad``, shape (S,), is the direction of
    the line: an error that points one way on the earth turns into another offset where the line turns.
    ``turning`` is False where the residuals say that errors keep to their side of the line instead.
    """

    by_lag: Floats
    heading_rad: Floats
    turning: bool
    step_m: float

    def at(self, distance_m: Floats | float) -> Floats:
        """Return rho at distances along a straight line."""
        return np.asarray(np.interp(distance_m, self.step_m * np.arange(len(self.by_lag)), self.by_lag))

    def mean_square(self, first: int, end: int) -> float:
        """Return the mean of the squared correlation over all pairs of stations in ``first:end``."""
        return float(self.mean_squares(np.array([first]), np.array([end]))[0])

    def mean_squares(self, first: Ints, end: Ints) -> Floats:
        """Return `mean_square` of many parts of the line at once, shape (N,): those of one size together."""
        out = np.empty(len(first))
        for n in np.unique(end - first).tolist():
            mine = np.flatnonzero(end - first == n)
            stations = first[mine, None] + np.arange(n)
            turned = np.exp(2j * self.turning * self.heading_rad[stations])
            squared_cosines = 0.5 * (n - np.arange(n) + _sums_by_lag(_power(turned), n))
            twice = np.where(np.arange(n) == 0, 1.0, 2.0)
            out[mine] = np.sum(twice * self.by_lag[:n] ** 2 * squared_cosines, axis=1) / n**2
        return out

    def length_m(self) -> float:
        """Return the distance at which rho falls to 1/e; the whole route if it never does."""
        below = np.flatnonzero(self.by_lag < np.exp(-1.0))
        return float(self.step_m * (below[0] if len(below) else len(self.by_lag)))


def residual_correlation(residual_m: Floats, heading_rad: Floats) -> tuple[Floats, Floats]:
    """Return rho of residuals by lag and the information behind each lag, shape (S,).

    ``residual_m``, shape (T, S), are offsets less the mean across traces at each station; as that mean
    is taken across and not along, the correlation is not pulled down by it. At each lag rho is the
    least-squares factor of r_i r_j on cos(heading_i - heading_j). NaN is left out.

    Parameters
    ----------
    residual_m : ndarray, shape (T, S)
        Offsets about their mean across traces, metres, NaN unknown.
    heading_rad : ndarray, shape (S,)
        Direction of the line at each station, radians.

    Returns
    -------
    rho, information : ndarray, shape (S,)
    """
    known = np.isfinite(residual_m)
    filled = np.where(known, residual_m, 0.0)
    sums = lagged(filled * np.exp(1j * heading_rad))
    squares = 0.5 * (lagged(known.astype(float)) + lagged(known * np.exp(2j * heading_rad)))
    mean = np.divide(sums, squares, out=np.zeros(len(sums)), where=squares > 0.5)
    return (mean / mean[0] if mean[0] > 0 else np.zeros(len(sums))), np.maximum(squares, 0.0)


def fitted_correlation(residual_m: Floats, heading_rad: Floats, step_m: float, dof: float) -> Correlation:
    """Return the smooth correlation that fits residuals, shape (T, S), best.

    A sum of exponentials with non-negative weights that add up to one is the correlation of a sum of
    first-order Gauss-Markov processes, the usual model of GNSS error (common practice). The weights are
    fitted to `residual_correlation` by non-negative least squares. With few traces the long lags are
    poorly known; there a prior of `PRIOR_LENGTH_M` (some quarter of an hour on a bicycle) speaks, with the
    weight of `PRIOR_WEIGHT` independent lengths, against the ``dof`` traces times the lengths in the data
    (calibrated by simulation, docs/validation.md). Of errors that keep their direction on the earth and
    errors that keep their side of the line, those are taken that explain the residuals better.

    Parameters
    ----------
    residual_m : ndarray, shape (T, S)
        Offsets about their mean across traces, metres, NaN unknown.
    heading_rad : ndarray, shape (S,)
        Direction of the line at each station, radians.
    step_m : float
        Distance between stations, metres.
    dof : float
        Degrees of freedom across rides.

    Returns
    -------
    Correlation
    """
    tried = []
    for turning in (True, False):
        raw, squares = residual_correlation(residual_m, turning * heading_rad)
        tried.append((float(np.sum(squares[1:] * raw[1:] ** 2)), turning, raw, squares))
    _, turning, raw, squares = max(tried, key=lambda entry: entry[:2])
    by_lag = _mixture(raw, squares, step_m, dof)
    return Correlation(by_lag=by_lag, heading_rad=heading_rad, turning=turning, step_m=step_m)


def _mixture(raw: Floats, squares: Floats, step_m: float, dof: float) -> Floats:
    """Fit the mixture of exponentials to the correlation by lag, shape (S,)."""
    size = len(raw)
    lag_m = step_m * np.arange(size)
    lags = np.unique(np.round(np.geomspace(1, max(2, size * 0.7), 40)).astype(int))
    lags = lags[lags < size]
    share = squares[lags] / np.maximum(squares[0] * (1.0 - lags / size), 1e-9)
    lengths = np.concatenate([[step_m / 5.0], np.geomspace(20.0, 20_000.0, 16)])
    basis = np.exp(-lag_m[:, None] / lengths)
    prior = np.exp(-lag_m / PRIOR_LENGTH_M)
    independent = max(dof, 1.0) * np.maximum(lag_m[-1] / np.maximum(lag_m[lags], 50.0), 1.0)
    weight, light = np.sqrt(independent * np.minimum(share, 1.0)), np.sqrt(PRIOR_WEIGHT)
    equations = [basis[lags] * weight[:, None], basis[lags] * light, np.full((1, len(lengths)), 1e3)]
    targets = [raw[lags] * weight, prior[lags] * light, np.array([1e3])]
    mixture, _ = nnls(np.vstack(equations), np.concatenate(targets))
    return np.asarray(basis @ mixture)
