"""The demo routes are what their generator makes, to the byte, and what their README tells."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from trackspread.readers import parse
from world import Globe

DEMO = Path(__file__).resolve().parents[2] / "demo_routes"
MADE = {"*.gpx": 10, "*.fit": 5, "*.tcx": 5, "rides.csv": 1, "truth.json": 1}


def test_generator_makes_the_same_bytes(tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-B", DEMO / "make_demo.py", tmp_path], check=True)
    for pattern, count in MADE.items():
        names = sorted(path.name for path in DEMO.glob(pattern))
        assert len(names) == count
        assert names == sorted(path.name for path in tmp_path.glob(pattern))
        for name in names:
            assert (tmp_path / name).read_bytes() == (DEMO / name).read_bytes(), name


def test_folder_stays_small() -> None:
    assert sum(path.stat().st_size for path in DEMO.glob("*") if path.is_file()) < 2_500_000


def test_sheet_names_every_file_and_leaves_open_what_the_files_tell() -> None:
    """Who came home by the watch's own file needs no note of the start; one morning nobody noted it."""
    rows = list(csv.DictReader((DEMO / "rides.csv").read_text().splitlines()))
    assert {row["file"] for row in rows} == {path.name for path in DEMO.glob("*_*_*.*")}
    assert {row["receiver"] for row in rows} == {"sedge", "saxifrage"}
    assert len({row["ride"] for row in rows}) == 10
    back = {f"back {number}" for number in range(1, 6)}
    assert {row["ride"] for row in rows if not row["start_pressed"]} == {"out 5", *back}


def test_both_ways_run_along_the_same_track() -> None:
    out, back = json.loads((DEMO / "truth.json").read_text())
    plane = Globe(lon_deg=-87.3, lat_deg=75.15)
    there, home = (
        np.stack(plane.to_plane(*np.array(way["centreline_station_lon_lat"]).T[1:]), axis=1)
        for way in (out, back)
    )
    assert abs(out["length_m"] - back["length_m"]) < 1
    assert 4000 < out["length_m"] < 6000
    nearest = np.linalg.norm(there[:, None] - home[None, ::-1], axis=2).min(axis=1)
    assert nearest.max() < 6


def test_truth_holds_the_story() -> None:
    out, back = json.loads((DEMO / "truth.json").read_text())
    assert sorted(fault["kind"] for fault in out["faults"]) == ["detour", "late", "stretch", "torn", "torn"]
    assert sorted(fault["kind"] for fault in back["faults"]) == ["gap", "settling", "torn", "torn"]
    first = {r["file"]: r["first_fix_s"] for way in (out, back) for r in way["recordings"]}
    assert first.pop("out_3_sedge.gpx") == 95
    assert max(first.values()) <= 6
    slow = {r["file"]: r["settled_within_5_m_for_30_s_s"] for r in back["recordings"]}
    assert 20 < slow["back_1_sedge.fit"] < 60


@pytest.mark.parametrize("kind", ["fit", "tcx"])
@pytest.mark.slow
def test_activity_files_of_the_same_rides_are_the_same_bytes_each_time(tmp_path: Path, kind: str) -> None:
    truth = {
        Path(r["file"]).stem: r
        for way in json.loads((DEMO / "truth.json").read_text())
        for r in way["recordings"]
    }
    for folder in ("a", "b"):
        subprocess.run([sys.executable, "-B", DEMO / "make_demo.py", tmp_path / folder, kind], check=True)
    files = sorted((tmp_path / "a").iterdir())
    assert [file.stem for file in files] == sorted(truth)
    for file in files:
        data = file.read_bytes()
        assert data == (tmp_path / "b" / file.name).read_bytes()
        (trace,), _ = parse(file.name, data, True)
        told = truth[file.stem]
        assert trace.device.product == told["receiver"]
        assert abs(trace.time_s[0] - trace.start_s - told["first_fix_s"]) <= 1.0
