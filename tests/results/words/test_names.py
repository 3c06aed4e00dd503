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


def test_two_models_of_one_maker_keep_their_ends_and_a_number_is_no_figure() -> None:
    """Cut at its end, "Alder Trail Seven Pro 47 mm" reads like the one of 42 mm."""
    shown = {shown_name(f"Alder Trail Seven Pro {size} mm") for size in (42, 47)}
    assert len(shown) == 2
    assert {len(name) for name in shown} == {24}
    assert (shown_name("12"), shown_name("12 b")) == ("watch 12", "12 b")
