"""Frozen records: what readers give, what the pipeline returns, what reports show.

Units are in the names. Longitude stands before latitude, east before north. ``NaN`` means that there
is no figure, and the record's ``reason`` then says why. Times are seconds since 1970-01-01 UTC.
Shapes: ``T`` traces of a route, ``S`` stations of its centreline, ``P`` points of one trace.
"""

from trackspread.model.arrays import Bools, Cause, FixSource, Floats, Ints, Side, Verdict
from trackspread.model.comparison import (
    Basis,
    Change,
    Comparison,
    Difference,
    ReceiverSummary,
    RideDifference,
    RideFigure,
)
from trackspread.model.estimates import Claim, ClaimCode, Estimate, MedianEstimate
from trackspread.model.reasons import NOTHING, Reason
from trackspread.model.recordings import CLAIMS, Claims, Device, Finding, Recordings, Trace, Witness
from trackspread.model.results import (
    Analysis,
    Event,
    FilmEntry,
    FirstFix,
    Gap,
    InputRecord,
    PairResult,
    ReceiverResult,
    ReferenceResult,
    RouteResult,
    Segment,
    SegmentReceiver,
    SettledFix,
    Stretch,
    TraceResult,
    Variant,
)

__all__ = [
    "CLAIMS",
    "NOTHING",
    "Analysis",
    "Basis",
    "Bools",
    "Cause",
    "Change",
    "Claim",
    "ClaimCode",
    "Claims",
    "Comparison",
    "Device",
    "Difference",
    "Estimate",
    "Event",
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
    "Reason",
    "ReceiverResult",
    "ReceiverSummary",
    "Recordings",
    "ReferenceResult",
    "RideDifference",
    "RideFigure",
    "RouteResult",
    "Segment",
    "SegmentReceiver",
    "SettledFix",
    "Side",
    "Stretch",
    "Trace",
    "TraceResult",
    "Variant",
    "Verdict",
    "Witness",
]
