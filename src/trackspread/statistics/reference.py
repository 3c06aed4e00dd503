"""Accuracy against a reference line: what repeated traces alone cannot tell."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from trackspread.errors import TrackspreadError
from trackspread.geometry.cropping import pieces_inside
from trackspread.geometry.crossings import crossings
from trackspread.geometry.matching import Line, match
from trackspread.geometry.points import join
from trackspread.geometry.polyline import resample
from trackspread.model import Bools, Estimate, Floats, Ints, Reason, ReferenceResult
from trackspread.model.arrays import kept
from trackspread.noise.effective import Along, around, kind_shares
from trackspread.noise.posterior import independent, ride_lengths
from trackspread.noise.tails import Sample, sd_below
from trackspread.numeric.distributions import t_quantile
from trackspread.numeric.intervals import sd_factors, shortest
from trackspread.options import Options

NSSDA_HORIZONTAL = 2.4477  # √(−2 ln 0.05), NSSDA (FGDC-STD-007.3-1998), appendix 3-A
NSSDA_LEAST_POINTS = 20  # check points, NSSDA, section 3.2.2
NSSDA_LEAST_RATIO = 0.6  # smaller to larger RMSE, NSSDA, appendix 3-A
ONE_AXIS_95 = 1.96  # standard deviations, Φ⁻¹(0.975)
_FINE_M = 5.0  # m between places on a reference
FEW_PIECES, PIECES_AT_ONCE = 32, 64  # pieces looked at one by one; more go together, so many at once
REFERENCE_MARGIN_M = 200.0  # m around the route within which a reference is of use
MOST_TIMES, MOST_M = 50.0, 500_000.0
"""A reference of so many times the length of the route, or so much longer, is not one line along it."""
Piece = tuple[Floats, Floats]
LEAST_STATIONS = 20  # stations beside the reference that are needed
NOT_BESIDE = Reason("off_reference")
NODES = 48  # nodes of the quadrature after Chebyshev
_SHARE: Floats = 0.5 - 0.5 * np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
_SHARE_WEIGHT: Floats = np.sin(np.pi * (np.arange(NODES) + 0.5) / NODES)
"""Quantiles, close together in both tails, that stand for the distributions of bias and variance, and what
each weighs: the midpoint rule in x of p = (1 - cos x) / 2. The outermost, 0.00027, holds ends at 99.8 %."""
LEAST_KIND_SHARE = 1e-4
"""Kinds that weigh less do not move an interval of 95 %."""
LEAST_LEFT = 0.02  # share of the variance left about the mean, at least


class NoReference(TrackspreadError, ValueError):
    """A reference that cannot be held against a route; ``reason`` says why."""

    def __init__(self, reason: Reason) -> None:
        super().__init__(f"no reference: {reason.code.replace('_', ' ')}")
        self.reason = reason


def reference_offset(line: Line, parts: Sequence[tuple[Floats, Floats]], options: Options) -> Floats:
    """Return the offset of a reference line from the centreline at its stations, shape (S,).

    Parameters
    ----------
    line : Line
        The centreline on its grid.
    parts : sequence of (x, y)
        The pieces of the reference, east and north on the same grid, metres.
    options : Options
        ``reach_m`` and ``gap_m`` as for traces.

    Returns
    -------
    ndarray, shape (S,)

    Notes
    -----
    Each piece is matched in order of travel like a trace, forwards and backwards (a drawn line has no
    direction of travel); where two pieces reach a station, the nearer one counts. NaN where none does. Of a
    reference that is far longer than the route only what lies in the box around the route counts.

    Raises
    ------
    NoReference
        There is so much line around the route that it cannot be one line along it.
    """
    best = np.full(len(line.station_m), np.nan)
    pieces = _near(line, parts, options.reach_m)
    each = 1 if len(pieces) <= FEW_PIECES else PIECES_AT_ONCE
    for first in range(0, len(pieces), each):
        some = [resample(x, y, _FINE_M) for x, y in pieces[first : first + each]]
        for way in (1, -1):
            for found in _offsets(line, [(x[::way], y[::way]) for x, y in some], options):
                nearer = np.isfinite(found) & ~(np.abs(best) <= np.abs(found))
                best = np.where(nearer, found, best)
    return best


def _near(line: Line, parts: Sequence[Piece], reach_m: float) -> list[Piece]:
    """Return the pieces that are long enough; of a reference far longer than the route what is near it."""
    every = [(np.asarray(x, float), np.asarray(y, float)) for x, y in parts if len(x) > 1]
    most_m = min(MOST_TIMES * line.length_m, MOST_M + line.length_m)
    if not sum(_length_m(piece) for piece in every) <= most_m or len(every) > FEW_PIECES:
        margin = reach_m + REFERENCE_MARGIN_M
        low = np.array([line.x.min(), line.y.min()]) - margin
        high = np.array([line.x.max(), line.y.max()]) + margin
        every = [inside for piece in every for inside in pieces_inside(*piece, low, high)]
    near_m = sum(_length_m(piece) for piece in every)
    if near_m > most_m:
        raise NoReference(Reason.of("reference_too_long", near_m=near_m, route_m=line.length_m))
    return [piece for piece in every if _length_m(piece) > _FINE_M]


def _length_m(piece: Piece) -> float:
    return float(np.hypot(np.diff(piece[0]), np.diff(piece[1])).sum())


def _offsets(line: Line, pieces: Sequence[Piece], options: Options) -> Floats:
    """Return the offsets of several pieces at the stations of the line, shape (N, S)."""
    bundle = join([(x, y, np.full(len(x), np.nan), np.zeros(len(x), dtype=bool)) for x, y in pieces])
    return crossings(bundle, match(bundle, line, options.reach_m), line, options.gap_m).offset_m


def reference_results(
    station_m: Floats, offset_m: Floats, in_stretch: Bools, receivers: Sequence[str],
    reference_offset_m: Floats, edges_m: Floats, options: Options, heading_rad: Floats | None = None,
    why_not: Reason = NOT_BESIDE,
) -> tuple[ReferenceResult, ...]:  # fmt: skip
    """Return bias and RMSE of every receiver against the reference line, over the route and by segment.

    Parameters
    ----------
    station_m : ndarray, shape (S,)
    offset_m : ndarray, shape (T, S)
        Offsets of the traces from the centreline, positive right, NaN unknown.
    in_stretch : ndarray of bool, shape (T, S)
        Stations that do not count. A stretch is an error too, unless the rider went another way: give
        those of cause ``line``.
    receivers : sequence of str, length T
    reference_offset_m : ndarray, shape (S,)
        Offset of the reference (`reference_offset`), NaN where it does not run.
    edges_m : ndarray, shape (N + 1,)
        Stations between which the segments lie.
    heading_rad : ndarray, shape (S,), optional
    why_not : Reason
        The reason where there is nothing to say.
    options : Options
        Thresholds.

    Returns
    -------
    tuple of ReferenceResult

    Notes
    -----
    d is a lasting bias and a wandering error across the line: see `bias_and_rmse`. The line of the rider, who
    does not ride on the survey, is part of d.
    """
    along = Along.of(station_m, heading_rad)
    error = kept(offset_m - reference_offset_m, in_stretch)
    place = np.clip(np.searchsorted(edges_m, station_m, side="right") - 1, 0, len(edges_m) - 2).astype(
        np.int64
    )
    names = [name for name in dict.fromkeys(receivers) if name]
    rows = {name: np.array([receiver == name for receiver in receivers]) for name in names}
    return tuple(
        _receiver(name, error[rows[name]], place, len(edges_m) - 1, along, options, why_not) for name in names
    )


def _receiver(
    name: str, error_m: Floats, place: Ints, segments: int, along: Along, options: Options, why_not: Reason
) -> ReferenceResult:
    by_segment = [error_m[:, place == k] for k in range(segments)]
    known = np.isfinite(error_m)
    if known.any(axis=0).sum() < LEAST_STATIONS:
        nothing = Estimate(reason=why_not)
        rmse, bias, accuracy = nothing, nothing, nothing
    else:
        bias, rmse, worth = bias_and_rmse(error_m, along, options.confidence)
        accuracy = accuracy_95(rmse.value, math.nan, worth)
    return ReferenceResult(
        receiver=name, bias_m=bias, rmse_m=rmse, accuracy_95_m=accuracy,
        segment_bias_m=np.array([_mean(part) for part in by_segment]),
        segment_rmse_m=np.array([_root_mean_square(part) for part in by_segment]),
    )  # fmt: skip


def bias_and_rmse(error_m: Floats, along: Along, confidence: float) -> tuple[Estimate, Estimate, float]:
    """Return a lasting bias, the RMSE, and how many independent values they rest on.

    Parameters
    ----------
    error_m : ndarray, shape (R, S)
        Errors of the rides of one receiver across the line, NaN unknown.
    along : Along
    confidence : float

    Returns
    -------
    bias, rmse : Estimate
    worth : float

    Notes
    -----
    d = b + e: a bias b that is the same everywhere and a wandering e of variance v, both unknown, so that
    RMSE^2 = b^2 + v. Rides and blocks of d less its mean tell v (`noise.tails`: bursts, unequal rides), over
    1 - c, where c is the share of v in the variance of that mean under each kind of error (`kind_shares`).
    Given both, b is normal about the mean of d with variance c v. The interval of b has equal tails, that of
    the RMSE is the shortest, over all of them (Box & Tiao 1973, sections 2.4 and 2.8, from memory). Its value
    is sqrt(mean d^2), whose square has the expectation b^2 + v.
    """
    known = np.isfinite(error_m)
    mean, value = _mean(error_m), _root_mean_square(error_m)
    if not np.ptp(error_m[known]) > 0.0:
        size = abs(mean)
        return (
            Estimate(value=mean, low=mean, high=mean), Estimate(value=size, low=size, high=size), math.nan
        )  # fmt: skip
    kinds = along.posterior(error_m - mean, about=np.ones(error_m.shape))
    there = known.any(axis=1)
    wandering = Sample(
        error_m=error_m[there] - mean,
        ride=np.arange(there.sum()),
        lengths=ride_lengths(kinds, known, along.heading_rad, along.step_m),
        own=1.0,
        step_m=along.step_m,
    )
    sd, below = sd_below([wandering], bursts=True)
    some = kinds.weight > LEAST_KIND_SHARE
    share = kind_shares(known / known.sum(), along)[some, None]
    seen_m2 = (value**2 - mean**2) * np.interp(_SHARE, below, sd) ** 2
    variance = seen_m2 / np.maximum(1.0 - share, LEAST_LEFT)
    level = mean + np.sqrt(share * variance)[:, :, None] * t_quantile(_SHARE, np.inf)
    rmse = np.sqrt(level**2 + variance[:, :, None])
    weight = np.multiply.outer(kinds.weight[some], np.outer(_SHARE_WEIGHT, _SHARE_WEIGHT))
    tails = 0.5 + confidence * np.array([-0.5, 0.5])
    bias_ends = np.interp(tails, *_below(level, weight)[::-1])
    rmse_ends = shortest(*_below(rmse, weight), confidence)
    worth = kinds.weight @ independent(known, along.heading_rad, along.step_m)
    return around(mean, *bias_ends), around(value, *rmse_ends), float(worth)


def _below(values: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Return weighted values in order, and the share of the weight below each."""
    order = np.argsort(values, axis=None)
    ordered = weight.ravel()[order]
    return values.ravel()[order], (np.cumsum(ordered) - 0.5 * ordered) / ordered.sum()


def accuracy_95(rmse_across_m: float, rmse_along_m: float, independent: float) -> Estimate:
    """Return the horizontal accuracy at 95 % by NSSDA where its conditions hold, else why they do not.

    2.4477 * 0.5 * (RMSE_x + RMSE_y), for at least 20 independent check points and 0.6 <= RMSE_min /
    RMSE_max <= 1 (FGDC-STD-007.3-1998, appendix 3-A; 1.7308 RMSE_r where both are equal). Against a line
    the error along it cannot be seen, so ``rmse_along_m`` is NaN there and the conditions never hold: then
    the reason gives what can be had, 1.9600 RMSE of the one axis (the standard's factor for one axis).

    Parameters
    ----------
    rmse_across_m : float
        Across the line, metres.
    rmse_along_m : float
        Along it, NaN unknown.
    independent : float
        Independent check points that they rest on.

    Returns
    -------
    Estimate
    """
    across = ONE_AXIS_95 * rmse_across_m
    if not math.isfinite(rmse_along_m):
        return Estimate(reason=Reason.of("nssda_one_axis", across_m=across, worth=independent))
    if independent < NSSDA_LEAST_POINTS:
        return Estimate(reason=Reason.of("nssda_few_points", least=NSSDA_LEAST_POINTS, worth=independent))
    ratio = min(rmse_across_m, rmse_along_m) / max(rmse_across_m, rmse_along_m, 1e-12)
    if ratio < NSSDA_LEAST_RATIO:
        return Estimate(reason=Reason.of("nssda_unlike_axes", ratio=ratio))
    low, high = sd_factors(round(independent, 3), 0.95)
    value = NSSDA_HORIZONTAL * 0.5 * (rmse_across_m + rmse_along_m)
    return Estimate(value=value, low=value * low, high=value * high)


def _mean(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.mean(known)) if len(known) else math.nan


def _root_mean_square(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.sqrt(np.mean(known**2))) if len(known) else math.nan
