"""The table of fields as a JSON Schema (draft 2020-12), which docs/result.schema.json holds to the byte."""

from __future__ import annotations

import json
from collections.abc import Iterator

from trackspread.results.schema.fields import Group, Subject
from trackspread.results.schema.intervals import Interval, Median
from trackspread.results.schema.kinds import Described, Kind, Many, Maybe
from trackspread.results.schema.positions import LATITUDE, LONGITUDE
from trackspread.results.schema.route import RESULT, SCHEMA

NUMBER: Described = {"type": ["number", "null"]}
ENDS = (
    "best estimate",
    "lower end of the interval at settings.confidence; null: unknown or unbounded",
    "upper end; null: unknown or unbounded",
)
UNITS = {
    "_m": "a length in metres with its interval",
    "_s": "a duration in seconds with its interval",
    "": "a share or a ratio with its interval",
}
MEDIAN: dict[str, tuple[Described, str]] = {
    "n": ({"type": "integer", "minimum": 0}, "rides that count, censored ones included"),
    "censored": (
        {"type": "integer", "minimum": 0},
        "rides without the event: it came later than the trace ends, or never",
    ),
    "confidence": (NUMBER, "exact confidence of the interval"),
}
TIME = "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z$"


def schema_text() -> str:
    """Return the text of docs/result.schema.json, a JSON Schema (draft 2020-12) made from the fields.

    Returns
    -------
    str
    """
    whole = Group(RESULT.fields).described()
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:trackspread:result:1",
        "title": SCHEMA,
        "description": RESULT.about,
    }
    subjects = {subject.name: subject.definition() for subject in _subjects(RESULT) if subject is not RESULT}
    document = {**head, **whole, "$defs": _shared() | subjects}
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def _subjects(kind: Kind) -> Iterator[Subject]:
    """Yield every kind of record below, those that others need first."""
    if isinstance(kind, Many | Maybe):
        yield from _subjects(kind.kind)
    elif isinstance(kind, Group):
        for entry in kind.fields:
            yield from _subjects(entry.kind)
        if isinstance(kind, Subject):
            yield kind


def _shared() -> Described:
    """Return the definitions of kinds that many fields share."""
    intervals = {
        f"estimate{unit or '_share'}": _figures(about, Interval(unit).names())
        for unit, about in UNITS.items()
    }
    median = _figures("a median over rides with its exact interval, seconds", Median.names)
    median["required"] = [*Median.names, "n"]
    median["properties"] |= {name: kind | {"description": about} for name, (kind, about) in MEDIAN.items()}
    corner = [LONGITUDE, LATITUDE]
    return {
        **intervals,
        "median": median,
        "position": _places("longitude in [-180, 180), latitude, degrees, WGS 84", corner),
        "bounds": _places(
            "west, south, east, north, degrees; west > east where the box crosses the antimeridian",
            [*corner, *corner],
        ),
        "time": {"type": ["string", "null"], "pattern": TIME, "description": "ISO 8601, UTC"},
    }


def _figures(about: str, names: tuple[str, str, str]) -> Described:
    """Return the definition of a value with two ends, and a reason where one of them is null."""
    figures = {name: NUMBER | {"description": end} for name, end in zip(names, ENDS, strict=True)}
    why = {"reason": {"type": "string", "description": "why a figure or an end of its interval is null"}}
    null = {"anyOf": [{"properties": {name: {"type": "null"}}} for name in names]}
    told = {"required": ["reason"], "properties": {"reason": {"minLength": 1}}}
    return {
        "type": "object",
        "description": about,
        "required": list(names),
        "properties": {**figures, **why},
        "allOf": [{"if": null, "then": told}],
    }


def _places(about: str, items: list[Described]) -> Described:
    count = len(items)
    size = {"minItems": count, "maxItems": count}
    return {"type": "array", "description": about, "prefixItems": items, **size}
