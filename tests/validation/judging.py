"""What an analysis of a simulated world got right: figures against the truth of that world."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trackspread.model import RouteResult, Stretch
from world import Fault, Recording, World

Floats = NDArray[np.float64]


def shifted_stations(world: World, found: RouteResult) -> tuple[Floats, Floats]:
    """Return the true station and the signed error, right positive, of every station found, shape (S,).

    The found line is laid on the true one by the order-keeping alignment with the smallest sum of squared
    distances (dynamic programming), so the legs of a hairpin are never mixed up.
    """
    here = np.stack(world.globe.to_plane(found.lon_deg, found.lat_deg), axis=1)
    line = np.stack([world.route.east_m, world.route.north_m], axis=1)
    best = np.zeros(len(line))
    came = np.empty((len(here), len(line)), dtype=np.int32)
    for k, point in enumerate(here):
        lowest = np.minimum.accumulate(best)
        came[k] = np.maximum.accumulate(np.where(best <= lowest, np.arange(len(line)), 0))
        best = lowest + ((line - point) ** 2).sum(axis=1)
    index = np.empty(len(here), dtype=int)
    index[-1] = int(np.argmin(best))
    for k in range(len(here) - 1, 0, -1):
        index[k - 1] = came[k][index[k]]
    station = world.route.station_m[index]
    error = ((here - line[index]) * world.route.right(station)).sum(axis=1)
    return station, error


def true_offsets(world: World, station_m: Floats) -> Floats:
    """Return the true offset of every recording at stations, (T, S), NaN where it was not there."""
    offsets = []
    for recording in world.recordings:
        at, first = np.unique(recording.true_station_m, return_index=True)
        offsets.append(np.interp(station_m, at, recording.true_offset_m[first], left=np.nan, right=np.nan))
    return np.array(offsets)


@dataclass(frozen=True, kw_only=True)
class StretchScore:
    """Counts of one world: what was to be found, what was, and what was reported beside it."""

    true: int = 0
    found: int = 0
    ends_right: int = 0
    cause_known: int = 0
    cause_right: int = 0
    false: int = 0
    trace_km: float = 0.0
    end_errors_m: tuple[float, ...] = ()
    missed: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    false_at: tuple[str, ...] = ()


def score_stretches(world: World, found: RouteResult, ends_within_m: float = 25.0) -> StretchScore:
    """Compare the stretches of an analysis with the faults of the world, trace by trace."""
    station, _ = shifted_stations(world, found)
    scores: dict[str, float] = dict.fromkeys(("true", "found", "ends_right", "cause_known", "cause_right"), 0)
    errors: list[float] = []
    words: dict[str, list[str]] = {"missed": [], "causes": [], "false_at": []}
    for recording in world.recordings:
        reported = [s for s in found.stretches if s.file.endswith(recording.file) and s.cause != "settling"]
        spans = {id(s): np.interp([s.from_m, s.to_m], found.station_m, station) for s in reported}
        left = list(reported)
        for fault in (f for f in recording.faults if f.kind in ("stretch", "detour")):
            hits = [s for s in reported if _overlap(spans[id(s)], fault) > 0.3 * (fault.to_m - fault.from_m)]
            near = [s for s in reported if _overlap(spans[id(s)], fault, 40.0) > 0]
            left = [s for s in left if s not in near]
            scores["true"] += 1
            if not hits:
                words["missed"].append(f"{recording.file} {_told(fault)}")
                continue
            ends = (
                min(spans[id(s)][0] for s in hits) - fault.from_m,
                max(spans[id(s)][1] for s in hits) - fault.to_m,
            )
            errors += ends
            scores["found"] += 1
            scores["ends_right"] += max(map(abs, ends)) <= ends_within_m
            right = "line" if fault.kind == "detour" else "receiver"
            if len({r.receiver.name for r in world.recordings if r.ride == recording.ride}) > 1:
                scores["cause_known"] += 1
                scores["cause_right"] += all(s.cause == right for s in hits)
                words["causes"] += [f"{_told(fault)} called {s.cause}" for s in hits if s.cause != right]
        scores["false"] = scores.get("false", 0) + len(left)
        words["false_at"] += [_described(s) for s in left]
    km = sum(np.ptp(recording.true_station_m) for recording in world.recordings) / 1000
    counts = {name: int(value) for name, value in scores.items()}
    return StretchScore(
        **counts, trace_km=float(km), end_errors_m=tuple(errors), **{k: tuple(v) for k, v in words.items()}
    )


def _overlap(span: Floats, fault: Fault, margin_m: float = 0.0) -> float:
    return float(min(span[1], fault.to_m + margin_m) - max(span[0], fault.from_m - margin_m))


def _told(fault: Fault) -> str:
    return f"{fault.kind} {fault.from_m:.0f}-{fault.to_m:.0f} m by {fault.offset_m:.0f} m"


def _described(stretch: Stretch) -> str:
    where = f"{stretch.from_m:.0f}-{stretch.to_m:.0f} m"
    return f"{stretch.file} {where} peak {stretch.peak_m:.1f} m {stretch.cause}"


def total(scores: list[StretchScore]) -> StretchScore:
    """Return the sum of the scores of several worlds."""
    return StretchScore(
        **{
            name: sum((getattr(score, name) for score in scores), start=type(getattr(scores[0], name))())
            for name in StretchScore.__dataclass_fields__
        }
    )


def station_errors(world: World, found: RouteResult, recording: Recording) -> Floats:
    """Return how far along the true line each point of a recording was matched off its place, (P,).

    NaN for points that were set on no station.
    """
    station, _ = shifted_stations(world, found)
    trace = next(t for t in found.traces if t.file.endswith(recording.file))
    at = np.interp(trace.station_m, found.station_m, station, left=np.nan, right=np.nan)
    known = np.isfinite(trace.time_s)
    true = np.interp(trace.time_s[known], recording.time_s, recording.true_station_m)
    return np.asarray(at[known] - true)
