"""Shots: frames that hold what they show, times of entry, words."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from records import make_analysis
from trackspread import model as m
from trackspread.film.framing import turned
from trackspread.film.storyboard import scenes
from trackspread.report.backdrop import Backdrop, Place
from trackspread.results.words.reasons import said
from trackspread.statistics.film_list import film_entries

ASPECT = 16 / 9


@pytest.mark.parametrize("seed", range(5))
def test_every_frame_holds_its_line_and_its_traces(seed: int) -> None:
    for scene in scenes(make_analysis(seed=seed, place=(179.99, 60.0)), ASPECT):
        for shot in scene.shots:
            here = (scene.station_m >= shot.from_m) & (scene.station_m <= shot.to_m)
            lines = [(scene.x_m[here], scene.y_m[here])]
            if shot.kind == "place":
                for path in scene.paths:
                    inside = (path.station_m >= shot.from_m) & (path.station_m <= shot.to_m)
                    lines.append((path.x_m[inside], path.y_m[inside]))
            for x, y in lines:
                across, up = turned(x - shot.centre_m[0], y - shot.centre_m[1], shot.turn_rad)
                assert (np.abs(across) < shot.half_width_m).all()
                assert (np.abs(up) < shot.half_height_m).all()
            assert shot.half_width_m / shot.half_height_m == pytest.approx(ASPECT)


def test_traces_enter_when_their_ride_does() -> None:
    """A trace that logged nothing at the start enters with its companion, not when it first logs."""
    whole = make_analysis(routes=1)
    route = whole.routes[0]
    crossing = route.crossing_s.copy()
    crossing[2, :100] = np.nan
    (scene,) = scenes(
        dataclasses.replace(whole, routes=(dataclasses.replace(route, crossing_s=crossing),)), ASPECT
    )
    (mate,) = (t.number for t in route.traces if t.ride == route.traces[2].ride and t.number != 2)
    assert np.isfinite(crossing[mate, 0])
    assert scene.shots[0].enter_s[2] == crossing[mate, 0]


def test_a_lone_trace_enters_by_the_time_the_others_took() -> None:
    whole = make_analysis(routes=1, pairs=False)
    route = whole.routes[0]
    crossing = route.crossing_s.copy()
    true = crossing[0, 0]
    crossing[0, :100] = np.nan
    (scene,) = scenes(
        dataclasses.replace(whole, routes=(dataclasses.replace(route, crossing_s=crossing),)), ASPECT
    )
    assert scene.shots[0].enter_s[0] == pytest.approx(true, abs=5.0)


def test_traces_without_times_are_drawn_at_one_pace() -> None:
    scene = scenes(make_analysis(routes=2), ASPECT)[1]
    assert not scene.timed
    for shot in scene.shots:
        assert np.isfinite(shot.enter_s).all()
        assert shot.seconds > 0
    assert all(np.isfinite(path.time_s).any() for path in scene.paths)


def test_words_say_verdict_rule_and_who() -> None:
    (scene,) = scenes(make_analysis(routes=1), ASPECT)
    whole, *others = scene.shots
    places = [shot for shot in others if shot.kind == "place"]
    assert "spread" in whole.lines[0]
    assert whole.lines[1] == "6 traces from 3 rides, 2 watches"
    assert {shot.verdict for shot in places} == {"steady", "wavering", "torn", "thin"}
    assert all(shot.lines[2].startswith(f"{shot.verdict}: ") for shot in places)
    assert all(line.isprintable() for shot in scene.shots for line in shot.lines)


def late(route: m.RouteResult, missing_m: float) -> m.RouteResult:
    """The second trace misses so much of the route."""
    traces = list(route.traces)
    fix = dataclasses.replace(traces[1].first_fix, value_s=83.0, missing_m=missing_m, source="declared")
    traces[1] = dataclasses.replace(traces[1], first_fix=fix, receiver="Birch", ride="1")
    return dataclasses.replace(route, traces=tuple(traces))


def test_the_first_fix_that_costs_most_has_a_shot_of_its_own() -> None:
    analysis = make_analysis(routes=1)
    late_one = dataclasses.replace(analysis, routes=(late(analysis.routes[0], 475.0),))
    (shot,) = [s for s in scenes(late_one, ASPECT)[0].shots if s.kind == "fix"]
    assert shot.title == "Birch, ride 1: first fix"
    assert shot.lines[0] == "83 s, 475 m missing"
    assert shot.lines[1].startswith("on the same ride: ")
    assert (shot.row, shot.verdict) == (1, None)
    assert shot.gap_m[1] - shot.gap_m[0] == 475.0
    assert shot.from_m <= shot.gap_m[0] < shot.gap_m[1] < shot.to_m
    soon = dataclasses.replace(analysis, routes=(late(analysis.routes[0], 3.0),))
    assert not [s for s in scenes(soon, ASPECT)[0].shots if s.row == 1]


@pytest.mark.parametrize("seed", range(3))
def test_all_shots_of_a_route_are_turned_alike(seed: int) -> None:
    for scene in scenes(make_analysis(seed=seed), ASPECT):
        assert len({shot.turn_rad for shot in scene.shots}) == 1


def test_a_piece_says_for_which_watch_it_is_fit() -> None:
    segment = make_analysis(routes=1).routes[0].segments[0]
    rated = [
        dataclasses.replace(
            segment, from_m=100.0 * i, to_m=100.0 * (i + 1), verdict="torn",
            receivers=tuple(
                m.SegmentReceiver(receiver=name, spread=segment.spread, verdict=verdict)
                for name, verdict in (("Moss", "steady"), ("Lichen", worst))
            ),
        )
        for i, worst in enumerate(("steady", "wavering", "torn"))
    ]  # fmt: skip
    line = np.linspace(0.0, 0.003, 31)
    (entry,) = film_entries(rated, np.arange(0.0, 310.0, 10.0), line, line, ())
    assert "fit to show for Moss, not for Lichen (torn)" in said(entry.why)
    (alone,) = film_entries(rated[:1], np.arange(0.0, 110.0, 10.0), line[:11], line[:11], ())
    assert "fit to show for every watch" in said(alone.why)


def test_named_places_beside_a_route_stand_in_its_scene() -> None:
    given = Backdrop(
        places=(Place(name="mill", station_m=700.0), Place(name="far", lon_deg=0.0, lat_deg=0.0))
    )
    first, second = scenes(make_analysis(routes=2), ASPECT, given)
    assert first.places == ((700.0, "mill"),)
    assert second.places == ()
