"""A plain HTTP client of a drop server that can be as rude as an attacker."""

from __future__ import annotations

import http.client
import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import quote

DEMO = Path(__file__).parents[1] / "demo_routes"


@dataclass
class Answer:
    status: int
    headers: http.client.HTTPMessage
    body: bytes

    def json(self) -> Any:
        return json.loads(self.body)


def drop_command(*arguments: str, env: Mapping[str, str] | None = None) -> tuple[subprocess.Popen[str], str]:
    """Start ``trackspread drop``; return it with the address of its page, ``""`` where it gave none."""
    process = subprocess.Popen(
        [sys.executable, "-m", "trackspread", "drop", "--no-browser", *arguments],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env,
    )  # fmt: skip
    assert process.stdout is not None
    found = re.search(r"http://127\.0\.0\.1:\d+/\S*\?token=\S+", process.stdout.readline())
    return process, found[0] if found else ""


@dataclass
class Client:
    """Speaks to the server at ``server.address``; a header given as ``None`` is left out."""

    server: Any
    folder: Path
    cookie: str = ""

    @property
    def authority(self) -> str:
        return self.server.address.split("/")[2]

    @property
    def token(self) -> str:
        return self.server.address.partition("token=")[2]

    @property
    def home(self) -> str:
        """The path below which the session lies; every path of a request is counted from there."""
        return self.server.address.partition(self.authority)[2].partition("?")[0]

    def ask(self, method: str, path: str, body: Any = None, **headers: str | None) -> Answer:
        if isinstance(body, dict):
            body = json.dumps(body).encode()
        given: dict[str, str | None] = {"Host": self.authority, "Cookie": self.cookie or None}
        if method not in ("GET", "HEAD"):
            given["Origin"] = f"http://{self.authority}"
        given |= {name.replace("_", "-"): value for name, value in headers.items()}
        connection = http.client.HTTPConnection(self.authority, timeout=20)
        try:
            connection.putrequest(
                method, self.home + path.removeprefix("/"), skip_host=True, skip_accept_encoding=True
            )
            if body is not None and "Content-Length" not in given:
                given["Content-Length"] = str(len(body))
            for name, value in given.items():
                if value is not None:
                    connection.putheader(name, value)
            connection.endheaders(body)
            answer = connection.getresponse()
            return Answer(answer.status, answer.headers, answer.read())
        finally:
            connection.close()

    def open(self) -> None:
        """Exchange the token for the cookie, as a browser does."""
        answer = self.ask("GET", f"/?token={self.token}")
        assert answer.status == 303
        self.cookie = answer.headers["Set-Cookie"].split(";")[0]

    def put(self, name: str, body: bytes, **headers: str | None) -> Answer:
        return self.ask("PUT", f"/files?name={quote(name, safe='', errors='surrogatepass')}", body, **headers)

    def wait(self) -> dict[str, Any]:
        """Wait until the job under way has ended; return it."""
        for _ in range(1200):
            job = self.ask("GET", "/state").json()["job"]
            if job["state"] != "running":
                return job
            time.sleep(0.05)
        raise AssertionError(f"still running: {job}")

    def kept(self) -> list[str]:
        """Return all files in the session's folder."""
        return sorted(p.relative_to(self.folder).as_posix() for p in self.folder.rglob("*") if p.is_file())


@contextmanager
def drop_sessions(folder: Path) -> Iterator[Callable[..., Any]]:
    """Give a function that starts the command: its process, a client of its page, its temporary folder."""
    started = []

    def begin(*arguments: object) -> tuple[subprocess.Popen[str], Client | None, Path]:
        place = folder / "temporary"
        place.mkdir(exist_ok=True)
        process, address = drop_command(*map(str, arguments), env={**os.environ, "TMPDIR": str(place)})
        started.append(process)
        if not address:
            return process, None, place
        client = Client(SimpleNamespace(address=address), next(place.iterdir(), Path()))
        client.open()
        return process, client, place

    yield begin
    for process in started:
        if process.poll() is None:
            process.kill()
        process.communicate()


def drop_demo(client: Client, pattern: str = "*.gpx") -> None:
    for file in sorted(DEMO.glob(pattern)):
        assert client.put(f"demo/{file.name}", file.read_bytes()).status == 201


def ended(process: subprocess.Popen[str]) -> str:
    """Wait for the command to end in peace; return what it printed."""
    out, err = process.communicate(timeout=30)
    assert process.returncode == 0, err
    assert err == ""
    return out


def big(points: int = 300_000) -> bytes:
    """A recording that takes many seconds to parse."""
    body = "".join(
        f'<trkpt lat="{70 + i * 1e-6:.6f}" lon="-30.0"><ele>1.0</ele><time>2031-03-03T07:00:00Z</time></trkpt>'
        for i in range(points)
    )
    head = '<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    return f"{head}{body}</trkseg></trk></gpx>".encode()


def read_big(client: Client) -> None:
    """Begin to read it; the page is answered while it is parsed."""
    assert client.put("big.gpx", big()).status == 201
    assert client.ask("POST", "/read").status == 204
    until = time.monotonic() + 1.5
    while time.monotonic() < until:
        before = time.monotonic()
        assert client.ask("GET", "/state").json()["job"]["state"] == "running"
        assert time.monotonic() - before < 1.0
        time.sleep(0.1)
