"""Many files: one bad one never costs the others, and nothing is passed over in silence."""

from __future__ import annotations

from pathlib import Path

from trackspread.readers import read_files
from trackspread.readers.read import parse_one
from world import simulate

GOOD = b"lon,lat,time\n3.0,-54.4,2031-03-03T07:00:00Z\n3.001,-54.4,2031-03-03T07:00:01Z\n"


def test_a_bad_file_becomes_a_problem_of_its_own() -> None:
    assert parse_one("a.gpx", b"<gpx", True, False)[0] == ()
    (problem,) = parse_one("a.gpx", b"<gpx", True, False)[1]
    assert problem.file == "a.gpx"
    (trace,), problems = parse_one("a.csv", GOOD, True, False)
    assert (len(trace.lon_deg), problems) == (2, ())


def test_the_others_are_read_and_the_share_of_the_work_is_told(tmp_path: Path) -> None:
    simulate("winding", seed=3, rides=2, length_m=300.0).write_gpx(tmp_path)
    (tmp_path / "broken.gpx").write_text("<gpx")
    told: list[float] = []
    read = read_files([tmp_path], progress=lambda phase, share: told.append(share))
    assert len(read.traces) == 2
    assert [Path(problem.file).name for problem in read.problems] == ["broken.gpx"]
    assert told == sorted(told)
    assert (told[0], told[-1]) == (0.0, 1.0)


def test_a_folder_without_recordings_says_what_lies_there(tmp_path: Path) -> None:
    for name in ("a.md", "b.md", "c.md", "d.md", "e.md"):
        (tmp_path / name).write_text("words")
    (problem,) = read_files([tmp_path]).problems
    assert "and 2 more" in str(problem)
