"""Arrays kept by a key come back the same, and harm to the cache costs nothing but time."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from trackspread.system import cache


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRACKSPREAD_CACHE", str(tmp_path / "cache"))


def test_what_is_kept_comes_back_to_the_bit() -> None:
    given = {"a": np.array([0.1, np.nan, -0.0]), "b": np.array("text"), "c": np.zeros((0, 3), dtype=bool)}
    cache.store("00", given)
    found = cache.load("00")
    assert found.keys() == given.keys()
    for name, array in given.items():
        assert found[name].tobytes() == array.tobytes()
        assert (found[name].dtype, found[name].shape) == (array.dtype, array.shape)


def test_what_is_missing_broken_or_changed_cannot_be_read() -> None:
    with pytest.raises(cache.BROKEN):
        cache.load("00")
    cache.store("00", {"a": np.arange(1000.0)})
    (entry, _, _) = cache.entries()[0]
    whole = entry.read_bytes()
    flipped = whole[:2000] + bytes([whole[2000] ^ 1]) + whole[2001:]  # the checksum of ZIP (CRC-32) tells
    for harm in (b"", b"PK\x03\x04 no archive", whole[:200], flipped):
        entry.write_bytes(harm)
        with pytest.raises(cache.BROKEN):
            cache.load("00")


def test_no_code_is_kept_or_run() -> None:
    class Harm:
        def __reduce__(self) -> tuple[object, tuple[str]]:
            return os.system, ("touch harm",)

    with pytest.raises(ValueError, match="allow_pickle"):
        cache.store("00", {"a": np.array([Harm()], dtype=object)})
    assert cache.entries() == []
    cache.folder().mkdir(exist_ok=True)
    np.savez(cache.folder() / "00.npz", a=np.array([Harm()], dtype=object))
    with pytest.raises(cache.BROKEN):
        cache.load("00")
    assert not Path("harm").exists()


def test_the_entries_used_longest_ago_go_first() -> None:
    for number in range(3):
        cache.store(f"0{number}", {"a": np.zeros(1000)})
        os.utime(cache.folder() / f"0{number}.npz", (number, number))
    cache.load("00")  # used now
    size = cache.entries()[0][1]
    assert cache.trim(2 * size) == 1
    assert {path.stem for path, _, _ in cache.entries()} == {"00", "02"}
    assert cache.trim(0) == 2
    assert cache.entries() == []


@pytest.mark.skipif(os.name != "posix", reason="rights of POSIX")
def test_the_folder_belongs_to_the_user_alone() -> None:
    cache.store("00", {"a": np.zeros(3)})
    assert cache.folder().stat().st_mode & 0o077 == 0


def test_a_folder_that_cannot_be_costs_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("TRACKSPREAD_CACHE", str(tmp_path / "file"))
    cache.store("00", {"a": np.zeros(3)})
    assert cache.entries() == []
