"""Watches of several results, route by route: shared stations, and ranks that no report contradicts."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from records import make_analysis
from saved_results import saved, two_weeks
from trackspread.compare.standings import standings
from trackspread.model import Comparison, Difference, Estimate, MedianEstimate, Reason, RideDifference
from trackspread.results.words.reasons import said


@pytest.fixture
def weeks(tmp_path: Path) -> list[Path]:
    return two_weeks(tmp_path)


def test_one_group_over_the_shared_stations(weeks: list[Path]) -> None:
    (group,) = standings(weeks)
    assert len(group.rows) == 4
    assert {row.analysis for row in group.rows} == {"week 1", "week 2"}
    assert {row.analysis for row in group.rows if row.restricted} == {"week 1"}
    by = {(row.analysis, row.receiver): row.spread.value for row in group.rows}
    for name in {row.receiver for row in group.rows}:
        whole = json.loads((weeks[1] / "result.json").read_text())["routes"][0]["receivers"]
        assert any(r["receiver"] == name for r in whole)
        assert by["week 1", name] > 0.0
    assert any("The routes differ" in words for words in group.cautions)


def test_shared_spreads_are_those_of_the_shared_part(weeks: list[Path], tmp_path: Path) -> None:
    """Noise put on the part that is not shared changes nothing."""
    noisy = make_analysis(seed=1, routes=1, traces=8)
    route = noisy.routes[0]
    offset = route.offset_m + np.where(route.station_m < 1100.0, 50.0, 0.0) * np.arange(8)[:, None]
    other = saved(tmp_path / "noisy", replace(noisy, routes=(replace(route, offset_m=offset),)))
    one = {r.receiver: r.spread for r in standings(weeks)[0].rows if r.restricted}
    two = {r.receiver: r.spread for r in standings([other, weeks[1]])[0].rows if r.restricted}
    assert one.keys() == two.keys()
    for name, spread in one.items():
        assert two[name].value == pytest.approx(spread.value, rel=1e-3)


def test_without_arrays_the_whole_is_shown_and_said(weeks: list[Path]) -> None:
    (weeks[0] / "arrays.npz").unlink()
    (group,) = standings(weeks)
    assert not any(row.restricted for row in group.rows)
    assert any("where arrays.npz is missing" in words for words in group.cautions)


def test_other_routes_are_other_groups(tmp_path: Path, weeks: list[Path]) -> None:
    elsewhere = saved(tmp_path / "elsewhere", make_analysis(seed=2, routes=1, place=(-84.0, 75.0)))
    groups = standings([weeks[0], elsewhere])
    assert [len({row.analysis for row in group.rows}) for group in groups] == [1, 1]


def test_the_spread_that_is_ranked_is_the_one_that_the_report_tells(tmp_path: Path) -> None:
    """Of all errors; what is kept would rank a watch that strays often as high as one that never does."""
    made = replace(make_analysis(seed=3, routes=1, traces=8), comparison=None)
    receivers = [
        replace(r, spread_all=replace(r.spread, value=v, low=0.8 * v, high=1.3 * v))
        for r, v in zip(made.routes[0].receivers, (9.0, 2.0), strict=True)
    ]
    made = replace(made, routes=(replace(made.routes[0], receivers=tuple(receivers)),))
    (group,) = standings([saved(tmp_path / "a", made)])
    assert [row.spread.value for row in group.rows] == [2.0, 9.0]


def test_ranks_of_what_is_told_apart(tmp_path: Path) -> None:
    made = replace(make_analysis(seed=3, routes=1, traces=8), comparison=None)
    receivers = [
        replace(r, spread=replace(r.spread, value=v, low=0.8 * v, high=1.3 * v))
        for r, v in zip(made.routes[0].receivers, (1.0, 3.0), strict=True)
    ]
    made = replace(made, routes=(replace(made.routes[0], receivers=tuple(receivers)),))
    (group,) = standings([saved(tmp_path / "a", made)])
    assert [row.ranks["spread"] for row in group.rows] == [1, 2]
    assert [row.spread.value for row in group.rows] == [1.0, 3.0]
    same = (receivers[0], replace(receivers[1], spread=receivers[0].spread))
    alike = replace(made, routes=(replace(made.routes[0], receivers=same),))
    (group,) = standings([saved(tmp_path / "b", alike)])
    assert [row.ranks["spread"] for row in group.rows] == [1, 1]


@pytest.mark.parametrize("better", [0, 1])
@pytest.mark.parametrize("separable", [True, False])
def test_whom_a_report_tells_apart_shares_no_rank(tmp_path: Path, better: int, separable: bool) -> None:
    """Ridden together, what both share drops out: two spreads alone would not tell them apart."""
    made = replace(make_analysis(seed=3, routes=1, traces=8), comparison=None)
    (route,) = made.routes
    first, second = route.receivers
    alike = replace(second, spread=replace(first.spread, value=first.spread.value * 1.05))
    names = [r.receiver for r in route.receivers]
    nothing = replace(route.pairs[0].sd_a, value=float("nan"), low=float("nan"), high=float("nan"))
    sds = [replace(nothing, value=v, low=v / 2, high=2 * v) for v in (1.0, 2.0)]
    by = replace(nothing, value=-1.0, low=-2.0, high=-0.1)
    if better == 1:
        sds, by = sds[::-1], replace(nothing, value=1.0, low=0.1, high=2.0)
    if not separable:
        sds[better], by = nothing, nothing
    pair = replace(
        route.pairs[0], a=names[0], b=names[1], told_apart=True, difference=by, sd_a=sds[0], sd_b=sds[1]
    )
    for pairs, ranked in (((pair,), {names[better]: 1, names[1 - better]: 2}), ((), dict.fromkeys(names, 1))):
        shown = replace(made, routes=(replace(route, receivers=(first, alike), pairs=pairs),))
        (group,) = standings([saved(tmp_path / f"of {len(pairs)}", shown)])
        assert {row.receiver: row.ranks["spread"] for row in group.rows} == ranked


def contradicting(tmp_path: Path) -> list[Path]:
    """Return two campaigns: the report of the first says the contrary of what its figures on the route say.

    Over all routes Moss was told apart as steadier; on this one its spread is larger, and that of the second
    campaign lies between the two, with intervals so close that an F test tells each from the next.
    """
    found = []
    for label, spreads in (("spring", (3.0, 1.0)), ("summer", (1.7, 1.7))):
        made = make_analysis(seed=3, routes=1, traces=8)
        (route,) = made.routes
        names = [r.receiver for r in route.receivers]
        close = [
            replace(r, spread=replace(r.spread, value=v, low=0.9 * v, high=1.12 * v))
            for r, v in zip(route.receivers, spreads, strict=True)
        ]
        none = Estimate(reason=Reason("no_figure"))
        said = Difference(
            a=names[0], b=names[1], rides=8, basis="together", ratio=replace(none, value=0.5),
            difference=replace(none, value=-1.0), told_apart=label == "spring", p_adjusted=0.01,
        )  # fmt: skip
        fix = RideDifference(
            figure="first_fix", a=names[0], b=names[1], rides=8, basis="together", difference=-9.0, p=0.01,
            smallest_p=0.01, p_adjusted=0.01, told_apart=label == "spring",
        )  # fmt: skip
        late = [
            replace(r, first_fix_s=MedianEstimate(median=m, low=m - 1, high=m + 1, n=8))
            for r, m in zip(close, (30.0, 10.0), strict=True)
        ]
        found.append(
            saved(
                tmp_path / label,
                replace(
                    made,
                    routes=(replace(route, receivers=tuple(late), pairs=()),),
                    comparison=Comparison(receivers=(), differences=(said,), by_ride=(fix,)),
                ),
                arrays=False,
            )
        )
    return found


@pytest.mark.parametrize("figure", ["spread", "first fix"])
def test_ranks_of_several_campaigns_never_contradict_a_report(tmp_path: Path, figure: str) -> None:
    folders = contradicting(tmp_path)
    ((moss, other),) = {
        (found["a"], found["b"])
        for found in json.loads((folders[0] / "result.json").read_text())["comparison"]["differences"]
    }
    (group,) = standings(folders, figure)
    rank = {(row.analysis, row.receiver): row.ranks[figure] for row in group.rows}
    assert rank["spring", moss] < rank["spring", other], "as its report says"
    places = [(row.analysis, row.receiver) for row in group.rows]
    assert places.index(("spring", moss)) < places.index(("spring", other))
    (alone,) = standings(folders[1:], figure)
    assert {row.ranks[figure] for row in alone.rows} == {1}, "its report tells nobody apart"


def test_where_nothing_could_be_held_together_there_is_no_share_of_stretches(tmp_path: Path) -> None:
    made = make_analysis(seed=3, routes=1, traces=8)
    (route,) = made.routes
    blind = tuple(replace(t, settled_fix=replace(t.settled_fix, band_m=np.nan)) for t in route.traces)
    shown = replace(made, routes=(replace(route, traces=blind, stretches=()),))
    (group,) = standings([saved(tmp_path / "a", shown)])
    assert {said(row.stretch_share.reason) for row in group.rows} == {"too few rides to say"}
    assert {row.ranks["stretch share"] for row in group.rows} == {None}
