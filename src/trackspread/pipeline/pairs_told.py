"""What each route says of two receivers, held to what all routes together say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trackspread.model import NOTHING, Comparison, Difference, PairResult, Reason, RouteResult

SETTLED = ("pair_more_rides", "pair_many_rides", "pair_one_ride")
"""What would settle it need not be said of what is settled."""


def pairs_told(routes: Sequence[RouteResult], compared: Comparison | None) -> tuple[RouteResult, ...]:
    """Return routes whose pairs never say another thing than the comparison.

    Two receivers are told apart on a route where its own rides show it and the comparison, which counts all
    rides and holds all its p-values to one risk, says the same. Where the comparison tells them apart and
    the rides of a route alone do not, the route says so.

    Parameters
    ----------
    routes : sequence of RouteResult
        All of one analysis.
    compared : Comparison or None
        What all routes together say of the same receivers.

    Returns
    -------
    tuple of RouteResult
    """
    if compared is None:
        return tuple(routes)
    known = {frozenset((one.a, one.b)): one for one in compared.differences}
    return tuple(
        replace(
            route,
            pairs=tuple(
                _held(pair, known[both]) if (both := frozenset((pair.a, pair.b))) in known else pair
                for pair in route.pairs
            ),
        )
        for route in routes
    )


def _held(pair: PairResult, all_rides: Difference) -> PairResult:
    """Return a pair whose verdict does not contradict that over all rides."""
    turned = 1.0 if pair.a == all_rides.a else -1.0
    alike = turned * pair.difference.value * all_rides.difference.value > 0.0
    if pair.told_apart and not (all_rides.told_apart and alike):
        told = Reason.of("pair_not_apart", **_names(pair))
        return replace(pair, told_apart=False, outcome=_instead(pair.outcome, "pair_apart", told))
    if all_rides.told_apart and not pair.told_apart:
        better = all_rides.a if all_rides.difference.value < 0.0 else all_rides.b
        names = dict(pair.outcome.values)
        shown = names.get("a") if better == pair.a else names.get("b")
        told = Reason.of("pair_apart_elsewhere", **{**names, "better": shown})
        outcome = NOTHING
        for one in _instead(pair.outcome, "pair_not_apart", told):
            outcome += NOTHING if one.code in SETTLED else one
        return replace(pair, outcome=outcome)
    return pair


def _names(pair: PairResult) -> dict[str, object]:
    """Return the two as they are shown, and how many rides they shared."""
    values = dict(pair.outcome.values)
    shown = values["better"], values["worse"]
    a, b = shown if pair.difference.value < 0.0 else shown[::-1]
    return {"a": a, "b": b, "rides": values["rides"]}


def _instead(outcome: Reason, code: str, told: Reason) -> Reason:
    """Return an outcome with another reason in the place of that of a code."""
    out = NOTHING
    for one in outcome:
        out += told if one.code == code else one
    return out
