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

from trackspread.geometry.consensus.lines import LEAST_LINE_STATIONS, half_of, line_through
from trackspread.geometry.crossings import point_offsets
from trackspread.geometry.matching import Line, refine
from trackspread.geometry.points import Bundle
from trackspread.model import Bools, Floats, Ints
from trackspread.numeric.robust import BISQUARE_TUNING, MAD_TO_SD

LEAST_PIECES, MOST_PIECES = 3, 5000  # pieces of the curve; the upper one bounds the work
SMOOTHNESS: Floats = 10.0 ** np.arange(-3.0, 9.01, 0.5)
"""Weights of the penalty that are tried, from a curve through every point to a straight line."""
REWEIGHTED = 4  # turns of reweighting
LEAST_MATCHED = 4  # points on the line, fewer tell no middle
KNOT_SCATTERS = (8.0, 6.0, 4.0, 3.0, 2.0, 2.0)
"""Distance of the knots of a curve through points in each of its rounds, in scatters of the points."""


def through_points(
    bundle: Bundle,
    line: Line,
    station_m: Floats,
    step_m: float,
    reach_m: float,
    left_out: Bools | None = None,
) -> tuple[Line, Floats]:
    """Return the smooth curve through the points of sparse traces, and the station of each point on it.

    Curve and feet of the points take turns. It spans where at least half of the traces run; one that goes on
    out of reach runs on. Knots lie farther apart than points scatter, at first much farther, or the curve
    would wind through the scatter of many.

    Parameters
    ----------
    bundle : Bundle
        All points of the traces of a route, in order.
    line : Line
        Where to start.
    station_m : ndarray of float, shape (P,)
        Station of each point on it, metres; NaN away from it.
    step_m : float
        Distance of neighbouring stations, metres.
    reach_m : float
        Farthest distance of a point that belongs to the line, metres.
    left_out : ndarray of bool, shape (P,), optional
        Points that have no say.

    Returns
    -------
    line : Line
    station_m : ndarray of float, shape (P,)
    """
    say = np.ones(len(station_m), dtype=bool) if left_out is None else ~left_out
    for scatters in KNOT_SCATTERS:
        known = np.flatnonzero(np.isfinite(station_m) & say)
        if len(known) < LEAST_MATCHED:
            break
        begin, end = _spanned(bundle, station_m, known)
        span = end - begin
        if not span >= LEAST_LINE_STATIONS * step_m:
            break
        stations = begin + np.linspace(0.0, span, round(span / step_m) + 1)
        offset = point_offsets(bundle, station_m, line)[known]
        scatter = MAD_TO_SD * float(np.median(np.abs(offset)))
        spacing = max(step_m, span / len(known), scatters * scatter)
        points = station_m[known], bundle.x[known], bundle.y[known]
        x, y, _ = smooth_curve(*points, stations, spacing)
        line = line_through(x, y, step_m)
        carried_m = (station_m - begin) * (line.length_m / span)
        station_m = refine(bundle, carried_m, line, reach_m)
    return line, station_m


def _spanned(bundle: Bundle, station_m: Floats, known: Ints) -> tuple[float, float]:
    """Return between which stations at least half of the traces run, by the points ``known``."""
    at = station_m[known]
    first = np.flatnonzero(np.diff(bundle.owner[known], prepend=-1))
    last = np.append(first[1:], len(known)) - 1
    begins, ends = np.minimum.reduceat(at, first), np.maximum.reduceat(at, first)
    owner = bundle.owner[known[first]]
    begins[known[first] != bundle.start[owner]] = at.min()
    ends[known[last] != bundle.start[owner + 1] - 1] = at.max()
    need = min(half_of(bundle), len(first))
    return float(np.sort(begins)[need - 1]), float(np.sort(ends)[-need])


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
