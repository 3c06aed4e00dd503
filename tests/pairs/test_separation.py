"""How far two receivers are apart, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.pairs.separation import by_segment, distance_m

NAN = float("nan")


def test_distance_is_that_of_pythagoras_and_across_only_without_times() -> None:
    """3-4-5 and 5-12-13 triangles; a ride with times has no distance where its time is not known."""
    across = np.array([[3.0, -5.0, 8.0], [-3.0, 5.0, NAN]])
    along = np.array([[4.0, -12.0, NAN], [NAN, NAN, NAN]])
    assert distance_m(across, along) == pytest.approx(
        np.array([[5.0, 13.0, NAN], [3.0, 5.0, NAN]]), nan_ok=True
    )


def test_means_by_segment() -> None:
    """Stations 100 to 350 m in segments of 100 m: round(2.5) = 2 segments, the second takes the rest."""
    station = np.array([100.0, 150.0, 200.0, 250.0, 300.0, 350.0])
    values = np.array([[1.0, 3.0, 10.0, 20.0, 30.0, 40.0], [NAN, 7.0, NAN, NAN, NAN, NAN]])
    found = by_segment(values, station, 100.0)
    assert found == pytest.approx(np.array([[2.0, 7.0], [25.0, NAN]]), nan_ok=True)


def test_a_route_shorter_than_half_a_segment_is_one() -> None:
    assert by_segment(np.array([[1.0, 2.0, 6.0]]), np.array([0.0, 5.0, 10.0]), 100.0).tolist() == [[3.0]]
