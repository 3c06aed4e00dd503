"""What happened on the way, in words: a place at which traces left the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from trackspread.errors import printable
from trackspread.model import Cause, Event
from trackspread.results.rounding import plain, rounded, span
from trackspread.results.words.names import listed, shown_name

CAUSES: Mapping[Cause, str] = MappingProxyType(
    {
        "line": "the rider went another way",
        "receiver": "the other watches on that ride did not",
        "settling": "before the fix settled",
        "after a gap": "after a gap",
        "unknown": "cause unknown",
    }
)


def rides_named(rides: Sequence[str]) -> str:
    """Return names of rides behind their noun.

    Parameters
    ----------
    rides : sequence of str

    Returns
    -------
    str

    Examples
    --------
    >>> rides_named(["2"]), rides_named(["2", "3"])
    ('ride 2', 'rides 2 and 3')
    """
    names = listed([printable(ride, 12) for ride in rides])
    return f"{'ride' if len(rides) == 1 else 'rides'} {names}"


def event_sentence(event: Event) -> str:
    """Return who strayed where, how far and why, with the place in metres along the route.

    Parameters
    ----------
    event : Event

    Returns
    -------
    str

    Examples
    --------
    >>> event = Event(from_m=1203.0, to_m=1420.0, receivers=("Moss",), rides=("2",), peak_m=-14.2,
    ...               side="left", cause="after a gap")
    >>> event_sentence(event)
    'Moss strayed up to 14 m to the left from 1.20 to 1.42 km on ride 2: after a gap.'
    """
    names = listed([shown_name(name) for name in event.receivers])
    far = f"up to {plain(rounded(abs(event.peak_m), 0))} m to the {event.side}"
    on = f" on {rides_named(event.rides)}" if event.rides else ""
    return f"{names} strayed {far} from {span(event.from_m, event.to_m)}{on}: {CAUSES[event.cause]}."
