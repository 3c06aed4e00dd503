"""The way from one view to the next, and how long everything in a sequence takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trackspread.film.storyboard import Shot

FLY_S, WHOLE_S, PLACE_S, HOLD_S, REVEAL_S = 2.4, 12.0, 7.0, 3.0, 0.8
"""Seconds of flying, of drawing the whole route and a place, of standing still, and of the last fading in."""
STEEPNESS = 1.3  # rho of the flight: how far it climbs (van Wijk & Nuij 2003)


@dataclass(frozen=True, kw_only=True, slots=True)
class View:
    """Where the camera looks: centre in metres, half width of what it sees, and the turn of the ground."""

    x_m: float
    y_m: float
    half_width_m: float
    turn_rad: float


def view_of(shot: Shot) -> View:
    """Return the view of a shot.

    Parameters
    ----------
    shot : Shot

    Returns
    -------
    View
    """
    return View(
        x_m=shot.centre_m[0], y_m=shot.centre_m[1], half_width_m=shot.half_width_m, turn_rad=shot.turn_rad
    )


def between(a: View, b: View, share: float) -> View:
    """Return the view at a share of the way from one view to another.

    It zooms out, goes over and zooms in so that the ground moves past at an even speed: van Wijk & Nuij
    (2003), Smooth and efficient zooming and panning, IEEE InfoVis, equations 9 to 11, with rho =
    `STEEPNESS`. The pace eases in and out by 3 t² - 2 t³.

    Parameters
    ----------
    a, b : View
        Where the flight begins and ends; the ground turns the shorter way.
    share : float
        0 to 1; beyond, the nearer end.

    Returns
    -------
    View

    Examples
    --------
    >>> near = View(x_m=0.0, y_m=0.0, half_width_m=100.0, turn_rad=0.0)
    >>> far = View(x_m=4000.0, y_m=0.0, half_width_m=100.0, turn_rad=0.0)
    >>> half = between(near, far, 0.5)
    >>> round(half.x_m), round(half.half_width_m)
    (2000, 1693)
    """
    share = min(max(share, 0.0), 1.0)
    eased = share * share * (3 - 2 * share)
    turn = (b.turn_rad - a.turn_rad + math.pi) % (2 * math.pi) - math.pi
    distance = math.hypot(b.x_m - a.x_m, b.y_m - a.y_m)
    over, width = _path(2 * a.half_width_m, 2 * b.half_width_m, distance, eased)
    return View(
        x_m=a.x_m + (b.x_m - a.x_m) * over,
        y_m=a.y_m + (b.y_m - a.y_m) * over,
        half_width_m=width / 2,
        turn_rad=a.turn_rad + turn * eased,
    )


def _path(from_width: float, to_width: float, distance: float, share: float) -> tuple[float, float]:
    """Return the share of the distance covered and the width of the view."""
    if distance < 1e-6 * min(from_width, to_width):
        return share, from_width * math.exp(share * math.log(to_width / from_width))
    squared = STEEPNESS**2
    rise = to_width**2 - from_width**2
    tail = squared * squared * distance**2
    first = math.asinh(-(rise + tail) / (2 * from_width * squared * distance))
    last = math.asinh(-(rise - tail) / (2 * to_width * squared * distance))
    at = share * (last - first)
    over = from_width * (math.cosh(first) * math.tanh(at + first) - math.sinh(first)) / (squared * distance)
    return over, from_width * math.cosh(first) / math.cosh(at + first)
