"""The verdict of a segment: one rule, by its spread and by the share of rides that are astray there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackspread.model import Bools, Estimate, Ints, Reason, Verdict
from trackspread.options import Options


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

    Returns
    -------
    float

    Examples
    --------
    >>> import numpy as np
    >>> inside = np.array([[True, True], [False, False], [True, False], [False, False]])
    >>> share_of_rides(inside, np.ones((4, 2), dtype=bool), np.array([0, 1, 2, 3]))
    0.375
    """
    there = known.sum(axis=1)
    share = np.divide((inside & known).sum(axis=1), there, out=np.full(len(ride), np.nan), where=there > 0)
    some = there > 0
    _, number = np.unique(ride[some], return_inverse=True)
    means = np.bincount(number, share[some]) / np.bincount(number)
    return float(np.mean(means)) if len(means) else 0.0


def verdict_of(
    traces: int, spread: Estimate, astray: Astray, options: Options
) -> tuple[Verdict, tuple[Reason, ...]]:
    """Return the verdict of a segment and why.

    It is ``torn`` where the spread is above ``torn_m``, or a share ``torn_share`` of the rides or more is
    astray by more than that; ``wavering`` where the spread is above ``steady_m``, or a share above
    ``steady_share`` is astray by more than that; else ``steady``. Figures decide, not the number of traces;
    below ``min_traces`` it is ``thin``.

    Parameters
    ----------
    traces : int
        With data over half of the segment or more.
    spread : Estimate
        Of the segment, metres.
    astray : Astray
        Shares of rides astray.
    options : Options
        Thresholds.

    Returns
    -------
    verdict : Verdict
    reasons : tuple of Reason
    """
    if traces < options.min_traces or not np.isfinite(spread.value):
        return "thin", (Reason.of("few_traces", traces=traces, needed=options.min_traces),)
    torn, wavering = _torn(spread, astray, options), _wavering(spread, astray, options)
    if torn:
        return "torn", torn
    if wavering:
        return "wavering", wavering
    return "steady", (_held(spread, options.steady_m),)


def _torn(spread: Estimate, astray: Astray, options: Options) -> tuple[Reason, ...]:
    why = []
    if astray.far >= options.torn_share:
        why.append(_share(astray.far, options.torn_m, astray.names, options.torn_share, True))
    if spread.value > options.torn_m:
        why.append(_held(spread, options.torn_m))
    return tuple(why)


def _wavering(spread: Estimate, astray: Astray, options: Options) -> tuple[Reason, ...]:
    why = []
    if astray.some > options.steady_share:
        why.append(_share(astray.some, options.steady_m, astray.names, options.steady_share, False))
    if spread.value > options.steady_m:
        why.append(_held(spread, options.steady_m))
    return tuple(why)


def _share(share: float, beyond_m: float, names: Sequence[str], limit: float, reached: bool) -> Reason:
    """Return the share of rides astray, and the limit that it reached or was above."""
    every = tuple(dict.fromkeys(names))
    return Reason.of(
        "share_astray", share=share, beyond_m=beyond_m, names=every, limit=limit, reached=reached
    )


def _held(spread: Estimate, limit_m: float) -> Reason:
    """Return a spread held against a limit."""
    ends = (spread.low, spread.high)
    known = ends if np.isfinite(ends).all() else ()
    return Reason.of("spread_held", value=spread.value, limit_m=limit_m, ends=known)
