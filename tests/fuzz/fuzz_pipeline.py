"""Odd sets of rides through the whole tool, for as long as you like (Linux: it watches time and memory).

A find stops the run: it is shown, and its files are kept in a folder that is named. From anywhere::

    python tests/fuzz/fuzz_pipeline.py --examples 5000 --seed 1
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings

sys.path.insert(0, str(Path(__file__).parents[1]))

from fuzz.odd_rides import OddRides, odd_rides
from fuzz.pipeline_run import Ran, run


def main() -> int:
    """Run the examples; print how many, the slowest and the largest."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--examples", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--points", type=int, default=400, help="most points of a trace's line")
    given_ = parser.parse_args()
    ran: list[Ran] = []
    begun = time.monotonic()

    @seed(given_.seed)
    @settings(
        max_examples=given_.examples, deadline=None, database=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(odd_rides(given_.points))
    def one(rides: OddRides) -> None:
        try:
            ran.append(run(rides))
        except BaseException as error:
            if not isinstance(error, KeyboardInterrupt):
                _keep(rides)
            raise
        if len(ran) % 100 == 0:
            print(_told(ran, begun), flush=True)

    try:
        one()
    finally:
        print(_told(ran, begun))
    return 0


def _keep(rides: OddRides) -> None:
    place = Path(tempfile.mkdtemp(prefix="find-"))
    rides.write(place)
    print(f"kept in {place}: {rides!r}")


def _told(ran: list[Ran], begun: float) -> str:
    if not ran:
        return "no input"
    slowest, largest = max(r.seconds for r in ran), max(r.peak_bytes for r in ran)
    found = sum(r.routes > 0 for r in ran)
    return (
        f"{len(ran)} inputs in {time.monotonic() - begun:.0f} s: {found} analysed, {len(ran) - found} refused; "
        f"slowest {slowest:.1f} s, largest {largest / 1e6:.0f} MB"
    )


if __name__ == "__main__":
    sys.exit(main())
