"""How far along the route errors are alike, and how many independent lengths that leaves."""

from __future__ import annotations

import numpy as np
from scipy.optimize import nnls

from trackspread.model import Floats

PRIOR_LENGTH_M = 4500.0
PRIOR_WEIGHT = 4.0


def autocorrelation(values: Floats) -> Floats:
    """Return r_k = sum (y_t - m)(y_t+k - m) / sum (y_t - m)^2 for all lags, shape (n,).

    NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.12 (no n / (n - k) factor).
    """
    y = np.asarray(values, dtype=float) - np.mean(values)
    products = _lagged_products(y[None, :])
    return np.asarray(products / products[0])


def effective_size(correlation: Floats) -> float:
    """Return n / (1 + 2 sum (1 - k/n) r_k): how many independent values ``n`` correlated ones are worth.

    ``correlation`` holds r_0 = 1 … r_(n-1). Bayley & Hammersley (1946), J. R. Statist. Soc. Suppl. 8:184.
    """
    n = len(correlation)
    k = np.arange(1, n)
    return float(n / (1.0 + 2.0 * np.sum((1.0 - k / n) * correlation[1:])))


def _lagged_products(values: Floats) -> Floats:
    """Return the sums of products over all pairs at each lag, pooled over rows, shape (S,)."""
    size = values.shape[1]
    padded = 1 << int(np.ceil(np.log2(2 * size)))
    spectrum = np.fft.rfft(values, padded, axis=1)
    power = (spectrum.real**2 + spectrum.imag**2).sum(axis=0)
    return np.asarray(np.fft.irfft(power, padded)[:size])


def residual_correlation(residual_m: Floats) -> tuple[Floats, Floats]:
    """Return the correlation of residuals along the route and the pairs behind each lag, shape (S,).

    ``residual_m``, shape (T, S), are offsets less the mean across traces at each station; as that mean
    is taken across and not along, the correlation is not pulled down by it. NaN is left out.
    """
    known = np.isfinite(residual_m)
    pairs = _lagged_products(known.astype(float)).round()
    sums = _lagged_products(np.where(known, residual_m, 0.0))
    mean = np.divide(sums, pairs, out=np.zeros(len(sums)), where=pairs > 0)
    return (mean / mean[0] if mean[0] > 0 else np.zeros(len(sums))), pairs


def fitted_correlation(residual_m: Floats, step_m: float, dof: float) -> Floats:
    """Return a smooth correlation function at all lags, shape (S,): a mixture of exponentials.

    A sum of exponentials with non-negative weights that add up to one is the correlation of a sum of
    first-order Gauss-Markov processes, the usual model of GNSS error (common practice). The weights are
    fitted to `residual_correlation` by non-negative least squares. With few traces the long lags are
    poorly known; there a prior of `PRIOR_LENGTH_M` (some quarter of an hour on a bicycle) speaks, with the
    weight of `PRIOR_WEIGHT` independent lengths, against the ``dof`` traces times the lengths in the data
    (calibrated by simulation, docs/validation.md).
    """
    raw, pairs = residual_correlation(residual_m)
    size = len(raw)
    lag_m = step_m * np.arange(size)
    lags = np.unique(np.round(np.geomspace(1, max(2, size * 0.7), 40)).astype(int))
    lags = lags[(lags < size) & (pairs[np.minimum(lags, size - 1)] > 0)]
    lengths = np.concatenate([[step_m / 5.0], np.geomspace(20.0, 20_000.0, 16)])
    basis = np.exp(-lag_m[:, None] / lengths)
    prior = np.exp(-lag_m / PRIOR_LENGTH_M)
    independent = max(dof, 1.0) * np.maximum(lag_m[-1] / np.maximum(lag_m[lags], 50.0), 1.0)
    weight = np.sqrt(independent)
    light = np.sqrt(PRIOR_WEIGHT)
    equations = [basis[lags] * weight[:, None], basis[lags] * light, np.full((1, len(lengths)), 1e3)]
    targets = [raw[lags] * weight, prior[lags] * light, np.array([1e3])]
    mixture, _ = nnls(np.vstack(equations), np.concatenate(targets))
    return np.asarray(basis @ mixture)


def mean_square_correlation(correlation: Floats, stations: int) -> float:
    """Return the mean of rho^2 over all pairs among ``stations`` neighbouring stations, 0 < … <= 1."""
    n = min(stations, len(correlation))
    k = np.arange(n)
    weight = np.where(k == 0, 1.0, 2.0) * (n - k) / n**2
    return float(np.sum(weight * correlation[:n] ** 2))


def correlation_length_m(correlation: Floats, step_m: float) -> float:
    """Return the lag at which the correlation falls to 1/e, metres; the whole route if it never does."""
    below = np.flatnonzero(correlation < np.exp(-1.0))
    return float(step_m * (below[0] if len(below) else len(correlation)))
