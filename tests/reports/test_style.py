"""The constants of the design sheet, held against published measures of colour.

Sources: relative luminance and contrast ratio, WCAG 2.2 (W3C 2023), 1.4.3 and 1.4.11; OKLab, B. Ottosson,
"A perceptual color space for image processing" (2020); colour-vision deficiency matrices at severity 1.0,
Machado, Oliveira & Fernandes, IEEE TVCG 15(6) (2009), table 1. Matrices from memory.
"""

import itertools

import numpy as np
import pytest

from trackspread.options import Options
from trackspread.reports import style

SETTINGS = Options().as_dict()
TO_LMS = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
TO_LAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
SIGHT = {
    "usual": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
}


def linear(colour: str) -> np.ndarray:
    value = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def oklab(colour: str, sight: str = "usual") -> np.ndarray:
    seen = np.clip(SIGHT[sight] @ linear(colour), 0, 1)
    return TO_LAB @ np.cbrt(TO_LMS @ seen)


def contrast(first: str, second: str) -> float:
    high, low = sorted((linear(c) @ (0.2126, 0.7152, 0.0722) for c in (first, second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize("ground", ["paper", "panel", "sunken", "wash"])
def test_text_can_be_read(side, ground):
    for name in ("ink", "muted", "accent"):
        assert contrast(style.COLOURS[name][side], style.COLOURS[ground][side]) >= 4.5, name


@pytest.mark.parametrize("side", [0, 1])
def test_marks_stand_off_their_ground(side):
    marks = [style.COLOURS[name][side] for name in ("steady", "wavering", "torn", "thin", "edge")]
    marks += [pair[side] for pair in style.RECEIVER_COLOURS]
    for mark, ground in itertools.product(marks, ("paper", "panel")):
        assert contrast(mark, style.COLOURS[ground][side]) >= 3.0, (mark, ground)
    assert contrast(style.COLOURS["warn"][side], style.COLOURS["warn-wash"][side]) >= 4.5


@pytest.mark.parametrize("side", [0, 1])
def test_spread_scale_is_even(side):
    steps = np.array([oklab(pair[side]) for pair in style.SPREAD_SCALE])
    lightness = np.diff(steps[:, 0])
    assert (lightness < 0).all() if side == 0 else (lightness > 0).all()
    size = np.linalg.norm(np.diff(steps, axis=0), axis=1)
    assert size.min() > 0.8 * size.max()


@pytest.mark.parametrize("side", [0, 1])
@pytest.mark.parametrize("sight", ["protanopia", "deuteranopia"])
def test_spread_scale_survives_colour_blindness(side, sight):
    steps = np.array([oklab(pair[side], sight) for pair in style.SPREAD_SCALE])
    lightness = np.diff(steps[:, 0])
    assert (lightness < 0).all() if side == 0 else (lightness > 0).all()
    assert np.linalg.norm(np.diff(steps, axis=0), axis=1).min() > 0.06


def test_colour_and_verdict_agree():
    edges = style.spread_edges_m(SETTINGS)
    assert len(edges) == len(style.SPREAD_SCALE)
    assert [style.spread_class(s, edges) for s in (0.0, 1.5, 1.6, 3.0, 3.1, 6.0, 6.1, 99.0)] == [
        0, 0, 1, 1, 2, 3, 4, 6,
    ]  # fmt: skip
    for verdict in style.VERDICT_GLYPHS:
        assert "3" in style.verdict_rule(verdict, SETTINGS) or "6" in style.verdict_rule(verdict, SETTINGS)
    same = style.spread_edges_m({**SETTINGS, "steady_m": 4.0, "torn_m": 4.0})
    assert style.spread_class(4.0, same) == 1
    assert style.spread_class(4.01, same) == 4


def test_variables_cover_both_grounds():
    sheet = style.css_variables()
    assert sheet.count("--ink:") == sheet.count("--spread-6:") == sheet.count("--receiver-5:") == 2
    assert "url(" not in sheet
    assert "<" not in sheet
