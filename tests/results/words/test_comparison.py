"""The sentence of the first screen names who is told apart from whom, and nobody else.

That watches in one group are not told apart is the rule of compact letter displays: Piepho (2004), J. Comput.
Graph. Stat. 13(2).
"""

from dataclasses import replace

import pytest

from compared import compared
from trackspread import model as m
from trackspread.results.words.comparison import verdict_sentence


def sentence(*given, **more):
    return verdict_sentence(compared(*given, **more))


def test_two_that_differ():
    assert sentence((1.6, 4.2), 1.0) == (
        "Over 8 shared rides Moss was more consistent than Thrift: "
        "SD 2.6 m lower (95 % interval 0.2 to 3.6 m)."
    )


@pytest.mark.parametrize(("count", "whom"), [(2, "Moss and Thrift"), (5, "the 5 watches")])
def test_none_that_differ(count, whom):
    told = sentence((2.0,) * count, 1.0, basis="apart")
    assert told == f"After 8 separate rides, no detectable difference in spread between {whom}."


def test_of_many_the_whole_first_group_is_named():
    told = sentence((1.6, 1.7, 1.8, 1.9, 4.0, 4.1, 4.2, 4.3), 1.0)
    assert told.startswith("Over 8 shared rides Moss, Thrift, Campion and Yarrow were most consistent (no ")
    assert told.endswith("; Moss's SD was 2.4 m lower than Sedge's (95 % interval 0.2 to 3.4 m).")
    assert sentence((1.6, 1.7, 1.8, 1.9, 2.0, 4.1), 1.0).startswith(
        "Over 8 shared rides Moss, Thrift and 3 more"
    )


def test_who_differs_from_some_of_the_first_group_is_none_of_it():
    """Moss and Campion differ, Thrift from neither: only who shares a letter with Moss stands beside it."""
    told = sentence((1.0, 1.6, 2.2, 2.8), 1.2)
    assert told.startswith("Over 8 shared rides Moss and Thrift were most consistent")
    assert "2.2 to" not in told
    assert "than Campion's" in told


def test_one_ahead_of_all():
    assert sentence((1.0, 3.0, 3.1, 3.2), 1.0).startswith(
        "Over 8 shared rides Moss was more consistent than all others"
    )


def test_a_watch_of_too_few_rides_is_named():
    analysis = compared((1.6, 4.2, 2.0), 1.0)
    few = replace(analysis.comparison.receivers[2], spread=m.Estimate(), group="")
    left = replace(analysis.comparison, receivers=(*analysis.comparison.receivers[:2], few))
    told = verdict_sentence(replace(analysis, comparison=left))
    assert told.startswith("Over 8 shared rides Moss was more consistent")
    assert told.endswith(f" Too few rides to judge {few.receiver}.")


def by_ride(figure, a, b, difference, told_apart=True):
    return m.RideDifference(
        figure=figure, a=a, b=b, rides=8, basis="together", difference=difference, p=0.01, smallest_p=0.01,
        p_adjusted=0.04, told_apart=told_apart,
    )  # fmt: skip


def test_first_fixes_that_differ_are_told_beside_equal_spreads():
    analysis = compared((2.0, 2.0, 2.0), 1.0)
    tests = (
        by_ride("first_fix", "Moss", "Thrift", -28.5),
        by_ride("first_fix", "Campion", "Thrift", 4.0),
        by_ride("first_fix", "Moss", "Campion", -5.0, told_apart=False),
        by_ride("stray_share", "Moss", "Thrift", -0.0125),
    )
    told = verdict_sentence(replace(analysis, comparison=replace(analysis.comparison, by_ride=tests)))
    assert told.endswith(
        " First fix, median: Moss 28 s sooner than Thrift, Thrift 4 s sooner than Campion. "
        "Share astray, median: Moss 1.2% lower than Thrift."
    )


def test_long_names_leave_room_on_the_first_screen():
    analysis = compared((1.6, 1.7, 1.8, 1.9, 4.0), 1.0)
    long = {s.receiver: f"{s.receiver} of four words" for s in analysis.comparison.receivers}
    receivers = [replace(s, receiver=long[s.receiver]) for s in analysis.comparison.receivers]
    pairs = [replace(d, a=long[d.a], b=long[d.b]) for d in analysis.comparison.differences]
    named = replace(analysis.comparison, receivers=tuple(receivers), differences=tuple(pairs))
    told = verdict_sentence(replace(analysis, comparison=named))
    assert told.startswith("Over 8 shared rides Moss of four words and 3 more were most consistent")
    assert "; the first one's SD was 2.4 m lower than Sedge of four words's (" in told
