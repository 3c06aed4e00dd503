"""Fields of traces: a figure that can be unknown says why."""

from __future__ import annotations

import math
from dataclasses import replace

from records import make_analysis
from trackspread.results.schema.traces import FIRST_FIX, TRACE

FIX = make_analysis(routes=1).routes[0].traces[0].first_fix


def test_an_unknown_first_fix_is_null_with_its_reason_and_a_known_one_has_none() -> None:
    known = FIRST_FIX.written(replace(FIX, value_s=4.0, source="timer"), full=False)
    assert (known["value_s"], known["source"]) == (4.0, "timer")
    unknown = FIRST_FIX.written(replace(FIX, value_s=math.nan, source="none"), full=False)
    assert unknown["value_s"] is None
    assert unknown["value_s_reason"]


def test_every_length_is_told_in_metres() -> None:
    for field in TRACE.fields:
        if field.name.endswith("_m"):
            columns = field.show if isinstance(field.show, tuple) else (field.show,)
            assert all(column.unit == "m" for column in columns if column), field.name
