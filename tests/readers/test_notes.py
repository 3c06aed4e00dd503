"""Findings are counted by kind, and the first place of each is kept."""

from __future__ import annotations

from trackspread.readers.notes import CODES, Notes


def test_findings_stand_in_the_order_in_which_they_were_first_seen() -> None:
    notes = Notes()
    for place in ("point 3", "point 9"):
        notes.note("no fix", place)
    notes.note("bad time", "line 4", 5)
    notes.note("bad row", "line 5", 0)
    found = [(f.code, f.count, f.first_place, f.text) for f in notes.findings()]
    assert found == [
        ("no fix", 2, "point 3", CODES["no fix"]),
        ("bad time", 5, "line 4", CODES["bad time"]),
    ]
    assert (notes.first("no fix"), notes.first("bad row")) == ("point 3", "")


def test_what_another_has_counted_is_taken_over() -> None:
    one, other = Notes(), Notes()
    one.note("no fix", "point 3")
    other.note("no fix", "point 1", 4)
    other.note("mended", "line 1\n\u202e")
    one.add(other)
    first = one.findings()[0]
    assert (first.code, first.count, first.first_place) == ("no fix", 5, "point 3")
    assert one.first("mended").isprintable()
