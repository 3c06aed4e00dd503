"""GPX against the schemas of GPX 1.0 and 1.1, against gpxpy on files that it reads, and against odd files."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import gpxpy
import numpy as np
import pytest

from corpus.blocks import GOOD, changed, gpx, point, points, track, utc, write_large
from peak_memory import PRINT_PEAK_MB
from trackspread.errors import UnreadableFile
from trackspread.model import Trace
from trackspread.readers import parse, read_files
from trackspread.readers.formats.gpx import HEAD_IS_FIRST


def read(text: str | bytes) -> Trace:
    (trace,), problems = parse("a.gpx", text if isinstance(text, bytes) else text.encode(), True)
    assert problems == []
    return trace


def codes(trace: Trace) -> list[str]:
    return [finding.code for finding in trace.findings]


def test_agrees_with_the_library_on_a_file_that_both_read() -> None:
    """gpxpy.parse on the same text is the oracle."""
    text = gpx(track("".join(point(i, inner=f"<ele>{i}.5</ele>") for i in range(50))))
    known = gpxpy.parse(text).tracks[0].segments[0].points
    trace = read(text)
    assert trace.lat_deg.tolist() == [p.latitude for p in known]
    assert trace.lon_deg.tolist() == [p.longitude for p in known]
    assert trace.elevation_m.tolist() == [p.elevation for p in known]
    assert trace.time_s.tolist() == [p.time.timestamp() for p in known]
    assert trace.format == "GPX 1.1"
    assert trace.device.writer == "sedge"


@pytest.mark.parametrize(
    ("lat", "lon"), [("90.0", "0"), ("-90.0", "0"), ("0.5", "-180.0"), ("0.5", "179.999")]
)
def test_values_that_the_schema_allows(lat: str, lon: str) -> None:
    """GPX 1.1 schema (topografix): latitudeType -90 to 90 inclusive, longitudeType from -180 inclusive."""
    trace = read(gpx(track(point(0, lat=lat, lon=lon))))
    assert (trace.lat_deg[0], trace.lon_deg[0]) == (float(lat), float(lon))


@pytest.mark.parametrize(
    ("lat", "lon"), [("90.0000001", "0.5"), ("-91", "0.5"), ("1", "180.0000001"), ("1", "-181")]
)
def test_values_that_the_schema_forbids(lat: str, lon: str) -> None:
    """GPX 1.1 schema (topografix): beyond these bounds is no position."""
    trace = read(changed(lat=lat, lon=lon))
    assert codes(trace) == ["bad position"]
    assert (len(trace.lat_deg), trace.points_set_aside) == (9, 1)


def test_longitude_180_is_written_by_some_and_is_minus_180() -> None:
    """GPX 1.1 schema (topografix): longitudeType ends before 180, which is the same meridian as -180."""
    assert read(gpx(track(point(0, lon="180.0")))).lon_deg[0] == -180.0


def test_fix_none_is_no_position_and_a_missing_fix_is_one() -> None:
    """GPX 1.1 schema (topografix): ``none`` means no fix; to say that it is unknown, fix is left out."""
    search = "".join(point(i, lat="0", lon="0", inner="<fix>none</fix>") for i in range(7))
    trace = read(gpx(track(search + point(7) + point(8, inner="<fix>3d</fix>"))))
    assert len(trace.lat_deg) == 2
    assert trace.time_s[0] - trace.start_s == 7.0


def test_no_fix_on_the_way_is_no_start() -> None:
    trace = read(changed(inner="<fix>none</fix>"))
    assert np.isnan(trace.start_s)
    assert codes(trace) == ["no fix"]


def test_course_and_speed_of_1_0_and_elements_of_wpttype_are_no_hindrance() -> None:
    """GPX 1.0 trkpt has course and speed; GPX 1.1 wptType has many more children (topografix schemas)."""
    inner = "<ele>4</ele><course>361</course><speed>fast</speed><sat>many</sat><dgpsid>9999</dgpsid>"
    assert read(gpx(track(point(0, inner=inner)), root='gpx version="1.0"')).elevation_m.tolist() == [4.0]


def test_start_from_the_metadata_only_where_it_can_be() -> None:
    for stamp, start in (
        ("05:59:20", 40.0),
        ("05:30:00", 1800.0),
        ("05:29:59", np.nan),
        ("06:00:01", np.nan),
    ):
        head = f"<metadata><time>2031-07-04T{stamp}Z</time></metadata>"
        trace = read(gpx(head + track(points(0, 10))))
        np.testing.assert_equal(trace.time_s[0] - trace.start_s, start)


def test_start_is_never_taken_from_a_waypoint() -> None:
    head = '<wpt lat="1" lon="1"><time>2031-07-04T05:59:20Z</time><name>ford</name></wpt>'
    trace = read(gpx(head + track(points(0, 10))))
    assert np.isnan(trace.start_s)
    assert trace.name == ""


def test_offsets_and_fractions_of_times() -> None:
    trace = read(gpx(track(point(0, time="2031-07-04T11:30:00.25+05:30") + point(1, time=utc(1)))))
    assert trace.time_s.tolist() == [datetime(2031, 7, 4, 6, tzinfo=UTC).timestamp() + x for x in (0.25, 1.0)]


def test_segments_and_tracks() -> None:
    inside = f"<trkseg>{points(0, 3)}</trkseg><trkseg></trkseg><trkseg>{points(9, 11)}</trkseg>"
    text = gpx(f"<trk><name>out</name>{inside}</trk>" + track(points(20, 25)))
    traces, _ = parse("a.gpx", text.encode(), True)
    assert [t.name for t in traces] == ["out", ""]
    assert [t.part for t in traces] == [0, 1]
    assert traces[0].break_before.tolist() == [False, False, False, True, False]
    assert not traces[1].break_before.any()


def test_places_of_findings_name_track_segment_and_point() -> None:
    bad = point(5, lat="x")
    text = gpx(
        track(points(0, 3)) + f"<trk><trkseg>{points(0, 3)}</trkseg><trkseg>{point(4)}{bad}</trkseg></trk>"
    )
    traces, _ = parse("a.gpx", text.encode(), True)
    assert [f.first_place for f in traces[1].findings] == ["track 2, segment 2, point 2"]


def test_more_points_than_one_batch() -> None:
    text = gpx(track("".join(point(i, lat=f"{1e-4 * i:.6f}" if i != 7777 else "x") for i in range(12_000))))
    trace = read(text)
    np.testing.assert_allclose(trace.lat_deg, 1e-4 * np.delete(np.arange(12_000), 7777), atol=1e-9)
    assert trace.findings[0].first_place == "track 1, segment 1, point 7778"


@pytest.mark.parametrize("cut", range(100, len(GOOD) - 8, 61))
def test_a_file_cut_anywhere_gives_the_points_before_the_cut(cut: int) -> None:
    text = GOOD[:cut]
    whole = text.count("</trkpt>")
    if whole:
        trace = read(text)
        assert len(trace.lat_deg) == whole
        assert codes(trace) == ["broken off"]
    else:
        with pytest.raises(UnreadableFile, match="not well-formed XML"):
            parse("a.gpx", text.encode(), True)


def test_another_xml_library_beside_changes_nothing(tmp_path: Path) -> None:
    """The library takes lxml where there is one; elements come from the standard library all the same."""
    (tmp_path / "a.gpx").write_text(GOOD)
    code = (
        "import sys, types; sys.modules['lxml'] = m = types.ModuleType('lxml');"
        "sys.modules['lxml.etree'] = e = types.ModuleType('lxml.etree'); m.etree = e;"
        "from trackspread.readers import read_files; print(len(read_files([sys.argv[1]]).traces[0].lon_deg))"
    )
    command = [sys.executable, "-c", code, str(tmp_path / "a.gpx")]
    assert subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip() == "10"


@pytest.mark.slow
def test_a_large_file_is_read_within_bounds(tmp_path: Path) -> None:
    """In a process of its own, so that its memory can be seen; the points alone take 16 MB."""
    count = write_large(tmp_path / "large.gpx", 50)
    code = (
        "import sys; from trackspread.readers import read_files;"
        "(t,) = read_files([sys.argv[1]]).traces; print(len(t.lon_deg) + t.points_set_aside);" + PRINT_PEAK_MB
    )
    command = [sys.executable, "-c", code, str(tmp_path / "large.gpx")]
    points_read, megabytes = subprocess.run(
        command, capture_output=True, text=True, check=True
    ).stdout.split()
    assert int(points_read) == count
    assert int(megabytes) < 700


def test_a_larger_file_than_allowed_is_refused(tmp_path: Path) -> None:
    write_large(tmp_path / "large.gpx", 2)
    (problem,) = read_files([tmp_path / "large.gpx"], largest=2**20).problems
    assert "more than 1 MiB" in str(problem)


@pytest.mark.parametrize(("head", "wait_s"), [("06:00:00", None), ("05:59:59.5", None), ("05:59:50", 10.0)])
def test_a_head_time_equal_to_the_first_point_is_no_evidence(head: str, wait_s: float | None) -> None:
    text = gpx(f"<metadata><time>2031-07-04T{head}Z</time></metadata>" + track(points(0, 20)))
    (trace,), _ = parse("a.gpx", text.encode(), True)
    if wait_s is None:
        assert np.isnan(trace.start_s)
        assert trace.start_reason == HEAD_IS_FIRST
    else:
        assert (trace.time_s[0] - trace.start_s, trace.start_from, trace.start_reason) == (wait_s, "file", "")


def test_what_points_claim_of_their_accuracy_is_kept() -> None:
    inside = points(0, 3).replace("</trkpt>", "<sat>7</sat><hdop>0.9</hdop><pdop>1.5</pdop></trkpt>", 1)
    (trace,), _ = parse("a.gpx", gpx(track(inside)).encode(), True)
    np.testing.assert_equal(trace.claims.hdop, [0.9, np.nan, np.nan])
    np.testing.assert_equal(trace.claims.pdop, [1.5, np.nan, np.nan])
    np.testing.assert_equal(trace.claims.satellites, [7.0, np.nan, np.nan])
    assert len(trace.claims.accuracy_m) == 0
