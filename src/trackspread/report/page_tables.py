"""Tables as the report shows them: each cell with its text, what it is sorted by, and what a file gets."""

from __future__ import annotations

from dataclasses import dataclass

from trackspread.errors import printable
from trackspread.results.rounding import alike, plain, share
from trackspread.results.schema.fields import Column
from trackspread.results.tables import Cell, Figure, Table

ORIGINS = {
    "sheet": "given in rides.csv",
    "folder": "inferred from the folder",
    "file": "inferred from the file",
    "pattern": "inferred from the file names",
    "overlap": "inferred from overlap",
    "none": "not known",
}
EMPTY = {
    "stretches": "No stretch was found.",
    "film": "No segment could be judged.",
    "receivers": "No watch is known.",
}
ABOUT = {
    "traces": "Offsets are those of each trace from the consensus of the other rides.",
    "fixes": "First fix: first logged position. Settled fix: from here on the trace stays within the band "
    "for the time held. Both count from the start; where no start is known they are unknown.",
    "segments": "Spread with its interval; a segment without two traces has none.",
    "stretches": "Where one trace leaves the others by more than chance allows. Side: as seen in the "
    "direction of travel.",
    "receivers": "Over all rides of one watch. Rides that never settled count as later than all others.",
    "film": "Consecutive segments with the same rating.",
    "pairs": "SD: standard deviation across the line of one watch alone, and of what both share.",
}
LONGEST_PAGE_CELL = 400  # characters
SHORT = 36
"""Columns of texts up to this many characters are not broken into lines."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PageCell:
    """One cell: ``text``, ``note``, ``reason`` are shown, ``sort`` orders, the others are saved."""

    kind: str
    text: str
    note: str = ""
    reason: str = ""
    sort: str = ""
    raw: str = ""
    low: str = ""
    high: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class PageHead:
    """Head of a column: what is shown, and the names of the columns it takes up in a saved file."""

    title: str
    kind: str
    names: str


@dataclass(frozen=True, kw_only=True, slots=True)
class PageTable:
    """One table; ``frames`` holds the stations of each row that can be shown on the map, or nothing."""

    name: str
    title: str
    heads: tuple[PageHead, ...]
    rows: tuple[tuple[PageCell, ...], ...]
    frames: tuple[str, ...]


def page_table(table: Table, route: int | None = None) -> PageTable:
    """Return a table for the page, without positions and without columns that are empty.

    Parameters
    ----------
    table : Table
    route : int, optional
        Number of the route on whose map rows with ``from`` and ``to`` can be framed.

    Returns
    -------
    PageTable
    """
    on_map = route is not None and [c.name for c in table.columns[:2]] == ["from", "to"]
    every = [tuple(map(_cell, table.columns, row)) for row in table.rows]
    kept = [
        i
        for i, column in enumerate(table.columns)
        if column.unit != "deg" and any(cells[i].text for cells in every)
    ]
    columns = [table.columns[i] for i in kept]
    rows = tuple(tuple(cells[i] for i in kept) for cells in every)
    return PageTable(
        name=table.name,
        title=table.title,
        heads=tuple(_head(column, [row[i] for row in rows]) for i, column in enumerate(columns)),
        rows=rows,
        frames=tuple(f"{route} {row[0]} {row[1]}" for row in table.rows) if on_map else (),
    )


def _head(column: Column, cells: list[PageCell]) -> PageHead:
    title = f"{column.title}, {column.unit}" if column.unit else column.title
    kind = _kind(column)
    if kind == "text" and any(len(cell.text) > SHORT for cell in cells):
        kind = "text long"
    return PageHead(title=title, kind=kind, names=" ".join(column.headers()))


def _kind(column: Column) -> str:
    return "text" if column.kind in ("text", "verdict", "origin", "truth") else "number"


def _cell(column: Column, cell: Cell) -> PageCell:
    kind = "verdict" if column.kind == "verdict" else _kind(column)
    if isinstance(cell, Figure):
        return _figure(kind, cell, column.interval)
    if cell is None:
        return PageCell(kind=kind, text="–" if kind == "number" else "")
    if isinstance(cell, bool):
        word = "yes" if cell else "no"
        return PageCell(kind=kind, text=word, sort=str(int(cell)), raw=str(cell).lower())
    if isinstance(cell, str):
        shown = ORIGINS.get(cell, cell) if column.kind == "origin" else printable(cell, LONGEST_PAGE_CELL)
        if column.name == "start_time":
            shown = shown.replace("T", " ").removesuffix("Z")
        return PageCell(kind=kind, text=shown, sort=cell, raw=cell)
    raw = f"{cell:.12g}"
    shown = share(cell) if column.kind == "share" else plain(cell)
    return PageCell(kind=kind, text=shown, sort=raw, raw=raw)


def _figure(kind: str, cell: Figure, interval: bool) -> PageCell:
    value, low, high = ("" if end is None else f"{end:.12g}" for end in (cell.value, cell.low, cell.high))
    if cell.value is None:
        return PageCell(kind=kind, text="not known", reason=printable(cell.reason, 120), low=low, high=high)
    middle, lower, upper = alike(cell.value, cell.low, cell.high)
    note = f"{lower if low else 'no bound'} to {upper if high else 'no bound'}" if interval else ""
    return PageCell(kind=kind, text=middle, note=note, sort=value, raw=value, low=low, high=high)
