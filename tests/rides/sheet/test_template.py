"""A new rides.csv: one row a trace, never over anything, and safe in a spreadsheet."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from rides.test_assign import trace
from trackspread.errors import FolderRefused
from trackspread.readers import ReadResult
from trackspread.readers.read import FileTraces
from trackspread.rides.assign import assign_witnesses
from trackspread.rides.sheet.table import COLUMNS, Sheet
from trackspread.rides.sheet.template import write_new_sheet


def written(folder: Path, *names: str) -> list[dict[str, str]]:
    traces = [
        trace(str(folder / name), 3600.0 * (len(names) - n), receiver="=1+1") for n, name in enumerate(names)
    ]
    files = tuple(FileTraces(name=t.file, path=t.file, below=(), traces=(t,), problems=()) for t in traces)
    witnesses, _ = assign_witnesses(ReadResult(files=files, sheets=(), problems=()), Sheet(rows={}))
    write_new_sheet(folder / "rides.csv", witnesses, files)
    return list(csv.DictReader((folder / "rides.csv").read_text("utf-8").splitlines()))


def test_rows_stand_in_order_of_time_under_the_columns_that_are_read_again(tmp_path: Path) -> None:
    rows = written(tmp_path, "late.gpx", "early.gpx")
    assert tuple(rows[0]) == COLUMNS
    assert [row["file"] for row in rows] == ["early.gpx", "late.gpx"]
    assert {row["start_pressed"] for row in rows} == {""}, "nobody noted a start"


def test_no_cell_runs_as_a_formula(tmp_path: Path) -> None:
    assert {row["receiver"] for row in written(tmp_path, "a.gpx")} == {"'=1+1"}


def test_what_is_there_stays(tmp_path: Path) -> None:
    (tmp_path / "rides.csv").write_text("mine")
    with pytest.raises(FolderRefused):
        written(tmp_path, "a.gpx")
    assert (tmp_path / "rides.csv").read_text() == "mine"
