"""Measure the analysis against worlds with known truth and print a Markdown table.

Usage: python tests/validation/validate.py [--seeds N] [--from-seed K] [STUDY ...]

Run by hand (it takes a while; a few seeds of it run among the tests). Each row gives the figure, its Monte
Carlo standard error and the target it is held against.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import robustness
import studies
import tails
from rows import HEAD

STUDIES = {
    study.__name__: study
    for study in (
        studies.centreline, studies.spread, studies.stretches, studies.quiet, studies.matching, studies.fixes,
        studies.pairs, robustness.breakdown, robustness.samplings, robustness.sampled_spread,
        robustness.moved, tails.heavy_tails,
    )
}  # fmt: skip


def main() -> None:
    """Run the studies that were asked for."""
    parser = argparse.ArgumentParser(description="Measure the analysis against worlds with known truth.")
    parser.add_argument("studies", nargs="*", metavar="STUDY", help=f"of {', '.join(STUDIES)}; default all")
    parser.add_argument("--seeds", type=int, default=40, help="how many worlds for each case")
    parser.add_argument("--from-seed", type=int, default=0)
    chosen = parser.parse_args()
    for name in chosen.studies or STUDIES:
        began = time.monotonic()
        print(f"\n### {name}\n\n{HEAD}", flush=True)
        for row in STUDIES[name](range(chosen.from_seed, chosen.from_seed + chosen.seeds)):
            print(row.markdown(), flush=True)
        print(f"\n{chosen.seeds} seeds, {time.monotonic() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
