"""Rows say what was read; lengths and directions are checked against geographiclib (Karney 2013)."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from trackspread.model import Finding, Trace, Witness
from trackspread.web.clock import Clock
from trackspread.web.reading import Reading
from trackspread.web.rows import _way, row_of

WINDS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"]


def trace(lon, lat, **more):
    lon, lat = np.array(lon, float), np.array(lat, float)
    nothing = np.full(len(lon), math.nan)
    given = {"file": "a.gpx", "format": "GPX 1.1", "time_s": nothing, "elevation_m": nothing}
    return Trace(lon_deg=lon, lat_deg=lat, break_before=np.zeros(len(lon), bool), **(given | more))


def witness(record, **more):
    given = {
        "receiver": "Alder", "ride": "1", "receiver_from": "folder", "ride_from": "overlap",
        "start_s": math.nan, "start_source": "none",
    }  # fmt: skip
    return Witness(trace=record, **(given | more))


@pytest.mark.parametrize("azimuth", range(0, 360, 45))
@pytest.mark.parametrize(("lon", "lat"), [(69.4, -48.9), (179.99, 10.0), (-20.0, 84.0)])
def test_way(azimuth, lon, lat):
    line = Geodesic.WGS84.Line(lat, lon, azimuth)
    places = [line.Position(float(s)) for s in np.linspace(0, 4400, 45)]
    words = _way(trace([p["lon2"] for p in places], [p["lat2"] for p in places]))
    length, wind = words.split(" km to the ")
    assert float(length) == pytest.approx(4.4, abs=0.011)
    assert wind == WINDS[azimuth // 45]


def test_way_of_a_loop_a_point_and_a_short_walk():
    turn = np.linspace(0, 2 * math.pi, 100)
    assert _way(trace(69.4 + 0.01 * np.cos(turn), -48.9 + 0.01 * np.sin(turn))).endswith(" km round")
    assert _way(trace([1], [2])) == "a single point"
    assert _way(trace([0, 0], [0, 0.001])) == "110 m to the north"
    assert _way(trace([-170, 10, -170], [80, -80, 0]))


def test_first_point():
    late = trace([0, 1], [0, 0], time_s=np.array([math.nan, 1_000_000_000.0]))
    assert row(late)["first_point"] == "2001-09-09 01:46:40"
    assert row(trace([0, 1], [0, 0]))["first_point"] == "no times"


def row(record, stated="", wrong="", zone="UTC", **more):
    told = {
        "stated": {"a.gpx": {"start_pressed": stated, "fix_seen": ""}},
        "wrong": {("a.gpx", "start_pressed"): wrong} if wrong else {},
    }
    reading = Reading(folder=Path("traces"), read=None, witnesses=(), problems=(), doubts=(), **told)
    return row_of("a.gpx", witness(record, **more), reading, Clock(zone))


def test_row_carries_no_control_marks():
    finding = Finding(code="x", count=1, text="one\ntwo\u202e", first_place="line\r1")
    shown = row(trace([0], [0], findings=(finding,)), receiver="A\u202eB\n", note="x\ty" * 100)
    told = shown["findings"][0]
    assert told["of_note"]
    texts = [shown["receiver"], shown["note"], told["text"], told["first_place"]]
    assert all(text.isprintable() for text in texts)
    assert max(map(len, texts)) <= 300


def test_row_shows_what_is_wrong_with_a_stated_start():
    assert (
        row(trace([0], [0]), start_s=1e9, start_source="declared")["start_pressed"] == "2001-09-09 01:46:40"
    )
    bad = row(trace([0], [0]), "late", "must be a time")
    assert (bad["start_pressed"], bad["start_pressed_wrong"]) == ("late", "must be a time")
    assert row(trace([0], [0]), receiver="unknown receiver", receiver_from="none")["receiver"] == ""


def test_times_stand_in_the_chosen_zone_with_utc_beside():
    """1e9 s after 1970 was Sunday 2001-09-09, 01:46:40 UTC; Tokyo is nine hours ahead all year (tz database)."""
    shown = row(trace([0], [0]), zone="Asia/Tokyo", start_s=1e9, start_source="declared", fix_seen_s=1e9 + 30)
    assert (shown["start_pressed"], shown["start_pressed_utc"]) == ("2001-09-09 10:46:40", "01:46:40 UTC")
    assert (shown["fix_seen"], shown["fix_seen_utc"]) == ("2001-09-09 10:47:10", "01:47:10 UTC")
    wrong = row(trace([0], [0]), "late Asia/Tokyo", "must be a time", zone="Asia/Tokyo")
    assert wrong["start_pressed"] == "late"
