"""Recordings as GPX 1.1 files with their rides.csv."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from world.simulation import Recording

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<gpx version="1.1" creator="an invented receiver" xmlns="http://www.topografix.com/GPX/1/1">\n'
    "<trk><trkseg>\n"
)
_TAIL = "</trkseg></trk>\n</gpx>\n"


def gpx_text(recording: Recording) -> str:
    """Return the GPX 1.1 text of one recording, seven decimals of a degree."""
    points = zip(
        recording.lat_deg.tolist(), recording.lon_deg.tolist(), recording.time_s.tolist(), strict=True
    )
    lines = (
        f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><time>{utc(time)}</time></trkpt>\n'
        for lat, lon, time in points
    )
    return _HEAD + "".join(lines) + _TAIL


def utc(time_s: float) -> str:
    """Return an instant as GPX writes it, with milliseconds only where there are any."""
    whole, milli = divmod(round(time_s * 1000), 1000)
    text = f"{datetime.fromtimestamp(whole, UTC):%Y-%m-%dT%H:%M:%S}"
    return f"{text}.{milli:03d}Z" if milli else f"{text}Z"


def write_gpx(
    recordings: Sequence[Recording],
    folder: Path,
    ride_name: Callable[[Recording], str] = lambda recording: str(recording.ride + 1),
    note: Callable[[Recording], str] = lambda recording: "",
) -> list[Path]:
    """Write each recording and one rides.csv into ``folder``; return the GPX files."""
    folder.mkdir(parents=True, exist_ok=True)
    files = [folder / recording.file for recording in recordings]
    for file, recording in zip(files, recordings, strict=True):
        file.write_bytes(gpx_text(recording).encode())
    with (folder / "rides.csv").open("w", newline="", encoding="utf-8") as sheet:
        rows = csv.writer(sheet, lineterminator="\n")
        rows.writerow(["file", "receiver", "ride", "start_pressed", "note"])
        for r in recordings:
            start = utc(r.start_s) if r.start_known else ""
            rows.writerow([r.file, r.receiver.name, ride_name(r), start, note(r)])
    return files
