"""Tables in Parquet, read in a process of its own."""

from __future__ import annotations

import io

import pytest

from trackspread.errors import UnreadableFile
from trackspread.readers.recognise import parse

pa = pytest.importorskip("pyarrow")
pq = pytest.importorskip("pyarrow.parquet")


def table(**columns: list[object]) -> bytes:
    file = io.BytesIO()
    pq.write_table(pa.table(columns), file)
    return file.getvalue()


def test_known_columns_are_read_whatever_else_is_in_the_table() -> None:
    data = table(lon=[3.0, 3.001], mood=["good", "bad"], lat=[-54.4, -54.4], time=[1.9e9, 1.9e9 + 1])
    (trace,), problems = parse("a.parquet", data, True)
    assert trace.lon_deg.tolist() == [3.0, 3.001]
    assert trace.time_s.tolist() == [1.9e9, 1.9e9 + 1]
    assert problems == []


@pytest.mark.parametrize(
    "data", [b"PAR1" + b"x" * 100 + b"PAR1", table(mood=["good"])], ids=["broken", "no position"]
)
def test_anything_else_is_refused_in_one_line(data: bytes) -> None:
    with pytest.raises(UnreadableFile) as told:
        parse("a.parquet", data, True)
    assert "\n" not in str(told.value)
    assert "Traceback" not in str(told.value)
