"""Traces parsed before, kept in `system.cache` by the hash of the bytes that they came from."""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

from trackspread import __version__
from trackspread.errors import Problem
from trackspread.model import CLAIMS, Claims, Device, Finding, Trace
from trackspread.readers.recognise import parse
from trackspread.system.cache import BROKEN, load, store

LAYOUT = "6"
ARRAYS = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")
WORDS = (
    "format", "part", "name", "start_s", "receiver", "ride", "points_set_aside", "start_from", "start_reason",
)  # fmt: skip


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
    with suppress(*BROKEN):
        return _loaded(key, file), []
    traces, problems = parse(file, data, asked)
    if traces and not problems:
        _store(key, traces)
    return traces, problems


def _loaded(key: str, file: str) -> list[Trace]:
    stored = load(key)
    words = json.loads(str(stored["words"]))
    arrays = [{name: stored[f"{name}_{k}"] for name in ARRAYS + CLAIMS} for k in range(len(words))]
    return [_trace(file, known, columns) for known, columns in zip(words, arrays, strict=True)]


def _trace(file: str, known: dict[str, Any], columns: dict[str, Any]) -> Trace:
    findings = tuple(Finding(**finding) for finding in known.pop("findings"))
    device = Device(**known.pop("device"))
    claims = Claims(**{name: columns.pop(name) for name in CLAIMS})
    trace = Trace(file=file, findings=findings, **columns, format=known.pop("format"))
    return replace(trace, device=device, claims=claims, **known)


def _store(key: str, traces: list[Trace]) -> None:
    words = [
        {name: getattr(trace, name) for name in WORDS}
        | {"findings": [asdict(f) for f in trace.findings], "device": asdict(trace.device)}
        for trace in traces
    ]
    arrays = {f"{name}_{k}": getattr(trace, name) for k, trace in enumerate(traces) for name in ARRAYS}
    arrays |= {
        f"{name}_{k}": getattr(trace.claims, name) for k, trace in enumerate(traces) for name in CLAIMS
    }
    store(key, arrays | {"words": np.array(json.dumps(words))})
