"""What watches claim of their own accuracy: per trace, along the route, and beside what was seen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trackspread.model import Claim, ClaimCode, Estimate, Floats, TraceResult, Witness


def claim_of(accuracy_m: Floats) -> Claim:
    """Return what a trace claims over all points that say it, metres."""
    said = accuracy_m[np.isfinite(accuracy_m)]
    if not len(said):
        return Claim()
    return Claim(median=float(np.median(said)), p95=float(np.quantile(said, 0.95)))


def claim_over(claims: Sequence[Claim]) -> Claim:
    """Return the median over traces of what they claim."""
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
    """Return what each trace claims at each station, metres, shape (T, S); (0, 0) where none claims any.

    Between its points it is interpolated; it is NaN where the trace has no offset.

    Parameters
    ----------
    traces, witnesses : sequence of TraceResult, of Witness
        With the station of each point, and what is claimed there.
    station_m, offset_m : ndarray, shapes (S,), (T, S)
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
    """
    if not (np.isfinite(claim.median) and np.isfinite(spread.low) and np.isfinite(spread.high)):
        return "none"
    if claim.median < spread.low:
        return "less"
    return "more" if claim.median > spread.high else "alike"
