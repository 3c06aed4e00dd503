"""The analyse command: one line compares the watches of a flat folder, and tells the answer first."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from trackspread import api
from trackspread.cli import main
from world import Receiver, Recording, simulate
from world.files import gpx_text

WATCHES = ("sedge", "moss", "fern")


def _makers(r: Recording, number: int) -> tuple[str, bytes]:
    """Names as three invented makers give them: one by its word, one by date and word, one by word and count."""
    at = datetime.fromtimestamp(r.start_s, UTC)
    name = {
        "sedge": f"SEDGE_{at:%Y%m%d_%H%M%S}",
        "moss": f"moss-track-{at:%d-%m-%Y_%H.%M}",
        "fern": f"fern{number:04d} {at:%b %d}",
    }[r.receiver.name]
    return f"{name}.gpx", gpx_text(r).encode()


def _write(folder: Path) -> None:
    folder.mkdir()
    receivers = [
        Receiver(name=name, sigma_m=sigma) for name, sigma in zip(WATCHES, (1.5, 2.0, 6.0), strict=True)
    ]
    world = simulate("winding", seed=24, rides=8, receivers=receivers, length_m=900)
    for number, recording in enumerate(world.recordings):
        name, data = _makers(recording, number)
        (folder / name).write_bytes(data)
    assert number == 23


def _watches(compared: list[tuple[str, int]]) -> list[tuple[str, int]]:
    return sorted((name.casefold(), rides) for name, rides in compared)


def test_one_command_compares_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _write(tmp_path / "rides")
    with pytest.raises(SystemExit) as ended:
        main(["analyse", str(tmp_path / "rides"), "--out", str(tmp_path / "out"), "--no-cache", "--quiet"])
    assert ended.value.code == 0
    assert "unknown" not in capsys.readouterr().err
    found = json.loads((tmp_path / "out" / "result.json").read_text())["comparison"]
    assert _watches([(one["receiver"], one["rides"]) for one in found["receivers"]]) == [
        (n, 8) for n in sorted(WATCHES)
    ]
    assert len(found["differences"]) == 3
    assert (tmp_path / "out" / "report.html").stat().st_size > 10_000


def test_the_answer_is_told_before_the_files_are_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    simulate("winding", seed=1, rides=4, length_m=2000.0).write_gpx(tmp_path / "traces")
    write, told = api.write_report, []

    def writes(*given: Any, **more: Any) -> Any:
        told.append(capsys.readouterr())
        return write(*given, **more)

    monkeypatch.setattr(api, "write_report", writes)
    with pytest.raises(SystemExit) as end:
        main(["analyse", str(tmp_path / "traces"), "--out", str(tmp_path / "out"), "--workers", "1"])
    assert end.value.code == 0
    assert "the traces of 4 rides agree to" in told[0].out
    assert "Route A" in told[0].out
    assert "Written to" in capsys.readouterr().out


def test_the_exit_code_says_whether_all_was_used(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0: all used; 1: done, some input was set aside; 2: nothing could be done (docs/cli.md)."""
    simulate("winding", seed=1, rides=2, length_m=700.0).write_gpx(tmp_path / "traces")
    codes = []
    for name, text in (("", ""), ("odd.gpx", "<gpx>")):
        if name:
            (tmp_path / "traces" / name).write_text(text)
        with pytest.raises(SystemExit) as ended:
            main(
                [
                    "analyse",
                    str(tmp_path / "traces"),
                    "--out",
                    str(tmp_path / "out"),
                    "--workers",
                    "1",
                    "--quiet",
                ]
            )
        codes.append(ended.value.code)
        told = capsys.readouterr()
        assert told.out == ""
        assert told.err.count("\n") == len(name and "1")
    assert codes == [0, 1]
