"""The line of sparse traces: a smooth curve through their points.

Between points that lie far apart nobody knows the way of a trace, and offsets that are interpolated there say
nothing against a line that waves. Points do: the line is the curve whose coordinates are smooth functions of
the station, fitted to all points at their stations, and stations are feet on the curve (a principal curve;
Hastie & Stuetzle 1989, J. Am. Stat. Assoc. 84:502).
"""

from __future__ import annotations

import numpy as np
import scipy
from scipy.linalg import cho_solve_banded, cholesky_banded
from scipy.sparse import csr_array

from trackspread.model import Floats
from trackspread.numeric.robust import BISQUARE_TUNING, MAD_TO_SD

LEAST_PIECES, MOST_PIECES = 3, 5000  # pieces of the curve; the upper one bounds the work
SMOOTHNESS: Floats = 10.0 ** np.arange(-3.0, 9.01, 0.5)
"""Weights of the penalty that are tried, from a curve through every point to a straight line."""
REWEIGHTED = 4  # turns of reweighting


def smooth_curve(
    station_m: Floats, x: Floats, y: Floats, at_m: Floats, spacing_m: float
) -> tuple[Floats, Floats, Floats]:
    """Fit a smooth curve to points at stations, and return it at others, with the weight of each point.

    Parameters
    ----------
    station_m, x, y : ndarray, shape (P,)
        Points, metres.
    at_m : ndarray, shape (N,)
    spacing_m : float
        Distance of the knots.

    Returns
    -------
    x, y : ndarray, shape (N,)
    weight : ndarray, shape (P,)
        Of the bisquare: points far off have no say.

    Notes
    -----
    Cubic B-splines with a penalty on second differences (Eilers & Marx 1996, Stat. Sci. 11:89), weighed by
    restricted likelihood (Wood 2011, J. R. Stat. Soc. B 73:3; the spline as a mixed model), both from memory.
    Beyond the points the curve runs on straight.
    """
    low, high = float(min(station_m.min(), at_m.min())), float(max(station_m.max(), at_m.max()))
    pieces = int(np.clip((high - low) / spacing_m, LEAST_PIECES, MOST_PIECES))
    knots = np.linspace(low, high, pieces + 1)
    step = (high - low) / pieces
    knots = np.concatenate([low + step * np.arange(-3, 0), knots, high + step * np.arange(1, 4)])
    design = scipy.interpolate.BSpline.design_matrix  # loaded here: few lines are so sparse
    basis = design(np.clip(station_m, low, high), knots, 3).tocsr()
    both = np.column_stack([x, y])
    middle = both.mean(axis=0)
    weight = np.ones(len(x))
    for _ in range(REWEIGHTED):
        coefficients = _fitted(basis, both - middle, weight)
        left = np.linalg.norm(both - middle - basis @ coefficients, axis=1)
        scale = MAD_TO_SD * float(np.median(left[weight > 0.0]))
        if not scale > 0.0:
            break
        weight = np.maximum(1.0 - (left / (BISQUARE_TUNING * scale)) ** 2, 0.0) ** 2
    shown = design(np.clip(at_m, low, high), knots, 3) @ coefficients + middle
    return shown[:, 0], shown[:, 1], weight


def _fitted(basis: csr_array, values: Floats, weight: Floats) -> Floats:
    """Return the coefficients of the penalised fit at the most likely smoothness, shape (K, 2)."""
    weighted = basis.multiply(weight[:, None]).tocsr()
    gram, moment = (basis.T @ weighted).tocsr(), np.asarray(weighted.T @ values)
    size = gram.shape[0]
    bands = np.array([np.pad(gram.diagonal(-k), (0, k)) for k in range(4)])
    usual = max(float(bands[0].mean()), 1e-12)
    bands[0] += 1e-9 * usual
    penalty = _second_differences(size)
    total = float(np.sum(weight[:, None] * values**2))
    count = 2.0 * float(np.count_nonzero(weight)) - 4.0
    best, chosen = np.inf, np.zeros((size, 2))
    for smoothness in usual * SMOOTHNESS:
        factor = cholesky_banded(bands + smoothness * penalty, lower=True)
        found = np.asarray(cho_solve_banded((factor, True), moment))
        rest = max(total - float(np.sum(moment * found)), 1e-9 * total)
        determinant = 2.0 * float(np.sum(np.log(factor[0]))) - (size - 2) * np.log(smoothness)
        likelihood = 2.0 * determinant + count * np.log(rest)
        if likelihood < best:
            best, chosen = likelihood, found
    return chosen


def _second_differences(size: int) -> Floats:
    """Return the lower bands of the sum of squared second differences of ``size`` numbers, (4, size)."""
    out = np.zeros((4, size))
    for k, steps in ((0, (1.0, 4.0, 1.0)), (1, (-2.0, -2.0)), (2, (1.0,))):
        for shift, share in enumerate(steps):
            out[k, shift : size - 2 + shift] += share
    return out
