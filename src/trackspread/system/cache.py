"""What took long to make, kept by a key in the platform's cache folder, or in ``TRACKSPREAD_CACHE``.

Entries are plain numpy archives with checksums (no pickles), written beside and moved into place, so two runs
at once and a killed run do no harm; what cannot be read is made again. The folder belongs to the user alone
and is bounded: the entries used longest ago go first.
"""

from __future__ import annotations

import io
import os
import tempfile
import time
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np

from trackspread.system.folders import cache_folder

LARGEST_TOTAL = 2 * 2**30  # bytes that the cache may fill
LEFT_BEHIND_S = 3600.0  # s after which a part belongs to no living run
BROKEN = (
    OSError, ValueError, LookupError, TypeError, AttributeError, EOFError, zipfile.BadZipFile, zlib.error,
    RecursionError,
)  # fmt: skip
"""What reading an entry may raise that is missing or holds anything else."""

Arrays = Mapping[str, np.ndarray[Any, Any]]


def folder() -> Path:
    """Return the folder of the cache; one that cannot be where this user has no place for it.

    Returns
    -------
    Path
    """
    return cache_folder() or Path(os.devnull) / "trackspread"


def load(key: str) -> Arrays:
    """Return the arrays kept by a key.

    Parameters
    ----------
    key : str
        Hexadecimal digits.

    Returns
    -------
    mapping of str to ndarray

    Raises
    ------
    OSError, ValueError, …
        One of `BROKEN`: there is no such entry, or it cannot be read.
    """
    entry = folder() / f"{key}.npz"
    with np.load(io.BytesIO(entry.read_bytes()), allow_pickle=False) as stored:
        arrays = {name: stored[name] for name in stored.files}
    with suppress(OSError):
        os.utime(entry)
    return arrays


def store(key: str, arrays: Arrays) -> None:
    """Keep arrays by a key; where that cannot be, nothing is kept.

    Parameters
    ----------
    key : str
        Hexadecimal digits.
    arrays : mapping of str to ndarray
    """
    with suppress(OSError):
        folder().mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, part = tempfile.mkstemp(dir=folder(), suffix=".part")
        try:
            with os.fdopen(handle, "wb") as stream:
                np.savez(stream, allow_pickle=False, **arrays)
            os.replace(part, folder() / f"{key}.npz")
        except BaseException:
            with suppress(OSError):
                os.unlink(part)
            raise


def entries() -> list[tuple[Path, int, float]]:
    """Return path, bytes and last use of every entry, the one used longest ago first.

    Returns
    -------
    list of (Path, int, float)
    """
    return sorted(_stated(), key=lambda entry: entry[2])


def _stated() -> Iterator[tuple[Path, int, float]]:
    with suppress(OSError):
        for path in folder().iterdir():
            with suppress(OSError):
                if path.suffix in (".npz", ".part"):
                    status = path.stat()
                    yield path, status.st_size, status.st_mtime


def trim(largest: int = LARGEST_TOTAL) -> int:
    """Delete the entries used longest ago until ``largest`` bytes are left; return how many went.

    What a killed run left half-written goes after an hour.

    Parameters
    ----------
    largest : int
        Bytes that may stay.

    Returns
    -------
    int
    """
    known = entries()
    total, gone = sum(size for _, size, _ in known), 0
    for path, size, used_s in known:
        left_behind = path.suffix == ".part" and time.time() - used_s > LEFT_BEHIND_S
        if total <= largest and not left_behind:
            continue
        with suppress(OSError):
            path.unlink()
            total, gone = total - size, gone + 1
    return gone
