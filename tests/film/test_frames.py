"""Frames of a video: at rest they show what the still of the same shot shows."""

from __future__ import annotations

import dataclasses
import io

import numpy as np
from PIL import Image

from records import make_analysis
from trackspread.film import video
from trackspread.film.canvas import ASPECT, Ground, is_close
from trackspread.film.stills import still
from trackspread.film.storyboard import scenes

RATE = 1


def test_a_resting_frame_has_the_ring_of_the_first_fix_and_the_locator_of_the_still() -> None:
    """Pixels of the colour of warnings: the dots, the ring and the place on the locator."""
    scene = scenes(make_analysis(routes=1), ASPECT)[0]
    at = int(np.argmin(np.abs(scene.station_m - 600.0)))
    shot = dataclasses.replace(
        next(shot for shot in scene.shots if is_close(shot)), kind="fix", verdict=None, row=0,
        from_m=0.0, to_m=700.0, gap_m=(0.0, float(scene.station_m[at])),
        centre_m=(float(scene.x_m[at]), float(scene.y_m[at])),
    )  # fmt: skip
    last = list(video._pictures([dataclasses.replace(scene, shots=(shot,))], 1080, Ground(), RATE))[-1]
    picture = np.asarray(Image.open(io.BytesIO(still(scene, shot))).convert("RGB"))
    warn = tuple(bytes.fromhex(Ground().colour("warn")[1:]))
    both = [(shown[290:880] == warn).all(axis=2) for shown in (last, picture)]
    middle = np.s_[230:360, 890:1030]
    assert 0.8 < both[0][middle].sum() / both[1][middle].sum() < 1.25
    rest = [found.sum() - found[middle].sum() for found in both]
    assert rest[0] > 200
    assert 0.8 < rest[0] / rest[1] < 1.25


def test_the_words_of_a_resting_frame_are_those_of_the_still() -> None:
    """Of a place near enough that the still draws the traces themselves, as the video always does."""
    scene = scenes(make_analysis(routes=1), ASPECT)[0]
    shot = next(shot for shot in scene.shots if is_close(shot))
    short = [dataclasses.replace(scene, shots=(shot,))]
    last = list(video._pictures(short, 1080, Ground(), RATE))[-1]
    picture = np.asarray(Image.open(io.BytesIO(still(scene, shot))).convert("RGB"))
    for rows in (slice(0, 290), slice(880, 1080)):
        assert (last[rows] != picture[rows]).any(axis=2).mean() < 0.001
