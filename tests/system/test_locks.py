"""A lock is held by one process at a time, and free as soon as that has gone (flock(2))."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest

from trackspread.system.locks import let_go, locked, taken

HOLDER = """
import sys, time
from pathlib import Path
from trackspread.system.locks import locked, taken
folder = Path(sys.argv[1])
with locked(folder):
    handle = taken(folder)
    print("held", flush=True)
    sys.stdin.readline()
"""
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="folders cannot be locked there")


def holder(folder: Path) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", HOLDER, str(folder)]
    child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    assert child.stdout.readline() == "held\n"
    return child


def test_a_folder_that_another_holds_is_free_once_that_was_killed(tmp_path: Path) -> None:
    child = holder(tmp_path)
    assert taken(tmp_path) == -1
    child.kill()
    child.communicate(timeout=30)
    handle = taken(tmp_path)
    assert handle is not None
    assert handle >= 0
    assert taken(tmp_path) == -1
    let_go(handle)
    let_go(None)


def test_who_comes_second_waits_and_nothing_is_left(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    child = holder(out)
    assert child.stdin is not None
    begun = time.monotonic()
    later = subprocess.Popen(
        [sys.executable, "-c", "import time; time.sleep(0.4); print('go')"], stdout=child.stdin
    )
    with locked(out):
        assert time.monotonic() - begun >= 0.4
    later.wait(timeout=30)
    child.communicate(timeout=30)
    assert list(tmp_path.iterdir()) == [out]
