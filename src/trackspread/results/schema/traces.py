"""Fields of files and traces: inputs, findings, fixes, gaps."""

from __future__ import annotations

from typing import Any

from trackspread import model as m
from trackspread.results.schema.fields import Column, Field, Subject, figure, text
from trackspread.results.schema.kinds import Count, Many, Number, Text, Time, Truth, Word, length
from trackspread.results.schema.reasons import Code, Why
from trackspread.results.schema.words import CLAIM, CLAIMED, LENGTH, NO_TIMES, ORIGINS, SHARE, SOURCES, who

ALONE = "no_other_beside"
UNMEASURED = "not_measurable"
WITHHELD = "withheld_start"
SET_ASIDE = {
    "if": {"properties": {"status": {"const": "set aside"}}},
    "then": {"properties": {"reason": {"minLength": 1}}},
}
NO_SOURCE = {
    "if": {"properties": {"source": {"const": "none"}}},
    "then": {"properties": {"value_s": {"type": "null"}}},
}


def _told(findings: list[dict[str, Any]]) -> str:
    return "; ".join(
        f"{found['text']} ({found['first_place']})" if found["first_place"] else found["text"]
        for found in findings
    )


def _total_m(gaps: list[dict[str, Any]]) -> float:
    return float(sum(gap["to_m"] - gap["from_m"] for gap in gaps))


def _no_station(fix: m.FirstFix) -> m.Reason:
    """Return why the place of a first fix is not given: withheld for publishing, or off the line."""
    return m.Reason(WITHHELD if WITHHELD in fix.reason.codes else "first_off_line")


# fmt: off
FINDING = Subject(name="finding", about="something noticed while reading", record=m.Finding, fields=(
    Field("code", Text(), "stable word, listed in docs/messages.md"),
    Field("count", Count()),
    Field("text", Text()),
    Field("first_place", Text(), "where in the file it was first met"),
))

INPUT = Subject(name="input", about="what became of one trace of one file", record=m.InputRecord, fields=(
    Field("file", Text(), "as the user named it; archive.zip/member for a member of an archive",
          show=text("file", "file", rank=0)),
    Field("format", Text(), show=text("format", "format")),
    Field("name", Text(), "name the file gives the trace", optional=True,
          show=text("name", "name in the file")),
    Field("points", Count(), "points read and usable", show=Column("points", "points")),
    Field("points_set_aside", Count(), show=Column("points_set_aside", "points set aside")),
    Field("receiver", Text(), show=text("receiver", "watch", rank=0)),
    Field("receiver_from", ORIGINS, "where the answer comes from; anything but sheet is inferred",
          optional=True, show=Column("receiver_from", "receiver:", kind="origin")),
    Field("ride", Text(), show=text("ride", "ride", rank=0)),
    Field("ride_from", ORIGINS, optional=True, show=Column("ride_from", "ride:", kind="origin")),
    Field("route", Text(), "name of the route, empty where set aside", show=text("route", "route", rank=1)),
    Field("status", Word(("used", "set aside")), show=text("status", "status", rank=1)),
    Field("reason", Why(), "why it was set aside", show=text("reason", "why set aside", rank=1)),
    Field("reason_code", Code(), "the same as codes, parted by spaces", source="reason", optional=True,
          derived=True),
    Field("start_time", Time(), optional=True, source="start_time_s",
          show=text("start_time", "start (UTC)")),
    Field("note", Text(), "note of rides.csv", optional=True, show=text("note", "note")),
    Field("findings", Many(FINDING), show=text("findings", "findings", part=_told)),
), rules=(SET_ASIDE,))

GAP = Subject(name="gap", about="a piece of the centreline over which a trace logged nothing",
              record=m.Gap, fields=(
    Field("from_m", Number(0, known=True)),
    Field("to_m", Number(0, known=True)),
    Field("seconds", Number(0, bounds=LENGTH), why=NO_TIMES),
))

FIRST_FIX = Subject(name="first_fix", about="first logged position", record=m.FirstFix, fields=(
    Field("value_s", Number(1), "seconds from the start to the first logged position; null: not measurable",
          why=UNMEASURED, because="reason", show=figure("first_fix", "first fix", "s")),
    Field("source", SOURCES, "who says when start was pressed",
          show=text("first_fix_source", "start known from")),
    Field("at_station_m", Number(0), "where on the centreline", why=_no_station,
          show=figure("first_fix_station", "first fix at", "m")),
    Field("missing_m", Number(0), "length of route before the first position, evidence without a start",
          optional=True, show=Column("missing", "missing before it", "m")),
    Field("lower_bound_s", Number(0), "missing_m at the typical speed", optional=True,
          show=Column("lower_bound", "at least", "s")),
    Field("seen_s", Number(0), "seconds from the start until the watch showed a fix (fix_seen of rides.csv)",
          optional=True, show=Column("fix_seen", "fix shown after", "s")),
), rules=(NO_SOURCE,))

SETTLED_FIX = Subject(name="settled_fix", about="first moment from which the trace stays within the band",
                      record=m.SettledFix, fields=(
    Field("value_s", Number(1), "seconds from the start", why=UNMEASURED, because="reason",
          show=figure("settled_fix", "settled fix", "s")),
    Field("at_station_m", Number(0), why=UNMEASURED, because="reason",
          show=figure("settled_fix_station", "settled at", "m")),
    Field("censored", Truth(), "true: not settled as far as the trace goes; it counts as late",
          show=Column("censored", "never settled", kind="truth")),
    Field("band_m", Number(1), optional=True, show=Column("band", "band", "m")),
    Field("hold_s", Number(0), optional=True, show=Column("hold", "hold", "s")),
))

WHO = who()

TRACE = Subject(name="trace", about="one trace on its route", record=m.TraceResult, fields=(
    WHO[0],
    Field("part", Count(), "number of the trace in its file, from 0", optional=True),
    Field("name", Text(), optional=True),
    *WHO[1:],
    Field("first_fix", FIRST_FIX),
    Field("settled_fix", SETTLED_FIX),
    Field("spread_m", length(0), "standard deviation of its deviation from the consensus of the others",
          why=ALONE, show=figure("spread", "spread", "m")),
    Field("bias_m", Number(1), "mean deviation, positive to the right of travel", why=ALONE,
          show=figure("bias", "mean offset (right +)", "m")),
    Field("p95_m", length(0), why=ALONE, show=figure("p95", "95 % within", "m")),
    Field("coverage", Number(3, bounds=SHARE), "share of the stations at which it has an offset",
          why="no_station", show=Column("coverage", "coverage", kind="share")),
    Field("recorded_length_m", Number(0, bounds=LENGTH), why="one_position",
          show=figure("recorded_length", "recorded length", "m")),
    Field("gaps", Many(GAP), show=(
        Column("gaps", "gaps", part=len), Column("gaps_length", "length of gaps", "m", part=_total_m))),
    Field("claimed_m", CLAIM, "what the watch says of its own accuracy", optional=True, show=CLAIMED),
    Field("hdop", Number(1), "median HDOP that it says: a factor of the satellites' geometry, no length",
          why="no_claim", optional=True, show=Column("hdop", "HDOP, median")),
    Field("pdop", Number(1), "median PDOP that it says, without a unit", why="no_claim", optional=True,
          show=Column("pdop", "PDOP, median")),
    Field("satellites", Number(1), "median number of satellites that it says it used", why="no_claim",
          optional=True, show=Column("satellites", "satellites, median")),
    Field("firmware", Text(), optional=True, show=text("firmware", "firmware")),
    Field("colour", Text(), "what the table of rides says that the watch is drawn in", optional=True),
))
