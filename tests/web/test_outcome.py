"""One run of the page: what is known comes at once, stills one by one, and stopping leaves nothing by half."""

from __future__ import annotations

import sys
import zipfile

import pytest

from trackspread.errors import Cancelled
from trackspread.options import Options
from trackspread.web.outcome import Wanted, run
from trackspread.web.reading import read_folder
from trackspread.web.results import ZIP_NAME
from world import simulate

WANTED = Wanted(options=Options(), film=True)


@pytest.fixture(scope="module")
def reading(tmp_path_factory):
    folder = tmp_path_factory.mktemp("rides") / "traces"
    simulate("winding", seed=4, rides=4, length_m=2500.0, detours=1).write_gpx(folder)
    return read_folder(folder, {})


def test_the_answer_comes_first_then_the_files_then_each_still(reading, tmp_path):
    shown = []

    def show(outcome):
        told = outcome.told()
        there = {
            path.relative_to(tmp_path / "result").as_posix() for path in (tmp_path / "result").rglob("*")
        }
        assert {file["name"] for file in told["files"]} <= there, "nothing is named that is not there"
        shown.append(told)

    last = run(reading, WANTED, tmp_path / "result", lambda phase, share: None, show).told()
    assert [len(told["files"]) > 0 for told in shown[:2]] == [False, True]
    assert all(told["routes"] == last["routes"] for told in shown)
    stills = [len(told["stills"]) for told in shown[1:-1]]
    assert stills == list(range(len(last["stills"]) + 1))
    assert [told["to_come"] for told in shown[1:-1]] == stills[::-1]
    assert "sequence.html" in {file["name"] for file in shown[-1]["files"]}
    assert all(told["zip"] is None for told in shown)
    with zipfile.ZipFile(tmp_path / "result" / ZIP_NAME) as archive:
        packed = {name.removeprefix("trackspread-result/") for name in archive.namelist()}
    assert packed == {file["name"] for file in last["files"]}


def stopped_at(words, most):
    def progress(phase, share):
        if phase == words and share > most:
            raise Cancelled("stopped on request")

    return progress


def test_stopped_while_stills_are_drawn_it_ends_with_those_that_are_there(reading, tmp_path):
    shown = []
    progress = stopped_at("Drawing the stills", 0.6)
    told = run(reading, WANTED, tmp_path / "result", progress, shown.append).told()
    pictures = sorted(path.name for path in (tmp_path / "result" / "stills").iterdir())
    assert [still["name"].partition("/")[2] for still in told["stills"]] == pictures
    assert told["zip"]
    assert not told["to_come"]


def test_stopped_before_it_leaves_nothing(reading, tmp_path):
    with pytest.raises(Cancelled):
        run(reading, WANTED, tmp_path / "result", stopped_at("Writing report, map and tables", 0.0))
    assert not list(tmp_path.iterdir())


def test_without_the_drawing_library_there_are_no_stills(reading, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    told = run(reading, WANTED, tmp_path / "result", lambda phase, share: None).told()
    assert told["zip"]
    assert not told["stills"]
    assert "report.html" in {file["name"] for file in told["files"]}
