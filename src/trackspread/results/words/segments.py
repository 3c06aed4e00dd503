"""Why a segment has its verdict, and why a piece of the route is in the film list."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from trackspread.errors import first_few, printable
from trackspread.model import Cause
from trackspread.results.rounding import counted
from trackspread.results.words.names import listed, shown_name

DOES: Mapping[Cause, str] = MappingProxyType(
    {
        "line": "went another way",
        "receiver": "strays",
        "settling": "is still settling",
        "after a gap": "is off after a gap",
        "unknown": "leaves the others",
    }
)
TENTHS_BELOW_M = 7.1
"""An interval this wide or wider, metres, supports no tenths (see `rounding.decimals`)."""


def _share_astray(share: float, beyond_m: float, names: Sequence[str], limit: float, reached: bool) -> str:
    who = f" ({first_few(names)})" if names else ""
    most = f"{limit:.0%} or more" if reached else f"more than {limit:.0%}"
    return f"{share:.0%} of the rides are more than {beyond_m:g} m astray{who}; the limit is {most}"


def _spread_held(value: float, limit_m: float, ends: Sequence[float] = ()) -> str:
    """Say a spread with its interval, with as many decimals as show on which side of the limit it lies."""
    decimals = next((d for d in range(1, 4) if (round(value, d) > limit_m) == (value > limit_m)), 4)
    side = "above" if value > limit_m else "at most"
    interval = f" (interval {ends[0]:.1f} to {ends[1]:.1f} m)" if ends else ""
    return f"spread {value:.{decimals}f} m, {side} {limit_m:g} m{interval}"


def _traces_here(fewest: int, most: int, thin: bool) -> str:
    if thin:
        return f"only {counted(most, 'trace')}" if most else "no trace"
    return counted(most, "trace") if fewest == most else f"{fewest} to {counted(most, 'trace')}"


def _spread_here(value: float, ends: Sequence[float] = ()) -> str:
    if not ends:
        return f"spread {_metres(value, value)} m"
    wide = ends[1] - ends[0]
    low, high = (_metres(end, wide) for end in ends)
    return f"spread {_metres(value, wide)} m ({low} to {high} m)"


def _metres(value: float, wide: float) -> str:
    return f"{value:,.1f}" if wide < TENTHS_BELOW_M else f"{value:,.0f}"


def _astray_here(stretches: Sequence[tuple[str, str, Cause, float, str]]) -> str:
    return first_few([_one(*stretch) for stretch in stretches])


def _one(name: str, ride: str, cause: Cause, peak_m: float, side: str) -> str:
    on = f" on ride {printable(ride, 40)}" if ride else ""
    return f"{shown_name(name)}{on} {DOES[cause]} (up to {peak_m:.0f} m {side})"


def _fit_for(fit: Sequence[str], others: Sequence[tuple[str, str]]) -> str:
    """Say for which watches a piece is fit to show: all, some or none."""
    if not others:
        return "fit to show for every watch"
    verdicts = {verdict for _, verdict in others}
    if not fit and len(verdicts) == 1:
        return f"{min(verdicts)} for every watch"
    rest = first_few([f"{shown_name(name)} ({verdict})" for name, verdict in others])
    return (
        f"fit to show for {listed(list(map(shown_name, fit)))}, not for {rest}" if fit else f"not fit: {rest}"
    )


def _variants_here(variants: Sequence[tuple[str, int, float]]) -> str:
    named = [
        f"{printable(name, 40)} ({counted(rides, 'ride')}, up to {aside_m:.0f} m aside)"
        if math.isfinite(aside_m)
        else f"{printable(name, 40)} ({counted(rides, 'ride')})"
        for name, rides, aside_m in variants
    ]
    return f"this is the main way; beside it {first_few(named)}"


SENTENCES: Mapping[str, str | Callable[..., str]] = MappingProxyType(
    {
        "few_traces": "{traces} traces, at least {needed} are needed",
        "share_astray": _share_astray,
        "spread_held": _spread_held,
        "traces_here": _traces_here,
        "spread_here": _spread_here,
        "astray_here": _astray_here,
        "variants_here": _variants_here,
        "fit_for": _fit_for,
    }
)
