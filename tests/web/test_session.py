"""One session: what it refuses, and when; a job is stopped in the midst of a file."""

from __future__ import annotations

import signal
import time

import pytest

from trackspread.web.session import Session, SessionRefused
from trackspread.web.store import Limits
from web_client import drop_demo, ended, read_big


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


@pytest.mark.parametrize(
    ("ask", "status", "rule"),
    [
        (lambda session: session.read(), 409, "nothing to read"),
        (lambda session: session.table(), 409, "Nothing has been read"),
        (lambda session: session.correct(["a.gpx"], "receiver", "moss"), 409, "Nothing has been read"),
        (lambda session: session.undo(), 409, "Nothing has been read"),
        (lambda session: session.run({}), 409, "Nothing has been read"),
        (lambda session: session.result(), 404, "no result yet"),
        (lambda session: session.share(), 404, "no result yet"),
    ],
)
def test_what_cannot_be_done_yet_is_refused_with_its_status(tmp_path, ask, status, rule):
    """409 Conflict and 404 Not Found (RFC 9110, 15.5.10 and 15.5.5)."""
    session = Session(tmp_path, Limits())
    with pytest.raises(SessionRefused, match=rule) as refused:
        ask(session)
    assert refused.value.status == status
    assert session.state()["job"] is None


def test_after_reading_corrections_are_taken_back_one_by_one_and_files_forget_them(client):
    session = client.server._session
    drop_demo(client, "out_1*.gpx")
    session.read()
    assert client.wait()["state"] == "done"
    keys = [row["key"] for row in session.table()["rows"]]
    assert len(keys) == 2
    with pytest.raises(SessionRefused, match="no such cell") as refused:
        session.correct(["elsewhere.gpx"], "receiver", "moss")
    assert refused.value.status == 404
    for name in ("moss", "fern"):
        session.correct(keys, "receiver", name)
        assert {row["receiver"] for row in session.table()["rows"]} == {name}
    session.undo()
    assert {row["receiver"] for row in session.table()["rows"]} == {"moss"}
    session.undo()
    with pytest.raises(SessionRefused, match="nothing to undo"):
        session.undo()
    session.remove(None)
    assert session.state()["traces"] is None
    with pytest.raises(SessionRefused, match="Nothing has been read"):
        session.table()
