"""The flight between two views: properties of van Wijk & Nuij (2003), and the page's flight the same."""

from __future__ import annotations

import math
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackspread.film.camera import STEEPNESS, View, between

A = View(x_m=0.0, y_m=0.0, half_width_m=50.0, turn_rad=0.0)
B = View(x_m=1000.0, y_m=-400.0, half_width_m=200.0, turn_rad=2.5)
LENGTH = st.floats(1.0, 1e5)


@given(LENGTH, LENGTH, st.floats(-1e5, 1e5), st.floats(-1e5, 1e5), st.floats(-7.0, 7.0))
def test_a_flight_begins_and_ends_where_it_should(
    a: float, b: float, x: float, y: float, turn: float
) -> None:
    start = View(x_m=0.0, y_m=0.0, half_width_m=a, turn_rad=0.0)
    end = View(x_m=x, y_m=y, half_width_m=b, turn_rad=turn)
    for share, view in ((0.0, start), (1.0, end)):
        found = between(start, end, share)
        assert math.hypot(found.x_m - view.x_m, found.y_m - view.y_m) < 1e-3 * max(a, b, 1.0)
        assert found.half_width_m == pytest.approx(view.half_width_m, rel=1e-4)
        assert math.cos(found.turn_rad - view.turn_rad) == pytest.approx(1.0)


def test_the_ground_moves_past_at_an_even_speed() -> None:
    """Their measure, ds^2 = (rho^2 du^2 + dw^2 / rho^2) / w^2, grows evenly along the eased share."""
    speeds = []
    for n in range(1, 199):
        share = n / 200
        eased_speed = 6 * share * (1 - share)
        a, b = between(A, B, share - 1e-5), between(A, B, share + 1e-5)
        over = math.hypot(b.x_m - a.x_m, b.y_m - a.y_m)
        width = 2 * (b.half_width_m - a.half_width_m)
        mean = a.half_width_m + b.half_width_m
        speed = math.hypot(STEEPNESS * over, width / STEEPNESS) / mean
        speeds.append(speed / eased_speed)
    assert max(speeds) / min(speeds) < 1.001


def test_it_turns_the_short_way() -> None:
    a = View(x_m=0.0, y_m=0.0, half_width_m=50.0, turn_rad=math.radians(170))
    b = View(x_m=9.0, y_m=0.0, half_width_m=50.0, turn_rad=math.radians(-170))
    assert math.degrees(between(a, b, 0.5).turn_rad) == pytest.approx(180.0)


@pytest.mark.browser
def test_the_page_flies_the_same_way(page: Any) -> None:
    script = files("trackspread.film").joinpath("templates/camera.js").read_text("utf-8")
    page.add_script_tag(content=script)
    for a, b in ((A, B), (B, A), (A, View(x_m=0.0, y_m=0.0, half_width_m=900.0, turn_rad=-3.0))):
        for share in (0.0, 0.2, 0.5, 0.9, 1.0):
            mine = between(a, b, share)
            views = [{"x": v.x_m, "y": v.y_m, "half": v.half_width_m, "turn": v.turn_rad} for v in (a, b)]
            theirs = page.evaluate("([a, b, share]) => between(a, b, share)", [*views, share])
            assert theirs["x"] == pytest.approx(mine.x_m, abs=1e-6)
            assert theirs["y"] == pytest.approx(mine.y_m, abs=1e-6)
            assert theirs["half"] == pytest.approx(mine.half_width_m, rel=1e-9)
            assert math.cos(theirs["turn"] - mine.turn_rad) == pytest.approx(1.0)
