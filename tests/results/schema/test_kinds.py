"""Kinds of values: what is written, what is refused, what comes back."""

from __future__ import annotations

import math

import pytest

from trackspread.results.schema.kinds import (
    Check,
    Constant,
    Count,
    Kind,
    Many,
    Maybe,
    Number,
    Text,
    Time,
    Truth,
    Word,
)

REFUSED = Check(refuse=lambda place, value, rule: ValueError(f"{place}: {rule}"))
FULL = Check(refuse=REFUSED.refuse, full=True)


@pytest.mark.parametrize(
    ("kind", "good", "bad"),
    [
        (Text(), "", None),
        (Word(("a", "b")), "b", "c"),
        (Constant(("x",)), "x", "y"),
        (Truth(), False, 0),
        (Count(), 0, -1),
        (Count(), 3, True),
        (Number(), None, "3"),
        (Number(known=True), 3.5, None),
        (Number(), 3, math.nan),
        (Time(), "2031-03-03T07:00:00Z", "half past nine"),
        (Many(Count(), 2), [1, 2], [1]),
        (Many(Count()), [], {}),
        (Maybe(Count()), None, "1"),
    ],
)
def test_a_value_of_the_kind_is_taken_and_another_refused(kind: Kind, good: object, bad: object) -> None:
    kind.check(good, "place", REFUSED)
    with pytest.raises(ValueError, match="place"):
        kind.check(bad, "place", REFUSED)


def test_full_figures_may_be_unknown_or_unbounded() -> None:
    for value in (math.nan, math.inf):
        Number(known=True).check(value, "place", FULL)
    with pytest.raises(ValueError, match="number"):
        Number().check(1e16, "place", FULL)


@pytest.mark.parametrize(("places", "written"), [(0, 3.0), (1, 3.1), (2, 3.14)])
def test_a_number_is_rounded_unless_in_full(places: int, written: float) -> None:
    assert Number(places).written(math.pi, full=False) == written
    assert Number(places).written(math.pi, full=True) == math.pi
    assert Number(places).written(math.nan, full=False) is None


def test_times_come_back_to_the_second_and_in_full() -> None:
    assert Time().read(Time().written(1.9e9 + 0.4, full=False)) == 1.9e9
    assert Time().read(Time().written(1.9e9 + 0.4, full=True)) == 1.9e9 + 0.4
    assert math.isnan(Time().read(Time().written(math.nan, full=False)))
