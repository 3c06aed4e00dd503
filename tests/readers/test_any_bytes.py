"""Whatever bytes come, every reader gives traces that can be, or refuses in one line."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from corpus.blocks import GOOD, rmc
from corpus.kinds_formats import KML, kml_track
from trackspread.errors import UnreadableFile
from trackspread.readers import parse
from world import simulate
from world.activity_files import tcx_text

NAMES = ("a.gpx", "a.tcx", "a.kml", "a.nmea", "a.csv", "a", "a.txt", "a.gpx.gz")
NO_HURRY = settings(deadline=None)
SEEDS = {
    "a.gpx": GOOD, "a.kml": KML.format(kml_track(6)), "a.nmea": "".join(rmc(i) for i in range(6)),
    "a.tcx": tcx_text(simulate(seed=1, rides=1, length_m=300.0).recordings[0]),
    "a.csv": "time,lon,lat,ride\n" + "".join(f"{1_940_911_200 + i},{i},{i / 2},r\n" for i in range(6)),
}  # fmt: skip


def check(name: str, data: bytes, asked: bool) -> None:
    try:
        traces, problems = parse(name, data, asked)
    except UnreadableFile as error:
        traces, problems = [], [error.problem]
    for trace in traces:
        assert len(trace.lon_deg) == len(trace.lat_deg) == len(trace.time_s) == len(trace.break_before) > 0
        assert ((trace.lon_deg >= -180) & (trace.lon_deg < 180) & (np.abs(trace.lat_deg) <= 90)).all()
        assert (np.diff(trace.time_s[np.isfinite(trace.time_s)]) > 0).all()
        assert (trace.name + trace.receiver + trace.ride).isprintable()
    for problem in problems:
        assert str(problem).isprintable()
        assert len(str(problem)) <= 600


@NO_HURRY
@given(st.sampled_from(NAMES), st.binary(max_size=400), st.booleans())
@example("a.gpx", b"\xff\xfe<", True)
@example("a.csv", b"lon,lat\n\x00", True)
def test_arbitrary_bytes(name: str, data: bytes, asked: bool) -> None:
    check(name, data, asked)


@pytest.mark.parametrize("name", SEEDS)
@NO_HURRY
@given(data=st.data())
def test_good_files_with_pieces_exchanged(name: str, data: st.DataObject) -> None:
    text = bytearray(SEEDS[name].encode())
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        length = data.draw(st.integers(0, 40))
        text[at : at + length] = data.draw(st.one_of(st.binary(max_size=12), st.sampled_from(PIECES)))
    check(name, bytes(text), True)


PIECES = (
    b"<trkpt", b"</trkseg>", b"<trk>", b"&amp;", b"nan", b"-1e999", b"9" * 40, b"\x00", b"]]>", b"<![CDATA[",
    b"$GPRMC,", b"*00", b'"', b";", b"<coord/>", b"<when>", b"2031-99-99T99:99:99Z", b"<!--", b"<?x?>",
    "\u202e".encode(), b"\r\r\n",
)  # fmt: skip


@NO_HURRY
@given(
    st.text(alphabet=st.characters(codec="utf-16"), max_size=200),
    st.sampled_from(["utf-8", "utf-16", "latin-1"]),
)
def test_arbitrary_names_inside(name: str, codec: str) -> None:
    text = (
        f"<gpx creator='{name}'><trk><name>{name}</name><trkseg><trkpt lat='1' lon='2'/></trkseg></trk></gpx>"
    )
    check("a.gpx", text.encode(codec, "replace"), True)
