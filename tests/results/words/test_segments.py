"""Words of segments and of the film list; whole lists stand in tests/statistics/test_film_list.py."""

from __future__ import annotations

from typing import get_args

import pytest

from trackspread.model import Cause, Reason
from trackspread.results.words.reasons import said
from trackspread.results.words.segments import DOES


def test_every_cause_has_its_words() -> None:
    assert set(DOES) == set(get_args(Cause))


@pytest.mark.parametrize(
    ("fewest", "most", "thin", "words"),
    [
        (4, 4, False, "4 traces"),
        (3, 5, False, "3 to 5 traces"),
        (1, 1, True, "only 1 trace"),
        (0, 0, True, "no trace"),
    ],
)
def test_traces_are_counted(fewest: int, most: int, thin: bool, words: str) -> None:
    assert said(Reason.of("traces_here", fewest=fewest, most=most, thin=thin)) == words


@pytest.mark.parametrize(
    ("value", "limit_m", "words"),
    [
        (3.0, 3.0, "spread 3.0 m, at most 3 m"),
        (3.0004, 3.0, "spread 3.0004 m, above 3 m"),
        (2.96, 3.0, "spread 3.0 m, at most 3 m"),
    ],
)
def test_a_spread_never_reads_as_on_the_other_side_of_its_limit(
    value: float, limit_m: float, words: str
) -> None:
    assert said(Reason.of("spread_held", value=value, limit_m=limit_m)) == words


def test_a_limit_that_is_reached_and_one_that_is_passed() -> None:
    values = {"share": 0.2, "beyond_m": 6.0, "names": (), "limit": 0.2}
    assert said(Reason.of("share_astray", **values, reached=True)).endswith("the limit is 20% or more")
    assert said(Reason.of("share_astray", **values, reached=False)).endswith("the limit is more than 20%")
