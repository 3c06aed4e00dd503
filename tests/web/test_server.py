"""The server as a process: what it leaves behind after Ctrl-C, signals, and the page's own end."""

from __future__ import annotations

import signal
import time
from pathlib import Path

import pytest

from thinly import first_quick
from web_client import drop_demo, ended, read_big


def test_folder_is_private(command):
    _, client, place = command()
    drop_demo(client, "out_1*.gpx")
    assert len(list(place.iterdir())) == 1
    for path in [client.folder, *client.folder.rglob("*")]:
        if path.is_dir():
            assert path.stat().st_mode & 0o777 == 0o700, path


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("busy", first_quick([False, True]))
def test_signal_deletes_everything(command, number, busy):
    process, client, place = command()
    drop_demo(client)
    if busy:
        client.ask("POST", "/read")
        assert client.wait()["state"] == "done"
        client.ask("POST", "/run", {})
        while client.ask("GET", "/state").json()["job"]["phase"] == "":
            time.sleep(0.01)
    process.send_signal(number)
    assert "Everything was deleted" in ended(process)
    assert list(place.iterdir()) == []


def test_page_ends_the_session(command):
    process, client, place = command()
    drop_demo(client, "out_1*.gpx")
    assert client.ask("POST", "/end").status == 204
    ended(process)
    assert list(place.iterdir()) == []


def test_two_sessions_do_not_see_each_other(command):
    _, first, _ = command()
    _, second, _ = command()
    assert first.authority != second.authority
    assert first.ask("GET", "/state", Cookie=second.cookie).status == 403
    stolen = f"{first.cookie.partition('=')[0]}={second.cookie.partition('=')[2]}"
    assert first.ask("GET", "/state", Cookie=stolen).status == 403


def children(pid):
    """Return the processes that a process has started, by the kernel's own table."""
    found = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [int(child) for child in found]


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="no /proc here")
def test_what_a_killed_session_left_is_cleared_and_only_that(command, tmp_path):
    place = tmp_path / "temporary"
    place.mkdir()
    theirs = [
        place / "trackspread-drop",
        place / ".trackspread-drop.notes",
        place / ".trackspread-drop.zzzzzzzz.part",
    ]
    for folder in theirs:
        folder.mkdir()
        (folder / "thesis.txt").write_text("mine")
    started = [command(), command()]
    (dead, dead_client, _), (_, living_client, _) = started
    folders = {path for path in place.iterdir() if path not in theirs}
    assert len(folders) == 2
    drop_demo(living_client, "out_1*.gpx")
    before = {path for path in folders if list(path.rglob("*.gpx"))}
    read_big(dead_client)
    helpers = children(dead.pid)
    dead.kill()
    dead.wait()
    until = time.monotonic() + 10
    while any(
        Path(f"/proc/{pid}/cmdline").exists() and Path(f"/proc/{pid}/cmdline").read_text() for pid in helpers
    ):
        assert time.monotonic() < until, "a helper outlives its session"
        time.sleep(0.05)
    assert folders <= set(place.iterdir())
    time.sleep(1.1)
    command()
    now = {path for path in place.iterdir() if path not in theirs}
    assert len(now) == 2
    assert folders & now == before
    assert all((folder / "thesis.txt").read_text() == "mine" for folder in theirs)
    assert living_client.ask("GET", "/state").json()["files"] == 2
