"""The command as a process: what it leaves behind after Ctrl-C, signals, the page's own end, and --keep."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from web_client import Client

DEMO = Path(__file__).parents[2] / "demo_routes"


@pytest.fixture
def command(tmp_path):
    """Return a function that starts the command, and a client of its page."""
    started = []

    def begin(*arguments):
        place = tmp_path / "temporary"
        place.mkdir(exist_ok=True)
        process = subprocess.Popen(
            [sys.executable, "-m", "trackspread", "drop", "--no-browser", *map(str, arguments)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "TMPDIR": str(place)},
        )  # fmt: skip
        started.append(process)
        line = process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+/\?token=\S+", line)
        if not found:
            return process, None, place
        folder = next(place.iterdir(), None)
        client = Client(SimpleNamespace(address=found[0]), folder)
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
@pytest.mark.parametrize("busy", [False, True])
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
