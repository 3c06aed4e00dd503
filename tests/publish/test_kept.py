"""One secret cut a place: the same whatever is run how often, and told where it cannot be kept."""

from __future__ import annotations

import json
import os
import stat
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from records import make_analysis
from trackspread import model as m
from trackspread.publish.cut import PUBLISH_ONCE, cut_for_publishing
from trackspread.publish.kept import SAME_PLACE_M, KeptCuts, kept_cuts


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TRACKSPREAD_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def ends(analysis: m.Analysis) -> list[float]:
    return [
        float(v) for r in analysis.routes for v in (r.lon_deg[0], r.lat_deg[0], r.lon_deg[-1], r.lat_deg[-1])
    ]


def test_two_runs_cut_at_the_same_places_with_dates_and_without(data: Path) -> None:
    analysis = make_analysis(routes=2, traces=4)
    first, second = cut_for_publishing(analysis), cut_for_publishing(analysis, hide_dates=True)
    assert ends(first) == ends(second)
    assert ends(first) == ends(cut_for_publishing(replace(analysis, created_s=1.0)))


def test_another_machine_cuts_elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    analysis, found = make_analysis(routes=1, traces=4), []
    for name in ("one", "two"):
        monkeypatch.setenv("TRACKSPREAD_DATA", str(tmp_path / name))
        found.append(ends(cut_for_publishing(analysis)))
    assert found[0] != found[1]


def test_a_place_nearby_is_cut_by_the_same_disc_and_one_farther_off_is_not() -> None:
    cuts = KeptCuts(secret=b"s" * 32)
    first = cuts(69.4, -48.9)
    near = Geodesic.WGS84.Direct(-48.9, 69.4, 30.0, SAME_PLACE_M - 5.0)
    far = Geodesic.WGS84.Direct(-48.9, 69.4, 30.0, SAME_PLACE_M + 5.0)
    again, other = cuts(near["lon2"], near["lat2"]), cuts(far["lon2"], far["lat2"])
    assert (again.lon_deg, again.lat_deg) == (first.lon_deg, first.lat_deg)
    assert again.source.random() == first.source.random()
    assert (other.lon_deg, other.lat_deg) != (first.lon_deg, first.lat_deg)
    assert len(cuts.places) == 2


def test_the_secret_is_for_its_owner_only_and_is_kept(data: Path) -> None:
    with kept_cuts() as cuts:
        assert cuts is not None
        cuts(10.0, 50.0)
        secret = cuts.secret
    file = data / "cuts.json"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    with kept_cuts() as cuts:
        assert cuts is not None
        assert (cuts.secret, cuts.places) == (secret, [(10.0, 50.0)])
    assert not [name for name in os.listdir(data) if name != "cuts.json"]


@pytest.mark.parametrize("text", ["", "[]", '{"secret": "zz", "places": []}', '{"secret": "00"}', "[" * 9999,
                                  '{"secret": "00", "places": [[1e999, 2]]}'])  # fmt: skip
def test_a_file_that_cannot_be_read_is_left_alone_and_the_cut_is_told_to_be_for_once(
    data: Path, text: str
) -> None:
    data.mkdir()
    (data / "cuts.json").write_text(text)
    published = cut_for_publishing(make_analysis(routes=1, traces=3))
    assert PUBLISH_ONCE in published.notes
    assert (data / "cuts.json").read_text() == text


def test_where_nothing_can_be_kept_it_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("TRACKSPREAD_DATA", str(tmp_path / "file" / "below"))
    assert PUBLISH_ONCE in cut_for_publishing(make_analysis(routes=1, traces=3)).notes


def test_no_place_of_the_file_is_in_what_is_published(data: Path) -> None:
    published = cut_for_publishing(make_analysis(routes=1, traces=3))
    kept = json.loads((data / "cuts.json").read_text())["places"]
    for route in published.routes:
        for lon, lat in kept:
            apart = [
                Geodesic.WGS84.Inverse(lat, lon, y, x)["s12"]
                for x, y in zip(route.lon_deg[::20], route.lat_deg[::20], strict=True)
            ]
            assert np.min(apart) >= 190.0
