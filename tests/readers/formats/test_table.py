"""Tables of points: aliases, separators, times, groups; CSV and Parquet alike."""

from __future__ import annotations

import csv
import io
import sys
from datetime import UTC, datetime

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from trackspread.errors import UnreadableFile
from trackspread.model import Trace
from trackspread.readers import parse
from trackspread.readers.formats.table import ALIASES

NOON = datetime(2031, 7, 4, 12, tzinfo=UTC).timestamp()


def read(text: str, name: str = "a.csv") -> list[Trace]:
    traces, problems = parse(name, text.encode(), True)
    assert problems == []
    return traces


def packed(columns: dict[str, object]) -> bytes:
    buffer = io.BytesIO()
    pq.write_table(pa.table(columns), buffer)
    return buffer.getvalue()


@pytest.mark.parametrize("lon", ALIASES["lon"])
@pytest.mark.parametrize("lat", ALIASES["lat"])
def test_names_of_columns(lon: str, lat: str) -> None:
    (trace,) = read(f"{lat.upper()}, {lon} ,pulse\n75.1,-87.3,90\n")
    assert (trace.lon_deg[0], trace.lat_deg[0]) == (-87.3, 75.1)


@pytest.mark.parametrize(
    "text",
    ["2031-07-04T12:00:00Z", "2031-07-04 14:00:00+02:00", f"{NOON:.0f}", f"{NOON * 1000:.0f}", f"{NOON}"],
)
def test_times(text: str) -> None:
    (trace,) = read(f"time,lon,lat\n{text},1,2\n")
    assert trace.time_s.tolist() == [NOON]


def test_times_without_a_zone_are_taken_as_utc_and_told() -> None:
    (trace,) = read("time,lon,lat\n2031-07-04 12:00:00,1,2\n")
    assert trace.time_s.tolist() == [NOON]
    assert [f.code for f in trace.findings] == ["time without zone"]


def test_decimal_commas_between_semicolons() -> None:
    (trace,) = read("time;lon;lat;ele\n2031-07-04T12:00:00Z;-87,25;75,5;3,5\n")
    assert (trace.lon_deg[0], trace.lat_deg[0], trace.elevation_m[0]) == (-87.25, 75.5, 3.5)


def test_receivers_and_rides_part_the_rows() -> None:
    text = "time,lon,lat,receiver,ride\n" + "".join(
        f"{NOON + i},{i},2,{('sedge', 'moss')[i % 2]},{i // 4}\n" for i in range(8)
    )
    traces = read(text)
    assert [(t.receiver, t.ride, len(t.lon_deg), t.part) for t in traces] == [
        ("sedge", "0", 2, 0), ("moss", "0", 2, 1), ("sedge", "1", 2, 2), ("moss", "1", 2, 3),
    ]  # fmt: skip


def test_bad_rows_cost_themselves_and_are_named() -> None:
    (trace,) = read(f"time,lon,lat\n{NOON},1,2\n7\n{NOON + 1},1,200\nnoon,1,2\n{NOON + 2},1,3\n")
    assert [(f.code, f.first_place) for f in trace.findings] == [
        ("bad row", "line 3"), ("bad position", "line 4"), ("bad time", "line 5"),
    ]  # fmt: skip
    assert len(trace.lon_deg) == 3
    assert trace.points_set_aside == 2


def test_a_table_of_something_else_is_refused_where_asked_for_and_passed_over_where_not() -> None:
    with pytest.raises(UnreadableFile, match="columns lon and lat"):
        parse("a.csv", b"time,pulse\n1,2\n", True)
    assert parse("a.csv", b"time,pulse\n1,2\n", False) == ([], [])


def test_the_writer_of_the_standard_library_is_understood() -> None:
    """csv.writer in each of its dialects."""
    for dialect in csv.list_dialects():
        text = io.StringIO(newline="")
        writer = csv.writer(text, dialect)
        writer.writerows([["note", "lon", "lat"], ['a "b",\nc', -87.3, 75.1]])
        (trace,) = read(text.getvalue())
        assert trace.lat_deg.tolist() == [75.1]


def test_parquet_gives_what_csv_gives() -> None:
    lon, lat = [-87.3, -87.2, -87.1], [75.1, 75.2, 75.3]
    times = [NOON, NOON + 1, NOON + 2]
    (known,) = read(
        "time,lon,lat\n" + "".join(f"{t},{x},{y}\n" for t, x, y in zip(times, lon, lat, strict=True))
    )
    kinds = {
        "floats": times,
        "texts": ["2031-07-04T12:00:00Z", "2031-07-04T12:00:01Z", "2031-07-04T12:00:02Z"],
        "stamps": pa.array([int(t * 1e9) for t in times], pa.timestamp("ns", tz="Europe/Oslo")),
        "milliseconds": [int(t * 1000) for t in times],
    }
    for column in kinds.values():
        (trace,), _ = parse("a.parquet", packed({"time": column, "lon": lon, "lat": lat}), True)
        for name in ("time_s", "lon_deg", "lat_deg"):
            np.testing.assert_array_equal(getattr(trace, name), getattr(known, name))


def test_parquet_missing_values_and_groups() -> None:
    columns = {"lon": [1.0, None, 3.0], "lat": [1.0, 2.0, float("nan")], "receiver": ["a", "b", None]}
    (trace,), _ = parse("a.parquet", packed(columns), True)
    assert (trace.receiver, len(trace.lon_deg)) == ("a", 1)
    assert [(f.code, f.count, f.first_place) for f in trace.findings] == [("bad position", 2, "row 2")]


def test_parquet_that_is_cut_or_of_other_columns_is_refused() -> None:
    data = packed({"lon": [1.0], "lat": [2.0]})
    for bad in (data[:-5], data[:4] + data[9:], packed({"x": [1]}), packed({"lon": [[1.0]], "lat": [1.0]})):
        with pytest.raises(UnreadableFile):
            parse("a.parquet", bad, True)


def test_without_its_library_parquet_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The core install reads everything else; the message names the Python that is installed."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(UnreadableFile, match=f"run: {sys.executable} -m pip install pyarrow"):
        parse("a.parquet", b"PAR1", True)


def test_a_column_of_accuracy_is_kept_as_a_claim() -> None:
    text = "time,lon,lat,hacc\n2031-07-04T06:00:00Z,-87.3,75.1,4\n2031-07-04T06:00:01Z,-87.3,75.1,\n"
    (trace,), _ = parse("a.csv", text.encode(), True)
    np.testing.assert_equal(trace.claims.accuracy_m, [4.0, np.nan])
