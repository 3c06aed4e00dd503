"""Stills: size, safe area, silence of the file, and that words of any kind can be drawn."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from records import make_analysis
from trackspread.film.canvas import ASPECT, Ground
from trackspread.film.stills import _round_length, still
from trackspread.film.storyboard import scenes


def _pixels(png: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGBA"))


def _chunks(png: bytes) -> list[bytes]:
    """Names of the chunks of a PNG (W3C PNG, third edition, section 5.3), with their sums checked."""
    names, at = [], 8
    while at < len(png):
        (size,) = struct.unpack(">I", png[at : at + 4])
        name, body = png[at + 4 : at + 8], png[at + 8 : at + 8 + size]
        assert struct.unpack(">I", png[at + 8 + size : at + 12 + size])[0] == zlib.crc32(name + body)
        names.append(name)
        at += 12 + size
    return names


@pytest.fixture(scope="module")
def scene():
    return scenes(make_analysis(routes=1, hostile=True), ASPECT)[0]


@pytest.mark.parametrize("height", [1080, 2160])
def test_stills_have_the_sizes_of_video(scene, height: int) -> None:
    """High definition and ultra-high definition: ITU-R BT.709 and BT.2020."""
    picture = Image.open(io.BytesIO(still(scene, scene.shots[0], height)))
    assert picture.size == {1080: (1920, 1080), 2160: (3840, 2160)}[height]


def test_words_stay_in_the_safe_area(scene) -> None:
    """EBU R 95 (2017): graphics within 5 % of every edge; the map's lines alone may run on."""
    for shot in (scene.shots[0], scene.shots[1], scene.shots[6]):
        drawn = (_pixels(still(scene, shot))[..., :3] != _pixels(still(scene, shot))[0, 0, :3]).any(axis=2)
        bands = np.concatenate([drawn[:290], drawn[880:]])
        assert not bands[:, :90].any()
        assert not bands[:, -90:].any()
        assert not drawn[:50].any()
        assert not drawn[-40:].any()
        assert drawn[:290].any()
        assert drawn[880:].any()


def test_nothing_in_the_file_says_when_where_or_with_what(scene) -> None:
    png = still(scene, scene.shots[0])
    assert not {b"tEXt", b"iTXt", b"zTXt", b"tIME", b"eXIf"} & set(_chunks(png))
    assert b"matplotlib" not in png.lower()


def test_the_same_still_has_the_same_bytes(scene) -> None:
    assert still(scene, scene.shots[2]) == still(scene, scene.shots[2])


def test_a_transparent_ground_lets_through_and_a_plain_one_does_not(scene) -> None:
    clear = _pixels(still(scene, scene.shots[1], ground=Ground(transparent=True)))
    plain = _pixels(still(scene, scene.shots[1]))
    assert clear[0, 0, 3] == 0
    assert (clear[..., 3] == 255).any()
    assert (plain[..., 3] == 255).all()


def test_dark_ground_is_dark(scene) -> None:
    assert _pixels(still(scene, scene.shots[1], ground=Ground(dark=True)))[0, 0, :3].max() < 60


def test_scale_bar_is_as_long_as_it_says(scene) -> None:
    """The bar's pixels against the frame's own scale."""
    shot = scene.shots[1]
    picture = _pixels(still(scene, shot))[918:924, 1300:1830, :3].astype(int)
    ink = (picture.sum(axis=2) < 300).any(axis=0)
    drawn = np.flatnonzero(ink)
    bar = np.split(drawn, np.flatnonzero(np.diff(drawn) > 1) + 1)[-1]  # left of it stands the north
    length = (bar[-1] - bar[0] - 4) * 2 * shot.half_width_m / 1728
    assert length == pytest.approx(_round_length(320 * 2 * shot.half_width_m / 1728), rel=0.02)


@pytest.mark.parametrize(
    ("most", "length"), [(1.0, 1.0), (1.99, 1.0), (74.0, 50.0), (320.0, 200.0), (9e4, 5e4)]
)
def test_round_lengths(most: float, length: float) -> None:
    assert _round_length(most) == pytest.approx(length)


def test_letters_that_the_fonts_lack_and_markup_are_drawn_as_they_are() -> None:
    odd = scenes(make_analysis(routes=1, hostile=True, traces=3, pairs=False), ASPECT)[0]
    for shot in odd.shots[:3]:
        assert still(odd, shot).startswith(b"\x89PNG")
