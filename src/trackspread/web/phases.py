"""How far a whole run is: phases tell their own share, the page shows one share, in plain words."""

from __future__ import annotations

import itertools
import types
from collections.abc import Mapping

from trackspread.system.progress import Progress

PHASES: Mapping[str, tuple[int, str]] = types.MappingProxyType(
    {
        "grouping": (10, "Sorting the traces into routes"),
        "routes": (50, "Laying the traces on each other"),
        "writing": (38, "Writing report, map and tables"),
        "stills": (70, "Drawing the stills"),
        "packing": (2, "Packing everything into one file"),
    }
)
"""How long each phase takes beside the others, from runs of four to forty rides, and its words."""


def overall(progress: Progress, *, film: bool) -> Progress:
    """Return a progress for the API, which turns the share of each phase into one share of the whole.

    Parameters
    ----------
    progress : Progress
        Told plain words and the share of the whole.
    film : bool
        Whether stills will be drawn.

    Returns
    -------
    Progress

    Examples
    --------
    >>> tell = overall(lambda words, share: print(f"{words}: {share:.0%}"), film=False)
    >>> tell("routes", 0.5)
    Laying the traces on each other: 35%
    """
    weights = {name: weight for name, (weight, _) in PHASES.items() if film or name != "stills"}
    whole = sum(weights.values())
    ends = [0, *itertools.accumulate(weights.values())]
    spans = {
        name: (begin / whole, end / whole) for name, begin, end in zip(weights, ends, ends[1:], strict=False)
    }

    def tell(phase: str, share: float) -> None:
        name = phase.casefold()
        begin, end = spans.get(name, (0.0, 0.0))
        words = PHASES[name][1] if name in PHASES else phase
        done = min(max(share, 0.0), 1.0)
        progress(words, begin * (1.0 - done) + end * done)

    return tell
