"""Times as people write them in the table of rides: with an offset, a zone, or the time of day alone."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from trackspread.rides.sheet.table import Row

LONGEST_DECLARED_WAIT_S = 3600.0  # s from start to first point beyond which the note is of another ride
LIKELY_WAIT_S = 900.0  # s of waiting that leave a forgotten zone as the likely cause
MOST_HOURS = 14  # hours from UTC, the farthest zone (tz database)
DAY_S = 86_400.0  # s in a day
_CLOCK = re.compile(
    r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d(?:\.\d+)?))?"
    r"\s?(Z|UTC|[+-]\d\d:?\d\d|[A-Za-z_]{2,20}(?:/[A-Za-z0-9_+-]{2,30}){1,2})?"
)


def start_seconds(row: Row, first_s: float) -> float:
    """Return ``start_pressed`` in seconds UTC, at most ``first_s``; NaN where the cell is empty.

    A time of day is the last such moment (UTC) before the trace's first point.

    Parameters
    ----------
    row : Row
        Of the table of rides.
    first_s : float
        First time of its trace, seconds UTC; NaN where it has none.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        The cell is no time to the second, or lies after the first point or more than an hour before it.
    """
    if not row.start_pressed:
        return float("nan")
    start_s = moment_s(row.start_pressed, first_s)
    if math.isnan(first_s):
        raise ValueError("a start needs a trace with times")
    if not -1.0 < first_s - start_s <= LONGEST_DECLARED_WAIT_S:
        first = datetime.fromtimestamp(first_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        wait_s = first_s - start_s
        if _CLOCK.fullmatch(row.start_pressed) and wait_s > DAY_S / 2.0:
            wait_s -= DAY_S  # a time of day after the first point was taken for one of the day before
        hours = _hours_off(wait_s)
        raise ValueError(
            f"start_pressed must lie before the first point ({first}), by an hour at most{hours}"
        )
    return min(start_s, first_s)


def _hours_off(wait_s: float) -> str:
    """Say so where a start is whole hours off and would be right otherwise."""
    hours, rest = divmod(wait_s, 3600.0)
    if rest > LIKELY_WAIT_S or not 1 <= abs(hours) <= MOST_HOURS:
        return ""
    way = "early" if hours > 0 else "late"
    return f"; it is {abs(hours):.0f} h {way}, as in another time zone or summer time"


def seen_seconds(row: Row, start_s: float, first_s: float) -> float:
    """Return ``fix_seen`` in seconds UTC, NaN where the cell is empty.

    Parameters
    ----------
    row : Row
        Of the table of rides.
    start_s, first_s : float
        When start was pressed, and first time of the trace, seconds UTC; NaN = not known.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        The cell is no time to the second, or lies before the start or more than an hour from the first point.
    """
    if not row.fix_seen:
        return float("nan")
    seen_s = moment_s(row.fix_seen, first_s, "fix_seen")
    if seen_s < start_s - 1.0:
        raise ValueError("fix_seen must not lie before start_pressed")
    if abs(seen_s - first_s) > LONGEST_DECLARED_WAIT_S:
        raise ValueError("fix_seen must lie within an hour of the first point")
    return seen_s


def moment_s(text: str, first_s: float, column: str = "start_pressed") -> float:
    """Return a moment in seconds UTC; a time of day is the last such before the first point.

    Parameters
    ----------
    text : str
        Such as ``2031-03-03T07:00:00Z``, ``07:00:00`` or ``09:00:00+02:00``.
    first_s : float
        First time of the trace, seconds UTC; NaN where it has none.
    column : str
        Named by the error.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        It is no time to the second, or a time of day where ``first_s`` is not known.

    Examples
    --------
    >>> moment_s("1970-01-02T00:00:10+00:00", float("nan")), moment_s("00:00:05", 86_500.0)
    (86410.0, 86405.0)
    """
    clock = _CLOCK.fullmatch(text)
    if clock and clock[3] is None:
        raise ValueError(f"{column} must be given to the second, such as 07:00:00")
    if clock and math.isnan(first_s):
        raise ValueError("a time of day needs a trace with times")
    try:
        if clock:
            zone = _zone(clock[4] or "Z")
            first = datetime.fromtimestamp(first_s, zone)
            moment = datetime.fromisoformat(f"{first.date()}T{clock[1]:0>2}:{clock[2]}").replace(tzinfo=zone)
            late = moment.timestamp() + float(clock[3]) > first_s + LONGEST_DECLARED_WAIT_S
            return (moment - timedelta(days=int(late))).timestamp() + float(clock[3])
        words = text.rsplit(" ", 1)
        zone = _zone(words[1]) if len(words) == 2 and "/" in words[1] else UTC
        moment = datetime.fromisoformat(words[0] if zone is not UTC else text)
        return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).timestamp()
    except (ValueError, OverflowError, OSError, LookupError):
        rule = f"{column} must be a time such as 2031-03-03T07:00:00Z, 07:00:00 (UTC) or 09:00:00+02:00"
        raise ValueError(rule) from None


def is_time_without_zone(text: str) -> bool:
    """Return whether a text is a time of day, or date and time, that names neither offset nor zone.

    Parameters
    ----------
    text : str
        Of a cell.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_time_without_zone("07:00:00"), is_time_without_zone("07:00:00Z")
    (True, False)
    """
    clock = _CLOCK.fullmatch(text)
    if clock:
        return clock[4] is None
    try:
        return datetime.fromisoformat(text).tzinfo is None and ":" in text
    except ValueError:
        return False


def _zone(text: str) -> tzinfo:
    """Return a time zone: ``Z``, an offset such as +02:00, or a name of the tz database."""
    if text in ("Z", "UTC"):
        return UTC
    if text[0] in "+-":
        hours, minutes = int(text[1:3]), int(text[-2:])
        if hours > MOST_HOURS or minutes > 59:
            raise ValueError("no such offset")
        return timezone((1 if text[0] == "+" else -1) * timedelta(hours=hours, minutes=minutes))
    return ZoneInfo(text)
