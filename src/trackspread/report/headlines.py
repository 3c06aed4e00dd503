"""The headline figures of a pair: label, value, and what stands small beside it."""

from __future__ import annotations

from dataclasses import dataclass

from trackspread.errors import printable
from trackspread.results.document import Document
from trackspread.results.rounding import UNKNOWN, value_and_interval


@dataclass(frozen=True, kw_only=True, slots=True)
class Headline:
    """One figure as shown: all texts."""

    label: str
    value: str
    note: str = ""


def pair_headlines(pair: Document) -> list[Headline]:
    """Return what each of two receivers spreads alone, what both share, and how they differ."""
    a, b = (printable(pair[name], 24) for name in ("a", "b"))
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
