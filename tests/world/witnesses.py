"""Recordings as the witnesses that the pipeline takes, without the way through files."""

from __future__ import annotations

import numpy as np

from trackspread.model import Trace, Witness
from world.simulation import World


def as_witnesses(world: World) -> list[Witness]:
    """Return one witness a recording, answers as a filled-in rides.csv would give them."""
    return [
        Witness(
            trace=Trace(
                file=r.file, format="GPX 1.1", time_s=r.time_s, lon_deg=r.lon_deg, lat_deg=r.lat_deg,
                elevation_m=np.full(len(r.time_s), np.nan), break_before=np.zeros(len(r.time_s), bool),
            ),
            receiver=r.receiver.name, ride=str(r.ride + 1), receiver_from="sheet", ride_from="sheet",
            start_s=r.start_s if r.start_known else float("nan"),
            start_source="declared" if r.start_known else "none",
        )
        for r in world.recordings
    ]  # fmt: skip
