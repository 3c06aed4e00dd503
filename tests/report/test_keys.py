"""Keys name every class, watch and verdict that a page shows, and no other."""

from __future__ import annotations

from typing import get_args

import pytest

from records import make_analysis
from trackspread import model as m
from trackspread.options import Options
from trackspread.report import keys
from trackspread.report.style import SPREAD_SCALE
from trackspread.report.watches import watches_of

SETTINGS = Options().as_dict()


def test_a_map_names_the_watches_that_rode_its_route() -> None:
    analysis = make_analysis()
    watches = watches_of(analysis) | {"Rode elsewhere": 7}
    for number, route in enumerate(analysis.routes):
        shown = keys.of_route(number, route, watches, analysis.settings)
        assert {watch["name"] for watch in shown["receivers"]} == {trace.receiver for trace in route.traces}
        assert [watch["order"] for watch in shown["receivers"]] == sorted(
            w["order"] for w in shown["receivers"]
        )


def test_every_colour_of_the_scale_has_its_words() -> None:
    route = make_analysis(routes=1).routes[0]
    shown = keys.of_route(0, route, {}, SETTINGS)["classes"]
    assert [entry["number"] for entry in shown] == list(range(len(SPREAD_SCALE)))
    ends = [entry["label"].removesuffix(" m").split(" to ") for entry in shown[:-1]]
    assert [high for _, high in ends[:-1]] == [low for low, _ in ends[1:]], "no gap between classes"
    assert shown[-1]["label"] == f"over {ends[-1][1]} m"


def test_equal_thresholds_leave_no_class_between_them() -> None:
    route = make_analysis(routes=1).routes[0]
    shown = keys.of_route(0, route, {}, SETTINGS | {"steady_m": 4.0, "torn_m": 4.0})["classes"]
    assert "4 to 4 m" not in [entry["label"] for entry in shown]
    assert len(shown) == len(SPREAD_SCALE) - 2


@pytest.mark.parametrize("verdict", get_args(m.Verdict))
def test_every_verdict_has_its_rule_and_its_advice(verdict: str) -> None:
    (entry,) = [entry for entry in keys.of_verdicts(SETTINGS) if entry["verdict"] == verdict]
    assert entry["text"]
    assert entry["advice"][0].isupper()
