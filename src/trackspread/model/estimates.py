"""Figures with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Literal

from trackspread.model.reasons import NOTHING, Reason


def _with_bounds(value: float, low: float, high: float, spec: str = "") -> str:
    """Return a figure and its interval, each in the format ``spec``; ``?`` stands for what is unknown.

    Examples
    --------
    >>> _with_bounds(3.04, 2.41, float("nan"), ".1f")
    '3.0 (2.4–?)'
    >>> _with_bounds(float("nan"), float("nan"), float("nan"), ".1f")
    '?'
    """
    shown = [format(number, spec or ".3g") if isfinite(number) else "?" for number in (value, low, high)]
    return shown[0] if shown[1:] == ["?", "?"] else f"{shown[0]} ({shown[1]}–{shown[2]})"


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A figure with its interval; all ``NaN`` with a ``reason`` where there is none.

    Examples
    --------
    >>> f"{Estimate(value=3.04, low=2.41, high=4.0):.1f} m"
    '3.0 (2.4–4.0) m'
    """

    value: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    reason: Reason = NOTHING

    def __format__(self, spec: str) -> str:
        return _with_bounds(self.value, self.low, self.high, spec)


@dataclass(frozen=True, kw_only=True, slots=True)
class MedianEstimate:
    """A median over ``n`` rides (``censored`` of them never) with its exact interval."""

    median: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    n: int = 0
    censored: int = 0
    confidence: float = float("nan")
    reason: Reason = NOTHING

    def __format__(self, spec: str) -> str:
        return _with_bounds(self.median, self.low, self.high, spec)


ClaimCode = Literal["less", "alike", "more", "none"]
"""Whether a watch claims less error than its traces show, as much, or more; ``none`` where nobody knows."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Claim:
    """What a watch says of its own accuracy, over all points that say it, in metres."""

    median: float = float("nan")
    p95: float = float("nan")
