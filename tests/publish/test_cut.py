"""Cutting for publishing: nothing near a start or an end is left, in records and texts."""

from __future__ import annotations

import dataclasses
import math
import random
import re
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from records import make_analysis
from trackspread import model as m
from trackspread.errors import BadOption, NothingToAnalyse
from trackspread.publish.cut import cut_for_publishing
from trackspread.publish.texts import Wording
from trackspread.results.words.reasons import said

LEAST_M = 200.0
WGS84 = Geod(ellps="WGS84")


def _metres(lon_a: float, lat_a: float, lon_b: float, lat_b: float) -> float:
    """Length of the geodesic on WGS 84 (PROJ, after Karney 2013)."""
    return float(WGS84.inv(lon_a, lat_a, lon_b, lat_b)[2])


def _nearest(positions: set[tuple[float, float]], doors: list[tuple[float, float]]) -> float:
    lon, lat = np.array(sorted(positions)).T
    each = [WGS84.inv(lon, lat, np.full(len(lon), x), np.full(len(lon), y))[2].min() for x, y in doors]
    return float(min(each))


def _doors(analysis: m.Analysis) -> list[tuple[float, float]]:
    """The places that must not be told: where centrelines and traces that start there begin and end."""
    doors = [(float(r.lon_deg[i]), float(r.lat_deg[i])) for r in analysis.routes for i in (0, -1)]
    points = [
        (float(t.lon_deg[i]), float(t.lat_deg[i])) for r in analysis.routes for t in r.traces for i in (0, -1)
    ]
    return doors + [p for p in points if any(_metres(*p, *door) < LEAST_M for door in doors)]


def _positions(analysis: m.Analysis) -> Iterator[tuple[float, float]]:
    for route in analysis.routes:
        yield from zip(route.lon_deg.tolist(), route.lat_deg.tolist(), strict=True)
        for trace in route.traces:
            yield from zip(trace.lon_deg.tolist(), trace.lat_deg.tolist(), strict=True)


def _cut(analysis: m.Analysis, seed: int = 1, **options: bool) -> m.Analysis:
    return cut_for_publishing(analysis, rng=random.Random(seed), **options)


def _texts(record: object) -> Iterator[str]:
    if isinstance(record, str):
        yield record
    elif isinstance(record, tuple):
        for item in record:
            yield from _texts(item)
    elif dataclasses.is_dataclass(record):
        for field in dataclasses.fields(record):
            yield from _texts(getattr(record, field.name))


@pytest.mark.parametrize("place", [(69.4, -48.9), (179.999, 51.5), (10.0, 84.0)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_position_is_within_the_least_cut_of_any_door(place: tuple[float, float], seed: int) -> None:
    whole = make_analysis(place=place)
    published = _cut(whole, seed)
    assert _nearest(set(_positions(published)), _doors(whole)) >= LEAST_M


def test_what_stays_is_not_moved() -> None:
    whole, published = make_analysis(), _cut(make_analysis())
    for before, after in zip(whole.routes, published.routes, strict=True):
        first = int(np.flatnonzero(before.lon_deg == after.lon_deg[0])[0])
        part = slice(first, first + len(after.station_m))
        assert first > 0
        for name in ("lon_deg", "lat_deg"):
            np.testing.assert_array_equal(getattr(after, name), getattr(before, name)[part])
        shown = np.isfinite(after.crossing_s)
        assert shown.mean() >= 0.75 * np.isfinite(before.crossing_s).mean()
        np.testing.assert_array_equal(after.crossing_s[shown], before.crossing_s[:, part][shown])
        inner = (after.station_m > 200.0) & (after.station_m < after.length_m - 200.0)
        for name in ("station_spread_m", "station_low_m", "station_high_m"):
            np.testing.assert_array_equal(getattr(after, name)[inner], getattr(before, name)[part][inner])
        np.testing.assert_allclose(after.station_m, before.station_m[part] - before.station_m[first])
        for trace in after.traces:
            logged = set(zip(*_columns(before.traces[trace.number]), strict=True))
            assert set(zip(*_columns(trace), strict=True)) <= logged
            assert len(trace.lon_deg) > 0.4 * len(before.traces[trace.number].lon_deg)


def _columns(trace: m.TraceResult) -> tuple[list[float], list[float], list[float]]:
    time = np.nan_to_num(trace.time_s, nan=-1.0)
    return trace.lon_deg.tolist(), trace.lat_deg.tolist(), time.tolist()


def test_figures_over_a_whole_route_stay_and_places_of_fixes_go() -> None:
    whole, published = make_analysis(), _cut(make_analysis())
    for before, after in zip(whole.routes, published.routes, strict=True):
        assert (after.spread, after.p95_m) == (before.spread, before.p95_m)
        for old, new in zip(before.receivers, after.receivers, strict=True):
            assert dataclasses.replace(new, stretch_share=old.stretch_share) == old
        for trace in after.traces:
            old = before.traces[trace.number]
            assert trace.spread_m == old.spread_m
            assert math.isnan(trace.first_fix.at_station_m)
            assert math.isnan(trace.first_fix.missing_m)
            assert math.isnan(trace.settled_fix.at_station_m)
            assert "withheld_start" in trace.first_fix.reason.codes
            np.testing.assert_equal(trace.first_fix.value_s, old.first_fix.value_s)


def test_a_settled_fix_in_view_loses_its_seconds() -> None:
    """Seconds since the start and the place in view would give the way back to the start."""
    whole = make_analysis(routes=1)
    trace = whole.routes[0].traces[0]
    late = dataclasses.replace(trace.settled_fix, at_station_m=1500.0, value_s=280.0)
    route = dataclasses.replace(
        whole.routes[0],
        traces=(dataclasses.replace(trace, settled_fix=late), *whole.routes[0].traces[1:]),
    )
    published = _cut(dataclasses.replace(whole, routes=(route,)))
    assert math.isnan(published.routes[0].traces[0].settled_fix.value_s)
    assert published.routes[0].traces[2].settled_fix.value_s == trace_value(whole, 2)


def trace_value(analysis: m.Analysis, number: int) -> float:
    return analysis.routes[0].traces[number].settled_fix.value_s


def test_records_of_a_cut_route_agree_with_each_other() -> None:
    for route in _cut(make_analysis()).routes:
        shape = (len(route.traces), len(route.station_m))
        assert [t.number for t in route.traces] == list(range(shape[0]))
        for array in (route.offset_m, route.deviation_m, route.crossing_s, route.in_stretch):
            assert array.shape == shape
        assert route.station_m[0] == 0.0
        assert route.length_m == pytest.approx(route.station_m[-1])
        assert route.segments[0].from_m == 0.0
        assert route.segments[-1].to_m == pytest.approx(route.length_m)
        for span in (*route.stretches, *route.film, *(g for t in route.traces for g in t.gaps)):
            assert 0.0 <= span.from_m < span.to_m <= route.length_m + 1e-6
        for stretch in route.stretches:
            assert stretch.file == route.traces[stretch.number].file
            assert stretch.cause != "settling"
        for pair in route.pairs:
            assert pair.separation_across_m.shape[1] == shape[1]
        for trace in route.traces:
            sizes = {len(x) for x in (trace.lon_deg, trace.lat_deg, trace.time_s, trace.station_m)}
            assert sizes == {len(trace.break_before)}
            assert np.nanmin(trace.station_m) >= 0.0
            assert np.nanmax(trace.station_m) <= route.length_m + 1e-6


def test_the_length_of_the_cut_cannot_be_counted_back() -> None:
    """Numbers of points, starts of recordings, segments and stations must not tell how much is missing."""
    whole = make_analysis()
    published = _cut(whole)
    first = published.routes[0].traces[0]
    record = published.inputs[0]
    assert record.points == len(first.lon_deg)
    assert record.start_time_s == first.time_s[0] > whole.inputs[0].start_time_s
    assert first.recorded_length_m < whole.routes[0].traces[0].recorded_length_m
    assert published.routes[0].proj4 != whole.routes[0].proj4
    assert not any(re.search(r"lat_0|lon_0", text) for text in _texts(published))
    assert all(not found.first_place for record in published.inputs for found in record.findings)


def test_cuts_differ_by_their_source_and_are_the_same_by_the_same() -> None:
    whole = make_analysis(routes=1)
    lengths = {_cut(whole, seed).routes[0].length_m for seed in range(8)}
    assert len(lengths) > 3
    assert _cut(whole).routes[0].length_m == _cut(whole).routes[0].length_m


def test_both_ends_are_cut_by_lengths_of_their_own() -> None:
    whole = make_analysis(routes=1)
    starts, ends = [], []
    for seed in range(30):
        after = _cut(whole, seed).routes[0]
        first = int(np.flatnonzero(whole.routes[0].lon_deg == after.lon_deg[0])[0])
        starts.append(whole.routes[0].station_m[first])
        ends.append(whole.routes[0].length_m - starts[-1] - after.length_m)
    assert min(starts) > LEAST_M
    assert min(ends) > LEAST_M
    assert np.std(starts) > 30.0
    assert np.std(ends) > 30.0
    assert abs(np.corrcoef(starts, ends)[0, 1]) < 0.5


def test_a_second_route_past_the_same_door_is_cut_there_and_becomes_two() -> None:
    """Route B passes, midway, the place where route A ends."""
    whole = make_analysis(routes=2, traces=4)
    a, b = whole.routes
    middle = len(a.station_m) // 2
    lon, lat = float(a.lon_deg[middle]), float(a.lat_deg[middle])
    moved = _shifted(b, lon - float(b.lon_deg[-1]), lat - float(b.lat_deg[-1]))
    published = _cut(dataclasses.replace(whole, routes=(a, moved)))
    names = [route.name for route in published.routes]
    assert names[:2] == ["out, part 1", "out, part 2"]
    assert {record.route for record in published.inputs} <= {*names, ""}
    assert _nearest(set(_positions(published)), [(lon, lat)]) >= LEAST_M


def _shifted(route: m.RouteResult, east_deg: float, north_deg: float) -> m.RouteResult:
    traces = tuple(
        dataclasses.replace(t, lon_deg=t.lon_deg + east_deg, lat_deg=t.lat_deg + north_deg)
        for t in route.traces
    )
    return dataclasses.replace(
        route, lon_deg=route.lon_deg + east_deg, lat_deg=route.lat_deg + north_deg, traces=traces
    )


def test_points_off_the_line_go_where_they_lead_away_from_what_is_left() -> None:
    """A trace that comes from a second home, 3 km before the line, keeps nothing of that way."""
    whole = make_analysis(routes=1, traces=4)
    route, trace = whole.routes[0], whole.routes[0].traces[0]
    way = np.linspace(0.03, 0.0, 300, endpoint=False)
    longer = dataclasses.replace(
        trace,
        lon_deg=np.concatenate([trace.lon_deg[0] - way, trace.lon_deg]),
        lat_deg=np.concatenate([trace.lat_deg[0] - way, trace.lat_deg]),
        time_s=np.concatenate([trace.time_s[0] - 5.0 * np.arange(300, 0, -1), trace.time_s]),
        station_m=np.concatenate([np.zeros(300), trace.station_m]),
        break_before=np.concatenate([np.zeros(300, dtype=bool), trace.break_before]),
    )
    route = dataclasses.replace(route, traces=(longer, *route.traces[1:]))
    published = _cut(dataclasses.replace(whole, routes=(route,)))
    left = published.routes[0].traces[0]
    assert _nearest(_points(left), [(float(route.lon_deg[0]), float(route.lat_deg[0]))]) >= LEAST_M
    assert len(left.lon_deg) < len(trace.lon_deg)


def _points(trace: m.TraceResult) -> set[tuple[float, float]]:
    return set(zip(trace.lon_deg.tolist(), trace.lat_deg.tolist(), strict=True))


def test_a_trace_that_starts_on_the_way_is_cut_there_and_the_others_are_not() -> None:
    whole = make_analysis(routes=1, traces=4)
    route, trace = whole.routes[0], whole.routes[0].traces[0]
    keep = trace.station_m > 1500.0
    late = dataclasses.replace(
        trace,
        **{n: getattr(trace, n)[keep] for n in ("lon_deg", "lat_deg", "time_s", "station_m", "break_before")},
    )
    route = dataclasses.replace(route, traces=(late, *route.traces[1:]))
    published = _cut(dataclasses.replace(whole, routes=(route,)))
    start = (float(late.lon_deg[0]), float(late.lat_deg[0]))
    assert _nearest(_points(published.routes[0].traces[0]), [start]) >= LEAST_M
    assert _nearest(_points(published.routes[0].traces[1]), [start]) < 30.0
    hidden = np.isnan(published.routes[0].offset_m[0])
    line = zip(published.routes[0].lon_deg.tolist(), published.routes[0].lat_deg.tolist(), strict=True)
    assert all(gone for p, gone in zip(line, hidden, strict=True) if _metres(*p, *start) < LEAST_M)


def test_hidden_dates_are_nowhere() -> None:
    whole = make_analysis()
    words = dataclasses.replace(
        whole.inputs[0], name="2025-12-01T07:40:12Z", note="left at 7:41", file="ride_20251201-0740.gpx"
    )
    published = _cut(dataclasses.replace(whole, inputs=(words, *whole.inputs[1:])), hide_dates=True)
    assert math.isnan(published.created_s)
    for text in _texts(published):
        assert not re.search(r"2025|\d:\d\d", text), text
    for route in published.routes:
        for trace in route.traces:
            assert not (np.abs(trace.time_s) > 86_400).any()
        assert not (np.abs(route.crossing_s) > 86_400).any()
        assert all(math.isnan(stretch.start_time_s) for stretch in route.stretches)
    timed = [t for r in published.routes for t in r.traces if np.isfinite(t.time_s).any()]
    assert min(float(t.time_s[0]) for t in timed) == 0.0
    assert all(math.isnan(record.start_time_s) for record in published.inputs)


def test_names_of_files_go_unless_kept() -> None:
    whole = make_analysis()
    files = {record.file for record in whole.inputs}
    gone, kept = _cut(whole), _cut(whole, keep_file_names=True)
    assert not any(name in text for name in files for text in _texts(gone))
    assert files <= {record.file for record in kept.inputs}
    traces = [t.file for r in gone.routes for t in r.traces]
    assert set(traces) <= {record.file for record in gone.inputs}
    assert all(re.fullmatch(r"trace \d+", name) for name in traces)


def test_it_says_so() -> None:
    published = _cut(make_analysis())
    assert published.published
    assert any("both ends" in note for note in map(said, published.notes))
    assert not any(re.search(r"\d+ m\b", note) for note in map(said, published.notes))


@pytest.mark.parametrize(
    ("least", "most"), [(0.0, 500.0), (500.0, 200.0), (200.0, math.inf), (math.nan, 1.0)]
)
def test_bounds_that_make_no_sense_are_refused(least: float, most: float) -> None:
    with pytest.raises(BadOption, match="least < most"):
        cut_for_publishing(make_analysis(), least_m=least, most_m=most)


def test_a_route_within_its_cuts_leaves_nothing_and_says_what_to_do() -> None:
    with pytest.raises(NothingToAnalyse, match="cut less"):
        cut_for_publishing(make_analysis(), least_m=2500.0, most_m=3000.0)


@pytest.mark.parametrize(
    "text",
    [
        "49.1234567, 69.5",
        "lat (found '4807.038')",
        "at 12,3456789 east",
        "−48.900",
        "N 48.8584",
        "48°51'29.6\"S 69°20'E",
        "48° 51′ S",
        "49 º 21' N",
        "geo:-48.9,69.4;u=35",
        "6GCRMQPX+9G",
        "shed at 9F28WXR2+X4V, blue",
    ],
)
def test_positions_in_texts_are_left_out(text: str) -> None:
    """Decimal degrees, NMEA 0183, a decimal comma, minutes and seconds, RFC 5870, plus codes."""
    shown = Wording(files=[], keep_file_names=True, hide_dates=False)("note", text)
    assert "(number left out)" in shown
    assert not re.search(r"\d[.,]\d{3}|[°º′]|geo:|\w{4}\+\w{2}", shown)


@pytest.mark.parametrize(
    "text",
    [
        "spread 2.13 m",
        "10,000 points",
        "GPX 1.1",
        "NMEA 0183",
        "0.1.0",
        "1,234,567",
        "watch 3 marks the bend",
        "90° bend",
        "4 h 20 min",
        "may drift",
        "sedge + saxifrage",
        "model A4+B",
    ],
)
def test_other_numbers_in_texts_stay(text: str) -> None:
    assert Wording(files=[], keep_file_names=True, hide_dates=True)("note", text) == text


@pytest.mark.parametrize(
    "moment",
    [
        "2031-07-04T06:28:18Z",
        "20310704_062818",
        "2031-07-04",
        "4.7.2031",
        "04/07/2031 06:28",
        "6:28",
        "06:28:18",
        "30 March 2017",
        "3rd of April 2031",
        "March 30, 2017",
        "30. März 2017",
        "17/03/30",
        "08h06",
        "1911883698",
        "1911883698000",
    ],
)
def test_dates_in_texts_are_numbered(moment: str) -> None:
    """Forms of ISO 8601, basic and extended, and customary ones."""
    wording = Wording(files=[], keep_file_names=True, hide_dates=True)
    assert wording("ride", f"ride {moment} east") == "ride day 1 east"
    assert wording("ride", "2032-01-01") == "day 2"
    assert wording("ride", moment) == "day 1"


@given(st.text(), st.lists(st.text(min_size=1), max_size=3))
@settings(max_examples=200, deadline=None)
def test_any_text_can_be_worded(text: str, files: list[str]) -> None:
    shown = Wording(files=files, keep_file_names=False, hide_dates=True)("note", text)
    assert isinstance(shown, str)


def test_hostile_names_come_through_whole() -> None:
    published = _cut(make_analysis(hostile=True), hide_dates=True)
    assert any("{{7*7}}" in text for text in _texts(published))
