"""OGC KML 2.3 tracks against the example of the standard."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from corpus.kinds_formats import KML, kml_track
from trackspread.errors import UnreadableFile
from trackspread.model import Trace
from trackspread.readers import parse

WHENS = ("02:02:09", "02:02:35", "02:02:44", "02:02:53")
COORDS = (
    "-122.207881 37.371915 156.000000", "-122.205712 37.373288 152.000000",
    "-122.204678 37.373939 147.000000", "-122.203572 37.374630 142.199997",
)  # fmt: skip


def example(prefix: str = "", version: str = "2.3") -> str:
    whens = "".join(f"<when>2010-05-28T{when}Z</when>" for when in WHENS)
    coords = "".join(f"<{prefix}coord>{coord}</{prefix}coord>" for coord in COORDS)
    space = 'xmlns:gx="urn:example:extension" ' if prefix else ""
    body = f"<{prefix}Track>{whens}{coords}</{prefix}Track>"
    return f'<kml {space}xmlns="http://www.opengis.net/kml/{version}"><Placemark>{body}</Placemark></kml>'


def read(text: str) -> Trace:
    (trace,), problems = parse("a.kml", text.encode(), True)
    assert problems == []
    return trace


@pytest.mark.parametrize(("prefix", "version"), [("", "2.3"), ("gx:", "2.2")])
def test_the_example_of_the_standard(prefix: str, version: str) -> None:
    """OGC 12-007r2 and its reference: longitude, latitude, altitude between blanks; 2.3 drops the prefix."""
    trace = read(example(prefix, version))
    assert trace.lon_deg.tolist() == [-122.207881, -122.205712, -122.204678, -122.203572]
    assert trace.lat_deg.tolist() == [37.371915, 37.373288, 37.373939, 37.37463]
    assert trace.elevation_m.tolist() == [156.0, 152.0, 147.0, 142.199997]
    assert trace.time_s[0] == datetime(2010, 5, 28, 2, 2, 9, tzinfo=UTC).timestamp()
    assert trace.format == f"KML {version}"


def test_lists_of_other_length_are_read_up_to_the_shorter() -> None:
    """OGC 12-007r2: the numbers of times and places must match."""
    trace = read(example().replace("<when>2010-05-28T02:02:53Z</when>", ""))
    assert len(trace.lon_deg) == 3
    assert [(f.code, f.count) for f in trace.findings] == [("unequal lists", 1)]


def test_places_that_are_empty_tell_that_recording_ran() -> None:
    trace = read(example().replace(f"<coord>{COORDS[0]}</coord>", "<coord/>"))
    assert trace.time_s[0] - trace.start_s == 26.0
    assert [f.code for f in trace.findings] == ["no fix"]


def test_several_tracks_in_one_placemark_are_one_trace_with_breaks() -> None:
    later = kml_track(5).replace("T06:", "T07:")
    trace = read(KML.format(f"<MultiTrack>{kml_track(5)}{later}</MultiTrack>"))
    assert np.flatnonzero(trace.break_before).tolist() == [5]
    assert trace.name == "out"


def test_a_line_drawn_from_the_track_is_not_read_twice() -> None:
    line = "<LineString><coordinates>1,2 3,4</coordinates></LineString>"
    text = KML.format(kml_track(5)).replace("</Placemark>", f"</Placemark><Placemark>{line}</Placemark>")
    assert len(read(text).lon_deg) == 5


def test_a_line_has_no_times() -> None:
    trace = read(KML.format("<LineString><coordinates> 1,2,3 \n 1.1,2.2 </coordinates></LineString>"))
    assert (trace.lon_deg.tolist(), trace.lat_deg.tolist()) == ([1.0, 1.1], [2.0, 2.2])
    assert np.isnan(trace.time_s).all()


def test_placemarks_are_traces() -> None:
    text = KML.format(kml_track(5)).replace(
        "</Placemark>", f"</Placemark><Placemark>{kml_track(3)}</Placemark>"
    )
    traces, _ = parse("a.kml", text.encode(), True)
    assert [len(t.lon_deg) for t in traces] == [5, 3]


def test_places_alone_are_no_trace() -> None:
    with pytest.raises(UnreadableFile, match="no track or line"):
        parse("a.kml", KML.format("<Point><coordinates>1,2</coordinates></Point>").encode(), True)
