"""The sentences of the report say what the document says, and say it when nothing is known."""

import dataclasses
import math

import pytest

from records import make_analysis
from trackspread import model as m
from trackspread.cli.terminal import _stretches_text
from trackspread.model import Reason
from trackspread.results.document import result_document
from trackspread.results.words import findings as words
from trackspread.statistics.astray.events import events_of

LEVEL = "95 % interval "


def found_in(document):
    return " ".join(" ".join(words.findings(route, LEVEL)) for route in document["routes"])


def test_findings_hold_the_figures_of_the_document():
    document = result_document(make_analysis())
    told = found_in(document)
    spread = document["routes"][0]["spread"]
    assert words.counts(document) == "3 rides, 12 traces"
    figure = f"{spread['value_m']} m (1 SD, 95 % interval {spread['low_m']} to {spread['high_m']} m)"
    assert f"out (3.2 km): the traces agree to {figure}" in told
    assert "0.90 to 1.08 km (Alder, ride 2, up to 21.4 m to the right: the other watches" in told
    assert "First fix, median over rides: Alder after 11 s (75 % interval 8 to 17 s)" in told
    assert "With 3 rides the true spread of one segment may be " in told


def test_all_errors_come_first_where_they_are_known():
    route = make_analysis(routes=1).routes[0]
    every = m.Estimate(value=4.9, low=3.9, high=6.7)
    told, shown, _ = _told_of(spread_all=every)
    kept = f"{shown['spread']['value_m']:.1f}"
    assert f"agree to 4.9 m (1 SD, 95 % interval 3.9 to 6.7 m); {kept} m with the stretches left out." in told
    assert route.spread.value < every.value


def test_events_are_told_once_with_all_their_watches():
    event = m.Event(
        from_m=1550.0, to_m=1670.0, receivers=("Alder", "Birch", "Moss"), rides=("3",), peak_m=27.3, side="right",
        cause="line",
    )  # fmt: skip
    variant = m.Variant(
        name="Variant 1", from_m=200.0, to_m=500.0, files=("a", "b"), rides=("1", "2"), aside_m=30.0
    )
    told, _, _ = _told_of(events=(event,), variants=(variant,))
    assert (
        "Traces diverge in 1 place: 1.55 to 1.67 km (Alder, Birch and Moss, ride 3, up to 27.3 m to the right: "
        "the rider went another way)." in told
    )
    assert "Variant 1: another way from 200 to 500 m, up to 30 m aside, taken on 2 rides." in told


def test_one_segment_is_told_as_factors_of_its_figure():
    known = {"spread": {"value_m": 4.0, "low_m": 2.0, "high_m": 10.0}}
    unknown = {"spread": {"value_m": None, "low_m": None, "high_m": None}}
    route = {"traces": [{"ride": "1"}, {"ride": "2"}], "segments": [known, unknown]}
    assert words._certainty(route)[0].startswith(
        "With 2 rides the true spread of one segment may be 0.5 to 2.5 times its figure"
    )
    assert words._certainty(route | {"segments": [unknown]}) == []


def test_too_few_traces_are_not_said_to_be_unsteady():
    analysis = make_analysis(routes=1)
    (route,) = analysis.routes
    thin = [dataclasses.replace(segment, verdict="thin") for segment in route.segments]
    for segments, few in ((route.segments, False), ((*thin[1:], route.segments[0]), False), (thin, True)):
        shown = dataclasses.replace(route, segments=tuple(segments))
        document = result_document(dataclasses.replace(analysis, routes=(shown,)))
        told = " ".join(words.findings(document["routes"][0], LEVEL))
        assert ("too few traces to rate" in told) == few
        assert ("% of the route is consistent" in told) != few


def test_nothing_known_is_said():
    analysis = make_analysis(routes=1)
    bare = dataclasses.replace(
        analysis.routes[0],
        spread=m.Estimate(reason=Reason("no_two_together")),
        p95_m=math.nan,
        segments=(),
        stretches=(),
        events=(),
        receivers=(),
        pairs=(),
        film=(),
    )
    document = result_document(dataclasses.replace(analysis, routes=(bare,)))
    told = " ".join(words.findings(document["routes"][0], LEVEL))
    assert "no spread could be formed: no two traces run together." in told
    assert words.NONE_LEAVES in told
    assert "First fix: unknown; no start time was noted." in told
    assert "nan" not in told


def _told_of(**changes):
    analysis = make_analysis(routes=1)
    if "stretches" in changes:
        changes["events"] = events_of(changes["stretches"])
    route = dataclasses.replace(analysis.routes[0], **changes)
    document = result_document(dataclasses.replace(analysis, routes=(route,)))
    return " ".join(words.findings(document["routes"][0], LEVEL)), document["routes"][0], route


def test_a_stretch_says_why_and_the_rider_is_told_once_for_all_that_he_carried():
    """Two receivers of one ride that went another way are one event; a receiver alone is another."""
    (one,) = (s for s in make_analysis(routes=1).routes[0].stretches if s.cause == "receiver")
    rider = dataclasses.replace(one, cause="line", ride="3", peak_m=33.0, from_m=200.0, to_m=400.0)
    crew = (rider, dataclasses.replace(rider, receiver="Birch", peak_m=35.0, from_m=180.0))
    told, _, _ = _told_of(stretches=(*crew, one))
    assert (
        "Traces diverge in 2 places: "
        "180 to 400 m (Alder and Birch, ride 3, up to 35 m to the right: the rider went another way); "
        "0.90 to 1.08 km (Alder, ride 2, up to 21.4 m to the right: the other watches on that ride did not)."
        in told
    )
    elsewhere = dataclasses.replace(crew[1], from_m=900.0, to_m=1000.0)
    told, _, _ = _told_of(stretches=(rider, elsewhere))
    assert told.count("the rider went another way") == 2
    told, _, _ = _told_of(
        stretches=(
            rider,
            *crew[1:],
            *[dataclasses.replace(one, from_m=1e3 * n, to_m=1e3 * n + 99) for n in range(4)],
        )
    )
    assert "in 5 places" in told
    assert "; and 2 more." in told


def test_where_nothing_could_be_held_together_nothing_is_said_to_agree():
    """One ride, or two traces: a stretch takes two traces of other rides; none found then means nothing."""
    route = make_analysis(routes=1).routes[0]
    blind = tuple(
        dataclasses.replace(trace, settled_fix=dataclasses.replace(trace.settled_fix, band_m=math.nan))
        for trace in route.traces
    )
    told, _, record = _told_of(stretches=(), traces=blind)
    assert words.NOT_JUDGED in told
    assert words.NONE_LEAVES not in told
    assert _stretches_text(record) == "–"
    told, _, record = _told_of(stretches=())
    assert words.NONE_LEAVES in told
    assert _stretches_text(record) == "0"


@pytest.mark.parametrize(
    ("names", "mend"),
    [(("Alder", "Birch"), ""),
     (("unknown receiver", "unknown receiver"), "which watch made all traces"),
     (("Alder", "unknown receiver"), "which watch made 3 of 6 traces")],
)  # fmt: skip
def test_traces_of_an_unknown_watch_are_told(names, mend):
    analysis = make_analysis(routes=1)
    route = analysis.routes[0]
    traces = tuple(dataclasses.replace(t, receiver=names[t.number % 2]) for t in route.traces)
    routes = (dataclasses.replace(route, traces=traces),)
    document = result_document(dataclasses.replace(analysis, routes=routes))
    told = words.unknown_watches(document)
    assert mend in told
    assert ("trackspread init" in told) == bool(mend)


def test_a_settling_phase_is_no_stretch_in_the_table_at_the_end():
    settling = tuple(
        dataclasses.replace(s, cause="settling") for s in make_analysis(routes=1).routes[0].stretches
    )
    assert _stretches_text(_told_of(stretches=settling)[2]) == "0"


def test_the_first_fix_of_one_ride_has_no_interval():
    route = make_analysis(routes=1).routes[0]
    once = m.MedianEstimate(median=6.0, low=6.0, high=6.0, n=1, confidence=0.0)
    receivers = tuple(dataclasses.replace(r, first_fix_s=once) for r in route.receivers)
    told, _, _ = _told_of(receivers=receivers)
    assert "Alder after 6 s (one ride)" in told
    assert "6 to 6" not in told


def test_clocks_set_between_rides_make_a_noted_start_doubtful():
    route = make_analysis(routes=1).routes[0]
    reason = Reason.of("clocks_set", low_s=-3600.0, high_s=0.1, a="Alder", b="Birch")
    pair = dataclasses.replace(route.pairs[0], a="Alder", b="Birch", clock_offset_s=m.Estimate(reason=reason))
    told, _, _ = _told_of(pairs=(pair,))
    assert "The clocks of Alder and Birch were set between rides: if the start was not noted by" in told


@pytest.mark.parametrize(("offset_s", "warned"), [(-39.87, True), (2.9, False), (math.nan, False)])
def test_clocks_that_differ_make_a_noted_start_doubtful(offset_s, warned):
    route = make_analysis(routes=1).routes[0]
    pair = dataclasses.replace(
        route.pairs[0], a="Alder", b="Birch", clock_offset_s=m.Estimate(value=offset_s, low=-40.2, high=-39.6)
    )
    told, _, _ = _told_of(pairs=(pair,))
    said = "The clock of Birch is 39.9 s ahead of that of Alder: if the start was not noted by"
    assert (said in told) == warned
    assert ("clock" in told) == warned


def test_hostile_names_stay_on_one_line_and_short():
    document = result_document(make_analysis(hostile=True))
    for text in [f for route in document["routes"] for f in words.findings(route, LEVEL)]:
        assert text.isprintable()
        assert len(text) < 3000


def test_a_first_fix_says_who_timed_its_start_and_what_the_watch_showed():
    document = result_document(make_analysis(routes=1))
    (route,) = document["routes"]
    assert "from the start noted in rides.csv" in " ".join(words.findings(route, ""))
    for trace in route["traces"]:
        if trace["first_fix"]["value_s"] is not None:
            trace["first_fix"]["source"] = "timer"
    trace["first_fix"]["seen_s"] = 14
    assert "the fix was there" not in " ".join(words.findings(route, ""))
    trace["first_fix"] |= {"value_s": 0.0, "source": "timer"}
    told = " ".join(words.findings(route, ""))
    assert "from the start of the watch's own timer." in told
    assert "In 1 recording the fix was there when start was pressed." in told
    assert f"Fix shown on the watch, median: {trace['receiver']} after 14 s." in told
