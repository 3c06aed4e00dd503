"""Progress with the time left: a bar on a terminal (a real pseudo-terminal), lines from time to time without."""

import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from compared import compared
from records import make_analysis
from trackspread.cli import terminal
from trackspread.model import Finding, MedianEstimate, Reason
from trackspread.readers.notes import CODES
from world import simulate

pty = pytest.importorskip("pty", reason="pseudo-terminals are there on POSIX systems only")


def at_terminal(arguments: list[str]) -> str:
    """Return all that a command sends to its terminal."""
    ours, theirs = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "100"}
    with subprocess.Popen(
        [sys.executable, "-m", "trackspread", *arguments], stdout=theirs, stderr=theirs, stdin=theirs,
        env=environment,
    ) as run:  # fmt: skip
        os.close(theirs)
        shown = b""
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:
                break
            if not part:
                break
            shown += part
    os.close(ours)
    assert run.returncode == 0, shown.decode()
    return shown.decode()


@pytest.mark.slow
def test_a_terminal_shows_a_bar_with_share_and_time(tmp_path: Path) -> None:
    simulate("winding", seed=1, rides=4, length_m=2000.0).write_gpx(tmp_path / "root" / "traces")
    shown = at_terminal(["analyse", str(tmp_path / "root"), "--out", str(tmp_path / "out"), "--no-cache"])
    for phase in ("Reading", "Grouping", "Routes", "Writing"):
        assert phase in shown
    assert "100%" in shown
    assert ":" in shown.split("Reading", 1)[1]
    shown = at_terminal(["archive", str(tmp_path / "root"), "--out", str(tmp_path / "all")])
    assert "Routes" in shown
    assert "100%" in shown


def test_without_a_terminal_lines_come_from_time_to_time(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(terminal, "EVERY_S", 0.05)
    began_s = time.monotonic()
    with terminal.progress_bar(quiet=False) as tell:
        assert tell is not None
        for done in range(41):
            tell("writing", done / 40)
            time.sleep(0.01)
    most = (time.monotonic() - began_s) / terminal.EVERY_S + 1  # a busy machine sleeps longer than it is told
    lines = capsys.readouterr().err.splitlines()
    assert 3 <= len(lines) <= most
    assert all(line.startswith("Writing: ") and line.endswith("s left") for line in lines)
    shares = [int(line.split()[1].rstrip("%,")) for line in lines]
    assert shares == sorted(shares)


def test_a_line_that_nobody_can_hear_does_not_cost_the_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """A standard error on a full disk: Linux's /dev/full refuses every write."""
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    monkeypatch.setattr(terminal, "EVERY_S", 0.0)
    with Path("/dev/full").open("w", encoding="utf-8", buffering=1) as full:
        monkeypatch.setattr("sys.stderr", full)
        with terminal.progress_bar(quiet=False) as tell:
            assert tell is not None
            for share in (0.1, 0.2):
                tell("routes", share)


def test_quiet_is_quiet() -> None:
    with terminal.progress_bar(quiet=True) as tell:
        assert tell is None


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "about 1 s"), (61, "about 61 s"), (600, "about 10 min"), (7200, "about 2.0 h")],
)
def test_words_for_the_time_left(seconds: float, words: str) -> None:
    assert terminal._about(seconds) == words


def test_every_watch_has_a_row_of_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    analysis = compared((1.6, 4.2), 1.0)
    assert analysis.comparison is not None
    first, second = analysis.comparison.receivers
    known = replace(first, receiver="[red]7", first_fix_s=MedianEstimate(median=5.4, n=3))
    blank = replace(second, first_fix_s=MedianEstimate(reason=Reason("no_start")))
    terminal.watch_table(replace(analysis, comparison=replace(analysis.comparison, receivers=(known, blank))))
    rows = [line.split("│") for line in capsys.readouterr().out.splitlines() if line.startswith("│")]
    assert [row[1].strip() for row in rows] == ["[red]7", "Thrift"]
    assert [row[4].strip() for row in rows] == ["5 s", "not measurable"]
    assert [row[6].strip() for row in rows] == ["a", "b"]


def test_a_recording_of_several_rides_is_told_with_the_remedy(capsys: pytest.CaptureFixture[str]) -> None:
    analysis = make_analysis()
    laps = Finding(code="laps", count=3, text=CODES["laps"], first_place="")
    inputs = (replace(analysis.inputs[0], findings=(laps,)), *analysis.inputs[1:])
    terminal.say_problems(replace(analysis, inputs=inputs))
    (line,) = [line for line in capsys.readouterr().err.splitlines() if "--laps" in line]
    assert line.startswith(inputs[0].file)
    assert line.endswith("(3)")
