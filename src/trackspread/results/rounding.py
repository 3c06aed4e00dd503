"""Rounding and wording of figures: no more digits than the interval supports, and never a bare ``nan``."""

from __future__ import annotations

import math
import re
import sys
from datetime import UTC, datetime

UNKNOWN = "not known"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=%|(?:m|km|s|min|h|SD|kB|MB|ppm)\b)|(?<=\bride) (?=\d)")


def decimals(low: float, high: float, finest: int = 2) -> int:
    """Return how many decimals an interval supports; negative for tens, hundreds, …

    The half width is kept to two significant digits below 3.55 and to one above, the rounding rule of
    the Particle Data Group (Review of Particle Physics, introduction, section 5.3). ``finest`` is
    the most that is ever given: hundredths of a metre by default.

    Parameters
    ----------
    low, high : float
        Ends of the interval.
    finest : int
        Most decimals.

    Returns
    -------
    int
        At most 1 where an end is not finite.

    Examples
    --------
    >>> decimals(1.7, 3.9), decimals(100.0, 180.0), decimals(2.0, 2.0)
    (1, -1, 2)
    """
    half = abs(high - low) / 2
    if not math.isfinite(half):
        return min(1, finest)
    if half < sys.float_info.min:
        return finest
    exponent = math.floor(math.log10(half))
    digits = 2 if half / 10**exponent < 3.55 else 1
    return min(digits - 1 - exponent, finest)


def rounded(value: float, places: int = 1) -> float | None:
    """Return ``value`` to ``places`` decimals, ``None`` where there is no figure.

    Parameters
    ----------
    value : float
    places : int
        Decimals.

    Returns
    -------
    float or None
        Never a negative zero.
    """
    return round(float(value), places) + 0.0 if math.isfinite(value) else None


def rounded_interval(
    value: float, low: float, high: float, finest: int = 2
) -> tuple[float | None, float | None, float | None]:
    """Return a value and its bounds, all to the digits that the interval supports.

    In a lopsided interval the geometric mean of both sides stands for the half width, so that a far upper
    bound does not round the lower one away; with one bound missing, the other side does. A value that lies
    within its interval is not rounded onto an end of it, as far as ``finest`` allows.

    Parameters
    ----------
    value, low, high : float
        A figure and its interval; an end may be infinite or NaN.
    finest : int
        Most decimals.

    Returns
    -------
    tuple of (float or None)
        The three, ``None`` for what is not finite.

    Examples
    --------
    >>> rounded_interval(9.2, 2.1, 95.3), rounded_interval(1.4, 0.6, 29.2)
    ((9.0, 2.0, 95.0), (1.4, 0.6, 29.2))
    """
    sides = [abs(value - end) for end in (low, high) if math.isfinite(value - end)]
    half = math.sqrt(math.prod(sides)) if len(sides) == 2 else sides[0] if sides else math.nan
    if half == 0:
        half = abs(high - low) / 2
    places = decimals(-half, half, finest)
    while places < finest and any(
        value != end and rounded(value, places) == rounded(end, places) for end in (low, high)
    ):
        places += 1
    return rounded(value, places), rounded(low, places), rounded(high, places)


def utc(time_s: float) -> str | None:
    """Return a time as ISO 8601 in UTC to the second, ``None`` where there is none.

    Parameters
    ----------
    time_s : float
        Seconds since 1970 UTC.

    Returns
    -------
    str or None
        ``None`` also beyond the years that a date can have.

    Examples
    --------
    >>> utc(0.0)
    '1970-01-01T00:00:00Z'
    """
    if not math.isfinite(time_s):
        return None
    try:
        return datetime.fromtimestamp(time_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    except (OverflowError, OSError, ValueError):
        return None


def plain(value: float | None) -> str:
    """Return a rounded figure as read aloud: thousands parted, a true minus, no idle zero.

    Parameters
    ----------
    value : float or None
        Rounded already; two decimals at most are shown.

    Returns
    -------
    str

    Examples
    --------
    >>> plain(1250.0), plain(-2.5), plain(None)
    ('1,250', '−2.5', 'not known')
    """
    if value is None:
        return UNKNOWN
    text = f"{value:,.2f}".rstrip("0").rstrip(".")
    return text.replace("-", "−")


def alike(*values: float | None) -> list[str]:
    """Return rounded figures that belong together with the same number of decimals, the most any needs.

    Parameters
    ----------
    *values : float or None
        Rounded already; two decimals at most are shown.

    Returns
    -------
    list of str

    Examples
    --------
    >>> alike(2.0, 1.4, None)
    ['2.0', '1.4', 'not known']
    """
    shown = [f"{value:.2f}".rstrip("0") for value in values if value is not None]
    needed = max((len(text.partition(".")[2]) for text in shown), default=0)
    return [UNKNOWN if v is None else f"{v:,.{needed}f}".replace("-", "−") for v in values]


def value_and_interval(
    value: float | None, low: float | None, high: float | None, unit: str
) -> tuple[str, str]:
    """Return a figure and its interval in words: an open end is said, no interval is ``""``.

    Parameters
    ----------
    value, low, high : float or None
        Rounded already; ``None`` is unknown, or no bound.
    unit : str
        Stands behind both.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> value_and_interval(2.3, 1.7, 3.9, "m"), value_and_interval(2.3, 1.7, None, "m")
    (('2.3 m', '1.7 to 3.9 m'), ('2.3 m', 'at least 1.7 m, no upper bound'))
    """
    if value is None:
        return UNKNOWN, ""
    middle, lower, upper = alike(value, low, high)
    if low is None and high is None:
        ends = ""
    elif high is None:
        ends = f"at least {lower} {unit}, no upper bound"
    elif low is None:
        ends = f"at most {upper} {unit}, no lower bound"
    else:
        ends = f"{lower} to {upper} {unit}"
    return f"{middle} {unit}", ends


def with_interval(
    value: float | None, low: float | None, high: float | None, unit: str, level: str = ""
) -> str:
    """Return a figure with its interval behind it in brackets.

    Parameters
    ----------
    value, low, high : float or None
        Rounded already; ``None`` is unknown, or no bound.
    unit : str
    level : str
        Stands before the interval.

    Returns
    -------
    str

    Examples
    --------
    >>> with_interval(2.3, 1.7, 3.9, "m", "95 % interval ")
    '2.3 m (95 % interval 1.7 to 3.9 m)'
    """
    middle, ends = value_and_interval(value, low, high, unit)
    return f"{middle} ({level}{ends})" if ends else middle


def kilometres(station_m: float | None) -> str:
    """Return a station as a length: metres below one kilometre, else kilometres.

    Parameters
    ----------
    station_m : float or None
        Metres.

    Returns
    -------
    str

    Examples
    --------
    >>> kilometres(900.0), kilometres(1080.0)
    ('900 m', '1.08 km')
    """
    if station_m is None:
        return UNKNOWN
    return f"{plain(round(station_m))} m" if abs(station_m) < 1000 else f"{plain(station_m / 1000)} km"


def span(from_m: float | None, to_m: float | None) -> str:
    """Return a piece of the route: both ends in the unit of the farther one.

    Parameters
    ----------
    from_m, to_m : float or None
        Stations, metres.

    Returns
    -------
    str

    Examples
    --------
    >>> span(300.0, 900.0), span(900.0, 1080.0)
    ('300 to 900 m', '0.90 to 1.08 km')
    """
    if from_m is None or to_m is None:
        return UNKNOWN
    if abs(to_m) < 1000:
        return f"{plain(round(from_m))} to {plain(round(to_m))} m"
    return f"{from_m / 1000:.2f} to {to_m / 1000:.2f} km"


def share(part: float | None) -> str:
    """Return a share of one as whole per cent: ``70 %``.

    Parameters
    ----------
    part : float or None
        0 to 1.

    Returns
    -------
    str
    """
    return UNKNOWN if part is None else f"{plain(round(100 * part))} %"


def counted(count: int, one: str, many: str = "") -> str:
    """Return a number with its noun: ``1 trace`` or ``6 traces``.

    Parameters
    ----------
    count : int
    one : str
        The noun for one.
    many : str
        The noun for several; by default with an ``s`` behind.

    Returns
    -------
    str
    """
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def unbroken(prose: str) -> str:
    """Keep every number and its unit on one line, wherever a page or a still breaks the others.

    Parameters
    ----------
    prose : str
        Plain text.

    Returns
    -------
    str
        With no-break spaces (U+00A0).

    Examples
    --------
    >>> unbroken("3.5 m (95 % interval 2 to 7 m) on ride 5").split(" ")
    ['3.5\\xa0m', '(95\\xa0%', 'interval', '2', 'to', '7\\xa0m)', 'on', 'ride\\xa05']
    """
    return _BEFORE_UNIT.sub("\u00a0", prose) if " " in prose else prose
