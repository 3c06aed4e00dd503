"""A review as it is ridden: several watches at once, out and back, written as GPX files with their rides.csv.

``python tests/world/watches.py FOLDER [WATCHES] [RIDES]``, with 3 watches and 4 rides 24 files.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from world import Fault, Receiver, simulate, write_gpx
from world.routes import SHAPES
from world.simulation import FIRST_START_S, Recording

NAMES = ("Moss", "Lichen", "Campion", "Sedge", "Thrift", "Bryony", "Yarrow", "Avens")
SIGMA_M = (1.6, 3.4, 2.0, 2.6, 1.8, 3.0, 2.2, 4.0)
FIRST_FIX_S = (4.0, 31.0, 9.0, 6.0, 17.0, 5.0, 12.0, 24.0)
SHAPE_SEED = 5
BACK_AFTER_S = 5_400.0


def ridden(watches: int = 3, rides: int = 4, length_m: float = 3200.0, seed: int = 1) -> list[Recording]:
    """Return the recordings of ``watches`` watches carried together on ``rides`` rides out and back.

    On the third ride out the rider takes another way; the second watch strays on its own and once finds its
    first position only after 83 s.
    """
    import numpy as np

    way = SHAPES["winding"](np.random.default_rng(SHAPE_SEED), length_m, False)
    carried = [Receiver(name=NAMES[i], sigma_m=SIGMA_M[i]) for i in range(watches)]
    faults = [
        Fault(
            kind="detour", ride=min(2, rides - 1), from_m=0.47 * length_m, to_m=0.54 * length_m, offset_m=28
        )
    ]
    if watches > 1:
        faults += [
            Fault(
                kind="stretch",
                ride=0,
                receiver=NAMES[1],
                from_m=0.66 * length_m,
                to_m=0.71 * length_m,
                offset_m=-22,
            ),
            Fault(kind="late", ride=1, receiver=NAMES[1], seconds=83),
        ]
    faults += [
        Fault(kind="late", ride=ride, receiver=NAMES[i], seconds=FIRST_FIX_S[i] + (7 * ride + 3 * i) % 5)
        for i in range(watches)
        for ride in range(rides)
    ]
    found = []
    for part, (line, late_s) in enumerate(((way, 0.0), (way.reversed(), BACK_AFTER_S))):
        world = simulate(
            line,
            seed=seed + part,
            rides=rides,
            receivers=carried,
            common_share=0.1,
            faults=faults if part == 0 else faults[-watches * rides :],
            first_start_s=FIRST_START_S + late_s,
            file_names=("out", "back")[part] + "_{ride}_{receiver}.gpx",
        )
        found += [replace(r, ride=r.ride + part * rides) for r in world.recordings]
    return found


if __name__ == "__main__":
    folder, *counts = sys.argv[1:]
    write_gpx(ridden(*map(int, counts)), Path(folder), ride_name=lambda r: str(r.ride + 1))
