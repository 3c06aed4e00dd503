"""The colour of every watch: from the table of rides, else from its name, the same in every analysis."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from types import MappingProxyType

UNKNOWN = "unknown receiver"
COLOURS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "blue": ("#1e4ba5", "#9cd6ff"),
        "green": ("#017300", "#a6f69f"),
        "crimson": ("#d52857", "#e97b72"),
        "lilac": ("#b072bc", "#9f81d0"),
        "wine": ("#6f1e2a", "#9b5d5a"),
        "navy": ("#001c75", "#3e5af2"),
        "ink": ("#00041c", "#fefefe"),
        "ochre": ("#c38300", "#e1b510"),
    }
)
"""On light and on dark ground; found by search: apart by usual sight and by both common kinds of colour
blindness, apart from the colours of verdicts, and at 3:1 from the ground (tests/report/test_style.py)."""
NAMES = tuple(COLOURS)
WISHED = len(NAMES) - 2
"""No name asks for the last two colours: they serve where every other is taken or looks like one that is."""
ALIKE = frozenset(
    frozenset(pair.split())
    for pair in (
        "blue navy", "blue ink", "crimson green", "crimson lilac", "crimson wine", "crimson ochre",
        "green wine", "green ink", "green ochre", "lilac navy", "wine navy",
    )
)  # fmt: skip
"""Pairs nearer than 0.15 in OKLab (Ottosson 2020), by the worst of three sights and two grounds."""


def watch_slots(names: Iterable[str], given: Mapping[str, str] | None = None) -> dict[str, int]:
    """Return the slot of every watch: the number of its colour, plus eight for each lap beyond eight watches.

    A colour that is ``given`` (in the table of rides) holds. Every other name asks for the colour that its
    digest gives, in the order of the alphabet; where that one is taken, or looks like one that is, it takes
    the next free one that looks like as few of them as can be.

    Parameters
    ----------
    names : iterable of str
    given : mapping of str to str, optional
        Names of `COLOURS` by watch; others are passed over.

    Returns
    -------
    dict of str to int

    Examples
    --------
    >>> watch_slots(["Moss"])["Moss"] == watch_slots(["Moss", "Sedge"])["Moss"]
    True
    >>> NAMES[watch_slots(["Moss", "Sedge"], {"Sedge": "ink"})["Sedge"]]
    'ink'
    """
    said = {name: colour for name, colour in (given or {}).items() if colour in COLOURS}
    every = sorted(set(names), key=lambda name: (name == UNKNOWN, name.casefold(), name))
    slots: dict[str, int] = {}
    for name in sorted(every, key=lambda name: name not in said):
        taken = set(slots.values())
        asked = NAMES.index(said[name]) if name in said else _asked(name)
        slots[name] = _free(asked, taken, held=name in said)
    return slots


def may_change(slots: Mapping[str, int], given: Mapping[str, str] | None = None) -> bool:
    """Return whether a watch has neither a given colour nor that of its name, but one that the others left.

    Parameters
    ----------
    slots : mapping of str to int
        Slot of each watch (see `watch_slots`).
    given : mapping of str to str, optional
        Colours of the table of rides by watch.

    Returns
    -------
    bool

    Examples
    --------
    >>> may_change(watch_slots(["Moss"])), may_change({"Moss": 6}), may_change({"Moss": 6}, {"Moss": "ink"})
    (False, True, False)
    """
    held = {name for name, colour in (given or {}).items() if colour in COLOURS}
    return any(name not in held and slot != _asked(name) for name, slot in slots.items())


def colour_name(slot: int) -> str:
    """Return the name of the colour of a slot.

    Parameters
    ----------
    slot : int
        See `watch_slots`.

    Returns
    -------
    str
        One of `NAMES`.
    """
    return NAMES[slot % len(NAMES)]


def _asked(name: str) -> int:
    return hashlib.sha256(name.strip().casefold().encode("utf-8", "replace")).digest()[0] % WISHED


def _free(asked: int, taken: set[int], held: bool) -> int:
    """Return the slot that is asked for, or the one that comes nearest; ``held``: in this colour."""
    count = len(NAMES)
    if held:
        return next(
            slot for slot in range(asked, asked + count * (len(taken) + 1), count) if slot not in taken
        )
    lap = 0
    while all(slot in taken for slot in range(lap, lap + count)):
        lap += count
    free = [slot for slot in (lap + (asked + step) % count for step in range(count)) if slot not in taken]
    return min(free, key=lambda slot: (sum(_alike(slot, other) for other in taken), slot % count >= WISHED))


def _alike(slot: int, other: int) -> bool:
    names = frozenset((colour_name(slot), colour_name(other)))
    return len(names) == 1 or names in ALIKE
