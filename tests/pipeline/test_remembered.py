"""A second analysis of the same rides takes the steps that it shares with the first, and gives the same."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from trackspread.model import Analysis, Reason, SettledFix
from trackspread.options import Options
from trackspread.pipeline import analyse as phases
from trackspread.pipeline import remembered as steps
from trackspread.pipeline.remembered import remembered
from trackspread.results.document import result_document, result_text
from trackspread.system import cache
from world import simulate
from world.witnesses import as_witnesses

WITNESSES = as_witnesses(simulate("winding", seed=5, rides=4, length_m=1500.0, detours=1))


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRACKSPREAD_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def done(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The steps that are really done, by name."""
    names: list[str] = []

    def noted(name: str) -> Callable[..., object]:
        step = getattr(steps, name)

        def do(*args: object) -> object:
            names.append(name)
            return step(*args)

        return do

    for name in ("first_centreline", "judge"):
        monkeypatch.setattr(steps, name, noted(name))
    return names


def _analysed(kept: bool = True, **thresholds: float) -> Analysis:
    return phases.analyse(WITNESSES, Options(**thresholds), cache=kept)


def _told(analysis: Analysis) -> tuple[str, list[bytes]]:
    arrays = [
        getattr(route, name).tobytes()
        for route in analysis.routes
        for name in ("station_m", "lon_deg", "offset_m", "deviation_m", "crossing_s", "station_spread_m")
    ]
    return result_text(result_document(analysis)), arrays


def test_the_second_analysis_is_the_first_and_does_no_step_again(done: list[str]) -> None:
    plain, first, second = _analysed(kept=False), _analysed(), _analysed()
    assert _told(plain) == _told(first) == _told(second)
    assert done == 2 * ["first_centreline", "judge"]


@pytest.mark.parametrize(
    "judging",
    [{"steady_m": 1.0}, {"torn_m": 9.0}, {"segment_m": 50.0}, {"confidence": 0.8}, {"min_traces": 5},
     {"steady_share": 0.1}, {"torn_share": 0.5}],
)  # fmt: skip
def test_thresholds_that_only_judge_do_no_step_again(judging: dict[str, float], done: list[str]) -> None:
    _analysed()
    assert _told(_analysed(**judging)) == _told(_analysed(kept=False, **judging))
    assert done[2:] == ["first_centreline", "judge"], "only the one without a cache did any step"


@pytest.mark.parametrize(
    ("measuring", "again"),
    [({"stretch_enter": 3.5}, ["judge"]), ({"settle_hold_s": 10.0}, ["judge"]),
     ({"station_step_m": 4.0}, ["first_centreline", "judge"]), ({"reach_m": 50.0}, ["first_centreline", "judge"])],
)  # fmt: skip
def test_other_thresholds_do_again_what_depends_on_them(
    measuring: dict[str, float], again: list[str], done: list[str]
) -> None:
    _analysed()
    del done[:]
    second = _analysed(**measuring)
    assert done == again
    assert _told(second) == _told(_analysed(kept=False, **measuring))


def test_an_entry_that_was_harmed_is_made_again(done: list[str]) -> None:
    told = _told(_analysed())
    for entry, _, _ in cache.entries():
        with np.load(entry) as stored:
            arrays = dict(stored)
        for harm in ('{"line": 7}', "[[]]", "no JSON", json.dumps([{"x": 99}]), "null"):
            del done[:]
            np.savez(entry, **arrays | {"text": np.array(harm)})
            assert _told(_analysed()) == told
            assert len(done) == 1


def test_reasons_and_unknown_numbers_come_back() -> None:
    reason = Reason.of("never_near", reach_m=45.0, because=Reason("no_times"), parts=("a", 1)) + Reason("b")
    fix = SettledFix(
        value_s=float("nan"),
        at_station_m=np.float64(0.1),
        censored=True,
        band_m=1e300,
        hold_s=30,
        reason=reason,
    )
    given = ("a text", np.array([1.0, np.nan]), 3)
    first = remembered(tuple[SettledFix, ...], given, lambda: (fix, fix), cache=True)
    second = remembered(tuple[SettledFix, ...], given, lambda: pytest.fail("done again"), cache=True)
    assert np.isnan(second[0].value_s)
    assert [replace(each, value_s=0.0) for each in second] == [replace(each, value_s=0.0) for each in first]
    other = remembered(tuple[SettledFix, ...], (*given[:2], 4), lambda: (), cache=True)
    assert other == ()
