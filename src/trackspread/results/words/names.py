"""Names in sentences: of watches, of several things at once."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.errors import printable
from trackspread.rides.colours import UNKNOWN

UNKNOWN_SHOWN = "unknown watch"


def shown_name(name: str, length: int = 24) -> str:
    """Return the name of a watch as people read it: short, on one line.

    Parameters
    ----------
    name : str
        As a file gives it; hostile text is taken.
    length : int
        Most characters.

    Returns
    -------
    str
        `UNKNOWN_SHOWN` where there is no name.
    """
    return UNKNOWN_SHOWN if name in ("", UNKNOWN) else printable(name, length)


def listed(names: Sequence[str]) -> str:
    """Return names in one phrase.

    Parameters
    ----------
    names : sequence of str

    Returns
    -------
    str

    Examples
    --------
    >>> listed(["a", "b", "c"]), listed(["a"]), listed([])
    ('a, b and c', 'a', '')
    """
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)
