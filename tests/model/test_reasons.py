"""Reasons are values: they add, compare and are false where there is nothing to say."""

from __future__ import annotations

import pytest

from reasons import EXAMPLES
from trackspread.model import NOTHING, Reason


def test_nothing_is_false_and_adds_nothing() -> None:
    reason = Reason("no_start")
    assert not NOTHING
    assert NOTHING + reason == reason + NOTHING == reason
    assert list(NOTHING) == []


def test_reasons_add_in_order_and_are_yielded_one_by_one() -> None:
    first, second, third = (Reason("no_start"), Reason("no_times"), Reason("few_rides"))
    assert (first + second) + third == first + (second + third)
    assert list(first + second + third) == [first, second, third]
    assert (first + second).codes == ("no_start", "no_times")


@pytest.mark.parametrize("reason", EXAMPLES, ids=lambda reason: reason.code)
def test_a_reason_prints_its_sentence_and_can_be_a_key(reason: Reason) -> None:
    assert str(reason)
    assert {reason: 1}[Reason(reason.code, reason.values)] == 1
