"""The change of a receiver between campaigns, on arrays with known truth and on written results."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import trackspread as ts
from trackspread.compare.page import rank_page
from trackspread.compare.standings import Group, standings
from trackspread.compare.trend import Campaign, beside, changes
from world import Receiver, simulate

DAY_S = 86_400.0


def _campaign(number: int, sedge_m: float, route: object) -> ts.Analysis:
    watches = [
        Receiver(name=n, sigma_m=s, taus=((60.0, 1.0),)) for n, s in (("sedge", sedge_m), ("fern", 3.0))
    ]
    world = simulate(
        route, seed=40 + number, rides=5, receivers=watches, first_start_s=1.93e9 + 60 * number * DAY_S
    )  # type: ignore[arg-type]
    return world


@pytest.fixture(scope="module")
def weeks(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[ts.Analysis], Group, str]:
    """Two campaigns on one route; the error of sedge grows from 2 to 5 m, that of fern stays."""
    root: Path = tmp_path_factory.mktemp("weeks")
    route = simulate("winding", seed=7, rides=2, length_m=3000).route
    made, folders = [], []
    for number, sedge_m in enumerate((2.0, 5.0)):
        rides = root / f"rides {number}"
        _campaign(number, sedge_m, route).write_gpx(rides)
        made.append(ts.analyse(rides))
        folders.append(root / f"week {number}")
        ts.write_report(made[-1], folders[-1])
    (group,) = standings(folders)
    return made, group, rank_page([group], "spread")


def test_the_change_of_one_and_none_of_the_other(weeks: tuple[list[ts.Analysis], Group, str]) -> None:
    _, group, _ = weeks
    fern, sedge = group.changes
    assert (sedge.receiver, sedge.before, sedge.after, sedge.rides) == ("sedge", "week 0", "week 1", (5, 5))
    assert sedge.told_apart
    assert sedge.difference.low < np.hypot(5.0, 0.6) - np.hypot(2.0, 0.6) < sedge.difference.high
    assert not fern.told_apart
    assert fern.difference.low < 0.0 < fern.difference.high


def test_ranks_do_not_contradict_the_changes(weeks: tuple[list[ts.Analysis], Group, str]) -> None:
    _, group, _ = weeks
    rank = {(row.receiver, row.analysis): row.ranks["spread"] for row in group.rows}
    before, after = rank["sedge", "week 0"], rank["sedge", "week 1"]
    assert before is not None
    assert after is not None
    assert before < after


def test_ranks_within_an_analysis_are_those_of_its_report(
    weeks: tuple[list[ts.Analysis], Group, str], tmp_path: Path
) -> None:
    (one, _), _, _ = weeks
    assert one.comparison is not None
    for told in (True, False):
        pair = replace(one.comparison.differences[0], told_apart=told)
        folder = tmp_path / str(told)
        ts.write_report(replace(one, comparison=replace(one.comparison, differences=(pair,))), folder)
        (group,) = standings([folder])
        assert [row.ranks["spread"] for row in group.rows] == ([1, 2] if told else [1, 1])
        assert group.rows[0].receiver == pair.a or not told


def test_the_page_shows_a_picture_and_the_changes(weeks: tuple[list[ts.Analysis], Group, str]) -> None:
    _, _, page = weeks
    assert page.count("<svg") == 4
    assert "sedge, week 0 to week 1: less consistent (SD " in page
    assert "fern, week 0 to week 1: no detectable change (SD " in page
    assert "another sky, another season or other clothes" in page


def test_a_line_two_metres_to_the_right(weeks: tuple[list[ts.Analysis], Group, str]) -> None:
    """A copy of a line moved east by 2 m lies 2 m times the cosine of its heading to the right."""
    (one, _), _, _ = weeks
    (route,) = one.routes
    moved = replace(route, lon_deg=route.lon_deg + 2.0 / (111_195.0 * np.cos(np.radians(route.lat_deg))))
    kept = np.arange(5, len(route.station_m) - 5)
    at, aside_m = beside(route, moved, kept)
    east = np.cos(np.radians(route.lat_deg)) * np.gradient(route.lon_deg)
    north = np.gradient(route.lat_deg)
    assert np.abs(at - kept).max() <= 2
    assert aside_m == pytest.approx(2.0 * (north / np.hypot(east, north))[kept], abs=0.25)


def test_one_ride_says_nothing_of_a_change(weeks: tuple[list[ts.Analysis], Group, str]) -> None:
    (one, two), _, _ = weeks
    (route,) = two.routes
    ride = route.traces[0].ride
    lone = replace(route, traces=tuple(t for t in route.traces if t.ride == ride))
    shared = [np.ones(len(r.station_m), dtype=bool) for r in (one.routes[0], route)]
    lone = replace(
        lone,
        traces=tuple(replace(t, number=i) for i, t in enumerate(lone.traces)),
        offset_m=route.offset_m[[t.number for t in lone.traces]],
        deviation_m=route.deviation_m[[t.number for t in lone.traces]],
        stretches=(),
    )
    found = changes(
        [
            Campaign(label="a", route=one.routes[0], shared=shared[0]),
            Campaign(label="b", route=lone, shared=shared[1]),
        ],
        0.95,
    )
    assert [c.rides for c in found] == [(5, 1), (5, 1)]
