"""Kinds of times in GPX."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from corpus.blocks import GOOD, changed, gpx, kind, point, saved, track, utc


def timed(stamp: Callable[[int], str], count: int = 10) -> str:
    return gpx(track("".join(point(i, time=stamp(i)) for i in range(count))))


@kind
def times_missing(folder: Path) -> Path:
    return saved(folder, timed(lambda i: ""))


@kind
def times_without_zone(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i, zone="")))


@kind
def times_with_offset(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i + 19_800, zone="+05:30")))


@kind
def times_naive_and_with_offset(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i, zone="") if i % 2 else utc(i + 7200, zone="+0200")))


@kind
def times_with_fractions(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i, zone=".123456789Z")))


@kind
def times_with_blank_and_comma(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i, zone=",5z").replace("T", " ")))


@kind
def time_unreadable(folder: Path) -> Path:
    return saved(folder, changed(time="yesterday"))


@kind
def time_on_a_day_that_is_not(folder: Path) -> Path:
    return saved(folder, changed(time="2031-02-30T06:00:05Z"))


@kind
def time_in_year_0(folder: Path) -> Path:
    return saved(folder, changed(time="0000-01-01T00:00:00Z"))


@kind
def time_at_hour_25(folder: Path) -> Path:
    return saved(folder, changed(time="2031-07-04T25:00:05Z"))


@kind
def leap_second(folder: Path) -> Path:
    return saved(folder, timed(lambda i: f"2016-12-31T23:59:{51 + i:02d}Z"))


@kind
def time_runs_backwards_once(folder: Path) -> Path:
    return saved(folder, changed(time=utc(1)))


@kind
def time_leaps_ahead_once(folder: Path) -> Path:
    return saved(folder, changed(time=utc(0, day=9)))


@kind
def clock_set_back_on_the_way(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i if i < 12 else i - 10, day=4), count=40))


@kind
def clock_of_1970(folder: Path) -> Path:
    return saved(folder, timed(lambda i: f"1970-01-01T00:00:{i:02d}Z"))


@kind
def clock_of_1970_until_the_fix(folder: Path) -> Path:
    return saved(folder, timed(lambda i: f"1970-01-01T00:00:{i:02d}Z" if i < 3 else utc(i)))


@kind
def clock_of_2106(folder: Path) -> Path:
    return saved(folder, timed(lambda i: f"2106-02-07T06:28:{i:02d}Z"))


@kind
def every_time_twice(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i // 2)))


@kind
def clock_that_stands_still(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(0), count=200))


@kind
def logging_now_and_then(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i * i)))


@kind
def pause_of_a_day(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i, day=4 + i // 5)))


@kind
def time_of_day_only(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i).partition("T")[2]))


@kind
def time_as_a_number(folder: Path) -> Path:
    return saved(folder, timed(lambda i: str(1_940_911_200 + i)))


@kind
def time_in_year_12031(folder: Path) -> Path:
    return saved(folder, changed(time="12031-07-04T06:00:05Z"))


@kind
def time_with_an_offset_of_99_hours(folder: Path) -> Path:
    return saved(folder, changed(time="2031-07-04T06:00:05+99:00"))


@kind
def empty_time(folder: Path) -> Path:
    return saved(folder, GOOD.replace(f"<time>{utc(5)}</time>", "<time> </time>"))


@kind
def every_time_the_same_but_the_last(folder: Path) -> Path:
    return saved(folder, timed(lambda i: utc(i // 9)))
