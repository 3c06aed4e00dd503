"""Flat ground, and the frame and the turn in which a piece of it is seen best."""

from __future__ import annotations

import math

import numpy as np

from trackspread import model as m
from trackspread.geometry.discs import geocentric

SHOT_MARGIN_SHARE = 0.12  # of the length of a place, beside it
SHOT_MARGIN_LEAST_M = 25.0  # m beside it, at least
NORTH_UP_FROM = 0.72
"""North stays up where that costs less than this share of the scale."""


def flat(lon_deg: m.Floats, lat_deg: m.Floats, origin: tuple[float, float]) -> tuple[m.Floats, m.Floats]:
    """Return east and north in the plane that touches WGS 84 at ``origin`` (EPSG method 9837, no height).

    50 km from the origin lengths are short by 31 parts in a million.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (P,)
        Degrees.
    origin : (float, float)
        Longitude and latitude of the ground's origin, degrees.

    Returns
    -------
    tuple of ndarray, shape (P,)
        East and north, metres.
    """
    lon, lat = math.radians(origin[0]), math.radians(origin[1])
    away = geocentric(lon_deg, lat_deg) - geocentric(np.array(origin[0]), np.array(origin[1]))
    outward = np.array([math.cos(lon), math.sin(lon), 0.0])
    east = np.array([-math.sin(lon), math.cos(lon), 0.0])
    north = math.cos(lat) * np.array([0.0, 0.0, 1.0]) - math.sin(lat) * outward
    return away @ east, away @ north


def framed(
    points_m: m.Floats, aspect: float, end: int = -1
) -> tuple[float, tuple[float, float], tuple[float, float]]:
    """Return the frame that shows points largest.

    North stays up where that costs less than `NORTH_UP_FROM` says; else the ground is turned, in steps of 5°,
    so that the line runs from left to right.

    Parameters
    ----------
    points_m : ndarray, shape (P, 2)
        East and north, metres; first those of the line, in order of travel.
    aspect : float
        Width over height of the picture.
    end : int
        Index of the point where the line ends.

    Returns
    -------
    turn_rad : float
        Of the ground, clockwise.
    centre_m : (float, float)
        East and north on the ground as it is, unturned.
    half_m : (float, float)
        Half width and half height with margin; the picture has to be larger one way to keep its aspect.
    """
    turns = np.radians(np.arange(-90.0, 90.0, 5.0))
    halves = np.array([extent(points_m, turn)[1] for turn in turns])
    widths = np.maximum(halves[:, 0], halves[:, 1] * aspect)
    best = float(turns[int(np.argmin(widths))])
    centre, half = extent(points_m, 0.0)
    if widths.min() >= NORTH_UP_FROM * max(half[0], half[1] * aspect):
        return 0.0, centre, half
    x, _ = turned(points_m[:, 0], points_m[:, 1], best)
    best += math.pi if x[end] < x[0] else 0.0
    return best, *extent(points_m, best)


def turned(x_m: m.Floats, y_m: m.Floats, turn_rad: float) -> tuple[m.Floats, m.Floats]:
    """Return ground coordinates turned clockwise.

    Parameters
    ----------
    x_m, y_m : ndarray, shape (P,)
        East and north, metres.
    turn_rad : float
        Radians clockwise.

    Returns
    -------
    tuple of ndarray, shape (P,)
        Metres.

    Examples
    --------
    >>> x, y = turned(np.array([0.0]), np.array([5.0]), math.pi / 2)
    >>> float(x[0]), round(float(y[0]), 9)
    (5.0, 0.0)
    """
    cos, sin = math.cos(turn_rad), math.sin(turn_rad)
    return cos * x_m + sin * y_m, -sin * x_m + cos * y_m


def extent(points_m: m.Floats, turn: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the frame around points on turned ground, with its margin.

    Parameters
    ----------
    points_m : ndarray, shape (P, 2)
        East and north, metres.
    turn : float
        Of the ground, radians clockwise.

    Returns
    -------
    centre_m : (float, float)
        East and north on the ground as it is, unturned.
    half_m : (float, float)
        Half width and half height of the frame.
    """
    seen = np.stack(turned(points_m[:, 0], points_m[:, 1], turn))
    low, high = seen.min(axis=1), seen.max(axis=1)
    middle = (low + high) / 2
    east, north = turned(middle[:1], middle[1:], -turn)
    half = (high - low) / 2
    half += max(SHOT_MARGIN_LEAST_M, SHOT_MARGIN_SHARE * float(half.max()))
    return (float(east[0]), float(north[0])), (float(half[0]), float(half[1]))
