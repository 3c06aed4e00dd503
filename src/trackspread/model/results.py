"""What the pipeline returns and reports show: figures with their intervals, routes, the whole analysis."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isfinite
from typing import Literal

import numpy as np

from trackspread.model.arrays import Bools, Cause, FixSource, Floats, Ints, Side, Verdict, kept
from trackspread.model.comparison import Comparison
from trackspread.model.estimates import Claim, ClaimCode, Estimate, MedianEstimate
from trackspread.model.notebook import AnalysisMethods, RouteMethods, ShortRepr
from trackspread.model.reasons import NOTHING, Reason
from trackspread.model.recordings import Finding


@dataclass(frozen=True, kw_only=True, slots=True)
class InputRecord:
    """What became of one trace of one file."""

    file: str
    format: str
    name: str
    points: int
    points_set_aside: int
    receiver: str
    ride: str
    receiver_from: str
    ride_from: str
    route: str
    status: Literal["used", "set aside"]
    reason: Reason
    findings: tuple[Finding, ...] = ()
    start_time_s: float = float("nan")
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstFix:
    """First logged position: seconds after the start (``NaN`` where no start is known)."""

    value_s: float
    source: FixSource
    at_station_m: float
    reason: Reason = NOTHING
    missing_m: float = float("nan")
    lower_bound_s: float = float("nan")
    seen_s: float = float("nan")


@dataclass(frozen=True, kw_only=True, slots=True)
class SettledFix:
    """First moment from which the trace stays within the band; ``censored`` means: not in this trace."""

    value_s: float
    at_station_m: float
    censored: bool
    band_m: float
    hold_s: float
    reason: Reason = NOTHING


@dataclass(frozen=True, kw_only=True, slots=True)
class Gap:
    """A piece of the centreline over which a trace logged nothing."""

    from_m: float
    to_m: float
    seconds: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False, repr=False)
class TraceResult(ShortRepr):
    """One trace on its route.

    ``number`` is its row in the route's arrays. ``lon_deg``, ``lat_deg``, ``time_s``, shape (P,), are
    its points as logged (those that could be used); ``station_m`` (P,) their place on the centreline,
    ``NaN`` where it is away from it. ``colour`` is what the table of rides says that its watch is drawn in.
    """

    number: int
    file: str
    part: int
    name: str
    receiver: str
    ride: str
    first_fix: FirstFix
    settled_fix: SettledFix
    spread_m: float
    bias_m: float
    p95_m: float
    coverage: float
    recorded_length_m: float
    gaps: tuple[Gap, ...]
    lon_deg: Floats
    lat_deg: Floats
    time_s: Floats
    station_m: Floats
    break_before: Bools
    claimed_m: Claim = field(default_factory=Claim)
    hdop: float = float("nan")
    pdop: float = float("nan")
    satellites: float = float("nan")
    firmware: str = ""
    colour: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class SegmentReceiver:
    """One receiver on one segment: the spread of its own traces there, and the verdict they give."""

    receiver: str
    spread: Estimate
    verdict: Verdict


@dataclass(frozen=True, kw_only=True, slots=True)
class Segment:
    """A fixed length of centreline and how closely the traces agree there."""

    from_m: float
    to_m: float
    traces: int
    spread: Estimate
    p95_m: float
    widest_m: float
    coverage: float
    verdict: Verdict
    reasons: tuple[Reason, ...]
    receivers: tuple[SegmentReceiver, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """A run of stations where trace ``number`` leaves the others by more than chance allows."""

    number: int
    file: str
    receiver: str
    ride: str
    from_m: float
    to_m: float
    peak_m: float
    mean_m: float
    side: Side
    seconds: float
    start_time_s: float
    cause: Cause


@dataclass(frozen=True, kw_only=True, slots=True)
class Event:
    """What happened once: the stretches of one place and one ride, or of one place and one receiver."""

    from_m: float
    to_m: float
    receivers: tuple[str, ...]
    rides: tuple[str, ...]
    peak_m: float
    side: Side
    cause: Cause


@dataclass(frozen=True, kw_only=True, slots=True)
class Variant:
    """Another way over part of a route that two or more rides took alike, ``aside_m`` at its farthest."""

    name: str
    from_m: float
    to_m: float
    files: tuple[str, ...]
    rides: tuple[str, ...]
    aside_m: float


class TwoSpreads:
    """A record with the spread of what is kept and with that of all errors."""

    __slots__ = ()
    spread: Estimate
    spread_all: Estimate

    @property
    def told_spread(self) -> Estimate:
        """Spread that is told first: of all errors, or of what is kept where that of all is not known."""
        return self.spread_all if isfinite(self.spread_all.value) else self.spread


@dataclass(frozen=True, kw_only=True, slots=True)
class ReceiverResult(TwoSpreads):
    """All rides of one receiver on this route.

    ``spread`` is that of what is kept; ``spread_all`` that of all its errors, with nothing left out but where
    the rider went elsewhere. ``claim`` sets the median of what it claims beside ``spread_all``.
    """

    receiver: str
    rides: int
    spread: Estimate
    first_fix_s: MedianEstimate
    settled_fix_s: MedianEstimate
    stretch_share: float
    spread_all: Estimate = field(default_factory=Estimate)
    claimed_m: Claim = field(default_factory=Claim)
    claim: ClaimCode = "none"


@dataclass(frozen=True, kw_only=True, slots=True, eq=False, repr=False)
class PairResult(ShortRepr):
    """Two receivers ridden together.

    ``ride_names`` has length R; ``separation_across_m`` and ``separation_along_m`` have shape (R, S):
    offset of ``a`` minus offset of ``b`` and station of ``a`` minus station of ``b`` at the same time
    (clock offset removed). ``limits_m`` are the Bland-Altman 95 % limits of agreement of the
    across-track difference. ``difference`` is SD of ``a`` minus SD of ``b``.
    """

    a: str
    b: str
    rides: int
    ride_names: tuple[str, ...]
    clock_offset_s: Estimate
    separation_median_m: float
    separation_p95_m: float
    sd_a: Estimate
    sd_b: Estimate
    common_sd_m: Estimate
    bias_m: Estimate
    limits_m: tuple[float, float]
    difference: Estimate
    told_apart: bool
    outcome: Reason
    separation_across_m: Floats
    separation_along_m: Floats


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class ReferenceResult(ShortRepr):
    """Accuracy of one receiver against a reference line: bias, RMSE, 95 % where NSSDA allows it."""

    receiver: str
    bias_m: Estimate
    rmse_m: Estimate
    accuracy_95_m: Estimate
    segment_bias_m: Floats
    segment_rmse_m: Floats


@dataclass(frozen=True, kw_only=True, slots=True)
class FilmEntry:
    """A run of like segments: fit to show, to be shown with a word, or not as typical."""

    from_m: float
    to_m: float
    verdict: Verdict
    why: Reason
    bounds: tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False, repr=False)
class RouteResult(TwoSpreads, RouteMethods):
    """One route: centreline, figures, arrays for charts and maps.

    Parameters
    ----------
    station_m, lon_deg, lat_deg : ndarray, shape (S,)
        Centreline; longitudes run on continuously across the antimeridian (may pass 180).
    offset_m : ndarray, shape (T, S)
        Offset of each trace from the centreline, positive to the right of travel; NaN = no data.
    deviation_m : ndarray, shape (T, S)
        Offset of each trace from the consensus of the other rides.
    station_spread_m, station_low_m, station_high_m : ndarray, shape (S,)
        Spread in a running window of one segment's length, with its interval.
    in_stretch : ndarray of bool, shape (T, S)
        Stations that belong to a stretch or to the settling phase (they do not enter the spread).
    spread_all : Estimate
        Spread with nothing left out but where the rider went elsewhere, beside ``spread`` of what is kept.
    crossing_s : ndarray, shape (T, S)
        When each trace passed each station (seconds UTC).
    variant : ndarray of int, shape (T, S), or (0, 0)
        0 where a trace keeps to the route, 1 + its place in ``variants`` where it takes that variant.
    claim_m : ndarray, shape (T, S), or (0, 0)
        What each trace claims of its own accuracy at each station, metres; NaN where it says nothing.
    """

    name: str
    length_m: float
    proj4: str
    scale_error_ppm: float
    station_step_m: float
    station_m: Floats
    lon_deg: Floats
    lat_deg: Floats
    offset_m: Floats
    deviation_m: Floats
    crossing_s: Floats
    in_stretch: Bools
    station_spread_m: Floats
    station_low_m: Floats
    station_high_m: Floats
    spread: Estimate
    p95_m: float
    correlation_length_m: float
    traces: tuple[TraceResult, ...]
    segments: tuple[Segment, ...]
    stretches: tuple[Stretch, ...]
    receivers: tuple[ReceiverResult, ...]
    pairs: tuple[PairResult, ...] = ()
    film: tuple[FilmEntry, ...] = ()
    references: tuple[ReferenceResult, ...] = ()
    notes: tuple[Reason, ...] = ()
    title: str = ""
    spread_all: Estimate = field(default_factory=Estimate)
    variants: tuple[Variant, ...] = ()
    events: tuple[Event, ...] = ()
    variant: Ints = field(default_factory=lambda: np.zeros((0, 0), dtype=np.int64))
    claim_m: Floats = field(default_factory=lambda: np.zeros((0, 0)))

    def kept_offset_m(self) -> Floats:
        """Return the offsets that enter the spread, shape (T, S): NaN in stretches and while settling."""
        return kept(self.offset_m, self.in_stretch)

    @property
    def is_judged(self) -> bool:
        """Whether any trace could be held against traces of other rides; it takes two of them."""
        return any(isfinite(trace.settled_fix.band_m) for trace in self.traces)


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Analysis(AnalysisMethods):
    """Everything one run found; reports only lay it out."""

    version: str
    created_s: float
    settings: dict[str, float | int | str | bool]
    inputs: tuple[InputRecord, ...]
    routes: tuple[RouteResult, ...]
    problems: tuple[str, ...] = ()
    published: bool = False
    notes: tuple[Reason, ...] = ()
    comparison: Comparison | None = None
