"""Times as the rider's clock shows them. Zones: tz database (IANA), through Python's zoneinfo."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest

from trackspread.errors import BadOption
from trackspread.rides.sheet.times import moment_s
from trackspread.web.clock import Clock

MOMENT_S = datetime(2031, 7, 4, 22, 30, 5, tzinfo=UTC).timestamp()


def test_utc_needs_nothing_beside_it() -> None:
    assert Clock().local(MOMENT_S) == "2031-07-04 22:30:05"
    assert Clock().beside(MOMENT_S) == ""
    assert Clock().stated("06:30:00") == "06:30:00"


def test_the_date_stands_beside_where_it_differs() -> None:
    clock = Clock("Asia/Tokyo")
    assert clock.local(MOMENT_S) == "2031-07-05 07:30:05"
    assert clock.beside(MOMENT_S) == "2031-07-04 22:30:05 UTC"


@pytest.mark.parametrize("zone", ["Asia/Tokyo", "America/North_Dakota/New_Salem", "Etc/GMT-2", "UTC"])
@pytest.mark.parametrize("text", ["{:%H:%M:%S}", "{:%Y-%m-%d %H:%M:%S}", "{:%Y-%m-%dT%H:%M:%S}"])
def test_what_is_typed_in_local_time_is_that_moment(zone: str, text: str) -> None:
    clock = Clock(zone)
    local = datetime.fromisoformat(clock.local(MOMENT_S))
    assert moment_s(clock.stated(text.format(local)), MOMENT_S + 10.0) == MOMENT_S
    assert clock.shown(clock.stated(text.format(local))) == text.format(local)


@pytest.mark.parametrize(
    "text", ["08:25:56+02:00", "08:25:56Z", "2031-07-04T08:25:56+02:00", "", "half past six"]
)
def test_what_names_its_zone_or_is_no_time_stays(text: str) -> None:
    assert Clock("Asia/Tokyo").stated(text) == text


def test_times_that_are_none() -> None:
    for time_s in (math.nan, math.inf, 1e30):
        assert (Clock("Asia/Tokyo").local(time_s), Clock("Asia/Tokyo").beside(time_s)) == ("no times", "")


@pytest.mark.parametrize("zone", ["", "Mars/Olympus", "../../etc/passwd", "/etc/passwd", "\x00", "A" * 5000])
def test_zones_that_are_none(zone: str) -> None:
    with pytest.raises(BadOption, match="time zone"):
        Clock(zone)
