"""The table of rides: who recorded what on which ride, and when start was pressed."""

from __future__ import annotations

import csv
import io
import math
import os
import re
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path, PurePosixPath

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.readers.guard import decoded
from trackspread.readers.notes import Notes
from trackspread.readers.read import ReadResult

NAME = "rides.csv"
COLUMNS = ("file", "receiver", "ride", "start_pressed", "note")
LARGEST = 20 * 2**20
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d(?:\.\d+)?))?")


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One line of the table; ``other`` keeps unknown columns."""

    sheet: str
    line: int
    file: str
    receiver: str
    ride: str
    start_pressed: str
    note: str
    other: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """All rows found, by the file they speak of, and what is wrong with some."""

    rows: dict[str, Row] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


def read_sheets(read: ReadResult, rides: Path | None) -> Sheet:
    """Read the given table, or every ``rides.csv`` beside the traces or one folder above.

    Rows are matched to files by their path from the table's folder, or by their bare name where only one
    file has it. A row that matches no file is a problem.

    Raises
    ------
    UnreadableFile
        The table that the user named cannot be read.
    """
    names = [file.name for file in read.files]
    if rides is not None:
        try:
            return _matched(
                [_rows(str(rides), Path(rides).read_bytes()[:LARGEST])], [str(Path(rides).parent)], names
            )
        except OSError as error:
            rule = f"the table of rides cannot be read: {error.strerror}"
            raise UnreadableFile(Problem(file=printable(str(rides), 200), rule=rule)) from error
    folders = sorted({place for file in read.files for place in (file.folder, os.path.dirname(file.folder))})
    found, where = [], []
    for folder in folders:
        data = _beside(folder)
        if data is not None:
            found.append(_rows(os.path.join(folder, NAME), data))
            where.append(folder)
    return _matched(found, where, names)


def _beside(folder: str) -> bytes | None:
    """Return the bytes of the table in a folder or at the top of a zip archive, None where there is none."""
    try:
        if os.path.isfile(folder) and zipfile.is_zipfile(folder):
            with zipfile.ZipFile(folder) as archive, archive.open(NAME) as stream:
                return stream.read(LARGEST)
        with open(os.path.join(folder, NAME), "rb") as stream:
            return stream.read(LARGEST)
    except (OSError, KeyError, zipfile.BadZipFile, RuntimeError):
        return None


def _rows(name: str, data: bytes) -> tuple[list[Row], list[Problem]]:
    """Return the rows of one table; commas, semicolons and tabs may part the columns."""
    text = decoded(data, Notes()).replace("\x00", "")
    shown = printable(name, 200)
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    except csv.Error as error:
        return [], [Problem(file=shown, rule=f"this is no table of comma-separated values: {error}")]
    header = [cell.strip().lower() for cell in lines[0]] if lines else []
    if "file" not in header:
        rule = f"the first line must name the columns, {', '.join(COLUMNS)}"
        return [], [Problem(file=shown, place="line 1", value=printable(first), rule=rule)]
    rows = []
    for number, cells in enumerate(lines[1:], 2):
        if any(cell.strip() for cell in cells):
            rows.append(
                _row(shown, number, dict(zip(header, (cell.strip() for cell in cells), strict=False)))
            )
    return rows, []


def _row(sheet: str, line: int, cells: dict[str, str]) -> Row:
    known = {column: unguarded(cells.get(column, "")) for column in COLUMNS}
    other = tuple((key, value) for key, value in cells.items() if key and key not in COLUMNS)
    return Row(sheet=sheet, line=line, other=other, **known)


def unguarded(text: str) -> str:
    """Take off the apostrophe that keeps a spreadsheet from running a cell as a formula."""
    return text[1:] if len(text) > 1 and text[0] == "'" and text[1] in "=+-@\t" else text


def _matched(found: list[tuple[list[Row], list[Problem]]], folders: list[str], names: list[str]) -> Sheet:
    by_name: dict[str, list[str]] = {}
    for name in names:
        by_name.setdefault(PurePosixPath(name.replace("\\", "/")).name, []).append(name)
    rows: dict[str, Row] = {}
    problems: list[Problem] = []
    for (lines, wrong), folder in zip(found, folders, strict=True):
        problems += wrong
        for row in lines:
            wanted = _wanted(row, folder, names, by_name)
            if wanted is None:
                problems.append(_no_file(row))
            elif wanted in rows and rows[wanted] != row:
                place, rule = f"line {row.line}", "this file has a row already; the first one counts"
                problems.append(Problem(file=row.sheet, place=place, value=row.file, rule=rule))
            else:
                rows[wanted] = row
    return Sheet(rows=rows, problems=tuple(problems))


def _wanted(row: Row, folder: str, names: Iterable[str], by_name: dict[str, list[str]]) -> str | None:
    path = os.path.normpath(os.path.join(folder, row.file.replace("\\", "/")))
    for name in names:
        if os.path.normpath(name) == path:
            return name
    bare = by_name.get(PurePosixPath(row.file.replace("\\", "/")).name, [])
    return bare[0] if len(bare) == 1 else None


def _no_file(row: Row) -> Problem:
    remedy = "correct the name, or take the row out"
    return Problem(
        file=row.sheet,
        place=f"line {row.line}",
        value=row.file,
        rule="no trace of this name was read",
        remedy=remedy,
    )


def start_seconds(row: Row, first_s: float) -> float:
    """Return ``start_pressed`` in seconds UTC, NaN where the cell is empty.

    A time of day is taken on the UTC day of the trace's first point, or the day before where it would
    otherwise lie after it.

    Raises
    ------
    ValueError
        The cell is no time, or lies after the first point or more than an hour before it.
    """
    text = row.start_pressed
    if not text:
        return float("nan")
    clock = _CLOCK.fullmatch(text)
    if clock:
        if math.isnan(first_s):
            raise ValueError("a time of day needs a trace with times")
        midnight = datetime.fromtimestamp(first_s, UTC).replace(hour=0, minute=0, second=0, microsecond=0)
        after = timedelta(hours=int(clock[1]), minutes=int(clock[2]), seconds=float(clock[3] or 0.0))
        start = (midnight + after).timestamp()
        start -= 86_400.0 if start > first_s + 43_200.0 else 0.0
    else:
        try:
            moment = datetime.fromisoformat(text.replace("Z", "+00:00"))
            start = (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
        except (ValueError, OverflowError):
            raise ValueError(
                "start_pressed must be a time as 2031-03-03T07:00:00Z or 07:00:00 (UTC)"
            ) from None
    if not math.isnan(first_s) and not 0.0 <= first_s - start <= 3600.0:
        raise ValueError("start_pressed must lie before the first point, by an hour at most (UTC)")
    return start
