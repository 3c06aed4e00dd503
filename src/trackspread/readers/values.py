"""Numbers and times as files write them, checked and made plain; "" for what is none."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import date, datetime
from functools import lru_cache

from trackspread.readers.notes import Notes

Place = Callable[[], str] | str
_PLAIN = re.compile(r"\d{4}-\d\d-\d\dT\d\d:[0-5]\d:[0-5]\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)")
_TIME = re.compile(
    r"(\d{4}-\d\d-\d\d)[Tt ](\d\d:[0-5]\d):([0-5]\d|60)(?:[.,](\d+))?\s?([Zz]|[+-]\d\d:?\d\d)?"
)
FIRST_YEAR = 1900  # years before it are no times of a recording


def number(text: str | None) -> float:
    """Return a finite number in plain decimal notation, ``NaN`` for anything else.

    Parameters
    ----------
    text : str or None
        As the file has it.

    Returns
    -------
    float
    """
    if text is None or "_" in text or not text.isascii():
        return math.nan
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def degrees(text: str | None, most: float, notes: Notes, place: Place) -> str:
    """Return an angle that lies within ± ``most`` as plain text, "" for any other.

    Parameters
    ----------
    text : str or None
        As the file has it.
    most : float
        Largest absolute value, degrees.
    notes : Notes
        Where findings are counted.
    place : str or callable
        Where in the file, or what says so.

    Returns
    -------
    str
    """
    if abs(number(text)) <= most:
        return text or ""
    if text is None or text.count(",") != 1 or "." in text:
        return ""
    plain = text.replace(",", ".")
    if not abs(number(plain)) <= most:
        return ""
    notes.note("decimal comma", place() if callable(place) else place)
    return plain


def metres(text: str, notes: Notes, place: Place) -> str:
    """Return a height as plain text, "" (and a finding) for what is no number.

    Parameters
    ----------
    text : str
        As the file has it.
    notes : Notes
        Where findings are counted.
    place : str or callable
        Where in the file, or what says so.

    Returns
    -------
    str
    """
    if not math.isnan(number(text)):
        return text
    plain = text.replace(",", ".", 1)
    bad = math.isnan(number(plain))
    notes.note("bad elevation" if bad else "decimal comma", place() if callable(place) else place)
    return "" if bad else plain


def utc_text(text: str, notes: Notes, place: Place) -> str:
    """Return a time as ``2031-03-03T07:00:00Z`` or with its offset; "" (and a finding) for what is none.

    Parameters
    ----------
    text : str
        As the file has it.
    notes : Notes
        Where findings are counted.
    place : str or callable
        Where in the file, or what says so.

    Returns
    -------
    str
    """
    if _PLAIN.fullmatch(text) and _is_moment(text[:10], text[11:13], text[-6:]):
        return text
    where = place() if callable(place) else place
    found = _TIME.fullmatch(text)
    zone = "" if found is None else (found[5] or "").upper()
    if zone not in ("", "Z"):
        zone = f"{zone[:3]}:{zone[-2:]}"
    if found is None or not _is_moment(found[1], found[2][:2], zone):
        notes.note("bad time", where)
        return ""
    second = found[3]
    if second == "60":
        notes.note("leap second", where)
        second = "59"
    if not zone:
        notes.note("time without zone", where)
        zone = "Z"
    return f"{found[1]}T{found[2]}:{second}.{found[4] or '0'}{zone}"


def utc_seconds(text: str) -> float:
    """Return seconds since 1970 of what `utc_text` gives, ``NaN`` for "".

    Parameters
    ----------
    text : str
        ISO 8601 with a zone, or "".

    Returns
    -------
    float
    """
    return datetime.fromisoformat(text).timestamp() if text else math.nan


@lru_cache(maxsize=4096)
def _is_moment(day: str, hour: str, zone: str) -> bool:
    """Return whether day, hour and offset (the last letters of a time) can be."""
    offset = zone[1:3] if zone[:1] in "+-" and zone[3:4] == ":" else "00"
    try:
        return date.fromisoformat(day).year >= FIRST_YEAR and int(hour) < 24 and int(offset) <= 14
    except ValueError:
        return False
