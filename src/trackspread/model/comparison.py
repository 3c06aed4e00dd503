"""Every watch over all its rides and routes, and which of them differ."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from trackspread.model.estimates import Claim, ClaimCode, Estimate, MedianEstimate

Basis = Literal["together", "apart", "both"]
"""Whether two receivers were set side by side on shared rides, on rides of their own, or on both."""

RideFigure = Literal["first_fix", "settled_fix", "stray_share"]
"""Figures that every ride has one of; the settled fix stands in older results only."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ReceiverSummary:
    """One receiver over all its rides and routes.

    ``spread`` holds the rider's line too; ``own_sd`` is what is left without all that the receivers of a ride
    share, one figure whomever it is set beside (``NaN`` without two shared rides). ``stray_share`` is the
    share of its way on which it left the others (0 to 1). ``group`` holds letters: receivers that share one
    are not told apart. ``claim`` sets the median of what it claims beside ``spread``; ``fix_seen_s`` is when
    it showed its fix, as the rider noted it.
    """

    receiver: str
    rides: int
    routes: tuple[str, ...]
    spread: Estimate
    first_fix_s: MedianEstimate
    settled_fix_s: MedianEstimate
    stray_share: Estimate
    claimed_m: Claim = field(default_factory=Claim)
    group: str = ""
    own_sd: Estimate = field(default_factory=Estimate)
    claim: ClaimCode = "none"
    fix_seen_s: MedianEstimate = field(default_factory=MedianEstimate)


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """Two receivers over everything they rode: SD of ``a`` over and minus SD of ``b``.

    ``p_adjusted`` is held to the whole family of comparisons.
    """

    a: str
    b: str
    rides: int
    basis: Basis
    ratio: Estimate
    difference: Estimate
    told_apart: bool
    p_adjusted: float


@dataclass(frozen=True, kw_only=True, slots=True)
class RideDifference:
    """Two receivers by a figure that each ride has one of, compared by an exact test.

    ``difference`` is the median over rides of ``a`` minus that of ``b``, seconds or a share (0 to 1). ``p``
    is that of this test alone, ``smallest_p`` the least that so many rides could give, ``p_adjusted`` is held
    to the whole family.
    """

    figure: RideFigure
    a: str
    b: str
    rides: int
    basis: Basis
    difference: float
    p: float
    smallest_p: float
    p_adjusted: float
    told_apart: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Comparison:
    """All receivers of an analysis side by side, by spread; ``confidence`` is that of the intervals."""

    receivers: tuple[ReceiverSummary, ...]
    differences: tuple[Difference, ...] = ()
    by_ride: tuple[RideDifference, ...] = ()
    confidence: float = float("nan")


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One receiver, SD after over and minus SD before; ``p_adjusted`` is held to all changes of a route.

    ``before`` and ``after`` are the names of the campaigns, ``rides`` and ``firmware`` those of each.
    """

    receiver: str
    before: str
    after: str
    rides: tuple[int, int]
    firmware: tuple[str, str]
    ratio: Estimate
    difference: Estimate
    told_apart: bool
    p_adjusted: float
