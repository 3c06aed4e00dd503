"""Measure the comparison of receivers ridden together on simulated campaigns; print a Markdown table.

Usage: python tests/validation/validate_pairs.py [--campaigns N] [--from-seed K]

Run by hand. Each figure stands with its Monte Carlo standard error.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from ridden_together import LONG, MIXED, SHORT, away_m, campaign
from trackspread.model import PairResult
from trackspread.options import Options
from trackspread.pairs.compare import pair_results

CASES = (
    ("60 s, σ 2 and 4 m", {"taus": SHORT}),
    ("60 s and 1000 s, σ 2 and 4 m", {"taus": MIXED}),
    ("1000 s, σ 2 and 4 m", {"taus": LONG}),
    ("60 s and 1000 s, σ 2 and 4 m, 3 rides", {"taus": MIXED, "rides": 3}),
    ("60 s and 1000 s, σ 2 and 4 m, 10 rides", {"taus": MIXED, "rides": 10}),
    ("60 s, σ 3 and 3 m", {"taus": SHORT, "sigmas_m": (3.0, 3.0)}),
    ("60 s and 1000 s, σ 3 and 3 m", {"taus": MIXED, "sigmas_m": (3.0, 3.0)}),
    ("1000 s, σ 3 and 3 m", {"taus": LONG, "sigmas_m": (3.0, 3.0)}),
    ("60 s and 1000 s, σ 2, 4 and 3 m", {"taus": MIXED, "sigmas_m": (2.0, 4.0, 3.0)}),
)
HEAD = (
    "| case (5 rides) | median SD a / true | median SD b / true | median error of SD a, b | "
    "not separable a, b | cover a | cover b | cover a − b | told apart | "
    "clock: median error s, within 1 s, cover |\n" + "|---" * 10 + "|"
)
CLOCK_S = 3601.7


def pair_of(seed: int, settings: dict[str, object]) -> PairResult:
    """Return the pair a, b of one campaign."""
    made = campaign(seed, clocks_s=(CLOCK_S, 0.0, 0.0), **settings)  # type: ignore[arg-type]
    return pair_results(
        made.station_m, made.offset_m, away_m(made), made.crossing_s, made.in_stretch, made.receivers, made.rides,
        Options(), 2000.0,
    )[0]  # fmt: skip


def row(name: str, settings: dict[str, object], seeds: range) -> str:
    """Return the row of one case."""
    found = [pair_of(seed, settings) for seed in seeds]
    true_a, true_b = settings.get("sigmas_m", (2.0, 4.0))[:2]  # type: ignore[index]
    cells = [name]
    ratios = [
        np.array([getattr(p, f"sd_{k}").value for p in found]) / t
        for k, t in zip("ab", (true_a, true_b), strict=True)
    ]
    cells += [f"{np.nanmedian(r):.2f} ± {1.25 * np.nanstd(r) / np.sqrt(len(r)):.2f}" for r in ratios]
    cells.append(", ".join(f"{np.nanmedian(np.abs(r - 1)):.0%}" for r in ratios))
    cells.append(", ".join(f"{np.mean(np.isnan(r)):.0%}" for r in ratios))
    for field, true in (("sd_a", true_a), ("sd_b", true_b), ("difference", true_a - true_b)):
        known = [e for e in (getattr(p, field) for p in found) if np.isfinite(e.value)]
        cells.append(_share([e.low <= true <= e.high for e in known]))
    cells.append(_share([p.told_apart for p in found]))
    late = np.array([p.clock_offset_s.value - CLOCK_S for p in found])
    cover = [p.clock_offset_s.low <= CLOCK_S <= p.clock_offset_s.high for p in found]
    cells.append(f"{np.median(np.abs(late)):.2f}, {np.mean(np.abs(late) <= 1):.0%}, {np.mean(cover):.0%}")
    return f"| {' | '.join(cells)} |"


def _share(hits: list[bool]) -> str:
    p = float(np.mean(hits))
    return f"{p:.1%} ± {np.sqrt(p * (1 - p) / len(hits)):.1%}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--campaigns", type=int, default=200)
    parser.add_argument("--from-seed", type=int, default=0)
    chosen = parser.parse_args()
    print(HEAD)
    for name, settings in CASES:
        print(row(name, settings, range(chosen.from_seed, chosen.from_seed + chosen.campaigns)), flush=True)


if __name__ == "__main__":
    main()
