"""Who, when and which, where no table says it: folders, metadata, overlap in time and place."""

from __future__ import annotations

from pathlib import Path
from zlib import crc32

import numpy as np
import pytest

from trackspread.model import Trace, Witness
from trackspread.readers import ReadResult
from trackspread.readers.read import FileTraces
from trackspread.rides.assign import assign_witnesses
from trackspread.rides.sheet.table import Row, Sheet

NOON_S = 1_940_932_800.0  # 2031-07-04T12:00:00Z
SPEED_DEG_S = 5e-5  # of latitude: 5.6 m/s


def trace(
    file: str, start_s: float, seconds: int = 600, *, lon: float = -87.3, receiver: str = "", ride: str = "",
    from_s: float = 0.0,
) -> Trace:  # fmt: skip
    """A ride north; ``from_s`` is how far along the way it begins."""
    t = np.arange(float(seconds))
    noise = np.random.default_rng(crc32(file.encode())).normal(0.0, 1e-5, (2, seconds))
    return Trace(
        file=file, format="GPX 1.1", time_s=NOON_S + start_s + t, lon_deg=lon + noise[0],
        lat_deg=75.0 + SPEED_DEG_S * (from_s + t) + noise[1], elevation_m=np.full(seconds, np.nan),
        break_before=np.zeros(seconds, dtype=bool), receiver=receiver, ride=ride,
    )  # fmt: skip


def assigned(*traces: Trace, rows: dict[str, Row] | None = None) -> list[Witness]:
    files = tuple(
        FileTraces(name=t.file, path=t.file, below=Path(t.file).parts[:-1], traces=(t,), problems=())
        for t in traces
    )
    witnesses, problems = assign_witnesses(
        ReadResult(files=files, sheets=(), problems=()), Sheet(rows=rows or {})
    )
    assert problems == ()
    return list(witnesses)


def row(file: str, receiver: str = "", ride: str = "") -> Row:
    return Row(sheet="rides.csv", line=2, file=file, receiver=receiver, ride=ride, start_pressed="", note="")


def rides(*traces: Trace, rows: dict[str, Row] | None = None) -> list[str]:
    return [w.ride for w in assigned(*traces, rows=rows)]


def test_recordings_made_at_once_are_one_ride_numbered_in_time() -> None:
    evening = [trace("c.gpx", 30_000.0), trace("d.gpx", 30_010.0, from_s=10.0)]
    morning = [trace("a.gpx", 0.0), trace("b.gpx", 5.0, from_s=5.0)]
    found = assigned(*evening, *morning)
    assert [w.ride for w in found] == ["2", "2", "1", "1"]
    assert {w.ride_from for w in found} == {"overlap"}


def test_a_recording_alone_is_a_ride_of_its_own() -> None:
    (found,) = assigned(trace("a.gpx", 0.0))
    assert (found.ride, found.ride_from) == ("1", "none")


def test_recordings_at_one_time_far_apart_are_two_rides() -> None:
    assert rides(trace("a.gpx", 0.0), trace("b.gpx", 0.0, lon=-86.0)) == ["1", "2"]


def test_a_clock_two_minutes_off_does_not_part_a_ride() -> None:
    assert rides(trace("a.gpx", 0.0), trace("b.gpx", 115.0)) == ["1", "1"]


def test_a_short_touch_is_no_ride() -> None:
    """One recording ends as the next begins: 60 of 600 s in common."""
    assert rides(trace("a.gpx", 0.0), trace("b.gpx", 540.0, from_s=540.0)) == ["1", "2"]


def test_pieces_of_one_receiver_join_the_ride_of_the_other() -> None:
    pieces = [
        trace("a1.gpx", 0.0, 250, receiver="moss"),
        trace("a2.gpx", 300.0, 250, from_s=300.0, receiver="moss"),
    ]
    assert rides(trace("b.gpx", 0.0, receiver="sedge"), *pieces) == ["1", "1", "1"]


def test_a_receiver_left_running_does_not_make_one_ride_of_two() -> None:
    day = trace("day.gpx", 0.0, 9000, receiver="moss")
    out = trace("out.gpx", 0.0, 1200, receiver="sedge")
    back = trace("back.gpx", 7000.0, 1500, from_s=7000.0, receiver="sedge")
    found = rides(day, out, back)
    assert found[1] != found[2]
    assert found[0] in found[1:]


def test_a_ride_named_in_the_table_spreads_to_its_companions_and_its_name_is_not_given_again() -> None:
    found = assigned(
        trace("a.gpx", 0.0),
        trace("b.gpx", 0.0),
        trace("c.gpx", 30_000.0),
        rows={"a.gpx": row("a.gpx", ride="1")},
    )
    assert [(w.ride, w.ride_from) for w in found] == [("1", "sheet"), ("1", "overlap"), ("2", "none")]


def test_two_names_in_the_table_are_never_joined() -> None:
    rows = {"a.gpx": row("a.gpx", ride="x"), "b.gpx": row("b.gpx", ride="y")}
    assert rides(trace("a.gpx", 0.0), trace("b.gpx", 0.0), rows=rows) == ["x", "y"]


def test_recordings_without_times_or_with_clocks_never_set_are_rides_of_their_own() -> None:
    none = [trace(f"{name}.gpx", float("nan")) for name in "ab"]
    unset = [trace(f"{name}.gpx", -NOON_S) for name in "cd"]
    assert sorted(rides(*none, *unset)) == ["1", "2", "3", "4"]


def test_receiver_from_table_folder_and_file_in_this_order() -> None:
    found = assigned(
        trace("moss/a.gpx", 0.0, receiver="own"), trace("b.gpx", 0.0, receiver="own b"), trace("c.gpx", 0.0),
        trace("moss/d.gpx", 9000.0), rows={"moss/d.gpx": row("moss/d.gpx", receiver="fern")},
    )  # fmt: skip
    assert [(w.receiver, w.receiver_from) for w in found] == [
        ("moss", "folder"), ("own b", "file"), ("unknown receiver", "none"), ("fern", "sheet"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("path", "receiver"),
    [
        ("moss/2031-07/a.gpx", "moss"),
        ("out/moss/a.gpx", "moss"),
        ("moss/GPX/a.gpx", "moss"),
        ("moss.zip/a.gpx", "moss"),
    ],
)
def test_which_folder_names_the_receiver(path: str, receiver: str) -> None:
    assert assigned(trace(path, 0.0))[0].receiver == receiver


def test_no_receiver_records_twice_at_once() -> None:
    """A folder for each ride, or a service that writes its own name into every file, names no receiver."""
    found = assigned(
        trace("ride 1/a.gpx", 0.0, receiver="moss"), trace("ride 1/b.gpx", 0.0, receiver="fern"),
        trace("c.gpx", 9000.0, receiver="service"), trace("d.gpx", 9000.0, receiver="service"),
    )  # fmt: skip
    assert [w.receiver for w in found] == ["moss", "fern", "unknown receiver", "unknown receiver"]


def test_a_recording_exported_twice_does_not_speak_against_its_receiver() -> None:
    one = trace("moss/a.gpx", 0.0)
    found = assigned(one, trace("moss/a.gpx", 0.0))
    assert [w.receiver for w in found] == ["moss", "moss"]


def test_what_the_file_says_of_the_ride_is_taken() -> None:
    found = assigned(trace("a.csv", 0.0, ride="out 1"), trace("b.csv", 0.0))
    assert [(w.ride, w.ride_from) for w in found] == [("out 1", "file"), ("out 1", "overlap")]


def test_order_of_files_changes_no_partition() -> None:
    traces = [trace(f"{i}{j}.gpx", 3000.0 * i + 3 * j, from_s=3.0 * j) for i in range(4) for j in range(3)]
    expected = {t.file: t.file[0] for t in traces}
    for seed in range(5):
        shuffled = [traces[i] for i in np.random.default_rng(seed).permutation(len(traces))]
        found = {w.trace.file: w.ride for w in assigned(*shuffled)}
        assert {file: str(int(ride) - 1) for file, ride in found.items()} == expected
