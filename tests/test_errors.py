"""Error texts: one line of file, place, value, rule and remedy, whatever the file put into them."""

from __future__ import annotations

import inspect
import pickle
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackspread import errors
from trackspread.errors import (
    BadOption,
    NothingToAnalyse,
    Problem,
    TrackspreadError,
    UnreadableFile,
    and_more,
    first_few,
    printable,
)

many = settings(max_examples=200, deadline=None, derandomize=True)


def test_a_problem_is_told_in_one_line() -> None:
    problem = Problem(
        file="rides/a.gpx", place="track 1, point 7", value="95.2", rule="a latitude lies between -90 and 90",
        remedy="the point was set aside",
    )  # fmt: skip
    place, rule, rest = str(problem).partition(": a latitude lies between -90 and 90")
    assert (place, rest) == ("rides/a.gpx, track 1, point 7", " (found '95.2'); the point was set aside")
    assert rule


def test_what_is_missing_leaves_no_hole() -> None:
    assert str(Problem(file="a.gpx", rule="it is empty")) == "a.gpx: it is empty"
    assert str(Problem(file="a.gpx", rule="r", value="v")) == "a.gpx: r (found 'v')"
    assert str(Problem(file="a.gpx", rule="r", place="line 2")) == "a.gpx, line 2: r"
    assert str(Problem(file="a.gpx", rule="r", remedy="m")) == "a.gpx: r; m"


@many
@given(st.text(max_size=200), st.integers(2, 100))
def test_printable_text_is_one_short_line_without_marks(text: str, longest: int) -> None:
    """No control, format, line separator or unassigned character is left (Unicode categories, UAX 44)."""
    found = printable(text, longest)
    assert len(found) <= longest
    assert len(found.splitlines()) <= 1
    for character in found:
        assert unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


@pytest.mark.parametrize("mark", ["\u202e", "\u2066", "\u200f", "\x1b[2J", "\x00", "\r\n", "\u2028", "\x9b"])
def test_marks_that_turn_or_clear_a_screen_are_shown_as_such(mark: str) -> None:
    found = printable(f"a{mark}b")
    assert found.startswith("a�")
    assert found.endswith("b")
    assert str(Problem(file=f"x{mark}.gpx", rule="r", value=mark)).isprintable()


def test_plain_text_is_left_alone_and_long_text_is_cut() -> None:
    assert printable("Ångström 12 °N") == "Ångström 12 °N"
    assert printable("x" * 80) == "x" * 80
    assert printable("x" * 81) == "x" * 79 + "…"
    assert printable("abcdef", 4) == "abc…"


@many
@given(st.text(max_size=2000), st.text(max_size=2000), st.text(max_size=2000))
def test_a_problem_stays_a_line_of_a_few_hundred_characters(file: str, place: str, value: str) -> None:
    told = str(Problem(file=file, place=place, value=value, rule="a rule", remedy="a remedy"))
    assert len(told) <= 600
    assert len(told.splitlines()) == 1
    assert told.isprintable()


def test_errors_carry_their_problems() -> None:
    problem = Problem(file="a.gpx", rule="it is empty")
    assert UnreadableFile(problem).problem is problem
    assert str(UnreadableFile(problem)) == "a.gpx: it is empty"
    nothing = NothingToAnalyse("nothing to analyse", (problem, problem))
    assert str(nothing).split("\n") == ["nothing to analyse", "a.gpx: it is empty", "a.gpx: it is empty"]
    assert nothing.problems == (problem, problem)
    assert NothingToAnalyse("nothing").problems == ()


@pytest.mark.parametrize(
    "error",
    [
        BadOption("torn_m", "at least OTHER, 5, is needed", "4", "steady_m"),
        NothingToAnalyse("nothing to analyse", (Problem(file="a.gpx", rule="it is empty"),)),
        UnreadableFile(Problem(file="a.gpx", rule="it is empty")),
    ],
)
def test_an_error_comes_back_whole_from_another_process(error: TrackspreadError) -> None:
    back = pickle.loads(pickle.dumps(error))
    assert (type(back), str(back), back.text, vars(back)) == (
        type(error),
        str(error),
        error.text,
        vars(error),
    )


def test_an_option_is_told_by_the_name_that_it_was_given_by() -> None:
    error = BadOption("torn_m", "at least OTHER, 5, is needed", "4", "steady_m")
    named = error.renamed({"torn_m": "--torn", "steady_m": "--steady"})
    assert str(named) == "--torn: at least --steady, 5, is needed (found 4)"
    assert (named.option, named.other) == ("--torn", "--steady")


def test_what_is_not_named_is_counted() -> None:
    assert [and_more(n, 2) for n in (0, 2, 3, 4)] == ["", "", "and 1 more", "and 2 more"]
    assert first_few(list("abcd"), " letters") == "a, b, c and 1 more letters"
    assert first_few(list("abc"), " letters") == "a, b, c"


def test_every_error_of_ours_has_one_base() -> None:
    found = [c for _, c in inspect.getmembers(errors, inspect.isclass) if issubclass(c, Exception)]
    assert len(found) > 5
    assert all(issubclass(c, TrackspreadError) for c in found)
