"""A new rides.csv: one row a trace, never over anything, and safe in a spreadsheet."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from rides.test_assign import trace
from trackspread.errors import FolderRefused
from trackspread.readers import ReadResult, read_files
from trackspread.readers.read import FileTraces
from trackspread.rides.assign import assign_witnesses
from trackspread.rides.colours import UNKNOWN
from trackspread.rides.sheet.table import COLUMNS, Sheet
from trackspread.rides.sheet.template import write_new_sheet
from world import write_gpx
from world.watches import ridden


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


def test_no_name_is_proposed_for_two_watches_of_one_ride(tmp_path: Path) -> None:
    """Three watches ridden together, two exported by one program, one by none: one name would pool the two."""
    write_gpx(ridden(3, rides=2, length_m=400.0), tmp_path)
    (tmp_path / "rides.csv").unlink()
    for number, file in enumerate(sorted(tmp_path.glob("*_Campion.gpx"))):
        text = re.sub(r' creator="[^"]*"', ' creator=""', file.read_text("utf-8"))
        file.with_name(f"{number}.gpx").write_text(text, "utf-8")
        file.unlink()
    read_all = read_files([tmp_path])
    witnesses, _ = assign_witnesses(read_all, Sheet(rows={}))
    assert {w.receiver for w in witnesses} == {UNKNOWN}
    write_new_sheet(tmp_path / "rides.csv", witnesses, read_all.files)
    rows = list(csv.DictReader((tmp_path / "rides.csv").read_text("utf-8").splitlines()))
    assert len(rows) == 12
    assert {row["receiver"] for row in rows} == {""}
