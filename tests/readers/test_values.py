"""Numbers and times as files write them, against ISO 8601 and plain decimal notation."""

from __future__ import annotations

import math

import pytest

from trackspread.readers.notes import Notes
from trackspread.readers.values import degrees, metres, number, utc_seconds, utc_text


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1e2", 100.0),
        (" 2.5 ", 2.5),
        ("1_0", None),
        ("inf", None),
        ("nan", None),
        ("٣", None),
        ("", None),
        (None, None),
    ],
)
def test_a_number_is_finite_and_plain(text: str | None, value: float | None) -> None:
    assert number(text) == value if value is not None else math.isnan(number(text))


@pytest.mark.parametrize(
    ("text", "plain", "code"),
    [
        ("75,15", "75.15", "decimal comma"),
        ("91", "", ""),
        ("1,234,5", "", ""),
        ("75.15", "75.15", ""),
        (None, "", ""),
    ],
)
def test_an_angle_with_a_comma_is_read_and_said(text: str | None, plain: str, code: str) -> None:
    notes = Notes()
    assert degrees(text, 90.0, notes, "line 1") == plain
    assert [f.code for f in notes.findings()] == ([code] if code else [])


def test_a_height_that_is_no_number_is_left_out_and_said() -> None:
    notes = Notes()
    assert (metres("12,5", notes, "a"), metres("high", notes, "b"), metres("3", notes, "c")) == (
        "12.5",
        "",
        "3",
    )
    assert [f.code for f in notes.findings()] == ["decimal comma", "bad elevation"]


@pytest.mark.parametrize(
    ("text", "seconds", "code"),
    [
        ("2031-03-03T07:00:00Z", 1930287600.0, ""),
        ("2031-03-03T08:30:00+01:30", 1930287600.0, ""),
        ("2031-03-03 07:00:00", 1930287600.0, "time without zone"),
        ("2031-03-03T06:59:60Z", 1930287599.0, "leap second"),
        ("2031-03-03T07:00:00.25Z", 1930287600.25, ""),
        ("2031-02-30T07:00:00Z", math.nan, "bad time"),
        ("2031-03-03T24:00:00Z", math.nan, "bad time"),
        ("2031-03-03T07:00:00+15:00", math.nan, "bad time"),
        ("yesterday", math.nan, "bad time"),
    ],
)
def test_times(text: str, seconds: float, code: str) -> None:
    """Seconds by `date -u -d 2031-03-03T07:00:00Z +%s`."""
    notes = Notes()
    found = utc_seconds(utc_text(text, notes, "line 1"))
    assert found == seconds or (math.isnan(found) and math.isnan(seconds))
    assert [f.code for f in notes.findings()] == ([code] if code else [])
