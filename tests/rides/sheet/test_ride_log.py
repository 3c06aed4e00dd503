"""Rows of a ride log, which name no file: matched by watch and time, or told with what to do."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from corpus.blocks import gpx, points, saved, track
from rides.test_assign import NOON_S, trace
from trackspread.cli import main
from trackspread.model import Device, Trace, Witness
from trackspread.readers import ReadResult, read_files
from trackspread.readers.read import FileTraces, SheetFile
from trackspread.rides.assign import assign_witnesses, rows_of
from trackspread.rides.sheet.table import read_sheets

HEAD = "file,receiver,ride,start_pressed,fix_seen,firmware,note,stopped\n"


def at(seconds: float) -> str:
    return datetime.fromtimestamp(NOON_S + seconds, UTC).isoformat().replace("+00:00", "Z")


def log(*rows: tuple[str, float, float], head: str = HEAD) -> str:
    return head + "".join(f",{watch},,{at(start)},{at(fix)},,,\n" for watch, start, fix in rows)


def read_with(text: str, *traces: Trace) -> ReadResult:
    files = tuple(
        FileTraces(name=t.file, path=t.file, below=Path(t.file).parts[:-1], traces=(t,), problems=())
        for t in traces
    )
    sheet = SheetFile(name="rides.csv", path="rides.csv", data=text.encode())
    return ReadResult(files=files, sheets=(sheet,), problems=())


def matched(text: str, *traces: Trace) -> tuple[dict[str, Witness], list[tuple[str, str, str]]]:
    read = read_with(text, *traces)
    sheet = read_sheets(read)
    assert sheet.problems == ()
    witnesses, problems = assign_witnesses(read, sheet)
    told = [(p.place, p.value, f"{p.rule}; {p.remedy}") for p in problems]
    return {w.trace.file: w for w in witnesses}, told


def test_each_row_finds_the_ride_of_its_watch_that_begins_nearest() -> None:
    """Two watches on two rides, the second half an hour after the first: 600 s each."""
    rides = [
        trace("moss/a.gpx", 0.0), trace("sedge/b.gpx", 5.0),
        trace("moss/c.gpx", 1800.0), trace("sedge/d.gpx", 1803.0),
    ]  # fmt: skip
    text = log(
        ("Moss", -40.0, -2.0), ("sedge", -30.0, 4.0), ("sedge", 1785.0, 1800.0), ("moss ", 1770.0, 1799.0)
    )
    found, problems = matched(text, *rides)
    assert problems == []
    assert {file: NOON_S - w.start_s for file, w in found.items()} == {
        "moss/a.gpx": 40.0, "sedge/b.gpx": 30.0, "sedge/d.gpx": -1785.0, "moss/c.gpx": -1770.0,
    }  # fmt: skip
    assert {w.start_source for w in found.values()} == {"declared"}
    assert found["sedge/b.gpx"].fix_seen_s == NOON_S + 4.0


def test_a_row_gives_an_unknown_watch_its_name() -> None:
    found, problems = matched(log(("moss", -40.0, -2.0)), trace("a.gpx", 0.0))
    assert problems == []
    assert (found["a.gpx"].receiver, found["a.gpx"].receiver_from) == ("moss", "sheet")


def test_a_log_without_the_column_file_and_with_the_fix_alone() -> None:
    text = f"receiver,fix_seen\nmoss,{at(-3.0)}\n"
    found, problems = matched(text, trace("moss/a.gpx", 0.0))
    assert problems == []
    assert found["moss/a.gpx"].fix_seen_s == NOON_S - 3.0
    assert found["moss/a.gpx"].start_source == "none"


def test_a_row_that_names_the_file_counts_first_and_the_log_fills_what_it_leaves_open() -> None:
    text = HEAD + f"a.gpx,fern,out 1,,,,wet,\n,fern,,{at(-40.0)},{at(-1.0)},7.2,dry,\n"
    found, problems = matched(text, trace("a.gpx", 0.0))
    witness = found["a.gpx"]
    assert problems == []
    assert (witness.ride, witness.note, witness.firmware) == ("out 1", "wet", "7.2")
    assert (witness.start_s, witness.fix_seen_s) == (NOON_S - 40.0, NOON_S - 1.0)


@pytest.mark.parametrize(
    ("text", "traces", "place", "value", "words"),
    [
        (
            log(("", -40.0, -2.0)), [trace("moss/a.gpx", 0.0), trace("sedge/b.gpx", 5.0)], "line 2", at(-40.0),
            "2 rides begin at this time (moss/a.gpx, sedge/b.gpx); name the file or the watch",
        ),
        (
            log(("fern", -40.0, -2.0)), [trace("moss/a.gpx", 0.0)], "line 2", "fern",
            "no trace is of this watch (there are: moss); write the watch as it is written there",
        ),
        (
            log(("moss", -4000.0, -3990.0)), [trace("moss/a.gpx", 0.0)], "line 2", at(-4000.0),
            "no ride of this watch begins within an hour after this time "
            f"(one begins 1 h later, at {at(0.0)}: another time zone or summer time); correct the time",
        ),
        (
            log(("moss", -40.0, -2.0), ("moss", -90.0, -2.0)), [trace("moss/a.gpx", 0.0)], "line 3", at(-90.0),
            "line 2 is nearer to moss/a.gpx, the ride of this time; name the file in the column file",
        ),
        (
            HEAD + ",moss,,07:00:00,,,,\n", [trace("moss/a.gpx", 0.0)], "line 2", "07:00:00",
            "start_pressed of a row without a file needs date and time",
        ),
    ],
)  # fmt: skip
def test_a_row_that_is_not_clear_is_told_with_its_remedy(
    text: str, traces: list[Trace], place: str, value: str, words: str
) -> None:
    _, problems = matched(text, *traces)
    assert [(problem[0], problem[1]) for problem in problems] == [(place, value)]
    assert words in problems[0][2]


def of(product: str, name: str, start: float) -> Trace:
    return replace(trace(name, start), device=Device(product=product))


def test_a_name_that_no_file_bears_stands_for_the_one_watch_left_on_its_rides() -> None:
    """Ride 1: both; ride 2, an hour and a half later: Moss 3 alone. So blue is Moss 3, and red the other."""
    rides = [of("Moss 3", "a.fit", 0.0), of("Sedge 2", "b.fit", 5.0), of("Moss 3", "c.fit", 5400.0)]
    text = log(("Blue", -40.0, -2.0), ("red", -30.0, 4.0), ("blue", 5390.0, 5399.0))
    found, problems = matched(text, *rides)
    assert {file: NOON_S - w.start_s for file, w in found.items()} == {
        "a.fit": 40.0, "b.fit": 30.0, "c.fit": -5390.0,
    }  # fmt: skip
    assert [(w.receiver, w.receiver_from) for w in found.values()] == [
        ("Moss 3", "file"), ("Sedge 2", "file"), ("Moss 3", "file"),
    ]  # fmt: skip
    assert [problem[:2] for problem in problems] == [("line 2", "Blue"), ("line 3", "red")]
    assert problems[0][2].startswith("inferred: this name stands for Moss 3, the only watch of its rides")


@pytest.mark.parametrize(
    ("text", "count"),
    [
        (log(("blue", -40.0, -2.0)), 1),  # either of the two
        (log(("blue", -40.0, -2.0), ("red", -30.0, 4.0)), 2),
        (log(("blue", -40.0, -2.0), ("red", -30.0, 4.0), ("sedge 2", -30.0, 3.0)), 2),  # two for one
    ],
)
def test_a_name_that_could_stand_for_several_watches_is_told_only(text: str, count: int) -> None:
    found, problems = matched(text, of("Moss 3", "a.fit", 0.0), of("Sedge 2", "b.fit", 5.0))
    assert len([words for *_, words in problems if "no trace is of this watch" in words]) == count
    assert [w.start_source for w in found.values()].count("none") >= 1


def test_cells_of_a_log_fill_those_of_the_table_unknown_columns_too() -> None:
    text = HEAD.replace("note", "colour") + f"a.gpx,moss,,,,,,\n,moss,,{at(-40.0)},,,navy,{at(600.0)}\n"
    found, problems = matched(text, trace("a.gpx", 0.0))
    assert (found["a.gpx"].colour, found["a.gpx"].other) == ("navy", (("stopped", at(600.0)),))
    assert problems == []


def test_one_ride_saved_in_two_formats_gets_the_row_twice() -> None:
    ride = trace("moss/a.gpx", 0.0)
    other = Trace(
        file="moss/a.tcx", format="TCX", time_s=ride.time_s, lon_deg=ride.lon_deg, lat_deg=ride.lat_deg,
        elevation_m=ride.elevation_m, break_before=ride.break_before,
    )  # fmt: skip
    found, problems = matched(log(("moss", -40.0, -2.0)), ride, other)
    assert problems == []
    assert [w.start_s for w in found.values()] == [NOON_S - 40.0] * 2


def test_a_log_in_a_folder_speaks_of_what_lies_there(tmp_path: Path) -> None:
    for name in ("1", "2"):
        (tmp_path / name).mkdir()
        saved(tmp_path / name, gpx(track(points(0, 100))), "a.gpx")
    saved(tmp_path / "1", "receiver,start_pressed\nmoss,2031-07-04T05:59:30Z\n", "rides.csv")
    read = read_files([tmp_path])
    rows = rows_of(read, read_sheets(read))
    assert [row.receiver if row else None for row in rows] == ["moss", None]


def test_init_takes_a_log_in_and_what_it_writes_needs_no_matching(tmp_path: Path) -> None:
    rides = tmp_path / "rides"
    rides.mkdir()
    saved(rides, gpx(track(points(0, 100))), "a.gpx")
    saved(
        tmp_path,
        "receiver,start_pressed,fix_seen,stopped\n"
        "moss,2031-07-04T05:59:30Z,2031-07-04T05:59:50Z,2031-07-04T06:30:00Z\n",
        "log.csv",
    )
    with pytest.raises(SystemExit) as ended:
        main(["init", str(rides), "--rides", str(tmp_path / "log.csv")])
    assert ended.value.code == 0
    with (rides / "rides.csv").open(newline="") as file:
        (row,) = csv.DictReader(file)
    assert (row["file"], row["receiver"]) == ("a.gpx", "moss")
    assert row["stopped"] == "2031-07-04T06:30:00Z"
    assert (row["start_pressed"], row["fix_seen"]) == ("2031-07-04T05:59:30Z", "2031-07-04T05:59:50Z")
    read = read_files([rides])
    (witness,), problems = assign_witnesses(read, read_sheets(read))
    assert (witness.start_source, problems) == ("declared", ())


def test_many_rides_and_rows_are_matched_each_to_its_own() -> None:
    rng = np.random.default_rng(20311107)
    begins = np.cumsum(rng.uniform(1200.0, 90_000.0, 120))
    waits = rng.uniform(1.0, 200.0, 120)
    traces = [trace(f"moss/{i}.gpx", float(begin), 300) for i, begin in enumerate(begins)]
    text = log(*(("moss", round(float(b - w)), float(b)) for b, w in zip(begins, waits, strict=True)))
    found, problems = matched(text, *traces)
    assert problems == []
    for i, (begin, wait) in enumerate(zip(begins, waits, strict=True)):
        assert found[f"moss/{i}.gpx"].start_s == NOON_S + round(float(begin - wait))
