"""TCX activities: local names, laps, the timer's start, points without a position."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from trackspread.errors import UnreadableFile
from trackspread.model import Trace
from trackspread.readers import parse

REAL = Path(__file__).resolve().parents[4] / "shared" / "real" / "activity"
SPACE = "urn:example:training"


def point(second: int, place: str | None = None, height: str = "12.5") -> str:
    where = place if place is not None else (
        f"<Position><LatitudeDegrees>75.15</LatitudeDegrees>"
        f"<LongitudeDegrees>{-87.3 + 1e-4 * second:.4f}</LongitudeDegrees></Position>"
    )  # fmt: skip
    return f"<Trackpoint><Time>2031-07-04T06:{second // 60:02d}:{second % 60:02d}Z</Time>{where}" \
        f"<AltitudeMeters>{height}</AltitudeMeters></Trackpoint>"  # fmt: skip


def points(seconds: range) -> str:
    return "".join(map(point, seconds))


def lap(*tracks: str, start: str = "2031-07-04T06:00:00Z") -> str:
    return f'<Lap StartTime="{start}">' + "".join(f"<Track>{track}</Track>" for track in tracks) + "</Lap>"


CREATOR = (
    '<Creator xsi:type="Device_t"><Name>Sedge 2</Name><UnitId>4711</UnitId><ProductID>7</ProductID>'
    "<Version><VersionMajor>3</VersionMajor><VersionMinor>10</VersionMinor></Version></Creator>"
)


def tcx(*activities: str, creator: str = CREATOR) -> bytes:
    inside = "".join(f'<Activity Sport="Biking"><Id>x</Id>{laps}{creator}</Activity>' for laps in activities)
    xsi = "http://www.w3.org/2001/XMLSchema-instance"
    root = "TrainingCenterDatabase"
    return f'<?xml version="1.0"?><{root} xmlns="{SPACE}" xmlns:xsi="{xsi}"><Activities>{inside}</Activities></{root}>'.encode()


def read(data: bytes) -> list[Trace]:
    traces, problems = parse("a.tcx", data, True)
    assert problems == []
    return traces


def refused(data: bytes) -> str:
    with pytest.raises(UnreadableFile) as caught:
        parse("a.tcx", data, True)
    return str(caught.value)


def test_points_start_and_device() -> None:
    (trace,) = read(tcx(lap(points(range(5, 30)))))
    assert trace.format == "TCX"
    assert trace.lat_deg.tolist() == [75.15] * 25
    assert trace.elevation_m.tolist() == [12.5] * 25
    assert (trace.time_s[0] - trace.start_s, trace.start_from) == (5.0, "timer")
    assert (trace.device.product, trace.device.serial, trace.device.firmware) == ("Sedge 2", "4711", "3.10")


def test_points_without_a_position_are_the_wait_for_it() -> None:
    waiting = "".join(point(second, "") for second in range(12))
    (trace,) = read(tcx(lap(waiting + points(range(12, 30)))))
    assert trace.time_s[0] - trace.start_s == 12.0
    assert [(f.code, f.count) for f in trace.findings] == [("no position", 12)]


def test_laps_go_on_and_a_second_track_of_a_lap_comes_after_a_pause() -> None:
    second = lap(points(range(40, 50)), start="2031-07-04T06:00:40Z")
    (trace,) = read(tcx(lap(points(range(10)), points(range(20, 40))) + second))
    assert np.flatnonzero(trace.break_before).tolist() == [10]
    assert len(trace.time_s) == 40
    assert trace.time_s[0] == trace.start_s


def test_activities_are_traces() -> None:
    later = lap(points(range(100, 130)), start="2031-07-04T06:01:30Z")
    first, second = read(tcx(lap(points(range(30))), later))
    assert (first.part, second.part) == (0, 1)
    assert second.time_s[0] - second.start_s == 10.0


@pytest.mark.parametrize("prefix", ["", "x:"])
def test_names_count_without_their_space(prefix: str) -> None:
    text = tcx(lap(points(range(9)))).decode()
    if prefix:
        for name in ("Trackpoint", "Position", "LatitudeDegrees"):
            text = text.replace(f"<{name}>", f"<x:{name}>").replace(f"</{name}>", f"</x:{name}>")
        text = text.replace(f'xmlns="{SPACE}"', f'xmlns="{SPACE}" xmlns:x="urn:example:other"')
    (trace,) = read(text.encode())
    assert len(trace.lat_deg) == 9


def test_a_file_that_breaks_off_gives_what_stands_before() -> None:
    (trace,) = read(tcx(lap(points(range(30))))[:-600])
    assert 10 < len(trace.lat_deg) < 30
    assert "broken off" in [finding.code for finding in trace.findings]
    assert trace.start_s == trace.time_s[0]


def test_what_gives_nothing_says_why_in_one_line() -> None:
    indoors = tcx(lap("".join(point(second, "") for second in range(12))))
    assert "no point has a usable position" in refused(indoors)
    course = tcx().replace(b"<Activities></Activities>", b"<Courses><Course><Track>" + point(1).encode() * 3
                           + b"</Track></Course></Courses>")  # fmt: skip
    assert "planned course only" in refused(course)
    assert "no activity with points" in refused(tcx())
    entity = tcx(lap(points(range(9)))).replace(b"<?xml", b'<!DOCTYPE x [<!ENTITY a "b">]><?xml', 1)
    assert refused(entity)
    dtd = tcx(lap(points(range(9)))).replace(b"?>", b'?><!DOCTYPE x [<!ENTITY a "b">]>', 1)
    assert "document types and entities are not allowed" in refused(dtd)


def test_bad_points_cost_themselves_only() -> None:
    bad = point(3).replace("75.15", "95.15") + point(4, height="high")
    (trace,) = read(tcx(lap(points(range(3)) + bad + points(range(5, 9)))))
    assert [(f.code, f.count) for f in trace.findings] == [("bad position", 1), ("bad elevation", 1)]
    assert len(trace.lat_deg) == 8


def test_a_real_file_holds_what_its_table_says() -> None:
    """The table that comes with the file: 384 points, 383 with a position, start and first fix at 21:29:53."""
    path = REAL / "ride.tcx"
    if not path.is_file():
        pytest.skip(f"{path} is not there: real recordings do not come with the project")
    (trace,) = read(path.read_bytes())
    moment = datetime(2012, 12, 26, 21, 29, 53, tzinfo=UTC).timestamp()
    assert (len(trace.time_s), trace.points_set_aside) == (383, 1)
    assert (trace.start_s, trace.time_s[0]) == (moment, moment)
