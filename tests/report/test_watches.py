"""The look of watches: one colour and dash each, in the order in which they are shown."""

from __future__ import annotations

import dataclasses
import re

from compared import NAMES, compared
from records import make_analysis
from trackspread.report import style
from trackspread.report.watches import colours_to_keep, look, watches_of
from trackspread.rides.colours import colour_name, watch_slots


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


def test_what_the_report_says_keeps_the_colours_in_any_analysis() -> None:
    """Eight names ask for six colours; what the report tells to write into the table of rides keeps them."""
    analysis = compared((1.6, 1.7, 1.8, 1.9, 3.0, 3.1, 3.9, 4.2), 1.5, traces=32)
    here = {name: colour_name(slot) for name, slot in watches_of(analysis).items()}
    told = dict(re.findall(r"(\w+) (\w+)(?=, |\.$)", colours_to_keep(analysis).partition(": ")[2]))
    assert told == here
    kept = [
        dataclasses.replace(
            route, traces=tuple(dataclasses.replace(t, colour=told.get(t.receiver, "")) for t in route.traces)
        )
        for route in analysis.routes
    ]
    mended = dataclasses.replace(analysis, routes=tuple(kept))
    assert colours_to_keep(mended) == ""
    assert {name: colour_name(slot) for name, slot in watches_of(mended).items()} == here
    assert all(colour_name(watch_slots([name], told)[name]) == here[name] for name in NAMES)
