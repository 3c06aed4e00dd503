"""Notes beside the figures: three names and how many more; hostile names on one line."""

from __future__ import annotations

from trackspread.model import Reason
from trackspread.results.words.reasons import said


def test_of_five_traces_without_times_three_are_named() -> None:
    traces = tuple(("Alder", str(ride)) for ride in range(1, 6))
    assert said(Reason.of("timeless", traces=traces)) == (
        "without times: Alder on ride 1, Alder on ride 2, Alder on ride 3 and 2 more; a planned line is no "
        "recording, and would count as a ride: leave it out"
    )


def test_pairs_that_ran_alike_are_counted_as_pairs() -> None:
    pairs = tuple((("Alder", str(n)), ("Birch", str(n)), 3600.0 * n) for n in range(1, 5))
    words = said(Reason.of("ran_alike", pairs=pairs))
    assert "Alder on ride 1 and Birch on ride 1 (1 h apart); " in words
    assert " and 1 more pairs. " in words


def test_all_and_some_traces_of_unknown_watches() -> None:
    assert "made all traces is" in said(Reason.of("unknown_watches", count=4, used=4))
    assert "made 1 of 4 traces is" in said(Reason.of("unknown_watches", count=1, used=4))


def test_hostile_names_stay_on_one_line() -> None:
    words = said(Reason.of("timeless", traces=(("a\nb\u202e" * 50, "1"),)))
    assert words.isprintable()
    assert len(words) < 300


def test_what_a_trace_lacks_most_is_said() -> None:
    traces = (
        ("a.gpx#2", 0.31, 1250.0, 0.0, 40.0),
        ("b.gpx", 0.4, 0.0, 900.0, 0.0),
        ("c.gpx", 0.2, 5.0, 0.0, 700.0),
    )
    assert said(Reason.of("cover_little", traces=traces)) == (
        "on less than half of the route: a.gpx#2 (31%; it begins 1,250 m after the start); "
        "b.gpx (40%; it ends 900 m before the end); c.gpx (20%; it logged nothing over 700 m between)"
    )


def test_recordings_of_laps_are_named_with_the_remedy() -> None:
    assert said(Reason.of("holds_laps", files=(("a.gpx", 3), ("b.gpx", 2)))) == (
        "of recordings of several laps one lap counts: a.gpx (3), b.gpx (2); with --laps every lap does"
    )
