"""Names in sentences: of watches, of several things at once."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.errors import printable
from trackspread.rides.colours import UNKNOWN

UNKNOWN_SHOWN = "unknown watch"
MOST_NAMED = 3
"""More names than these are counted."""


def shown_name(name: str, length: int = 24) -> str:
    """Return the name of a watch as people read it: short, on one line."""
    return UNKNOWN_SHOWN if name in ("", UNKNOWN) else printable(name, length)


def listed(names: Sequence[str]) -> str:
    """Return ``a``, ``a and b`` or ``a, b and c``."""
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)


def first_few(texts: Sequence[str], what: str = "", by: str = ", ", last: str = " and ") -> str:
    """Return the first three texts, and how many more there are.

    Examples
    --------
    >>> first_few(["a", "b", "c", "d", "e"]), first_few(["a", "b"])
    ('a, b, c and 2 more', 'a, b')
    """
    more = len(texts) - MOST_NAMED
    tail = f"{last}{more} more{what}" if more > 0 else ""
    return by.join(texts[:MOST_NAMED]) + tail
