"""The archive of a publication, made from dropped files, opened member by member and searched."""

from __future__ import annotations

import re
import zipfile

import numpy as np
import pytest
from PIL import Image

from searching import LEAST_M, WGS84, corners, embedded, positions_in, within
from trackspread.options import Options
from trackspread.web.outcome import Wanted, run
from trackspread.web.reading import read_folder
from trackspread.web.results import ZIP_NAME
from world import Receiver, simulate
from world.files import gpx_text


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A publication of eight rides out of dropped files, unpacked, and the ends of those files."""
    place = tmp_path_factory.mktemp("zip")
    receivers = [Receiver(name="Alder", sigma_m=1.5), Receiver(name="Birch", sigma_m=2.5)]
    ends = []
    for recording in simulate(seed=7, receivers=receivers, length_m=2400).recordings:
        file = place / "traces" / recording.receiver.name / f"home 2031-03-0{recording.ride + 1} 0731.gpx"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(gpx_text(recording))
        found = re.findall(r'<trkpt lat="([-\d.]+)" lon="([-\d.]+)"', file.read_text())
        ends += [(float(lon), float(lat)) for lat, lon in (found[0], found[-1])]
    reading = read_folder(place / "traces", {})
    wanted = Wanted(options=Options(), publish=True, hide_dates=True, film=True)
    outcome = run(reading, wanted, place / "result", lambda phase, share: None)
    with zipfile.ZipFile(place / "result" / ZIP_NAME) as archive:
        archive.extractall(place / "out")
        members = archive.infolist()
    return outcome, np.array(ends), place / "out", members


def test_no_member_holds_a_position_near_an_end(made):
    outcome, ends, folder, _ = made
    boxes = corners(outcome.analysis)
    files = [path for path in folder.rglob("*") if path.is_file()]
    assert {path.suffix for path in files} == {".html", ".json", ".csv", ".gpkg", ".npz", ".png"}
    for file in files:
        for positions in positions_in(file):
            near = [p for p in within(positions, ends) if (round(p[0], 4), round(p[1], 4)) not in boxes]
            assert not near, (file.name, near[:5])


def test_pieces_begin_farther_from_the_ends_than_the_least_cut(made):
    outcome, ends, _, _ = made
    for route in outcome.analysis.routes:
        for lon, lat in ends:
            away = WGS84.inv(
                route.lon_deg, route.lat_deg, *(np.full(len(route.lon_deg), x) for x in (lon, lat))
            )[2]
            assert away.min() >= LEAST_M


def test_no_member_tells_a_name_or_a_date(made):
    _, _, folder, members = made
    for member in members:
        assert member.date_time == (1980, 1, 1, 0, 0, 0)
        assert not member.comment
        assert not member.extra or member.extra[:2] == b"\x01\x00", "sizes of ZIP64 only (APPNOTE 4.5.3)"
    for file in folder.rglob("*"):
        if file.is_file():
            assert not re.search(r"2031|0731|home", str(file.relative_to(folder)))
            for text in embedded(file.read_bytes().decode("utf-8", "replace")):
                assert not re.search(r"2031-0|0731\b.{0,4}gpx|home 2031", text), file.name


def test_pictures_carry_no_words(made):
    pictures = list(made[2].rglob("*.png"))
    assert pictures
    for file in pictures:
        with Image.open(file) as picture:
            assert set(picture.info) <= {"dpi"}
            assert not picture.getexif()
