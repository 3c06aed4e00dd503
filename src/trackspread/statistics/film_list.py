"""The film list: which pieces of a route are fit to show, which need a word, which are not typical."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from trackspread.geometry.sphere import METRES_PER_DEGREE
from trackspread.model import NOTHING, FilmEntry, Floats, Reason, Segment, Stretch, Variant, Verdict

MARGIN_SHARE = 0.15  # margin of a frame
MARGIN_LEAST_M = 60.0  # least margin of a frame, m
TOUCHED_SHARE = 0.1
"""A stretch is told of a segment when it takes up this share of it."""
WORSE: tuple[Verdict, ...] = ("steady", "thin", "wavering", "torn")
"""The verdict of a piece for one watch is the last of these that one of its segments has."""


def film_entries(
    segments: Sequence[Segment],
    station_m: Floats,
    lon_deg: Floats,
    lat_deg: Floats,
    stretches: Sequence[Stretch],
    variants: Sequence[Variant] = (),
) -> tuple[FilmEntry, ...]:
    """Join neighbouring like segments into pieces to film, each with its reason and its frame.

    Segments are alike that share a verdict; steady ones in which a trace leaves the others form pieces
    of their own, because there the trace must be left out or spoken of; so do those beside which some rides
    took a variant, because there the picture must say which way it shows.

    Parameters
    ----------
    segments : sequence of Segment, in order of station
    station_m, lon_deg, lat_deg : ndarray, shape (S,)
        Centreline: metres, degrees; longitudes may run on past 180.
    stretches : sequence of Stretch
    variants : sequence of Variant

    Returns
    -------
    tuple of FilmEntry
        ``bounds`` are west, south, east, north in degrees with a margin of 15 % of the larger side and
        at least 60 m; west is the larger number where the frame spans the antimeridian (RFC 7946, 5.2).
    """
    lon_deg = np.unwrap(np.asarray(lon_deg, dtype=float), period=360.0)
    entries = []
    for _, group in itertools.groupby(segments, key=lambda segment: _kind(segment, stretches, variants)):
        run = list(group)
        from_m, to_m = run[0].from_m, run[-1].to_m
        inside = [stretch for stretch in stretches if any(_touches(stretch, segment) for segment in run)]
        others = [v for v in variants if any(_touches(v, segment) for segment in run)]
        here = (station_m >= from_m) & (station_m <= to_m)
        if not here.any():
            here = np.abs(station_m - (from_m + to_m) / 2) == np.min(np.abs(station_m - (from_m + to_m) / 2))
        entries.append(
            FilmEntry(
                from_m=from_m,
                to_m=to_m,
                verdict=run[0].verdict,
                why=_why(run, inside, others),
                bounds=frame(lon_deg[here], lat_deg[here]),
            )
        )
    return tuple(entries)


def frame(lon_deg: Floats, lat_deg: Floats) -> tuple[float, float, float, float]:
    """Return west, south, east, north of a line with its margin, degrees; longitudes must run on.

    Parameters
    ----------
    lon_deg : ndarray, shape (P,)
        Longitude, degrees.
    lat_deg : ndarray, shape (P,)
        Latitude, degrees.

    Returns
    -------
    west, south, east, north : float
    """
    west, east = float(np.min(lon_deg)), float(np.max(lon_deg))
    south, north = float(np.min(lat_deg)), float(np.max(lat_deg))
    shrink = max(math.cos(math.radians(max(abs(south), abs(north)))), 1e-6)
    larger_m = METRES_PER_DEGREE * max(north - south, (east - west) * shrink)
    margin = max(MARGIN_LEAST_M, MARGIN_SHARE * larger_m) / METRES_PER_DEGREE
    south, north = max(south - margin, -90.0), min(north + margin, 90.0)
    west, east = west - margin / shrink, east + margin / shrink
    if east - west >= 360.0:
        return -180.0, south, 180.0, north
    return _wrapped(west), south, _wrapped(east), north


def _wrapped(lon_deg: float) -> float:
    return (lon_deg + 180.0) % 360.0 - 180.0


def _kind(
    segment: Segment, stretches: Sequence[Stretch], variants: Sequence[Variant]
) -> tuple[str, bool, tuple[str, ...]]:
    touched = any(_touches(stretch, segment) for stretch in stretches)
    beside = tuple(variant.name for variant in variants if _touches(variant, segment))
    return segment.verdict, segment.verdict == "steady" and touched, beside


def _touches(stretch: Stretch | Variant, segment: Segment) -> bool:
    shared = min(stretch.to_m, segment.to_m) - max(stretch.from_m, segment.from_m)
    return shared >= TOUCHED_SHARE * (segment.to_m - segment.from_m)


def _why(run: Sequence[Segment], inside: Sequence[Stretch], variants: Sequence[Variant]) -> Reason:
    """Return the number of traces, the spread with its interval, and who leaves the others."""
    return _traces(run) + _spread(run) + _fit_for(run) + _whom(inside) + _way(variants)


def _fit_for(run: Sequence[Segment]) -> Reason:
    """Return for which of several watches this is fit to show, and the worst verdict of each other one."""
    worst: dict[str, Verdict] = {}
    for entry in (entry for segment in run for entry in segment.receivers):
        worst[entry.receiver] = max(worst.get(entry.receiver, "steady"), entry.verdict, key=WORSE.index)
    if len(worst) < 2:
        return NOTHING
    fit = tuple(name for name, verdict in worst.items() if verdict == "steady")
    others = tuple((name, verdict) for name, verdict in worst.items() if verdict != "steady")
    return Reason.of("fit_for", fit=fit, others=others)


def _way(variants: Sequence[Variant]) -> Reason:
    """Return which variants others took: then this is the main way."""
    named = tuple((variant.name, len(variant.rides), variant.aside_m) for variant in variants)
    return Reason.of("variants_here", variants=named) if named else NOTHING


def _traces(run: Sequence[Segment]) -> Reason:
    traces = [segment.traces for segment in run]
    return Reason.of("traces_here", fewest=min(traces), most=max(traces), thin=run[0].verdict == "thin")


def _spread(run: Sequence[Segment]) -> Reason:
    """Pool the variances of the segments; the interval is as wide as if they told no more than one."""
    value, low, high = (
        _root_mean_square([getattr(segment.spread, name) for segment in run])
        for name in ("value", "low", "high")
    )
    if math.isnan(value):
        return next((s.spread.reason for s in run if s.spread.reason), NOTHING)
    ends = () if math.isnan(low) or math.isnan(high) else (low, high)
    return Reason.of("spread_here", value=value, ends=ends)


def _root_mean_square(values: Sequence[float]) -> float:
    squares = [value**2 for value in values if not math.isnan(value)]
    return math.sqrt(sum(squares) / len(squares)) if squares else math.nan


def _whom(inside: Sequence[Stretch]) -> Reason:
    """Return which traces leave the others, each by its farthest stretch, the farthest first."""
    worst: dict[int, Stretch] = {}
    for stretch in sorted(inside, key=lambda stretch: (-abs(stretch.peak_m), stretch.from_m)):
        worst.setdefault(stretch.number, stretch)
    told = tuple((s.receiver or s.file, s.ride, s.cause, abs(s.peak_m), s.side) for s in worst.values())
    return Reason.of("astray_here", stretches=told) if told else NOTHING
