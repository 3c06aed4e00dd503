"""The motion of two receivers ridden together, at instants all along a ride."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackspread.model import Bools, Floats, Ints
from trackspread.noise.effective import Along
from trackspread.numeric.robust import MAD_TO_SD

STEP_S, MOST_INSTANTS = 5.0, 500  # s between instants, and their number, which bounds the work
WINDOW_S = 3.0  # s over which positions and speeds are means
SLOW, LONGEST_BULGE_S = 2.5, 15.0  # times the usual duration of a step; s beyond which it was an even pace
GAP_M, TIME_GAP_STEPS = 30.0, 3.0  # m, and steps, without a station that tell nothing
LEAST_CHANGE = 1e-5  # m/s, steps of pace below it come of rounding
MOST_SCALES, LEAST_SCALE_M = 5.0, 0.5  # robust standard deviations of an outlier, and the least scale, m


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Motion:
    """Of each ride, at instants ``step_s`` apart: shapes (R, T, 3), (R, T) and (R, T, 2).

    ``columns`` holds by how much a is ahead of b in m, the speed of a and that of b in m/s, NaN unknown.
    ``hidden_m2`` is the variance of what a stand between two stations hides; ``direction`` is that of the
    line, its mean over the step.
    """

    step_s: float
    columns: Floats
    hidden_m2: Floats
    direction: Floats


def rising(time_s: Floats, station_m: Floats) -> tuple[Floats, Floats]:
    """Return the crossings that come after all earlier ones.

    Parameters
    ----------
    time_s : ndarray, shape (P,)
        Seconds UTC, NaN unknown.
    station_m : ndarray, shape (S,)
        Stations, metres.

    Returns
    -------
    time_s, station_m : ndarray
    """
    best = np.maximum.accumulate(time_s)
    keep = np.concatenate([[True], time_s[1:] > best[:-1]])
    return time_s[keep], station_m[keep]


def motion(a_s: Floats, b_s: Floats, clock_s: Floats, station_m: Floats, along: Along) -> Motion:
    """Return the motion of a and b, ``clock_s``, (R,), taken off the times of a.

    Parameters
    ----------
    a_s, b_s : ndarray, shape (R, S)
        When each passed the stations, with two of them or more on every ride.
    clock_s : ndarray, shape (R,)
        Clock of a less that of b, seconds.
    station_m : ndarray, shape (S,)
        Stations, metres.
    along : Along
        Step and direction of the line.

    Returns
    -------
    Motion

    Notes
    -----
    Positions and speeds are means over 3 s. Where a trace takes more than 2.5 times as long from one
    station (of a sparse trace, from one change of pace) to the next as it mostly does, it may stand
    anywhere between them: one instant speaks for the stand, with the variance d^2 / 12 of an even
    distribution over their distance d. Elsewhere the straight line between two logged points is off by what
    even acceleration makes of it. Over more than 30 m and three steps without a station nothing is known,
    nor beyond 5 scales, where one of them jumped.
    """
    ways = [
        [
            rising(time[np.isfinite(time)], station_m[np.isfinite(time)])
            for time in (a_s[ride] - clock_s[ride], b_s[ride])
        ]
        for ride in range(len(a_s))
    ]
    spans = [(max(a[0][0], b[0][0]) + WINDOW_S, min(a[0][-1], b[0][-1]) - WINDOW_S) for a, b in ways]
    longest = max(last - first for first, last in spans)
    step = max(STEP_S, longest / MOST_INSTANTS)
    size = max(int(longest / step) + 1, 0)
    shape = (len(ways), size)
    columns, hidden = np.full((*shape, 3), np.nan), np.zeros(shape)
    direction = np.zeros((*shape, 2))
    heading = np.unwrap(along.heading_rad)
    for ride, (way, (first, last)) in enumerate(zip(ways, spans, strict=True)):
        at = np.arange(first, last, step)[:size]
        if len(at) == 0:
            continue
        fill = slice(0, len(at))
        columns[ride, fill], hidden[ride, fill] = _ahead(way, at, max(GAP_M, TIME_GAP_STEPS * along.step_m))
        wide = at[:, None] + step * np.array([-0.4, -0.2, 0.0, 0.2, 0.4])
        station = np.mean([np.interp(wide, *one) for one in way], axis=0)
        turned = np.interp(station, station_m, heading)
        direction[ride, fill] = np.stack([np.cos(turned), np.sin(turned)], axis=2).mean(axis=1)
    _drop_jumps(columns)
    return Motion(step_s=step, columns=columns, hidden_m2=hidden, direction=direction)


def _ahead(way: Sequence[tuple[Floats, Floats]], at_s: Floats, gap_m: float) -> tuple[Floats, Floats]:
    """Return the columns, (T, 3), of one ride, and the variance of what is hidden, (T,)."""
    fine = at_s[:, None] + WINDOW_S * np.array([-1.0, 0.0, 1.0]) / 3.0
    edges = at_s + WINDOW_S * np.array([[-0.5], [0.5]])
    places = [np.interp(fine, *one).mean(axis=1) for one in way]
    speeds = [np.diff(np.interp(edges, *one), axis=0)[0] / WINDOW_S for one in way]
    columns, hidden = np.stack([places[0] - places[1], *speeds], axis=1), np.zeros(len(at_s))
    stands = np.zeros(len(at_s), dtype=bool)
    for one in way:
        gap = np.diff(one[1])[np.clip(np.searchsorted(one[0], fine) - 1, 0, len(one[0]) - 2)] > gap_m
        time, station = _logged(*one)
        lasts, step = np.diff(time), np.diff(station)
        slow = lasts > SLOW * np.median(lasts / step) * step
        place = np.clip(np.searchsorted(time, fine) - 1, 0, len(lasts) - 1)
        hidden += np.where(slow, step**2 / 12.0, bulges(lasts, step))[place].max(axis=1)
        stands |= slow[place].any(axis=1)
        columns[gap.any(axis=1)] = np.nan
    columns[_but_the_middle(stands)] = np.nan
    return columns, hidden


def bulges(lasts_s: Floats, step_m: Floats) -> Floats:
    """Return the variance of a straight line between logged points where the speed changes, (N,).

    A way at even acceleration bulges from it by dv T / 8, a parabola with the mean square 8/15 (dv T / 8)^2;
    dv is half the difference of the speeds before and after. What lasts over several instants counts as
    often; what lasts longer than `LONGEST_BULGE_S` came of an even pace, not of points so far apart.

    Parameters
    ----------
    lasts_s : ndarray, shape (N,)
        Time between logged points, seconds.
    step_m : ndarray, shape (N,)
        Way between them, metres.

    Returns
    -------
    ndarray, shape (N,)
    """
    speed = np.concatenate([step_m[:1] / lasts_s[:1], step_m / lasts_s, step_m[-1:] / lasts_s[-1:]])
    peak = 0.5 * np.abs(speed[2:] - speed[:-2]) * lasts_s / 8.0
    often = np.where(lasts_s <= LONGEST_BULGE_S, np.maximum(lasts_s / STEP_S, 1.0), 0.0)
    return np.asarray(8.0 / 15.0 * peak**2 * often)


def _logged(time_s: Floats, station_m: Floats) -> tuple[Floats, Floats]:
    """Return the crossings where the pace changes; those between came of the same two logged points."""
    pace = np.diff(time_s) / np.diff(station_m)
    keep = np.concatenate([[True], np.abs(np.diff(pace)) > LEAST_CHANGE, [True]])
    return time_s[keep], station_m[keep]


def _but_the_middle(stands: Bools) -> Ints:
    """Return all places of runs but the middle one of each."""
    at = np.flatnonzero(stands)
    runs = np.split(at, np.flatnonzero(np.diff(at) > 1) + 1)
    return np.setdiff1d(at, [run[len(run) // 2] for run in runs if len(run)])


def _drop_jumps(columns: Floats) -> None:
    """Take out what lies beyond 5 scales of all rides, in place."""
    ahead = columns[:, :, 0]
    known = ahead[np.isfinite(ahead)]
    if len(known):
        middle = np.median(known)
        scale = max(MAD_TO_SD * float(np.median(np.abs(known - middle))), LEAST_SCALE_M)
        columns[np.abs(ahead - middle) > MOST_SCALES * scale] = np.nan
