"""The constants of the design sheet, held against published measures of colour.

Sources: relative luminance and contrast ratio, WCAG 2.2 (W3C 2023), 1.4.3 and 1.4.11; OKLab, B. Ottosson,
"A perceptual color space for image processing" (2020); colour-vision deficiency matrices at severity 1.0,
Machado, Oliveira & Fernandes, IEEE TVCG 15(6) (2009), table 1. Matrices from memory.
"""

import itertools
import re
from pathlib import Path

import numpy as np
import pytest

import trackspread
from trackspread.options import Options
from trackspread.report import style
from trackspread.results.words.verdicts import VERDICT_ADVICE, VERDICT_GLYPHS, verdict_rule
from trackspread.rides.colours import ALIKE, COLOURS, colour_name, watch_slots

SETTINGS = Options().as_dict()
SOURCE = Path(trackspread.__file__).parent
SHEET = (Path(__file__).parents[2] / "docs" / "design-sheet.md").read_text("utf-8")
MONO = 'ui-monospace, "DejaVu Sans Mono", monospace'
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
@pytest.mark.parametrize(("sight", "least"), [("usual", 0.12), ("protanopia", 0.1), ("deuteranopia", 0.1)])
def test_watches_are_told_apart_and_from_verdicts(side, sight, least):
    """0.02 in OKLab is about the least difference that is seen side by side (Ottosson 2020, from memory)."""
    watches = [oklab(pair[side], sight) for pair in style.RECEIVER_COLOURS]
    for first, second in itertools.combinations(watches, 2):
        assert np.linalg.norm(first - second) > least
    for name, watch in itertools.product(VERDICT_GLYPHS, watches):
        assert np.linalg.norm(oklab(style.COLOURS[name][side], sight) - watch) > 0.06


def test_colours_that_look_alike_are_those_within_the_stated_distance():
    """The least of three sights and two grounds; of any two watches the colours are farther apart."""
    least = {
        frozenset((a, b)): min(
            np.linalg.norm(oklab(COLOURS[a][side], sight) - oklab(COLOURS[b][side], sight))
            for side in (0, 1)
            for sight in SIGHT
        )
        for a, b in itertools.combinations(COLOURS, 2)
    }
    assert {pair for pair, apart in least.items() if apart < 0.15} == ALIKE
    for number in range(50):
        pair = {colour_name(slot) for slot in watch_slots([f"Watch {number}", "Moss"]).values()}
        assert least[frozenset(pair)] >= 0.15
        assert not {"ochre", "ink"} & pair


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
    for verdict in VERDICT_GLYPHS:
        assert "3" in verdict_rule(verdict, SETTINGS) or "6" in verdict_rule(verdict, SETTINGS)
    same = style.spread_edges_m({**SETTINGS, "steady_m": 4.0, "torn_m": 4.0})
    assert style.spread_class(4.0, same) == 1
    assert style.spread_class(4.01, same) == 4


def test_variables_cover_both_grounds():
    sheet = style.css_variables()
    assert sheet.count("--ink:") == sheet.count("--spread-6:") == sheet.count("--receiver-7:") == 2
    assert "url(" not in sheet
    assert "<" not in sheet


# --- the sheet itself --------------------------------------------------------------------------------


def sheet_rows(*heads: str) -> list[list[str]]:
    """Rows of the table of the sheet whose head begins with ``heads``."""
    tables = re.findall(r"(?:^\|.*\n)+", SHEET, re.MULTILINE)
    cells = [[[c.strip() for c in line.strip("|\n").split("|")] for line in t.splitlines()] for t in tables]
    (found,) = [rows for rows in cells if tuple(rows[0][: len(heads)]) == heads]
    return found[2:]


def hexes(text: str) -> list[str]:
    return re.findall(r"#[0-9a-f]{6}", text)


def test_sheet_has_the_colours_of_the_code():
    told = {}
    for name, light, dark, _ in sheet_rows("name", "light"):
        names = [part.strip() for part in name.split(",")]
        for i, each in enumerate(names):
            told[each] = (hexes(light)[i], hexes(dark)[i])
    for word, _, colours, *_ in sheet_rows("word", "glyph"):
        told[word] = tuple(hexes(colours))
    assert told == dict(style.COLOURS)
    scale = sheet_rows("class")
    assert list(zip(*(hexes(" ".join(row)) for row in scale), strict=True)) == list(style.SPREAD_SCALE)
    receivers = sheet_rows("watch")
    assert [tuple(hexes(row[2])) for row in receivers] == list(style.RECEIVER_COLOURS)
    assert [row[1] for row in receivers] == list(COLOURS)
    assert [row[3] for row in receivers] == [
        style.receiver_look(i)[1] or "solid" for i in range(len(receivers))
    ]


def test_sheet_has_the_words_of_the_code():
    rows = sheet_rows("word", "glyph")
    assert {row[0]: row[1] for row in rows} == dict(VERDICT_GLYPHS)
    assert {row[0]: row[4] for row in rows} == dict(VERDICT_ADVICE)


def test_sheet_has_type_and_space_of_the_code():
    sizes = {row[0]: row[2] for row in sheet_rows("use", "family")}
    for use, name in [
        ("title", "title"), ("heading", "head"), ("lead, answers", "lead"), ("headline figure", "figure"),
        ("body", "body"), ("table", "table"), ("small, notes, units", "small"),
    ]:  # fmt: skip
        assert float(sizes[use].split()[0]) == style.TYPE_REM[name], use
    steps = re.search(r"Steps of ([\d., and]+) rem", SHEET)[1]
    assert [float(x) for x in re.findall(r"[\d.]+\d|\d", steps)] == list(style.SPACE_REM.values())
    edges = re.search(r"with the defaults ([\d., and]+) m\.", SHEET)[1]
    assert [float(x) for x in re.findall(r"\d+(?:\.\d+)?", edges)] == list(style.spread_edges_m(SETTINGS))


SHEETS = sorted(
    file for folder in ("report/templates", "web/page") for file in (SOURCE / folder).glob("*.css")
)


@pytest.mark.parametrize("file", SHEETS, ids=lambda file: file.name)
def test_style_sheets_use_the_constants_and_no_colours_of_their_own(file):
    text = re.sub(r"/\*.*?\*/", "", file.read_text("utf-8"), flags=re.DOTALL)
    values = " ".join(re.findall(r":([^;{}]+)[;}]", text))
    assert not re.findall(r"#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl)a?\(", values), file.name
    known = set(re.findall(r"--([\w-]+):", style.css_variables()))
    own = set(re.findall(r"--([\w-]+):", text)) | {"own", "plot-left", "plot-width"}
    assert set(re.findall(r"var\(--([\w-]+)", text)) <= known | own
    families = re.findall(r"font-family: *([^;}]+)|font: *[^;}]*?((?:var\(--s|\")[^;}]*)", text)
    assert {a or b for a, b in families} <= {"var(--serif)", "var(--sans)", MONO}
    assert not re.search(r"box-shadow:(?! *none)|drop-shadow|gradient", text)
    corners = set(re.findall(r"border-radius: *([^;}]+)", text))
    assert corners <= {"0", "3px"}, "square corners, controls 3 px"
    for widths in re.findall(r"@media \((?:max|min)-width: *([\d.]+)rem", text):
        assert float(widths) in (40.0, 60.0, 60.01)
