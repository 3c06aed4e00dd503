"""The cache of parsed traces gives what parsing gives, and harm to it costs nothing but time."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from corpus.blocks import GOOD, changed, gpx, points, saved, track
from trackspread.readers import cache, read_files


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


def test_the_cache_is_bounded(tmp_path: Path) -> None:
    for i in range(3):
        read_files([saved(tmp_path, gpx(track(points(i, i + 5))))], cache=True)
    assert len(cache.entries()) == 3
    assert cache.trim(0) == 3
    assert cache.entries() == []
