"""The sentences about changes of a receiver between campaigns, from finished numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence

from trackspread.errors import printable
from trackspread.model import Change, Estimate
from trackspread.results.rounding import plain, rounded_interval
from trackspread.results.words.reasons import said

OTHER_CAUSES = (
    "A change between campaigns may also come from another sky, another season or other clothes. A second "
    "watch that was carried on the same rides both times and did not change speaks against that."
)


def change_sentences(changes: Sequence[Change]) -> list[str]:
    """Return what became of each watch from one campaign to the next, with its interval.

    Parameters
    ----------
    changes : sequence of Change

    Returns
    -------
    list of str
        One sentence a change, in the order given.
    """
    return [_change_sentence(change) for change in changes]


def _change_sentence(change: Change) -> str:
    """Return what became of a receiver from one campaign to the next, with its interval."""
    name, before, after = (printable(x, 60) for x in (change.receiver, change.before, change.after))
    what = f"{name}, {before} to {after}{_firmware(change)}"
    rides = f"{change.rides[0]} and {change.rides[1]} rides"
    if not math.isfinite(change.difference.value):
        return f"{what}: no statement ({rides}; {said(change.difference.reason)})."
    if change.told_apart:
        word = "more" if change.difference.value < 0.0 else "less"
        return f"{what}: {word} consistent (SD {_metres(change.difference)}; {rides})."
    return f"{what}: no detectable change (SD {_metres(change.difference)}; {rides})."


def _firmware(change: Change) -> str:
    old, new = (printable(x, 30) for x in change.firmware)
    if not (old or new):
        return ""
    if old == new:
        return f" (firmware {old} both times)"
    return f" (firmware {old or 'unknown'} to {new or 'unknown'})"


def _metres(difference: Estimate) -> str:
    """Return a difference with the sign said in words: ``1.2 m lower, 95 % interval 0.3 to 2.1 m lower``."""
    if difference.value > 0.0:
        turned = Estimate(value=difference.value, low=difference.low, high=difference.high)
        word, other = "higher", "lower"
    else:
        turned = Estimate(value=-difference.value, low=-difference.high, high=-difference.low)
        word, other = "lower", "higher"
    value, low, high = rounded_interval(turned.value, turned.low, turned.high)
    if low is not None and low < 0:
        return f"{plain(value)} m {word}, interval {plain(-low)} m {other} to {plain(high)} m {word}"
    return f"{plain(value)} m {word}, interval {plain(low)} to {plain(high)} m {word}"
