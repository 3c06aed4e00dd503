"""How far the figures hold beyond the targets: many faults at once, other samplings, other places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from judging import shifted_stations, true_offsets
from rows import Row, analysed, root_ratio
from studies import spread

from world import Fault, Globe, Receiver, simulate

HOME = Globe(lon_deg=-84.0, lat_deg=75.2)
ELSEWHERE = {
    "turned by 77°": Globe(lon_deg=-84.0, lat_deg=75.2, turn_deg=77),
    "across the antimeridian": Globe(lon_deg=179.999, lat_deg=-51.0, turn_deg=20),
    "at 85° N": Globe(lon_deg=12.0, lat_deg=85.0, turn_deg=200),
    "on the equator": Globe(lon_deg=0.0, lat_deg=0.0, turn_deg=300),
}


def breakdown(
    seeds: range, counts: Sequence[int] = range(5), places: Sequence[str] = ("one side", "both sides")
) -> Iterator[Row]:
    """How far a share of faulty traces pulls the centreline where all of them err at once."""
    for sides in places:
        for faulty in counts:
            squares, pull = [], []
            for seed in seeds:
                offsets = [18.0 if sides == "one side" or k % 2 else -18.0 for k in range(faulty)]
                faults = [
                    Fault(kind="stretch", ride=k, from_m=1000, to_m=2000, ramp_m=30, offset_m=offset)
                    for k, offset in enumerate(offsets)
                ]
                world = simulate("straight", seed=7000 + seed, rides=10, length_m=3000, faults=faults)
                station, error = shifted_stations(world, analysed(world))
                inside = error[(station > 1050) & (station < 1950)]
                squares.append(float((inside**2).mean()))
                pull.append(float(inside.mean()))
            ratio = root_ratio(squares, world.spread_m(Receiver()) ** 2 / 10)
            case = f"{10 * faulty} % of 10 traces off by 18 m to {sides}"
            yield Row(case, "RMS there / (σ/√n)", *ratio, note=f"mean pull {np.mean(pull):+.2f} m")


def samplings(seeds: range) -> Iterator[Row]:
    """The centreline at other sampling."""
    for sampling in ("2-3 s", "3-11 s", "5 Hz", "10 Hz"):
        squares, ideal = [], []
        for seed in seeds[:: 2 if "Hz" in sampling else 1]:
            receiver = Receiver(sampling=sampling)
            world = simulate("winding", seed=8000 + seed, rides=6, length_m=4000, receivers=[receiver])
            station, error = shifted_stations(world, analysed(world))
            squares.append(float((error**2).mean()))
            ideal.append(float(np.nanmean(true_offsets(world, station).mean(axis=0) ** 2)))
        ratio = root_ratio(squares, ideal)
        yield Row(
            f"a point every {sampling}, n = 6", "RMS / RMS of the mean of true offsets", *ratio, high=1.10
        )


def sampled_spread(seeds: range) -> Iterator[Row]:
    """The spread at other sampling."""
    for sampling in ("2-3 s", "3-11 s"):
        yield from spread(seeds, sampling, (4,))


def moved(seeds: range) -> Iterator[Row]:
    """The same rides elsewhere on the globe and turned: figures must not change."""
    for place, globe in ELSEWHERE.items():
        line, figure = [], []
        for seed in seeds[:10]:
            here, there = (
                simulate("winding", seed=9000 + seed, rides=5, stretches=1, detours=1, globe=g)
                for g in (HOME, globe)
            )
            a, b = analysed(here), analysed(there)
            at_a, error_a = shifted_stations(here, a)
            at_b, error_b = shifted_stations(there, b)
            line.append(float(np.abs(np.interp(at_a, at_b, error_b) - error_a).max()))
            figure.append(abs(b.spread.value / a.spread.value - 1))
        yield Row(
            place, "centreline moves by at most, m", max(line), note=f"spread by at most {max(figure):.2%}"
        )
