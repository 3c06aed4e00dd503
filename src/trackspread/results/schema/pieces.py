"""Fields of pieces of the centreline: segments, stretches, events, variants, film list."""

from __future__ import annotations

from math import isfinite

from trackspread import model as m
from trackspread.results.schema.fields import Column, Field, Subject, figure, text
from trackspread.results.schema.intervals import Interval
from trackspread.results.schema.kinds import Count, Many, Number, Text, Time, length
from trackspread.results.schema.positions import Bounds
from trackspread.results.schema.reasons import Sentence, Why
from trackspread.results.schema.words import CAUSES, LENGTH, SHARE, SIDES, VERDICTS, span, who
from trackspread.results.words.events import event_sentence

FEW = "one_trace_here"
NO_OFFSET = "no_offset"
NO_TIMES = "no_times_here"


def _no_start(stretch: m.Stretch) -> m.Reason:
    return m.Reason("withheld_dates" if isfinite(stretch.seconds) else NO_TIMES)


def listed(texts: list[str]) -> str:
    """Return texts in one cell.

    Parameters
    ----------
    texts : list of str

    Returns
    -------
    str
        Parted by semicolons.
    """
    return "; ".join(texts)


BOX = tuple(Column(name, name, "deg", part=i) for i, name in enumerate(("west", "south", "east", "north")))

# fmt: off
SEGMENT_RECEIVER = Subject(name="segment_receiver", about="one receiver on one segment",
                           record=m.SegmentReceiver, fields=(
    Field("receiver", Text(), show=text("receiver", "watch")),
    Field("spread", Interval(), show=figure("spread", "spread", "m", interval=True)),
    Field("verdict", VERDICTS, show=Column("verdict", "verdict", kind="verdict")),
))

SEGMENT = Subject(name="segment", about="a fixed length of centreline", record=m.Segment, fields=(
    *span(1),
    Field("traces", Count(), show=Column("traces", "traces", rank=2)),
    Field("spread", Interval(), show=figure("spread", "spread", "m", interval=True)),
    Field("p95_m", length(0), why=FEW, because="spread.reason", show=figure("p95", "95 % within", "m")),
    Field("widest_m", length(0), "largest distance across the line between two traces",
          why=FEW, because="spread.reason", show=figure("widest", "widest", "m")),
    Field("coverage", Number(3, bounds=SHARE), why="no_trace_here",
          show=Column("coverage", "coverage", kind="share")),
    Field("verdict", VERDICTS, show=Column("verdict", "verdict", kind="verdict", rank=1)),
    Field("reasons", Many(Why()), show=text("reasons", "why", part=listed)),
    Field("receivers", Many(SEGMENT_RECEIVER), "every receiver with traces here", optional=True),
))

STRETCH = Subject(name="stretch", about="a run of stations where one trace leaves the others by more than "
                  "chance allows", record=m.Stretch, fields=(
    *who(rank=1),
    *span(0),
    Field("peak_m", Number(1), why=NO_OFFSET, show=figure("peak", "farthest", "m")),
    Field("mean_m", Number(1), why=NO_OFFSET, show=figure("mean", "mean", "m")),
    Field("side", SIDES, "seen in the direction of travel", show=text("side", "side", rank=2)),
    Field("seconds", Number(0, bounds=LENGTH), why=NO_TIMES, show=figure("seconds", "lasted", "s")),
    Field("start_time", Time(), source="start_time_s", why=_no_start,
          show=text("start_time", "began (UTC)")),
    Field("cause", CAUSES, "as far as the evidence goes", show=text("cause", "cause")),
))

EVENT = Subject(name="event", about="what happened once: the stretches of one place and one ride, or of one "
                "place and one receiver", record=m.Event, fields=(
    *span(0),
    Field("receivers", Many(Text()), show=text("receivers", "watches", part=listed)),
    Field("rides", Many(Text()), show=text("rides", "rides", part=listed)),
    Field("peak_m", Number(1), why=NO_OFFSET, show=figure("peak", "farthest", "m")),
    Field("side", SIDES, "seen in the direction of travel", show=text("side", "side")),
    Field("cause", CAUSES, "as far as the evidence goes", show=text("cause", "cause")),
    Field("sentence", Sentence(event_sentence), "the same in words", source=".", optional=True, derived=True),
))

VARIANT = Subject(name="variant", about="another way over part of a route that two or more rides took alike",
                  record=m.Variant, fields=(
    Field("name", Text(), show=text("name", "name", rank=1)),
    *span(0),
    Field("files", Many(Text()), show=text("files", "files", part=listed)),
    Field("rides", Many(Text()), show=text("rides", "rides", part=listed)),
    Field("aside_m", Number(0), "distance from the route at its farthest", why=NO_OFFSET,
          show=figure("aside", "at most aside", "m")),
))

FILM = Subject(name="film", about="a run of like segments", record=m.FilmEntry, fields=(
    *span(1),
    Field("verdict", VERDICTS, show=Column("verdict", "verdict", kind="verdict")),
    Field("why", Why(), show=text("why", "why")),
    Field("bounds", Bounds(), show=BOX),
))
