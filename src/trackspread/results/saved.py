"""Read a result.json back: every name and kind of value of the contract is checked, nothing is trusted."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from trackspread.errors import Problem, UnreadableFile, printable

SCHEMA = "trackspread.result/1"
LARGEST_BYTES = 512 * 1024 * 1024
_REMEDY = "analyse the traces again, or name another result.json"

# A kind is: a type name of _KINDS, a tuple of allowed texts, a dict (names to kinds), or a list of one kind.
Kind = str | tuple[str, ...] | dict[str, Any] | list[Any]

_SPREAD = {"value_m": "number?", "low_m": "number?", "high_m": "number?"}
_FIX = {"median": "number?", "low": "number?", "high": "number?", "n": "count"}
_VERDICT = ("steady", "wavering", "torn", "thin")
CONTRACT: Mapping[str, Any] = MappingProxyType(
    {
        "schema": (SCHEMA,),
        "tool": {"name": "text", "version": "text"},
        "settings": "object",
        "inputs": [
            {
                "file": "text",
                "format": "text",
                "points": "count",
                "points_set_aside": "count",
                "receiver": "text",
                "ride": "text",
                "route": "text",
                "status": ("used", "set aside"),
                "reason": "text",
                "findings": [{"code": "text", "count": "count", "text": "text", "first_place": "text"}],
            }
        ],
        "routes": [
            {
                "name": "text",
                "length_m": "number",
                "grid": {"proj4": "text", "scale_error_ppm": "number?"},
                "station_step_m": "number",
                "centreline": {"type": ("LineString",), "coordinates": ["position"]},
                "spread": {**_SPREAD, "p95_m": "number?"},
                "correlation_length_m": "number?",
                "traces": [
                    {
                        "file": "text",
                        "receiver": "text",
                        "ride": "text",
                        "first_fix": {
                            "value_s": "number?",
                            "source": ("declared", "file", "none"),
                            "at_station_m": "number?",
                        },
                        "settled_fix": {"value_s": "number?", "at_station_m": "number?", "censored": "truth"},
                        "spread_m": "number?",
                        "bias_m": "number?",
                        "p95_m": "number?",
                        "coverage": "number?",
                        "recorded_length_m": "number?",
                        "gaps": [{"from_m": "number", "to_m": "number", "seconds": "number?"}],
                    }
                ],
                "segments": [
                    {
                        "from_m": "number",
                        "to_m": "number",
                        "traces": "count",
                        "spread": _SPREAD,
                        "p95_m": "number?",
                        "widest_m": "number?",
                        "coverage": "number?",
                        "verdict": _VERDICT,
                        "reasons": ["text"],
                    }
                ],
                "stretches": [
                    {
                        "file": "text",
                        "receiver": "text",
                        "ride": "text",
                        "from_m": "number",
                        "to_m": "number",
                        "peak_m": "number?",
                        "mean_m": "number?",
                        "side": ("left", "right"),
                        "seconds": "number?",
                        "start_time": "text?",
                        "cause": ("line", "receiver", "settling", "after a gap", "unknown"),
                    }
                ],
                "receivers": [
                    {
                        "receiver": "text",
                        "rides": "count",
                        "spread": _SPREAD,
                        "first_fix_s": _FIX,
                        "settled_fix_s": _FIX,
                        "stretch_share": "number?",
                    }
                ],
                "pairs": [
                    {
                        "a": "text",
                        "b": "text",
                        "rides": "count",
                        "clock_offset_s": "number?",
                        "separation_m": {"median": "number?", "p95": "number?"},
                        "sd_a": _SPREAD,
                        "sd_b": _SPREAD,
                        "common_sd_m": "number?",
                        "difference": _SPREAD,
                        "told_apart": "truth",
                    }
                ],
                "film": [
                    {
                        "from_m": "number",
                        "to_m": "number",
                        "verdict": _VERDICT,
                        "why": "text",
                        "bounds": "bounds",
                    }
                ],
            }
        ],
    }
)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e15


def _is_position(value: object) -> bool:
    if not (isinstance(value, list) and len(value) >= 2 and all(map(_is_number, value))):
        return False
    return bool(abs(value[0]) <= 180 and abs(value[1]) <= 90)


def _is_bounds(value: object) -> bool:
    return isinstance(value, list) and len(value) == 4 and _is_position(value[:2]) and _is_position(value[2:])


_KINDS: Mapping[str, tuple[str, Callable[[Any], bool]]] = MappingProxyType(
    {
        "text": ("a text", lambda v: isinstance(v, str)),
        "text?": ("a text or null", lambda v: v is None or isinstance(v, str)),
        "number": ("a finite number", _is_number),
        "number?": ("a finite number or null", lambda v: v is None or _is_number(v)),
        "count": ("a whole number, 0 or more", lambda v: type(v) is int and 0 <= v < 10**15),
        "truth": ("true or false", lambda v: isinstance(v, bool)),
        "object": ("an object", lambda v: isinstance(v, dict)),
        "position": ("a position [longitude, latitude] in degrees", _is_position),
        "bounds": ("bounds [west, south, east, north] in degrees", _is_bounds),
    }
)


def load_result(path: Path | str) -> dict[str, Any]:
    """Return the document of a result.json, or of the one in a report folder, checked name by name.

    Raises `UnreadableFile` naming the place, such as ``routes[0].segments[3].verdict``. Names beyond the
    contract are kept.
    """
    path = Path(path)
    file = path / "result.json" if path.is_dir() else path
    document = _parsed(file)
    if not isinstance(document, dict):
        raise _unreadable(file, "", document, "an object is needed")
    if document.get("schema") != SCHEMA:
        raise _unreadable(file, "schema", document.get("schema"), f"schema {SCHEMA} is needed")
    _check(file, "", document, dict(CONTRACT))
    return document


def _parsed(file: Path) -> object:
    try:
        if file.stat().st_size > LARGEST_BYTES:
            raise _unreadable(file, "", None, "a result of at most 512 MiB is needed")
        return json.loads(file.read_text(encoding="utf-8"), parse_constant=_refuse)
    except OSError as error:
        raise _unreadable(file, "", None, f"cannot be read: {error.strerror or error}") from error
    except (ValueError, RecursionError) as error:
        raise _unreadable(file, "", None, f"strict JSON in UTF-8 is needed: {error}") from error


def _refuse(word: str) -> object:
    raise ValueError(f"{word} is no JSON number")


def _unreadable(file: Path, place: str, value: object, rule: str) -> UnreadableFile:
    found = "" if value is None else value if isinstance(value, str) else type(value).__name__
    return UnreadableFile(
        Problem(file=str(file), place=place, value=found, rule=printable(rule, 200), remedy=_REMEDY)
    )


def _check(file: Path, place: str, value: object, kind: Kind) -> None:
    if isinstance(kind, dict):
        if not isinstance(value, dict):
            raise _unreadable(file, place, value, "an object is needed")
        for name, inner in kind.items():
            inside = f"{place}.{name}" if place else name
            if name not in value:
                raise _unreadable(file, inside, None, "this name is missing")
            _check(file, inside, value[name], inner)
    elif isinstance(kind, list):
        if not isinstance(value, list):
            raise _unreadable(file, place, value, "a list is needed")
        for i, item in enumerate(value):
            _check(file, f"{place}[{i}]", item, kind[0])
    elif isinstance(kind, tuple):
        if value not in kind:
            raise _unreadable(file, place, value, "one of " + ", ".join(map(repr, kind)) + " is needed")
    elif not _KINDS[kind][1](value):
        raise _unreadable(file, place, value, f"{_KINDS[kind][0]} is needed")
