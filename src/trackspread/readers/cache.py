"""Traces parsed before, kept by the hash of the bytes they came from.

Entries are plain numpy archives (no pickles), written beside and moved into place, so two runs at once and
a killed run do no harm; an entry that cannot be read is parsed again. The folder is the platform's
cache folder, or ``TRACKSPREAD_CACHE``; it is bounded, the entries used longest ago go first.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import tempfile
import time
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

from trackspread import __version__
from trackspread.errors import Problem
from trackspread.model import CLAIMS, Claims, Device, Finding, Trace
from trackspread.readers.recognise import parse
from trackspread.system.folders import cache_folder

LARGEST_TOTAL = 2 * 2**30  # bytes that the cache may fill
LEFT_BEHIND_S = 3600.0  # s after which a part belongs to no living run
_BROKEN = (OSError, ValueError, KeyError, TypeError, AttributeError, EOFError, zipfile.BadZipFile, zlib.error)
LAYOUT = "6"
ARRAYS = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")
WORDS = (
    "format", "part", "name", "start_s", "receiver", "ride", "points_set_aside", "start_from", "start_reason",
)  # fmt: skip


def folder() -> Path:
    """Return the folder of the cache; one that cannot be where this user has no place for it.

    Returns
    -------
    Path
    """
    return cache_folder() or Path(os.devnull) / "trackspread"


def cached_parse(file: str, data: bytes, asked: bool) -> tuple[list[Trace], list[Problem]]:
    """Return what `recognise.parse` returns, from the cache where it was parsed before without problems.

    Parameters
    ----------
    file : str
        The file as the user named it.
    data : bytes
        What it holds.
    asked : bool
        Whether the user named this file, and not its folder.

    Returns
    -------
    traces : list of Trace
    problems : list of Problem
    """
    kind = "".join(Path(file.lower()).suffixes[-2:])
    key = hashlib.sha256(f"{LAYOUT} {__version__} {kind}\0".encode() + data).hexdigest()
    entry = folder() / f"{key}.npz"
    with suppress(*_BROKEN):
        return _loaded(entry, file), []
    traces, problems = parse(file, data, asked)
    if traces and not problems:
        with suppress(OSError):
            _store(entry, traces)
    return traces, problems


def _loaded(entry: Path, file: str) -> list[Trace]:
    with np.load(io.BytesIO(entry.read_bytes()), allow_pickle=False) as stored:
        words = json.loads(str(stored["words"]))
        arrays = [{name: stored[f"{name}_{k}"] for name in ARRAYS + CLAIMS} for k in range(len(words))]
    with suppress(OSError):
        os.utime(entry)
    return [_trace(file, known, columns) for known, columns in zip(words, arrays, strict=True)]


def _trace(file: str, known: dict[str, Any], columns: dict[str, Any]) -> Trace:
    findings = tuple(Finding(**finding) for finding in known.pop("findings"))
    device = Device(**known.pop("device"))
    claims = Claims(**{name: columns.pop(name) for name in CLAIMS})
    trace = Trace(file=file, findings=findings, **columns, format=known.pop("format"))
    return replace(trace, device=device, claims=claims, **known)


def _store(entry: Path, traces: list[Trace]) -> None:
    words = [
        {name: getattr(trace, name) for name in WORDS}
        | {"findings": [asdict(f) for f in trace.findings], "device": asdict(trace.device)}
        for trace in traces
    ]
    arrays = {f"{name}_{k}": getattr(trace, name) for k, trace in enumerate(traces) for name in ARRAYS}
    arrays |= {
        f"{name}_{k}": getattr(trace.claims, name) for k, trace in enumerate(traces) for name in CLAIMS
    }
    entry.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, part = tempfile.mkstemp(dir=entry.parent, suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            np.savez(stream, words=np.array(json.dumps(words)), **arrays)
        os.replace(part, entry)
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
