"""Fields of a route and of the whole result."""

from __future__ import annotations

from trackspread import model as m
from trackspread.results.schema.fields import LAST, Column, Field, Group, Subject, figure, text
from trackspread.results.schema.intervals import Interval
from trackspread.results.schema.kinds import (
    Constant,
    Many,
    Maybe,
    Number,
    Settings,
    Text,
    Time,
    Truth,
    length,
)
from trackspread.results.schema.pieces import EVENT, FILM, SEGMENT, STRETCH, VARIANT
from trackspread.results.schema.positions import Line
from trackspread.results.schema.reasons import Why
from trackspread.results.schema.receivers import COMPARISON, PAIR, RECEIVER, REFERENCE
from trackspread.results.schema.traces import INPUT, TRACE
from trackspread.results.schema.words import LENGTH

SCHEMA = "trackspread.result/1"

ABOUT = (
    "Result of one analysis. Metres, seconds, degrees, UTC; station = metres along the centreline, offset = "
    "metres across it, positive to the right of travel. An unknown figure is null with its reason beside it. "
    "Names beyond these may be added without a new version."
)

STATION = (
    Column("station", "station", "m"),
    Column("longitude", "longitude", "deg"),
    Column("latitude", "latitude", "deg"),
    Column("traces", "traces"),
    figure("spread", "spread", "m", interval=True),
)
"""Columns of one station; a table has the offset of every trace beside them."""

# fmt: off
GRID = Group((
    Field("proj4", Text(), "PROJ string of the metric grid", show=text("grid", "grid", rank=LAST + 1)),
    Field("scale_error_ppm", Number(2, bounds=LENGTH), "bound of its scale error over the route"),
))

SPREAD = Group((
    Field("", Interval(), source="spread", show=figure("spread", "spread", "m", interval=True)),
    Field("p95_m", length(0), "95 % of all offsets from the centreline are at most this, metres",
          why="no_two_together", show=figure("p95", "95 % within", "m")),
), "spread of the whole route: standard deviation across traces, metres")

ROUTE = Subject(name="route", about="one way travelled in one direction", record=m.RouteResult, fields=(
    Field("name", Text()),
    Field("title", Text(), "what people call it, such as Outward", optional=True),
    Field("length_m", Number(0, known=True, bounds=LENGTH), show=Column("length", "length", "m")),
    Field("grid", GRID, source="."),
    Field("station_step_m", Number(3, known=True)),
    Field("centreline", Line(), "one position for each station, 7 decimals; where neighbours differ by more "
          "than 180 degrees of longitude the line crosses the antimeridian", source=".", derived=True),
    Field("spread", SPREAD, source="."),
    Field("spread_all", Interval(), "spread with nothing left out", optional=True),
    Field("correlation_length_m", Number(0, bounds=LENGTH), "length over which neighbouring offsets stay "
          "alike", why="few_stations_for_length"),
    Field("traces", Many(TRACE)),
    Field("segments", Many(SEGMENT)),
    Field("stretches", Many(STRETCH)),
    Field("events", Many(EVENT), optional=True),
    Field("variants", Many(VARIANT), optional=True),
    Field("receivers", Many(RECEIVER)),
    Field("pairs", Many(PAIR)),
    Field("film", Many(FILM)),
    Field("references", Many(REFERENCE), optional=True),
    Field("notes", Many(Why()), optional=True),
))

TOOL = Group((
    Field("name", Constant(("trackspread",)), source="version", derived=True),
    Field("version", Text()),
))

RESULT = Subject(name="result", about=ABOUT, record=m.Analysis, fields=(
    Field("schema", Constant((SCHEMA,)), source="version", derived=True),
    Field("tool", TOOL, source="."),
    Field("created", Time(), source="created_s", optional=True),
    Field("published", Truth(), "true: every trace was cut near the ends of the route", optional=True),
    Field("settings", Settings(), "every threshold used, by name"),
    Field("comparison", Maybe(COMPARISON), optional=True),
    Field("inputs", Many(INPUT)),
    Field("routes", Many(ROUTE)),
    Field("problems", Many(Text()), "one line for each thing that could not be used", optional=True),
    Field("notes", Many(Why()), optional=True),
))
