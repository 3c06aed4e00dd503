"""``trackspread init``: a table that reads back as what was inferred, never over anything, never half."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from corpus.blocks import GOOD, gpx, points, saved, track
from trackspread.cli import main
from trackspread.readers import read_files
from trackspread.rides.assign import assign_witnesses
from trackspread.rides.sheet.table import read_sheets


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as ended:
        main(list(arguments))
    return int(ended.value.code or 0)


def table(folder: Path) -> list[dict[str, str]]:
    with (folder / "rides.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_what_is_written_reads_back_as_what_was_inferred(tmp_path: Path) -> None:
    (tmp_path / "moss").mkdir()
    saved(tmp_path / "moss", GOOD)
    start = "<metadata><time>2031-07-04T05:59:20Z</time></metadata>"
    saved(tmp_path, gpx(start + track(points(0, 10)), root='gpx creator="fern"'), "b.gpx")
    saved(tmp_path, gpx(track(points(400, 410)) + track(points(500, 510))), "two.gpx")
    before = read_files([tmp_path])
    inferred, _ = assign_witnesses(before, read_sheets(before))
    assert run("init", str(tmp_path)) == 0
    assert [row["file"] for row in table(tmp_path)] == ["b.gpx", "moss/a.gpx", "two.gpx#1", "two.gpx#2"]
    assert table(tmp_path)[0]["start_pressed"] == ""  # the file tells it itself; a row would make it declared
    after = read_files([tmp_path])
    sheet = read_sheets(after)
    assert sheet.problems == ()
    witnesses, problems = assign_witnesses(after, sheet)
    assert problems == ()
    for a, b in zip(witnesses, inferred, strict=True):
        proposed = b.trace.device.writer if b.receiver_from == "none" else b.receiver
        assert (a.receiver, a.ride, a.ride_from) == (proposed, b.ride, "sheet")
        assert (a.start_source, a.trace.start_s) == (
            b.start_source,
            b.trace.start_s,
        ) or b.start_source == "none"
    assert [w.start_source for w in witnesses].count("file") == 1


def test_columns_of_the_riders_own_are_carried_over(tmp_path: Path) -> None:
    """An old table given with --rides: names keep their capitals, cells and names run as no formula."""
    rides = tmp_path / "rides"
    rides.mkdir()
    saved(rides, GOOD)
    saved(rides, gpx(track(points(4000, 4100))), "b.gpx")
    saved(tmp_path, "file,receiver,Mood,=tyres,route\na.gpx,moss,good,'+28,Lane\n", "old.csv")
    assert run("init", str(rides), "--rides", str(tmp_path / "old.csv")) == 0
    first, second = table(rides)
    assert (first["receiver"], first["route"], first["Mood"], first["'=tyres"]) == (
        "moss",
        "Lane",
        "good",
        "'+28",
    )
    assert (second["Mood"], second["'=tyres"]) == ("", "")
    again = read_files([rides])
    witnesses, _ = assign_witnesses(again, read_sheets(again))
    assert witnesses[0].other == (("Mood", "good"), ("=tyres", "+28"))


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    saved(tmp_path, GOOD)
    saved(tmp_path, "mine", "rides.csv")
    assert run("init", str(tmp_path)) == 2
    assert "there already" in capsys.readouterr().err
    assert (tmp_path / "rides.csv").read_text() == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.gpx", "rides.csv"]


def test_a_link_to_elsewhere_is_not_followed(tmp_path: Path) -> None:
    saved(tmp_path, GOOD)
    (tmp_path / "rides.csv").symlink_to(tmp_path / "elsewhere.csv")
    assert run("init", str(tmp_path)) == 2
    assert not (tmp_path / "elsewhere.csv").exists()


def test_no_cell_is_a_formula_and_odd_names_come_back(tmp_path: Path) -> None:
    names = ["=cmd().gpx", "-1+2.gpx", "@x.gpx", "a,b;c\"d'.gpx", "line\nbreak.gpx"]
    for i, name in enumerate(names):
        saved(tmp_path, gpx(track(points(60 * i, 60 * i + 50)), root='gpx creator="=1+1"'), name)
    assert run("init", str(tmp_path)) == 0
    cells = [cell for row in table(tmp_path) for cell in row.values()]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    read = read_files([tmp_path])
    sheet = read_sheets(read)
    assert sheet.problems == ()
    assert len(sheet.rows) == len(names)


def test_a_folder_without_traces_is_left_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("init", str(tmp_path)) == 2
    assert "no file held a usable trace" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_what_could_not_be_read_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    saved(tmp_path, GOOD)
    saved(tmp_path, "<html/>", "b.gpx")
    assert run("init", str(tmp_path)) == 1
    assert "this is a web page" in capsys.readouterr().err
