"""`Analysis` to the document of result.json: strict JSON, null with a reason, no idle digits.

The names are fixed by schema ``trackspread.result/1`` (docs/result.schema.json, docs/result.md).
"""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.results.rounding import decimals, rounded, rounded_interval, utc
from trackspread.results.saved import SCHEMA, load_result

__all__ = ["SCHEMA", "load_result", "result_document", "result_text", "wrapped_lon_deg"]

Document = dict[str, Any]


def result_document(analysis: m.Analysis) -> Document:
    """Return everything an analysis found as plain dicts, lists, texts, finite numbers and ``None``."""
    return {
        "schema": SCHEMA,
        "tool": {"name": "trackspread", "version": analysis.version},
        "created": utc(analysis.created_s),
        "published": analysis.published,
        "settings": dict(analysis.settings),
        "inputs": [_input(record) for record in analysis.inputs],
        "routes": [_route(route) for route in analysis.routes],
        "problems": list(analysis.problems),
        "notes": list(analysis.notes),
    }


def result_text(document: Document) -> str:
    """Return the document as JSON text: RFC 8259, UTF-8, one order of names, newline at the end."""
    return json.dumps(document, allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def wrapped_lon_deg(lon_deg: m.Floats) -> m.Floats:
    """Return longitudes in [-180, 180), degrees."""
    return (np.asarray(lon_deg, dtype=float) + 180.0) % 360.0 - 180.0


# --- pieces ------------------------------------------------------------------------------------------


def _figure(name: str, value: float, reason: str, places: int = 1) -> Document:
    """One number, or null with its reason beside it."""
    number = rounded(value, places)
    if number is not None:
        return {name: number}
    return {name: None, f"{name}_reason": reason or "no figure could be formed"}


def _metres(name: str, value: float, reason: str) -> Document:
    """A length without an interval of its own: two significant digits, tenths at the finest."""
    coarse = decimals(0.0, 2 * abs(value)) if math.isfinite(value) else 1
    return _figure(name, value, reason, max(0, min(1, coarse)))


def _estimate(estimate: m.Estimate, unit: str = "_m") -> Document:
    value, low, high = rounded_interval(estimate.value, estimate.low, estimate.high)
    out: Document = {f"value{unit}": value, f"low{unit}": low, f"high{unit}": high}
    if value is None or low is None or high is None:
        out["reason"] = estimate.reason or "no figure could be formed"
    return out


def _median(median: m.MedianEstimate) -> Document:
    value, low, high = rounded_interval(median.median, median.low, median.high, finest=1)
    out: Document = {"median": value, "low": low, "high": high, "n": median.n, "censored": median.censored}
    out["confidence"] = rounded(median.confidence, 4)
    if None in (value, low, high):
        out["reason"] = median.reason or "too few rides for an interval at this confidence"
    return out


def _input(record: m.InputRecord) -> Document:
    return {
        "file": record.file,
        "format": record.format,
        "name": record.name,
        "points": record.points,
        "points_set_aside": record.points_set_aside,
        "receiver": record.receiver,
        "receiver_from": record.receiver_from,
        "ride": record.ride,
        "ride_from": record.ride_from,
        "route": record.route,
        "status": record.status,
        "reason": record.reason,
        "start_time": utc(record.start_time_s),
        "note": record.note,
        "findings": [
            {"code": f.code, "count": f.count, "text": f.text, "first_place": f.first_place}
            for f in record.findings
        ],
    }


def _route(route: m.RouteResult) -> Document:
    coordinates = np.column_stack([wrapped_lon_deg(route.lon_deg), route.lat_deg]).round(7)
    return {
        "name": route.name,
        "length_m": rounded(route.length_m, 0),
        "grid": {"proj4": route.proj4, "scale_error_ppm": rounded(route.scale_error_ppm, 2)},
        "station_step_m": rounded(route.station_step_m, 3),
        "centreline": {"type": "LineString", "coordinates": coordinates.tolist()},
        "spread": _estimate(route.spread) | _metres("p95_m", route.p95_m, "no two traces run together"),
        **_figure("correlation_length_m", route.correlation_length_m, "too few stations to estimate it", 0),
        "traces": [_trace(trace) for trace in route.traces],
        "segments": [_segment(segment) for segment in route.segments],
        "stretches": [_stretch(stretch) for stretch in route.stretches],
        "receivers": [_receiver(receiver) for receiver in route.receivers],
        "pairs": [_pair(pair) for pair in route.pairs],
        "film": [_film(entry) for entry in route.film],
        "references": [_reference(reference) for reference in route.references],
        "notes": list(route.notes),
    }


def _trace(trace: m.TraceResult) -> Document:
    first, settled = trace.first_fix, trace.settled_fix
    alone = "no other trace runs beside it"
    return {
        "file": trace.file,
        "part": trace.part,
        "name": trace.name,
        "receiver": trace.receiver,
        "ride": trace.ride,
        "first_fix": {
            **_figure("value_s", first.value_s, first.reason or "not measurable", 1),
            "source": first.source,
            **_figure("at_station_m", first.at_station_m, _no_station(first), 0),
            "missing_m": rounded(first.missing_m, 0),
            "lower_bound_s": rounded(first.lower_bound_s, 0),
        },
        "settled_fix": {
            **_figure("value_s", settled.value_s, settled.reason or "not measurable", 1),
            **_figure("at_station_m", settled.at_station_m, settled.reason or "not measurable", 0),
            "censored": settled.censored,
            "band_m": rounded(settled.band_m, 1),
            "hold_s": rounded(settled.hold_s, 0),
        },
        **_metres("spread_m", trace.spread_m, alone),
        **_figure("bias_m", trace.bias_m, alone, 1),
        **_metres("p95_m", trace.p95_m, alone),
        **_figure("coverage", trace.coverage, "no station was reached", 3),
        **_figure("recorded_length_m", trace.recorded_length_m, "fewer than two positions", 0),
        "gaps": [
            {"from_m": rounded(gap.from_m, 0), "to_m": rounded(gap.to_m, 0)}
            | _figure("seconds", gap.seconds, "the trace has no times", 0)
            for gap in trace.gaps
        ],
    }


def _no_station(fix: m.FirstFix) -> str:
    """Return why the place of a first fix is not given: withheld for publishing, or off the line."""
    _, withheld, why = fix.reason.rpartition("withheld")
    return withheld + why if withheld else "the first position is away from the line"


def _segment(segment: m.Segment) -> Document:
    alone = segment.spread.reason or "fewer than two traces here"
    return {
        "from_m": rounded(segment.from_m, 1),
        "to_m": rounded(segment.to_m, 1),
        "traces": segment.traces,
        "spread": _estimate(segment.spread),
        **_metres("p95_m", segment.p95_m, alone),
        **_metres("widest_m", segment.widest_m, alone),
        **_figure("coverage", segment.coverage, "no trace runs here", 3),
        "verdict": segment.verdict,
        "reasons": list(segment.reasons),
    }


def _stretch(stretch: m.Stretch) -> Document:
    timeless = "the trace has no times here"
    out = {
        "file": stretch.file,
        "receiver": stretch.receiver,
        "ride": stretch.ride,
        "from_m": rounded(stretch.from_m, 0),
        "to_m": rounded(stretch.to_m, 0),
        **_figure("peak_m", stretch.peak_m, "no offset was found", 1),
        **_figure("mean_m", stretch.mean_m, "no offset was found", 1),
        "side": stretch.side,
        **_figure("seconds", stretch.seconds, timeless, 0),
        "start_time": utc(stretch.start_time_s),
        "cause": stretch.cause,
    }
    if out["start_time"] is None:
        out["start_time_reason"] = timeless if out["seconds"] is None else "withheld: dates are left out"
    return out


def _receiver(receiver: m.ReceiverResult) -> Document:
    return {
        "receiver": receiver.receiver,
        "rides": receiver.rides,
        "spread": _estimate(receiver.spread),
        "first_fix_s": _median(receiver.first_fix_s),
        "settled_fix_s": _median(receiver.settled_fix_s),
        **_figure("stretch_share", receiver.stretch_share, "too few rides to say", 3),
    }


def _pair(pair: m.PairResult) -> Document:
    apart = "the two never pass the same station in one ride"
    clock = _estimate(pair.clock_offset_s, "_s")
    common = _estimate(pair.common_sd_m)
    timeless = clock.get("reason", "no times to compare")
    unsplit = common.get("reason", "not separable")
    return {
        "a": pair.a,
        "b": pair.b,
        "rides": pair.rides,
        "ride_names": list(pair.ride_names),
        "clock_offset_s": clock["value_s"],
        **({"clock_offset_s_reason": timeless} if clock["value_s"] is None else {}),
        "clock_offset": clock,
        "separation_m": {
            **_metres("median", pair.separation_median_m, apart),
            **_metres("p95", pair.separation_p95_m, apart),
        },
        "sd_a": _estimate(pair.sd_a),
        "sd_b": _estimate(pair.sd_b),
        "common_sd_m": common["value_m"],
        **({"common_sd_m_reason": unsplit} if common["value_m"] is None else {}),
        "common_sd": common,
        "bias": _estimate(pair.bias_m),
        "limits_m": [rounded(limit, 1) for limit in pair.limits_m],
        "difference": _estimate(pair.difference),
        "told_apart": pair.told_apart,
        "sentence": pair.sentence,
    }


def _film(entry: m.FilmEntry) -> Document:
    west, south, east, north = entry.bounds
    lon = wrapped_lon_deg(np.array([west, east]))
    return {
        "from_m": rounded(entry.from_m, 1),
        "to_m": rounded(entry.to_m, 1),
        "verdict": entry.verdict,
        "why": entry.why,
        "bounds": [rounded(lon[0], 7), rounded(south, 7), rounded(lon[1], 7), rounded(north, 7)],
    }


def _reference(reference: m.ReferenceResult) -> Document:
    return {
        "receiver": reference.receiver,
        "bias": _estimate(reference.bias_m),
        "rmse": _estimate(reference.rmse_m),
        "accuracy_95": _estimate(reference.accuracy_95_m),
        "segment_bias_m": [rounded(value, 1) for value in reference.segment_bias_m],
        "segment_rmse_m": [rounded(value, 1) for value in reference.segment_rmse_m],
    }
