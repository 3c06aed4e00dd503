"""Names in sentences."""

from __future__ import annotations

import pytest

from trackspread.results.words.names import listed, shown_name
from trackspread.rides.colours import UNKNOWN


@pytest.mark.parametrize(
    ("names", "words"), [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")]
)
def test_names_are_joined_as_read_aloud(names: list[str], words: str) -> None:
    assert listed(names) == words


def test_an_unknown_watch_has_no_name_and_a_hostile_one_is_cut_to_one_line() -> None:
    assert shown_name("") == shown_name(UNKNOWN) == "unknown watch"
    shown = shown_name("x\n\u202e" + "y" * 99)
    assert len(shown) == 24
    assert shown.isprintable()
