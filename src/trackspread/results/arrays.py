"""The arrays behind charts and maps as arrays.npz, and an analysis read back from its folder.

The names of the arrays are documented in docs/film.md. ``figures`` holds the document of result.json once
more, with no figure rounded, so that an analysis comes back as it was.
"""

from __future__ import annotations

import io
import json
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.errors import Problem, UnreadableFile
from trackspread.results.saved import load_result
from trackspread.results.schema import RESULT
from trackspread.results.schema.kinds import LARGEST_NUMBER, Check
from trackspread.system.opening import regular

NAME = "arrays.npz"
EPOCH, LEVEL = (1980, 1, 1, 0, 0, 0), 4
"""Time of every entry, and how hard it is packed: 6, as usual, takes twice as long for the same size."""
LARGEST_ARRAYS_BYTES = 8 * 1024**3  # bytes unpacked, bounds memory
ALONG = ("station_m", "lon_deg", "lat_deg", "station_spread_m", "station_low_m", "station_high_m")
ACROSS = ("offset_m", "deviation_m", "crossing_s", "in_stretch")
TAKEN = "variant"
"""Which variant a trace takes where; folders of earlier editions have no such array."""
CLAIMED = "claim_m"
"""What a trace claims of its accuracy where; not there where no watch claims any."""
POINTS = ("lon_deg", "lat_deg", "time_s", "station_m", "break_before")
BETWEEN = ("separation_across_m", "separation_along_m")
FIGURES = "figures"
CREATED = "created"

Arrays = Mapping[str, np.ndarray[Any, Any]]


def write_arrays(analysis: m.Analysis, file: Path) -> None:
    """Write the arrays of every route; the same analysis gives the same bytes, whenever it was made.

    The time of the analysis stands in result.json alone, to the second.

    Parameters
    ----------
    analysis : Analysis
    file : Path
        Written over.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    figures = RESULT.written(analysis, full=True) | {CREATED: 0.0}
    arrays: dict[str, Any] = {FIGURES: _packed(figures)}
    for number, route in enumerate(analysis.routes):
        own: dict[str, np.ndarray[Any, Any]] = {name: getattr(route, name) for name in (*ALONG, *ACROSS)}
        if route.variant.shape == route.offset_m.shape:
            own[TAKEN] = route.variant
        if route.claim_m.shape == route.offset_m.shape:
            own[CLAIMED] = route.claim_m
        sizes = [len(trace.lon_deg) for trace in route.traces]
        own["points_start"] = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
        own["stretch_trace"] = np.array([stretch.number for stretch in route.stretches], dtype=np.int64)
        for name in POINTS:
            own[f"points_{name}"] = np.concatenate([getattr(trace, name) for trace in route.traces] or [[]])
        for i, pair in enumerate(route.pairs):
            own |= {f"pair{i}_{name}": getattr(pair, name) for name in BETWEEN}
        arrays |= {f"route{number}_{name}": array for name, array in own.items()}
    with zipfile.ZipFile(file, "w") as archive:
        for name, array in arrays.items():
            with io.BytesIO() as data:
                np.lib.format.write_array(data, np.asanyarray(array), allow_pickle=False)
                entry = zipfile.ZipInfo(f"{name}.npy", EPOCH)
                archive.writestr(entry, data.getvalue(), zipfile.ZIP_DEFLATED, LEVEL)


def load_analysis(folder: Path | str) -> m.Analysis:
    """Return the analysis of a result folder, in full figures.

    A folder of the first edition gives figures as rounded there, and pairs without their separations.

    Parameters
    ----------
    folder : Path or str
        Holds result.json and arrays.npz.

    Returns
    -------
    Analysis

    Raises
    ------
    UnreadableFile
        Either file is missing or broken, or they do not belong together.
    """
    folder = Path(folder)
    document = load_result(folder)
    file = folder / NAME
    arrays = _read(file)
    try:
        full = _unpacked(arrays[FIGURES]) if FIGURES in arrays else document
        full = full | {CREATED: document.get(CREATED)}
        if not _alike(document, full):
            raise ValueError("other traces")
        routes = [_of_route(arrays, n) for n in range(len(document["routes"]))]
        parts = [_parts(record, own) for record, own in zip(document["routes"], routes, strict=True)]
        analysis: m.Analysis = RESULT.read(full, {"routes": parts})
    except (KeyError, ValueError, IndexError, TypeError, OverflowError, RecursionError) as error:
        raise _unreadable(file, f"arrays that belong to {folder / 'result.json'} are needed") from error
    return analysis


def _packed(document: Any) -> np.ndarray[Any, Any]:
    text = json.dumps(document, ensure_ascii=True, separators=(",", ":"))
    return np.frombuffer(text.encode("ascii"), dtype=np.uint8)


def _unpacked(figures: np.ndarray[Any, Any]) -> Any:
    document = json.loads(np.asarray(figures, dtype=np.uint8).tobytes())
    RESULT.check(
        document, "", Check(refuse=lambda place, value, rule: ValueError(f"{place}: {rule}"), full=True)
    )
    return document


def _alike(document: Any, full: Any) -> bool:
    """Return whether two documents tell of the same routes, traces and pieces."""
    return _shape(document) == _shape(full)


def _shape(document: Any) -> list[Any]:
    lists = ("segments", "stretches", "receivers", "pairs", "film")
    return [
        (route["name"], [trace["file"] for trace in route["traces"]], [len(route[name]) for name in lists])
        for route in document["routes"]
    ]


def _read(file: Path) -> Arrays:
    try:
        with open(file, "rb", opener=regular) as stream:
            with zipfile.ZipFile(stream) as archive:
                if sum(member.file_size for member in archive.infolist()) > LARGEST_ARRAYS_BYTES:
                    raise _unreadable(file, "at most 8 GiB of arrays are read")
            stream.seek(0)
            with np.load(stream, allow_pickle=False) as arrays:
                return {name: arrays[name] for name in arrays.files}
    except OSError as error:
        raise _unreadable(file, f"cannot be read: {error.strerror or error}") from error
    except (zipfile.BadZipFile, zlib.error, ValueError, EOFError, LookupError, RuntimeError) as error:
        raise _unreadable(file, "an archive of NumPy arrays is needed") from error


def _unreadable(file: Path, rule: str) -> UnreadableFile:
    return UnreadableFile(
        Problem(file=str(file), rule=rule, remedy="analyse the traces again into this folder")
    )


def _of_route(arrays: Arrays, number: int) -> Arrays:
    start = f"route{number}_"
    return {name.removeprefix(start): array for name, array in arrays.items() if name.startswith(start)}


def _parts(record: Mapping[str, Any], arrays: Arrays) -> dict[str, Any]:
    """Return what the arrays hold of a route, in the shape of its document."""
    stations, traces = len(record["centreline"]["coordinates"]), len(record["traces"])
    along: dict[str, Any] = {name: _shaped(arrays[name], (stations,)) for name in ALONG}
    across: dict[str, Any] = {name: _shaped(arrays[name], (traces, stations)) for name in ACROSS}
    across["in_stretch"] = across["in_stretch"].astype(bool)
    _on_earth(along)
    if not np.all(np.diff(along["station_m"], prepend=-LARGEST_NUMBER) > 0):
        raise ValueError("stations that grow along the line are needed")
    if TAKEN in arrays:
        across[TAKEN] = _numbered(_shaped(arrays[TAKEN], (traces, stations)), len(record["variants"]))
    if CLAIMED in arrays:
        across[CLAIMED] = _shaped(arrays[CLAIMED], (traces, stations))
    stretches = [{"number": int(number)} for number in arrays["stretch_trace"]]
    pairs = [_between(arrays, i, stations) for i in range(len(record["pairs"]))]
    points = [_points(arrays, number) for number in range(traces)]
    return {**along, **across, "traces": points, "stretches": stretches, "pairs": pairs}


def _shaped(array: np.ndarray[Any, Any], shape: tuple[int, ...]) -> m.Floats:
    if array.shape != shape:
        raise ValueError(f"shape {shape} is needed, found {array.shape}")
    if array.dtype.kind not in "biuf":
        raise ValueError(f"real numbers are needed, found {array.dtype}")
    values = np.asarray(array, dtype=float)
    if np.any(np.isfinite(values) & (np.abs(values) >= LARGEST_NUMBER)):
        raise ValueError(f"numbers below {LARGEST_NUMBER:g} are needed")
    return values


def _on_earth(points: Mapping[str, m.Floats]) -> None:
    """Refuse degrees that are none; longitudes run on where a line crosses the antimeridian."""
    for name, most in (("lon_deg", 360.0), ("lat_deg", 90.0)):
        if not np.all(np.abs(points[name]) <= most):
            raise ValueError(f"{name}: degrees of at most {most:g} are needed")


def _numbered(taken: m.Floats, variants: int) -> m.Ints:
    """Return which variant a trace takes where: 0 is none of them, the first is 1."""
    if not np.all((taken >= 0) & (taken <= variants)):
        raise ValueError(f"numbers of {variants} variants are needed")
    return taken.astype(np.int64)


def _points(arrays: Arrays, number: int) -> dict[str, Any]:
    start = arrays["points_start"]
    in_order = start[0] == 0 and np.all(np.diff(start) >= 0)
    if not in_order or len(arrays["points_lon_deg"]) != start[-1]:
        raise ValueError("starts of traces do not fit the points")
    part = slice(int(start[number]), int(start[number + 1]))
    count = part.stop - part.start
    points: dict[str, Any] = {name: _shaped(arrays[f"points_{name}"][part], (count,)) for name in POINTS}
    _on_earth(points)
    points["break_before"] = points["break_before"].astype(bool)
    return {"number": number, **points}


def _between(arrays: Arrays, number: int, stations: int) -> dict[str, m.Floats]:
    names = [f"pair{number}_{name}" for name in BETWEEN]
    found = [arrays.get(name, np.empty((0, stations))) for name in names]
    shape = (len(found[0]), stations)
    return {name: _shaped(array, shape) for name, array in zip(BETWEEN, found, strict=True)}
