"""The same rides as receivers of other habits would have logged them: points left out, none moved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from trackspread.model import Witness
from world import World
from world.witnesses import as_witnesses

COLUMNS = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")
KINDS = ("10 Hz", "5 Hz", "1 s", "3-11 s", "at bends", "mixed")
SAGITTA_M = 2.0
MOST_S = 20

Ints = NDArray[np.int64]


def thinned(world: World, kind: str, seed: int) -> list[Witness]:
    """Return the witnesses of a world logged at 10 Hz with only the points that a receiver of ``kind`` keeps.

    ``at bends``: a point where the straight line from the last would be off by more than 2 m, and every
    20 s; ``mixed``: each ride by another kind.
    """
    rng = np.random.default_rng(seed)
    out = []
    for number, witness in enumerate(as_witnesses(world)):
        own = KINDS[number % 5] if kind == "mixed" else kind
        keep = _kept(witness, own, rng, world)
        columns = {name: getattr(witness.trace, name)[keep] for name in COLUMNS}
        out.append(replace(witness, trace=replace(witness.trace, **columns)))
    return out


def _kept(witness: Witness, kind: str, rng: np.random.Generator, world: World) -> Ints:
    every = np.arange(len(witness.trace.lon_deg))
    if kind in ("10 Hz", "5 Hz"):
        return every[:: 1 if kind == "10 Hz" else 2]
    seconds = every[::10]
    if kind == "3-11 s":
        after = np.concatenate([[0], np.cumsum(rng.integers(3, 12, len(seconds)))])
        return seconds[after[after < len(seconds)]]
    if kind == "at bends":
        x, y = world.globe.to_plane(witness.trace.lon_deg[seconds], witness.trace.lat_deg[seconds])
        return seconds[_at_bends(np.stack([x, y], axis=1))]
    return seconds


def _at_bends(points: NDArray[np.float64]) -> list[int]:
    kept = [0]
    for k in range(1, len(points)):
        chord = points[min(k + 1, len(points) - 1)] - points[kept[-1]]
        between = points[kept[-1] : k + 1] - points[kept[-1]]
        off = np.abs(between[:, 0] * chord[1] - between[:, 1] * chord[0])
        bent = np.hypot(*chord) > 1.0 and off.max() > SAGITTA_M * np.hypot(*chord)
        if bent or k - kept[-1] >= MOST_S:
            kept.append(k)
    return kept
