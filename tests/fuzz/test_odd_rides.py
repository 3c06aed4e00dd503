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


@settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
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
    assert run(OddRides(files={f"🚲/{name}": data for name, data in rides_of("bend").items()})).routes == 1


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


def test_one_point_on_the_far_side_of_the_earth() -> None:
    """It has no place on the grid of the route, and took the whole analysis with it."""
    files = rides_of("eight", place=(0.0, 0.0))
    text = files["1.gpx"].decode()
    at = text.index('lon="', len(text) // 2) + 5
    files["1.gpx"] = (text[:at] + "-180" + text[text.index('"', at) :]).encode()
    assert run(OddRides(files=files)).routes == 1


def test_laps_of_somebody_who_did_not_move() -> None:
    assert run(OddRides(files=rides_of("still") | rides_of("bend"), options={"laps": True})).routes == 1
    still = {f"still {number}.gpx": gpx([("3.0", "-54.4")] * 50, [""] * 50, set(), "") for number in range(2)}
    assert run(OddRides(files=rides_of("bend") | still, options={"laps": True})).routes == 1


def test_a_long_way_round() -> None:
    """The distance of every station to a way of 60 km was held in one table: gigabytes."""
    files = rides_of("line", 2000, 20_000.0)
    detour = np.concatenate([
        np.column_stack([np.linspace(0, 1000, 100), np.zeros(100)]),
        np.column_stack([np.linspace(1000, 10_000, 3000), 10_000 * np.sin(np.linspace(0, 3.14159, 3000)) * 3]),
        np.column_stack([np.linspace(10_000, 20_000, 1000), np.zeros(1000)]),
    ])  # fmt: skip
    files["3.gpx"] = ride(3, detour)
    ran = run(OddRides(files=files))
    assert ran.routes == 1
