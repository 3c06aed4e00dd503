"""Wild requests to a drop page that is at work: none may hang it, make it fall over or speak of its insides.

Long: from ``tests``, ``python -m fuzz.wild_requests 4000 7`` (how many, seed), prints what was seen.
"""

from __future__ import annotations

import random
import re
import socket
import subprocess
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

from records import PAYLOADS
from web_client import Client, drop_command

PATHS = (
    "", "state", "files", "read", "table", "correction", "undo", "zone", "run", "share", "cancel", "result",
    "result/report.html", "result/../../etc/passwd", "result/%2e%2e/%2e%2e/result.json", "page/drop.js", "page/..",
    "files?name=", "files?name=a.gpx", "files?name=%00.gpx", "files?name=" + "x" * 9000, "?token=no", "%ff", "//", "*",
)  # fmt: skip
METHODS = (
    *("GET", "POST") * 6,
    *("PUT", "DELETE") * 2,
    *["HEAD", "PATCH", "OPTIONS", "TRACE", "CONNECT", "get", "BREW", "\x00"],
)
BODIES = (
    b"", b"{}", b"[]", b"null", b'{"rows": 7}', b'{"rows": [{"file": {}}]}', b'{"a":' * 3000, b"\xff\xfe\x00", b"x" * 70_000,
    b'{"zone": "no/where"}', b'{"number": 1e999}', b"NaN", *[f'{{"receiver": "{p}"}}'.encode() for p in PAYLOADS],
)  # fmt: skip
FRAMINGS = (
    *["length"] * 12,
    "too long",
    "too short",
    "negative",
    "words",
    "chunks",
    "broken chunk",
    "both",
    "none",
)
VERSIONS = (*["HTTP/1.1"] * 40, "HTTP/0.9", "x")
ANSWER_S = 30.0


def request(draw: random.Random, client: Client) -> bytes:
    """Return the bytes of one request, drawn at random; most carry the cookie, so that they come inside."""
    body = draw.choice(BODIES)
    home = client.home if draw.random() < 0.9 else draw.choice(("/", "", "/other/", "http://127.0.0.1/"))
    lines = [f"{draw.choice(METHODS)} {home}{draw.choice(PATHS)} {draw.choice(VERSIONS)}"]
    if draw.random() < 0.95:
        lines.append(f"Host: {client.authority if draw.random() < 0.9 else 'evil.example'}")
    if draw.random() < 0.85:
        lines.append(f"Cookie: {client.cookie}")
    if draw.random() < 0.85:
        lines.append(f"Origin: http://{client.authority}")
    if draw.random() < 0.1:
        lines.append(
            draw.choice(("X: " + "y" * 70_000, "X" * 500, ": z", "Expect: 100-continue", "Range: bytes=9-1"))
        )
    framing = draw.choice(FRAMINGS)
    length = {"length": len(body), "too long": len(body) + 50, "too short": len(body) // 2, "negative": -5}
    if framing in length:
        lines.append(f"Content-Length: {length[framing]}")
    if framing == "words":
        lines.append("Content-Length: some")
    if framing in ("chunks", "broken chunk", "both"):
        lines.append("Transfer-Encoding: chunked")
        lines += ["Content-Length: 3"] if framing == "both" else []
        mark = b"zz" if framing == "broken chunk" else f"{len(body):x}".encode()
        body = (mark + b"\r\n" + body + b"\r\n" if body else b"") + b"0\r\n\r\n"
    return "\r\n".join([*lines, "", ""]).encode("latin-1") + body


def answered(client: Client, data: bytes, leave: bool) -> str:
    """Send a request, end what is sent, and return the status of the answer, or why there is none."""
    with socket.create_connection(
        ("127.0.0.1", int(client.authority.split(":")[1])), timeout=ANSWER_S
    ) as line:
        try:
            line.sendall(data)
            if leave:
                return "left"
            line.shutdown(socket.SHUT_WR)
            said = line.recv(200)
        except TimeoutError:
            return "silent"
        except OSError:
            return "closed"
    found = re.match(rb"HTTP/1\.[01] (\d{3})", said)
    return found[1].decode() if found else "closed" if not said else "odd"


def run(client: Client, count: int, seed: int) -> Counter[str]:
    """Send ``count`` requests, eight at a time, and count the answers."""
    draw = random.Random(seed)
    sent = [(request(draw, client), draw.random() < 0.05) for _ in range(count)]
    with ThreadPoolExecutor(8) as pool:
        return Counter(pool.map(lambda one: answered(client, *one), sent))


def started() -> tuple[subprocess.Popen[str], Client]:
    """Start the command, and return it with a client that has opened its page."""
    process, address = drop_command()
    assert address
    client = Client(SimpleNamespace(address=address), None)  # type: ignore[arg-type]
    client.open()
    return process, client


def ended(process: subprocess.Popen[str], client: Client) -> tuple[int, str]:
    """End the session as the page does; return its code and what it said on standard error."""
    client.ask("POST", "/end", b"")
    _, said = process.communicate(timeout=30)
    return process.returncode, said


def main() -> None:
    """Run and print."""
    count, seed = int(sys.argv[1]), int(sys.argv[2])
    process, client = started()
    began = time.monotonic()
    counts = run(client, count, seed)
    alive = client.ask("GET", "/state").status
    code, said = ended(process, client)
    print(f"seed {seed}: {count} requests in {time.monotonic() - began:.0f} s, {dict(sorted(counts.items()))}; "
          f"then {alive}, exit code {code}, {said!r}")  # fmt: skip


if __name__ == "__main__":
    main()
