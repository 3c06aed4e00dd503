"""Opens the drop page on a free port of this machine, and ends it so that nothing is left behind."""

from __future__ import annotations

import contextlib
import secrets
import signal
import socket
import sys
import tempfile
import threading
import webbrowser
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

import h11
import uvicorn
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

from trackspread.errors import FolderRefused, printable
from trackspread.system.placing import SCRATCH, clear_abandoned, held
from trackspread.web.app import make_app
from trackspread.web.gate import Guard
from trackspread.web.session import Session
from trackspread.web.store import Limits

SESSION = "trackspread-drop"
"""How folders of sessions are named; a session holds the lock of its own for as long as it lives."""
_LOOPBACK = "127.0.0.1"
_GRACE_S = 2  # s for requests under way
_STOP_S = 10.0  # s until the server has stopped


class _Protocol(H11Protocol):
    """One connection; it ends, without a word, where what comes is no HTTP and the answer is under way."""

    def data_received(self, data: bytes) -> None:
        """Take in what came."""
        try:
            super().data_received(data)
        except h11.ProtocolError:
            self.transport.close()


def _patient(app: ASGIApp) -> ASGIApp:
    """Return an application that speaks no more to whom the protocol has already told off.

    The server's own log is silent (it tells what clients did wrong); a failure of ours is told in one line.
    """

    async def answered(scope: Scope, receive: Receive, send: Send) -> None:
        told_off = False

        async def sent(message: Message) -> None:
            nonlocal told_off
            if told_off:
                return
            try:
                await send(message)
            except h11.LocalProtocolError:
                told_off = True

        try:
            await app(scope, receive, sent)
        except ClientDisconnect:
            return
        except Exception as error:
            print(f"trackspread: the drop page failed: {printable(repr(error), 300)}", file=sys.stderr)
            raise

    return answered


class DropServer:
    """One session: its folder, its address, and the server that speaks for it.

    Parameters
    ----------
    folder : Path
        Private and empty; everything of the session stays below it.
    limits : Limits
        How much is taken.
    kept : bool
        Whether the folder stays; the page says so.

    Attributes
    ----------
    address : str
        What to open, the token included; it opens once.
    """

    def __init__(self, folder: Path, limits: Limits, *, kept: bool = False) -> None:
        self._listener = socket.create_server((_LOOPBACK, 0))
        authority = f"{_LOOPBACK}:{self._listener.getsockname()[1]}"
        token = secrets.token_urlsafe(32)
        self._session = Session(folder, limits, kept=kept)
        app = Guard(make_app(self._session, self.stop), authority=authority, token=token)
        self.address = f"http://{authority}{app.home}?token={token}"
        self._server = uvicorn.Server(
            uvicorn.Config(
                _patient(app),
                http=_Protocol,
                ws="none",
                lifespan="off",
                log_config=None,
                log_level="critical",
                access_log=False,
                proxy_headers=False,
                server_header=False,
                timeout_graceful_shutdown=_GRACE_S,
            )
        )

    def run(self) -> None:
        """Serve until stopped, then stop the work under way."""
        try:
            self._server.run(sockets=[self._listener])
        finally:
            self._listener.close()
            self._session.close(_STOP_S)

    def stop(self) -> None:
        """End the session soon; fit to be called from anywhere."""
        self._server.should_exit = True


def serve(say: Callable[[str], None], *, keep: Path | None = None, open_browser: bool = True) -> None:
    """Run one session until it is ended on the page, by Ctrl-C or by a signal.

    Parameters
    ----------
    say : callable
        Tells the user a line.
    keep : Path, optional
        A new or empty folder in which everything stays; without it all is deleted at the end.
    open_browser : bool
        Open the page in the user's browser.

    Raises
    ------
    FolderRefused
        ``keep`` is no folder, or not empty.
    """
    with _signals_end() as endings, _session_folder(keep) as folder:
        server = DropServer(folder, Limits(), kept=keep is not None)
        endings.append(server.stop)
        say(f"The drop page is at {server.address}")
        say("The address opens once, on this machine only. Ctrl-C ends the session.")
        if open_browser:
            threading.Thread(target=webbrowser.open, args=(server.address,), daemon=True).start()
        server.run()
    say(f"Ended. Everything is in {folder}." if keep else "Ended. Everything was deleted.")


@contextlib.contextmanager
def _session_folder(keep: Path | None) -> Iterator[Path]:
    """Give the folder of a session; clear what dead sessions left, and nothing of living ones."""
    if keep is None:
        here = Path(tempfile.gettempdir())
        clear_abandoned(here, SCRATCH)
        with held(here, SESSION, mode=0o700) as folder:
            yield folder
        return
    if keep.exists() and (not keep.is_dir() or any(keep.iterdir())):
        raise FolderRefused(f"{keep}: a new or an empty folder is needed to keep a session in")
    keep.mkdir(mode=0o700, parents=True, exist_ok=True)
    yield keep.resolve()


@contextlib.contextmanager
def _signals_end() -> Iterator[list[Callable[[], None]]]:
    """Let every signal that asks a program to end call what is in the list, once, instead of killing it.

    The server takes SIGINT and SIGTERM while it runs and raises them again afterwards; they land here.
    """
    endings: list[Callable[[], None]] = []

    def end(number: int, frame: FrameType | None) -> None:
        if not endings:
            raise KeyboardInterrupt
        for ending in endings:
            ending()

    asked = [signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]
    before = {number: signal.signal(number, end) for number in asked}
    try:
        yield endings
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
