"""Receivers carried together whose clocks are whole hours apart: one ride, whatever their times say."""

from __future__ import annotations

from dataclasses import replace

from trackspread.geometry.crossings import Crossings
from trackspread.geometry.matching import Line
from trackspread.model import Ints, Reason, Witness
from trackspread.pairs.clock import find_companions


def with_companions(
    used: dict[int, Witness], line: Line, found: Crossings, ride: Ints
) -> tuple[dict[int, Witness], list[Reason]]:
    """Join rides whose clocks are whole hours apart; where the table of rides has it otherwise, only say so.

    Returns
    -------
    used, doubts
        The witnesses with the rides found, and a note for the route where there is one.
    """
    numbers = list(used)
    out, parted = dict(used), []
    for a, b, ahead_s in find_companions(line.station_m, found.time_s, ride):
        first, second = used[numbers[a]], used[numbers[b]]
        if first.receiver == second.receiver:
            continue
        if "sheet" in (first.ride_from, second.ride_from):
            parted.append(((first.receiver, first.ride), (second.receiver, second.ride), abs(ahead_s)))
        else:
            name = first.ride or f"with {first.trace.file}"
            out[numbers[a]] = replace(first, ride=name, ride_from="overlap")
            out[numbers[b]] = replace(second, ride=name, ride_from="overlap")
    return out, [Reason.of("ran_alike", pairs=tuple(parted))] if parted else []
