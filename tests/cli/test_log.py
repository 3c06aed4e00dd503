"""The page for the phone is written once, and never over anything unless that is asked for."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from trackspread.cli.log import command


def test_a_page_that_is_there_stays_unless_it_is_to_be_replaced(tmp_path: Path) -> None:
    file = tmp_path / "log.html"
    assert CliRunner().invoke(command, ["--out", str(file), "--watch", "sedge"]).exit_code == 0
    assert "sedge" in file.read_text("utf-8")
    file.write_text("mine")
    assert CliRunner().invoke(command, ["--out", str(file)]).exception is not None
    assert file.read_text() == "mine"
    assert CliRunner().invoke(command, ["--out", str(file), "--overwrite"]).exit_code == 0
    assert "mine" not in file.read_text("utf-8")
