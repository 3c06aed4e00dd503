"""Who is better than whom, as the reports themselves say it: ranks must not say otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from trackspread.errors import printable

Verdicts = frozenset[tuple[str, str, str]]
"""Figure, the better and the other of two receivers that were told apart by it."""


def of_report(document: Mapping[str, Any]) -> Verdicts | None:
    """Return the verdicts over all routes of one result, ``None`` where it holds no comparison.

    Parameters
    ----------
    document : mapping
        A result.json, as it was read.

    Returns
    -------
    frozenset of (str, str, str) or None
    """
    compared = document.get("comparison") or {}
    if compared.get("differences") is None:
        return None
    said = [
        ("spread", found, (found["ratio"]["value"] or 1.0) < 1.0)
        for found in compared["differences"]
        if found["told_apart"]
    ]
    said += [
        ("stretch share" if found["figure"] == "stray_share" else found["figure"].replace("_", " "), found,
         found["difference"] < 0.0)
        for found in compared.get("by_ride") or ()
        if found["told_apart"] and found["difference"]
    ]  # fmt: skip
    return frozenset((figure, *_ordered(found, first)) for figure, found, first in said)


def of_pairs(route: Mapping[str, Any]) -> Verdicts:
    """Return the verdicts on the pairs of one route, for results without a comparison.

    Parameters
    ----------
    route : mapping
        A route of a result.json, as it was read.

    Returns
    -------
    frozenset of (str, str, str)
    """
    said = set()
    for pair in route["pairs"]:
        by, own = pair["difference"]["value_m"], pair["sd_a"]["value_m"]
        if pair["told_apart"]:
            said.add(("spread", *_ordered(pair, (own is None) if by is None else by < 0.0)))
    return frozenset(said)


def _ordered(found: Mapping[str, Any], first: bool) -> tuple[str, str]:
    a, b = (printable(found[name], 60) for name in ("a", "b"))
    return (a, b) if first else (b, a)
