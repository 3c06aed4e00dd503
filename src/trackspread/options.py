"""Thresholds of the analysis: one frozen record, checked when it is made, printed beside every use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from trackspread.errors import BadOption

Settings = Mapping[str, float | int | str | bool]
"""The thresholds of an analysis by name, as a result keeps them; earlier ones lack some."""

_RANGES: dict[str, tuple[float, float]] = {
    "segment_m": (10.0, 100_000.0),
    "station_step_m": (1.0, 50.0),
    "reach_m": (10.0, 500.0),
    "gap_m": (10.0, 10_000.0),
    "corridor_m": (10.0, 500.0),
    "steady_m": (0.01, 1000.0),
    "torn_m": (0.01, 1000.0),
    "steady_share": (0.0, 1.0),
    "torn_share": (0.001, 1.0),
    "min_traces": (2, 100),
    "stretch_enter": (1.0, 20.0),
    "stretch_leave": (0.5, 20.0),
    "stretch_min_m": (5.0, 10_000.0),
    "stretch_merge_m": (0.0, 10_000.0),
    "settle_band": (1.0, 20.0),
    "settle_hold_s": (1.0, 3600.0),
    "confidence": (0.5, 0.999),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Options:
    """All thresholds of one analysis, checked when it is made.

    Parameters
    ----------
    segment_m : float
        Length of a segment of the centreline, metres.
    station_step_m : float
        Distance of neighbouring stations, metres.
    reach_m : float
        A trace farther than this from the line is away from it, metres.
    gap_m : float
        Where a trace logs nothing over more than this length, it has no offset there, metres.
    corridor_m : float
        Half width of the corridor in which traces count as running the same way, metres.
    steady_m, torn_m : float
        A segment is ``steady`` up to the first spread and ``torn`` above the second, metres.
    steady_share, torn_share : float
        A segment is no longer ``steady`` where more than the first share of its rides are astray by more than
        ``steady_m``, and ``torn`` where the second or more are astray by more than ``torn_m``.
    min_traces : int
        Segments with fewer traces are ``thin``.
    stretch_enter, stretch_leave : float
        A stretch opens above the first deviation and closes below the second, both in
        standard deviations of the moderated scale.
    stretch_min_m, stretch_merge_m : float
        Shortest stretch, and longest break inside one, metres.
    settle_band : float
        A fix is settled within this many standard deviations of the other rides …
    settle_hold_s : float
        … once it stays there for this many seconds.
    grid : str
        ``"local"`` (default) or ``"utm"``.
    confidence : float
        Level of all intervals.
    laps : bool
        Split a file of repeated laps into rides.

    Raises
    ------
    BadOption
        A threshold is outside its range.

    Examples
    --------
    >>> Options(segment_m=50).as_dict()["segment_m"]
    50
    >>> Options(steady_m=5, torn_m=4)
    Traceback (most recent call last):
    trackspread.errors.BadOption: torn_m: at least steady_m, 5, is needed (found 4)
    """

    segment_m: float = 100.0
    station_step_m: float = 5.0
    reach_m: float = 60.0
    gap_m: float = 80.0
    corridor_m: float = 40.0
    steady_m: float = 3.0
    torn_m: float = 6.0
    steady_share: float = 0.05
    torn_share: float = 0.2
    min_traces: int = 3
    stretch_enter: float = 3.0
    stretch_leave: float = 2.0
    stretch_min_m: float = 30.0
    stretch_merge_m: float = 30.0
    settle_band: float = 3.0
    settle_hold_s: float = 30.0
    grid: str = "local"
    confidence: float = 0.95
    laps: bool = False

    def __post_init__(self) -> None:
        for field in fields(self):
            if field.name not in _RANGES:
                continue
            low, high = _RANGES[field.name]
            value = getattr(self, field.name)
            if not (isinstance(value, int | float) and low <= value <= high):
                found = repr(value)[:30]
                raise BadOption(field.name, f"from {low:g} to {high:g} is allowed", found)
        if self.grid not in ("local", "utm"):
            raise BadOption("grid", "'local' or 'utm' is allowed", repr(self.grid))
        if self.torn_m < self.steady_m:
            rule = f"at least OTHER, {self.steady_m:g}, is needed"
            raise BadOption("torn_m", rule, f"{self.torn_m:g}", "steady_m")
        if self.torn_share < self.steady_share:
            rule = f"at least OTHER, {self.steady_share:g}, is needed"
            raise BadOption("torn_share", rule, f"{self.torn_share:g}", "steady_share")
        if self.stretch_leave > self.stretch_enter:
            rule = f"at most OTHER, {self.stretch_enter:g}, is allowed"
            raise BadOption("stretch_leave", rule, f"{self.stretch_leave:g}", "stretch_enter")
        if self.segment_m < 2 * self.station_step_m:
            rule = f"at least two stations, {2 * self.station_step_m:g} m, are needed"
            raise BadOption("segment_m", rule, f"{self.segment_m:g}")

    def measuring(self) -> Options:
        """Return these options with all that only judges what was measured left at its default.

        Returns
        -------
        Options
            With a segment of the least length allowed: two stations, or 10 m.
        """
        judging = ("steady_m", "torn_m", "steady_share", "torn_share", "min_traces", "confidence")
        least_m = max(_RANGES["segment_m"][0], 2.0 * self.station_step_m)
        usual = Options(segment_m=least_m, station_step_m=self.station_step_m)
        return replace(self, segment_m=least_m, **{name: getattr(usual, name) for name in judging})

    def as_dict(self) -> dict[str, float | int | str | bool]:
        """Return all settings by name, in the order of the fields."""
        return asdict(self)


def with_thresholds(options: Options | None, thresholds: Mapping[str, Any]) -> Options:
    """Return options with single thresholds changed.

    Parameters
    ----------
    options : Options or None
        What the thresholds change; the defaults without one.
    thresholds : mapping of str to object
        By the names of the fields of `Options`.

    Returns
    -------
    Options

    Raises
    ------
    BadOption
        A threshold is outside its range, or there is none of that name.

    Examples
    --------
    >>> with_thresholds(None, {"segment_m": 50}).segment_m
    50
    """
    names = [field.name for field in fields(Options)]
    for name in thresholds:
        if name not in names:
            raise BadOption(name, f"there is no such threshold; there are {', '.join(names)}")
    return replace(options or Options(), **thresholds)
