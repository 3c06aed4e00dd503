"""What watches claim of their own accuracy: per trace, along the route, and beside what was seen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackspread.model import Claim, ClaimCode, Estimate, Floats, TraceResult, Witness


def claim_of(accuracy_m: Floats) -> Claim:
    """Return what a trace claims over all points that say it.

    Parameters
    ----------
    accuracy_m : ndarray, shape (P,)
        Claimed at each point, metres; NaN = nothing claimed.

    Returns
    -------
    Claim
        Median and 95 % quantile, metres; NaN without a claim.

    Examples
    --------
    >>> claim_of(np.array([2.0, np.nan, 4.0]))
    Claim(median=3.0, p95=3.9)
    """
    said = accuracy_m[np.isfinite(accuracy_m)]
    if not len(said):
        return Claim()
    return Claim(median=float(np.median(said)), p95=float(np.quantile(said, 0.95)))


def claim_over(claims: Sequence[Claim]) -> Claim:
    """Return the median over traces of what they claim.

    Parameters
    ----------
    claims : sequence of Claim
        One a trace; those without a claim do not count.

    Returns
    -------
    Claim
    """
    known = [claim for claim in claims if np.isfinite(claim.median)]
    if not known:
        return Claim()
    return Claim(
        median=float(np.median([claim.median for claim in known])),
        p95=float(np.median([claim.p95 for claim in known])),
    )


def claimed_at(
    traces: Sequence[TraceResult], witnesses: Sequence[Witness], station_m: Floats, offset_m: Floats
) -> Floats:
    """Return what each trace claims at each station.

    Between its points it is interpolated.

    Parameters
    ----------
    traces, witnesses : sequence of TraceResult, of Witness
        With the station of each point, and what is claimed there.
    station_m, offset_m : ndarray, shapes (S,), (T, S)

    Returns
    -------
    ndarray, shape (T, S) or (0, 0)
        Metres, NaN where the trace has no offset; (0, 0) where none claims any.
    """
    accuracy_m = [witness.trace.claims.accuracy_m for witness in witnesses]
    if not any(np.isfinite(said).any() for said in accuracy_m):
        return np.zeros((0, 0))
    out = np.full(offset_m.shape, np.nan)
    for number, (trace, said) in enumerate(zip(traces, accuracy_m, strict=True)):
        if len(said) != len(trace.station_m):
            continue
        known = np.flatnonzero(np.isfinite(said) & np.isfinite(trace.station_m))
        if len(known):
            known = known[np.argsort(trace.station_m[known], kind="stable")]
            out[number] = np.interp(station_m, trace.station_m[known], said[known])
    return np.where(np.isfinite(offset_m), out, np.nan)


def claim_code(claim: Claim, spread: Estimate) -> ClaimCode:
    """Return whether a watch claims less error than its traces show, as much, or more.

    It claims less where the median of its claims lies below the interval of its spread, and more where it
    lies above. Makers do not say which share of the errors a claim covers, nor along which axis.

    Parameters
    ----------
    claim : Claim
        Of one watch over its traces.
    spread : Estimate
        Of the same traces, all errors, metres.

    Returns
    -------
    {"less", "alike", "more", "none"}
        ``none`` where it claims nothing or the spread has no interval.

    Examples
    --------
    >>> claim_code(Claim(median=3.0), Estimate(value=5.0, low=4.0, high=7.0))
    'less'
    """
    if not (np.isfinite(claim.median) and np.isfinite(spread.low) and np.isfinite(spread.high)):
        return "none"
    if claim.median < spread.low:
        return "less"
    return "more" if claim.median > spread.high else "alike"
