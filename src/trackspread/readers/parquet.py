"""Parquet tables of points by pyarrow, the only module that knows it."""

from __future__ import annotations

import math

import pyarrow as pa
import pyarrow.parquet as pq

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.model import Trace
from trackspread.readers.notes import Notes
from trackspread.readers.table import Points, epoch_seconds, find_columns
from trackspread.readers.values import number, utc_seconds, utc_text

MOST_ROWS = 20_000_000
LARGEST_UNPACKED = 2 * 2**30
_UNIT = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}
_REFUSED = (
    pa.ArrowException,
    OSError,
    ValueError,
    TypeError,
    OverflowError,
    MemoryError,
    NotImplementedError,
)


def parse_parquet(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return the traces of a table; columns as for CSV, times also as timestamps.

    Raises
    ------
    UnreadableFile
        No Parquet, too large unpacked, no columns of longitude and latitude, or no usable row.
    """
    notes = Notes()
    try:
        stored = pq.ParquetFile(pa.BufferReader(data))
        names = stored.schema_arrow.names
        columns = {main: names[place] for main, place in find_columns(file, names).items()}
        _check_size(file, stored)
        table = stored.read(columns=list(columns.values()), use_threads=False)
        points = _points({main: table.column(name) for main, name in columns.items()}, notes)
    except _REFUSED as error:
        rule = f"the Parquet library refuses the file: {printable(str(error), 160)}"
        raise UnreadableFile(Problem(file=file, rule=rule, remedy="write the table again")) from None
    return points.traces(file, "Parquet")


def _check_size(file: str, stored: pq.ParquetFile) -> None:
    meta = stored.metadata
    size = sum(meta.row_group(group).total_byte_size for group in range(meta.num_row_groups))
    if meta.num_rows > MOST_ROWS or size > LARGEST_UNPACKED:
        rule = f"at most {MOST_ROWS} rows and {LARGEST_UNPACKED / 2**30:.0f} GiB unpacked are read"
        raise UnreadableFile(Problem(file=file, value=f"{meta.num_rows} rows, {size} bytes", rule=rule))


def _points(columns: dict[str, pa.ChunkedArray], notes: Notes) -> Points:
    points = Points(notes)
    rows = len(columns["lon"])
    nothing, blank = [math.nan] * rows, [""] * rows
    time_s = _times(columns["time"], notes) if "time" in columns else nothing
    lon, lat = _numbers(columns["lon"]), _numbers(columns["lat"])
    height = _numbers(columns["elevation"]) if "elevation" in columns else nothing
    receiver = _texts(columns["receiver"]) if "receiver" in columns else blank
    ride = _texts(columns["ride"]) if "ride" in columns else blank
    keys = zip(receiver, ride, strict=True)
    for row, (values, key) in enumerate(
        zip(zip(time_s, lon, lat, height, strict=True), keys, strict=True), 1
    ):
        points.take(*values, key, f"row {row}")
    return points


def _is_text(column: pa.ChunkedArray) -> bool:
    return bool(pa.types.is_string(column.type) or pa.types.is_large_string(column.type))


def _numbers(column: pa.ChunkedArray) -> list[float]:
    if _is_text(column):
        return [number(text) for text in column.to_pylist()]
    values = column.cast(pa.float64(), safe=False).to_pylist()
    return [math.nan if value is None or not math.isfinite(value) else value for value in values]


def _texts(column: pa.ChunkedArray) -> list[str]:
    return ["" if value is None else str(value) for value in column.to_pylist()]


def _times(column: pa.ChunkedArray, notes: Notes) -> list[float]:
    """Return seconds since 1970; timestamps without a time zone are taken as UTC."""
    if _is_text(column):
        texts = enumerate(_texts(column), 1)
        return [utc_seconds(utc_text(text, notes, f"row {row}")) if text else math.nan for row, text in texts]
    if not pa.types.is_timestamp(column.type):
        return [epoch_seconds(value) for value in _numbers(column)]
    if column.type.tz is None:
        notes.note("time without zone", "row 1", len(column))
    unit = _UNIT[column.type.unit]
    ticks = column.cast(pa.int64()).to_pylist()
    return [math.nan if tick is None else tick / unit for tick in ticks]
