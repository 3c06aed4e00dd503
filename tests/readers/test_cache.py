"""The cache of parsed traces gives what parsing gives, and harm to it costs nothing but time."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from corpus.blocks import GOOD, changed, gpx, points, saved, track
from trackspread.readers import read_files
from trackspread.system import cache


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRACKSPREAD_CACHE", str(tmp_path / "cache"))


@pytest.mark.parametrize(
    "text", [GOOD, changed(lat="x"), gpx(track(points(0, 5)) + track(points(9, 15))), "<html/>"]
)
def test_the_second_reading_gives_the_first(tmp_path: Path, text: str) -> None:
    path = saved(tmp_path, text)
    plain, first, second = (read_files([path], cache=use) for use in (False, True, True))
    for other in (first, second):
        assert other.problems == plain.problems
        for a, b in zip(other.traces, plain.traces, strict=True):
            for name in ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before"):
                np.testing.assert_array_equal(getattr(a, name), getattr(b, name))
            for name in ("file", "format", "part", "name", "receiver", "points_set_aside", "findings"):
                assert getattr(a, name) == getattr(b, name)


def test_an_entry_of_other_bytes_or_none_is_parsed_again(tmp_path: Path) -> None:
    path = saved(tmp_path, GOOD)
    read_files([path], cache=True)
    (entry, _, _) = cache.entries()[0]
    for harm in (b"", b"PK\x03\x04 no archive", entry.read_bytes()[:200]):
        entry.write_bytes(harm)
        assert len(read_files([path], cache=True).traces) == 1


def test_two_processes_at_once_share_one_cache(tmp_path: Path) -> None:
    """Both fill, read and trim the same cache again and again; each reads the same as without one."""
    (tmp_path / "traces").mkdir()
    for number in range(6):
        saved(tmp_path / "traces", gpx(track(points(number, number + 40))), f"{number}.gpx")
    code = (
        "import sys, hashlib\n"
        "from trackspread.readers import read_files; from trackspread.system import cache\n"
        "for turn in range(25):\n"
        "    traces = read_files([sys.argv[1]], cache=turn > 0).traces\n"
        "    told = b''.join(t.lon_deg.tobytes() + t.time_s.tobytes() + t.name.encode() for t in traces)\n"
        "    print(len(traces), hashlib.sha256(told).hexdigest())\n"
        "    if turn % 3 == 2: cache.trim(0)\n"
    )
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path / "traces")],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        for _ in range(2)
    ]
    said = [run.communicate(timeout=120) for run in runs]
    assert [run.returncode for run in runs] == [0, 0], said
    lines = {line for out, _ in said for line in out.decode().splitlines()}
    assert len(lines) == 1
    assert lines.pop().startswith("6 ")
    assert all(path.suffix == ".npz" for path, _, _ in cache.entries())


def test_a_second_run_takes_the_traces_from_the_cache(tmp_path: Path) -> None:
    path = saved(tmp_path, GOOD)
    first = read_files([path], cache=True)
    (entry, _, _) = cache.entries()[0]
    with np.load(entry) as stored:
        arrays = dict(stored)
    arrays["lon_deg_0"] = arrays["lon_deg_0"] + 1.0  # so that it shows where the second reading is from
    np.savez(entry, **arrays)
    second, third = read_files([path], cache=True), read_files([path], cache=False)
    np.testing.assert_array_equal(second.traces[0].lon_deg, first.traces[0].lon_deg + 1.0)
    np.testing.assert_array_equal(third.traces[0].lon_deg, first.traces[0].lon_deg)
