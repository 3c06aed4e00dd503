"""Traces on less than half of a route, dead ends and copies of parts are named with what a reader must know."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

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


def into_a_street(witness: Witness, at: int, far_m: float) -> Witness:
    """Return a ride that goes north by ``far_m`` at a point and comes back, 5 m a second."""
    trace = witness.trace
    aside_m = 5.0 * np.arange(1, round(far_m / 5.0) + 1)
    aside_m = np.concatenate([aside_m, aside_m[-2::-1], [0.0]])
    put = np.full(len(aside_m), at + 1)
    time_s = np.insert(trace.time_s, put, trace.time_s[at] + 1.0 + np.arange(len(aside_m)))
    time_s[at + 1 + len(aside_m) :] += len(aside_m)
    lat = np.insert(trace.lat_deg, put, trace.lat_deg[at] + aside_m / 111_600.0)
    lon = np.insert(trace.lon_deg, put, trace.lon_deg[at])
    none = {name: np.insert(getattr(trace, name), put, 0) for name in ("elevation_m", "break_before")}
    return replace(witness, trace=replace(trace, time_s=time_s, lon_deg=lon, lat_deg=lat, **none))


def notes_on(rides: list[Witness]) -> list[str]:
    (route,) = analyse(rides, Options()).routes
    return [said(note) for note in route.notes if note.code == "went_aside"]


def test_a_dead_end_is_told_with_ride_station_and_length_and_moves_no_figure() -> None:
    every = as_witnesses(simulate("straight", seed=5, rides=5, length_m=2000, lights=0))
    turned = [*every[:2], into_a_street(every[2], 200, 80.0), *every[3:]]
    (note,) = notes_on(turned)
    assert re.search(r"alder on ride .* at 1,\d{3} m \((7\d|8\d) m\)$", note)
    assert not notes_on(every)
    before, after = (analyse(rides, Options()).routes[0] for rides in (every, turned))
    assert after.length_m == pytest.approx(before.length_m, abs=3.0)
    assert after.spread_all.value == pytest.approx(before.spread_all.value, rel=0.03)
    assert len(after.stretches) == len(before.stretches)


def test_a_copy_of_a_part_names_the_part_once() -> None:
    every = as_witnesses(simulate("straight", seed=3, rides=4, length_m=1000, lights=0))
    parts = [replace(w, trace=replace(w.trace, file="all.gpx", part=k)) for k, w in enumerate(every)]
    copy = replace(every[2], ride="9", trace=replace(every[2].trace, file="copy.gpx"))
    assert said(analyse([*parts, copy], Options()).inputs[-1].reason) == "the same recording as all.gpx#3"
