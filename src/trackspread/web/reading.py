"""What was read of the dropped files, and who, when and which: as stated, as corrected, as inferred."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from trackspread.errors import Problem
from trackspread.model import Witness
from trackspread.readers import ReadResult, read_files
from trackspread.rides.assign import assign_witnesses, rows_of
from trackspread.rides.sheet.table import COLUMNS as SHEET_COLUMNS
from trackspread.rides.sheet.table import Row, Sheet, read_sheets
from trackspread.system.progress import Progress
from trackspread.system.spreadsheet import guarded

COLUMNS = SHEET_COLUMNS[1:]
"""Cells that can be corrected: all of a row of rides.csv but the file."""
SHEET = "rides.csv"

Edits = Mapping[str, Mapping[str, str]]
"""Corrected cells: key of the trace, then column, then text; an empty text states nothing."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """All traces below ``folder`` with their answers; files are named from there.

    Parameters
    ----------
    stated : mapping
        Cells of the table of rides, by the traces' keys, in the order of the witnesses; those of columns
        that the tool does not know among them.
    wrong : mapping
        What is wrong with a stated time, by the traces' keys and the column.
    problems : tuple of Problem
        What could not be read, tables of rides included.
    doubts : tuple of Problem
        What is wrong with cells of the table of rides.
    """

    folder: Path
    read: ReadResult
    witnesses: tuple[Witness, ...]
    stated: Mapping[str, Mapping[str, str]]
    wrong: Mapping[tuple[str, str], str]
    problems: tuple[Problem, ...]
    doubts: tuple[Problem, ...]

    def keyed(self) -> list[tuple[str, Witness]]:
        """Return each witness with the key of its trace.

        Returns
        -------
        list of (str, Witness)
        """
        return list(zip(self.stated, self.witnesses, strict=True))


def read_folder(folder: Path, edits: Edits, progress: Progress | None = None) -> Reading:
    """Read every trace below ``folder`` and assign who, when and which.

    Parameters
    ----------
    folder : Path
        Holds the dropped files.
    edits : mapping
        Corrected cells, as `Edits` says.
    progress : Progress, optional
        Told the phases of the reading.

    Returns
    -------
    Reading
    """
    return assigned(folder, read_files([folder], progress=progress), edits)


def assigned(folder: Path, read: ReadResult, edits: Edits) -> Reading:
    """Assign anew who, when and which, without reading the traces again.

    Corrections, over all that was stated before, become a rides.csv beside the folder.

    Parameters
    ----------
    folder : Path
        Holds the dropped files.
    read : ReadResult
        What was read of them.
    edits : mapping
        Corrected cells, as `Edits` says.

    Returns
    -------
    Reading
    """
    sheet_path = folder.parent / SHEET
    sheet = read_sheets(read)
    problems = (*read.problems, *sheet.problems)
    sheet_path.unlink(missing_ok=True)
    if edits:
        before = _cells(_rows(folder, read, sheet))
        corrected = {key: {**cells, **edits.get(key, {})} for key, cells in before.items()}
        _write_sheet(sheet_path, folder.name, corrected)
        sheet = read_sheets(read, sheet_path)
    witnesses, doubts = assign_witnesses(read, sheet)
    doubted = {(doubt.file, doubt.place, doubt.value): doubt.rule for doubt in doubts}
    stated = list(_rows(folder, read, sheet))
    return Reading(
        folder=folder,
        read=read,
        witnesses=tuple(_named(folder, witness) for witness in witnesses),
        stated=_cells(stated),
        wrong={
            (key, column): doubted[told]
            for key, row in stated
            for column in ("start_pressed", "fix_seen")
            if row and (told := (row.sheet, f"line {row.line}", getattr(row, column))) in doubted
        },
        problems=_renamed(folder, problems),
        doubts=_renamed(folder, doubts),
    )


def _trace_key(file: str, part: int, parts: int) -> str:
    """Return how a table of rides names a trace: by its file, and its number where the file has several."""
    return file if parts == 1 else f"{file}#{part + 1}"


def _rows(folder: Path, read: ReadResult, sheet: Sheet) -> Iterator[tuple[str, Row | None]]:
    """Yield each trace's key and its row of the table."""
    rows = iter(rows_of(read, sheet))
    for file in read.files:
        for trace in file.traces:
            yield _trace_key(_below(folder, file.name), trace.part, len(file.traces)), next(rows)


def _cells(rows: Iterable[tuple[str, Row | None]]) -> dict[str, dict[str, str]]:
    return {
        key: {column: getattr(row, column) if row else "" for column in COLUMNS}
        | dict(row.other if row else ())
        for key, row in rows
    }


def _below(folder: Path, name: str) -> str:
    """Return a name as the user knows it: from the folder of traces, never with the private folder's own."""
    for place in (folder, folder.parent):
        if name.startswith(f"{place}{os.sep}"):
            return name[len(str(place)) + 1 :].replace(os.sep, "/")
    return name


def _named(folder: Path, witness: Witness) -> Witness:
    return replace(witness, trace=replace(witness.trace, file=_below(folder, witness.trace.file)))


def _renamed(folder: Path, problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(replace(problem, file=_below(folder, problem.file)) for problem in problems)


def _write_sheet(path: Path, folder: str, sheet: Mapping[str, Mapping[str, str]]) -> None:
    """Write rides.csv whole or not at all; no cell of it runs as a formula in a spreadsheet."""
    part = path.with_suffix(".part")
    with part.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        columns = list(dict.fromkeys((*COLUMNS, *(name for cells in sheet.values() for name in cells))))
        rows.writerow(["file", *map(guarded, columns)])
        for name, cells in sorted(sheet.items()):
            rows.writerow([f"{folder}/{name}", *(guarded(cells.get(column, "")) for column in columns)])
    part.replace(path)
