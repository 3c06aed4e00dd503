"""Pairs of watches in figures: the headlines of one pair, and the matrix of all pairs of a route."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trackspread.errors import printable
from trackspread.results.document import Document
from trackspread.results.rounding import UNKNOWN, alike, plain, value_and_interval
from trackspread.results.words.names import shown_name


@dataclass(frozen=True, kw_only=True, slots=True)
class Headline:
    """One figure as shown: all texts."""

    label: str
    value: str
    note: str = ""


def pair_headlines(pair: Document) -> list[Headline]:
    """Return what each of two receivers spreads alone, what both share, and how they differ.

    Parameters
    ----------
    pair : dict
        One of the ``pairs`` of a route in the document.

    Returns
    -------
    list of Headline
        With the reason as note where a figure is not known.
    """
    a, b = (shown_name(pair[name]) for name in ("a", "b"))
    return [
        _estimate(f"SD of {a} alone", pair["sd_a"], "_m"),
        _estimate(f"SD of {b} alone", pair["sd_b"], "_m"),
        _estimate("SD shared by both", pair["common_sd"], "_m"),
        _estimate(f"SD of {a} minus {b}", pair["difference"], "_m"),
        _estimate(f"Mean {a} minus {b}, right +", pair["bias"], "_m"),
        _estimate(f"Clock {a} minus {b}", pair["clock_offset"], "_s"),
    ]


def _estimate(label: str, estimate: Document, unit: str) -> Headline:
    value, low, high = (estimate[f"{end}{unit}"] for end in ("value", "low", "high"))
    return _headline(label, value, low, high, unit[1:], estimate.get("reason", ""))


def _headline(
    label: str, value: float | None, low: float | None, high: float | None, unit: str, reason: str
) -> Headline:
    if value is None:
        return Headline(label=label, value=UNKNOWN, note=printable(reason, 100))
    shown, interval = value_and_interval(value, low, high, unit)
    return Headline(label=label, value=shown, note=interval)


def pair_matrix(route: Document, watches: Sequence[str]) -> dict[str, Any] | None:
    """Return the differences of the standard deviations of all pairs of a route, row minus column.

    Parameters
    ----------
    route : dict
        One of the document's ``routes``.
    watches : sequence of str
        All of the analysis, in order.

    Returns
    -------
    dict or None
        ``heads`` and ``rows`` of ``cells`` with text, interval and whether the two were told apart; ``None``
        without two watches ridden together.
    """
    found = {(pair["a"], pair["b"]): pair for pair in route["pairs"]}
    named = {name for pair in found for name in pair}
    here = [name for name in watches if name in named]
    if not found:
        return None
    rows = []
    for row in here:
        cells = [_cell(found, row, column) for column in here]
        rows.append({"name": shown_name(row), "cells": cells})
    return {"heads": [shown_name(name) for name in here], "rows": rows}


def _cell(found: dict[tuple[str, str], Document], row: str, column: str) -> dict[str, Any]:
    if row == column:
        return {"text": "", "told": False, "note": ""}
    pair, sign = found.get((row, column)), 1.0
    if pair is None:
        pair, sign = found.get((column, row)), -1.0
    if pair is None:
        return {"text": "apart", "told": False, "note": "never ridden together"}
    ends = [pair["difference"][name] for name in ("value_m", "low_m", "high_m")]
    if ends[0] is None:
        return {"text": "unknown", "told": False, "note": pair["difference"].get("reason", "")}
    value = sign * ends[0] + 0.0  # no minus before a zero
    low, high = sorted(sign * end + 0.0 for end in ends[1:]) if None not in ends else (None, None)
    shown = alike(value, low, high)
    interval = f"{shown[1]} to {shown[2]}" if low is not None else f"{plain(low)} to {plain(high)}"
    told = bool(pair["told_apart"])
    if low is not None and told:
        interval = f"{_open(shown[1], low, '>')} to {_open(shown[2], high, '<')}"
    return {"text": f"+{shown[0]}" if value > 0 else shown[0], "told": told, "note": interval}


def _open(shown: str, end: float | None, sign: str) -> str:
    """Return the end of an interval that leaves 0 out, also where it is rounded to 0."""
    return f"{sign}0" if not end else shown
