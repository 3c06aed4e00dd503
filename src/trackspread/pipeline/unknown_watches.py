"""What is said where nobody knows which watch made a trace."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.model import NOTHING, InputRecord, Reason
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
