"""Locks of the system on folders and files: one is free as soon as the process that held it has gone."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

try:
    import fcntl

    def _wait(handle: IO[str]) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX)

    def taken(folder: Path) -> int | None:
        """Take the lock of a folder without waiting.

        Parameters
        ----------
        folder : Path
            A folder of this system.

        Returns
        -------
        int or None
            Number of the open folder, -1 where another process holds it, None where folders cannot be locked.
        """
        handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            return -1
        except OSError:
            os.close(handle)
            return None
        return handle

except ImportError:  # Windows
    import msvcrt

    def _wait(handle: IO[str]) -> None:
        msvcrt.locking(handle.fileno(), msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined]

    def taken(folder: Path) -> int | None:
        """Folders cannot be locked here."""
        return None


def let_go(handle: int | None) -> None:
    """Free a lock that `taken` took.

    Parameters
    ----------
    handle : int or None
        What `taken` returned; where it took none, nothing is done.
    """
    if handle is not None and handle >= 0:
        os.close(handle)


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder, a hidden file; another run that writes to the same folder waits.

    Parameters
    ----------
    folder : Path
        The folder that is written to; it need not exist.

    Yields
    ------
    None
        While the lock is held.
    """
    path = beside(folder) / f".{short_name(folder.name)}.lock"
    handle = _locked_file(path)
    try:
        yield
    finally:
        with suppress(OSError):
            path.unlink()
        handle.close()


def _locked_file(path: Path) -> IO[str]:
    """Wait for the lock of a file, which others may delete once they have held it; return the open file."""
    while True:
        handle = path.open("a")
        try:
            _wait(handle)
            with suppress(FileNotFoundError):  # the run before has deleted it
                if os.path.samestat(os.fstat(handle.fileno()), path.stat()):
                    return handle
        except BaseException:
            handle.close()
            raise
        handle.close()


def beside(folder: Path) -> Path:
    """Return where hidden folders for ``folder`` are made: its parent, or itself where that cannot be.

    Parameters
    ----------
    folder : Path
        The folder that results go to.

    Returns
    -------
    Path
    """
    inside = folder.is_dir() and (os.path.ismount(folder) or not os.access(folder.parent, os.W_OK))
    return folder if inside else folder.parent


def short_name(name: str) -> str:
    """Return so much of a name that another can be made of it (255 bytes are the most).

    Parameters
    ----------
    name : str
        Of a file or folder.

    Returns
    -------
    str
        Its first 200 bytes.
    """
    return os.fsdecode(os.fsencode(name)[:200])
