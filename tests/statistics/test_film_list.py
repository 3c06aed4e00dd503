"""The film list: pieces, reasons and frames, against geodesics of GeographicLib (Karney 2013)."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from reasons import told
from records import make_analysis
from trackspread import model as m
from trackspread.results.words.reasons import said
from trackspread.statistics.film_list import film_entries, frame

NAN = float("nan")


def _segment(start: float, verdict: m.Verdict, spread: float = 2.0, traces: int = 4) -> m.Segment:
    return m.Segment(
        from_m=start,
        to_m=start + 100.0,
        traces=traces,
        spread=m.Estimate(value=spread, low=spread / 2, high=2 * spread),
        p95_m=4.0,
        widest_m=8.0,
        coverage=1.0,
        verdict=verdict,
        reasons=(),
    )


def _stretch(
    start: float, end: float, cause: m.Cause = "receiver", receiver: str = "Birch", number: int = 0
) -> m.Stretch:
    return m.Stretch(
        number=number,
        file="a.gpx",
        receiver=receiver,
        ride="4",
        from_m=start,
        to_m=end,
        peak_m=-31.6,
        mean_m=-20.0,
        side="left",
        seconds=20.0,
        start_time_s=NAN,
        cause=cause,
    )


def _line(count: int = 201, lon: float = 69.0, lat: float = -49.0) -> tuple[m.Floats, m.Floats, m.Floats]:
    """A line due east, one station each 5 m (metres per degree on a sphere: precise enough to cut by)."""
    station = 5.0 * np.arange(count)
    return station, lon + station / (111_195.0 * math.cos(math.radians(lat))), np.full(count, lat)


def _metres(lon_a: float, lat_a: float, lon_b: float, lat_b: float) -> float:
    return float(Geodesic.WGS84.Inverse(lat_a, lon_a, lat_b, lon_b)["s12"])


def test_like_segments_are_joined_and_the_pieces_cover_the_route() -> None:
    words: list[m.Verdict] = ["thin", "steady", "steady", "wavering", "torn", "torn", "steady"]
    entries = film_entries([_segment(100.0 * i, w) for i, w in enumerate(words)], *_line(), ())
    assert [(e.from_m, e.to_m, e.verdict) for e in entries] == [
        (0.0, 100.0, "thin"),
        (100.0, 300.0, "steady"),
        (300.0, 400.0, "wavering"),
        (400.0, 600.0, "torn"),
        (600.0, 700.0, "steady"),
    ]


def test_a_steady_piece_with_a_stretch_stands_apart_and_names_whom() -> None:
    segments = [_segment(100.0 * i, "steady") for i in range(5)]
    entries = film_entries(segments, *_line(), [_stretch(210.0, 290.0)])
    assert [(e.from_m, e.to_m) for e in entries] == [(0.0, 200.0), (200.0, 300.0), (300.0, 500.0)]
    assert said(entries[1].why) == (
        "4 traces; spread 2.0 m (1.0 to 4.0 m); Birch on ride 4 strays (up to 32 m left)"
    )
    assert "Birch" not in said(entries[0].why) + said(entries[2].why)


def test_a_stretch_that_barely_enters_a_segment_is_not_told_of_it() -> None:
    segments = [_segment(0.0, "steady"), _segment(100.0, "steady")]
    entries = film_entries(segments, *_line(), [_stretch(95.0, 170.0)])
    assert ["Birch" in said(entry.why) for entry in entries] == [False, True]


def test_a_stretch_counts_from_a_tenth_of_a_segment_on_wherever_that_lies() -> None:
    segments = [_segment(100.0 * i, "torn") for i in range(10)]
    (entry,) = film_entries(segments, *_line(), [_stretch(990.0, 1200.0)])
    assert "Birch" in said(entry.why)
    (entry,) = film_entries(segments, *_line(), [_stretch(990.5, 1200.0)])
    assert "Birch" not in said(entry.why)


def test_who_leaves_the_others_the_farthest_first() -> None:
    def strays(number: int, name: str, peak_m: float, **other: object) -> m.Stretch:
        return dataclasses.replace(
            _stretch(0.0, 50.0, receiver=name, number=number), peak_m=peak_m, ride="", **other
        )

    many = [
        strays(0, "Alder", -12.0), strays(1, "", 40.0, side="right", cause="line"), strays(2, "Cedar", 9.0),
        strays(0, "Alder", -25.0, cause="settling"), strays(3, "Elm", 8.0),
    ]  # fmt: skip
    (entry,) = film_entries([_segment(0.0, "torn")], *_line(), many)
    assert said(entry.why) == (
        "4 traces; spread 2.0 m (1.0 to 4.0 m); a.gpx went another way (up to 40 m right), "
        "Alder is still settling (up to 25 m left), Cedar strays (up to 9 m left) and 1 more"
    )


def test_long_names_are_cut() -> None:
    long = dataclasses.replace(_stretch(0.0, 50.0, receiver="a" * 80), ride="b" * 80)
    (entry,) = film_entries([_segment(0.0, "torn")], *_line(), [long])
    assert f"; {'a' * 15}…{'a' * 8} on ride {'b' * 39}… strays" in said(entry.why)


def test_the_spread_of_a_piece_pools_variances() -> None:
    """Root of the mean variance of 3 and 4 m is sqrt(12.5) = 3.54 m; its bounds are pooled alike."""
    (entry,) = film_entries([_segment(0.0, "wavering", 3.0), _segment(100.0, "wavering", 4.0)], *_line(), ())
    assert said(entry.why) == "4 traces; spread 3.5 m (1.8 to 7.1 m)"


def test_wide_intervals_take_the_decimals_away() -> None:
    (entry,) = film_entries([_segment(0.0, "torn", 12.4)], *_line(), ())
    assert said(entry.why) == "4 traces; spread 12 m (6 to 25 m)"
    (entry,) = film_entries([_segment(0.0, "torn", 5.0)], *_line(), ())
    assert said(entry.why) == "4 traces; spread 5 m (2 to 10 m)"


@pytest.mark.parametrize(("value", "told"), [(2.04, "2.0"), (7.04, "7.0"), (12.4, "12"), (1234.5, "1,234")])
def test_a_spread_without_an_interval(value: float, told: str) -> None:
    for ends in ({"low": NAN}, {"high": NAN}, {"low": NAN, "high": NAN}):
        bare = dataclasses.replace(m.Estimate(value=value, low=value / 2, high=2 * value), **ends)
        segment = dataclasses.replace(_segment(0.0, "torn"), spread=bare)
        (entry,) = film_entries([segment], *_line(), ())
        assert said(entry.why) == f"4 traces; spread {told} m"


def test_how_many_traces_a_piece_has() -> None:
    nothing = m.Estimate()
    pieces = [_segment(0.0, "steady", traces=5), _segment(100.0, "steady", traces=3)]
    (entry,) = film_entries(pieces, *_line(), ())
    assert said(entry.why).startswith("3 to 5 traces; spread")
    none = [dataclasses.replace(_segment(0.0, "thin", traces=0), spread=nothing)]
    (entry,) = film_entries(none, *_line(), ())
    assert said(entry.why) == "no trace"


def test_a_piece_between_two_stations_is_framed_around_the_nearest() -> None:
    """Stations at 0, 300 and 1000 m; the middle of the piece, 450 m, is 150 m from the second."""
    station = np.array([0.0, 300.0, 1000.0])
    lon, lat = np.array([69.0, 69.01, 69.02]), np.array([10.0, 10.01, 10.02])
    (entry,) = film_entries([_segment(400.0, "steady")], station, lon, lat, ())
    assert entry.bounds == frame(lon[1:2], lat[1:2])


def test_a_piece_is_framed_from_its_first_station_to_its_last() -> None:
    station, lon, lat = _line()
    _, entry, _ = film_entries(
        [_segment(0.0, "thin"), _segment(100.0, "torn"), _segment(200.0, "thin")], station, lon, lat, ()
    )
    assert entry.bounds == frame(lon[20:41], lat[20:41])


def test_frames_at_the_ends_of_the_globe() -> None:
    """Nothing lies beyond a pole, and a frame that goes all around has no seam."""
    assert frame(np.array([10.0]), np.array([-90.0]))[:3:2] == (-180.0, 180.0)
    assert frame(np.array([10.0]), np.array([-90.0]))[1] == -90.0
    assert frame(np.array([10.0]), np.array([90.0]))[3] == 90.0


def test_a_thin_piece_says_how_many_and_gives_the_reason_without_a_figure() -> None:
    bare = dataclasses.replace(
        _segment(0.0, "thin", traces=1), spread=m.Estimate(reason=told("fewer than two traces"))
    )
    (entry,) = film_entries([bare], *_line(), ())
    assert said(entry.why) == "only 1 trace; fewer than two traces"


def test_many_stretches_are_counted_and_hostile_names_stay_on_one_line() -> None:
    many = [_stretch(0.0, 50.0, receiver="two\nlines\u202e", number=n % 9) for n in range(20)]
    (entry,) = film_entries([_segment(0.0, "torn")], *_line(), many)
    assert said(entry.why).endswith("and 6 more")
    assert said(entry.why).isprintable()


@pytest.mark.parametrize(("lon", "lat"), [(69.0, -49.0), (179.9985, 52.0), (-179.9999, 0.0), (10.0, 84.0)])
def test_the_margin_of_a_frame_is_as_promised_on_the_ellipsoid(lon: float, lat: float) -> None:
    """60 m, or 15 % of the larger side, within 1 % (sphere against WGS 84 geodesics)."""
    for count, margin in ((41, 60.0), (201, 150.0)):
        _, x, y = _line(count, lon, lat)
        west, south, east, north = frame(x, y)
        assert -180.0 <= west < 180.0
        assert -180.0 <= east < 180.0
        assert _metres(west, lat, x[0], lat) == pytest.approx(margin, rel=0.01)
        assert _metres(x[-1], lat, east, lat) == pytest.approx(margin, rel=0.01)
        assert _metres(lon, south, lon, lat) == pytest.approx(margin, rel=0.01)
        assert _metres(lon, north, lon, lat) == pytest.approx(margin, rel=0.01)


def test_a_frame_over_the_antimeridian_has_its_west_beyond_its_east() -> None:
    """RFC 7946, section 5.2: a box over the antimeridian has a west larger than its east."""
    station, x, y = _line(201, 179.995, 52.0)
    for lon in (x, (x + 180.0) % 360.0 - 180.0):
        (entry,) = film_entries([_segment(0.0, "steady")], station, lon, y, ())
        (whole,) = film_entries(
            [dataclasses.replace(_segment(0.0, "steady"), to_m=1000.0)], station, lon, y, ()
        )
        assert entry.bounds[0] < entry.bounds[2]
        assert whole.bounds[0] > 179.0
        assert whole.bounds[2] < -179.0


def test_a_frame_at_the_pole_stays_on_the_globe() -> None:
    west, south, east, north = frame(np.array([0.0, 170.0, 340.0]), np.array([89.9, 89.999, 89.9]))
    assert (west, east, north) == (-180.0, 180.0, 90.0)
    assert 89.0 < south < 89.9


def test_whole_records_get_a_list() -> None:
    for route in make_analysis(hostile=True).routes:
        entries = film_entries(route.segments, route.station_m, route.lon_deg, route.lat_deg, route.stretches)
        assert entries[0].from_m == 0.0
        assert entries[-1].to_m == route.segments[-1].to_m
        assert all(a.to_m == b.from_m for a, b in itertools.pairwise(entries))
        assert all(entry.why for entry in entries)
