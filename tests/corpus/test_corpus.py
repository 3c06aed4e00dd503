"""Every kind of the corpus gives what the table says; all of them together cost three good traces nothing."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from corpus.blocks import write_large
from corpus.make_corpus import KINDS, expected
from peak_memory import PRINT_PEAK_MB
from trackspread.readers import read_files
from world import simulate

ROWS = expected()


def test_the_table_and_the_kinds_are_the_same() -> None:
    assert [row["kind"] for row in ROWS] == list(KINDS)
    assert len(KINDS) >= 80


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["kind"])
def test_kind(row: dict[str, str], tmp_path: Path) -> None:
    read = read_files([KINDS[row["kind"]](tmp_path)], largest=20 * 2**20)
    findings = [f for trace in read.traces for f in trace.findings]
    assert len(read.traces) == int(row["traces"])
    assert sum(len(trace.lon_deg) for trace in read.traces) == int(row["points"])
    assert "; ".join(f"{f.code} {f.count} at {f.first_place}" for f in findings) == row["findings"]
    words = "; ".join(map(str, read.problems))
    assert (row["problem"] in words) if row["problem"] else not words
    assert all(str(problem).count("\n") == 0 for problem in read.problems)


def test_all_together_cost_good_traces_nothing(tmp_path: Path) -> None:
    """The command reads the whole corpus beside three good traces: a line each, no traceback, exit code 1."""
    simulate("winding", seed=3, rides=3, length_m=1500.0).write_gpx(tmp_path / "good")
    for name, make in KINDS.items():
        place = tmp_path / "odd" / name.replace(" ", "_")
        place.mkdir(parents=True)
        make(place)
    command = [sys.executable, "-m", "trackspread", "analyse", "good", "odd", "--out", "out", "--no-cache"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False)
    assert "Traceback" not in done.stderr + done.stdout
    assert done.returncode == 1, done.stderr
    result = json.loads((tmp_path / "out" / "result.json").read_text(encoding="utf-8"))
    used = {Path(record["file"]).name for record in result["inputs"] if record["status"] == "used"}
    assert {path.name for path in (tmp_path / "good").glob("*.gpx")} <= used


@pytest.mark.slow
def test_a_large_file(tmp_path: Path) -> None:
    """40 MB in a process of its own: every point comes through, in at most ten times the memory."""
    count = write_large(tmp_path / "large.gpx", 50)
    assert (tmp_path / "large.gpx").stat().st_size > 39e6
    code = (
        "from trackspread.readers import read_files; (trace,) = read_files(['large.gpx']).traces\n"
        "print(len(trace.lon_deg) + trace.points_set_aside)" + PRINT_PEAK_MB
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True, timeout=600
    )
    points, megabytes = map(int, done.stdout.split())
    assert points == count
    assert megabytes < 400
