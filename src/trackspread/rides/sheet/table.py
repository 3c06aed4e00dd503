"""The table of rides: who recorded what on which ride, and when start was pressed."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.readers.guard import decoded
from trackspread.readers.notes import Notes
from trackspread.readers.read import FileTraces, ReadResult, SheetFile
from trackspread.system.opening import regular_bytes
from trackspread.system.spreadsheet import unguarded

COLUMNS = ("file", "receiver", "ride", "start_pressed", "fix_seen", "firmware", "route", "colour", "note")
LARGEST_SHEET_BYTES = 20 * 2**20  # bytes, bounds memory
LONGEST_CELL = 200  # characters of a cell that are kept


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One line of the table; ``other`` keeps the columns that the tool does not know."""

    sheet: str
    line: int
    file: str
    receiver: str
    ride: str
    start_pressed: str
    note: str
    fix_seen: str = ""
    firmware: str = ""
    route: str = ""
    colour: str = ""
    other: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Noted:
    """A row of a ride log, which names no file, and the files of which it may speak."""

    row: Row
    files: frozenset[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """All rows, by the file they speak of (``file#2`` for its second trace), and what is wrong.

    ``noted`` are rows of a ride log: they name no file, and are matched by watch and time.
    """

    rows: dict[str, Row] = field(default_factory=dict)
    noted: tuple[Noted, ...] = ()
    problems: tuple[Problem, ...] = ()

    def row(self, file: str, part: int) -> Row | None:
        """Return the row of trace ``part`` (from 0) of a file."""
        return self.rows.get(f"{file}#{part + 1}") or self.rows.get(file)


def read_sheets(read: ReadResult, rides: Path | str | None = None) -> Sheet:
    """Read the given table, or every ``rides.csv`` that lies among or beside the files.

    A row speaks of the file at that path from the table's folder, or of the only file whose path ends
    so; ``file#2`` of its second trace. Where two tables speak of a file, the nearer one counts. A row
    without a file that says when start was pressed or the fix was shown is one of a ride log; any other
    that speaks of no file is a problem.

    Parameters
    ----------
    read : ReadResult
        What was read: the traces, and the tables among and beside them.
    rides : Path or str, optional
        The table that the user named; then no other counts.

    Returns
    -------
    Sheet

    Raises
    ------
    UnreadableFile
        The table that the user named cannot be read.
    """
    if rides is None:
        found = sorted(read.sheets, key=lambda sheet: -sheet.path.count("/"))
    else:
        found = [_named(Path(rides))]
    rows: dict[str, Row] = {}
    noted: list[Noted] = []
    problems: list[Problem] = []
    for sheet in found:
        folder = os.path.dirname(sheet.path)
        files = [file for file in read.files if rides is not None or _is_below(folder, file.path)]
        own: dict[str, Row] = {}
        for row in _rows(sheet, problems):
            if not row.file and (row.start_pressed or row.fix_seen):
                noted.append(Noted(row=row, files=frozenset(file.name for file in files)))
                continue
            wanted = _wanted(row, folder, files, problems)
            if wanted in own:
                _add(
                    problems,
                    row,
                    row.file,
                    "this file has a row already; the first one counts",
                    "take one out",
                )
            elif wanted:
                own[wanted] = row
        rows = own | rows
    return Sheet(rows=rows, noted=tuple(noted), problems=tuple(problems))


def _named(path: Path) -> SheetFile:
    name = printable(str(path), 300)
    try:
        return SheetFile(name=name, path=str(path), data=regular_bytes(path, LARGEST_SHEET_BYTES + 1))
    except (OSError, ValueError) as error:
        rule = f"the table of rides cannot be read: {getattr(error, 'strerror', None) or error}"
        raise UnreadableFile(Problem(file=name, rule=rule, remedy="check the name and its rights")) from error


def _rows(sheet: SheetFile, problems: list[Problem]) -> Iterator[Row]:
    """Yield the rows of one table; commas, semicolons and tabs may part the columns."""
    text = decoded(sheet.data[:LARGEST_SHEET_BYTES], Notes()).replace("\x00", "")
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        header = [_column(cell.strip()) for cell in next(reader, [])]
        if "file" not in header and not {"start_pressed", "fix_seen"} & set(header):
            rule = f"the first line must name the columns {', '.join(COLUMNS)}"
            remedy = "correct that line"
            problems.append(
                Problem(file=sheet.name, place="line 1", value=printable(first), rule=rule, remedy=remedy)
            )
            return
        line = reader.line_num + 1
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield _row(sheet.name, line, header, cells)
            line = reader.line_num + 1
    except csv.Error as error:
        rule = f"this is no table of comma-separated values: {error}"
        problems.append(Problem(file=sheet.name, place=f"line {reader.line_num}", rule=rule))


def plain_name(name: str) -> str:
    """Return a name of a watch or ride without what does not tell two apart: capitals and spaces.

    Parameters
    ----------
    name : str

    Returns
    -------
    str

    Examples
    --------
    >>> plain_name("  Moss  3")
    'moss 3'
    """
    return " ".join(name.casefold().split())


def _column(name: str) -> str:
    """Return the name of a column: a known one in small letters, any other as it stands."""
    return name.lower() if name.lower() in COLUMNS else unguarded(name)


def _row(sheet: str, line: int, header: Sequence[str], cells: Sequence[str]) -> Row:
    given = dict(zip(header, (cell.strip() for cell in cells), strict=False))
    known = {column: unguarded(given.get(column, "")) for column in COLUMNS}
    known |= {column: printable(known[column], LONGEST_CELL) for column in COLUMNS[1:]}
    other = tuple((name, unguarded(cell)) for name, cell in given.items() if name and name not in COLUMNS)
    return Row(sheet=sheet, line=line, other=other, **known)


def _is_below(folder: str, path: str) -> bool:
    return not folder or os.path.abspath(path).startswith(os.path.join(os.path.abspath(folder), ""))


def _wanted(row: Row, folder: str, files: Sequence[FileTraces], problems: list[Problem]) -> str:
    """Return the name of what a row speaks of, "" (and a problem) where that is nothing or not clear."""
    whole, mark, number = row.file.rpartition("#")
    for wanted, part in ((row.file, ""), (whole, number)):
        found = _files_like(wanted, folder, files)
        if len(found) == 1:
            return _part(found[0], part, row, problems)
        if found:
            remedy = "write more of the path"
            _add(problems, row, row.file, f"{len(found)} files have this name", remedy)
            return ""
        if not (mark and number.isdecimal() and whole):
            break
    if row.file and (_lies_there(row.file, folder) or (mark and _lies_there(whole, folder))):
        rule = "this file is there, but was not among those to read"
        _add(problems, row, row.file, rule, "name it too, or its folder, or take the row out")
    elif row.file:
        remedy = "correct the name, or take the row out"
        _add(problems, row, row.file, "no file of this name was read", remedy)
    else:
        _add(problems, row, "", "the cell file is empty", "name the file, or take the row out")
    return ""


def _lies_there(wanted: str, folder: str) -> bool:
    """Whether a file of that name lies in the folder of the table or below it."""
    place = os.path.join(folder, wanted.replace("\\", "/"))
    return _is_below(folder or ".", place) and os.path.isfile(place)


def _files_like(wanted: str, folder: str, files: Sequence[FileTraces]) -> list[FileTraces]:
    parts = [part for part in wanted.replace("\\", "/").split("/") if part not in ("", ".")]
    if not parts:
        return []
    place = os.path.normpath(os.path.join(folder, wanted.replace("\\", "/")))
    alike = [file for file in files if file.path.replace("\\", "/").split("/")[-len(parts) :] == parts]
    return [file for file in files if os.path.normpath(file.path) == place] or alike


def _part(file: FileTraces, part: str, row: Row, problems: list[Problem]) -> str:
    """Return the key of a file or of one of its traces."""
    if part and not any(trace.part == int(part[:9]) - 1 for trace in file.traces):
        rule = f"the file has {len(file.traces)} usable traces"
        _add(problems, row, row.file, rule, "correct the number after #")
        return ""
    return f"{file.name}#{int(part[:9])}" if part else file.name


def _add(problems: list[Problem], row: Row, value: str, rule: str, remedy: str) -> None:
    place = f"line {row.line}"
    problems.append(Problem(file=row.sheet, place=place, value=value, rule=rule, remedy=remedy))
