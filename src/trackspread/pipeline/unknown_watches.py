"""What is said where nobody knows which watch made a trace."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.model import InputRecord
from trackspread.rides.colours import UNKNOWN

REMEDY = "run trackspread init on the folder, write the names into rides.csv, and analyse again"


def unknown_watches(inputs: Sequence[InputRecord]) -> str:
    """Return the sentence for traces whose watch is unknown, ``""`` where all are known.

    Their figures per watch are withheld: pooled, they would be those of no watch at all.
    """
    used = [record for record in inputs if record.status == "used"]
    count = sum(record.receiver == UNKNOWN for record in used)
    if not count:
        return ""
    whose = "all traces" if count == len(used) else f"{count} of {len(used)} traces"
    return f"The watch that made {whose} is unknown, so there are no figures per watch for them: {REMEDY}"
