"""Pieces of one recording: its laps, or the rides it was left on over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trackspread.model import Trace, Witness
from trackspread.model.arrays import first_known


def piece(trace: Trace, first: int, end: int, number: int) -> Trace:
    """Return points ``first`` to ``end`` of a trace as its piece ``number``; the first keeps its findings.

    Parameters
    ----------
    trace : Trace
    first, end : int
        The first point, and that behind the last.
    number : int
        From 0.

    Returns
    -------
    Trace
    """
    return replace(
        trace.at(slice(first, end)),
        part=1000 * trace.part + number,
        points_set_aside=trace.points_set_aside if number == 0 else 0,
        findings=trace.findings if number == 0 else (),
        start_s=trace.start_s if number == 0 else float("nan"),
    )


def span_s(trace: Trace) -> tuple[float, float]:
    """Return when a trace begins and ends, seconds UTC; NaN without times.

    Parameters
    ----------
    trace : Trace

    Returns
    -------
    begins_s, ends_s : float
    """
    return trace.first_time_s(), first_known(trace.time_s[::-1])


def with_pieces(witness: Witness, parts: Sequence[Trace], rides: Sequence[str], later: str) -> list[Witness]:
    """Return one witness a piece; the first one of the recording alone keeps what is known of its start.

    Parameters
    ----------
    witness : Witness
        Of the whole recording.
    parts : sequence of Trace, length N
        See `piece`.
    rides : sequence of str, length N
        The ride of each.
    later : str
        Code of the reason why a later piece has no start.

    Returns
    -------
    list of Witness, length N
    """
    out = [replace(witness, trace=part, ride=ride) for part, ride in zip(parts, rides, strict=True)]
    return [
        one
        if one.trace.part == 1000 * witness.trace.part
        else replace(one, start_s=float("nan"), start_source="none", start_reason=later)
        for one in out
    ]
