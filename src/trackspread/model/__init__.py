"""Frozen records: what readers give, what the pipeline returns, what reports show.

Units are in the names. Longitude stands before latitude, east before north. ``NaN`` means that there
is no figure, and the record's ``reason`` then says why. Times are seconds since 1970-01-01 UTC.
Shapes: ``T`` traces of a route, ``S`` stations of its centreline, ``P`` points of one trace.
"""

from trackspread.model.arrays import Bools, Cause, FixSource, Floats, Ints, Side, Verdict
from trackspread.model.recordings import Finding, Trace, Witness
from trackspread.model.results import (
    Analysis,
    Estimate,
    FilmEntry,
    FirstFix,
    Gap,
    InputRecord,
    MedianEstimate,
    PairResult,
    ReceiverResult,
    ReferenceResult,
    RouteResult,
    Segment,
    SettledFix,
    Stretch,
    TraceResult,
)

__all__ = [
    "Analysis",
    "Bools",
    "Cause",
    "Estimate",
    "FilmEntry",
    "Finding",
    "FirstFix",
    "FixSource",
    "Floats",
    "Gap",
    "InputRecord",
    "Ints",
    "MedianEstimate",
    "PairResult",
    "ReceiverResult",
    "ReferenceResult",
    "RouteResult",
    "Segment",
    "SettledFix",
    "Side",
    "Stretch",
    "Trace",
    "TraceResult",
    "Verdict",
    "Witness",
]
