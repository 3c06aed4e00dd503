"""Steps of an analysis that were done before: their results, kept by all that they were given.

A step that is given the same, to the bit, gives the same, as long as the code is the same. Results are
records of arrays, numbers and texts. They are read back by the types of their fields: an entry names none.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

import numpy as np

import trackspread
from trackspread.geometry.crossings import Crossings
from trackspread.geometry.matching import Line
from trackspread.model import Floats, Reason
from trackspread.options import Options
from trackspread.pipeline.route import Judged, first_centreline, judge
from trackspread.pipeline.tracks import Tracks
from trackspread.system.cache import BROKEN, load, store

Result = TypeVar("Result")
Array = np.ndarray[Any, Any]
TEXT = "text"
"""Name of the array that holds all but the arrays of a result."""


def first_line(tracks: Tracks, options: Options, cache: bool) -> tuple[Line, Floats, Crossings]:
    """Return what `route.first_centreline` returns.

    Parameters
    ----------
    tracks : Tracks
        The traces on their grid, (P,) points in all.
    options : Options
        All thresholds.
    cache : bool
        Whether to look for it among what was done before, and to keep it.

    Returns
    -------
    line : Line
    station_m : ndarray, shape (P,)
    found : Crossings
    """
    given = (tracks.bundle, tracks.gap_m, tracks.ride, options.station_step_m, options.reach_m)
    work = partial(first_centreline, tracks, options)
    return remembered(tuple[Line, Floats, Crossings], given, work, cache=cache)


def judged_line(
    tracks: Tracks, line: Line, station_m: Floats, found: Crossings, options: Options, cache: bool
) -> Judged:
    """Return what `route.judge` returns; thresholds that only judge what it measures play no part.

    Parameters
    ----------
    tracks, options, cache
        As of `first_line`.
    line, station_m, found
        What that returned.

    Returns
    -------
    Judged
    """
    measuring = options.measuring()
    of_tracks = (tracks.witnesses, tracks.bundle, tracks.gap_m, tracks.ride, tracks.receiver)
    given = (of_tracks, line, station_m, found, measuring)
    work = partial(judge, tracks, line, station_m, found, measuring)
    return remembered(Judged, given, work, cache=cache, tracks=tracks)


def remembered(kind: Any, given: Any, work: Callable[[], Result], *, cache: bool, **known: Any) -> Result:
    """Return what ``work()`` returns, from the cache where it was done before with all that is given.

    Parameters
    ----------
    kind : type
        Of the result: a record, or a tuple of records and arrays.
    given : record, array, text, number, or tuple of these
        All that the work depends on.
    work : callable
        The step.
    cache : bool
        Whether to look for results, and to keep them.
    **known
        Fields of the result that are known without the work, and are not kept.

    Returns
    -------
    Result
    """
    if not cache:
        return work()
    key = _key(kind, given)
    with suppress(*BROKEN):
        arrays = load(key)
        found: Result = _read(kind, json.loads(str(arrays[TEXT])), arrays, known)
        return found
    result = work()
    parts: dict[str, Array] = {}
    text = json.dumps(_written(result, parts, known))
    store(key, parts | {TEXT: np.array(text)})
    return result


def _key(kind: Any, given: Any) -> str:
    parts: dict[str, Array] = {}
    text = json.dumps([str(kind), _code(), _written(given, parts)])
    digest = hashlib.sha256(text.encode("utf-8"))
    for array in parts.values():
        digest.update(f"{array.dtype}{array.shape}".encode())
        digest.update(np.ascontiguousarray(array).data)
    return digest.hexdigest()


@lru_cache(maxsize=1)
def _code() -> str:
    """Return what tells this code from any other: names, sizes and times of its files, version of numpy."""
    root = Path(trackspread.__file__).parent
    stated = [(str(path.relative_to(root)), os.stat(path)) for path in sorted(root.rglob("*.py"))]
    told = [np.__version__, *((name, status.st_size, status.st_mtime_ns) for name, status in stated)]
    return hashlib.sha256(repr(told).encode()).hexdigest()


def _written(value: Any, parts: dict[str, Array], known: Collection[str] = ()) -> Any:
    """Return a value as JSON tells it; its arrays go into ``parts`` and are told by their numbers."""
    if isinstance(value, np.ndarray):
        parts[f"part{len(parts)}"] = value
        return len(parts) - 1
    if is_dataclass(value):
        names = [field.name for field in fields(value) if field.name not in known]
        return {name: _written(getattr(value, name), parts) for name in names}
    if isinstance(value, tuple):
        return [_written(each, parts) for each in value]
    return value.item() if isinstance(value, np.generic) else value


def _read(kind: Any, told: Any, parts: Mapping[str, Array], known: Mapping[str, Any] | None = None) -> Any:
    """Return the value of some kind that `_written` told."""
    if get_origin(kind) is np.ndarray:
        return parts[f"part{int(told)}"]
    if kind is Any:  # of a reason: a number, a text, a reason or a tuple of these
        kind = Reason if isinstance(told, dict) else tuple[Any, ...] if isinstance(told, list) else None
    if isinstance(kind, type) and is_dataclass(kind):
        hints = get_type_hints(kind)
        return kind(**{name: _read(hints[name], each, parts) for name, each in told.items()}, **known or {})
    if get_origin(kind) is tuple:
        kinds = get_args(kind)
        kinds = kinds[:1] * len(told) if kinds[-1] is ... else kinds
        return tuple(_read(each, value, parts) for each, value in zip(kinds, told, strict=True))
    return told
