"""Real recordings: walks that gpxpy carries for its own tests (tests/published/recordings, Apache License 2.0).

Counts and places are held against the XML itself, lengths against GeographicLib (Karney 2013).
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic

import trackspread as ts
from trackspread.errors import NothingToAnalyse
from trackspread.model import Trace
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.readers import read_files
from world import Globe, World, simulate
from world.routes import route_along
from world.witnesses import as_witnesses

FOLDER = Path(__file__).parent / "recordings"
FILES = sorted(FOLDER.glob("*.gpx"))
GPX = "{http://www.topografix.com/GPX/1/0}"


def traces(file: Path) -> list[Trace]:
    return [trace for read in read_files([file]).files for trace in read.traces]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_times_are_there_where_the_file_has_them(file: Path) -> None:
    expected = sum(point.find(f"{GPX}time") is not None for point in ET.parse(file).iter(f"{GPX}trkpt"))
    assert sum(int(np.isfinite(trace.time_s).sum()) for trace in traces(file)) == expected


def in_the_xml(file: Path) -> list[list[tuple[float, float]]]:
    """Return longitude and latitude of every point of every track that holds any."""
    tracks = [
        [(float(p.get("lon", "")), float(p.get("lat", ""))) for p in track.iter(f"{GPX}trkpt")]
        for track in ET.parse(file).getroot().iter(f"{GPX}trk")
    ]
    return [points for points in tracks if points]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_point_of_every_track_is_read_where_the_file_has_it(file: Path) -> None:
    expected, found = in_the_xml(file), traces(file)
    assert len(found) == len(expected) >= 3
    for trace, points in zip(found, expected, strict=True):
        np.testing.assert_array_equal(np.stack([trace.lon_deg, trace.lat_deg], axis=1), points)
        assert (trace.points_set_aside, trace.findings) == (0, ())


def test_a_walk_exported_with_and_without_its_times_is_one_witness() -> None:
    """Seven tracks each, three of them of two points: the four others are known again, all of them."""
    with pytest.raises(NothingToAnalyse) as told:
        ts.analyse([FOLDER / "cerknicko-jezero.gpx", FOLDER / "cerknicko-without-times.gpx"])
    assert str(told.value).count(": the same recording as") == 4
    assert str(told.value).count("its only companion on this route is the same recording") == 4
    assert str(told.value).count("fewer than 5 usable points") == 6


def test_one_walk_alone_makes_no_route_and_is_told_so() -> None:
    with pytest.raises(NothingToAnalyse, match="no other trace runs this way in this direction"):
        ts.analyse(FOLDER / "korita-zbevnica.gpx")


def ridden_again(number: int, rides: int, seed: int, back: bool = False) -> World:
    """Return invented rides along a track that somebody really walked, at its own place on earth."""
    trace = traces(FOLDER / "korita-zbevnica.gpx")[number]
    globe = Globe(lon_deg=float(np.mean(trace.lon_deg)), lat_deg=float(np.mean(trace.lat_deg)))
    line = route_along(np.stack(globe.to_plane(trace.lon_deg, trace.lat_deg), axis=1))
    name, start_s = ("back", 1.933e9) if back else ("out", 1.930e9)
    return simulate(
        line.reversed() if back else line,
        seed=seed,
        rides=rides,
        globe=globe,
        file_names=name + "_{receiver}_{ride}.gpx",
        first_start_s=start_s,
    )


@pytest.mark.parametrize("number", [0, 1, 2])
def test_a_real_way_ridden_by_invented_receivers_comes_out_as_it_was(number: int) -> None:
    """Bends, switchbacks and ground walked twice: 8.6, 2.3 and 4.0 km by GeographicLib (Karney 2013).

    The line may be a fifth worse than the mean of the true offsets; nearest distances are shapely's. Of six
    intervals one in four times would miss at 95 %, so they are asked at 99 %.
    """
    out, back = ridden_again(number, 5, seed=8), ridden_again(number, 4, seed=9, back=True)
    walked = traces(FOLDER / "korita-zbevnica.gpx")[number]
    ends = np.column_stack([walked.lat_deg[:-1], walked.lon_deg[:-1], walked.lat_deg[1:], walked.lon_deg[1:]])
    length_m = sum(Geodesic.WGS84.Inverse(*pair)["s12"] for pair in ends)
    assert out.route.length_m == pytest.approx(length_m, rel=1e-5)

    found = analyse([*as_witnesses(out), *as_witnesses(back)], Options(confidence=0.99))
    assert [(route.name, len(route.traces)) for route in found.routes] == [("Route A", 5), ("Route B", 4)]
    for world, route in zip((out, back), found.routes, strict=True):
        assert route.length_m == pytest.approx(length_m, rel=0.025), "bends are cut, and nothing is added"
        assert route.spread.low <= world.spread_m(world.recordings[0].receiver) <= route.spread.high
        assert all(trace.coverage > 0.98 for trace in route.traces)
        line = shapely.LineString(np.stack([world.route.east_m, world.route.north_m], axis=1))
        here = np.stack(world.globe.to_plane(route.lon_deg, route.lat_deg), axis=1)
        error_m = shapely.distance(line, shapely.points(here))
        assert np.sqrt(np.mean(error_m**2)) <= 1.2 * mean_offset_m(world)


def mean_offset_m(world: World) -> float:
    """Return the root mean square of the mean of the true offsets: the best that these rides can give."""
    station = np.arange(60.0, world.route.length_m - 60.0, 5.0)
    offsets = []
    for ride in world.recordings:
        at, first = np.unique(ride.true_station_m, return_index=True)
        offsets.append(np.interp(station, at, ride.true_offset_m[first]))
    return float(np.sqrt(np.mean(np.mean(offsets, axis=0) ** 2)))
