"""Charts: the same bytes for the same analysis, sound XML, nothing loaded, names as plain text."""

import dataclasses
import re

import numpy as np
import pytest
from defusedxml import ElementTree

from records import PAYLOADS, fuller, make_analysis
from trackspread import model as m
from trackspread.errors import printable
from trackspread.report.charts.axes import Axes
from trackspread.report.charts.chart import SIDES_PX
from trackspread.report.charts.offsets import _seen
from trackspread.report.charts.route import (
    _claim_chart,
    _fix_chart,
    _fix_row,
    _spread_chart,
    route_charts,
)
from trackspread.report.watches import watches_of
from trackspread.rides.colours import watch_slots

ANALYSIS = make_analysis()
WATCHES = watches_of(ANALYSIS)


def texts(svg):
    return [element.text for element in ElementTree.fromstring(svg, forbid_dtd=False).iter() if element.text]


def test_same_analysis_same_bytes():
    first, second = (
        route_charts(make_analysis(seed=5).routes[0], ANALYSIS.settings, WATCHES) for _ in range(2)
    )
    assert first == second


@pytest.mark.parametrize("hostile", [False, True])
@pytest.mark.parametrize(("traces", "pairs"), [(2, False), (6, True), (50, False)])
def test_charts_are_sound_and_self_contained(traces, pairs, hostile):
    analysis = make_analysis(traces=traces, pairs=pairs, hostile=hostile)
    for route in analysis.routes:
        charts = route_charts(route, analysis.settings, watches_of(analysis))
        assert [c.name for c in charts] == ["spread", "offsets", "fixes"]
        for chart in charts:
            for svg in (chart.wide, chart.narrow):
                root = ElementTree.fromstring(svg, forbid_dtd=False)
                assert root.tag.endswith("svg")
                assert not list(root.iter("{http://www.w3.org/2000/svg}script"))
                for element in root.iter():
                    link = element.get("{http://www.w3.org/1999/xlink}href", "#")
                    assert link.startswith("#")
                assert b"url(http" not in svg
            assert chart.alt
            assert "nan" not in chart.alt


def test_names_are_plain_text_without_markup():
    analysis = make_analysis(hostile=True)
    route = analysis.routes[0]
    named = [dataclasses.replace(t, receiver=PAYLOADS[i], ride="") for i, t in enumerate(route.traces)]
    route = dataclasses.replace(route, traces=tuple(named), receivers=())
    shown = texts(_fix_chart(route, watch_slots(PAYLOADS)).wide)
    for payload in PAYLOADS[: len(named)]:
        assert any(text.startswith(printable(payload, 14)[:10]) for text in shown), payload
    math = [dataclasses.replace(route.traces[0], receiver=r"$\frac{1}{2}$")]
    route = dataclasses.replace(route, traces=tuple(math))
    assert any(r"$\frac" in t for t in texts(_fix_chart(route, watch_slots([math[0].receiver])).wide))


def test_the_spread_is_drawn_where_it_is():
    route = ANALYSIS.routes[0]
    chart = _spread_chart(route, ANALYSIS.settings, WATCHES)
    root = ElementTree.fromstring(chart.wide, forbid_dtd=False)
    width = chart.wide_size[0]
    left, right = SIDES_PX[width]
    lines = [
        np.array(re.findall(r"[ML]([\d.-]+) ([\d.-]+)", element.get("d")), dtype=float)
        for element in root.iter("{http://www.w3.org/2000/svg}path")
        if "stroke-width: 1.8" in element.get("style", "")
    ]
    assert len(lines) == 1
    x, y = lines[0].T
    assert x[0] == pytest.approx(left, abs=0.1)
    assert x[-1] == pytest.approx(width - right, abs=0.1)
    station = route.station_m[-1] * (x - left) / (width - left - right)
    wanted = np.interp(station, route.station_m, route.station_spread_m)
    slope, shift = np.polyfit(y, wanted, 1)
    assert slope < 0
    np.testing.assert_allclose(slope * y + shift, wanted, atol=0.1)


def test_thinned_lines_keep_every_peak():
    random = np.random.default_rng(3)
    x, y = np.arange(5003.0), random.normal(size=5003)
    y[700:900] = np.nan
    y[[1234, 4999]] = 40.0, -30.0
    thin_x, thin_y = _seen(x, y, 360)
    assert len(thin_x) < 800
    assert (np.diff(thin_x) >= 0).all()
    assert np.nanmax(thin_y) == 40.0
    assert np.nanmin(thin_y) == -30.0
    np.testing.assert_array_equal(thin_y, y[thin_x.astype(int)])
    assert np.isnan(thin_y[(thin_x > 720) & (thin_x < 880)]).all()
    assert _seen(x[:700], y[:700], 360)[0] is not None


def test_routes_without_figures_are_said_not_drawn():
    route = ANALYSIS.routes[0]
    nothing = np.full_like(route.station_m, np.nan)
    bare = dataclasses.replace(
        route,
        station_spread_m=nothing,
        station_low_m=nothing,
        station_high_m=nothing,
        offset_m=np.full_like(route.offset_m, np.nan),
    )
    charts = route_charts(bare, ANALYSIS.settings, WATCHES)
    assert charts[0].alt == "Spread along the route: nowhere do enough traces run together."


def test_colours_follow_the_ground_of_the_reader():
    svg = _spread_chart(ANALYSIS.routes[0], ANALYSIS.settings, WATCHES).wide.decode("utf-8")
    assert "prefers-color-scheme:dark" in svg
    assert "stroke: var(--accent)" in svg
    drawn = svg.split("</style>", 1)[1]
    assert set(re.findall(r"#[0-9a-f]{6}\b", drawn)) == set()


def test_claims_are_drawn_where_a_watch_claims_any():
    analysis = fuller(make_analysis(routes=1))
    (route,), watches = analysis.routes, watches_of(analysis)
    chart = _claim_chart(route, watches)
    assert chart.alt.startswith(f"What {len(watches)} watches claim of their accuracy along ")
    assert chart.wide.count(b"stroke-dasharray") >= len(watches)
    names = [made.name for made in route_charts(route, analysis.settings, watches)]
    assert "claims" in names
    none = dataclasses.replace(route, claim_m=np.zeros((0, 0)))
    assert "claims" not in [made.name for made in route_charts(none, analysis.settings, watches)]


# a row of the chart of fixes: a ring, a disc, an arrow for never, words for unknown

NAN = float("nan")


class Noted(Axes):
    """Axes that note the marks drawn on them."""

    def __init__(self) -> None:
        self.marks: list[tuple[object, ...]] = []

    def line(self, x, y, *look, **more):
        self.marks.append(("line", *map(float, x)))

    def disc(self, x, y, *look, **more):
        self.marks.append(("disc", x))

    def arrow(self, x, y, *look, **more):
        self.marks.append(("arrow", x))

    def words(self, words, x, y, *look, **more):
        self.marks.append((words, x))


@pytest.mark.parametrize(
    ("first", "settled", "never", "marks"),
    [
        (4.0, 9.0, False, [("line", 4.0, 9.0), ("disc", 4.0), ("disc", 9.0)]),
        (4.0, NAN, True, [("disc", 4.0), ("line", 6.0, 98.5), ("arrow", 98.5)]),
        (NAN, 9.0, False, [("disc", 9.0), ("first fix unknown", 9.0)]),
        (NAN, NAN, False, [("unknown", 0.0)]),
    ],
)
def test_every_state_has_its_mark(
    first: float, settled: float, never: bool, marks: list[tuple[object, ...]]
) -> None:
    trace: m.TraceResult = make_analysis(routes=1).routes[0].traces[0]
    trace = dataclasses.replace(
        trace, first_fix=dataclasses.replace(trace.first_fix, value_s=first),
        settled_fix=dataclasses.replace(trace.settled_fix, value_s=settled, censored=never),
    )  # fmt: skip
    axes = Noted()
    _fix_row(axes, 0, trace, "ink", 100.0)
    assert axes.marks == marks
