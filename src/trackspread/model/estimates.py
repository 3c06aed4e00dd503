"""Figures with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A figure with its interval; all ``NaN`` with a ``reason`` where there is none."""

    value: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    reason: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class MedianEstimate:
    """A median over ``n`` rides (``censored`` of them never) with its exact interval."""

    median: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    n: int = 0
    censored: int = 0
    confidence: float = float("nan")
    reason: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Claim:
    """What a watch says of its own accuracy, over all points that say it, in metres."""

    median: float = float("nan")
    p95: float = float("nan")
