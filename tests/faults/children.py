"""Commands run in processes of their own, to be interrupted, killed and starved."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trackspread.system.placing import is_ours
from world import simulate

_START = (
    "import sys; sys.argv[0] = 'trackspread'; print('up', flush=True)\n"
    "from trackspread.__main__ import run; run()"
)


@dataclass(frozen=True, kw_only=True)
class Place:
    """A folder with traces in ``in``, a cache and a temporary folder of its own."""

    folder: Path

    @classmethod
    def made(cls, folder: Path, routes: int = 0) -> Place:
        """Put three short rides there, or that many route folders of them."""
        for number in range(max(routes, 1)):
            target = folder / "in" / (f"route {number}" if routes else "")
            simulate("winding", seed=number, rides=3, length_m=700.0).write_gpx(target)
        (folder / "tmp").mkdir()
        return cls(folder=folder)

    def environment(self) -> dict[str, str]:
        own = {"TRACKSPREAD_CACHE": str(self.folder / "cache"), "TMPDIR": str(self.folder / "tmp")}
        return os.environ | own

    def run(self, arguments: Sequence[str], **more: Any) -> subprocess.CompletedProcess[str]:
        """Run a command to its end."""
        return subprocess.run(
            [*more.pop("before", ()), sys.executable, "-c", _START, *arguments], cwd=self.folder, env=more.pop("env", self.environment()),
            capture_output=True, text=True, timeout=120, check=False, **more,
        )  # fmt: skip

    def start(self, arguments: Sequence[str]) -> subprocess.Popen[str]:
        """Start a command in a session of its own; it has begun to run our code when this returns."""
        child = subprocess.Popen(
            [sys.executable, "-c", _START, *arguments], cwd=self.folder, env=self.environment(),
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
        )  # fmt: skip
        assert child.stdout is not None
        assert child.stdout.readline() == "up\n"
        return child

    def seconds(self, arguments: Sequence[str]) -> float:
        """Return how long a command takes, once it is up."""
        child = self.start(arguments)
        begun = time.monotonic()
        child.communicate(timeout=120)
        return time.monotonic() - begun

    def strays(self) -> list[str]:
        """Return what was left behind anywhere: hidden folders and locks, and all in the temporary folder.

        But for files of eight letters and digits: by one such Python itself asks once whether the temporary
        folder can be used, and a process may be struck while it does.
        """
        hidden = [str(path) for path in self.folder.rglob("*") if is_ours(path.name)]
        probe = re.compile("[a-z0-9_]{8}")
        in_tmp = [path for path in (self.folder / "tmp").iterdir() if not probe.fullmatch(path.name)]
        return hidden + [str(path) for path in in_tmp]


def struck(
    place: Place, arguments: Sequence[str], after_s: float, number: int, group: bool = False
) -> tuple[int, str]:
    """Send a signal to a command so long after its start; return its exit code and what it said."""
    child = place.start(arguments)
    time.sleep(after_s)
    if child.poll() is None:
        (os.killpg if group else os.kill)(child.pid, number)
    _, said = child.communicate(timeout=60)
    assert gone(child.pid), "workers live on"
    return child.returncode, said


def gone(session: int, wait_s: float = 15.0) -> bool:
    """Whether all processes of a session end in time."""
    until = time.monotonic() + wait_s
    while _members(session):
        if time.monotonic() > until:
            os.killpg(session, signal.SIGKILL)
            return False
        time.sleep(0.05)
    return True


def _members(session: int) -> list[int]:
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, _, _, own = path.read_text().rpartition(")")[2].split()[:4]
        except (OSError, ValueError):
            continue
        if int(own) == session and state != "Z":
            found.append(int(path.parent.name))
    return found


def tree(folder: Path) -> dict[str, bytes]:
    """Return all files of a folder."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def sizes(folder: Path) -> dict[str, int]:
    """Return the sizes of all files: two runs differ by the digits of a time only."""
    return {name: len(data) for name, data in tree(folder).items()}
