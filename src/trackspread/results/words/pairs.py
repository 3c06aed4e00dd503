"""The sentences about two receivers ridden together: told apart or not, and what would settle it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

HOUR_S, DAY_S = 3600.0, 86_400.0  # s


def seconds_told(seconds: float) -> str:
    """Return a clock offset in words: seconds, hours or days.

    Parameters
    ----------
    seconds : float

    Returns
    -------
    str

    Examples
    --------
    >>> seconds_told(1.24), seconds_told(3600.9), seconds_told(-172800.0)
    ('1.2 s', '1 h 1 s', '-2 days')
    """
    sign, size = ("-" if seconds < 0 else ""), abs(seconds)
    if size >= DAY_S:
        return f"{sign}{size / DAY_S:.4g} days"
    if round(size) >= HOUR_S:
        hours, rest = divmod(round(size), int(HOUR_S))
        return f"{sign}{hours} h {rest} s" if rest else f"{sign}{hours} h"
    return f"{sign}{size:.1f} s"


def _shared(rides: int) -> str:
    return "one shared ride" if rides == 1 else f"{rides} shared rides"


def _apart(better: str, worse: str, rides: int, by_m: tuple[float, ...], confidence: float) -> str:
    told = f"Over {_shared(rides)} {better} was more consistent than {worse}"
    if not by_m:
        return f"{told}; its own standard deviation is too small beside the other's to be given."
    value, low, high = by_m
    interval = f"{100 * confidence:.4g} % interval {low:.1f} to {high:.1f} m"
    return f"{told} (SD {value:.1f} m lower, {interval})."


def _not_apart(a: str, b: str, rides: int) -> str:
    return f"After {_shared(rides)}, no detectable difference between {a} and {b}."


def _apart_elsewhere(a: str, b: str, rides: int, better: str) -> str:
    worse = b if better == a else a
    return (
        f"Over all its rides {better} was more consistent than {worse}; the {_shared(rides)} on this route "
        "alone show no detectable difference."
    )


def _correlated(length_m: float, rides: int) -> str:
    few = "one ride carries" if rides == 1 else f"{rides} rides carry"
    length = float(f"{length_m:.1g}")
    return f"Errors are correlated over about {length:,.0f} m, so {few} limited information."


def _more_rides(ratio: float, more: int, power: float) -> str:
    rides = "shared ride" if more == 1 else "shared rides"
    return (
        f"If the difference is as large as it looks (a ratio of {ratio:.1f}), about {more} more {rides} "
        f"would settle it (in {power:.0%} of cases)."
    )


def _beside(right: str, left: str, by_m: tuple[float, float, float]) -> str:
    places = 1 if by_m[1] >= 0.1 else 2
    value, low, high = (f"{size:.{places}f}" for size in by_m)
    return f"On average {right} plots {value} m ({low} to {high} m) to the right of {left}."


def _clock_ahead(ahead: str, behind: str, by_s: float) -> str:
    return f"The clock of {ahead} is {seconds_told(by_s)} ahead of that of {behind}; it was taken out."


def _clocks_set(low_s: float, high_s: float, a: str = "", b: str = "") -> str:
    who = f"{a} is ahead of {b}" if a else "a is ahead"
    return f"the clocks were set between rides: {who} by {seconds_told(low_s)} to {seconds_told(high_s)}"


def _common_not_seen(most_m: float, confidence: float) -> str:
    seen = math.isfinite(most_m) and most_m > 0.0
    below = f" (below {most_m:.1f} m, {100 * confidence:.4g} %)" if seen else ""
    return f"shared error not detectable{below}"


SENTENCES: Mapping[str, str | Callable[..., str]] = MappingProxyType(
    {
        "pair_unknown": "Nothing can be said about which of {a} and {b} is more consistent: {because}.",
        "pair_apart": _apart,
        "pair_not_apart": _not_apart,
        "pair_apart_elsewhere": _apart_elsewhere,
        "pair_correlated": _correlated,
        "pair_one_ride": "Carry them together on another ride.",
        "pair_many_rides": "More than {most} further shared rides would be needed to settle it.",
        "pair_more_rides": _more_rides,
        "pair_beside": _beside,
        "pair_clock": _clock_ahead,
        "pair_no_clock": "No common clock offset: {because}.",
        "no_common_times": "no times to compare",
        "few_stations_for_interval": "too few stations for an interval",
        "clocks_set": _clocks_set,
        "little_in_common": "they share fewer than {least} stations, or do not differ at all",
        "common_not_seen": _common_not_seen,
        "never_meet": "the two never pass the same station on one ride",
        "one_ride_two_receivers": "one ride with two watches cannot part their errors from the rider's "
        "line; ride again",
    }
)
