"""Figures that every ride has one of: a ride counts once, and who can be told apart after how many."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import get_args

import numpy as np
import pytest

from records import make_analysis
from trackspread import model as m
from trackspread.pipeline.ridden import ridden
from trackspread.pipeline.ride_figures import FIGURES, all_alike_by_ride, astray_m, by_ride, compared_by_ride
from trackspread.statistics.closed import closed, over_figures

NAMES = ("alder", "bilberry", "campion")


def shared(rides: int, late_s: float) -> list[dict[tuple[str, tuple[str, ...]], float]]:
    """First fixes of three watches on shared rides: two that take turns, the third one later on each."""
    turns = np.array([[0.0], [1.0], [late_s]]) * np.array([1.0, -1.0] * rides)[:rides] ** np.array(
        [[1], [1], [2]]
    )
    drawn = 20.0 + 3.0 * np.arange(rides) + turns
    return [{(f"{ride}", ("Route A",)): float(one[ride]) for ride in range(rides)} for one in drawn]


@pytest.mark.parametrize(("rides", "told"), [(6, False), (7, True), (8, True)])
def test_of_three_watches_the_latest_on_each_ride_is_told_from_seven_rides_on(rides: int, told: bool) -> None:
    """2 of 2^7 signs: p = .0156, times three figures .047."""
    known = shared(rides, 30.0)
    tests = compared_by_ride("first_fix", NAMES, known)
    p = np.array([one.p for one in tests if one is not None])
    first = closed(p, 3, partial(all_alike_by_ride, known))
    no_other = np.full(3, 0.8)
    held = over_figures([no_other, first, no_other], [0.0, float(p.min()), 0.0], 0.05)[1]
    assert (held <= 0.05).tolist() == [False, told, told]
    assert p[1] == pytest.approx(2.0 ** (1 - rides))


def test_a_ride_on_two_routes_counts_once() -> None:
    made = make_analysis(routes=2, traces=8)
    routes = [
        replace(route, traces=tuple(replace(t, ride=f"{k % 4}", receiver="alder") for k, t in enumerate(route.traces)))
        for route in made.routes
    ]  # fmt: skip
    numbers = {id(route): float(place) for place, route in enumerate(routes)}
    found = by_ride(ridden(routes), "alder", lambda route, trace: numbers[id(route)])
    names = tuple(route.name for route in routes)
    assert found == {(f"{k}", names): 0.5 for k in range(4)}


def test_on_rides_of_their_own_two_watches_are_told_by_choices_of_rides() -> None:
    known = [
        {(f"{name} {ride}", ("Route A",)): 10.0 * k + ride for ride in range(5)}
        for k, name in enumerate(NAMES)
    ]
    tests = compared_by_ride("first_fix", NAMES, known)
    assert {(one.basis, one.rides) for one in tests if one is not None} == {("apart", 5)}
    assert all(one is not None and one.p == pytest.approx(2 / 252) for one in tests)
    assert all_alike_by_ride(known, (0, 1, 2)) < 0.002
    assert np.isnan(all_alike_by_ride([{}, {}, {}], (0, 1, 2)))
    assert compared_by_ride("first_fix", NAMES, [{}, {}, {}]) == [None, None, None]


def test_neither_settling_nor_the_riders_way_is_astray() -> None:
    route: m.RouteResult = make_analysis(routes=1).routes[0]
    for stretch in route.stretches:
        own = [replace(stretch, cause=cause) for cause in ("line", "settling", "receiver")]
        trace = route.traces[stretch.number]
        assert astray_m(replace(route, stretches=tuple(own)), trace) == [stretch.to_m - stretch.from_m]


def test_the_settled_fix_is_no_more_tested_but_read_from_older_results() -> None:
    assert set(get_args(m.RideFigure)) - set(FIGURES) == {"settled_fix"}
