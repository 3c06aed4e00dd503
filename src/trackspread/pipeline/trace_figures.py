"""Every trace of a judged route with its own figures."""

from __future__ import annotations

import numpy as np

from trackspread.geometry.polyline import cumulative_length
from trackspread.model import Bools, Floats, Gap, TraceResult
from trackspread.numeric.runs import runs
from trackspread.pipeline.claims import claim_of
from trackspread.pipeline.route import Judged


def trace_figures(judged: Judged) -> tuple[TraceResult, ...]:
    """Return every trace with its own figures.

    Parameters
    ----------
    judged : Judged
        See `judge`.

    Returns
    -------
    tuple of TraceResult
        In the order of the rows of ``judged``.
    """
    return tuple(_trace(judged, number) for number in range(len(judged.tracks.witnesses)))


def _trace(judged: Judged, number: int) -> TraceResult:
    witness, bundle = judged.tracks.witnesses[number], judged.tracks.bundle
    trace, part = witness.trace, bundle.of(number)
    own = np.where(judged.left_out[number], np.nan, judged.deviation.deviation_m[number])
    own = own[np.isfinite(own)]
    rides = len(np.unique(judged.tracks.ride))
    shrink = np.sqrt(1.0 - 1.0 / rides) if rides > 1 else np.nan
    first, settled = judged.fixes[number]
    x, y = judged.tracks.grid.forward(trace.lon_deg, trace.lat_deg)
    return TraceResult(
        number=number,
        file=trace.file,
        part=trace.part,
        name=trace.name,
        receiver=witness.receiver,
        ride=witness.ride,
        first_fix=first,
        settled_fix=settled,
        spread_m=float(np.sqrt(np.mean(own**2)) * shrink) if len(own) else float("nan"),
        bias_m=float(np.mean(own)) if len(own) else float("nan"),
        p95_m=float(np.quantile(np.abs(own), 0.95) * shrink) if len(own) else float("nan"),
        coverage=float(_seen(judged, number).mean()),
        recorded_length_m=float(cumulative_length(x, y)[-1]),
        gaps=_gaps(judged, number),
        lon_deg=trace.lon_deg,
        lat_deg=trace.lat_deg,
        time_s=trace.time_s,
        station_m=_station_of_logged(judged, number, part),
        break_before=trace.break_before,
        claimed_m=claim_of(trace.claims.accuracy_m),
        hdop=claim_of(trace.claims.hdop).median,
        pdop=claim_of(trace.claims.pdop).median,
        satellites=claim_of(trace.claims.satellites).median,
        firmware=witness.firmware,
        colour=witness.colour,
    )


def _station_of_logged(judged: Judged, number: int, part: slice) -> Floats:
    """Return the station of every logged point, shape (P,): by time, or by number where all were kept."""
    at, bundle = judged.point_station_m[part], judged.tracks.bundle
    logged = judged.tracks.witnesses[number].trace.time_s
    time = bundle.time_s[part]
    known = np.flatnonzero(np.isfinite(time))
    if len(at) == len(logged):
        return np.roll(at, -_begins(judged, number, part))
    if len(known) < 2:
        return np.full(len(logged), np.nan)
    known = known[np.argsort(time[known], kind="stable")]
    return np.interp(logged, time[known], at[known])


def _begins(judged: Judged, number: int, part: slice) -> int:
    """Return where in the bundle a trace's first point is: not first where it started amid a circuit."""
    bundle, trace = judged.tracks.bundle, judged.tracks.witnesses[number].trace
    x, y = judged.tracks.grid.forward(trace.lon_deg[:1], trace.lat_deg[:1])
    return int(np.argmin((bundle.x[part] - x) ** 2 + (bundle.y[part] - y) ** 2 > 1e-9))


def _seen(judged: Judged, number: int) -> Bools:
    """Return the stations at which a trace logged something, near the line or aside, shape (S,)."""
    return np.asarray(np.isfinite(judged.found.offset_m[number]) | judged.found.away[number])


def _gaps(judged: Judged, number: int) -> tuple[Gap, ...]:
    """Return the pieces of the line over which a trace logged nothing, between its first and last point."""
    seen = _seen(judged, number)
    inside = np.flatnonzero(seen)
    if len(inside) == 0:
        return ()
    missing = ~seen
    missing[: inside[0]] = missing[inside[-1] :] = False
    time, station = judged.found.time_s[number], judged.line.station_m
    return tuple(
        Gap(
            from_m=float(station[a - 1]), to_m=float(station[b + 1]), seconds=float(time[b + 1] - time[a - 1])
        )
        for a, b in runs(missing)
        if not time[b + 1] < time[a - 1]  # where it started and ended amid a circuit
    )
