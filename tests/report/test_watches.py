"""The look of watches: one colour and dash each, in the order in which they are shown."""

from __future__ import annotations

from records import make_analysis
from trackspread.report import style
from trackspread.report.watches import look, watches_of


def test_every_watch_of_an_analysis_has_a_look_of_its_own() -> None:
    analysis = make_analysis()
    slots = watches_of(analysis)
    names = {trace.receiver for route in analysis.routes for trace in route.traces}
    assert set(slots) >= names
    assert len({look(slot) for slot in slots.values()}) == len(slots)


def test_the_ninth_watch_shares_a_colour_and_no_dash() -> None:
    colours = len(style.RECEIVER_COLOURS)
    first, ninth = look(0).split(), look(colours).split()
    assert first[0] == ninth[0]
    assert first[1] != ninth[1]
