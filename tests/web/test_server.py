"""The command as a process: what it leaves behind after Ctrl-C, signals, the page's own end, and --keep."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from thinly import first_quick
from web_client import Client, drop_command

DEMO = Path(__file__).parents[2] / "demo_routes"


@pytest.fixture
def command(tmp_path):
    """Return a function that starts the command, and a client of its page."""
    started = []

    def begin(*arguments):
        place = tmp_path / "temporary"
        place.mkdir(exist_ok=True)
        process, address = drop_command(*map(str, arguments), env={**os.environ, "TMPDIR": str(place)})
        started.append(process)
        if not address:
            return process, None, place
        folder = next(place.iterdir(), None)
        client = Client(SimpleNamespace(address=address), folder)
        client.open()
        return process, client, place

    yield begin
    for process in started:
        if process.poll() is None:
            process.kill()
        process.communicate()


def drop_demo(client, pattern="*.gpx"):
    for file in sorted(DEMO.glob(pattern)):
        assert client.put(f"demo/{file.name}", file.read_bytes()).status == 201


def ended(process):
    out, err = process.communicate(timeout=30)
    assert process.returncode == 0, err
    assert err == ""
    return out


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


def test_keep_leaves_all_in_the_named_folder(command, tmp_path):
    kept = tmp_path / "new" / "session"
    process, client, place = command("--keep", kept)
    drop_demo(client, "out_1*.gpx")
    assert client.ask("GET", "/state").json()["kept"] is True
    client.ask("POST", "/end")
    assert str(kept) in ended(process)
    assert sorted(p.name for p in (kept / "traces/demo").iterdir()) == [
        "out_1_saxifrage.gpx",
        "out_1_sedge.gpx",
    ]
    assert kept.stat().st_mode & 0o777 == 0o700
    assert list(place.iterdir()) == []


def test_keep_does_not_touch_a_folder_in_use(command, tmp_path):
    theirs = tmp_path / "theirs"
    theirs.mkdir()
    (theirs / "thesis.txt").write_text("mine")
    process, client, _ = command("--keep", theirs)
    assert client is None
    _, err = process.communicate(timeout=30)
    assert process.returncode == 2
    assert "a new or an empty folder is needed" in err
    assert "Traceback" not in err
    assert [p.name for p in theirs.iterdir()] == ["thesis.txt"]


def test_two_sessions_do_not_see_each_other(command):
    _, first, _ = command()
    _, second, _ = command()
    assert first.authority != second.authority
    assert first.ask("GET", "/state", Cookie=second.cookie).status == 403
    stolen = f"{first.cookie.partition('=')[0]}={second.cookie.partition('=')[2]}"
    assert first.ask("GET", "/state", Cookie=stolen).status == 403


def big(points=300_000):
    """A recording that takes many seconds to parse."""
    body = "".join(
        f'<trkpt lat="{70 + i * 1e-6:.6f}" lon="-30.0"><ele>1.0</ele><time>2031-03-03T07:00:00Z</time></trkpt>'
        for i in range(points)
    )
    head = '<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    return f"{head}{body}</trkseg></trk></gpx>".encode()


def read_big(client):
    """Begin to read it; the page is answered while it is parsed."""
    assert client.put("big.gpx", big()).status == 201
    assert client.ask("POST", "/read").status == 204
    until = time.monotonic() + 1.5
    while time.monotonic() < until:
        before = time.monotonic()
        assert client.ask("GET", "/state").json()["job"]["state"] == "running"
        assert time.monotonic() - before < 1.0
        time.sleep(0.1)


def test_cancel_is_heard_while_a_file_is_parsed(command):
    _, client, _ = command()
    read_big(client)
    begun = time.monotonic()
    assert client.ask("POST", "/cancel").status == 204
    assert client.wait()["state"] == "cancelled"
    assert time.monotonic() - begun < 2.0


@pytest.mark.parametrize("end", ["page", "signal"])
def test_end_is_heard_while_a_file_is_parsed(command, end):
    process, client, place = command()
    read_big(client)
    begun = time.monotonic()
    if end == "page":
        client.ask("POST", "/end")
    else:
        process.send_signal(signal.SIGTERM)
    ended(process)
    assert time.monotonic() - begun < 5.0
    assert list(place.iterdir()) == []


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
