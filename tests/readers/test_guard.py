"""What XML may do to the reader: nothing that costs memory, time or other files.

Sources: XML 1.0 (W3C 2008), 2.8 document types and 4.2 entities; the attack of nested entities is the well-known
"billion laughs" (from memory).
"""

from __future__ import annotations

import pytest

from trackspread.errors import UnreadableFile
from trackspread.readers.guard import DEEPEST, decoded, mend
from trackspread.readers.notes import Notes
from trackspread.readers.recognise import parse

HEAD = b'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
LAUGHS = b'<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><gpx><trk><name>&b;</name></trk></gpx>'
OUTSIDE = b'<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/passwd">]><gpx><trk><name>&a;</name></trk></gpx>'


@pytest.mark.parametrize("data", [LAUGHS, OUTSIDE], ids=["nested entities", "a file of the machine"])
def test_document_types_are_refused(data: bytes) -> None:
    with pytest.raises(UnreadableFile) as told:
        parse("a.gpx", data, True)
    assert "root:" not in str(told.value)
    assert "\n" not in str(told.value)


def test_elements_that_are_too_deep_are_refused() -> None:
    with pytest.raises(UnreadableFile, match=f"at most {DEEPEST} levels"):
        parse("a.gpx", HEAD + b"<a>" * 100 + b"</a>" * 100 + b"</gpx>", True)


def test_broken_xml_is_told_by_line_and_rule() -> None:
    with pytest.raises(UnreadableFile, match=r"a\.gpx, line 2: .*well-formed XML \(found 'mismatched tag'\)"):
        parse("a.gpx", HEAD + b"\n<trk></gpx>", True)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-8"])
def test_text_is_read_by_its_mark_or_its_zeros(encoding: str) -> None:
    assert decoded("<gpx>Straße</gpx>".encode(encoding), Notes()).lstrip("\ufeff") == "<gpx>Straße</gpx>"


def test_a_declared_encoding_counts_and_latin_is_the_last_resort() -> None:
    assert decoded('<?xml version="1.0" encoding="cp1252"?><a>€</a>'.encode("cp1252"), Notes()).endswith(
        "<a>€</a>"
    )
    notes = Notes()
    assert decoded(b"<a>\xe9</a>", notes) == "<a>é</a>"


def test_what_exporters_break_is_mended() -> None:
    assert mend("<name>Bread & Butter &amp; more</name>") == "<name>Bread &amp; Butter &amp; more</name>"
    assert mend("<x:a>\x00</x:a>") == "<a></a>"
