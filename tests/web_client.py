"""A plain HTTP client of a drop server that can be as rude as an attacker."""

from __future__ import annotations

import http.client
import json
import re
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote


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
