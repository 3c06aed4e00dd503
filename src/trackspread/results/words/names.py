"""Names in sentences: of watches, of several things at once."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.errors import printable
from trackspread.rides.colours import UNKNOWN

UNKNOWN_SHOWN = "unknown watch"


def shown_name(name: str, length: int = 24) -> str:
    """Return the name of a watch as people read it: short, on one line, never to be taken for a figure.

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

    Examples
    --------
    >>> shown_name("12"), shown_name("A watch of one maker, 47 mm"), shown_name("A watch of one maker, 42 mm")
    ('watch 12', 'A watch of one…r, 47 mm', 'A watch of one…r, 42 mm')
    """
    if name in ("", UNKNOWN):
        return UNKNOWN_SHOWN
    shown = f"watch {name}" if name.strip().isdecimal() else name
    return cut_in_middle(printable(shown, len(shown)), length)


def cut_in_middle(name: str, length: int) -> str:
    """Return a name of at most so many letters; both its ends stay, for models of one maker differ there.

    Parameters
    ----------
    name : str
    length : int
        Most characters.

    Returns
    -------
    str
    """
    tail = length // 3
    return name if len(name) <= length else f"{name[: length - 1 - tail].rstrip()}…{name[-tail:]}"


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
