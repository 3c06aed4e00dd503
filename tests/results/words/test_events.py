"""The sentence of an event: who, how far, where, on which ride, why."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import get_args

import pytest

from trackspread.model import Cause, Event
from trackspread.results.words.events import CAUSES, event_sentence, rides_named

EVENT = Event(
    from_m=890.0,
    to_m=980.0,
    receivers=("Moss", "Sedge"),
    rides=("2",),
    peak_m=-212.0,
    side="left",
    cause="line",
)


def test_every_cause_has_its_words() -> None:
    assert set(CAUSES) == set(get_args(Cause))


def test_a_detour_of_two_watches_is_one_sentence() -> None:
    assert event_sentence(EVENT) == (
        "Moss and Sedge strayed up to 212 m to the left from 890 to 980 m on ride 2: the rider went another way."
    )


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"rides": ("2", "3")}, "on rides 2 and 3:"),
        ({"rides": ()}, "from 890 to 980 m: "),
        ({"to_m": 1980.0}, "from 0.89 to 1.98 km "),
        ({"receivers": ("",)}, "unknown watch strayed"),
        ({"peak_m": math.nan}, "up to not known m"),
    ],
)
def test_what_is_known_is_said(change: dict[str, object], part: str) -> None:
    assert part in event_sentence(replace(EVENT, **change))


def test_rides_are_counted_by_their_names() -> None:
    assert rides_named(["1"]) == "ride 1"
    assert rides_named(["1", "2", "4"]) == "rides 1, 2 and 4"
