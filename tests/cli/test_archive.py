"""The archive command: what it tells, its exit codes, and a run that goes on where it was killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from trackspread.archive.run import MARK
from trackspread.cli import main
from world import simulate

ROUTES = 4


def test_what_could_not_be_used_is_told_every_time_and_by_the_exit_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As `analyse` tells it, also where the route was done before."""
    simulate("winding", seed=1, rides=2, length_m=700.0).write_gpx(tmp_path / "all" / "mill")
    (tmp_path / "all" / "mill" / "gone.fit").symlink_to(tmp_path / "nowhere.fit")
    for _ in range(2):
        with pytest.raises(SystemExit) as ended:
            main(["archive", str(tmp_path / "all"), "--out", str(tmp_path / "out")])
        told = capsys.readouterr()
        assert (ended.value.code, told.err.count("gone.fit: the file cannot be read")) == (1, 1)
    assert "1 done before" in told.out


@pytest.mark.parametrize(
    ("segment", "words"),
    [
        ("50,5", "write it with a point, such as 2.5"),
        ("5", "--segment: from 10 to 100000 is allowed (found 5"),
    ],
)
def test_wrong_thresholds(
    segment: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "all").mkdir()
    with pytest.raises(SystemExit) as ended:
        main(["archive", str(tmp_path / "all"), "--out", str(tmp_path / "out"), "--segment", segment])
    assert ended.value.code == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_a_killed_run_goes_on(tmp_path: Path) -> None:
    root, folder = tmp_path / "all", tmp_path / "out"
    for number in range(ROUTES):
        simulate("winding", seed=number, rides=3, length_m=900.0).write_gpx(root / f"route {number}")
    (root / "broken").mkdir()
    (root / "broken" / "nothing.gpx").write_text("<gpx></gpx>")
    command = [sys.executable, "-m", "trackspread", "archive", str(root), "--out", str(folder), "--quiet"]
    run = subprocess.Popen(command, stderr=subprocess.DEVNULL, start_new_session=True)
    deadline = time.monotonic() + 120
    while not list(folder.rglob(MARK)) and time.monotonic() < deadline:
        time.sleep(0.05)
    os.killpg(run.pid, signal.SIGKILL)
    run.wait()
    finished = {path.parent.name for path in folder.rglob(MARK)}
    assert 1 <= len(finished) < ROUTES
    for path in folder.rglob("report.html"):
        assert path.read_text().rstrip().endswith("</html>")
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "broken" in done.stderr
    assert len(list(folder.rglob(MARK))) == ROUTES
