"""The analysis of the demo routes tells the story that their truth holds, and no other."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from trackspread.api import analyse
from trackspread.model import Reason, RouteResult, Stretch

DEMO = Path(__file__).resolve().parents[2] / "demo_routes"


@pytest.fixture(scope="module")
def story() -> list[tuple[dict[str, Any], RouteResult]]:
    truth = json.loads((DEMO / "truth.json").read_text())
    return list(zip(truth, analyse(DEMO).routes, strict=True))


def faults(way: dict[str, Any], *kinds: str) -> list[dict[str, Any]]:
    return [fault for fault in way["faults"] if fault["kind"] in kinds]


def within(stretch: Stretch, fault: dict[str, Any]) -> bool:
    """Whether a stretch lies in a fault; stations of the line found and of the true one differ by some metres."""
    return bool(stretch.to_m > fault["from_m"] - 40 and stretch.from_m < fault["to_m"] + 40)


def test_out_was_ridden_first_and_is_the_first_route(story: list[tuple[dict[str, Any], RouteResult]]) -> None:
    for (way, route), prefix in zip(story, ("out", "back"), strict=True):
        assert {trace.ride.split()[0] for trace in route.traces} == {prefix}
        assert len(route.traces) == 10
        assert route.length_m == pytest.approx(way["length_m"], rel=0.03)


def test_fixes_are_those_that_were_drawn(story: list[tuple[dict[str, Any], RouteResult]]) -> None:
    for way, route in story:
        true = {r["file"]: r for r in way["recordings"]}
        for trace in route.traces:
            told = true[Path(trace.file).name]
            assert trace.first_fix.source == told["start_from"]
            if told["start_from"] != "none":
                assert trace.first_fix.value_s == pytest.approx(told["first_fix_s"], abs=1.0)
            else:
                assert trace.first_fix.reason == Reason("no_start")


def test_the_receiver_astray_and_the_detour_are_told_apart(
    story: list[tuple[dict[str, Any], RouteResult]],
) -> None:
    way, route = story[0]
    (astray,), (detour,) = faults(way, "stretch"), faults(way, "detour")
    found = [s for s in route.stretches if within(s, astray)]
    assert [(s.receiver, s.ride, s.cause) for s in found] == [("saxifrage", "out 2", "receiver")]
    found = [s for s in route.stretches if within(s, detour)]
    assert sorted((s.receiver, s.ride, s.cause) for s in found) == [
        ("saxifrage", "out 4", "line"),
        ("sedge", "out 4", "line"),
    ]


def test_nobody_rode_another_way_through_the_gorge(story: list[tuple[dict[str, Any], RouteResult]]) -> None:
    """There two receivers are rough, each for itself: the segments say so, and no stretch tells of a way."""
    for way, route in story:
        gorge = faults(way, "torn")[0]
        there = [s for s in route.stretches if within(s, gorge)]
        assert {s.cause for s in there} <= {"receiver", "unknown"}
        inside = [s for s in route.segments if s.from_m >= gorge["from_m"] and s.to_m <= gorge["to_m"]]
        assert "torn" in {s.verdict for s in inside}


def test_everything_told_has_a_fault_behind_it(story: list[tuple[dict[str, Any], RouteResult]]) -> None:
    for way, route in story:
        for stretch in route.stretches:
            slow = stretch.cause == "settling" and faults(way, "settling")
            assert slow or any(within(stretch, f) for f in faults(way, "stretch", "detour", "torn"))
