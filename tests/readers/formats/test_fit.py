"""FIT activities: bytes made by the published protocol, a second decoder, and real files where they lie."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from trackspread.errors import UnreadableFile
from trackspread.model import Trace
from trackspread.readers import parse
from trackspread.readers.formats import fit as fit_reader
from world.fit import EPOCH_S, Fit, activity, crc, semicircles

REAL = Path(__file__).resolve().parents[4] / "shared" / "real" / "activity"
START_S = 1_940_911_200.0
N = 40
TIMES = [START_S + 10 + i for i in range(N)]
PLACES: list[tuple[float, float] | None] = [(-87.3 + 1e-4 * i, 75.15) for i in range(N)]


def read(data: bytes, name: str = "a.fit") -> list[Trace]:
    traces, problems = parse(name, data, True)
    assert problems == []
    return traces


def one(data: bytes) -> Trace:
    (trace,) = read(data)
    return trace


def codes(trace: Trace) -> list[tuple[str, int]]:
    return [(finding.code, finding.count) for finding in trace.findings]


def refused(data: bytes) -> str:
    with pytest.raises(UnreadableFile) as caught:
        parse("a.fit", data, True)
    return str(caught.value)


def test_the_checksum_of_the_writer_is_the_published_one() -> None:
    """CRC-16/ARC, check value of the catalogue of parametrised CRC algorithms."""
    assert crc(b"123456789") == 0xBB3D


@pytest.mark.parametrize("big", [False, True], ids=["low byte first", "high byte first"])
def test_positions_times_and_device(big: bool) -> None:
    """Semicircles are 180 / 2^31 degrees, altitudes (metres + 500) times 5, times count from 1989-12-31."""
    trace = one(activity(TIMES, PLACES, start_s=START_S, big=big, accuracy_m=3))
    assert trace.format == "FIT"
    np.testing.assert_allclose(trace.lon_deg, [p[0] for p in PLACES if p], rtol=0, atol=180 / 2**32)
    np.testing.assert_allclose(trace.lat_deg, 75.15, rtol=0, atol=180 / 2**32)
    assert trace.time_s.tolist() == TIMES
    assert set(trace.elevation_m.tolist()) == {120.0}
    assert (trace.start_s, trace.start_from) == (START_S, "timer")
    assert (trace.device.product, trace.device.serial, trace.device.firmware) == ("Sedge 2", "4711", "3.10")
    assert trace.claims.accuracy_m.tolist() == [3.0] * N
    assert codes(trace) == []


def test_a_file_is_known_by_its_first_bytes() -> None:
    assert len(read(activity(TIMES, PLACES), "recording.bin")) == 1


def test_records_before_the_first_position_are_the_wait_for_it() -> None:
    trace = one(activity([START_S + i for i in range(N)], [None] * 15 + PLACES[15:], start_s=START_S))
    assert trace.time_s[0] - trace.start_s == 15.0
    assert codes(trace) == [("no position", 15)]
    assert trace.points_set_aside == 15


def test_a_position_before_the_timer_stays_and_the_start_with_it() -> None:
    trace = one(activity(TIMES, PLACES, start_s=TIMES[3]))
    assert trace.start_s - trace.time_s[0] == 3.0


def test_without_a_timer_event_the_session_says_when_it_began() -> None:
    trace = one(activity(TIMES, PLACES, sessions=[START_S + 4]))
    assert (trace.start_s, trace.start_from) == (START_S + 4, "timer")


def test_compressed_timestamps_count_five_bits_on() -> None:
    """Protocol: the offset replaces the low five bits of the last time, and one smaller has passed over 32 s."""
    first = int(START_S) - EPOCH_S
    fit = Fit()
    fit.define(0, 20, [(253, "I"), (0, "i"), (1, "i")])
    fit.data(0, first, semicircles(75.15), semicircles(-87.3))
    fit.define(1, 20, [(0, "i"), (1, "i")])
    for i in range(1, 90):
        fit.data(1, semicircles(75.15), semicircles(-87.3 + 1e-4 * i), offset=first + i)
    assert one(fit.bytes()).time_s.tolist() == [START_S + i for i in range(90)]


def test_developer_fields_are_passed_over() -> None:
    fit = Fit()
    fit.define(0, 207, [(3, "B"), (1, "s16")])
    fit.data(0, 0, b"0123456789abcdef")
    fit.define(1, 206, [(0, "B"), (1, "B"), (2, "B"), (3, "s20")])
    fit.data(1, 0, 0, 0x85, b"position_lat")
    fit.define(2, 20, [(253, "I"), (0, "i"), (1, "i")], developer=[(0, 4, 0)])
    for i in range(N):
        fit.data(
            2, int(START_S) - EPOCH_S + i, semicircles(75.15), semicircles(-87.3 + 1e-4 * i), b"\1\2\3\4"
        )
    trace = one(fit.bytes())
    assert len(trace.time_s) == N
    np.testing.assert_allclose(trace.lat_deg, 75.15, atol=1e-7)


def test_chained_files_are_traces() -> None:
    later = [time + 3600 for time in TIMES]
    first, second = read(
        activity(TIMES, PLACES, start_s=START_S) + activity(later, PLACES, start_s=later[0] - 7)
    )
    assert (first.part, second.part) == (0, 1)
    assert (first.time_s[0] - first.start_s, second.time_s[0] - second.start_s) == (10.0, 7.0)


def test_sessions_are_traces() -> None:
    data = activity(
        TIMES, PLACES, start_s=START_S, pauses=[(TIMES[19], TIMES[22])], sessions=[START_S, TIMES[22]]
    )
    first, second = read(data)
    assert (len(first.time_s), len(second.time_s)) == (22, 18)
    assert (first.start_s, second.start_s) == (START_S, TIMES[22])


def test_pauses_break_the_recording() -> None:
    times = TIMES[:20] + [time + 600 for time in TIMES[20:]]
    trace = one(activity(times, PLACES, start_s=START_S, pauses=[(times[19] + 1, times[20] - 1)]))
    assert np.flatnonzero(trace.break_before).tolist() == [20]
    assert trace.start_s == START_S


def test_a_wrong_checksum_is_told_and_the_points_are_kept() -> None:
    trace = one(activity(TIMES, PLACES, wrong=1))
    assert len(trace.time_s) == N
    assert codes(trace) == [("bad checksum of the file", 1)]


def test_what_stands_before_a_cut_is_kept() -> None:
    trace = one(activity(TIMES, PLACES, start_s=START_S)[:-300])
    assert 5 < len(trace.time_s) < N
    assert codes(trace) == [("broken off", 1)]
    assert trace.start_s == START_S


def test_a_clock_that_was_never_set_tells_seconds_apart() -> None:
    """Protocol: date_time below 0x10000000 counts from when the device was switched on."""
    trace = one(activity([EPOCH_S + 100 + i for i in range(N)], PLACES, start_s=EPOCH_S + 90))
    assert np.diff(trace.time_s).tolist() == [1.0] * (N - 1)
    assert codes(trace) == [("odd clock", N)]
    assert trace.time_s[0] - trace.start_s == 10.0


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (activity(TIMES, [None] * N, start_s=START_S), "a.fit: no record has a position (an indoor session"),
        (activity(TIMES, PLACES, kind=2), "this is of another kind (found 'settings')"),
        (activity(TIMES, PLACES, kind=6), "this is of another kind (found 'course')"),
        (Fit().bytes(), "the file holds no records with positions"),
        (activity(TIMES, PLACES)[:60], "message 3: the file breaks off before the first position"),
        (b"\x0e\x20", "this is no FIT file, or its first bytes are damaged"),
        (b"hello, world, hello", "this is no FIT file, or its first bytes are damaged"),
    ],
    ids=["indoors", "settings", "course", "empty", "cut early", "two bytes", "text"],
)
def test_what_gives_nothing_says_why_in_one_line(data: bytes, words: str) -> None:
    said = refused(data)
    assert words in said
    assert "\n" not in said


def test_a_file_that_asks_for_endless_work_is_read_up_to_a_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fit_reader, "MOST_WORK", 60_000)
    data = activity(TIMES, PLACES)
    traces = read(data * 40)
    assert 5 < len(traces) < 25
    assert ("too long", 1) in codes(traces[0])


def _second_decoder(data: bytes) -> list[tuple[float, float, float]]:
    """Return time, longitude and latitude by another decoder of the registry (python-fitparse, MIT)."""
    fitparse = pytest.importorskip("fitparse")
    rows = []
    for message in fitparse.FitFile(io.BytesIO(data)).get_messages("record"):
        values = message.get_values()
        if values.get("position_lat") is not None and values.get("position_long") is not None:
            time_s = values["timestamp"].replace(tzinfo=UTC).timestamp()
            rows.append((time_s, values["position_long"] * 180 / 2**31, values["position_lat"] * 180 / 2**31))
    return rows


@pytest.mark.parametrize("big", [False, True])
def test_a_second_decoder_reads_the_same(big: bool) -> None:
    data = activity(TIMES, [None] * 5 + PLACES[5:], start_s=START_S, big=big)
    trace = one(data)
    assert np.stack([trace.time_s, trace.lon_deg, trace.lat_deg], axis=1).tolist() == [
        list(row) for row in _second_decoder(data)
    ]


TABLE = {
    "late_fix": (2965, "2011-06-26 21:18:39", "2011-06-26 21:25:27"),
    "short_run": (583, "2013-02-06 12:11:14", "2013-02-06 12:11:14"),
    "ride": (4700, "2013-08-16 18:05:10", "2013-08-16 18:05:10"),
    "run": (2809, "2015-08-15 14:45:09", "2015-08-15 14:45:08"),
    "wrong_checksum": (14, "2012-04-09 21:22:26", "2012-04-09 21:22:26"),
}


def real(name: str) -> bytes:
    path = REAL / name
    if not path.is_file():
        pytest.skip(f"{path} is not there: real recordings do not come with the project")
    return path.read_bytes()


@pytest.mark.parametrize("name", TABLE)
def test_real_files_hold_what_their_table_says(name: str) -> None:
    """Counts and moments of the table that comes with the files, made by two other readers."""
    data = real(f"{name}.fit")
    trace = one(data)
    with_position, start, first = TABLE[name]
    same = sum(finding.count for finding in trace.findings if finding.code == "same time")
    assert len(trace.time_s) + same == with_position

    def moment(time_s: float) -> str:
        return datetime.fromtimestamp(time_s, UTC).strftime("%Y-%m-%d %H:%M:%S")

    assert (moment(trace.start_s), moment(trace.time_s[0])) == (start, first)
    assert trace.start_from == "timer"


@pytest.mark.parametrize("name", ["late_fix", "short_run", "ride", "run"])
def test_a_second_decoder_reads_the_same_of_real_files(name: str) -> None:
    data = real(f"{name}.fit")
    trace = one(data)
    other = np.array(_second_decoder(data))
    kept = np.concatenate([[True], np.diff(other[:, 0]) != 0])
    np.testing.assert_array_equal(np.stack([trace.time_s, trace.lon_deg, trace.lat_deg], axis=1), other[kept])


@pytest.mark.parametrize(
    ("name", "words"),
    [("indoors", "no record has a position"), ("no_activity", "of another kind (found 'weight')")],
)
def test_real_files_without_a_way_say_so(name: str, words: str) -> None:
    assert words in refused(real(f"{name}.fit"))


def test_a_real_file_that_was_cut_off_gives_what_stands_before() -> None:
    assert [code for code, _ in codes(one(real("cut_off.fit")))] == ["broken off"]
