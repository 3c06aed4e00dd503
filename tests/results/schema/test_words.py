"""The fields that many records share name the same things in the same way."""

from __future__ import annotations

from trackspread.results.schema.words import span, who


def test_a_trace_is_named_by_file_watch_and_ride() -> None:
    assert [field.name for field in who()] == ["file", "receiver", "ride"]
    assert {field.show.rank for field in who(rank=2)[1:] if field.show} == {2}


def test_a_piece_is_told_by_both_ends_in_metres() -> None:
    ends = span(1)
    assert [field.name for field in ends] == ["from_m", "to_m"]
    assert [field.show.unit for field in ends if field.show] == ["m", "m"]
