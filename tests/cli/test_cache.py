"""The cache is shown and cleared by a command."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from trackspread.cli.cache import command
from trackspread.readers import read_files
from world import simulate


def test_what_was_parsed_is_counted_and_cleared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRACKSPREAD_CACHE", str(tmp_path / "cache"))
    simulate("winding", seed=3, rides=2, length_m=300.0).write_gpx(tmp_path / "in")
    read_files([tmp_path / "in"], cache=True)
    shown = CliRunner().invoke(command, [])
    assert (shown.exit_code, shown.output.split(": ")[1][:9]) == (0, "2 entries")
    assert CliRunner().invoke(command, ["--clear"]).output.startswith("2 entries deleted from ")
    assert ": 0 entries" in CliRunner().invoke(command, []).output
