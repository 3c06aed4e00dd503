"""The verdict of a segment: one rule, by its spread and by the share of rides that are astray there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackspread.model import Bools, Estimate, Ints, Verdict
from trackspread.options import Options

NAMED_AT_MOST = 3


@dataclass(frozen=True, kw_only=True, slots=True)
class Astray:
    """Shares of the rides over a segment that lie in a stretch there, and the names of the traces.

    ``some`` counts stretches whose mean deviation is above ``steady_m``, ``far`` those above ``torn_m``.
    """

    some: float = 0.0
    far: float = 0.0
    names: tuple[str, ...] = ()


def share_of_rides(inside: Bools, known: Bools, ride: Ints) -> float:
    """Return the share of the rides that is ``inside``, each by the share of the segment over which it is.

    A ride is the mean of its traces, so watches carried together count once. One of four rides astray over a
    whole segment counts as much as ten of forty, or as two of four over half of it.

    Parameters
    ----------
    inside, known : ndarray of bool, shape (T, n)
        Stations in a stretch, and with data.
    ride : ndarray of int, shape (T,)

    Examples
    --------
    >>> import numpy as np
    >>> inside = np.array([[True, True], [False, False], [True, False], [False, False]])
    >>> share_of_rides(inside, np.ones((4, 2), dtype=bool), np.array([0, 1, 2, 3]))
    0.375
    """
    there = known.sum(axis=1)
    share = np.divide((inside & known).sum(axis=1), there, out=np.full(len(ride), np.nan), where=there > 0)
    rides = [share[(ride == number) & (there > 0)] for number in np.unique(ride)]
    means = [float(np.mean(own)) for own in rides if len(own)]
    return float(np.mean(means)) if means else 0.0


def verdict_of(
    traces: int, spread: Estimate, astray: Astray, options: Options
) -> tuple[Verdict, tuple[str, ...]]:
    """Return the verdict of a segment and why.

    It is ``torn`` where the spread is above ``torn_m``, or a share ``torn_share`` of the rides or more is
    astray by more than that; ``wavering`` where the spread is above ``steady_m``, or a share above
    ``steady_share`` is astray by more than that; else ``steady``. Figures decide, not the number of traces;
    below ``min_traces`` it is ``thin``.
    """
    if traces < options.min_traces or not np.isfinite(spread.value):
        return "thin", (f"{traces} traces, at least {options.min_traces} are needed",)
    torn, wavering = _torn(spread, astray, options), _wavering(spread, astray, options)
    if torn:
        return "torn", torn
    if wavering:
        return "wavering", wavering
    return "steady", (_spread(spread, options.steady_m, "at most"),)


def _torn(spread: Estimate, astray: Astray, options: Options) -> tuple[str, ...]:
    why = []
    if astray.far >= options.torn_share:
        why.append(_share(astray.far, options.torn_m, astray.names, f"{options.torn_share:.0%} or more"))
    if spread.value > options.torn_m:
        why.append(_spread(spread, options.torn_m, "above"))
    return tuple(why)


def _wavering(spread: Estimate, astray: Astray, options: Options) -> tuple[str, ...]:
    why = []
    if astray.some > options.steady_share:
        why.append(
            _share(astray.some, options.steady_m, astray.names, f"more than {options.steady_share:.0%}")
        )
    if spread.value > options.steady_m:
        why.append(_spread(spread, options.steady_m, "above"))
    return tuple(why)


def _share(share: float, beyond_m: float, names: Sequence[str], limit: str) -> str:
    every = list(dict.fromkeys(names))
    more = f" and {len(every) - NAMED_AT_MOST} more" if len(every) > NAMED_AT_MOST else ""
    who = f" ({', '.join(every[:NAMED_AT_MOST])}{more})" if every else ""
    return f"{share:.0%} of the rides are more than {beyond_m:g} m astray{who}; the limit is {limit}"


def _spread(spread: Estimate, limit_m: float, side: str) -> str:
    """Say a spread with its interval, with as many decimals as show on which side of the limit it lies."""
    decimals = next(
        (d for d in range(1, 4) if (round(spread.value, d) > limit_m) == (spread.value > limit_m)), 4
    )
    interval = ""
    if np.isfinite(spread.low) and np.isfinite(spread.high):
        interval = f" (interval {spread.low:.1f} to {spread.high:.1f} m)"
    return f"spread {spread.value:.{decimals}f} m, {side} {limit_m:g} m{interval}"
