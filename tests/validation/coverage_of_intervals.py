"""Measure how often every printed interval holds the truth; print a Markdown table.

Usage: python tests/validation/coverage_of_intervals.py [--seeds N] [--from-seed K] [--rides N ...] [--tau NAME ...]

Run by hand. Two receivers, σ 1.5 and 3 m, ridden together over 3 km; clocks up to 3 s apart, first fixes
evenly from 1 to 60 s. A figure that was given without an interval (not separable) does not count.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from rows import analysed
from studies import PROCESSES

from trackspread.model import Estimate, MedianEstimate, RouteResult
from world import Receiver, World, simulate

FIRST_FIX_S = (1.0, 60.0)
TRUE_MEDIAN_S = (30.0, 31.0)
FIGURES = (
    "spread of the route", "of its segments", "of a receiver", "SD of a", "SD of b", "their difference",
    "in common", "mean difference", "clock", "first fix",
)  # fmt: skip


def world_of(seed: int, rides: int, process: str) -> World:
    """Return the world of one case."""
    late_s = float(seed % 7 - 3)
    two = (
        Receiver(name="alder", sigma_m=1.5, taus=PROCESSES[process]),
        Receiver(name="bilberry", sigma_m=3.0, taus=PROCESSES[process], clock_offset_s=late_s),
    )
    own = 700_000 + 10_000 * rides + 1000 * list(PROCESSES).index(process) + seed
    shape = ("winding", "straight", "city")[seed % 3]
    return simulate(shape, seed=own, rides=rides, length_m=3000, receivers=two, fix_s=FIRST_FIX_S)


def held(world: World, found: RouteResult) -> Iterator[tuple[str, bool]]:
    """Yield every interval of one analysis by its name, and whether it holds the truth."""
    receivers = {recording.receiver.name: recording.receiver for recording in world.recordings}
    together = math.sqrt(np.mean([world.spread_m(one) ** 2 for one in receivers.values()]))
    yield from _inside("spread of the route", [found.spread], together)
    yield from _inside("of its segments", (segment.spread for segment in found.segments), together)
    for one in found.receivers:
        yield from _inside("of a receiver", [one.spread], world.spread_m(receivers[one.receiver]))
        yield from _median("first fix", one.first_fix_s)
    (pair,) = found.pairs
    a, b = receivers[pair.a], receivers[pair.b]
    yield from _inside("SD of a", [pair.sd_a], a.sigma_m)
    yield from _inside("SD of b", [pair.sd_b], b.sigma_m)
    yield from _inside("their difference", [pair.difference], a.sigma_m - b.sigma_m)
    yield from _inside("in common", [pair.common_sd_m], world.line_sd_m)
    yield from _inside("mean difference", [pair.bias_m], 0.0)
    yield from _inside("clock", [pair.clock_offset_s], a.clock_offset_s - b.clock_offset_s)


def _inside(name: str, estimates: Iterable[Estimate], truth: float) -> Iterator[tuple[str, bool]]:
    for one in estimates:
        if np.isfinite(one.value):
            yield name, one.low <= truth <= one.high


def _median(name: str, one: MedianEstimate) -> Iterator[tuple[str, bool]]:
    if np.isfinite(one.median):
        yield name, one.low <= TRUE_MEDIAN_S[1] and one.high >= TRUE_MEDIAN_S[0]


def row(rides: int, process: str, seeds: range) -> str:
    """Return the row of one case: the share of intervals that hold, and how many worlds stand behind it."""
    counts = {name: [0, 0] for name in FIGURES}
    for seed in seeds:
        world = world_of(seed, rides, process)
        for name, inside in held(world, analysed(world)):
            counts[name][0] += inside
            counts[name][1] += 1
    shares = [f"{hits / of:.3f}" if of else "–" for hits, of in counts.values()]
    return f"| n = {rides}, τ {process} | {' | '.join(shares)} |"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=100)
    parser.add_argument("--from-seed", type=int, default=0)
    parser.add_argument("--rides", type=int, nargs="+", default=[3, 4, 6, 10])
    parser.add_argument("--tau", nargs="+", choices=list(PROCESSES), default=list(PROCESSES))
    chosen = parser.parse_args(arguments)
    print(f"| case | {' | '.join(FIGURES)} |\n|{'---|' * (len(FIGURES) + 1)}")
    for rides in chosen.rides:
        for process in chosen.tau:
            print(row(rides, process, range(chosen.from_seed, chosen.from_seed + chosen.seeds)), flush=True)


if __name__ == "__main__":
    main()
