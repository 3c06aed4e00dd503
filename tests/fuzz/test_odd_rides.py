"""Odd sets of rides through the whole tool: a few drawn afresh, and every one that once did harm."""

from __future__ import annotations

import sys

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from fuzz.odd_rides import START_S, OddRides, clock, degrees, gpx, odd_rides, shape, wander
from fuzz.pipeline_run import run

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the processor's time is watched by a signal")
PLACE = (3.0, -54.4)


@settings(max_examples=6, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(odd_rides(200))
def test_a_result_that_holds_its_contract_or_a_refusal(rides: OddRides) -> None:
    run(rides)


def ride(
    number: int, xy: np.ndarray, ticks: str = "seconds", place: tuple[float, float] = PLACE, name: str = ""
) -> bytes:
    """Return a ride a day after the one before it."""
    rng = np.random.default_rng(number)
    times = clock(ticks, len(xy), START_S + 86_400.0 * number, rng)
    return gpx(degrees(xy + 2.0 * wander(len(xy), 20, rng), place), times, set(), name)


def rides_of(kind: str, points: int = 200, length_m: float = 800.0, **more: object) -> dict[str, bytes]:
    """Return three rides of a line of that shape."""
    line = shape(kind, points, length_m, np.random.default_rng(5))
    return {f"{number}.gpx": ride(number, line, **more) for number in range(3)}  # type: ignore[arg-type]


def test_three_good_rides_are_analysed() -> None:
    """What the cases below are built of is no reason to refuse them."""
    assert run(OddRides(files=rides_of("bend"))).routes == 1


def test_letters_that_the_font_of_charts_lacks() -> None:
    """A name such as that of a bicycle as a picture was a warning of the plotting library on the terminal."""
    assert run(OddRides(files=rides_of("bend", name="🚲 one"))).routes == 1


def test_times_that_are_known_now_and_then_only() -> None:
    """No two neighbours have a time: the median of no steps was asked for."""
    files = rides_of("bend")
    line = shape("bend", 200, 800.0, np.random.default_rng(5))
    times = [
        text if i % 2 else ""
        for i, text in enumerate(clock("seconds", 200, START_S, np.random.default_rng(1)))
    ]
    files["3.gpx"] = gpx(degrees(line, PLACE), times, set(), "")
    assert run(OddRides(files=files)).routes == 1


def test_traces_without_a_common_line() -> None:
    """The line shrank to a point, and a length of nothing was divided by."""
    rng = np.random.default_rng(2)
    line = shape("bend", 172, 120.0, rng)
    files = {
        f"{number}.gpx": gpx(
            degrees(line + rng.normal(0, 500.0, line.shape), PLACE), clock("fast", 172, START_S + 9e4 * number, rng),
            set(), "",
        )
        for number in range(3)
    }  # fmt: skip
    run(
        OddRides(
            files=files, options={"corridor_m": 500.0, "station_step_m": 1.0, "gap_m": 1e4, "laps": True}
        )
    )


def test_a_way_around_the_earth() -> None:
    """Eight million stations were laid out."""
    assert (
        run(OddRides(files=rides_of("around the earth"), options={"corridor_m": 500.0, "gap_m": 1e4})).routes
        == 0
    )


def test_points_on_the_far_side_of_the_earth() -> None:
    """They have no place on the grid, and two traces with such a point took the whole analysis with them."""
    files = rides_of("eight", place=(0.0, 0.0))
    for name in ("1.gpx", "2.gpx"):
        text = files[name].decode()
        at = text.index('lon="', len(text) // 2) + 5
        files[name] = (text[:at] + "90" + text[text.index('"', at) :]).encode()
    assert run(OddRides(files=files)).routes == 1


def test_laps_of_somebody_who_did_not_move() -> None:
    assert run(OddRides(files=rides_of("still") | rides_of("bend"), options={"laps": True})).routes == 1
    still = {f"still {number}.gpx": gpx([("3.0", "-54.4")] * 50, [""] * 50, set(), "") for number in range(2)}
    assert run(OddRides(files=rides_of("bend") | still, options={"laps": True})).routes == 1


@pytest.mark.slow
def test_a_long_way_round() -> None:
    """Of 120 km, 20 by another way: the distances of all stations to it were held in one table."""
    files = rides_of("line", 2500, 120_000.0)
    line = shape("line", 2500, 120_000.0, np.random.default_rng(5))
    on_it = (line[:, 0] > 40_000.0) & (line[:, 0] < 60_000.0)
    aside = 1500.0 * np.sin((line[:, 0] - 40_000.0) / 20_000.0 * np.pi) * on_it
    files["3.gpx"] = ride(3, line + np.column_stack([0 * aside, aside]))
    assert run(OddRides(files=files), longest_s=30.0).routes == 1
