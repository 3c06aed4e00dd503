"""Pieces of a polyline inside a box, against shapely."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, box

from trackspread.geometry.cropping import pieces_inside

LOW, HIGH = np.array([-3.0, -2.0]), np.array([4.0, 5.0])


def length(x: np.ndarray, y: np.ndarray) -> float:
    return float(np.hypot(np.diff(x), np.diff(y)).sum())


@pytest.mark.parametrize("seed", range(10))
def test_pieces_are_those_of_the_intersection(seed: int) -> None:
    x, y = np.random.default_rng(seed).normal(0.0, 5.0, (2, 60))
    found = list(pieces_inside(x, y, LOW, HIGH))
    expected = LineString(np.column_stack([x, y])).intersection(box(*LOW, *HIGH))
    assert sum(length(*piece) for piece in found) == pytest.approx(expected.length)
    for px, py in found:
        corner = np.column_stack([px, py])
        assert np.all(corner >= LOW - 1e-9)
        assert np.all(corner <= HIGH + 1e-9)


def test_a_vertex_without_a_place_parts_the_line() -> None:
    x, y = np.array([0.0, 1.0, np.inf, 2.0, 3.0]), np.zeros(5)
    assert [px.tolist() for px, _ in pieces_inside(x, y, LOW, HIGH)] == [[0.0, 1.0], [2.0, 3.0]]


def test_nothing_inside() -> None:
    assert list(pieces_inside(np.array([5.0, 9.0]), np.zeros(2), LOW, HIGH)) == []
