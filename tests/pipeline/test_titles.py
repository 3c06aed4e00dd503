"""Outward and homeward: two routes on one way, there and back; nothing else is called so."""

import dataclasses

import numpy as np

from records import make_analysis
from trackspread import analyse
from trackspread.pipeline.titles import name_of_route, titled
from world import write_gpx
from world.watches import ridden

ROUTE = make_analysis(routes=1).routes[0]
BACK = dataclasses.replace(
    ROUTE,
    name="b",
    lon_deg=ROUTE.lon_deg[::-1],
    lat_deg=ROUTE.lat_deg[::-1],
    traces=tuple(dataclasses.replace(t, time_s=t.time_s + 3600.0) for t in ROUTE.traces),
)


def titles(*routes):
    return [route.title for route in titled(routes, 25.0)]


def test_there_and_back_are_told_by_when_they_were_ridden():
    assert titles(ROUTE, BACK) == ["Outward", "Homeward"]
    assert titles(BACK, ROUTE) == ["Homeward", "Outward"]


def test_the_same_direction_and_another_place_are_not_back():
    assert titles(ROUTE, ROUTE) == ["", ""]
    assert titles(ROUTE, dataclasses.replace(BACK, lat_deg=BACK.lat_deg + 0.01)) == ["", ""]
    assert titles(ROUTE) == [""]


def test_a_part_of_the_way_is_not_enough():
    half = np.arange(len(BACK.station_m)) < len(BACK.station_m) // 2
    short = {name: getattr(BACK, name)[half] for name in ("station_m", "lon_deg", "lat_deg")}
    assert titles(ROUTE, dataclasses.replace(BACK, **short)) == ["", ""]


def test_two_pairs_are_numbered_and_own_titles_stay():
    away = [dataclasses.replace(r, lat_deg=r.lat_deg + 0.05, title="") for r in (ROUTE, BACK)]
    assert titles(ROUTE, BACK, *away) == ["Outward 1", "Homeward 1", "Outward 2", "Homeward 2"]
    assert titles(dataclasses.replace(ROUTE, title="To the pass"), BACK) == ["To the pass", "Homeward"]


def test_the_antimeridian_is_no_seam():
    shifted = [
        dataclasses.replace(r, lon_deg=r.lon_deg + shift) for r, shift in ((ROUTE, 110.59), (BACK, -249.41))
    ]
    assert titles(*shifted) == ["Outward", "Homeward"]


def test_the_table_of_rides_names_a_route(tmp_path):
    """Column ``route``: what most traces of a route have there; the other route keeps its own title."""
    write_gpx(ridden(1, rides=2, length_m=600.0), tmp_path)
    sheet = (tmp_path / "rides.csv").read_text("utf-8").splitlines()
    named = [sheet[0] + ",route", *(line + (",To the mill" if "out_" in line else ",") for line in sheet[1:])]
    (tmp_path / "rides.csv").write_text("\n".join(named), encoding="utf-8")
    assert sorted(route.title for route in analyse(tmp_path).routes) == ["Homeward", "To the mill"]


def test_routes_are_lettered_like_the_columns_of_a_sheet() -> None:
    names = [name_of_route(k) for k in (0, 1, 25, 26, 27, 51, 52, 701, 702)]
    assert names == [f"Route {x}" for x in ("A", "B", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA")]
