"""What is dropped stays inside its folder and inside its limits, whatever the sender says."""

from __future__ import annotations

import asyncio
import socket
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackspread.web.store import DropRefused, Limits, Store, _safe_name

SMALL = Limits(file_bytes=1000, total_bytes=2500, files=3)


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("ride.gpx", "ride.gpx"),
        ("Alder/ride 1.gpx", "Alder/ride 1.gpx"),
        ("commute/2031/Alder/ride.gpx", "2031/Alder/ride.gpx"),
        ("a/b/c/d/e/ride.gpx", "d/e/ride.gpx"),
        ("../../etc/passwd", "etc/passwd"),
        ("/etc/passwd", "etc/passwd"),
        ("C:\\Users\\x\\ride.gpx", "Users/x/ride.gpx"),
        ("..\\..\\ride.gpx", "ride.gpx"),
        ("a/./b//../ride.gpx", "a/b/ride.gpx"),
        (".hidden", "hidden"),
        ("ride.gpx. ", "ride.gpx"),
        ("nul.gpx", "_nul.gpx"),
        ("COM1", "_COM1"),
        ("ri\x00de\n.gpx", "ri_de_.gpx"),
        ("ride\u202exgp.gpx", "ride_xgp.gpx"),
        ('<img src=x>"|?*.gpx', "_img src=x_____.gpx"),
        ("\udcff.gpx", "_.gpx"),
        ("..", ""),
        ("/", ""),
        ("", ""),
        ("x" * 400 + ".gpx", "x" * 116 + ".gpx"),
    ],
)
def test_safe_name(name, safe):
    assert _safe_name(name) == safe


@given(st.text(st.characters(codec=None), max_size=400))
def test_no_name_leaves_the_folder(name):
    safe = _safe_name(name)
    parts = safe.split("/") if safe else []
    assert len(parts) <= 3
    for part in parts:
        assert part not in ("", ".", "..")
        assert not set('\\<>:"|?*') & set(part)
        assert part.isprintable()
        assert len(part.encode()) <= 121  # ext4, APFS and NTFS take 255
    assert _safe_name(safe) == safe


def test_folders_are_kept_and_nothing_escapes(client):
    for name in [
        "Alder/ride.gpx",
        "../../../escaped.gpx",
        "/tmp/escaped.gpx",
        "Birch/../../up.gpx",
        "%2e%2e/%2e%2e/coded.gpx",
    ]:
        assert client.put(name, b"x").status == 201
    assert client.kept() == [
        "traces/%2e%2e/%2e%2e/coded.gpx",
        "traces/Alder/ride.gpx",
        "traces/Birch/up.gpx",
        "traces/escaped.gpx",
        "traces/tmp/escaped.gpx",
    ]
    assert sorted(path.name for path in client.folder.parent.iterdir()) == [client.folder.name]


def test_same_file_is_kept_once_and_another_gets_a_number(client):
    names = [
        client.put(name, body).json()["name"]
        for name, body in [("r.gpx", b"1"), ("r.gpx", b"1"), ("R.gpx", b"2"), ("r.gpx", b"3")]
    ]
    assert names == ["r.gpx", "r.gpx", "R (2).gpx", "r (3).gpx"]
    assert client.ask("GET", "/state").json()["files"] == 3
    assert client.ask("GET", "/state").json()["bytes"] == 3


def test_name_that_is_nothing_or_collides_is_refused_in_words(client):
    assert client.put("..", b"x").status == 400
    assert client.ask("PUT", "/files", b"x").status == 400
    assert client.put("Alder", b"x").status == 201
    answer = client.put("Alder/ride.gpx", b"x")
    assert answer.status == 507
    assert "could not be kept" in answer.json()["error"]
    assert client.kept() == ["traces/Alder"]


def test_file_that_declares_too_much_is_refused_before_it_is_sent(start):
    client = start(SMALL)
    answer = client.put("big.gpx", None, Content_Length="1001")
    assert answer.status == 413
    assert "big.gpx: larger than" in answer.json()["error"]
    assert client.kept() == []


def send_chunked(client, name, chunks):
    """Send without a length, as long as the server listens; return the status."""
    port = int(client.authority.partition(":")[2])
    head = (
        f"PUT {client.home}files?name={name} HTTP/1.1\r\nHost: {client.authority}\r\nOrigin: http://{client.authority}\r\n"
        f"Cookie: {client.cookie}\r\nTransfer-Encoding: chunked\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", port), 10) as raw:
        raw.sendall(head.encode())
        try:
            for chunk in chunks:
                raw.sendall(f"{len(chunk):x}\r\n".encode() + chunk + b"\r\n")
                time.sleep(0.01)
            raw.sendall(b"0\r\n\r\n")
        except (BrokenPipeError, ConnectionResetError):
            pass
        return int(raw.recv(100).split()[1])


def test_file_that_hides_its_length_is_cut_off_while_it_streams(start):
    client = start(SMALL)
    assert send_chunked(client, "endless.gpx", [b"x" * 100] * 10) == 201
    sent = []

    def endless():
        while len(sent) < 10_000:
            sent.append(1)
            yield b"x" * 100

    assert send_chunked(client, "more.gpx", endless()) == 413
    assert len(sent) < 1000
    assert client.kept() == ["traces/endless.gpx"]


@pytest.mark.parametrize(
    "chunk", [b"xyz\r\n", b"-5\r\nhello\r\n", b"5\r\nhelloworld\r\n", b"fffffffffffffffffffff\r\n"]
)
def test_broken_chunk_costs_that_file_alone(client, capfd, chunk):
    """Chunk sizes are hexadecimal and end with the line (RFC 9112, section 7.1)."""
    port = int(client.authority.partition(":")[2])
    head = (
        f"PUT {client.home}files?name=broken.gpx HTTP/1.1\r\nHost: {client.authority}\r\n"
        f"Origin: http://{client.authority}\r\nCookie: {client.cookie}\r\nTransfer-Encoding: chunked\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", port), 10) as raw:
        raw.sendall(head.encode() + b"4\r\ngood\r\n" + chunk)
        assert raw.recv(100).split()[1] == b"400"
    assert client.ask("GET", "/state").json()["files"] == 0
    assert client.kept() == []
    assert "Traceback" not in capfd.readouterr().err


def test_total_and_number_are_limited(start):
    client = start(SMALL)
    assert client.put("1.gpx", b"x" * 1000).status == 201
    assert client.put("2.gpx", b"x" * 999 + b"y").status == 201
    refused = client.put("3.gpx", b"x" * 501)
    assert refused.status == 413
    assert "a session takes" in refused.json()["error"]
    assert client.put("3.gpx", b"x" * 500).status == 201
    assert client.put("4.gpx", b"").status == 413
    assert len(client.kept()) == 3
    assert client.ask("DELETE", "/files?name=1.gpx").status == 204
    assert client.put("4.gpx", b"x" * 1000).status == 201


def test_sender_that_leaves_leaves_nothing(client):
    port = int(client.authority.partition(":")[2])
    head = (
        f"PUT {client.home}files?name=half.gpx HTTP/1.1\r\nHost: {client.authority}\r\nOrigin: http://{client.authority}\r\n"
        f"Cookie: {client.cookie}\r\nContent-Length: 100000\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", port), 10) as raw:
        raw.sendall(head.encode() + b"x" * 5000)
        while not client.kept():
            time.sleep(0.02)
    for _ in range(100):
        if not client.kept():
            break
        time.sleep(0.05)
    assert client.kept() == []
    assert client.ask("GET", "/state").json()["bytes"] == 0
    assert client.ask("POST", "/read").status == 409


def test_limits_hold_for_files_that_arrive_at_once(tmp_path):
    store = Store(tmp_path / "traces", Limits(file_bytes=100, total_bytes=150, files=9))

    async def slow(size):
        for _ in range(size):
            await asyncio.sleep(0)
            yield b"x"

    async def both():
        return await asyncio.gather(
            *(store.receive(f"{i}.gpx", 0, slow(100)) for i in range(2)), return_exceptions=True
        )

    with ThreadPoolExecutor(1) as pool:  # a loop of its own, whatever runs in this thread
        found = pool.submit(asyncio.run, both()).result()
    assert sum(isinstance(one, DropRefused) for one in found) >= 1
    assert sum(file.size for file in store.files) <= 150
    assert not store.arriving
    assert len(list(tmp_path.rglob("arriving-*"))) == 0
