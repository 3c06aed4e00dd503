"""Times of the table of rides: ISO 8601, times of day, offsets and zones of the tz database."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
import pytest

from trackspread.rides.sheet.table import Row
from trackspread.rides.sheet.times import seen_seconds, start_seconds

FIRST_S = 1_940_911_200.0  # 2031-07-04T06:00:00Z


def row(text: str) -> Row:
    return Row(sheet="rides.csv", line=2, file="a.gpx", receiver="", ride="", start_pressed=text, note="")


@pytest.mark.parametrize(
    ("text", "before_s"),
    [
        ("2031-07-04T05:59:30Z", 30.0), ("2031-07-04T07:59:30+02:00", 30.0), ("2031-07-04 05:59:30", 30.0),
        ("2031-07-04T05:59:30.5Z", 29.5), ("05:59:30", 30.0), ("5:59:30", 30.0), ("05:59:30Z", 30.0),
        ("05:59:30.25", 29.75), ("2031-07-04T05:00:00Z", 3600.0), ("06:00:00", 0.0), ("06:00:00.9", 0.0),
    ],
)  # fmt: skip
def test_starts_that_can_be(text: str, before_s: float) -> None:
    assert FIRST_S - start_seconds(row(text), FIRST_S) == before_s


def test_a_time_of_day_before_midnight_belongs_to_the_day_before() -> None:
    midnight_s = FIRST_S - 6 * 3600.0
    assert start_seconds(row("23:59:50"), midnight_s + 5.0) == midnight_s - 10.0


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("06:00:02", "before the first point"), ("2031-07-04T04:59:59Z", "by an hour at most"),
        ("07:59:30", "before the first point"), ("2031-07-03T05:59:30Z", "hour at most"),
        ("05:59", "to the second"), ("soon", "must be a time"), ("24:00:00", "must be a time"),
        ("0001-01-01T00:00:00+23:59", "must"), ("9999-12-31T23:59:59-23:59", "must"),
        ("=NOW()", "must be a time"),
    ],
)  # fmt: skip
def test_starts_that_cannot_be(text: str, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        start_seconds(row(text), FIRST_S)


@pytest.mark.parametrize(
    ("text", "words"),
    [("07:59:30", "it is 2 h late"), ("23:59:30", "it is 6 h early"), ("02:59:30", "it is 3 h early")],
)
def test_a_time_of_day_in_local_time_is_said_to_be_hours_off(text: str, words: str) -> None:
    """Half a minute before the first point, by the clocks of UTC+2, UTC-6 and UTC-3."""
    with pytest.raises(ValueError, match=words):
        start_seconds(row(text), FIRST_S)


@pytest.mark.parametrize(
    ("before_s", "words"),
    [(3605.0, "it is 1 h early"), (7200.0 + 890.0, "it is 2 h early"), (-3595.0, "it is 1 h late"),
     (-7200.0, "it is 2 h late"), (7200.0 + 910.0, ""), (-2000.0, ""), (15 * 3600.0 + 5.0, "")],
)  # fmt: skip
def test_a_start_that_is_whole_hours_off_is_said_to_be(before_s: float, words: str) -> None:
    """Summer time is an hour, zones are up to 14 (UTC+14, the farthest there is)."""
    with pytest.raises(ValueError, match="start_pressed must lie before") as caught:
        start_seconds(row(datetime.fromtimestamp(FIRST_S - before_s, UTC).isoformat()), FIRST_S)
    assert (words in str(caught.value)) if words else (" h " not in str(caught.value))


NOON_S = 1_940_933_156.0  # 2031-07-04T12:05:56Z


@pytest.mark.parametrize(
    ("text", "wait_s"),
    [
        ("12:05:46Z", 10.0),
        ("12:05:46", 10.0),
        ("14:05:46+02:00", 10.0),
        ("14:05:46 +0200", 10.0),
        ("01:05:46-11:00", 10.0),
        ("06:05:46 America/Resolute", None),
        ("2031-07-04T14:05:46+02:00", 10.0),
        ("2031-07-04 07:05:46 America/Resolute", 10.0),
        ("07:05:46 America/Resolute", 10.0),
        ("14:05:46+99:00", None),
        ("14:05:46 Nowhere/Atall", None),
    ],
)
def test_local_times_with_an_offset_or_a_zone(text: str, wait_s: float | None) -> None:
    """Resolute keeps UTC-5 in summer (tz database)."""
    row = Row(sheet="s", line=2, file="a", receiver="", ride="", start_pressed=text, note="")
    if wait_s is None:
        with pytest.raises(ValueError, match="start_pressed must"):
            start_seconds(row, NOON_S)
    else:
        assert NOON_S - start_seconds(row, NOON_S) == wait_s


@pytest.mark.parametrize(
    ("text", "seen", "rule"),
    [
        ("12:05:52", -4.0, ""),
        ("12:06:10", 14.0, ""),
        ("", math.nan, ""),
        ("12:05:30", 0.0, "not lie before start_pressed"),
        ("12:05", 0.0, "to the second"),
        ("2031-07-04T14:06:00Z", 0.0, "within an hour of the first point"),
    ],
)
def test_when_the_watch_showed_its_fix(text: str, seen: float, rule: str) -> None:
    row = Row(sheet="s", line=2, file="a", receiver="", ride="", start_pressed="", note="", fix_seen=text)
    if rule:
        with pytest.raises(ValueError, match=rule):
            seen_seconds(row, NOON_S - 10.0, NOON_S)
    else:
        np.testing.assert_equal(seen_seconds(row, NOON_S - 10.0, NOON_S) - NOON_S, seen)
