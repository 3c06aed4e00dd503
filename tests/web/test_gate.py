"""Every guard is attacked over HTTP on loopback: rebinding, cross-site requests, stolen and guessed tokens.

Rules from outside: RFC 6454 (origin), RFC 6265bis (SameSite, HttpOnly), W3C Fetch Metadata Request Headers,
W3C Content Security Policy Level 3, RFC 9111 (no-store).
"""

from __future__ import annotations

import http.client
import http.cookiejar
import re
import socket
import urllib.request

import pytest

from trackspread.web.app import make_app

READING = (
    "/",
    "/state",
    "/table",
    "/result",
    "/result/report.html",
    "/page/drop.js",
    "/page/drop.css",
    "/none",
)
DOING = (
    ("POST", "/read"),
    ("POST", "/run"),
    ("POST", "/share"),
    ("POST", "/cancel"),
    ("POST", "/correction"),
    ("POST", "/undo"),
    ("POST", "/zone"),
    ("POST", "/end"),
)
CHANGING = (*DOING, ("PUT", "/files?name=a.gpx"), ("DELETE", "/files"))


def test_lists_above_name_every_address(client):
    routes = {route.path for route in make_app(client.server, client.server.stop).routes}
    named = {path.partition("?")[0] for path in (*READING, *(path for _, path in CHANGING))}
    assert {re.sub(r"\{name.*", "", path) for path in routes} <= {
        re.sub(r"[^/]*\.\w+$", "", p) for p in named
    } | named


@pytest.mark.parametrize(
    "host",
    [
        "traces.example",
        "traces.example:{port}",
        "localhost:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "127.0.0.1:{port}.traces.example",
        "127.0.0.1:{port}@traces.example",
        "127.1:{port}",
        "2130706433:{port}",
        "[::1]:{port}",
        "",
    ],
)
def test_foreign_host_is_refused(client, host):
    port = client.authority.partition(":")[2]
    for method, path in [("GET", "/"), ("GET", f"/?token={client.token}"), ("POST", "/end")]:
        answer = client.ask(method, path, Host=host.format(port=port))
        assert answer.status == 403, (method, path)
        assert "Set-Cookie" not in answer.headers
    assert client.ask("GET", "/state").status == 200


def test_second_host_is_refused(client):
    hosts = f"Host: {client.authority}\r\nHost: traces.example\r\n"
    request = f"GET {client.home}state HTTP/1.1\r\n{hosts}Cookie: {client.cookie}\r\n\r\n"
    with socket.create_connection(("127.0.0.1", int(client.authority.partition(":")[2])), 10) as raw:
        raw.sendall(request.encode())
        assert raw.recv(100).split()[1] in (b"400", b"403")


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",
        "http://traces.example",
        "http://localhost:{port}",
        "http://127.0.0.1:1",
        "https://{here}",
        "",
    ],
)
@pytest.mark.parametrize(("method", "path"), CHANGING)
def test_other_origin_changes_nothing(client, origin, method, path):
    port = client.authority.partition(":")[2]
    sent = origin if origin is None else origin.format(port=port, here=client.authority)
    assert client.ask(method, path, b"{}", Origin=sent).status == 403
    assert client.ask("GET", "/state").json()["files"] == 0
    assert client.kept() == []


def test_other_origin_reads_nothing(client):
    for path in READING:
        answer = client.ask("GET", path, Origin="http://traces.example")
        assert answer.status == 403
        assert "Access-Control-Allow-Origin" not in answer.headers


def test_preflight_gets_no_leave(client):
    answer = client.ask(
        "OPTIONS", "/files", Origin="http://traces.example", Access_Control_Request_Method="PUT"
    )
    assert answer.status == 403
    assert not [name for name in answer.headers if name.lower().startswith("access-control")]


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_fetch_metadata_of_another_site_is_refused(client, site):
    for path in READING:
        assert client.ask("GET", path, Sec_Fetch_Site=site).status == 403
    assert client.ask("POST", "/end", Sec_Fetch_Site=site).status == 403
    assert client.ask("GET", "/", Sec_Fetch_Site="none").status == 200
    assert client.ask("GET", "/state", Sec_Fetch_Site="same-origin").status == 200


@pytest.mark.parametrize(
    "cookie", ["", "trackspread_{port}=", "trackspread_{port}=x", "trackspread_{port}={token}", "{cut}"]
)
def test_without_the_cookie_there_is_nothing(start, cookie):
    client = start()
    port = client.authority.partition(":")[2]
    false = cookie.format(port=port, token=client.token, cut=client.cookie[:-1])
    for path in READING:
        assert client.ask("GET", path, Cookie=false or None).status == 403
    for method, path in CHANGING:
        assert client.ask(method, path, b"{}", Cookie=false or None).status == 403
    assert client.kept() == []
    assert client.ask("GET", "/state").status == 200


def test_token_opens_once(start):
    client = start(opened=False)
    assert client.ask("GET", "/?token=wrong").status == 403
    assert client.ask("GET", f"/state?token={client.token}").status == 403
    first = client.ask("GET", f"/?token={client.token}")
    assert first.status == 303
    assert first.headers["Location"] == client.home
    again = client.ask("GET", f"/?token={client.token}")
    assert again.status == 403
    assert b"opens once" in again.body
    client.cookie = first.headers["Set-Cookie"].split(";")[0]
    assert client.ask("GET", f"/?token={client.token}").status == 303


def test_head_spends_nothing(start):
    """HEAD is safe: it changes nothing and gives nothing (RFC 9110, section 9.2.1)."""
    client = start(opened=False)
    for _ in range(2):
        head = client.ask("HEAD", f"/?token={client.token}")
        assert head.status == 303
        assert "Set-Cookie" not in head.headers
    assert client.ask("HEAD", "/?token=wrong").status == 403
    client.open()
    assert client.ask("GET", "/state").status == 200


def test_cookie_goes_to_no_other_port_and_no_other_path(start):
    """By Python's own cookie jar (RFC 6265 rules): cookies know no ports, hence a path of each session's own."""
    client, other = start(opened=False), start()
    jar = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
    assert opener.open(client.server.address).status == 200
    assert len(jar) == 1

    def sent(address):
        request = urllib.request.Request(address)
        jar.add_cookie_header(request)
        return request.get_header("Cookie")

    assert sent(f"http://{client.authority}{client.home}state")
    for authority, path in [(other.authority, other.home), (other.authority, "/"), (client.authority, "/")]:
        assert sent(f"http://{authority}{path}") is None
    for path in ("", "state", "page/drop.js"):
        raw = http.client.HTTPConnection(client.authority, timeout=20)
        raw.request("GET", f"/{path}", headers={"Cookie": next(f"{c.name}={c.value}" for c in jar)})
        assert raw.getresponse().status == 403
        raw.close()


def test_token_and_cookie_are_long_secret_and_strict(start):
    client = start(opened=False)
    other = start(opened=False)
    set_cookie = client.ask("GET", f"/?token={client.token}").headers["Set-Cookie"]
    value = set_cookie.partition("=")[2].partition(";")[0]
    attributes = {part.strip().lower() for part in set_cookie.split(";")[1:]}
    assert {"httponly", "samesite=strict", f"path={client.home.lower()}"} <= attributes
    assert len({client.token, other.token, value}) == 3
    assert min(len(client.token), len(value)) >= 43  # 256 bits in base64 (RFC 4648), 6 bits a letter


def test_every_answer_is_neither_stored_sniffed_nor_framed(client):
    answers = [client.ask("GET", path) for path in READING]
    answers += [
        client.ask("POST", "/read"),
        client.ask("GET", "/", Host="traces.example"),
        client.ask("GET", "/", Cookie=None),
    ]
    for answer in answers:
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]
        assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert answer.headers["Referrer-Policy"] == "same-origin"
        assert "server" not in answer.headers


def test_only_loopback_listens(client):
    port = int(client.authority.partition(":")[2])
    assert client.authority.startswith("127.0.0.1:")
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.2", port), 5)
