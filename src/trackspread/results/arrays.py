"""The arrays behind charts and maps as arrays.npz, and an analysis read back from its folder.

The names of the arrays are documented in docs/film.md.
"""

from __future__ import annotations

import math
import zipfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.errors import Problem, UnreadableFile
from trackspread.results.saved import load_result

NAME = "arrays.npz"
LARGEST_BYTES = 8 * 1024**3
ALONG = ("station_m", "lon_deg", "lat_deg", "station_spread_m", "station_low_m", "station_high_m")
ACROSS = ("offset_m", "deviation_m", "crossing_s", "in_stretch")
POINTS = ("lon_deg", "lat_deg", "time_s", "station_m", "break_before")
_SMALL = frozenset({"offset_m", "deviation_m", "station_spread_m", "station_low_m", "station_high_m"})
"""Kept as 32-bit numbers: 0.1 mm at 1 km."""

Arrays = Mapping[str, np.ndarray[Any, Any]]


def write_arrays(analysis: m.Analysis, file: Path) -> None:
    """Write the arrays of every route; the same analysis gives the same bytes."""
    arrays: dict[str, Any] = {}
    for number, route in enumerate(analysis.routes):
        own: dict[str, np.ndarray[Any, Any]] = {name: getattr(route, name) for name in (*ALONG, *ACROSS)}
        sizes = [len(trace.lon_deg) for trace in route.traces]
        own["points_start"] = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
        own["stretch_trace"] = np.array([stretch.number for stretch in route.stretches], dtype=np.int64)
        for name in POINTS:
            own[f"points_{name}"] = np.concatenate([getattr(trace, name) for trace in route.traces] or [[]])
        for name, array in own.items():
            small = name in _SMALL
            arrays[f"route{number}_{name}"] = array.astype(np.float32) if small else array
    with file.open("wb") as stream:
        np.savez_compressed(stream, **arrays)


def load_analysis(folder: Path | str) -> m.Analysis:
    """Return the analysis of a result folder, with figures as rounded there.

    Pairs and references are left out. Raises `UnreadableFile` where result.json or arrays.npz are missing,
    broken, or do not belong together.
    """
    folder = Path(folder)
    document = load_result(folder)
    file = folder / NAME
    arrays = _read(file)
    try:
        routes = tuple(_route(record, _of_route(arrays, n)) for n, record in enumerate(document["routes"]))
    except (KeyError, ValueError, IndexError, TypeError, OverflowError) as error:
        raise _unreadable(file, f"arrays that belong to {folder / 'result.json'} are needed") from error
    return m.Analysis(
        version=document["tool"]["version"],
        created_s=_seconds(document.get("created")),
        settings=document["settings"],
        inputs=(),
        routes=routes,
        published=bool(document.get("published", False)),
    )


def _read(file: Path) -> Arrays:
    try:
        with zipfile.ZipFile(file) as archive:
            if sum(member.file_size for member in archive.infolist()) > LARGEST_BYTES:
                raise _unreadable(file, "at most 8 GiB of arrays are read")
        with np.load(file, allow_pickle=False) as arrays:
            return {name: arrays[name] for name in arrays.files}
    except OSError as error:
        raise _unreadable(file, f"cannot be read: {error.strerror or error}") from error
    except (zipfile.BadZipFile, ValueError, EOFError, KeyError, NotImplementedError, RuntimeError) as error:
        raise _unreadable(file, "an archive of NumPy arrays is needed") from error


def _unreadable(file: Path, rule: str) -> UnreadableFile:
    return UnreadableFile(
        Problem(file=str(file), rule=rule, remedy="analyse the traces again into this folder")
    )


def _of_route(arrays: Arrays, number: int) -> Arrays:
    start = f"route{number}_"
    return {name.removeprefix(start): array for name, array in arrays.items() if name.startswith(start)}


# --- records from the document ----------------------------------------------------------------------


def _known(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _seconds(text: str | None) -> float:
    return datetime.fromisoformat(text).timestamp() if text else math.nan


def _estimate(record: Mapping[str, Any]) -> m.Estimate:
    value, low, high = (_known(record[name]) for name in ("value_m", "low_m", "high_m"))
    return m.Estimate(value=value, low=low, high=high, reason=record.get("reason", ""))


def _route(record: Mapping[str, Any], arrays: Arrays) -> m.RouteResult:
    stations, traces = len(record["centreline"]["coordinates"]), len(record["traces"])
    along: dict[str, Any] = {name: _shaped(arrays[name], (stations,)) for name in ALONG}
    across: dict[str, Any] = {name: _shaped(arrays[name], (traces, stations)) for name in ACROSS}
    across["in_stretch"] = across["in_stretch"].astype(bool)
    return m.RouteResult(
        **along,
        **across,
        name=record["name"],
        length_m=float(record["length_m"]),
        proj4=record["grid"]["proj4"],
        scale_error_ppm=_known(record["grid"]["scale_error_ppm"]),
        station_step_m=float(record["station_step_m"]),
        spread=_estimate(record["spread"]),
        p95_m=_known(record["spread"]["p95_m"]),
        correlation_length_m=_known(record["correlation_length_m"]),
        traces=tuple(_trace(n, trace, arrays) for n, trace in enumerate(record["traces"])),
        segments=tuple(_segment(segment) for segment in record["segments"]),
        stretches=tuple(
            _stretch(stretch, int(number))
            for stretch, number in zip(record["stretches"], arrays["stretch_trace"], strict=True)
        ),
        receivers=tuple(_receiver(receiver) for receiver in record["receivers"]),
        film=tuple(
            m.FilmEntry(
                from_m=entry["from_m"],
                to_m=entry["to_m"],
                verdict=entry["verdict"],
                why=entry["why"],
                bounds=tuple(entry["bounds"]),
            )
            for entry in record["film"]
        ),
        notes=tuple(record.get("notes", ())),
    )


def _shaped(array: np.ndarray[Any, Any], shape: tuple[int, ...]) -> m.Floats:
    if array.shape != shape:
        raise ValueError(f"shape {shape} is needed, found {array.shape}")
    return np.asarray(array, dtype=float)


def _trace(number: int, record: Mapping[str, Any], arrays: Arrays) -> m.TraceResult:
    start = arrays["points_start"]
    if np.any(np.diff(start) < 0) or start[0] != 0 or len(arrays["points_lon_deg"]) != start[-1]:
        raise ValueError("starts of traces do not fit the points")
    part = slice(int(start[number]), int(start[number + 1]))
    count = part.stop - part.start
    points: dict[str, Any] = {name: _shaped(arrays[f"points_{name}"][part], (count,)) for name in POINTS[:-1]}
    first, settled = record["first_fix"], record["settled_fix"]
    return m.TraceResult(
        **points,
        break_before=_shaped(arrays["points_break_before"][part], (count,)).astype(bool),
        number=number,
        file=record["file"],
        part=int(record.get("part", 0)),
        name=record.get("name", ""),
        receiver=record["receiver"],
        ride=record["ride"],
        first_fix=m.FirstFix(
            value_s=_known(first["value_s"]),
            source=first["source"],
            at_station_m=_known(first["at_station_m"]),
        ),
        settled_fix=m.SettledFix(
            value_s=_known(settled["value_s"]),
            at_station_m=_known(settled["at_station_m"]),
            censored=settled["censored"],
            band_m=_known(settled.get("band_m")),
            hold_s=_known(settled.get("hold_s")),
        ),
        spread_m=_known(record["spread_m"]),
        bias_m=_known(record["bias_m"]),
        p95_m=_known(record["p95_m"]),
        coverage=_known(record["coverage"]),
        recorded_length_m=_known(record["recorded_length_m"]),
        gaps=tuple(
            m.Gap(from_m=gap["from_m"], to_m=gap["to_m"], seconds=_known(gap["seconds"]))
            for gap in record["gaps"]
        ),
    )


def _receiver(record: Mapping[str, Any]) -> m.ReceiverResult:
    return m.ReceiverResult(
        receiver=record["receiver"],
        rides=record["rides"],
        spread=_estimate(record["spread"]),
        first_fix_s=_median(record["first_fix_s"]),
        settled_fix_s=_median(record["settled_fix_s"]),
        stretch_share=_known(record["stretch_share"]),
    )


def _median(record: Mapping[str, Any]) -> m.MedianEstimate:
    median, low, high = (_known(record[name]) for name in ("median", "low", "high"))
    return m.MedianEstimate(median=median, low=low, high=high, n=record["n"], reason=record.get("reason", ""))


def _segment(record: Mapping[str, Any]) -> m.Segment:
    return m.Segment(
        from_m=float(record["from_m"]),
        to_m=float(record["to_m"]),
        traces=record["traces"],
        spread=_estimate(record["spread"]),
        p95_m=_known(record["p95_m"]),
        widest_m=_known(record["widest_m"]),
        coverage=_known(record["coverage"]),
        verdict=record["verdict"],
        reasons=tuple(record["reasons"]),
    )


def _stretch(record: Mapping[str, Any], number: int) -> m.Stretch:
    return m.Stretch(
        number=number,
        file=record["file"],
        receiver=record["receiver"],
        ride=record["ride"],
        from_m=float(record["from_m"]),
        to_m=float(record["to_m"]),
        peak_m=_known(record["peak_m"]),
        mean_m=_known(record["mean_m"]),
        side=record["side"],
        seconds=_known(record["seconds"]),
        start_time_s=_seconds(record["start_time"]),
        cause=record["cause"],
    )
