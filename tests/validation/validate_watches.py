"""Measure the comparison over everything on simulated campaigns; print a Markdown table.

Usage: python tests/validation/validate_watches.py [--campaigns N] [--from-seed K] [--only WORDS]

Run by hand. Errors are Gaussian or have heavy tails (`world.receivers`), rides are of unequal quality, and the
rider's line is shared. Offsets go straight into the records of a route: matching and stretches take no part.
Each figure stands with its Monte Carlo standard error.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from ridden_together import gauss_markov
from trackspread import model as m
from trackspread.noise.effective import centred
from trackspread.noise.posterior import posterior
from trackspread.options import Options
from trackspread.pipeline.comparison import comparison
from trackspread.statistics.deviation import deviation
from trackspread.statistics.spread import of_route, variance
from world.receivers import HEAVY_TAILED, Receiver, errors_of_ride

STEP_M, SPEED_MS, LENGTH_M, LINE_M = 10.0, 5.5, 4000.0, 0.6
COMMON_SHARE = 0.1
KINDS = {
    "Gaussian, 60 s": Receiver(sigma_m=3.0, taus=((60.0, 1.0),)),
    "Gaussian, 60 and 1000 s": Receiver(sigma_m=3.0),
    **HEAVY_TAILED,
}


@dataclass(frozen=True, kw_only=True)
class Plan:
    """``ratios`` are the SDs of the watches over that of their kind; ``rides`` counts those of each route."""

    ratios: Sequence[float]
    rides: int
    routes: int = 1
    together: bool = True


def campaign(rng: np.random.Generator, kind: Receiver, plan: Plan) -> m.Comparison:
    """Return the comparison of one campaign."""
    routes = [_route(rng, kind, plan, f"Route {number}") for number in range(plan.routes)]
    found = comparison(routes, Options())
    assert found is not None
    return found


def _route(rng: np.random.Generator, kind: Receiver, plan: Plan, name: str) -> m.RouteResult:
    station = np.arange(0.0, LENGTH_M + 1.0, STEP_M)
    watches = [replace(kind, name=chr(97 + k), sigma_m=kind.sigma_m * r) for k, r in enumerate(plan.ratios)]
    crews = [watches] * plan.rides if plan.together else [[w] for w in watches for _ in range(plan.rides)]
    offset, who, ride = list[m.Floats](), list[str](), list[int]()
    for number, crew in enumerate(crews):
        line = LINE_M * gauss_markov(rng, 1, len(station), 660.0)[0]
        errors = errors_of_ride(
            rng, crew, [station / SPEED_MS] * len(crew), COMMON_SHARE if len(crew) > 1 else 0.0
        )
        offset += [line + error[:, 0] for error in errors]
        who += [watch.name for watch in crew]
        ride += [number] * len(crew)
    values, numbers = np.array(offset), np.array(ride)
    heading = np.zeros(len(station))
    own = 1.0 - 1.0 / max(plan.rides, 2)
    alike = posterior(centred(values)[0], heading, STEP_M, own).correlation(heading, STEP_M)
    own = deviation(values, values, numbers, STEP_M, alike)
    return _record(
        rng, name, station, values, own.deviation_m, alike.length_m(), who, [f"{name} {r}" for r in ride]
    )


def _record(
    rng: np.random.Generator, name: str, station: m.Floats, offset: m.Floats, away: m.Floats, length_m: float,
    who: Sequence[str], ride: Sequence[str],
) -> m.RouteResult:  # fmt: skip
    """Return the record of a route, with first fixes and stretches that are alike for all watches."""
    none, line = float("nan"), np.zeros(len(station))
    traces, stretches = [], []
    for number in range(len(offset)):
        fix = float(np.round(rng.lognormal(2.0, 0.7)))
        for at in rng.uniform(0, LENGTH_M - 200, rng.poisson(0.4)):
            stretches.append(
                m.Stretch(
                    number=number, file=f"{number}.gpx", receiver=who[number], ride=ride[number], from_m=at,
                    to_m=at + 150.0, peak_m=20.0, mean_m=15.0, side="left", seconds=27.0, start_time_s=none,
                    cause="receiver",
                )
            )  # fmt: skip
        traces.append(
            m.TraceResult(
                number=number, file=f"{number}.gpx", part=0, name="", receiver=who[number], ride=ride[number],
                first_fix=m.FirstFix(value_s=fix, source="declared", at_station_m=0.0),
                settled_fix=m.SettledFix(
                    value_s=fix + 5.0, at_station_m=0.0, censored=False, band_m=9.0, hold_s=30.0
                ),
                spread_m=none, bias_m=none, p95_m=none, coverage=1.0, recorded_length_m=LENGTH_M, gaps=(),
                lon_deg=line, lat_deg=line, time_s=line, station_m=station, break_before=line > 1.0,
            )
        )  # fmt: skip
    return m.RouteResult(
        name=name, length_m=LENGTH_M, proj4="", scale_error_ppm=0.0, station_step_m=STEP_M, station_m=station,
        lon_deg=line, lat_deg=line, offset_m=offset, deviation_m=away, crossing_s=offset * np.nan,
        in_stretch=offset > np.inf, station_spread_m=line, station_low_m=line, station_high_m=line,
        spread=m.Estimate(), p95_m=none, correlation_length_m=length_m, traces=tuple(traces), segments=(),
        stretches=tuple(stretches), receivers=_receivers(offset, who, ride),
    )  # fmt: skip


def _receivers(offset: m.Floats, who: Sequence[str], ride: Sequence[str]) -> tuple[m.ReceiverResult, ...]:
    """Return the spread of all errors of each watch on a route."""
    out = []
    for name in sorted(set(who)):
        mine = np.flatnonzero(np.array(who) == name)
        rides = np.unique(np.array(ride)[mine], return_inverse=True)[1].astype(np.int64)
        whole = offset[mine]
        found = variance(
            whole, np.full(whole.shape, STEP_M / 2.0), whole > np.inf, rides, 0 * rides, np.zeros(whole.shape[1]),
            STEP_M,
        )  # fmt: skip
        none = m.MedianEstimate()
        out.append(
            m.ReceiverResult(
                receiver=name, rides=len(mine), spread=m.Estimate(), first_fix_s=none, settled_fix_s=none,
                stretch_share=0.0, spread_all=of_route(found, Options().confidence, bursts=True),
            )
        )  # fmt: skip
    return tuple(out)


def row(name: str, kind: Receiver, plan: Plan, seeds: range) -> str:
    """Return one row of the table."""
    told, spread, ratio, gap, own = (list[bool]() for _ in range(5))
    equal = len(set(plan.ratios)) == 1
    for seed in seeds:
        found = campaign(np.random.default_rng([seed, len(plan.ratios), plan.rides]), kind, plan)
        every = [*found.differences, *(found.by_ride if equal else ())]
        told.append(any(one.told_apart for one in every))
        sd = {chr(97 + k): kind.sigma_m * r for k, r in enumerate(plan.ratios)}
        for one in found.receivers:
            spread.append(one.spread.low <= np.hypot(sd[one.receiver], LINE_M) <= one.spread.high)
            if plan.together:
                true = sd[one.receiver] * np.sqrt(1 - COMMON_SHARE)
                own.append(one.own_sd.low <= true <= one.own_sd.high)
        for pair in found.differences:
            a, b = (np.sqrt(sd[x] ** 2 * (1 - COMMON_SHARE)) for x in (pair.a, pair.b))
            if not plan.together:
                a, b = (np.hypot(sd[x], LINE_M) for x in (pair.a, pair.b))
            ratio.append(pair.ratio.low <= a / b <= pair.ratio.high)
            gap.append(pair.difference.low <= a - b <= pair.difference.high)
    return f"| {name} | {' | '.join(map(_share, (told, spread, ratio, gap, own)))} |"


def _share(hits: Sequence[bool]) -> str:
    if not hits:
        return "–"
    p = float(np.mean(hits))
    return f"{p:.1%} ± {np.sqrt(p * (1 - p) / len(hits)):.1%}"


PLANS = {
    "2 equal, 4 rides together": Plan(ratios=(1.0, 1.0), rides=4),
    "3 equal, 4 rides together": Plan(ratios=(1.0, 1.0, 1.0), rides=4),
    "3 equal, 4 rides out and 4 back": Plan(ratios=(1.0, 1.0, 1.0), rides=4, routes=2),
    "3 equal, 4 rides each, apart": Plan(ratios=(1.0, 1.0, 1.0), rides=4, together=False),
    "3 equal, 10 rides together": Plan(ratios=(1.0, 1.0, 1.0), rides=10),
    "ratio 1.5, 4 rides together": Plan(ratios=(1.5, 1.0), rides=4),
    "ratio 1.5, 4 rides out and 4 back": Plan(ratios=(1.5, 1.0), rides=4, routes=2),
    "ratio 1.5, 10 rides together": Plan(ratios=(1.5, 1.0), rides=10),
    "ratio 2, 4 rides together": Plan(ratios=(2.0, 1.0), rides=4),
    "ratio 2, 4 rides out and 4 back": Plan(ratios=(2.0, 1.0), rides=4, routes=2),
    "ratio 2, 4 rides each, apart": Plan(ratios=(2.0, 1.0), rides=4, together=False),
}


def rows(seeds: range, only: str = "") -> Iterator[str]:
    """Yield the rows of all kinds, and of the plans whose names have these words."""
    for plan_name, plan in PLANS.items():
        if only not in plan_name:
            continue
        for kind_name, kind in KINDS.items():
            yield row(f"{plan_name}; {kind_name}", kind, plan, seeds)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--campaigns", type=int, default=200)
    parser.add_argument("--from-seed", type=int, default=1)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    print(
        "| case | any told apart | spread: interval holds | ratio holds | difference holds | own SD holds |"
    )
    print("|---|---|---|---|---|---|")
    for line in rows(range(asked.from_seed, asked.from_seed + asked.campaigns), asked.only):
        print(line, flush=True)


if __name__ == "__main__":
    main()
