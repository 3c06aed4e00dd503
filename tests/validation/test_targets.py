"""A few seeds of every study: no figure may miss its target by more than two Monte Carlo standard errors.

The whole table, over many seeds, is made by ``python tests/validation/validate.py`` (docs/validation.md).
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest
import robustness
import studies
from rows import Row


def missed(rows: Iterable[Row]) -> list[str]:
    return [row.markdown() for row in rows if row.met() == "**no**"]


@pytest.mark.slow
def test_centreline() -> None:
    assert not missed(studies.centreline(range(100, 108)))


@pytest.mark.slow
def test_spread() -> None:
    assert not missed(studies.spread(range(100, 112), counts=(4,), processes=("20 s", "mixture")))


@pytest.mark.slow
def test_stretches() -> None:
    assert not missed(studies.stretches(range(100, 108)))


@pytest.mark.slow
def test_quiet() -> None:
    assert not missed(studies.quiet(range(100, 106)))


@pytest.mark.slow
def test_matching() -> None:
    assert not missed(studies.matching(range(100, 104)))


@pytest.mark.slow
def test_fixes() -> None:
    assert not missed(studies.fixes(range(100, 104)))


@pytest.mark.slow
def test_pairs() -> None:
    assert not missed(studies.pairs(range(100, 108)))


def test_other_samplings() -> None:
    assert not missed(robustness.samplings(range(100, 104)))


def test_no_place_on_the_globe_is_special() -> None:
    rows = list(robustness.moved(range(100, 102)))
    assert len(rows) == len(robustness.ELSEWHERE)
    assert max(row.value for row in rows) < 0.2


def test_centreline_stays_while_a_fifth_of_the_traces_errs() -> None:
    rows = {row.case: row.value for row in robustness.breakdown(range(100, 104))}
    assert rows["20 % of 10 traces off by 18 m to one side"] < 2.0
