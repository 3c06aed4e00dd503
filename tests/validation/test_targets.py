"""A few seeds of every study: no figure may miss its target by more than two Monte Carlo standard errors.

The whole table, over many seeds, is made by ``python tests/validation/validate.py`` (docs/validation.md).
"""

from __future__ import annotations

from collections.abc import Iterable

import coverage_of_intervals as coverage
import numpy as np
import pytest
import robustness
import studies
from judging import station_errors
from rows import Row, analysed

from world import simulate


def missed(rows: Iterable[Row]) -> list[str]:
    """Return the rows that miss their target beyond doubt."""
    told = list(rows)
    assert told
    return [row.markdown() for row in told if row.met() == "**no**"]


@pytest.mark.slow
def test_centreline() -> None:
    assert not missed(studies.centreline(range(100, 108), counts=(4,)))


@pytest.mark.slow
def test_spread() -> None:
    assert not missed(studies.spread(range(100, 108), counts=(4,), processes=("20 s", "mixture")))


@pytest.mark.slow
def test_stretches() -> None:
    assert not missed(studies.stretches(range(100, 104), ("n = 6", "6 rides with companion")))


@pytest.mark.slow
def test_nothing_is_found_where_nothing_is() -> None:
    assert not missed(studies.quiet(range(100, 104), ("60 s", "mixture")))


@pytest.mark.slow
def test_matching() -> None:
    assert not missed(studies.matching(range(100, 103)))


@pytest.mark.slow
def test_every_point_of_a_spur_stays_on_its_leg() -> None:
    """Its legs lie 3 m apart. In world 4028 two points 15 m from the tip once lay on the other leg."""
    for seed in (4028, 100, 101, 102):
        world = simulate("spur", seed=seed, rides=5, length_m=2500)
        found = analysed(world)
        errors = np.concatenate([station_errors(world, found, r) for r in world.recordings])
        assert np.isfinite(errors).sum() > 1500
        assert np.nanmax(np.abs(errors)) < 20


@pytest.mark.slow
def test_first_and_settled_fix() -> None:
    assert not missed(studies.fixes(range(100, 103)))


@pytest.mark.slow
def test_pairs() -> None:
    assert not missed(studies.pairs(range(100, 104), ((8, "60 s"),)))


@pytest.mark.slow
def test_other_samplings() -> None:
    assert not missed(robustness.samplings(range(100, 103)))


@pytest.mark.slow
def test_no_place_on_the_globe_is_special() -> None:
    """In world 0 the trace to start from once hung on where the points that stand for it happened to lie."""
    rows = [*robustness.moved(range(1)), *robustness.moved(range(100, 101))]
    assert len(rows) == 2 * len(robustness.ELSEWHERE)
    assert max(row.value for row in rows) < 0.1


@pytest.mark.slow
def test_centreline_stays_while_a_fifth_of_the_traces_errs() -> None:
    rows = {row.case: row.value for row in robustness.breakdown(range(100, 103), range(3))}
    assert rows["20 % of 10 traces off by 18 m to one side"] < 2.0


@pytest.mark.slow
def test_centreline_stays_while_four_in_ten_err_to_one_side() -> None:
    """In the second of these worlds it lay 7 m aside as long as the four had a say in judging each other."""
    (row,) = robustness.breakdown(range(3, 6), (4,), ("one side",))
    assert row.value < 2.0


@pytest.mark.slow
def test_every_printed_interval_mostly_holds_the_truth() -> None:
    """20 worlds of two cases; of any one figure no more than a quarter may be missed."""
    told: dict[str, list[bool]] = {name: [] for name in coverage.FIGURES}
    for rides, process in ((6, "20 s"), (6, "mixture")):
        for seed in range(200, 210):
            world = coverage.world_of(seed, rides, process)
            for name, inside in coverage.held(world, analysed(world)):
                told[name].append(inside)
    assert {name: np.mean(held) for name, held in told.items() if np.mean(held) < 0.75} == {}
    assert np.mean([np.mean(held) for held in told.values()]) > 0.9
