"""Where things are kept: as the environment says, else where the platform keeps such things."""

from __future__ import annotations

from pathlib import Path

import pytest

from trackspread.system.folders import cache_folder, data_folder


def test_the_environment_decides(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("TRACKSPREAD_CACHE", str(tmp_path / "c"))
    monkeypatch.setenv("TRACKSPREAD_DATA", str(tmp_path / "d"))
    assert (cache_folder(), data_folder()) == (tmp_path / "c", tmp_path / "d")


def test_else_they_are_two_folders_of_this_user(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("TRACKSPREAD_CACHE", "TRACKSPREAD_DATA", "XDG_CACHE_HOME", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    cache, data = cache_folder(), data_folder()
    assert cache is not None
    assert data is not None
    assert cache != data
    assert cache.is_absolute()


def test_a_user_without_a_home_has_no_place(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("TRACKSPREAD_CACHE", "TRACKSPREAD_DATA"):
        monkeypatch.delenv(name, raising=False)
    for name in ("XDG_CACHE_HOME", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("os.path.expanduser", lambda path: path)
    assert cache_folder() is None
