"""Lines with even stations, and how many traces make one."""

from __future__ import annotations

import math

import numpy as np

from trackspread.errors import TrackspreadError
from trackspread.geometry.matching import Line
from trackspread.geometry.points import Bundle
from trackspread.geometry.polyline import cumulative_length, resample, tangents
from trackspread.model import Floats, Reason
from trackspread.numeric.robust import running_mean

LEAST_LINE_STATIONS, MOST_LINE_STATIONS = 5, 100_000  # stations; the upper number bounds memory


class NoLine(TrackspreadError, ValueError):
    """The traces have no line that can be worked with; ``reason`` says why."""

    def __init__(self, reason: Reason) -> None:
        super().__init__(f"no line: {reason.code.replace('_', ' ')}")
        self.reason = reason


def line_through(x: Floats, y: Floats, step_m: float) -> Line:
    """Return a line with even stations through a polyline; `NoLine` where they are too few or too many.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    Line
    """
    x, y = even_stations(x, y, step_m)
    return Line(x=x, y=y, station_m=cumulative_length(x, y))


def even_stations(x: Floats, y: Floats, step_m: float) -> tuple[Floats, Floats]:
    """Return a polyline at even stations; `NoLine` where they are too few or too many.

    Parameters
    ----------
    x : ndarray, shape (P,)
        East, metres.
    y : ndarray, shape (P,)
        North, metres.
    step_m : float
        Distance between stations, metres.

    Returns
    -------
    x, y : ndarray, shape (S,)
    """
    stations = float(cumulative_length(x, y)[-1]) / step_m
    if not stations + 1.0 >= LEAST_LINE_STATIONS:
        raise NoLine(Reason("no_common_line"))
    if stations > MOST_LINE_STATIONS:
        raise NoLine(Reason.of("too_many_stations", most=MOST_LINE_STATIONS, step_m=step_m))
    return resample(x, y, step_m)


def half_of(bundle: Bundle) -> int:
    """Return how many traces are half of a bundle, two at least.

    Parameters
    ----------
    bundle : Bundle
        Points of all traces on the grid.

    Returns
    -------
    int
    """
    return max(2, math.ceil(bundle.traces / 2))


def carried_tangents(line: Line, half: int) -> tuple[Floats, Floats]:
    """Return the direction of a line as a whole, shape (S,): its tangents averaged to ``half`` either side.

    Moved along its own normals a kink would grow. Where the line turns back its own tangents are returned.

    Parameters
    ----------
    line : Line
        The line so far.
    half : int
        Stations to either side.

    Returns
    -------
    tx, ty : ndarray of float, shape (S,)
    """
    own = tangents(line.x, line.y)
    tx, ty = (running_mean(t, half) for t in own)
    size = np.hypot(tx, ty)
    whole = size > 0.5
    size = np.where(whole, size, 1.0)
    return np.where(whole, tx / size, own[0]), np.where(whole, ty / size, own[1])
