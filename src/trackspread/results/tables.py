"""The tables of a result, from the columns of the schema: shown in the report and written as tables/*.csv."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from trackspread.model import RouteResult
from trackspread.results.document import Document
from trackspread.results.schema.fields import Column, Field, Group, Subject
from trackspread.results.schema.intervals import Interval, Median
from trackspread.results.schema.pieces import EVENT, FILM, SEGMENT, SEGMENT_RECEIVER, STRETCH, VARIANT
from trackspread.results.schema.receivers import DIFFERENCE, PAIR, RECEIVER, REFERENCE, SUMMARY
from trackspread.results.schema.route import ROUTE
from trackspread.results.schema.traces import FIRST_FIX, INPUT, SETTLED_FIX, TRACE, WHO
from trackspread.results.schema.words import span


@dataclass(frozen=True, kw_only=True, slots=True)
class Figure:
    """One cell: a figure, its interval where it has one, and why it is unknown where it is."""

    value: float | None
    low: float | None = None
    high: float | None = None
    reason: str = ""


Cell = str | float | bool | Figure | None
Path = tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """Columns and rows; ``name`` is the file's stem."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True)
class Place:
    """A column, and where its value stands in an object of the document."""

    column: Column
    path: Path
    field: Field

    def cell(self, record: Mapping[str, Any]) -> Cell:
        """Return the cell of one row.

        Parameters
        ----------
        record : mapping
            The object of the row in the document.

        Returns
        -------
        Cell
        """
        holder: Any = record
        for name in self.path:
            holder = holder.get(name) or {}
        value, column = holder.get(self.field.name) if self.field.name else holder, self.column
        if value is not None and column.part is not None:
            value = column.part(value) if callable(column.part) else value[column.part]
        if column.kind != "figure":
            return value  # type: ignore[no-any-return]
        if not column.interval or not isinstance(self.field.kind, Interval | Median):
            return Figure(value=value, reason=holder.get(f"{self.field.name}_reason", ""))
        names = self.field.kind.names() if isinstance(self.field.kind, Interval) else Median.names
        middle, low, high = ((value or {}).get(name) for name in names)
        return Figure(value=middle, low=low, high=high, reason=(value or {}).get("reason", ""))


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of table: its name, its title, and what it shows of the objects in a list."""

    name: str
    title: str
    source: str
    places: tuple[Place, ...]
    numbered: bool = False

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns, in order."""
        number = (Column("number", "no."),) if self.numbered else ()
        return (*number, *(place.column for place in self.places))

    def table(self, records: Iterable[Mapping[str, Any]]) -> Table:
        """Return the table of such objects.

        Parameters
        ----------
        records : iterable of mapping
            Objects of the document.

        Returns
        -------
        Table
        """
        rows = []
        for i, record in enumerate(records):
            cells = tuple(place.cell(record) for place in self.places)
            rows.append((i, *cells) if self.numbered else cells)
        return Table(name=self.name, title=self.title, columns=self.columns, rows=tuple(rows))


def _leaves(fields: Iterable[Field], path: Path = ()) -> Iterator[Place]:
    """Yield every column of some fields, those of the same record in nested objects too."""
    for entry in fields:
        if isinstance(entry.kind, Group) and not isinstance(entry.kind, Subject):
            yield from _leaves(entry.kind.fields, (*path, entry.name))
        yield from (Place(column, path, entry) for column in entry.columns)


def _ordered(*parts: Iterable[Place]) -> tuple[Place, ...]:
    return tuple(sorted((place for part in parts for place in part), key=lambda place: place.column.rank))


def _kind(name: str, title: str, subject: Subject, source: str = "") -> Kind:
    return Kind(name, title, source or name, _ordered(_leaves(subject.fields)))


INPUTS = _kind("inputs", "Files read", INPUT)
SEGMENT_RECEIVERS = Kind(
    "segment_receivers",
    "Segments by watch",
    "segments",
    _ordered(_leaves(span(1)), _leaves(SEGMENT_RECEIVER.fields)),
)
OF_ROUTES = (
    Kind("traces", "Traces", "traces", _ordered(_leaves(TRACE.fields)), numbered=True),
    Kind(
        "fixes",
        "First and settled fixes",
        "traces",
        _ordered(
            _leaves(WHO),
            _leaves(FIRST_FIX.fields, ("first_fix",)),
            _leaves(SETTLED_FIX.fields, ("settled_fix",)),
        ),
    ),
    _kind("segments", "Segments", SEGMENT),
    _kind("stretches", "Stretches", STRETCH),
    _kind("events", "Events", EVENT),
    _kind("variants", "Variants", VARIANT),
    _kind("receivers", "Watches", RECEIVER),
    _kind("pairs", "Watches ridden together", PAIR),
    _kind("references", "Against the reference line", REFERENCE),
    _kind("film", "Film list", FILM),
)
OVER_ALL = (
    _kind("watches", "Watches over all routes", SUMMARY, "receivers"),
    _kind("differences", "Differences between watches", DIFFERENCE),
)
CENTRELINE = _kind("centreline", "Centreline", ROUTE)
COLUMNS: Mapping[str, tuple[Column, ...]] = MappingProxyType(
    {kind.name: kind.columns for kind in (INPUTS, CENTRELINE, *OF_ROUTES, SEGMENT_RECEIVERS, *OVER_ALL)}
)
"""The columns of every table, by its name."""


def centreline_row(route: RouteResult) -> tuple[Cell, ...]:
    """Return what is shown of a centreline, in full figures.

    Parameters
    ----------
    route : RouteResult

    Returns
    -------
    tuple of Cell
        One a column of `COLUMNS["centreline"]`.
    """
    names = {place.path[0] if place.path else place.field.name for place in CENTRELINE.places}
    shown = Group(tuple(entry for entry in ROUTE.fields if entry.name in names))
    return CENTRELINE.table([shown.written(route, full=True)]).rows[0]


def inputs_table(document: Document) -> Table:
    """Return what became of every trace of every file.

    Parameters
    ----------
    document : dict
        Of a whole analysis.

    Returns
    -------
    Table
    """
    return INPUTS.table(document["inputs"])


def route_tables(route: Document) -> tuple[Table, ...]:
    """Return the tables of one route, in the order of `OF_ROUTES`.

    Parameters
    ----------
    route : dict
        One of the document's ``routes``.

    Returns
    -------
    tuple of Table
        Behind those of `OF_ROUTES` the segments of every receiver.
    """
    made = [kind.table(route.get(kind.source, ())) for kind in OF_ROUTES]
    return (*made, SEGMENT_RECEIVERS.table(_by_receiver(route["segments"])))


def comparison_tables(document: Document) -> tuple[Table, ...]:
    """Return the tables of every watch over all routes; without rows where nothing was compared.

    Parameters
    ----------
    document : dict
        Of a whole analysis.

    Returns
    -------
    tuple of Table
        In the order of `OVER_ALL`.
    """
    found = document.get("comparison") or {}
    return tuple(kind.table(found.get(kind.source, ())) for kind in OVER_ALL)


def _by_receiver(segments: Sequence[Mapping[str, Any]]) -> Iterator[dict[str, Any]]:
    for segment in segments:
        ends = {name: segment[name] for name in ("from_m", "to_m")}
        yield from (ends | receiver for receiver in segment.get("receivers", ()))
