"""Made analyses of many watches: who differs is given by how far their spreads are apart."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Sequence

import numpy as np

from records import make_analysis
from trackspread import model as m
from trackspread.statistics.letters import letters

NAMES = ("Moss", "Thrift", "Campion", "Yarrow", "Sedge", "Bryony", "Lichen", "Avens")


def compared(
    spreads: Sequence[float], apart_by: float, basis: m.Basis = "together", traces: int = 6
) -> m.Analysis:
    """Return an analysis of one watch a spread; two differ where their spreads are ``apart_by`` apart."""
    names = NAMES[: len(spreads)]
    pairs = list(itertools.combinations(range(len(spreads)), 2))
    apart = np.abs(np.subtract.outer(spreads, spreads)) >= apart_by
    differences = tuple(
        m.Difference(
            a=names[i], b=names[j], rides=8, basis=basis,
            ratio=m.Estimate(value=spreads[i] / spreads[j], low=0.2, high=0.9),
            difference=m.Estimate(value=spreads[i] - spreads[j], low=spreads[i] - spreads[j] - 1, high=-0.2),
            told_apart=bool(apart[i, j]), p_adjusted=0.01,
        )
        for i, j in pairs
    )  # fmt: skip
    fix = m.MedianEstimate(median=9.0, low=6.0, high=20.0, n=8)
    summaries = tuple(
        m.ReceiverSummary(
            receiver=name, rides=8, routes=("a",), spread=m.Estimate(value=value, low=value / 2, high=value * 2),
            first_fix_s=fix, settled_fix_s=fix, stray_share=m.Estimate(value=0.02), group=group,
        )
        for name, value, group in zip(names, spreads, letters(apart), strict=True)
    )  # fmt: skip
    made = make_analysis(traces=traces)
    routes = tuple(dataclasses.replace(route, **_of(route, names)) for route in made.routes)
    comparison = m.Comparison(receivers=summaries, differences=differences)
    return dataclasses.replace(made, routes=routes, comparison=comparison)


def _of(route: m.RouteResult, names: Sequence[str]) -> dict[str, object]:
    """Deal the traces of a route out to the watches."""
    traces = tuple(dataclasses.replace(t, receiver=names[t.number % len(names)]) for t in route.traces)
    stretches = tuple(dataclasses.replace(s, receiver=traces[s.number].receiver) for s in route.stretches)
    return {"traces": traces, "stretches": stretches, "receivers": (), "pairs": (), "events": ()}
