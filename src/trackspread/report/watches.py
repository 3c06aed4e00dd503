"""The look of every watch: one colour and one dash, the same in every picture and in every analysis."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping

from trackspread import model as m
from trackspread.errors import printable
from trackspread.report import style

UNKNOWN = "unknown receiver"
UNKNOWN_SHOWN = "unknown watch"

Slots = Mapping[str, int]


def watch_slots(names: Iterable[str]) -> dict[str, int]:
    """Return the slot of every watch, from its name alone: see `style.receiver_look`.

    A name asks for the slot that its digest gives. Where two names ask for the same one, the name that comes
    first in the alphabet has it, and the other takes the next free one.

    >>> watch_slots(["Moss"])["Moss"] == watch_slots(["Moss", "Sedge"])["Moss"]
    True
    """
    colours = len(style.RECEIVER_COLOURS)
    taken: dict[int, str] = {}
    for name in sorted(set(names), key=lambda name: (name == UNKNOWN, name.casefold(), name)):
        wanted = hashlib.sha256(name.strip().casefold().encode("utf-8", "replace")).digest()[0] % colours
        lap = colours * (len(taken) // colours)
        free = (lap + (wanted + step) % colours for step in range(colours))
        taken[next(slot for slot in free if slot not in taken)] = name
    return {name: slot for slot, name in taken.items()}


def watches_of(analysis: m.Analysis) -> dict[str, int]:
    """Return the slots of all watches of an analysis, in the order in which they are shown.

    That is the order of the comparison; without one, the order of the routes.
    """
    shown = [s.receiver for s in analysis.comparison.receivers] if analysis.comparison else []
    for route in analysis.routes:
        shown += [r.receiver for r in route.receivers] + [t.receiver for t in route.traces]
    slots = watch_slots(shown)
    return {name: slots[name] for name in dict.fromkeys(shown)}


def look(slot: int) -> str:
    """Return the class names that give a mark the colour and the dash of a watch."""
    colours, dashes = len(style.RECEIVER_COLOURS), len(style.RECEIVER_DASHES)
    return f"k{slot % colours} d{(slot + slot // colours) % dashes}"


def shown_name(name: str, length: int = 24) -> str:
    """Return the name of a watch as people read it: short, on one line."""
    return UNKNOWN_SHOWN if name in ("", UNKNOWN) else printable(name, length)
