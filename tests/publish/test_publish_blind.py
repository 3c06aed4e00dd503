"""What is cut leaves no mark: records that differ only in what is hidden give the same publication.

This is non-interference (Goguen & Meseguer 1982, IEEE Symposium on Security and Privacy): whoever sees only
the publication cannot tell which of the two records it was made from.
"""

from __future__ import annotations

import dataclasses
import random
from typing import Any

import numpy as np
import pytest

from alike import same
from records import STEP_M, make_analysis
from trackspread import model as m
from trackspread.publish.cut import cut_for_publishing

MORE_M = 40.0
MORE = round(MORE_M / STEP_M)
AT = 20


def later(spans: tuple[Any, ...]) -> tuple[Any, ...]:
    """Stretches, gaps, segments, farther along by what was put in before them."""
    return tuple(dataclasses.replace(s, from_m=s.from_m + MORE_M, to_m=s.to_m + MORE_M) for s in spans)


def wiggled(route: m.RouteResult) -> m.RouteResult:
    """The same route with 40 m more of it 100 m from its start, and all before it ten seconds earlier."""

    def longer(array: np.ndarray, fill: Any, at: int = AT) -> np.ndarray:
        new = np.broadcast_to(fill, (*array.shape[:-1], MORE))
        return np.concatenate([array[..., :at], new, array[..., at:]], -1)

    def trace_of(trace: m.TraceResult) -> m.TraceResult:
        at = int(np.searchsorted(trace.station_m, AT * STEP_M))
        past = np.arange(len(trace.station_m) + MORE) >= at + MORE
        station = longer(trace.station_m, np.linspace(AT * STEP_M + 1, AT * STEP_M + MORE_M, MORE), at)
        return dataclasses.replace(
            trace,
            recorded_length_m=trace.recorded_length_m + MORE_M,
            coverage=0.5,
            first_fix=dataclasses.replace(trace.first_fix, at_station_m=17.0, missing_m=3.0),
            lon_deg=longer(trace.lon_deg, trace.lon_deg[at] + np.linspace(0, 1e-4, MORE), at),
            lat_deg=longer(trace.lat_deg, trace.lat_deg[at], at),
            time_s=longer(trace.time_s, trace.time_s[at], at) - np.where(past, 0.0, 10.0),
            station_m=np.where(past, station + MORE_M, station),
            break_before=longer(trace.break_before, False, at),
            gaps=later(trace.gaps),
        )

    fills = {
        "offset_m": 7.0, "deviation_m": -7.0, "crossing_s": 1e9, "in_stretch": True,
        "station_spread_m": 9.0, "station_low_m": 8.0, "station_high_m": 99.0,
    }  # fmt: skip
    return dataclasses.replace(
        route,
        length_m=route.length_m + MORE_M,
        station_m=np.arange(len(route.station_m) + MORE) * STEP_M,
        lon_deg=longer(route.lon_deg, route.lon_deg[AT] + np.linspace(0.0, 1e-4, MORE)),
        lat_deg=longer(route.lat_deg, route.lat_deg[AT]),
        **{name: longer(getattr(route, name), fill) for name, fill in fills.items()},
        traces=tuple(map(trace_of, route.traces)),
        segments=later(route.segments),
        stretches=tuple(s if s.from_m == 0.0 else later((s,))[0] for s in route.stretches),
        receivers=tuple(dataclasses.replace(r, stretch_share=r.stretch_share * 0.9) for r in route.receivers),
        film=later(route.film),
        notes=(
            *route.notes,
            m.Reason.of("went_aside", traces=(("Moss", "1", 90.0, 60.0),)),
        ),
        pairs=tuple(
            dataclasses.replace(
                p,
                separation_across_m=longer(p.separation_across_m, 3.0),
                separation_along_m=longer(p.separation_along_m, 3.0),
            )
            for p in route.pairs
        ),
    )


@pytest.mark.parametrize("seed", [1, 2, 3, 11])  # where the disc is cut, not the length along the line
@pytest.mark.parametrize("hide_dates", [False, True])
def test_what_lies_within_the_cut_changes_nothing(seed: int, hide_dates: bool) -> None:
    whole = make_analysis(routes=1)
    other = dataclasses.replace(
        whole,
        routes=(wiggled(whole.routes[0]),),
        inputs=tuple(
            dataclasses.replace(
                r, points=r.points + MORE, start_time_s=r.start_time_s - 10.0, file=f"x{r.file}"
            )
            if r.status == "used"
            else r
            for r in whole.inputs
        ),
    )
    other = dataclasses.replace(
        other,
        routes=tuple(
            dataclasses.replace(
                route,
                traces=tuple(dataclasses.replace(t, file=f"x{t.file}") for t in route.traces),
                stretches=tuple(dataclasses.replace(s, file=f"x{s.file}") for s in route.stretches),
            )
            for route in other.routes
        ),
    )
    first = cut_for_publishing(whole, rng=random.Random(seed), hide_dates=hide_dates)
    second = cut_for_publishing(other, rng=random.Random(seed), hide_dates=hide_dates)
    assert first.routes[0].length_m < whole.routes[0].length_m - 400
    same(first, second)
