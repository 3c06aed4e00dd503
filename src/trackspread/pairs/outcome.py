"""What came of two receivers ridden together, as codes: told apart or not, and what would settle it."""

from __future__ import annotations

import math

from trackspread.model import NOTHING, Estimate, Reason
from trackspread.options import Options
from trackspread.pairs.clock import CLOCKS_SET, HOUR_S, Clock
from trackspread.pairs.own_errors import OwnErrors
from trackspread.statistics.power import rides_to_tell_apart

POWER_WANTED = 0.8  # power by convention (Cohen 1988)
ALIKE_RATIO = 1.1  # ratio of standard deviations that nobody would see
MOST_MORE_RIDES = 200  # rides that nobody will ride
UNKNOWN = Estimate()


def outcome(
    names: tuple[str, str],
    own: OwnErrors | Reason,
    rides: int,
    clock: Clock,
    options: Options,
    correlation_length_m: float,
    bias: Estimate = UNKNOWN,
) -> Reason:
    """Return what can be said about a pair, sentence by sentence; names must be fit to print.

    Parameters
    ----------
    names : tuple of str
    own : OwnErrors or Reason
        Standard deviations of the two, or why there are none.
    rides : int
        Rides on which both were carried.
    clock : Clock
    options : Options
    correlation_length_m : float
        Over which errors stay alike, metres.
    bias : Estimate
        Mean offset of the first less that of the second, metres, right positive.

    Returns
    -------
    Reason
    """
    if isinstance(own, Reason):
        told = Reason.of("pair_unknown", a=names[0], b=names[1], because=own)
    elif own.told_apart:
        told = _apart(names, own, rides, options)
    else:
        told = Reason.of("pair_not_apart", a=names[0], b=names[1], rides=rides)
        told += _correlated(correlation_length_m, rides) + _more(own, rides, options)
    return told + _aside(names, rides, bias) + _clock(names, clock)


def _apart(names: tuple[str, str], own: OwnErrors, rides: int, options: Options) -> Reason:
    better, worse = names if own.ratio < 1.0 else names[::-1]
    by_m: tuple[float, ...] = ()
    if math.isfinite(own.difference.value):
        by_m = (abs(own.difference.value), *sorted(abs(x) for x in (own.difference.low, own.difference.high)))
    return Reason.of(
        "pair_apart", better=better, worse=worse, rides=rides, by_m=by_m, confidence=options.confidence
    )


def _correlated(length_m: float, rides: int) -> Reason:
    if not math.isfinite(length_m) or length_m < 100.0:
        return NOTHING
    return Reason.of("pair_correlated", length_m=length_m, rides=rides)


def _more(own: OwnErrors, rides: int, options: Options) -> Reason:
    """Return how many more rides would settle it, if the difference is what it looks like."""
    ratio = max(own.ratio, 1.0 / own.ratio)
    if ratio < ALIKE_RATIO:
        return NOTHING
    if rides < 2:
        return Reason("pair_one_ride")
    better = min((e.value for e in (own.sd_a, own.sd_b) if math.isfinite(e.value)), default=math.nan)
    common = own.common.value / better if math.isfinite(own.common.value) and better > 0 else 0.0
    need = rides_to_tell_apart(
        round(min(ratio, 20.0), 2), POWER_WANTED, options.confidence, round(own.log_var, 2), round(common, 2)
    )
    if need is None or need - rides > MOST_MORE_RIDES:
        return Reason.of("pair_many_rides", most=MOST_MORE_RIDES)
    return Reason.of("pair_more_rides", ratio=ratio, more=max(need - rides, 1), power=POWER_WANTED)


def _aside(names: tuple[str, str], rides: int, bias: Estimate) -> Reason:
    """Return which lies to the right of the other, where several rides say so by more than chance."""
    if rides < 2 or not bias.low * bias.high > 0.0:
        return NOTHING
    right, left = names if bias.value > 0.0 else names[::-1]
    by_m = (abs(bias.value), *sorted(abs(end) for end in (bias.low, bias.high)))
    return Reason.of("pair_beside", right=right, left=left, by_m=by_m)


def _clock(names: tuple[str, str], clock: Clock) -> Reason:
    offset_s = clock.pooled.value
    if not math.isfinite(offset_s):
        if clock.pooled.reason.code != CLOCKS_SET:
            return NOTHING
        return Reason.of("pair_no_clock", because=between(names, clock.pooled.reason))
    if abs(offset_s) < 0.25 * HOUR_S:
        return NOTHING
    ahead, behind = names if offset_s > 0 else names[::-1]
    return Reason.of("pair_clock", ahead=ahead, behind=behind, by_s=abs(offset_s))


def between(names: tuple[str, str], reason: Reason) -> Reason:
    """Return why two clocks have no common offset, with the names of the two.

    Parameters
    ----------
    names : tuple of str
        Fit to print.
    reason : Reason

    Returns
    -------
    Reason
    """
    if reason.code != CLOCKS_SET:
        return reason
    return Reason.of(CLOCKS_SET, **dict(reason.values), a=names[0], b=names[1])
