"""Pieces of the centreline: every one says where it lies, in metres, first."""

from __future__ import annotations

import pytest

from trackspread.results.schema.fields import Column, Subject
from trackspread.results.schema.pieces import EVENT, FILM, SEGMENT, STRETCH


@pytest.mark.parametrize("piece", [SEGMENT, STRETCH, EVENT, FILM], ids=lambda piece: piece.name)
def test_both_ends_are_told_in_metres(piece: Subject) -> None:
    names = [field.name for field in piece.fields]
    assert {"from_m", "to_m"} <= set(names)
    columns = {field.name: field.show for field in piece.fields if isinstance(field.show, Column)}
    assert [columns[name].unit for name in ("from_m", "to_m")] == ["m", "m"]
    assert columns["from_m"].rank <= min(column.rank for column in columns.values())
