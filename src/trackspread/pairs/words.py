"""The plain sentence about two receivers: told apart or not, and what would settle it."""

from __future__ import annotations

import math

from trackspread.model import Estimate
from trackspread.options import Options
from trackspread.pairs.clock import HOUR_S, Clock, told
from trackspread.pairs.own_errors import OwnErrors
from trackspread.statistics.power import rides_to_tell_apart

POWER = 0.8
ALIKE = 1.1
MANY = 200
NOTHING = Estimate()


def sentence(
    names: tuple[str, str],
    own: OwnErrors | str,
    rides: int,
    clock: Clock,
    options: Options,
    correlation_length_m: float,
    bias: Estimate = NOTHING,
) -> str:
    """Return one to three plain sentences about a pair; names must be fit to print.

    ``bias`` is the mean offset of the first less that of the second, metres, right positive.
    """
    together = "one ride" if rides == 1 else f"{rides} rides"
    pair = f"{names[0]} and {names[1]}"
    if isinstance(own, str):
        text = f"Nothing can be said about which of {pair} lies steadier: {own}."
    elif own.told_apart:
        text = _apart(names, own, together)
    else:
        text = f"{together[0].upper()}{together[1:]} together cannot tell {pair} apart"
        text += _length_words(correlation_length_m) + _more(own, rides, options)
    return text + _aside_words(names, rides, bias) + _clock_words(names, clock)


def _apart(names: tuple[str, str], own: OwnErrors, together: str) -> str:
    better, worse = names if own.ratio < 1.0 else names[::-1]
    ends = sorted(abs(end) for end in (own.difference.low, own.difference.high))
    text = f"Told apart on {together} together: {better} lies steadier than {worse}"
    if math.isfinite(own.difference.value):
        by = f"{abs(own.difference.value):.1f} m of standard deviation ({ends[0]:.1f} to {ends[1]:.1f} m)"
        return f"{text}, by {by}."
    return f"{text}, though its own standard deviation is too small beside the other's to be given."


def _length_words(correlation_length_m: float) -> str:
    if not math.isfinite(correlation_length_m) or correlation_length_m < 100.0:
        return ""
    length = float(f"{correlation_length_m:.1g}")
    return f" (errors stay alike over some {length:,.0f} m, so a ride holds few independent values)"


def _more(own: OwnErrors, rides: int, options: Options) -> str:
    """Return how many more rides would settle it, if the difference is what it looks like."""
    ratio = max(own.ratio, 1.0 / own.ratio)
    if ratio < ALIKE:
        return "; as they look now, they lie equally steady."
    if rides < 2:
        return "; ride them together again."
    better = min((e.value for e in (own.sd_a, own.sd_b) if math.isfinite(e.value)), default=math.nan)
    common = own.common.value / better if math.isfinite(own.common.value) and better > 0 else 0.0
    lengths = max(own.dof / (rides - 1), 0.3)
    need = rides_to_tell_apart(
        round(min(ratio, 20.0), 2), POWER, options.confidence, round(lengths, 2), round(common, 2)
    )
    if need is None or need - rides > MANY:
        return f"; more than {MANY} further rides would be needed to settle it."
    more = max(need - rides, 1)
    return (
        f"; if the difference is as large as it looks (a ratio of {ratio:.1f}), about {more} more "
        f"{'ride' if more == 1 else 'rides'} together would settle it (in {POWER:.0%} of cases)."
    )


def _aside_words(names: tuple[str, str], rides: int, bias: Estimate) -> str:
    """Say which lies to the right of the other, where several rides say so by more than chance."""
    ends = sorted(abs(end) for end in (bias.low, bias.high))
    if rides < 2 or not bias.low * bias.high > 0.0:
        return ""
    right, left = names if bias.value > 0.0 else names[::-1]
    value, low, high = (f"{size:.{1 if ends[0] >= 0.1 else 2}f}" for size in (abs(bias.value), *ends))
    return f" On the mean {right} lies {value} m ({low} to {high} m) to the right of {left}."


def _clock_words(names: tuple[str, str], clock: Clock) -> str:
    offset = clock.pooled.value
    if not math.isfinite(offset):
        ahead = clock.pooled.reason.replace("a is ahead", f"{names[0]} is ahead of {names[1]}")
        return f" No common clock offset: {ahead}." if "set between" in ahead else ""
    if abs(offset) < 0.25 * HOUR_S:
        return ""
    ahead, behind = names if offset > 0 else names[::-1]
    return f" The clock of {ahead} is {told(abs(offset))} ahead of that of {behind}; it was taken out."
