"""A campaign as people ride it: five routes, other ways, stops, gaps, a point every 2 to 3 s; not a test."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from world import Fault, Receiver, Recording, simulate
from world.files import write_gpx
from world.globe import Globe
from world.routes import SHAPES, Route

SHARES = (0.37, 0.27, 0.18, 0.11, 0.07)
"""Share of the rides that each of five routes has."""
LENGTHS_M = (12_000.0, 9000.0, 14_000.0, 7000.0, 10_000.0)
WAYS, RIDES_A_WAY = 3, 0.2
"""On every route so many other ways over part of it, each ridden by such a share of the rides."""
LIGHTS = 8


def campaign(rides: int, seed: int = 1) -> Iterator[list[Recording]]:
    """Yield the recordings of one route after the other, ``rides`` in all."""
    counts = [max(2, round(rides * share)) for share in SHARES]
    counts[0] += rides - sum(counts)
    for number, (count, length_m) in enumerate(zip(counts, LENGTHS_M, strict=True)):
        rng = np.random.default_rng([seed, number])
        route = SHAPES["winding"](rng, length_m, False)
        world = simulate(
            route,
            seed=100 * seed + number,
            rides=count,
            receivers=(Receiver(name=f"watch {number}", sampling="2-3 s"),),
            faults=[*_ways(rng, route, count), *_gaps(rng, route, count)],
            lights=LIGHTS,
            globe=Globe(lon_deg=-84.0 + number, lat_deg=75.2),
            first_start_s=1_930_287_600.0 + 7200.0 * number,
            file_names=f"{number}_{{ride:04d}}.gpx",
        )
        yield list(world.recordings)


def write_campaign(folder: Path, rides: int) -> int:
    """Write the GPX files of a campaign and its rides.csv; return the number of points."""
    recordings = [recording for route in campaign(rides) for recording in route]
    write_gpx(recordings, folder, ride_name=lambda r: r.file.removesuffix(".gpx"))
    return sum(len(r.time_s) for r in recordings)


def _ways(rng: np.random.Generator, route: Route, rides: int) -> Iterator[Fault]:
    """Yield other ways over part of the route, each ridden alike by some rides, and each tenth ride alone."""
    room = route.length_m / (WAYS + 1)
    for way in range(WAYS):
        start = room * (way + 0.4)
        fault = Fault(
            kind="detour",
            from_m=start,
            to_m=start + rng.uniform(200, 450),
            offset_m=float(rng.choice([-1, 1])) * rng.uniform(25, 50),
        )
        some = rng.permutation(rides)[: max(2, round(RIDES_A_WAY * rides))]
        yield from (replace(fault, ride=int(ride)) for ride in some)
    for ride in range(0, rides, 10):
        at = rng.uniform(room * WAYS + 200, route.length_m - 600)
        yield Fault(kind="detour", ride=ride, from_m=at, to_m=at + 180, offset_m=rng.uniform(20, 45))


def _gaps(rng: np.random.Generator, route: Route, rides: int) -> Iterator[Fault]:
    for ride in range(0, rides, 4):
        at = rng.uniform(500, route.length_m - 800)
        yield Fault(kind="gap", ride=ride, from_m=at, to_m=at + rng.uniform(60, 300), ramp_m=1.0)
