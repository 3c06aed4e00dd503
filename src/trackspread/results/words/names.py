"""Names in sentences: of watches, of several things at once."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.errors import printable
from trackspread.rides.colours import UNKNOWN

UNKNOWN_SHOWN = "unknown watch"


def shown_name(name: str, length: int = 24) -> str:
    """Return the name of a watch as people read it: short, on one line."""
    return UNKNOWN_SHOWN if name in ("", UNKNOWN) else printable(name, length)


def listed(names: Sequence[str]) -> str:
    """Return ``a``, ``a and b`` or ``a, b and c``."""
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)
