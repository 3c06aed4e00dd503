"""The look of every watch: one colour and one dash, the same in every picture and in every analysis."""

from __future__ import annotations

from trackspread import model as m
from trackspread.report import style
from trackspread.results.words.names import shown_name
from trackspread.rides.colours import colour_name, may_change, watch_slots


def watches_of(analysis: m.Analysis) -> dict[str, int]:
    """Return the slots of all watches of an analysis, in the order in which they are shown.

    That is the order of the comparison; without one, the order of the routes.

    Parameters
    ----------
    analysis : Analysis

    Returns
    -------
    dict
        Slot (`rides.colours.watch_slots`) by the name of the watch.
    """
    shown = [s.receiver for s in analysis.comparison.receivers] if analysis.comparison else []
    for route in analysis.routes:
        shown += [r.receiver for r in route.receivers] + [t.receiver for t in route.traces]
    slots = watch_slots(shown, _given(analysis))
    return {name: slots[name] for name in dict.fromkeys(shown)}


def colours_to_keep(analysis: m.Analysis) -> str:
    """Return how to keep the colours where a report on other watches may have others, else "".

    Parameters
    ----------
    analysis : Analysis

    Returns
    -------
    str
    """
    slots = watches_of(analysis)
    if not may_change(slots, _given(analysis)):
        return ""
    pairs = ", ".join(f"{shown_name(name, 24)} {colour_name(slot)}" for name, slot in slots.items())
    return (
        "A report on other watches may show these in other colours. To keep them, write them into the "
        f"column colour of rides.csv: {pairs}."
    )


def _given(analysis: m.Analysis) -> dict[str, str]:
    return {t.receiver: t.colour for route in analysis.routes for t in route.traces if t.colour}


def look(slot: int) -> str:
    """Return the class names that give a mark the colour and the dash of a watch.

    Parameters
    ----------
    slot : int
        As `rides.colours.watch_slots` gives it.

    Returns
    -------
    str

    Examples
    --------
    >>> look(0), look(8)
    ('k0 d0', 'k0 d1')
    """
    colour, dash = style.slot_look(slot)
    return f"k{colour} d{dash}"
