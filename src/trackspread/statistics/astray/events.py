"""Events: what happened once, whoever recorded it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trackspread.model import Cause, Event, Stretch

SAME_PLACE = 0.5
"""Stretches are of one place where they share so much of the shorter one."""
ANOTHER_STREET_M = 160.0
"""A stretch that leads farther aside, and that no companion can explain, is taken for another street: errors
of real receivers of several kinds came to 110 m on an axis (static logs and rides on known lines)."""


def is_elsewhere(cause: Cause, peak_m: float) -> bool:
    """Return whether the rider was elsewhere on a stretch, so that no receiver erred by it.

    Parameters
    ----------
    cause : str
        Of the stretch: all companions went there (``line``), or there were none to tell.
    peak_m : float
        How far the stretch leads aside, metres.

    Returns
    -------
    bool
    """
    return cause == "line" or (cause in ("unknown", "after a gap") and peak_m > ANOTHER_STREET_M)


def events_of(stretches: Sequence[Stretch]) -> tuple[Event, ...]:
    """Return the events that stretches tell of, in order of station.

    The stretches of one place, one side and one ride are one event: a detour carried by three watches. What
    is left of one place, one side and one receiver is one event too: a watch that strays there on every
    ride. A phase of settling is an event of its receiver, never of the ride.

    Parameters
    ----------
    stretches : sequence of Stretch
        Of one route.

    Returns
    -------
    tuple of Event
    """
    riders = [s for s in stretches if s.cause not in ("settling", "receiver")]
    groups = _joined(riders, lambda a, b: a.ride == b.ride and a.ride != "")
    carried = [group for group in groups if len(group) > 1]
    alone = [group[0] for group in groups if len(group) == 1]
    rest = [*alone, *(s for s in stretches if s.cause in ("settling", "receiver"))]
    own = _joined(
        rest, lambda a, b: a.receiver == b.receiver and (a.cause == "settling") == (b.cause == "settling")
    )
    return tuple(
        sorted(map(_event, [*carried, *own]), key=lambda e: (e.from_m, e.to_m, e.receivers, e.rides))
    )


def _joined(stretches: Sequence[Stretch], alike: Callable[[Stretch, Stretch], bool]) -> list[list[Stretch]]:
    """Return stretches in groups that are alike and of one place and side."""
    groups: list[list[Stretch]] = []
    for stretch in sorted(stretches, key=lambda s: (s.from_m, s.to_m, s.number)):
        for group in groups:
            if any(s.side == stretch.side and alike(s, stretch) and _one_place(s, stretch) for s in group):
                group.append(stretch)
                break
        else:
            groups.append([stretch])
    return groups


def _one_place(a: Stretch, b: Stretch) -> bool:
    shared = min(a.to_m, b.to_m) - max(a.from_m, b.from_m)
    return shared >= SAME_PLACE * min(a.to_m - a.from_m, b.to_m - b.from_m)


def _event(group: Sequence[Stretch]) -> Event:
    farthest = max(group, key=lambda s: abs(s.peak_m))
    causes: dict[Cause, None] = dict.fromkeys(s.cause for s in group)
    return Event(
        from_m=min(s.from_m for s in group),
        to_m=max(s.to_m for s in group),
        receivers=tuple(sorted({s.receiver for s in group})),
        rides=tuple(sorted({s.ride for s in group})),
        peak_m=farthest.peak_m,
        side=farthest.side,
        cause=next(iter(causes)) if len(causes) == 1 else "unknown",
    )
