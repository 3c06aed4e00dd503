"""The output folder: all or nothing, the same bytes each time, and never over files of others."""

import json
import os
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import jsonschema
import pytest

from records import make_analysis
from trackspread.errors import BadOption, Cancelled, FolderRefused
from trackspread.report.write import check_folder, write_all
from trackspread.results.document import load_result
from trackspread.system import placing

SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "result.schema.json").read_text("utf-8"))
TABLES = (
    "differences", "events", "film", "fixes", "inputs", "pairs", "receivers", "references",
    "segment_receivers", "segments", "stations", "stretches", "traces", "variants", "watches",
)  # fmt: skip
FILES = {
    "report.html", "map.html", "result.json", "layers.gpkg", "arrays.npz",
    *(f"tables/{t}.csv" for t in TABLES),
}  # fmt: skip
ANALYSIS = make_analysis(routes=1, traces=3)


def contents(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def alone(folder):
    """Whether nothing is left beside the folder."""
    return [path.name for path in folder.parent.iterdir()] == [folder.name]


def test_everything_is_written_and_valid(tmp_path):
    out = tmp_path / "deep" / "out"
    paths = write_all(ANALYSIS, out)
    assert {str(path.relative_to(out)) for path in paths} == FILES == set(contents(out))
    assert alone(out)
    jsonschema.Draft202012Validator(SCHEMA).validate(load_result(out))


def test_same_analysis_same_bytes(tmp_path):
    write_all(make_analysis(hostile=True), tmp_path / "a")
    write_all(make_analysis(hostile=True), tmp_path / "b")
    first, second = contents(tmp_path / "a"), contents(tmp_path / "b")
    assert [name for name in first if first[name] != second[name]] == []


def test_folders_of_others_are_refused(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "summer.jpg").write_bytes(b"x")
    (tmp_path / "file").write_text("x")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "result.json").write_text('{"schema": "other/1"}')
    for name in ("photos", "file", "other"):
        with pytest.raises(FolderRefused, match=name):
            write_all(ANALYSIS, tmp_path / name)
    assert set(os.listdir(tmp_path)) == {"photos", "file", "other"}
    assert contents(tmp_path / "photos") == {"summer.jpg": b"x"}


NOBODY = 65_534
AS_OTHER = """
import os, sys
from trackspread.errors import FolderRefused
from trackspread.report.write import check_folder
if os.geteuid() == 0:
    os.setgid(int(sys.argv[2])), os.setuid(int(sys.argv[2]))
try:
    check_folder(__import__("pathlib").Path(sys.argv[1]))
except FolderRefused as refusal:
    print(refusal)
"""


def test_folders_without_leave_are_refused():
    """Root may write everywhere, so where root runs the tests, a child becomes somebody else first."""
    with tempfile.TemporaryDirectory() as place:
        os.chmod(place, 0o555)
        out = Path(place) / "out"
        command = [sys.executable, "-c", AS_OTHER, str(out), str(NOBODY)]
        told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
        os.chmod(place, 0o755)
        assert told.startswith(f"{out}: ")
        assert "nothing can be written" in told
        check_folder(out)


def test_empty_folder_is_taken_and_own_files_are_kept(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    write_all(ANALYSIS, out)
    (out / "notes.txt").write_text("mine")
    (out / "tables" / "mine.csv").write_text("mine")
    (out / "stills").mkdir()
    (out / "stills" / "still.png").write_bytes(b"png")
    write_all(make_analysis(routes=2, traces=4), out)
    assert (out / "notes.txt").read_text() == (out / "tables" / "mine.csv").read_text() == "mine"
    assert (out / "stills" / "still.png").read_bytes() == b"png"
    assert len(load_result(out)["routes"]) == 2
    assert alone(out)


def test_a_folder_in_the_place_of_a_file_is_refused(tmp_path):
    out = tmp_path / "out"
    write_all(ANALYSIS, out)
    (out / "map.html").unlink()
    (out / "map.html").mkdir()
    (out / "map.html" / "mine").write_text("mine")
    with pytest.raises(FolderRefused, match=r"map\.html"):
        write_all(ANALYSIS, out)
    assert (out / "map.html" / "mine").read_text() == "mine"
    assert alone(out)


@pytest.mark.parametrize("error", [Cancelled("stopped"), KeyboardInterrupt(), OSError(28, "No space left")])
@pytest.mark.parametrize("existing", [False, True])
def test_nothing_half_written_when_stopped(tmp_path, error, existing):
    out = tmp_path / "out"
    if existing:
        write_all(ANALYSIS, out)
    before = contents(out)

    def stop(phase, share):
        if share > 0.2:
            raise error

    with pytest.raises(FolderRefused if isinstance(error, OSError) else type(error)):
        write_all(make_analysis(seed=9), out, progress=stop)
    assert contents(out) == before
    assert out.exists() == existing
    assert [path.name for path in tmp_path.iterdir()] == (["out"] if existing else [])


@pytest.mark.parametrize("at", [0, 3, 9])
def test_a_failing_exchange_puts_everything_back(tmp_path, monkeypatch, at):
    out = tmp_path / "out"
    write_all(ANALYSIS, out)
    (out / "tables" / "pairs.csv").unlink()
    before = contents(out)
    moves = []
    replace = os.replace
    monkeypatch.setattr(placing, "_exchanged", lambda *_: False)

    def failing(source, target):
        moves.append(target)
        if len(moves) == 2 * at + 2:
            raise OSError(5, "Input/output error")
        replace(source, target)

    monkeypatch.setattr(placing.os, "replace", failing)
    with pytest.raises(FolderRefused, match="Input/output"):
        write_all(make_analysis(seed=9), out)
    assert contents(out) == before
    assert alone(out)


@pytest.mark.slow
def test_two_runs_into_one_folder_leave_one_whole_result(tmp_path):
    out = tmp_path / "out"
    write_all(ANALYSIS, out)
    made = [make_analysis(seed=seed, routes=1, traces=3) for seed in (1, 2, 3, 4)]
    wanted = []
    for i, analysis in enumerate(made):
        write_all(analysis, tmp_path / f"alone{i}")
        wanted.append(contents(tmp_path / f"alone{i}"))
    errors = []

    def run(analysis):
        try:
            write_all(analysis, out)
        except BaseException as error:
            errors.append(error)

    threads = [threading.Thread(target=run, args=(analysis,)) for analysis in made]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    assert contents(out) in wanted


def test_odd_names_of_files_are_written(tmp_path):
    odd = make_analysis(routes=1, traces=2)
    for trace in odd.routes[0].traces:
        object.__setattr__(trace, "file", "ride_\udcff\x00.gpx")
    write_all(odd, tmp_path / "out \udcff")
    page = (tmp_path / "out \udcff" / "report.html").read_bytes()
    assert b"ride_" in page
    page.decode("utf-8")


def test_a_base_map_without_attribution_is_refused_before_the_work(tmp_path):
    with pytest.raises(BadOption, match="attribution"):
        write_all(ANALYSIS, tmp_path / "out", basemap="https://tiles.example.org/{z}/{x}/{y}.png")
    assert list(tmp_path.iterdir()) == []
