"""How often the interval of a few real trips holds the spread of all of them; print a Markdown table.

Usage: python tests/validation/real_trips.py [--folder PATH] [--draws N] [--from-seed K] [--rides N ...]

Run by hand, where recordings of many trips on one way lie in ``../shared/real/shuttle`` or in ``--folder``. The
spread of all trips about their line stands for the truth: that of all errors, nothing left out.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from rows import only_route

from trackspread import api
from trackspread.model import Estimate, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse

FOLDER = Path(__file__).resolve().parents[3] / "shared/real/shuttle"
HEAD = (
    "| rides | value / σ, root mean square | interval holds σ | σ below it | above it | high / low, median |\n"
    "|---|---|---|---|---|---|"
)


def spread_of(trips: Sequence[Witness]) -> Estimate:
    """Return the spread of all errors that some of the trips tell."""
    return only_route(analyse(trips, Options())).spread_all


def row(rides: int, told: Sequence[Estimate], sigma_m: float) -> str:
    """Return the row of one number of rides."""
    value, low, high = (np.array([getattr(one, name) for one in told]) for name in ("value", "low", "high"))
    held = (low <= sigma_m) & (sigma_m <= high)
    cells = (
        f"{rides}", f"{np.sqrt(np.mean(value**2)) / sigma_m:.2f}", f"{held.sum()} of {len(told)}",
        f"{np.sum(low > sigma_m)}", f"{np.sum(high < sigma_m)}", f"{np.median(high / low):.2f}",
    )  # fmt: skip
    return f"| {' | '.join(cells)} |"


def main() -> None:
    """Draw subsets of the trips, analyse each, and print how they do."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--folder", type=Path, default=FOLDER)
    parser.add_argument("--draws", type=int, default=40)
    parser.add_argument("--from-seed", type=int, default=0)
    parser.add_argument("--rides", type=int, nargs="+", default=[3, 4, 6, 10])
    asked = parser.parse_args()
    trips = api.read(asked.folder).witnesses
    sigma_m = spread_of(trips).value
    print(f"{len(trips)} trips, spread of all errors {sigma_m:.2f} m\n\n{HEAD}", flush=True)
    for rides in asked.rides:
        rng = np.random.default_rng([asked.from_seed, rides])
        drawn = [rng.choice(len(trips), rides, replace=False) for _ in range(asked.draws)]
        told = [spread_of([trips[i] for i in sorted(some)]) for some in drawn]
        print(row(rides, told, sigma_m), flush=True)


if __name__ == "__main__":
    main()
