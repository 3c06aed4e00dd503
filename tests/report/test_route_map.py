"""The maps: numbers and ids of our own in their script, names in data alone, the same each time."""

import dataclasses

import numpy as np

from records import PAYLOADS, make_analysis
from trackspread import model as m
from trackspread.report.policy import json_block
from trackspread.report.route_map import MOST_MAP_POINTS, SCALE, leaflet_files, make_ground, route_data
from trackspread.report.watches import watches_of
from trackspread.results.document import result_document
from trackspread.results.words.marks import MapWords


def data_of(**made):
    analysis = make_analysis(**made)
    words, watches = MapWords(analysis, result_document(analysis)), watches_of(analysis)
    return analysis, [
        route_data(n, r, words, analysis.settings, watches) for n, r in enumerate(analysis.routes)
    ]


def test_nothing_that_was_read_enters_the_script():
    plain, hostile = (make_ground(make_analysis(hostile=h).routes[0], "plan0") for h in (False, True))
    assert hostile == plain
    assert hostile.name == "map_plan0"
    for sign in ("{{", "{%", "`", "<", "http", "jquery", "bootstrap"):
        assert sign not in hostile.script


def test_hostile_words_close_nothing():
    block = json_block(data_of(hostile=True)[1])
    for payload in PAYLOADS:
        if "<" in payload:
            assert payload not in block
    assert "<" not in block


def test_same_analysis_same_data():
    assert data_of(seed=2)[1] == data_of(seed=2)[1]


def test_every_mark_has_words():
    _, routes = data_of()
    for route in routes:
        assert all(line["words"] and all(line["words"]) for line in route["lines"] if line["look"] != "case")
        assert all(dot["words"] for dot in route["dots"])


def test_segments_are_coloured_by_their_spread():
    analysis, (data,) = data_of(routes=1)
    drawn = [line["look"] for line in data["lines"] if line["look"].startswith("seg")]
    for segment, look in zip(analysis.routes[0].segments, drawn, strict=True):
        if segment.spread.value != segment.spread.value:
            assert look == "seg unknown"
        else:
            number = int(look.removeprefix("seg c"))
            verdicts = ("steady", "steady", "wavering", "wavering", "torn", "torn", "torn")
            assert segment.verdict in (verdicts[number], "thin")


def test_what_several_watches_show_together_is_one_event_until_one_watch_is_looked_at():
    """JavaScript draws ``together`` for all watches, ``alone`` for one."""
    analysis = make_analysis(routes=1)
    route = analysis.routes[0]
    first = next(s for s in route.stretches if s.cause != "settling")
    mate = next(t for t in route.traces if t.receiver != first.receiver)
    pair = (
        dataclasses.replace(first, ride="2"),
        dataclasses.replace(
            first, ride="2", receiver=mate.receiver, number=mate.number, peak_m=first.peak_m / 2
        ),
    )
    event = m.Event(
        from_m=first.from_m, to_m=first.to_m, receivers=tuple(sorted(s.receiver for s in pair)), rides=("2",),
        peak_m=first.peak_m, side=first.side, cause="line",
    )  # fmt: skip
    changed = dataclasses.replace(route, stretches=pair, events=(event,))
    analysis = dataclasses.replace(analysis, routes=(changed,))
    words = MapWords(analysis, result_document(analysis))
    data = route_data(0, changed, words, analysis.settings, watches_of(analysis))
    drawn = [line for line in data["lines"] if line["look"].startswith("stretch")]
    assert [line.get("alone", False) for line in drawn] == [True, True, False]
    (together,) = [line for line in drawn if line.get("together")]
    assert together["words"][0] == f"Event: {' and '.join(event.receivers)}"
    assert together["words"][-1] == "the rider went another way"


def test_a_variant_is_drawn_along_a_trace_that_took_it():
    analysis = make_analysis(routes=1)
    route = analysis.routes[0]
    variant = m.Variant(
        name="Way 2", from_m=900.0, to_m=1400.0, files=(route.traces[2].file,), rides=("2",), aside_m=40.0
    )
    changed = dataclasses.replace(route, variants=(variant,))
    analysis = dataclasses.replace(analysis, routes=(changed,))
    words = MapWords(analysis, result_document(analysis))
    data = route_data(0, changed, words, analysis.settings, watches_of(analysis))
    (line,) = [line for line in data["lines"] if line["look"] == "variant"]
    assert line["words"] == ["Way 2", "0.90 to 1.40 km", "another way, up to 40 m aside", "taken on ride 2"]
    assert ["Way 2"] in [dot["words"] for dot in data["dots"]]
    lat, lon = points(line["parts"][0]).T
    trace = route.traces[2]
    near = np.hypot(trace.lat_deg[:, None] - lat, trace.lon_deg[:, None] - lon).min(axis=0)
    assert near.max() < 1e-5


def points(steps):
    """Latitudes and longitudes of an encoded line."""
    return np.cumsum(np.reshape(steps, (-1, 2)), axis=0) / SCALE


def test_lines_stay_where_they_were_logged():
    """Half a metre of thinning, a tenth of rounding."""
    analysis, (data,) = data_of(routes=1)
    trace = analysis.routes[0].traces[0]
    drawn = points(next(line for line in data["lines"] if line["layer"] == "traces")["parts"][0])
    metres = np.array([111_200.0, 111_320.0 * np.cos(np.radians(trace.lat_deg[0]))])
    for lat, lon in zip(trace.lat_deg, trace.lon_deg, strict=True):
        at = (np.array([lat, lon]) - drawn) * metres
        step = np.diff(at, axis=0)
        along = np.clip(-(at[:-1] * step).sum(axis=1) / np.maximum(1e-9, (step**2).sum(axis=1)), 0, 1)
        assert np.linalg.norm(at[:-1] + along[:, None] * step, axis=1).min() < 0.7


def test_many_traces_are_drawn_no_finer_than_can_be_seen():
    _, (data,) = data_of(routes=1, traces=60, length_m=20_000.0)
    drawn = sum(
        len(part) // 2 for line in data["lines"] if line["layer"] == "traces" for part in line["parts"]
    )
    assert drawn <= MOST_MAP_POINTS


def test_coordinates_run_on_across_the_antimeridian():
    _, routes = data_of(place=(179.99, -50.0))
    lon = np.concatenate([points(p)[:, 1] for r in routes for line in r["lines"] for p in line["parts"]])
    assert lon.max() - lon.min() < 1


def test_leaflet_loads_nothing():
    script, sheet = leaflet_files()
    assert "url(" not in sheet
    assert "@import" not in sheet
    assert "sourceMappingURL" not in script
    assert "</script" not in script.lower()
    assert "<script" not in script.lower()
