"""Reasons in documents: sentence and code for people and programs, codes with values in full figures."""

from __future__ import annotations

import json

import pytest

from reasons import EXAMPLES, told
from trackspread.model import NOTHING, Reason
from trackspread.results.schema.kinds import Check
from trackspread.results.schema.reasons import Code, Sentence, Why, with_reason

FULL = Check(refuse=lambda place, value, rule: ValueError(f"{place}: {rule}"), full=True)
ROUNDED = Check(refuse=FULL.refuse)


@pytest.mark.parametrize("reason", EXAMPLES, ids=lambda reason: reason.code)
def test_json_gives_back_what_was_written(reason: Reason) -> None:
    both = reason + Reason("withheld_start")
    text = json.dumps(Why().written(both, full=True))
    Why().check(json.loads(text), "reason", FULL)
    assert Why().read(json.loads(text)) == both


def test_a_text_of_an_earlier_edition_is_kept_as_it_was_told() -> None:
    assert Why().read("because it rained") == told("because it rained")
    assert Why().read("") == NOTHING
    assert Why().written(told("because it rained"), full=False) == "because it rained"


def test_a_sentence_stands_beside_its_code() -> None:
    both = Reason("no_start") + Reason("withheld_start")
    assert with_reason("reason", both, full=False) == {
        "reason": "no start time was noted; withheld: it would tell where the route starts",
        "reason_code": "no_start withheld_start",
    }
    assert Code().written(NOTHING, full=False) == ""


@pytest.mark.parametrize("value", [3, [["no_such_code", {}]], [["no_start"]], [[["no_start"], {}]], {"a": 1}])
def test_what_is_no_reason_is_refused(value: object) -> None:
    with pytest.raises(ValueError, match="a text is needed"):
        Why().check(value, "reason", FULL)


def test_rounded_documents_hold_texts_alone() -> None:
    with pytest.raises(ValueError, match="a text is needed"):
        Why().check([["no_start", {}]], "reason", ROUNDED)


def test_a_sentence_is_made_of_its_record_and_not_kept_in_full_figures() -> None:
    assert Sentence(lambda record: f"{record} rides").written(4, full=False) == "4 rides"
    assert Sentence(lambda record: f"{record} rides").written(4, full=True) == ""
