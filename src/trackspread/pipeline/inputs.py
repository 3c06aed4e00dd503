"""What became of every trace, and what is said where nobody knows which watch made it."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.model import NOTHING, InputRecord, Reason, Witness
from trackspread.rides.colours import UNKNOWN


def unknown_watches(inputs: Sequence[InputRecord]) -> Reason:
    """Return how many traces are of an unknown watch, nothing where all are known.

    Their figures per watch are withheld: pooled, they would be those of no watch at all.

    Parameters
    ----------
    inputs : sequence of InputRecord
        All of one analysis; those that are set aside do not count.

    Returns
    -------
    Reason

    Examples
    --------
    >>> unknown_watches([]).code
    ''
    """
    used = [record for record in inputs if record.status == "used"]
    count = sum(record.receiver == UNKNOWN for record in used)
    return Reason.of("unknown_watches", count=count, used=len(used)) if count else NOTHING


def input_record(witness: Witness, route: str, reason: Reason) -> InputRecord:
    """Return what became of one trace.

    Parameters
    ----------
    witness : Witness
        The trace, with who, when and which.
    route : str
        Name of the route that it was used on, ``""`` where it is set aside.
    reason : Reason
        Why it is set aside.

    Returns
    -------
    InputRecord
    """
    trace = witness.trace
    return InputRecord(
        file=trace.file,
        format=trace.format,
        name=trace.name,
        points=len(trace.lon_deg),
        points_set_aside=trace.points_set_aside,
        receiver=witness.receiver,
        ride=witness.ride,
        receiver_from=witness.receiver_from,
        ride_from=witness.ride_from,
        route=route,
        status="used" if route else "set aside",
        reason=reason,
        findings=trace.findings,
        start_time_s=trace.first_time_s(),
        note=witness.note,
    )


def notes_on_inputs(inputs: Sequence[InputRecord], any_route: bool) -> tuple[Reason, ...]:
    """Return what is to be said of the whole analysis.

    Parameters
    ----------
    inputs : sequence of InputRecord
        All of one analysis.
    any_route : bool
        Whether any two of them share a route.

    Returns
    -------
    tuple of Reason
    """
    told = unknown_watches(inputs)
    alone = () if any_route else (Reason("no_route"),)
    return ((told,) if told else ()) + alone
