"""Traces on less than half of a route are named with what they lack; copies of parts by their names."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trackspread.model import Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.results.words.reasons import said
from world import simulate
from world.witnesses import as_witnesses


def from_point(witness: Witness, first: int) -> Witness:
    trace = witness.trace
    names = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")
    return replace(witness, trace=replace(trace, **{name: getattr(trace, name)[first:] for name in names}))


def test_a_trace_on_less_than_half_of_the_route_is_named_with_the_reason() -> None:
    every = as_witnesses(simulate("straight", seed=2, rides=5, length_m=2000, lights=0))
    late = from_point(every[4], int(0.65 * len(every[4].trace.lon_deg)))
    (route,) = analyse([*every[:4], late], Options()).routes
    (note,) = [said(note) for note in route.notes if note.code == "cover_little"]
    assert route.traces[4].coverage < 0.5
    begins = int(note.split("begins ")[1].split(" m")[0].replace(",", ""))
    assert begins == np.clip(begins, 1200, 1400)
    assert late.trace.file in note
    assert not [note for note in analyse(every, Options()).routes[0].notes if note.code == "cover_little"]


def test_a_copy_of_a_part_names_the_part_once() -> None:
    every = as_witnesses(simulate("straight", seed=3, rides=4, length_m=1000, lights=0))
    parts = [replace(w, trace=replace(w.trace, file="all.gpx", part=k)) for k, w in enumerate(every)]
    copy = replace(every[2], ride="9", trace=replace(every[2].trace, file="copy.gpx"))
    assert said(analyse([*parts, copy], Options()).inputs[-1].reason) == "the same recording as all.gpx#3"
