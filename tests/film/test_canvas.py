"""Where things stand on a picture, and how its lines are broken."""

from __future__ import annotations

import numpy as np
import pytest

from records import make_analysis
from trackspread.film.canvas import (
    ASPECT,
    SAFE_WIDTH,
    bridged,
    dash,
    is_close,
    metres_per_px,
    ribbon_lines,
    seen,
)
from trackspread.film.storyboard import scenes


def test_the_safe_width_shows_the_width_of_the_shot() -> None:
    (scene,) = scenes(make_analysis(routes=1), ASPECT)
    for shot in scene.shots:
        assert metres_per_px(shot) * SAFE_WIDTH == pytest.approx(2.0 * shot.half_width_m)
    assert not is_close(scene.shots[0]), "the whole route is never close"


def test_the_frame_is_turned_about_its_centre_without_changing_lengths() -> None:
    (scene,) = scenes(make_analysis(routes=1), ASPECT)
    shot = scene.shots[1]
    x, y = seen(shot, *np.array([shot.centre_m, np.add(shot.centre_m, (30.0, 40.0))]).T)
    assert (x[0], y[0]) == pytest.approx((0.0, 0.0))
    assert np.hypot(x[1], y[1]) == pytest.approx(50.0)


def test_a_ribbon_has_a_step_between_each_two_stations() -> None:
    steps = ribbon_lines(np.array([0.0, 1.0, 2.0]), np.array([5.0, 6.0, 7.0]))
    assert [step.tolist() for step in steps] == [[[0, 5], [1, 6]], [[1, 6], [2, 7]]]


def test_points_off_the_line_belong_to_the_place_if_both_neighbours_do() -> None:
    known = np.array([1, 0, 1, 0, 1, 0], dtype=bool)
    inside = np.array([1, 0, 1, 0, 0, 0], dtype=bool)
    assert bridged(inside, known).tolist() == [True, True, True, False, False, False]
    assert bridged(inside, np.zeros(6, dtype=bool)).tolist() == inside.tolist()


def test_dashes_keep_their_length_in_pixels_whatever_the_width() -> None:
    assert dash("", 3.0) == "solid"
    narrow, wide = dash("7 4", 2.0), dash("7 4", 4.0)
    assert [2.0 * part for part in narrow[1]] == pytest.approx([4.0 * part for part in wide[1]])
