"""Words that tell a file, a day or a place are replaced, and the same thing by the same words."""

from __future__ import annotations

from dataclasses import replace

from records import make_analysis
from trackspread.publish.texts import Wording, reworded

FILES = ["rides/2031-03-03.gpx", "rides/2031-03-04.gpx"]


def wording(**more: bool) -> Wording:
    given = {"keep_file_names": False, "hide_dates": True} | more
    return Wording(files=FILES, **given)


def test_files_become_numbers_in_their_field_and_within_sentences() -> None:
    change = wording()
    assert change("file", FILES[1]) == "trace 2"
    assert change("reason", "a copy of 2031-03-03.gpx") == "a copy of trace 1"
    assert wording(keep_file_names=True, hide_dates=False)("file", FILES[1]) == FILES[1]


def test_days_are_counted_and_stay_the_same() -> None:
    change = wording()
    first, second = change("note", "on 2031-03-03"), change("note", "on 2031-03-04")
    assert (first, second) == ("on day 1", "on day 2")
    assert change("note", "again 2031-03-03") == "again day 1"


def test_positions_in_words_are_left_out() -> None:
    told = wording()("note", "met at 51.48211, -0.00312")
    assert "51.48" not in told
    assert "(number left out)" in told


def test_every_text_of_a_record_passes_through() -> None:
    route = make_analysis(routes=1).routes[0]
    seen: list[str] = []
    changed = reworded(route, lambda name, text: seen.append(name) or text.upper())
    assert {"name", "receiver", "ride", "file"} <= set(seen)
    assert changed.name == route.name.upper()
    assert changed.length_m == route.length_m
    assert replace(changed, name=route.name).traces[0].receiver == route.traces[0].receiver.upper()
