"""How far along the route errors are alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trackspread.model import Floats, Ints


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
        """Return the length of one Gauss-Markov process with as many independent values, at most the route's.

        The sum of rho^2 over both sides (Bayley & Hammersley 1946): of exp(-distance / length) it is the
        length, where rho falls to 1/e.
        """
        both_sides = 2.0 * np.sum(self.by_lag**2) - self.by_lag[0] ** 2
        return float(self.step_m * min(both_sides, len(self.by_lag)))
