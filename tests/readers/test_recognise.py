"""A file is told by its first bytes, then by its name."""

from __future__ import annotations

import pytest

from trackspread.errors import UnreadableFile
from trackspread.readers.recognise import parse

POINTS = b'<trkpt lat="-48.9" lon="69.4"/><trkpt lat="-48.8" lon="69.4"/>'
GPX = b'<gpx version="1.1" creator="x"><trk><trkseg>' + POINTS + b"</trkseg></trk></gpx>"


@pytest.mark.parametrize("name", ["a.gpx", "A.GPX", "a", "a.xml", "a.kml"])
def test_the_outermost_element_counts_more_than_the_name(name: str) -> None:
    (trace,), problems = parse(name, GPX, True)
    assert (trace.format[:3], problems) == ("GPX", [])


@pytest.mark.parametrize("name", ["notes.md", "picture.jpg", "page.html"])
def test_what_is_plainly_no_trace_is_passed_over_unless_it_was_named(name: str) -> None:
    assert parse(name, b"anything", False) == ([], [])
    with pytest.raises(UnreadableFile):
        parse(name, b"anything", True)


@pytest.mark.parametrize("data", [b"", b"\0" * 9000, b" \n\t"])
def test_a_file_without_content_is_said_to_be_empty(data: bytes) -> None:
    with pytest.raises(UnreadableFile, match="empty"):
        parse("a.gpx", data, True)
