"""A real drop server in a thread, and its client."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from trackspread.web.server import DropServer
from trackspread.web.store import Limits
from web_client import Client


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Client]]:
    """Return a function that starts a server and gives its client."""
    running = []

    def begin(limits: Limits = Limits(), opened: bool = True) -> Client:  # noqa: B008
        folder = tmp_path / f"session-{len(running)}"
        folder.mkdir(mode=0o700)
        server = DropServer(folder, limits)
        thread = threading.Thread(target=server.run)
        thread.start()
        running.append((server, thread))
        client = Client(server, folder)
        if opened:
            client.open()
        return client

    yield begin
    for server, thread in running:
        server.stop()
        thread.join(20)
        assert not thread.is_alive()


@pytest.fixture
def client(start: Callable[..., Client]) -> Client:
    """Return a client that has opened the page."""
    return start()
