"""How the intervals hold where errors have heavy tails, and what is called a stretch there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from judging import score_stretches, shifted_stations, total, true_offsets
from rows import Row, analysed, covered, root_ratio

from trackspread.statistics.spread import across_rides
from world import simulate
from world.receivers import HEAVY_TAILED

SHAPES = ("winding", "straight", "loop")


def heavy_tails(
    seeds: range, counts: Sequence[int] = (3, 4, 6, 10), kinds: Sequence[str] = tuple(HEAVY_TAILED)
) -> Iterator[Row]:
    """Spread of a route and its segments, and false stretches, by receivers with heavy tails."""
    for kind in kinds:
        receiver = HEAVY_TAILED[kind]
        for n in counts:
            kept, every, kept_in, every_in, segment_in, drawn, scores = [], [], [], [], [], [], []
            for seed in seeds:
                own = 300_000 + 20_000 * n + 1000 * list(HEAVY_TAILED).index(kind) + seed
                world = simulate(SHAPES[seed % 3], seed=own, rides=n, length_m=4000, receivers=[receiver])
                found, sigma = analysed(world), world.spread_m(receiver)
                for one, ratios, inside in (
                    (found.spread, kept, kept_in), (found.spread_all, every, every_in)
                ):  # fmt: skip
                    ratios.append((one.value / sigma) ** 2)
                    inside.append(float(one.low <= sigma <= one.high))
                known = [s.spread for s in found.segments if np.isfinite(s.spread.value)]
                segment_in.append(float(np.mean([e.low <= sigma <= e.high for e in known])))
                true_m = true_offsets(world, shifted_stations(world, found)[0])
                drawn.append(float(np.nanmean(across_rides(true_m, np.arange(n))[0])) / sigma**2)
                scores.append(score_stretches(world, found))
            case = f"{kind}, n = {n}"
            yield Row(case, "all errors: value / σ", *root_ratio(every, 1.0))
            yield Row(
                case, "all errors: value / that of the true offsets", *root_ratio(every, drawn), 0.97, 1.03
            )
            yield Row(case, "all errors: interval holds σ", *covered(every_in), 0.93)
            yield Row(case, "kept: value / σ", *root_ratio(kept, 1.0))
            yield Row(case, "kept: interval holds σ", *covered(kept_in))
            yield Row(case, "segments, kept: interval holds σ", *covered(segment_in))
            whole = total(scores)
            per = 50 / whole.trace_km
            error = per * np.sqrt(max(whole.false, 1))
            note = f"{whole.trace_km:.0f} km"
            yield Row(case, "false per 50 trace-km", per * whole.false, error, high=1.0, note=note)
