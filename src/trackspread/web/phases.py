"""How far a whole run is: phases tell their own share, the page shows one share, in plain words."""

from __future__ import annotations

import types
from collections.abc import Mapping

from trackspread.api import Progress

PHASES: Mapping[str, tuple[float, float, str]] = types.MappingProxyType(
    {
        "grouping": (0.0, 0.1, "Sorting the traces into routes"),
        "routes": (0.1, 0.6, "Laying the traces on each other"),
        "writing": (0.6, 0.98, "Writing report, map and tables"),
        "packing": (0.98, 1.0, "Packing everything into one file"),
    }
)
"""Begin and end of each phase as shares of the whole, from runs of four to forty rides, and its words."""


def overall(progress: Progress) -> Progress:
    """Return a progress to give to the API, which tells ``progress`` the share of the whole."""

    def tell(phase: str, share: float) -> None:
        begin, end, words = PHASES.get(phase.casefold(), (0.0, 0.0, phase))
        progress(words, begin + min(max(share, 0.0), 1.0) * (end - begin))

    return tell
